"""Progress (rule 6): one variable up, one step, and only after calm days that were answered."""

from __future__ import annotations

from dataclasses import dataclass

from bot.program import ladder
from bot.program.flare import carried_through
from bot.program.ladder import RaiseDose
from bot.program.protocol import Protocol
from bot.program.reasons import Reason
from bot.program.rounding import half_up, median_half_up
from bot.program.terms import PriorActivity, Step, Variable
from bot.program.values import Doses, PastDay, State


@dataclass(frozen=True, kw_only=True, slots=True)
class Progress:
    """What goes up and to which doses; or, with `variable` None, all that was missing."""

    variable: Variable | None
    doses: Doses
    missing: tuple[Reason, ...] = ()


def interval_days(state: State, *, reference: int, irritable: bool, protocol: Protocol) -> int:
    """Days between two increases: 4, bounds 4-7 [C]; 7 if irritable, after a flare, if very active before, or in much pain."""
    last_flare = state.flares[-1][0] if state.flares else None
    careful = (
        irritable
        or (last_flare is not None and state.day - last_flare < protocol.long_interval_flare_days)
        or state.enrolment.prior_activity is PriorActivity.VERY
        or reference >= protocol.long_interval_reference
    )
    return max(protocol.interval, protocol.long_interval) if careful else protocol.interval


def next_walk(walk: int, protocol: Protocol) -> int:
    """The next walking dose, in minutes: + 20 %, at least 1 and at most 5 minutes, up to the target [D]."""
    step = min(protocol.walk_step_most, max(protocol.walk_step_least, half_up(protocol.walk_step_share * walk)))
    return min(protocol.walk_target, walk + step)


def _raises_barred(state: State, dose: RaiseDose, reference: int, protocol: Protocol) -> bool:
    if reference > protocol.barred_reference and ladder.reaches(dose, Step.STANDING_BOTH):
        return True
    if ladder.reaches(dose, Step.STANDING_ONE):
        last = state.last_inflammatory_day
        if state.day - 1 < protocol.late_step_days or (last is not None and state.day - last < protocol.late_step_days):
            return True
    on_towel = state.doses.raises.step is Step.ONE_ON_TOWEL
    return on_towel and state.day - state.raises_changed_day < protocol.towel_days


def _tolerated_enough(
    state: State, window: list[PastDay], variable: Variable, doses: Doses, protocol: Protocol
) -> bool:
    answered_mornings = {day.day: day.answered and day.flare is None for day in state.past}
    answered_mornings[state.day] = True  # an increase is looked for on an answered morning without a flare only
    days = sum(
        1 for day in window if carried_through(day, variable, protocol) and answered_mornings.get(day.day + 1, False)
    )
    alternate = variable is Variable.RAISES and not ladder.is_daily(doses.raises.step)
    return days >= (protocol.progress_tolerated_alternate if alternate else protocol.progress_tolerated)


def progress_of(
    state: State,
    doses: Doses,
    *,
    pain: int,
    reference: int,
    irritable: bool,
    paused: bool,
    changed_today: bool,
    protocol: Protocol,
) -> Progress:
    """Whether anything goes up today, an answered morning without a flare, a rest or an open flag."""
    day = state.day
    interval = interval_days(state, reference=reference, irritable=irritable, protocol=protocol)
    window = [each for each in state.past if each.day >= day - interval]
    answered = sum(1 for each in state.past if each.day > day - interval and each.answered) + 1
    pains = (*state.answered_pains, pain)
    last_flare = state.flares[-1][0] if state.flares else None
    changed = max(state.walk_changed_day, state.raises_changed_day)
    recent = pains[-protocol.progress_mornings :]
    week = protocol.week_mornings

    def lately(last: int | None, days: int) -> bool:
        return last is not None and day - last < days

    conditions = (
        (paused, Reason.PAUSED),
        (changed_today or lately(changed, interval), Reason.CHANGED_LATELY),
        (lately(state.last_resume_day, interval), Reason.RESUMED_LATELY),
        (lately(last_flare, interval), Reason.FLARE_LATELY),
        (lately(state.last_release_day, protocol.release_quiet_days), Reason.RELEASED_LATELY),
        (answered < protocol.answered_share * interval - 1e-9, Reason.FEW_ANSWERS),
        (
            any(each.worst_pain is not None and each.worst_pain > protocol.tolerated_pain for each in window),
            Reason.PAINFUL_EVENING,
        ),
        (pain > reference + protocol.progress_rise, Reason.MORNING_HIGH),
        (median_half_up(recent) > reference, Reason.MORNINGS_HIGH),
        (
            len(pains) >= 2 * week
            and median_half_up(pains[-week:]) > median_half_up(pains[-2 * week : -week]) + protocol.week_rise,
            Reason.WEEK_RISING,
        ),
    )
    missing = [reason for holds, reason in conditions if holds]

    up = ladder.higher(doses.raises)
    walk_at_end, raises_at_end = doses.walk >= protocol.walk_target, up is None
    if walk_at_end and raises_at_end:
        return Progress(variable=None, doses=doses, missing=(*missing, Reason.AT_TARGET))
    first = Variable.RAISES if state.last_progressed is Variable.WALKING else Variable.WALKING
    second = Variable.WALKING if first is Variable.RAISES else Variable.RAISES
    barred_for: list[Reason] = []
    for variable in (first, second):
        if variable is Variable.WALKING:
            if walk_at_end:
                continue
            if reference > protocol.barred_reference:
                barred_for.append(Reason.WALKING_BARRED)
                continue
            raised = Doses(walk=next_walk(doses.walk, protocol), raises=doses.raises)
        else:
            if up is None:
                continue
            if _raises_barred(state, up, reference, protocol):
                barred_for.append(Reason.RAISES_BARRED)
                continue
            raised = Doses(walk=doses.walk, raises=up)
        if not _tolerated_enough(state, window, variable, doses, protocol):
            barred_for.append(Reason.NOT_TOLERATED)
            continue
        if missing:
            return Progress(variable=None, doses=doses, missing=tuple(missing))
        return Progress(variable=variable, doses=raised)
    return Progress(variable=None, doses=doses, missing=tuple(dict.fromkeys((*missing, *barred_for))))
