"""Figures and rules against published studies, reference libraries and facts of the trade; the source beside each."""

from __future__ import annotations

import random
from dataclasses import fields

import pandas
import pytest
from scipy.stats import theilslopes

from bot.program import ladder, outcome
from bot.program.flags import URGENCY_OF, opens
from bot.program.ladder import RaiseDose
from bot.program.load import activity_loads, candidates, total_load, usual_after
from bot.program.progress import next_walk
from bot.program.protocol import DEFAULT, LOAD_FACTORS, Protocol, ProtocolError
from bot.program.reasons import RULE_OF, Reason
from bot.program.rounding import half_up, median_half_up
from bot.program.terms import Activity, PlanDone, RedFlag, Step, Urgency
from bot.program.values import ActivityAmount, ActivityLoad, Evening, Plan, Usual

PLAN = Plan(walk=10, step=Step.SEATED_BOTH, sets=2, reps=8)


def _walk(minutes: float) -> Evening:
    return Evening(activities=(ActivityAmount(activity=Activity.WALKING, minutes=minutes),))


@pytest.mark.parametrize("seed", range(20))
def test_the_usual_load_is_pandas_exponentially_weighted_mean(seed: int) -> None:
    # Williams et al. 2017, Br J Sports Med 51:209-210; reference: pandas ewm(span=7, adjust=False).
    chance = random.Random(seed)
    minutes = [chance.choice([0.0, 5.0, 12.5, 30.0, 90.0]) for _ in range(40)]
    usual = Usual()
    for each in minutes:
        usual = usual_after(usual, activity_loads(_walk(each), PLAN, DEFAULT), DEFAULT)
    assert usual.total == pytest.approx(pandas.Series(minutes).ewm(span=7, adjust=False).mean().iloc[-1])


def test_a_day_without_a_report_is_skipped_and_not_zero() -> None:
    # Rule 8.
    before = Usual(total=8.0, activities=(ActivityLoad(activity=Activity.WALKING, load=8.0),))
    assert usual_after(before, activity_loads(Evening(worst_pain=3), PLAN, DEFAULT), DEFAULT) == before


@pytest.mark.parametrize("seed", range(20))
def test_the_trend_is_scipys_theil_sen_slope_with_its_interval(seed: int) -> None:
    # Reference: scipy.stats.theilslopes (Sen 1968), ties included.
    chance = random.Random(seed)
    days = sorted(chance.sample(range(28), chance.randint(5, 28)))
    pains = [chance.randint(0, 10) for _ in days]
    ours, theirs = outcome.trend(days, pains), theilslopes(pains, days, 0.95)
    assert ours is not None
    assert (ours.slope, ours.low, ours.high) == pytest.approx(
        (theirs.slope * 7, theirs.low_slope * 7, theirs.high_slope * 7)
    )


@pytest.mark.parametrize(
    ("first", "now", "important"),
    [
        (6, 4, True),  # 2 points
        (6, 5, False),  # 1 point, 17 %
        (3, 2, True),  # 1 point, 33 %
        (4, 3, False),  # 1 point, 25 %
        (5, 5, False),
        (4, 6, True),  # worse by 2 points is important too
        (0, 1, True),  # from none
    ],
)
def test_a_change_is_important_at_two_points_or_thirty_per_cent(first: int, now: int, important: bool) -> None:
    # Farrar et al. 2001, Pain 94:149-158.
    change = outcome.change([first] * 7, [now] * 7, DEFAULT)
    assert change is not None
    assert change.important is important


def test_the_towel_step_is_the_published_scheme() -> None:
    # Rathleff et al. 2015, Scand J Med Sci Sports 25:e292-e300: 12, 10, 8 repetition maximum in 3, 4, 5 sets, two weeks
    # each, every second day, 3 s up, 2 s hold, 3 s down.
    towel = [(each.sets, each.reps) for each in ladder.LADDER if each.step is Step.ONE_ON_TOWEL]
    assert towel == [(3, 12), (4, 10), (5, 8)]
    assert DEFAULT.towel_days == 14
    assert ladder.TEMPO_SECONDS == (3, 2, 3)
    assert [ladder.falls_on(Step.ONE_ON_TOWEL, day) for day in range(5)] == [True, False, True, False, True]


def test_five_minutes_not_tolerated_leads_to_three() -> None:
    # Common practice, no source.
    assert half_up(DEFAULT.back_share * 5) == 3


def test_increases_come_no_closer_than_four_days() -> None:
    # Common practice, no source.
    assert DEFAULT.interval == 4
    with pytest.raises(ProtocolError, match="interval"):
        Protocol(interval=3)


