"""Messages that the bot sends by itself: morning, evening, nudges, milestones; and holidays."""

from __future__ import annotations

from datetime import date

WEEKS = 24
"""The programme's usual length: full recovery takes about 24 weeks (common practice, no source)."""


def week_of(week: int) -> str:
    """Where the patient is in the programme."""
    if week <= WEEKS:
        return f"Week {week} of about {WEEKS}."
    return f"Week {week}. Some people need more than {WEEKS} weeks."


def day_text(day: date) -> str:
    """A date as people write it."""
    return f"{day.day} {day:%B %Y}"


def morning_prompt(alias: str, plan: str | None, week: int) -> str:
    """The morning's question. `plan`: today's plan so far, None where none may be shown."""
    text = (
        f"Good morning, {alias}. {week_of(week)}\n"
        "How much did your first steps hurt, from 0 to 10?\n"
        "With your weight off the foot: is there no pain, does it come and go, or is it there all the time?\n"
        "Is anything new or worrying?"
    )
    if plan:
        text += f"\n\nUntil you answer, this is the plan. It may change with your answer.\n{plan}"
    return text


def evening_prompt(alias: str) -> str:
    """The evening's question."""
    return (
        f"Good evening, {alias}.\n"
        "What did you do on your feet today? Walking, exercises, anything out of the ordinary?\n"
        "And what was the worst pain, from 0 to 10?"
    )


def only_that(alias: str, kind: str, question: str) -> str:
    """A prompt while something has to be known first: only that question. `kind`: "morning" or "evening"."""
    return f"Good {kind}, {alias}.\n{question}"


def nudge(kind: str) -> str:
    """One reminder. `kind`: "morning" or "evening"."""
    if kind == "morning":
        return "A short reminder: how were your first steps today, from 0 to 10? A single number is a good start."
    return "A short reminder: what did you do on your feet today, and what was the worst pain? A few words will do."


def only_question(alias: str) -> str:
    """After some silent mornings: only the question, no plan (rule 5.5)."""
    return (
        f"Good morning, {alias}. I have not had a full morning answer for a few days. That is all right.\n"
        "How much did your first steps hurt today, from 0 to 10? And is there pain with the weight off the foot?\n"
        "Please wait with the exercises until you have told me."
    )


_MILESTONE = {
    4: (
        "This is the start of week 4. Thank you for your check-ins.\n"
        "Tissue takes time. At this point the mornings may go up and down. What counts is the line over weeks."
    ),
    8: (
        "This is the start of week 8. You have kept at it for seven weeks.\n"
        "Some people feel a change by now, and some do not yet. "
        "Your clinician can see your numbers. It is a good time to talk about them."
    ),
    12: (
        "This is the start of week 12. Pain often eases around now, but not for all.\n"
        "If yours has not, that is worth a talk with your clinician. There may be other things to try.\n"
        "Less pain does not yet mean a strong heel. Please keep to small steps."
    ),
    24: (
        "This is the start of week 24. About this long is common, and some need more time.\n"
        "It is more so if you were very active before. Talk with your clinician about what comes next."
    ),
}


def milestone(week: int) -> str:
    """A few words at the start of weeks 4, 8, 12 and 24; "" at any other week. They never promise anything."""
    return _MILESTONE.get(week, "")


def holiday_set(first: date, last: date) -> str:
    """Quiet days were set."""
    days = f"on {day_text(first)}" if first == last else f"from {day_text(first)} to {day_text(last)}"
    return (
        f"All right, no prompts {days}.\n"
        "You can still write to me at any time. After days with no reports we may start a bit lower.\n"
        'To end it early, write "holiday off".'
    )


def holiday_ended() -> str:
    """Quiet days were ended."""
    return "Welcome back. You get your prompts again from now on."


def holiday_unclear() -> str:
    """The dates could not be read."""
    return (
        "I could not read those dates. You can write: holiday until friday, holiday until 20 May, away for 10 days, "
        "or holiday 2030-05-01 2030-05-10.\n"
        "The last day must not be over yet."
    )


def holiday_too_long(longest: int) -> str:
    """Quiet days that reach too far ahead. `longest`: days."""
    return (
        f"That is more than {longest} days ahead, so I changed nothing. Which last day do you mean?\n"
        f'You can be away for up to {longest} days, and tell me again then. To stop for good, write "leave".'
    )
