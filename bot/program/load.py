"""The day's load and the usual load (rule 8), what was walked, done and overdone (2.3), and flare candidates (4.7).

Every load on the foot counts. Loads are walking-equivalent minutes: minutes times a factor.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bot.program.protocol import LOAD_FACTORS, Protocol
from bot.program.terms import Activity, PlanDone
from bot.program.values import ActivityAmount, ActivityLoad, Evening, Plan, Usual

_NEAR = 1e-9


def minutes_said(amount: ActivityAmount, protocol: Protocol) -> float | None:
    """The minutes that the reply gives, directly or by steps, kilometres or flights; None where it gives none."""
    if amount.minutes is not None:
        return amount.minutes
    if amount.activity is Activity.STAIRS and amount.count is not None:
        return amount.count * protocol.minutes_a_flight
    if amount.steps is not None:
        pace = protocol.running_steps_a_minute if amount.activity is Activity.RUNNING else protocol.steps_a_minute
        return amount.steps / pace
    if amount.km is not None:
        a_km = {
            Activity.RUNNING: protocol.running_minutes_a_km,
            Activity.CYCLING: protocol.cycling_minutes_a_km,
        }.get(amount.activity, protocol.minutes_a_km)
        return amount.km * a_km
    return None


def guessed_minutes(activity: Activity, protocol: Protocol) -> float:
    """The guess for an activity whose amount was not said. It counts in the load only."""
    if activity is Activity.STANDING:
        return protocol.guess_standing_minutes
    if activity is Activity.STAIRS:
        return protocol.guess_flights * protocol.minutes_a_flight
    return protocol.guess_minutes


def _of(evening: Evening, activity: Activity) -> ActivityAmount | None:
    return next((each for each in evening.activities if each.activity is activity), None)


def walked(evening: Evening, plan: Plan, protocol: Protocol) -> float:
    """Minutes walked (2.3): as said, else the plan's if "all" of it was done, else 0: no guess."""
    entry = _of(evening, Activity.WALKING)
    said = None if entry is None else minutes_said(entry, protocol)
    if said is not None:
        return said
    return float(plan.walk) if evening.plan_done is PlanDone.ALL else 0.0


def ran(evening: Evening, protocol: Protocol) -> float:
    """Minutes run, guesses left out."""
    entry = _of(evening, Activity.RUNNING)
    return (minutes_said(entry, protocol) or 0.0) if entry is not None else 0.0


def walking_done(evening: Evening, plan: Plan, minutes: float, protocol: Protocol) -> bool:
    """Whether the walking of the plan was done (2.3): at least 80 % of it."""
    return plan.walk > 0 and minutes >= protocol.done_share * plan.walk - _NEAR


def raises_done(evening: Evening, plan: Plan, protocol: Protocol) -> bool:
    """Whether the raises of the plan were done (2.3).

    Sets missing: 1; both missing: as planned; repetitions missing beside sets: as planned.
    """
    if not plan.has_raises:
        return False
    if evening.raises is None:
        return evening.plan_done is PlanDone.ALL
    sets, reps = evening.raises.sets, evening.raises.reps
    if sets is None and reps is None:
        return True
    total = (1 if sets is None else sets) * (plan.reps if reps is None else reps)
    return total >= protocol.done_share * plan.sets * plan.reps - _NEAR


def is_overdone(evening: Evening, plan: Plan, minutes: float, protocol: Protocol) -> bool:
    """Whether walking was overdone (2.3): over 1.2 times the dose and over 2 minutes more, running counted 2.1-fold."""
    if plan.walk <= 0:
        return False
    load = minutes + LOAD_FACTORS[Activity.RUNNING] * ran(evening, protocol)
    return load > protocol.overdone_share * plan.walk + _NEAR and load > plan.walk + protocol.overdone_minutes + _NEAR


