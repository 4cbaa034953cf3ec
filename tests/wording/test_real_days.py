"""Days as the rules really decide them, played over random reports: the words fit the decision, and stay easy to read."""

from __future__ import annotations

import random
from collections import Counter

import pytest
import textstat

from bot.conversation.wording.days import plan_lines
from bot.program.advance import advance
from bot.program.decide import decide
from bot.program.ladder import first_of
from bot.program.protocol import DEFAULT
from bot.program.terms import Activity, Decision, PlanDone, PriorActivity, RedFlag, RestPattern, Step
from bot.program.values import (
    ActivityAmount,
    DayDecision,
    Doses,
    Enrolment,
    Evening,
    Morning,
    Today,
    start,
)
from tests.wording.catalogue import guide

DAYS = 90


def _played(seed: int) -> list[tuple[DayDecision | None, DayDecision, int | None]]:
    """Each day's decision with the day before and that day's worst pain."""
    chance = random.Random(seed)
    step = chance.choice([Step.SEATED_BOTH, Step.STANDING_BOTH, Step.STANDING_ONE, Step.ONE_ON_TOWEL])
    enrolment = Enrolment(
        first_step_pain=chance.randint(2, 7),
        rest_pattern=RestPattern.INTERMITTENT,
        prior_activity=PriorActivity.MODERATELY,
        doses=Doses(walk=chance.randint(3, 20), raises=first_of(step)),
    )
    state = start(enrolment, walk_floor=DEFAULT.walk_floor)
    before: DayDecision | None = None
    worst: int | None = None
    days = []
    for _ in range(DAYS):
        pain = max(0, min(8, enrolment.first_step_pain + chance.choice([-2, -1, 0, 0, 0, 0, 0, 0, 1, 3])))
        morning = Morning(
            first_step_pain=None if chance.random() < 0.1 else pain,
            rest_pattern=RestPattern.CONSTANT if chance.random() < 0.03 else RestPattern.INTERMITTENT,
        )
        today = Today(
            day=state.day,
            morning=morning,
            open_flags=(RedFlag.NIGHT_PAIN,) if chance.random() < 0.02 else (),
            paused=chance.random() < 0.05,
        )
        decision = decide(state, today, DEFAULT)
        days.append((before, decision, worst))
        worst = chance.choice([None, 2, 3, 3, 4, 6])
        extra = (ActivityAmount(activity=Activity.GARDENING, minutes=40),) if chance.random() < 0.1 else ()
        evening = Evening(
            worst_pain=worst, plan_done=chance.choice([PlanDone.ALL, PlanDone.ALL, PlanDone.SOME]), activities=extra
        )
        state = advance(state, decision, evening, DEFAULT)
        before = decision
    return days


@pytest.mark.parametrize("seed", range(12))
def test_the_words_of_a_day_fit_its_decision(seed: int) -> None:
    for before, decision, worst in _played(seed):
        text = guide(decision, before=before, worst=worst)
        plan = plan_lines(decision.plan, decision, DEFAULT)
        assert textstat.flesch_kincaid_grade(text) <= 8, text
        assert textstat.flesch_kincaid_grade(plan) <= 8, plan
        assert ("rest" in text.casefold()) == (decision.decision is Decision.REST), text
        assert text.casefold().count(str(decision.phase)) == 1, text
        for each in (text.casefold(), plan.casefold()):
            assert ("walk " + str(decision.plan.walk) + " minute" in each) == (decision.plan.walk > 0), each
            assert (f"{decision.plan.sets} sets of {decision.plan.reps}" in each) or not decision.plan.has_raises, each
            assert ("toe hold" in each) == decision.plan.has_dose, each


def test_these_days_reach_every_decision() -> None:
    seen = Counter(decision.decision for seed in range(12) for _, decision, _ in _played(seed))
    assert set(seen) == set(Decision), seen
