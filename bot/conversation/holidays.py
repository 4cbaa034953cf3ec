"""Days without prompts, by the patient's own wish."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from bot.conversation.intents import plain, words_of
from bot.conversation.periods import period_in, without_dates
from bot.conversation.prompting import schedule_next
from bot.conversation.wording import prompts as prompt_words
from bot.program.terms import Asked
from bot.reader import read
from scheduler.times import local_day

if TYPE_CHECKING:
    from bot.conversation.patient_turn import PatientTurn

LONGEST_HOLIDAY = 60
"""Days ahead for which prompts can be switched off: after so long somebody has to ask again."""
_AWAY = re.compile(
    r"^(?:(?:hi|hello|i|i'm|im|i am|we|we're|we are|i'll|i will|we'll|be|am|are|going|gone|go|off|leaving|will|to be)[\s,]+)*"
    r"(?:away|on holidays?|on vacation|on a trip|travell?ing|holidays?|vacation|quiet)\b"
)
_SPAN = re.compile(r"\b(?:until|till|til|through|to|from|for|next)\b|\b\d{4}-\d{2}-\d{2}\b")


def asks_for_quiet(text: str, today: date) -> bool:
    """Whether it asks for days without prompts. "Holiday walk, 40 minutes" does not."""
    said = plain(text)
    words = said.replace(",", " ").split()
    if not words:
        return False
    if words[0] in words_of("holiday") and (words[0].startswith("/") or len(words) == 1 or words[1] in {"off", "end"}):
        return True
    if not _AWAY.match(said) or not _SPAN.search(said) or period_in(said, today) is None:
        return False
    return replace(read(without_dates(text), Asked.ANY), flags=()).says_nothing


def answer(turn: PatientTurn, text: str) -> None:
    """Switch the prompts off for the days that the text names, or on again."""
    words = plain(text).replace(",", " ").split()
    if "off" in words[:2] or "end" in words[:2]:
        turn.patient.quiet_from = turn.patient.quiet_until = None
        turn.say(prompt_words.holiday_ended())
        schedule_next(turn.patient, turn.now)
        return
    today = local_day(turn.now, ZoneInfo(turn.patient.timezone))
    period = period_in(text, today)
    if period is None or period.last < today:
        turn.say(prompt_words.holiday_unclear())
    elif (period.last - today).days > LONGEST_HOLIDAY:
        turn.say(prompt_words.holiday_too_long(LONGEST_HOLIDAY))
    else:
        turn.patient.quiet_from, turn.patient.quiet_until = period.first, period.last
        turn.say(prompt_words.holiday_set(period.first, period.last))
        schedule_next(turn.patient, turn.now)
