"""What must hold over any history (hypothesis drives the oracle's random programmes)."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.program import ladder
from bot.program.advance import advance
from bot.program.decide import decide
from bot.program.protocol import DEFAULT
from bot.program.terms import Activity, Decision, Phase, PlanDone, PriorActivity, RedFlag, RestPattern, Step
from bot.program.values import (
    ActivityAmount,
    DayDecision,
    Doses,
    Enrolment,
    Evening,
    Morning,
    State,
    Today,
    start,
)

_MORNINGS = st.builds(
    Morning,
    first_step_pain=st.none() | st.integers(0, 10) | st.integers(0, 3),
    rest_pattern=st.sampled_from(
        [None, RestPattern.NONE, RestPattern.INTERMITTENT, RestPattern.INTERMITTENT, RestPattern.CONSTANT]
    ),
)
_EVENINGS = st.builds(
    Evening,
    worst_pain=st.none() | st.integers(0, 4) | st.integers(0, 10),
    plan_done=st.sampled_from([None, PlanDone.ALL, PlanDone.ALL, PlanDone.ALL, PlanDone.SOME, PlanDone.NONE]),
    activities=st.sampled_from([(), (), (ActivityAmount(activity=Activity.WALKING, minutes=40.0),)]),
)
_DAYS = st.lists(
    st.tuples(_MORNINGS, _EVENINGS, st.sampled_from(["", "", "", "", "", "flag", "paused"])), min_size=5, max_size=60
)
_CALM = st.tuples(
    st.builds(Morning, first_step_pain=st.integers(1, 3), rest_pattern=st.just(RestPattern.INTERMITTENT)),
    st.builds(Evening, worst_pain=st.integers(0, 4), plan_done=st.just(PlanDone.ALL)),
    st.just(""),
)


def _begin(first: int = 4, active: PriorActivity = PriorActivity.MODERATELY) -> State:
    return start(
        Enrolment(
            first_step_pain=first,
            rest_pattern=RestPattern.INTERMITTENT,
            prior_activity=active,
            doses=Doses(walk=5, raises=ladder.LOWEST),
        ),
        walk_floor=DEFAULT.walk_floor,
    )


def _live(days: list) -> list[tuple[State, Today, DayDecision]]:
    state, lived = _begin(), []
    for morning, evening, event in days:
        today = Today(
            day=state.day,
            morning=morning,
            open_flags=(RedFlag.NERVE_SIGNS,) if event == "flag" else (),
            paused=event == "paused",
        )
        decision = decide(state, today, DEFAULT)
        lived.append((state, today, decision))
        state = advance(state, decision, evening, DEFAULT)
    return lived


@settings(max_examples=150, deadline=None)
@given(days=_DAYS | st.lists(_CALM, min_size=20, max_size=60))
def test_increases_are_single_spaced_and_never_given_where_they_must_not_be(days: list) -> None:
    last_up: int | None = None
    for state, today, decision in _live(days):
        walk_up = decision.doses.walk > state.doses.walk
        raises_up = ladder.rank(decision.doses.raises) > ladder.rank(state.doses.raises)
        assert not (walk_up and raises_up)
        if walk_up or raises_up:
            assert decision.decision is Decision.PROGRESS
            assert decision.answered
            assert decision.flare is None
            assert decision.phase is not Phase.INFLAMMATORY
            assert not today.open_flags
            assert not today.paused
            changed = max(state.walk_changed_day, state.raises_changed_day)
            assert state.day - changed >= (7 if decision.irritable else 4)
            assert last_up is None or state.day - last_up >= 4
            last_up = state.day


def test_calm_and_answered_days_do_lead_upwards() -> None:
    # So that the property above has looked at something.
    calm = [
        (Morning(first_step_pain=2, rest_pattern=RestPattern.NONE), Evening(worst_pain=2, plan_done=PlanDone.ALL), "")
    ] * 60
    ups = [decision for _, _, decision in _live(calm) if decision.decision is Decision.PROGRESS]
    assert len(ups) > 8


@settings(max_examples=100, deadline=None)
@given(days=_DAYS)
def test_an_open_flag_never_comes_with_exercises_and_off_days_have_none(days: list) -> None:
    for state, today, decision in _live(days):
        flagged = decide(state, replace(today, open_flags=(RedFlag.NIGHT_PAIN,)), DEFAULT)
        for each in (flagged, decision) if today.open_flags else (flagged,):
            assert each.decision is Decision.STOP
            assert not each.plan.has_dose
            assert each.flare is None
            assert each.progressed is None
        if decision.decision in (Decision.STOP, Decision.UNLOAD, Decision.REST):
            assert not decision.plan.has_dose


@settings(max_examples=50, deadline=None)
@given(days=_DAYS)
def test_the_same_history_gives_the_same_decisions(days: list) -> None:
    assert [each[2] for each in _live(days)] == [each[2] for each in _live(days)]


def _hard_days(seed: int, number: int) -> list:
    chance = random.Random(seed)
    return [
        (
            Morning(
                first_step_pain=chance.choice([None, 2, 3, 3, 3, 4, 8]),
                rest_pattern=chance.choice([None, *[RestPattern.INTERMITTENT] * 8, RestPattern.CONSTANT]),
            ),
            Evening(
                worst_pain=chance.randint(0, 7),
                plan_done=chance.choice([None, PlanDone.ALL, PlanDone.ALL, PlanDone.SOME]),
                activities=tuple(
                    ActivityAmount(activity=each, minutes=float(chance.randint(1, 99)))
                    for each in chance.sample(list(Activity), 3)
                ),
            ),
            chance.choice([*[""] * 20, "flag"]),
        )
        for _ in range(number)
    ]


@pytest.mark.parametrize("seed", range(3))
def test_the_state_is_no_larger_after_300_days_than_after_60(seed: int) -> None:
    sizes = [len(repr(state)) for state, _, _ in _live(_hard_days(seed, 300))]
    assert len(sizes) == 300
    assert max(sizes[60:]) < 1.15 * max(sizes[30:60])
    assert sizes[30] > 3 * sizes[0]  # it does fill at first


@settings(max_examples=200, deadline=None)
@given(days=_DAYS | st.lists(_CALM, min_size=4, max_size=40), better=st.integers(0, 9), worse=st.integers(1, 10))
def test_a_worse_answer_this_morning_never_gives_a_larger_dose_today(days: list, better: int, worse: int) -> None:
    # The last of the days lived gives the state; its own morning is replaced by the two that are compared.
    state, today, _ = _live(days)[-1]
    low, high = sorted((better, worse))

    def answer(pain: int, pattern: RestPattern) -> DayDecision:
        morning = Morning(first_step_pain=pain, rest_pattern=pattern)
        return decide(state, replace(today, morning=morning), DEFAULT)

    for pattern, worse_pattern in (
        (RestPattern.INTERMITTENT, RestPattern.INTERMITTENT),
        (RestPattern.NONE, RestPattern.INTERMITTENT),
        (RestPattern.INTERMITTENT, RestPattern.CONSTANT),
    ):
        one, other = answer(low, pattern), answer(high, worse_pattern)
        assert other.plan.walk <= one.plan.walk
        if other.plan.has_raises:
            assert one.plan.has_raises
            assert ladder.rank(other.plan.raises) <= ladder.rank(one.plan.raises)


def test_the_two_answers_that_are_compared_do_differ_on_a_day_to_go_up() -> None:
    # So that the property above has looked at something.
    calm = (
        Morning(first_step_pain=2, rest_pattern=RestPattern.NONE),
        Evening(worst_pain=2, plan_done=PlanDone.ALL),
        "",
    )
    state, today, decision = next(each for each in _live([calm] * 20) if each[2].decision is Decision.PROGRESS)
    worse = decide(state, replace(today, morning=Morning(first_step_pain=9, rest_pattern=RestPattern.NONE)), DEFAULT)
    assert (decision.plan.walk, worse.plan.walk) == (6, 0)


@pytest.mark.parametrize("seed", range(3))
def test_a_position_free_of_pain_rules_out_the_inflammatory_phase(seed: int) -> None:
    # Common practice, no source.
    chance = random.Random(seed)
    for pattern in (RestPattern.NONE, RestPattern.INTERMITTENT):
        morning = Morning(first_step_pain=chance.randint(0, 10), rest_pattern=pattern)
        assert decide(_begin(), Today(day=1, morning=morning), DEFAULT).phase is not Phase.INFLAMMATORY
    constant = Morning(rest_pattern=RestPattern.CONSTANT)
    assert decide(_begin(), Today(day=1, morning=constant), DEFAULT).phase is Phase.INFLAMMATORY


def test_the_ladder_begins_seated_on_both_feet() -> None:
    assert ladder.LOWEST.step is Step.SEATED_BOTH
