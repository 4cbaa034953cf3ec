"""Questions to a patient, and the short replies around them."""

from __future__ import annotations

from bot.program.terms import RedFlag

FLAG_QUESTION: dict[RedFlag, str] = {
    RedFlag.CHEST_OR_BREATHING: "Do you have chest pain now, or are you short of breath, or did you cough up blood?",
    RedFlag.BLADDER_BOWEL_SADDLE: (
        "Do you have new trouble with your bladder or bowels, or are you numb between your legs?"
    ),
    RedFlag.SELF_HARM: "Do you have thoughts of harming yourself or of ending your life?",
    RedFlag.CLOT_SIGNS: "Is one calf or leg newly swollen, hot, red or sore?",
    RedFlag.INFECTION_SIGNS: "Do you have a fever or chills, or is the foot hot, red and swollen, or is there pus?",
    RedFlag.SUDDEN_POP: "Did you feel a pop, a snap or a tear in your heel, arch or calf?",
    RedFlag.CANNOT_BEAR_WEIGHT: "Are you unable to put the foot down or to stand on it?",
    RedFlag.NEW_INJURY: "Did you fall, twist or knock your foot, ankle or leg?",
    RedFlag.CIRCULATION_SIGNS: "Is your foot cold, or are your toes white, blue or grey?",
    RedFlag.SKIN_BREAKDOWN: "Is there an open sore or a wound on your foot?",
    RedFlag.NERVE_SIGNS: "Is there numbness, tingling, burning or new weakness in your foot or leg?",
    RedFlag.NIGHT_PAIN: "Did the pain wake you at night, or stay all night, with the foot at rest?",
    RedFlag.SYSTEMIC_SIGNS: "Have you lost weight for no reason, had night sweats, or felt ill all over?",
    RedFlag.JOINT_SIGNS: "Are other joints swollen, or are both heels or your back stiff for long in the morning?",
    RedFlag.SEVERE_PAIN: "Is the pain 9 or 10 of 10, or the worst you have ever had?",
}


def ask_rest_pattern() -> str:
    """Pain at rest, unloaded."""
    return (
        "And with your weight off the foot: is there no pain, does it come and go, or is it there all the time?\n"
        "If one position is free of pain, it comes and goes."
    )


def ask_first_step_pain() -> str:
    """Pain at the first steps of the day."""
    return "How much did your first steps hurt this morning? 0 is no pain. 10 is the worst you can think of."


def ask_worst_pain() -> str:
    """The day's worst pain."""
    return "What was the worst pain of the day, from 0 to 10?"


def ask_what_was_done() -> str:
    """What was done on the feet."""
    return (
        "What did you do on your feet today?\n"
        'For example: "walked 5 minutes, did the raises". Or "all done", "some of it", "none of it".'
    )


def ask_minutes() -> str:
    """A walk was named without its length."""
    return "About how many minutes did you walk in all?"


def ask_bare_number(n: float) -> str:
    """What a lone number means."""
    return (
        f"I see the number {n:g}. What does it stand for?\n"
        f'For example: "first steps {n:g}", "worst pain {n:g}" or "walked {n:g} minutes".'
    )


def ask_flag(code: RedFlag) -> str:
    """One plain yes-or-no question about a possible warning sign."""
    return f"I want to be sure before we go on.\n{FLAG_QUESTION[code]}\nPlease answer yes or no."


def ask_candidates() -> str:
    """What else was unusual, where no activity stands out."""
    return (
        "Was anything else different yesterday? Stairs, carrying, gardening, long standing, other shoes? "
        "You can tell me in a few words."
    )


def ask_worry() -> str:
    """A yes to "is anything new or worrying?"."""
    return "What is it? Please tell me in a few words. I give no plan until I know."


def ask_worry_in_the_morning() -> str:
    """The next morning, while it is not known what was new or worrying."""
    return "You told me that something is new or worrying. What is it? Please tell me in a few words."


ASKED_ABOUT_SELF_HARM = "asked back about thoughts of self-harm, answered"
"""Beside the words that the clinician reads."""


def heavy_time(clinician: str) -> str:
    """Somebody sounded low, and said no to thoughts of self-harm."""
    return (
        "Thank you for telling me. It is hard when pain goes on.\n"
        f"I passed your words on to {clinician}. If it gets too much, talk to someone you trust. "
        "Your local crisis line is there at any hour. In an emergency, call your local emergency number."
    )


def worry_passed_on(clinician: str) -> str:
    """What is new or worrying was passed on. No warning sign that is known by name was found in it."""
    return (
        f"Thank you. I passed that on to {clinician}. It may take some days until it is read.\n"
        "I cannot judge it myself. If it gets worse, or you are not sure, leave out the exercises today and call.\n"
        "In an emergency, call your local emergency number."
    )


def worry_over() -> str:
    """Nothing is new or worrying after all."""
    return "Good, nothing new then."


def which_candidate() -> str:
    """A yes to "was anything else different yesterday?"."""
    return "What was different yesterday? Please name it, for example: stairs, gardening, other shoes."


