"""Questions are no reports, short answers mean what was asked, and no amount is more than a person can do in a day."""

from __future__ import annotations

from typing import Any

import pytest

from bot.program.terms import Activity, Asked
from bot.reader import of_one_day, read, to_contract

NOTHING: dict[str, Any] = {
    "first_step_pain": None,
    "rest_pattern": None,
    "worst_pain": None,
    "settle_minutes": None,
    "activities": [],
    "exercises": [],
    "plan_done": None,
    "red_flags": [],
    "about": "today",
}


def _read(text: str, asked: Asked = Asked.EVENING) -> dict[str, Any]:
    return to_contract(read(text, asked))


def _minutes(text: str, asked: Asked = Asked.EVENING) -> dict[str, float | None]:
    return {each["activity"]: each["minutes"] for each in _read(text, asked)["activities"]}


@pytest.mark.parametrize("asked", list(Asked))
@pytest.mark.parametrize(
    "text",
    [
        "should I walk today?",
        "should i do my raises",
        "what is a toe hold",
        "What's a heel raise?",
        "can I do the raises?",
        "can i walk 20 minutes tomorrow?",
        "is it ok to do 3x15 raises",
        "how many raises should I do",
        "Hello, do I need to do the raises 3 x 10?",
        "could I go for a run?",
        "how long should the walk be",
    ],
)
def test_a_question_is_no_report(text: str, asked: Asked) -> None:
    assert _read(text, asked) == NOTHING
    assert read(text, asked).not_done == ()


def test_a_question_to_oneself_with_its_answer_is_one() -> None:
    assert _minutes("Did I walk? 25 minutes, yes. 3") == {"walking": 25}


def test_what_stands_beside_a_question_is_read() -> None:
    record = _read("walked 20 min, worst 3. should I do the raises as well?")
    assert (record["worst_pain"], record["activities"][0]["minutes"], record["exercises"]) == (3, 20, [])


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("walk 5", 5), ("walked 9", 9), ("I walked 12", 12), ("walk 4", None)],
)
def test_a_number_right_behind_a_walk_is_no_score(text: str, minutes: int | None) -> None:
    record = _read(text)
    assert (record["worst_pain"], record["red_flags"]) == (None, [])
    assert _minutes(text) == {"walking": minutes}


@pytest.mark.parametrize(
    ("text", "minutes", "worst"),
    [
        ("no I walked 9 minutes, worst 3", 9, 3),
        ("was going to walk 10 but did 5, worst 3", 5, 3),
        ("planned to walk 30 but only managed 12, worst 4", 12, 4),
    ],
)
def test_what_was_done_counts_not_what_was_meant(text: str, minutes: int, worst: int) -> None:
    assert (_minutes(text), _read(text)["worst_pain"]) == ({"walking": minutes}, worst)


def test_all_but_one() -> None:
    reading = read("all but the raises, worst 6", Asked.EVENING)
    record = to_contract(reading)
    assert (record["plan_done"], record["exercises"], record["worst_pain"]) == ("some", [], 6)
    assert [str(each) for each in reading.not_done] == ["heel_raise"]


def test_forgetting_to_say_is_not_forgetting_to_do() -> None:
    text = "I forgot to say: yesterday I walked 25 minutes not 15, this morning 4 and no pain at rest"
    record = _read(text, Asked.MORNING)
    assert (record["first_step_pain"], record["rest_pattern"], record["about"]) == (4, "none", "today")
    assert [(each.activity, each.minutes) for each in read(text, Asked.MORNING).activities] == [(Activity.WALKING, 25)]


def test_yesterdays_worst_is_kept_the_next_morning() -> None:
    record = _read("worst yesterday 3, all done", Asked.MORNING)
    assert (record["worst_pain"], record["first_step_pain"], record["plan_done"], record["about"]) == (
        3,
        None,
        "all",
        "yesterday",
    )


@pytest.mark.parametrize(
    ("text", "plan", "worst"),
    [
        ("done", "all", None),
        ("All", "all", None),
        ("everything 4", "all", 4),
        ("Done. 4", "all", 4),
        ("Some", "some", None),
        ("most, 3", "some", 3),
        ("half", "some", None),
    ],
)
def test_the_plan_in_one_word(text: str, plan: str, worst: int | None) -> None:
    record = _read(text)
    assert (record["plan_done"], record["worst_pain"]) == (plan, worst)
    assert _read(text, Asked.MORNING)["plan_done"] is None


@pytest.mark.parametrize(
    "text", ["took 3 billion steps", "99999999999999999999999 steps", "walked " + "9" * 400 + " minutes"]
)
def test_no_record_need_hold_more_than_it_can(text: str) -> None:
    (walking,) = _read(text)["activities"]
    assert {walking[kind] for kind in ("minutes", "steps", "km", "count")} == {None}


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        # 24 hours of 60 minutes are a day; the other limits are common sense, no source.
        ("walked 1440 minutes", "minutes", 1440),
        ("walked 1441 minutes", "minutes", None),
        ("200,000 steps", "steps", 200_000),
        ("200,001 steps", "steps", None),
        ("walked 300 km", "km", 300),
        ("walked 301 km", "km", None),
    ],
)
def test_what_is_kept_of_a_day_is_what_a_day_can_hold(text: str, kind: str, value: int | None) -> None:
    (walking,) = of_one_day(read(text, Asked.EVENING)).activities
    assert getattr(walking, kind) == value


def test_repetitions_and_settle_times_of_a_day() -> None:
    (raises,) = of_one_day(read("5000 raises", Asked.EVENING)).exercises
    assert (raises.sets, raises.reps) == (None, None)
    (hold,) = of_one_day(read("toe hold 3x9000 seconds", Asked.EVENING)).exercises
    assert hold.seconds is None
    assert of_one_day(read("3, settled in 3000 minutes", Asked.MORNING)).settle_minutes is None
    kept = read("3, settled in 30 minutes", Asked.MORNING)
    assert of_one_day(kept) == kept
