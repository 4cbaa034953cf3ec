"""The days that a text names. Each expected date was counted by hand on a calendar of 2026 (4 March is a Wednesday)."""

from __future__ import annotations

from datetime import date

import pytest

from bot.conversation.periods import Period, period_in
from storage.database import open_database
from tests.conversation.room import Room

TODAY = date(2026, 3, 4)


@pytest.mark.parametrize(
    ("said", "first", "last"),
    [
        ("until the 20th", "2026-03-04", "2026-03-20"),
        ("until the 2nd", "2026-03-04", "2026-04-02"),
        ("until friday", "2026-03-04", "2026-03-06"),
        ("until wednesday", "2026-03-04", "2026-03-11"),
        ("until next monday", "2026-03-04", "2026-03-16"),
        ("till tomorrow", "2026-03-04", "2026-03-05"),
        ("until 20 March", "2026-03-04", "2026-03-20"),
        ("until March 20th", "2026-03-04", "2026-03-20"),
        ("until the 5th of january", "2026-03-04", "2027-01-05"),
        ("until 5.6.2026", "2026-03-04", "2026-06-05"),
        ("for a week", "2026-03-04", "2026-03-10"),
        ("for 10 days", "2026-03-04", "2026-03-13"),
        ("for two weeks from monday", "2026-03-09", "2026-03-22"),
        ("from 5 march to 20 march", "2026-03-05", "2026-03-20"),
        ("2026-03-09 2026-03-06", "2026-03-06", "2026-03-09"),
        ("until 9999-12-31", "2026-03-04", "9999-12-31"),
    ],
)
def test_the_days_that_are_named(said: str, first: str, last: str) -> None:
    assert period_in(said, TODAY) == Period(first=date.fromisoformat(first), last=date.fromisoformat(last))


@pytest.mark.parametrize("said", ["", "soon", "until 30 february", "in may", "2026-02-30", "from friday", "10 minutes"])
def test_what_names_no_days(said: str) -> None:
    assert period_in(said, TODAY) is None


@pytest.mark.parametrize(
    ("said", "until"),
    [
        ("going on holiday until the 20th", date(2026, 3, 20)),
        ("holiday until friday", date(2026, 3, 6)),
        ("away for 10 days", date(2026, 3, 11)),
        ("I'm away for a week", date(2026, 3, 8)),
    ],
)
def test_a_holiday_in_words(said: str, until: date) -> None:
    room = Room(open_database("sqlite://"))
    assert "no prompts" in room.say(1, "12:00", said)
    assert room.get().quiet_until == until


@pytest.mark.parametrize("said", ["holiday until 9999-12-31", "away for 400 days", "holiday until 5 june 2027"])
def test_a_holiday_too_long_changes_nothing_and_asks(said: str) -> None:
    room = Room(open_database("sqlite://"))
    assert "60 days" in room.say(1, "12:00", said)
    assert room.get().quiet_until is None


@pytest.mark.parametrize("said", ["walked away for 10 minutes, worst 3", "holiday for 3 days was fine, 4, on and off"])
def test_a_report_with_such_words_is_a_report(said: str) -> None:
    room = Room(open_database("sqlite://"))
    assert "Noted" in room.say(1, "12:00", said)
    assert room.get().quiet_until is None
