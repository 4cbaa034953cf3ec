"""The days that a text names: "until friday", "for 10 days", "from 20 March to 2 April". Pure; today is passed in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_SMALL = {"a": 1, "an": 1, "another": 1, "couple": 2, "few": 3} | {name: at for at, name in enumerate(_NUMBERS, 1)}
_MONTH = "|".join(f"{each}|{each[:3]}" for each in MONTHS) + "|sept"
_DAY = "|".join(f"{each}|{each[:3]}" for each in WEEKDAYS) + "|tues|thurs|thur"
_NTH = r"(\d{1,2})(?:st|nd|rd|th)?"
_YEAR = r"(?:,?\s+(\d{4}))?"
_DATES = re.compile(
    r"(?P<iso>\b\d{4}-\d{2}-\d{2}\b)"
    r"|(?P<dotted>\b\d{1,2}[./]\d{1,2}[./]\d{4}\b)"
    rf"|(?P<day_month>\b(?:the\s+)?{_NTH}\s+(?:of\s+)?({_MONTH})\b\.?{_YEAR})"
    rf"|(?P<month_day>\b({_MONTH})\b\.?\s+(?:the\s+)?{_NTH}\b{_YEAR})"
    r"|(?P<nth>\bthe\s+(\d{1,2})(?:st|nd|rd|th)\b|\b(\d{1,2})(?:st|nd|rd|th)\b)"
    rf"|(?P<weekday>\b(next\s+)?({_DAY})\b)"
    r"|(?P<word>\b(?:today|tonight|tomorrow)\b)"
)
_LENGTH = re.compile(
    r"\b(?:for\s+)?(?:the\s+)?(?:next\s+)?(\d{1,4}|"
    + "|".join(_SMALL)
    + r")\s+(?:of\s+)?(?:more\s+)?(days?|weeks?|weekends?|months?)\b"
)
_DAYS_IN = {"day": 1, "week": 7, "month": 30}


@dataclass(frozen=True, kw_only=True, slots=True)
class Period:
    """From a first to a last day, both included."""

    first: date
    last: date


def dated(year: int, month: int, day: int) -> date | None:
    """The date, or None where there is no such day."""
    try:
        return date(year, month, day)
    except ValueError:
        return None


def month_of(name: str) -> int:
    """The number of a month by its name or the first letters of it, three at least."""
    return next(at for at, each in enumerate(MONTHS, 1) if each.startswith(name[:3]))


def next_weekday(name: str, today: date) -> date:
    """The next day of that name (or the first letters of it, three at least); said on that very day it is a week ahead."""
    wanted = next(at for at, each in enumerate(WEEKDAYS) if each.startswith(name[:3]))
    return today + timedelta(days=(wanted - today.weekday() - 1) % 7 + 1)


def _of_year(day: int, month: int, year: str | None, today: date) -> date | None:
    """A day and month; without a year the next such day."""
    if year is not None:
        return dated(int(year), month, day)
    this = dated(today.year, month, day)
    return this if this is None or this >= today else dated(today.year + 1, month, day)


def _nth(day: int, today: date) -> date | None:
    """The next day of that number ("the 20th"), in this month or the next that has one."""
    year, month = today.year, today.month
    for _ in range(3):
        found = dated(year, month, day)
        if found is not None and found >= today:
            return found
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    return None


def _date_of(found: re.Match[str], today: date) -> date | None:
    said = found[0]
    if found["iso"]:
        year, month, day = (int(each) for each in said.split("-"))
        return dated(year, month, day)
    if found["dotted"]:
        day, month, year = (int(each) for each in re.split(r"[./]", said))
        return dated(year, month, day)
    if found["word"]:
        return today + timedelta(days=said == "tomorrow")
    if found["weekday"]:
        following = next_weekday(said.split()[-1], today)
        later = said.startswith("next") and (following - today).days < 7
        return following + timedelta(days=7 * later)
    numbers = [int(each) for each in re.findall(r"\d+", said)]
    if found["nth"]:
        return _nth(numbers[0], today)
    month_name = re.search(rf"\b({_MONTH})\b", said)
    year_said = re.search(r"\b\d{4}\b", said)
    if month_name is None:
        return None
    return _of_year(numbers[0], month_of(month_name[0]), None if year_said is None else year_said[0], today)


def dates_in(text: str, today: date) -> list[date | None]:
    """The dates of a text, in its order. None for one that does not exist ("30 February")."""
    return [_date_of(each, today) for each in _DATES.finditer(text.casefold())]


def period_in(text: str, today: date) -> Period | None:
    """The days that a text names, or None where it names none, or one that does not exist.

    One date is the last day, from today on; two are the first and the last; "from" before one date, with a length after
    it or none, makes it the first. A length ("for 10 days") counts its first day. They may be over already, or far ahead.
    """
    said = text.casefold()
    found = dates_in(said, today)
    if None in found:
        return None
    dates = sorted(each for each in found if each is not None)
    length = _LENGTH.search(_DATES.sub(" ", said))
    days: int | None = None
    if length is not None:
        unit = "week" if length[2].startswith("weekend") else length[2].rstrip("s")
        days = (int(length[1]) if length[1].isdigit() else _SMALL[length[1]]) * _DAYS_IN[unit]
    if len(dates) > 1:
        return Period(first=dates[0], last=dates[-1])
    if dates and days is None:
        return Period(first=today, last=dates[0]) if not re.search(r"\bfrom\b", said) else None
    if days is not None and days > 0:
        first = dates[0] if dates else today
        return Period(first=first, last=first + timedelta(days=min(days, 10_000) - 1))
    return None


def without_dates(text: str) -> str:
    """The text without its dates and lengths of time."""
    return _LENGTH.sub(" ", _DATES.sub(" ", text.casefold()))
