"""Prompts on the patient's own clock, against zoneinfo's own transitions (IANA time zone database)."""

from __future__ import annotations

import itertools
from collections import defaultdict
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
    clocks: dict[str, set[str]] = defaultdict(set)
    for each, kind in seen:
        clocks[kind].add(f"{each.astimezone(ZoneInfo(zone)):%H:%M}")
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


def _transitions(zone: str) -> list[tuple[datetime, timedelta, timedelta]]:
    """Where the zone's offset changes in two years, found from UTC by asking zoneinfo: instant, offset before, after."""
    tz, found = ZoneInfo(zone), []
    at = datetime(2026, 1, 1, tzinfo=UTC)
    while at < datetime(2028, 1, 1, tzinfo=UTC):
        later = at + timedelta(minutes=30)
        before, after = (each.astimezone(tz).utcoffset() or timedelta() for each in (at, later))
        if before != after:
            found.append((later, before, after))
        at = later
    return found


@pytest.mark.parametrize(
    ("zone", "changes"),
    [
        # Two changes a year; India has had none since 1945 (IANA time zone database, files europe, northamerica, ...).
        ("Europe/Lisbon", 4),
        ("America/New_York", 4),
        ("Australia/Lord_Howe", 4),  # by half an hour
        ("America/Santiago", 4),  # at midnight
        ("Asia/Kolkata", 0),
    ],
)
def test_clocks_at_every_change_are_moved_past_a_gap_and_taken_first_in_an_overlap(zone: str, changes: int) -> None:
    tz, found = ZoneInfo(zone), _transitions(zone)
    assert len(found) == changes
    for instant, before, after in found:
        by = after - before
        # The wall clock ten minutes into the skipped or the repeated stretch.
        wall = (instant + min(before, after) + timedelta(minutes=10)).replace(tzinfo=None)
        got = instant_of(wall.date(), f"{wall:%H:%M}", tz)
        shown = got.astimezone(tz).replace(tzinfo=None)
        if by > timedelta():
            assert got == instant + timedelta(minutes=10)
            assert shown == wall + by
        else:
            assert got == instant + by + timedelta(minutes=10)
            assert shown == wall


def test_a_prompt_that_comes_within_two_hours_of_the_other_is_not_lost() -> None:
    kinds = []
    at = datetime(2026, 1, 5, 5, tzinfo=UTC)
    for _ in range(4):
        at, kind = _due(at, "Europe/Lisbon", evening="08:30")
        kinds.append((f"{at:%d %H:%M}", kind))
    assert kinds == [
        ("05 07:00", "morning"),
        ("05 08:30", "evening"),
        ("05 10:30", "evening_nudge"),
        ("06 07:00", "morning"),
    ]


def test_an_evening_after_midnight_belongs_to_the_day_that_ends() -> None:
    tz = ZoneInfo("Europe/Lisbon")
    at, kind = _due(datetime(2026, 1, 5, 12, tzinfo=UTC), "Europe/Lisbon", morning="09:00", evening="00:30")
    assert (at, kind) == (datetime(2026, 1, 6, 0, 30, tzinfo=UTC), "evening")
    assert local_day(at, tz) == date(2026, 1, 5)


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
