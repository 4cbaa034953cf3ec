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

    Kinds: morning, morning_nudge (2 hours later), evening, evening_nudge; no nudge at night, nothing on days that the
    patient asked to be left alone (`quiet`, both ends included).
    """
    day = max(local_day(after, tz) - _ONE_DAY, first_day)
    while True:
        if quiet is not None and quiet[0] <= day <= quiet[1]:
            day = quiet[1] + _ONE_DAY
            continue
        for clock, kind in ((morning, "morning"), (evening, "evening")):
            prompt = instant_of(day, clock, tz)
            if prompt > after:
                return prompt, kind
            nudge = prompt + NUDGE_AFTER
            if nudge > after and _may_nudge(nudge, tz):
                return nudge, f"{kind}_nudge"
        day += _ONE_DAY


def is_too_late(kind: str, due_at: datetime, now: datetime) -> bool:
    """Whether something due is so late by now that it is dropped."""
    return now - due_at > (LATEST_NUDGE if kind.endswith("nudge") else LATEST)