def test_fifty_to_a_hundred_movements_before_standing() -> None:
    # Common practice, no source.
    assert (DEFAULT.ankle_pumps_low, DEFAULT.ankle_pumps_high) == (50, 100)


def test_pain_up_to_five_is_allowed() -> None:
    # Pain-monitoring model: Thomeé 1997, Phys Ther 77:1690-1703; Silbernagel et al. 2007, Am J Sports Med 35:897-906.
    assert DEFAULT.tolerated_pain == 5


def test_review_at_eight_weeks_and_re_evaluate_at_twelve() -> None:
    # Referral after 12 weeks of self-management is common NHS guidance.
    none = outcome.change([5], [5], DEFAULT)
    better = outcome.change([6], [3], DEFAULT)
    assert outcome.standing(8, none, DEFAULT) is None
    assert outcome.standing(9, none, DEFAULT) is outcome.Standing.REVIEW
    assert outcome.standing(13, none, DEFAULT) is outcome.Standing.RE_EVALUATE
    assert outcome.standing(13, better, DEFAULT) is None


@pytest.mark.parametrize(
    ("walk", "following"), [(3, 4), (5, 6), (7, 8), (8, 10), (10, 12), (25, 30), (28, 30), (30, 30)]
)
def test_walking_goes_up_by_a_fifth_at_least_one_and_at_most_five_minutes(walk: int, following: int) -> None:
    # Rule 6.
    assert next_walk(walk, DEFAULT) == following


def test_one_dose_back_from_the_first_of_a_step_is_the_last_of_the_step_before() -> None:
    # Rule 7.
    assert ladder.lower(RaiseDose(step=Step.SEATED_ONE, sets=2, reps=8)) == RaiseDose(
        step=Step.SEATED_BOTH, sets=3, reps=12
    )
    assert ladder.lower(ladder.LOWEST) == ladder.LOWEST


def test_hops_are_never_reached_by_progress() -> None:
    # Rule 7: on the clinician's word only.
    assert ladder.higher(RaiseDose(step=Step.ONE_ON_TOWEL, sets=5, reps=8)) is None


def test_halves_round_up() -> None:
    # Rule 2.1.
    assert (half_up(4.5), median_half_up([3, 4]), half_up(0.6 * 7.5)) == (5, 4, 5)


@pytest.mark.parametrize(
    ("yesterday", "usual", "found"),
    [
        (15.0, 10.0, True),
        (14.9, 10.0, False),  # less than 5 load minutes over
        (50.0, 40.0, True),  # 25 %
        (49.9, 40.0, False),
        (5.0, 0.0, True),
    ],
)
def test_a_candidate_is_over_its_usual_by_five_minutes_and_a_quarter(
    yesterday: float, usual: float, found: bool
) -> None:
    # Rule 4.7.
    loads = (ActivityLoad(activity=Activity.STAIRS, load=yesterday),)
    before = Usual(total=usual, activities=(ActivityLoad(activity=Activity.STAIRS, load=usual),))
    assert candidates(loads, before, 0, DEFAULT) == ((Activity.STAIRS,) if found else ())


def test_hills_without_an_amount_make_the_walk_heavier() -> None:
    # Rule 8.
    evening = Evening(
        activities=(
            ActivityAmount(activity=Activity.WALKING, minutes=20),
            ActivityAmount(activity=Activity.HILLS),
        )
    )
    assert total_load(activity_loads(evening, PLAN, DEFAULT) or ()) == pytest.approx(26)


def test_all_of_the_plan_is_the_walk_that_was_planned() -> None:
    # Rules 2.3 and 8.
    assert total_load(activity_loads(Evening(plan_done=PlanDone.ALL), PLAN, DEFAULT) or ()) == 10


@pytest.mark.parametrize(
    ("score", "days", "cleared", "again"),
    [(9, 14, 9, False), (9, 15, 9, True), (10, 3, 9, True), (None, 1, 9, True), (9, None, None, True)],
)
def test_severe_pain_is_quiet_for_fourteen_days_on_a_number_no_higher(
    score: int | None, days: int | None, cleared: int | None, again: bool
) -> None:
    # Rule 10.
    assert (
        opens(RedFlag.SEVERE_PAIN, score=score, days_since_cleared=days, cleared_score=cleared, protocol=DEFAULT)
        is again
    )


def test_nothing_is_left_without_a_rule_an_urgency_a_factor_or_a_source() -> None:
    assert set(RULE_OF) == set(Reason)
    assert set(URGENCY_OF) == set(RedFlag)
    assert set(LOAD_FACTORS) == set(Activity)
    assert set(URGENCY_OF.values()) == set(Urgency)
    assert fields(DEFAULT)
    assert all(each.metadata["source"] and each.metadata["rule"] for each in fields(DEFAULT))
