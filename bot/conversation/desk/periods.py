"""The last day of a period, as clinicians write it: "until friday", "for 2 weeks", "until 5 June", "until 2030-05-31"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta

from bot.conversation.periods import MONTHS, WEEKDAYS, dated, month_of, next_weekday

LONGEST_PERIOD = timedelta(days=366)


def _names(of: Iterable[str]) -> frozenset[str]:
    """Whole, and their first three letters."""
    return frozenset(said for name in of for said in (name, name[:3]))


_WEEKDAYS = _names(WEEKDAYS) | {"tues", "thur", "thurs"}
_MONTHS = _names(MONTHS) | {"sept"}
_COUNTS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "ten": 10}
_ISO = re.compile(r"^(\d{4})-(\d{2})-(\d{2})$")
_DOTTED = re.compile(r"^(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})?$")
_DAY_MONTH = re.compile(r"^(\d{1,2})(?:st|nd|rd|th)?\.?\s+(?:of\s+)?([a-z]+)\.?(?:,?\s+(\d{4}))?$")
_MONTH_DAY = re.compile(r"^([a-z]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?(?:,?\s+(\d{4}))?$")
_LENGTH = re.compile(r"^(\d{1,3}|[a-z]+)\s*(days?|weeks?)$")


def end_of_period(argument: str, today: date) -> date | None:
    """The last day; None where it is not clear, over, or more than a year ahead.

    A weekday is the next one of that name; said on that very day it is a week ahead. A date without a year is the next
    one. "5/6" is not taken: it is read in two ways.
    """
    said = " ".join(argument.casefold().split())
    if said.endswith(".") and not _DOTTED.match(said):
        said = said[:-1]
    if length := _length(said.removeprefix("for ")):
        until = today + timedelta(days=length - 1)
    elif (found := _day(re.sub(r"^(?:until|till|to the end of|to)\s+(?:the\s+)?", "", said), today)) is not None:
        until = found
    else:
        return None
    return until if today <= until <= today + LONGEST_PERIOD else None


def _length(said: str) -> int:
    """Days of "7 days", "a week"; 0 where it is no length."""
    found = _LENGTH.match(said)
    if found is None:
        return 0
    count = int(found[1]) if found[1].isdigit() else _COUNTS.get(found[1], 0)
    return count * (7 if found[2].startswith("week") else 1)


def _day(said: str, today: date) -> date | None:
    if said == "today":
        return today
    if said == "tomorrow":
        return today + timedelta(days=1)
    if said in _WEEKDAYS:
        return next_weekday(said, today)
    if found := _ISO.match(said):
        return dated(int(found[1]), int(found[2]), int(found[3]))
    if found := _DOTTED.match(said):
        return _next(found[3], int(found[2]), int(found[1]), today)
    if (found := _DAY_MONTH.match(said)) and found[2] in _MONTHS:
        return _next(found[3], month_of(found[2]), int(found[1]), today)
    if (found := _MONTH_DAY.match(said)) and found[1] in _MONTHS:
        return _next(found[3], month_of(found[1]), int(found[2]), today)
    return None


def _next(year: str | None, month: int, day: int, today: date) -> date | None:
    if year is not None:
        return dated(int(year), month, day)
    this_year = dated(today.year, month, day)
    return this_year if this_year is not None and this_year >= today else dated(today.year + 1, month, day)
