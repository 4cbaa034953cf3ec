"""Enrolment in the chat: what the bot is and is not, each question, and what is said to an answer that does not fit."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from bot.conversation.wording.flags import SIGN, URGENCY
from bot.conversation.wording.prompts import day_text
from bot.program.flags import URGENCY_OF, most_urgent
from bot.program.terms import RedFlag


def what_this_is(clinician: str) -> str:
    """What the bot is and is not."""
    return (
        "Hello! I am a check-in bot for heel pain.\n"
        "I ask you a few questions each morning and evening. "
        f"{clinician[0].upper() + clinician[1:]} sees your answers.\n"
        "From them I work out small steps for each day, by fixed rules.\n"
        "I am a computer program. I do not tell you what is wrong with your foot, and I can make no promise.\n"
        f"What {clinician} says always comes first.\n"
        "I am not an emergency service. In an emergency, call your local emergency number."
    )


def ask_consent() -> str:
    """Consent."""
    return (
        "Your answers are stored, and your clinician can read them. You can stop at any time.\n"
        "Do you want to start? Please answer yes or no."
    )


def no_consent() -> str:
    """The patient said no."""
    return (
        "That is fine. I will not write to you again. Your clinician can send you a new invite if you change your mind."
    )


def ask_warning_signs() -> str:
    """The list of warning signs, to be answered with yes or no."""
    return (
        "First, some signs that need a person and not a bot. Do you have any of these now?\n"
        "- Chest pain, short of breath, or coughing up blood.\n"
        "- New bladder or bowel trouble, or numb between the legs.\n"
        "- Thoughts of harming yourself.\n"
        "- A calf or leg that is swollen, hot, red or newly sore.\n"
        "- Fever, or a hot, red and swollen foot.\n"
        "- A pop, snap or tear in the heel, arch or calf.\n"
        "- You cannot put weight on the foot.\n"
        "- A new fall, twist or knock.\n"
        "- A cold foot, or white, blue or grey toes.\n"
        "- An open sore on the foot.\n"
        "- Numbness, tingling, burning or new weakness.\n"
        "- Pain that wakes you at night.\n"
        "- Weight loss for no reason, night sweats, or feeling ill.\n"
        "- Other swollen joints, or long morning stiffness in both heels or your back.\n"
        "- Pain of 9 or 10 of 10.\n"
        "Please answer yes or no. If you are not sure, say yes."
    )


def signs_present(clinician: str) -> str:
    """A yes to the list of warning signs, without saying to which: there are no exercises."""
    return (
        "Thank you for telling me. Please start no exercises.\n"
        "Call your local emergency number now if it is your chest, your breath, your bladder or bowels, "
        "or if you are numb between the legs.\n"
        "If you think of harming yourself, call it too, or your local crisis line.\n"
        f"For all else, contact {clinician} or urgent care today.\n"
        f"This bot is not an emergency service. I have let {clinician} know."
    )


def ask_which_sign(clinician: str) -> str:
    """After a yes to the list: which sign it is."""
    return f"Which sign is it? Please tell me in a few words. I pass them on to {clinician}."


def no_doses_yet(clinician: str) -> str:
    """After the reply to a warning sign that was named: the questions go on, the exercises do not begin."""
    return f"There are no exercises until {clinician} has looked at it. I still ask the other questions, so that all is ready."


def questions_go_on(clinician: str) -> str:
    """The words about a sign were passed on, and none was found in them that is known by name."""
    return f"Thank you. I passed that on to {clinician}. There are no exercises until {clinician} says so."


def signs_alert(alias: str, words: str, codes: Iterable[RedFlag] = ()) -> str:
    """The clinician is told of a warning sign at enrolment. `codes`: the signs that were named; their flags are open."""
    named = sorted(dict.fromkeys(codes))
    urgency = most_urgent(named)
    listed = "".join(f"- {code} ({URGENCY[URGENCY_OF[code]]}): {SIGN[code]}\n" for code in named)
    told = (
        "The patient was told to start no exercises, to call the emergency number for chest, breathing, "
        "bladder, bowel, saddle numbness or self-harm, and to contact you or urgent care today for all else.\n"
        if urgency is None
        else "The patient was told to start no exercises, and what to do for a sign of this urgency.\n"
    )
    end = f"/clear {alias} and then /allow {alias}" if named else f"/allow {alias}"
    kind = "" if urgency is None else f" ({URGENCY[urgency]})"
    return (
        f'WARNING SIGN{kind} at enrolment: {alias}\n{listed}Their words: "{words}"\n{told}'
        f"No loading starts until you write {end}"
    )


def please_yes_or_no() -> str:
    """A yes or no is needed."""
    return "Please answer yes or no."


def ask_foot() -> str:
    """Which foot."""
    return "Which foot is it: left, right or both?"


def unclear_foot() -> str:
    """The foot was not understood."""
    return 'I did not get that. Please say "left", "right" or "both".'


def ask_time_zone(zone: str) -> str:
    """The time zone, with a suggestion."""
    return f"Is your time zone {zone}? Say yes. Or write yours, such as Europe/Paris or Asia/Tokyo."


def unclear_time_zone() -> str:
    """The time zone is not known."""
    return "I do not know that time zone. Please write it as area/city, such as Europe/Paris or America/Lima."


def ask_prompt_times(morning: str, evening: str) -> str:
    """When the two prompts are wanted; `morning`, `evening`: what holds if nothing else is said."""
    return (
        f"I would write to you at {morning} and at {evening}. Is that all right? Say ok.\n"
        "Or write two other times, one for the morning and one for the evening, such as 06:30 20:15."
    )


def unclear_prompt_times() -> str:
    """The times were not understood, or are out of bounds."""
    return (
        "I need two times, such as 07:30 20:00.\n"
        "The morning one can be from 05:00 to 11:30. The evening one can be from 15:00 to 22:00."
    )


def ask_first_step_pain() -> str:
    """Pain at the first steps."""
    return "How much did your first steps out of bed hurt today? 0 is no pain. 10 is the worst you can think of."


def unclear_pain() -> str:
    """No pain score was understood."""
    return "Please give me one number from 0 to 10 for the first steps of today."


def ask_rest_pattern() -> str:
    """Pain at rest."""
    return (
        "And when you sit or lie, with your weight off the foot? Is there no pain, does it come and go, "
        "or is it there all the time?\n"
        "If one position is free of pain, it comes and goes."
    )


def unclear_rest_pattern() -> str:
    """The pattern was not understood."""
    return 'I did not get that. Please say "no pain at rest", "comes and goes" or "constant".'


def ask_prior_activity() -> str:
    """How active before."""
    return "How active were you before the heel pain: a little, moderately or very?"


def unclear_prior_activity() -> str:
    """The level was not understood."""
    return 'I did not get that. Please choose one: "a little", "moderately" or "very".'


def done(*, start: date, walk: int, raises: str, morning: str, evening: str, stopped_by: str | None = None) -> str:
    """Enrolment is complete. `raises`: the starting raises in words; `morning`, `evening`: prompt times.

    `stopped_by`: who has to say first that the exercises can start, after a warning sign; then no dose is named.
    """
    if stopped_by is not None:
        return (
            f"Thank you, that is all I need. I will ask you each day from {day_text(start)}, "
            f"at {morning} and at {evening}.\n"
            f"Because of the sign you told me about, there are no exercises yet. {stopped_by[0].upper() + stopped_by[1:]} "
            "has to look at it first, and I will tell you when you can start.\n"
            "If it gets worse, do not wait. Call urgent care, or your local emergency number."
        )
    return (
        f"Thank you, that is all I need. We start on {day_text(start)}.\n"
        f"Your first doses will be: walking for {walk} {'minute' if walk == 1 else 'minutes'} a day. "
        f"Heel raises: {raises}.\n"
        "If your pain is there all the time, we wait with both until it has calmed.\n"
        f"I will write at {morning} and at {evening}. "
        'You can write in your own words at any time. "help" shows what you can say.'
    )


def back_again(*, morning: str, evening: str, stopped_by: str | None = None) -> str:
    """Somebody who had left is back. `stopped_by`: who has to say first that the exercises can start again."""
    if stopped_by is not None:
        return (
            f"Welcome back. I will write to you at {morning} and at {evening}.\n"
            f"There are no exercises until {stopped_by} says so.\n"
            "Tell me at once if anything is new or worrying."
        )
    return (
        "Welcome back. We go on with your own programme.\n"
        f"I will write to you at {morning} and at {evening}. After a break the doses are lower, and go up in small steps.\n"
        "Tell me at once if anything is new or worrying."
    )