def offer_to_pass_on(clinician: str) -> str:
    """Words that the bot cannot answer."""
    return (
        f"I cannot answer that. Shall I pass it on to {clinician}? Please answer yes or no.\n"
        "If it cannot wait, call. In an emergency, call your local emergency number."
    )


def not_passed_on(clinician: str) -> str:
    """A no to it."""
    return f"All right, I did not pass it on. You can call {clinician} yourself at any time."


def passed_on_beside_a_sign(clinician: str) -> str:
    """Words that the bot cannot read, while a warning sign is open."""
    return f"I passed your words on to {clinician}. If it gets worse, do not wait: call."


def ask_stop() -> str:
    """ "Stop" alone."""
    return (
        "What shall stop: my messages, or only the exercises of today?\n"
        "If something is wrong with the foot, tell me what it is. In an emergency, call your local emergency number."
    )


STOP_MESSAGES, STOP_TODAY = "stop the messages", "no exercises today"
"""The two answers to it, as they stand on the buttons."""


def stopped_today() -> str:
    """No exercises today, by the patient's own wish."""
    return (
        "All right, no exercises today. A free day does no harm.\n"
        "Is there more pain, or anything new? Then tell me now. In the evening you can say: none of it."
    )


def not_begun(start: str) -> str:
    """A message before the first day. `start`: that day, in words."""
    return (
        f"We start on {start}. I will ask you that morning, and there is no plan before it.\n"
        "Is anything new or worrying? Tell me at any hour."
    )


def plan_stays(plan: str) -> str:
    """An answer was put right and the day's plan is the same. `plan`: its first lines."""
    return f"The plan stays. {plan}"


def overdone() -> str:
    """More was walked than the plan gave."""
    return "That was more than the plan. No more today, please. Tomorrow's first steps will tell how the foot took it."


def unclear_rest() -> str:
    """The answer on pain at rest fits more than one of the three."""
    return (
        "I am not sure which one you mean. With your weight off the foot: no pain at rest, comes and goes, or constant?\n"
        "If one position is free of pain, it comes and goes."
    )


def unclear_score() -> str:
    """A pain score was asked for."""
    return "I need one number from 0 to 10 for that. 0 is no pain. 10 is the worst you can think of."


def unclear(slot: str) -> str:
    """Nothing was understood: examples of what can be said. `slot`: the open prompt, "morning", "evening" or "any"."""
    if slot == "morning":
        examples = '"4, comes and goes", "first steps 6, pain all the time" or "2, no pain at rest"'
    elif slot == "evening":
        examples = '"walked 10 min, all done, worst 3", "some of it, worst 5" or "no walk today, worst 2"'
    else:
        examples = '"first steps 4", "walked 10 min, worst 3", "plan" or "help"'
    return (
        f"Sorry, I did not get that.\nYou can say things like {examples}.\n"
        "Is anything new or worrying? Tell me that too."
    )


def thanks() -> str:
    """Answer to thanks."""
    return "You are welcome. Take care of that foot."


def nothing_new() -> str:
    """A "no" when nothing is open: nothing is new or worrying."""
    return "Good, nothing new then. Tell me at any hour if that changes."


def small_talk() -> str:
    """Answer to a greeting or a chat."""
    return 'Hello! I am the check-in bot for your heel. You can ask for your "plan", or tell me how the foot is.'


def help_text() -> str:
    """What can be said."""
    return (
        "I am a check-in bot. I am not a doctor, and I am not an emergency service.\n"
        "You can write in your own words. Some examples:\n"
        'Morning: "4, comes and goes".\n'
        'Evening: "walked 10 min, all done, worst 3".\n'
        '"plan": what to do today.\n'
        '"sorry, I meant 3": put an answer right.\n'
        '"undo": take back your last report.\n'
        '"progress": a picture of your mornings.\n'
        '"times 07:30 20:00": when I write to you.\n'
        '"holiday until friday" or "away for 10 days": no prompts on those days. "holiday off" ends it.\n'
        '"zone Europe/Paris": your time zone.\n'
        '"message" and then your words: I pass them on to your clinician.\n'
        '"my data": a copy of all I keep. "leave" or "erase": I ask you first.\n'
        "Is something new or wrong? Tell me at any hour. In an emergency, call your local emergency number."
    )


def nothing_to_undo() -> str:
    """There is no recent report to take back."""
    return "There is nothing that I can take back. To put an answer right, just tell me the new one."


def undone(what: str) -> str:
    """A report was taken back. `what`: "morning", "evening" or both."""
    names = " and ".join(part for part in ("morning", "evening") if part in what) or "last"
    return f"Done. I took back your {names} report. You can tell me again."


def kept_for_later() -> str:
    """Something was recorded and there is nothing to say about it now."""
    return "Thank you, I have kept that."


def evening_done() -> str:
    """The evening's check-in is complete."""
    return "Thank you, that is all for today. Tomorrow morning shows how the foot took it. Sleep well."
