"""What is due when, on the patient's own clock, across clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAY_START = time(4)
"""A day lasts from 04:00 to 04:00 of the patient's wall clock (rule 2.1)."""
NUDGE_AFTER = timedelta(hours=2)
NIGHT_FROM, NIGHT_UNTIL = time(21, 30), time(7)
"""No nudge from then on, nor before then."""
LATEST = timedelta(hours=3)
"""A prompt that is later than this is dropped: after an outage nobody gets a heap of them."""
LATEST_NUDGE = timedelta(minutes=45)
_ONE_DAY = timedelta(days=1)


def _instant(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The instant of a wall clock. A clock that is skipped by a change is moved on by the gap; of two, the first."""
    return datetime.combine(day, clock, tzinfo=zone).replace(fold=0).astimezone(UTC)


def instant_of(day: date, clock: str, zone: ZoneInfo) -> datetime:
    """The instant (UTC) at which the patient's clock shows `clock` ("HH:MM") on `day`."""
    return _instant(day, time.fromisoformat(clock), zone)


def local_day(instant: datetime, zone: ZoneInfo) -> date:
    """The day that an instant belongs to (2.1): before 04:00 it is still the day before."""
    local = instant.astimezone(zone)
    return local.date() if local.time() >= DAY_START else local.date() - _ONE_DAY


def day_start(day: date, zone: ZoneInfo) -> datetime:
    """The instant (UTC) at which a day begins."""
    return _instant(day, DAY_START, zone)


def _may_nudge(at: datetime, zone: ZoneInfo) -> bool:
    clock = at.astimezone(zone).time()
    return NIGHT_UNTIL <= clock < NIGHT_FROM


def _dues_of(day: date, zone: ZoneInfo, morning: str, evening: str) -> list[tuple[datetime, str]]:
    # A clock before 04:00 belongs to the night that ends the day (2.1).
    prompts = {
        kind: instant_of(day if time.fromisoformat(clock) >= DAY_START else day + _ONE_DAY, clock, zone)
        for kind, clock in (("morning", morning), ("evening", evening))
    }
    found = [(at, kind) for kind, at in prompts.items()]
    for kind, at in prompts.items():
        nudge = at + NUDGE_AFTER
        overtaken = any(at < other <= nudge for other in prompts.values())
        if _may_nudge(nudge, zone) and not overtaken:
            found.append((nudge, f"{kind}_nudge"))
    return found


def next_due(
    after: datetime,
    *,
    tz: ZoneInfo,
    morning: str,
    evening: str,
    first_day: date,
    quiet: tuple[date, date] | None,
) -> tuple[datetime, str]:
    """The first thing due later than `after`: its instant and kind.

    Kinds: morning, morning_nudge (2 hours later), evening, evening_nudge; no nudge at night, nor once the day's other
    prompt is there; nothing on days that the patient asked to be left alone (`quiet`, both ends included).
    """
    day = max(local_day(after, tz) - _ONE_DAY, first_day)
    while True:
        if quiet is not None and quiet[0] <= day <= quiet[1]:
            day = quiet[1] + _ONE_DAY
            continue
        later = [each for each in _dues_of(day, tz, morning, evening) if each[0] > after]
        if later:
            return min(later)
        day += _ONE_DAY


def due_instant(kind: str, day: date, tz: ZoneInfo, morning: str, evening: str) -> datetime | None:
    """When something of that kind is due on that day; None where it is not."""
    return next((at for at, each in _dues_of(day, tz, morning, evening) if each == kind), None)


def is_too_late(kind: str, due_at: datetime, now: datetime) -> bool:
    """Whether something due is so late by now that it is dropped."""
    return now - due_at > (LATEST_NUDGE if kind.endswith("nudge") else LATEST)
