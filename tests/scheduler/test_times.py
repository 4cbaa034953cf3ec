"""Prompts on the patient's own clock, against zoneinfo's own transitions (IANA time zone database)."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduler.times import day_start, instant_of, is_too_late, local_day, next_due

ZONES = [
    "Europe/Lisbon",
    "America/New_York",
    "Australia/Lord_Howe",
    "Asia/Kolkata",
    "America/Santiago",
    "Africa/Casablanca",
]


def _due(after: datetime, zone: str, **more: object) -> tuple[datetime, str]:
    given: dict = {"morning": "07:00", "evening": "19:00", "first_day": date(2026, 1, 1), "quiet": None} | more
    return next_due(after, tz=ZoneInfo(zone), **given)


@pytest.mark.parametrize("zone", ZONES)
def test_every_day_of_two_years_has_its_two_prompts_at_the_wall_clock(zone: str) -> None:
    at, seen = datetime(2026, 1, 1, tzinfo=UTC), []
    while at < datetime(2028, 1, 1, tzinfo=UTC):
        at, kind = _due(at, zone)
        seen.append((at, kind))
    clocks = {
        kind: {f"{each.astimezone(ZoneInfo(zone)):%H:%M}" for each, name in seen if name == kind} for _, kind in seen
    }
    assert clocks["morning"] == {"07:00"}
    assert clocks["evening"] == {"19:00"}
    assert [a for a, _ in seen] == sorted({a for a, _ in seen})
    mornings = [local_day(each, ZoneInfo(zone)) for each, kind in seen if kind == "morning"]
    assert all(later - earlier == timedelta(days=1) for earlier, later in itertools.pairwise(mornings))


@pytest.mark.parametrize(
    ("clock", "found"),
    [
        ("01:30", "2026-03-29T01:30:00+00:00"),  # skipped: 01:00 becomes 02:00, so it comes as 02:30 summer time
        ("02:30", "2026-03-29T01:30:00+00:00"),
    ],
)
def test_a_clock_that_is_skipped_is_moved_on(clock: str, found: str) -> None:
    assert instant_of(date(2026, 3, 29), clock, ZoneInfo("Europe/Lisbon")).isoformat() == found


def test_a_clock_that_comes_twice_is_taken_the_first_time() -> None:
    assert instant_of(date(2026, 10, 25), "01:30", ZoneInfo("Europe/Lisbon")) == datetime(
        2026, 10, 25, 0, 30, tzinfo=UTC
    )


@pytest.mark.parametrize("zone", ZONES)
def test_a_day_lasts_from_four_to_four(zone: str) -> None:
    tz = ZoneInfo(zone)
    for number in range(730):
        day = date(2026, 1, 1) + timedelta(days=number)
        start = day_start(day, tz)
        assert local_day(start, tz) == day
        assert local_day(start - timedelta(seconds=1), tz) == day - timedelta(days=1)


def test_no_nudge_at_night() -> None:
    kinds = []
    at = datetime(2026, 1, 5, tzinfo=UTC)
    for _ in range(6):
        at, kind = _due(at, "Europe/Lisbon", evening="20:00")
        kinds.append(kind)
    assert kinds == ["morning", "morning_nudge", "evening"] * 2


def test_quiet_days_are_passed_over() -> None:
    at, kind = _due(datetime(2026, 1, 5, 12, tzinfo=UTC), "Europe/Lisbon", quiet=(date(2026, 1, 5), date(2026, 1, 9)))
    assert (at, kind) == (datetime(2026, 1, 10, 7, tzinfo=UTC), "morning")


def test_late_prompts_are_dropped() -> None:
    due = datetime(2026, 1, 5, 7, tzinfo=UTC)
    assert not is_too_late("morning", due, due + timedelta(hours=3))
    assert is_too_late("morning", due, due + timedelta(hours=3, seconds=1))