def activity_loads(evening: Evening, shown: Plan, protocol: Protocol) -> tuple[ActivityLoad, ...] | None:
    """The load of each kind of activity of the day, in the order of rule 8; None without a report.

    `shown` is the plan that "all" speaks of. Exercises of the plan are not in it.
    """
    if not evening.reported:
        return None
    minutes: dict[Activity, float] = {}
    walk_entry = _of(evening, Activity.WALKING)
    all_done = evening.plan_done is PlanDone.ALL
    if walk_entry is not None or (all_done and shown.walk > 0):
        said = None if walk_entry is None else minutes_said(walk_entry, protocol)
        if said is not None:
            minutes[Activity.WALKING] = said
        elif all_done:
            minutes[Activity.WALKING] = float(shown.walk)
        else:
            minutes[Activity.WALKING] = guessed_minutes(Activity.WALKING, protocol)
    walk_factor = LOAD_FACTORS[Activity.WALKING]
    for entry in evening.activities:
        if entry.activity is Activity.WALKING:
            continue
        said = minutes_said(entry, protocol)
        if said is None and entry.activity is Activity.HILLS and minutes.get(Activity.WALKING, 0.0) > 0:
            walk_factor = LOAD_FACTORS[Activity.HILLS]
            continue
        minutes[entry.activity] = guessed_minutes(entry.activity, protocol) if said is None else said
    return tuple(
        ActivityLoad(
            activity=activity,
            load=minutes[activity] * (walk_factor if activity is Activity.WALKING else LOAD_FACTORS[activity]),
        )
        for activity in Activity
        if activity in minutes
    )


def total_load(loads: Iterable[ActivityLoad]) -> float:
    """The day's load."""
    return sum(each.load for each in loads)


def usual_after(usual: Usual, loads: tuple[ActivityLoad, ...] | None, protocol: Protocol) -> Usual:
    """The usual load once a day is over (Williams et al. 2017 [P]): a = 2/(N+1), started with the first report.

    A day without a report is skipped, not zero; an activity counts 0 on the reported days without it.
    """
    if loads is None:
        return usual
    total = total_load(loads)
    if usual.total is None:
        return Usual(total=total, activities=loads)
    a = 2 / (protocol.usual_days + 1)
    today = {each.activity: each.load for each in loads}
    before = {each.activity: each.load for each in usual.activities}
    return Usual(
        total=a * total + (1 - a) * usual.total,
        activities=tuple(
            ActivityLoad(activity=kind, load=a * today.get(kind, 0.0) + (1 - a) * before.get(kind, 0.0))
            for kind in Activity
            if kind in today or kind in before
        ),
    )


def candidates(
    loads: tuple[ActivityLoad, ...] | None, usual: Usual, planned_walk: int, protocol: Protocol
) -> tuple[Activity, ...]:
    """Activities over their usual by at least 5 load minutes and 25 % (4.7), largest excess first.

    `usual` is that before the day of the loads. Walking is held against the higher of its usual and its plan.
    """
    if loads is None:
        return ()
    order = list(Activity)
    before = {each.activity: each.load for each in usual.activities}
    found: list[tuple[float, int, Activity]] = []
    for each in loads:
        base = before.get(each.activity, 0.0)
        if each.activity is Activity.WALKING:
            base = max(base, float(planned_walk))
        excess = each.load - base
        if excess >= protocol.candidate_minutes - _NEAR and excess >= protocol.candidate_share * base - _NEAR:
            found.append((-round(excess, 6), order.index(each.activity), each.activity))
    return tuple(activity for _, _, activity in sorted(found))


@dataclass(frozen=True, kw_only=True, slots=True)
class EveningFacts:
    """What an evening report comes to, held against the plan."""

    walked: float
    walk_done: bool
    raises_done: bool
    some_walking: bool
    some_raises: bool
    overdone: bool
    loads: tuple[ActivityLoad, ...] | None


def evening_facts(evening: Evening, plan: Plan, shown: Plan, protocol: Protocol) -> EveningFacts:
    """`plan` is the day's last plan (0 after a stop); `shown` is the one that "all" speaks of (2.4)."""
    minutes = walked(evening, shown, protocol)
    # "Some" and "all" speak for what was not named itself: "all, but no walk" is no walk (2.3).
    part = evening.plan_done in (PlanDone.SOME, PlanDone.ALL)
    entry = _of(evening, Activity.WALKING)
    some_walking = part if entry is None else minutes_said(entry, protocol) != 0
    raises = evening.raises
    some_raises = part if raises is None else raises.sets != 0 and raises.reps != 0
    return EveningFacts(
        walked=minutes,
        walk_done=walking_done(evening, plan, minutes, protocol),
        raises_done=raises_done(evening, plan, protocol),
        some_walking=some_walking or minutes > 0,
        some_raises=some_raises,
        overdone=is_overdone(evening, plan, minutes, protocol),
        loads=activity_loads(evening, shown, protocol),
    )
