"""Builders with keyword overrides: a calm patient on day 30, who would go up today unless something is changed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from bot.program import ladder
from bot.program.advance import advance
from bot.program.decide import decide
from bot.program.ladder import RaiseDose
from bot.program.protocol import DEFAULT, Protocol
from bot.program.terms import Activity, Decision, PlanDone, PriorActivity, RestPattern, Step
from bot.program.values import (
    ActivityAmount,
    DayDecision,
    Doses,
    Enrolment,
    Evening,
    Morning,
    PastDay,
    Plan,
    RaisesReported,
    State,
    Today,
    start,
)

CONSTANT, SOMETIMES, NO_REST_PAIN = RestPattern.CONSTANT, RestPattern.INTERMITTENT, RestPattern.NONE
TODAY = 30
RAISES = RaiseDose(step=Step.STANDING_BOTH, sets=2, reps=8)


def dose(step: Step, sets: int = 2, reps: int = 8) -> RaiseDose:
    return RaiseDose(step=step, sets=sets, reps=reps)


def plan(walk: int = 10, raises: RaiseDose | None = RAISES) -> Plan:
    """`raises` None: none today."""
    named = raises or RAISES
    return Plan(walk=walk, step=named.step, sets=raises.sets if raises else 0, reps=raises.reps if raises else 0)


def enrolment(**changes: Any) -> Enrolment:
    values: dict[str, Any] = {
        "first_step_pain": 5,
        "rest_pattern": SOMETIMES,
        "prior_activity": PriorActivity.MODERATELY,
        "doses": Doses(walk=10, raises=ladder.LOWEST),
    }
    return Enrolment(**{**values, **changes})


def amount(activity: Activity = Activity.WALKING, **said: Any) -> ActivityAmount:
    return ActivityAmount(activity=activity, **said)


def evening(w: int | None = 3, done: PlanDone | None = PlanDone.ALL, *, walked: float | None = None,
            raises: tuple[int | None, int | None] | None = None, others: tuple[ActivityAmount, ...] = ()) -> Evening:  # fmt: skip
    walking = () if walked is None else (amount(minutes=walked),)
    named = None if raises is None else RaisesReported(sets=raises[0], reps=raises[1])
    return Evening(worst_pain=w, plan_done=done, activities=walking + others, raises=named)


NOTHING_SAID = Evening()


def past_day(day: int, **changes: Any) -> PastDay:
    """An answered day, all of the plan done, a worst pain of 3."""
    values: dict[str, Any] = {
        "day": day,
        "decision": Decision.HOLD,
        "answered": True,
        "flare": None,
        "first_step_pain": 2,
        "worst_pain": 3,
        "reported": True,
        "plan": plan(),
        "walked": 10.0,
        "walk_done": True,
        "raises_done": True,
        "some_walking": True,
        "some_raises": True,
        "overdone": False,
        "reference": 2,
    }
    return PastDay(**{**values, **changes})


def past(today: int = TODAY, **by_day: dict[str, Any]) -> tuple[PastDay, ...]:
    """The last 28 days before `today`; `d29={"worst_pain": 6}` changes day 29, `every={...}` all of them."""
    every = by_day.get("every", {})
    return tuple(past_day(day, **{**every, **by_day.get(f"d{day}", {})}) for day in range(max(1, today - 28), today))


def state(**changes: Any) -> State:
    """The start of day 30: pain 2 for weeks, doses unchanged since day 1, all of them done."""
    doses = changes.pop("doses", Doses(walk=10, raises=RAISES))
    today = changes.get("day", TODAY)
    calm = State(
        day=today,
        enrolment=changes.pop("enrolment", enrolment(doses=doses)),
        doses=doses,
        past=past(today),
        first_answered_pain=2,
        any_answered=True,
        answered_pains=(2,) * 14,
        reference_pains=(2,) * 14,
        stated_pattern=SOMETIMES,
        stated_pattern_day=today - 1,
        walk_floor=DEFAULT.walk_floor,
        answered_since_constant=29,
        doses_before_gap=doses,
        walk_without_gap=doses.walk,
    )
    return replace(calm, **changes)


def decided(given: State | None = None, f: int | None = 2, r: RestPattern | None = SOMETIMES,
            protocol: Protocol = DEFAULT, **today: Any) -> DayDecision:  # fmt: skip
    """The decision of the day that starts with `given`, for a morning of first-step pain `f` and pattern `r`."""
    given = given or state()
    morning = Morning(first_step_pain=f, rest_pattern=r)
    return decide(given, Today(day=given.day, morning=morning, **today), protocol)


def silent(given: State | None = None, **today: Any) -> DayDecision:
    """The same for a morning of which nothing was said."""
    return decided(given, None, None, **today)


@dataclass(frozen=True)
class Story:
    """Days lived through from day 1: the decision of each (index 0 is day 1), and the state after the last."""

    decisions: tuple[DayDecision, ...]
    state: State

    @property
    def walks(self) -> list[int]:
        return [each.doses.walk for each in self.decisions]

    @property
    def kinds(self) -> list[str]:
        return [str(each.decision) for each in self.decisions]


def story(*days: tuple[Morning, Evening] | tuple[Morning, Evening, dict[str, Any]], protocol: Protocol = DEFAULT,
          **changes: Any) -> Story:  # fmt: skip
    """Live through days of morning, evening and what else is known of them (fields of `Today`, `order_placed`)."""
    now = start(enrolment(**changes), walk_floor=protocol.walk_floor)
    found = []
    for morning, said, *rest in days:
        more = dict(rest[0]) if rest else {}
        placed = more.pop("order_placed", None)
        decision = decide(now, Today(day=now.day, morning=morning, **more), protocol)
        found.append(decision)
        now = advance(now, decision, said, protocol, order_placed=placed)
    return Story(decisions=tuple(found), state=now)


def morning(f: int | None = 5, r: RestPattern | None = SOMETIMES) -> Morning:
    return Morning(first_step_pain=f, rest_pattern=r)


SILENCE = Morning()
