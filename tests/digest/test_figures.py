"""Figures against pandas and scipy, and on both sides of each boundary."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pandas
import pytest
from scipy.stats import theilslopes

from bot.digest.figures import RULE_OF_WHY, Why, dose_changes, figures_of, programme_weeks
from bot.digest.values import History
from bot.program.protocol import DEFAULT
from bot.program.reasons import Notice, Reason
from bot.program.terms import Cause, Decision, RedFlag, Variable
from bot.program.values import Evening
from tests.digest.builders import START, lived, walked
from tests.digest.cases import cases
from tests.digest.conftest import Demo

HISTORIES = {name: each for name, each in cases().items() if each.days}


def series(history: History) -> pandas.Series:
    """f by day, missing where not answered."""
    return pandas.Series([day.pain for day in history.days], index=[day.date for day in history.days], dtype="float")


def half_up(value: float) -> int | None:
    """Rule 2.1's rounding, written here once more."""
    return None if math.isnan(value) else math.floor(value + 0.5)


@pytest.mark.parametrize("name", list(HISTORIES))
def test_the_weeks_medians_are_those_of_pandas(name: str) -> None:
    history = HISTORIES[name]
    pain = series(history)
    found = figures_of(history)
    assert found.this_week.median == half_up(pain.iloc[-7:].median())
    assert found.last_week.median == half_up(pain.iloc[-14:-7].median())
    assert found.first_week.median == half_up(pain.iloc[:7].median())
    assert found.this_week.mornings == pain.iloc[-7:].count()
    by_week = pain.groupby([(day.number - 1) // 7 + 1 for day in history.days]).median()
    assert {week: each.median for week, each in programme_weeks(history.days)} == {
        week: half_up(value) for week, value in by_week.items()
    }


@pytest.mark.parametrize("name", list(HISTORIES))
def test_the_trend_is_that_of_scipy(name: str) -> None:
    """`scipy.stats.theilslopes` with alpha 0.95, over the last 28 days (rule 9), times 7 days."""
    history = HISTORIES[name]
    recent = series(history).iloc[-28:].dropna()
    found = figures_of(history).trend
    if len(recent) < DEFAULT.trend_mornings:
        assert found is None
        return
    expected = theilslopes(recent.to_numpy(), [(day - START).days for day in recent.index], alpha=0.95)
    assert found is not None
    assert found.mornings == len(recent)
    assert found.slope == pytest.approx(expected.slope * 7)
    assert found.low == pytest.approx(expected.low_slope * 7)
    assert found.high == pytest.approx(expected.high_slope * 7)


@pytest.mark.parametrize(
    ("first", "now", "important", "why"),
    [
        (7, 5, True, "2 points (Farrar et al. 2001)"),
        (7, 6, False, "1 point and 14 %"),
        (3, 2, True, "1 point but 33 %, over Farrar's 30 %"),
        (4, 3, False, "1 point and 25 %"),
        (4, 4, False, "no change"),
        (4, 6, True, "2 points worse"),
    ],
)
def test_a_change_is_important_at_2_points_or_30_percent(first: int, now: int, important: bool, why: str) -> None:
    found = figures_of(lived(str(first) * 7 + str(now) * 7)).against_start
    assert found is not None
    assert (found.first, found.now, found.important) == (first, now, important), why


def test_this_week_is_not_held_against_the_start_while_the_two_overlap() -> None:
    assert figures_of(lived("7777777 333333")).against_start is None
    assert figures_of(lived("7777777 3333333")).against_start is not None


def test_a_week_without_an_answer_is_no_good_week() -> None:
    found = figures_of(lived("7777777 6666666 ......."))
    assert found.this_week.median is None
    assert found.against_start is None
    assert found.against_last is None
    assert not found.worsening


@pytest.mark.parametrize(
    ("scores", "worse"),
    [("5555555 3333333 5555555", True), ("5555555 4444444 5555555", False), ("3333333 ....... 5555555", True)],
)
def test_worsening_is_2_or_more_over_the_best_week(scores: str, worse: bool) -> None:
    assert figures_of(lived(scores)).worsening is worse


def test_check_ins_are_counted_of_those_sent() -> None:
    history = lived("5555555 5.5..55", evenings={9: Evening(), 10: Evening()})
    found = figures_of(history)
    assert (found.mornings_answered, found.mornings_asked) == (4, 7)
    # Evenings 8 and 13, 14 are done; 9, 10 empty; 11 and 12 have no answer at all.
    assert (found.evenings_answered, found.evenings_asked) == (3, 7)


def test_a_check_in_that_was_not_sent_is_not_held_against_the_patient() -> None:
    history = lived("5555555 5.5..55")
    holiday = {START + timedelta(days=number - 1) for number in (11, 12)}
    found = figures_of(replace(history, sent=frozenset(each for each in history.sent if each[0] not in holiday)))
    assert (found.mornings_answered, found.mornings_asked) == (4, 5)


def test_an_answer_before_the_prompt_counts_as_asked_for() -> None:
    found = figures_of(lived("5555555", sent=frozenset()))
    assert (found.mornings_answered, found.mornings_asked) == (7, 7)


def test_rest_days_are_no_loading_days() -> None:
    """Day 8 flares (8 over a reference of 5) and rests; the day after is settled."""
    found = figures_of(lived("5555555 8555555"))
    assert found.decisions[Decision.REST] == 1
    assert found.loading_planned == 6


def test_a_walk_under_80_percent_is_not_done() -> None:
    """Rule 2.3, on both sides: 4 of 5 minutes is 80 %."""
    found = figures_of(lived("5555", evenings={2: walked(4), 3: walked(3.9)}))
    assert (found.walks_done, found.walks_planned) == (3, 4)
    assert (found.raises_done, found.raises_planned) == (4, 4)
    assert (found.loading_done, found.loading_planned) == (3, 4)


def test_silence_counts_days_and_leaves_a_holiday_out() -> None:
    history = lived("5555 .....")
    assert figures_of(history).silent_days == 5
    last = history.until
    assert figures_of(replace(history, quiet=(last - timedelta(days=1), last))).silent_days == 3
    assert figures_of(lived("5555.....5")).silent_days == 0


def test_dose_changes_follow_the_doses_in_force(demo: Demo) -> None:
    """Against a walk through the decisions with pandas."""
    for history in demo.histories.values():
        walks = pandas.Series(
            [history.enrolled_doses.walk if history.enrolled_doses else 0]
            + [day.decision.doses.walk for day in history.days if day.decision is not None]
        )
        changed = int((walks.diff().fillna(0) != 0).sum())
        found = [each for each in dose_changes(history) if each.variable is Variable.WALKING]
        assert len(found) == changed, history.alias
        for each in found:
            before, after = int(each.before.split()[0]), int(each.after.split()[0])
            assert each.up is (after > before)


def test_a_dose_change_names_its_reason() -> None:
    flared = lived("5555555 8555555", evenings={7: walked(40, 7)})
    found = dose_changes(flared)
    assert all(each.why in RULE_OF_WHY for each in found)
    progressed = dose_changes(lived("5" * 30))
    assert {each.why for each in progressed} == {Why.PROGRESS}
    gone = dose_changes(lived("3" * 10 + "." * 12 + "3"))
    assert Why.GAP in {each.why for each in gone}


def test_flares_have_their_cause() -> None:
    found = figures_of(lived("5555555 8555555", evenings={7: walked(40, 7)}))
    assert [each.cause for each in found.flares] == [Cause.OVERDONE]
    assert [each.day for each in found.flares] == [date(2026, 1, 12)]


def test_flags_of_the_week_and_open_ones() -> None:
    history = lived(
        "5" * 21, flags={RedFlag.NIGHT_PAIN: (3, 5), RedFlag.NERVE_SIGNS: (12, 16), RedFlag.SUDDEN_POP: (20, None)}
    )
    found = figures_of(history)
    assert [each.code for each in found.flags_opened] == [RedFlag.SUDDEN_POP]
    assert [each.code for each in found.flags_cleared] == [RedFlag.NERVE_SIGNS]
    assert [each.code for each in history.open_flags] == [RedFlag.SUDDEN_POP]


def test_what_was_missing_is_counted() -> None:
    """29 calm days whose walks are never done: nothing was tolerated (rules 2.3 and 6)."""
    found = figures_of(lived("3" * 30, evenings={day: walked(1, raises=False) for day in range(1, 31)}))
    assert found.days_since_progress == 29
    assert Notice.NO_PROGRESS in {each for _, each in found.notices}
    assert found.missing[0][0] is Reason.NOT_TOLERATED


def test_nothing_has_no_figures() -> None:
    found = figures_of(lived(""))
    assert found.week is None
    assert found.this_week.median is None
    assert found.silent_days == 0


def test_a_day_that_is_going_on_is_no_silence_yet() -> None:
    history = lived("5555 ...")
    assert figures_of(history).silent_days == 3
    assert figures_of(history).mornings_asked == 7
    today = replace(history.days[-1], going_on=True)
    found = figures_of(replace(history, days=(*history.days[:-1], today)))
    assert found.silent_days == 2
    assert (found.mornings_answered, found.mornings_asked) == (4, 6)
