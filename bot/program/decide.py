"""Each morning's decision (rule 5): one table, read from top to bottom, first match wins."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bot.program import ladder
from bot.program.flare import FlareFound, flare_signs, found_flare, walk_at_least
from bot.program.gap import doses_after_gap
from bot.program.ladder import RaiseDose
from bot.program.phase import phase_of
from bot.program.progress import Progress, progress_of
from bot.program.protocol import Protocol
from bot.program.reasons import Notice, Reason
from bot.program.reference import irritable_on, reference_of
from bot.program.rounding import half_up, median_half_up
from bot.program.terms import Cause, Decision, Phase, RestPattern, Step, Variable
from bot.program.values import DayDecision, Doses, Morning, Plan, State, Today

_AFTER_INFLAMMATORY = ladder.first_of(Step.STANDING_BOTH)


def answered_pattern(state: State, morning: Morning, protocol: Protocol) -> RestPattern | None:
    """The rest pattern of this morning: stated, or carried over for at most 2 mornings in a row (2.2)."""
    if morning.rest_pattern is not None:
        return morning.rest_pattern
    carried = state.day - state.stated_pattern_day <= protocol.carried_mornings
    return state.stated_pattern if carried else None


def is_answered(state: State, morning: Morning, protocol: Protocol) -> bool:
    """Whether the morning is answered (2.2): f with a pattern given or carried, or constant pain stated."""
    if morning.rest_pattern is RestPattern.CONSTANT:
        return True
    return morning.first_step_pain is not None and answered_pattern(state, morning, protocol) is not None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Settled:
    settled: bool
    released: bool


def _settled(
    state: State,
    *,
    answered: bool,
    constant: bool,
    pain: int | None,
    reference: int,
    irritable: bool,
    protocol: Protocol,
) -> _Settled:
    """Whether this morning allows loading again (5.2), or is the release after a week of rest (5.4)."""
    if not answered or constant or pain is None:
        return _Settled(settled=False, released=False)
    rise = 0 if irritable else protocol.settled_rise
    settled = pain <= protocol.settled_pain or pain <= reference + rise
    if settled and state.inflammatory_since_resume:
        settled = state.answered_since_constant + 1 >= protocol.settled_mornings_after_constant and pain <= max(
            protocol.settled_after_constant, reference - 1
        )
    if settled:
        return _Settled(settled=True, released=False)
    released = (
        state.rest_run >= protocol.release_rests
        and state.rest_run_answered >= protocol.release_answers
        and pain <= max(state.rest_run_pains)
    )
    return _Settled(settled=released, released=released)


def _plan(day: int, doses: Doses, anchor: int) -> Plan:
    raises = doses.raises
    today = ladder.falls_on(raises.step, day - anchor)
    return Plan(walk=doses.walk, step=raises.step, sets=raises.sets if today else 0, reps=raises.reps if today else 0)


def _no_plan(raises: RaiseDose) -> Plan:
    return Plan(walk=0, step=raises.step, sets=0, reps=0)


def _painful(state: State, protocol: Protocol) -> bool:
    """The last 3 evenings that gave w: all since walking last changed, walking done, w over 5 (5.8)."""
    last = state.evenings[-protocol.painful_evenings :]
    return len(last) == protocol.painful_evenings and all(
        each.day >= state.walk_changed_day and each.walk_done and each.worst_pain > protocol.tolerated_pain
        for each in last
    )


def decide(state: State, today: Today, protocol: Protocol) -> DayDecision:
    """The decision of the day that starts with `state`, as far as it is known `today`.

    Called with a silent morning it gives what hold would give: what the patient is shown until the first answer
    (2.4). It is a pure function: called again with a corrected morning or an open flag it decides the day anew.
    """
    if today.day != state.day:
        raise ValueError(f"the state starts day {state.day}, not day {today.day}")
    morning = today.morning
    pattern = answered_pattern(state, morning, protocol)
    answered = is_answered(state, morning, protocol)
    pain = morning.first_step_pain if answered else None
    constant = answered and pattern is RestPattern.CONSTANT
    reference = reference_of(state, pain, protocol)
    reasons: list[Reason] = []
    notices: list[Notice] = []

    start_doses = doses = doses_after_gap(state, protocol)
    if doses != state.doses:
        reasons.append(Reason.GAP)

    walk_without_gap = max(state.walk_without_gap, doses.walk)
    flare: FlareFound | None = None
    if answered and state.any_answered and not today.open_flags and not state.resting:
        signs = flare_signs(state, pain=pain, constant=constant, reference=reference.pain, protocol=protocol)
        if signs:
            flare = found_flare(state, doses, signs, protocol)
            doses = flare.doses
            walk_without_gap = flare.walk_without_gap
            notices.extend(flare.notices)
    own_flares = tuple((day, cause) for day, cause in state.flares if cause is not Cause.OTHER)
    was_irritable = irritable_on(state.day, own_flares, protocol)
    if flare is not None and flare.flare.cause is not Cause.OTHER:
        own_flares = (*own_flares, (state.day, flare.flare.cause))
    irritable = irritable_on(state.day, own_flares, protocol)
    if irritable and not was_irritable:
        notices.append(Notice.IRRITABLE)

    walk_before_rest_of_day = doses.walk
    phase = phase_of(
        state,
        today,
        answered=answered,
        constant=constant,
        pain=pain,
        doses=start_doses,
        flare_today=flare is not None,
        protocol=protocol,
    )
    settled = _settled(
        state,
        answered=answered,
        constant=constant,
        pain=pain,
        reference=reference.pain,
        irritable=irritable,
        protocol=protocol,
    )
    order = today.dose_order
    if order is not None and order.number <= state.order_given:
        order = None
    ordered = (
        None
        if order is None
        else Doses(
            walk=doses.walk if order.walk is None else order.walk,
            raises=order.raises or doses.raises,
        )
    )
    silent_too_long = not answered and state.silent_run >= protocol.silent_holds
    off = state.off or silent_too_long

    stopped = bool(today.open_flags) or today.loading_stopped
    rest_goes_on = state.resting and not settled.settled
    table = (
        (stopped, Decision.STOP),
        (phase.phase is Phase.INFLAMMATORY, Decision.UNLOAD),
        (flare is not None or rest_goes_on, Decision.REST),
        (state.off and settled.settled, Decision.RESUME),
    )
    decision = next((row for holds, row in table if holds), Decision.HOLD)

    progressed: Variable | None = None
    if decision is Decision.RESUME and state.inflammatory_since_resume:
        held_back = ladder.lesser(doses.raises, _AFTER_INFLAMMATORY)
        if held_back != doses.raises:
            doses = replace(doses, raises=held_back)
            reasons.append(Reason.AFTER_INFLAMMATORY)
    progress: Progress | None = None
    if decision is Decision.HOLD and answered and pain is not None:
        if not off:
            progress = progress_of(
                state,
                doses,
                pain=pain,
                reference=reference.pain,
                irritable=irritable,
                paused=today.paused,
                changed_today=doses != state.doses or ordered is not None,
                protocol=protocol,
            )
        if ordered is None and _painful(state, protocol):
            wanted = min(doses.walk - protocol.painful_least, half_up(protocol.painful_share * doses.walk))
            doses = replace(doses, walk=walk_at_least(state, wanted, doses.walk))
            reasons.append(Reason.PAINFUL_DOSES)
            told = state.painful_told_day
            if told is None or state.day - told >= protocol.painful_told_days:
                notices.append(Notice.PAINFUL_DOSES)
        elif progress is not None and progress.variable is not None:
            decision, progressed, doses = Decision.PROGRESS, progress.variable, progress.doses

    gives_dose = decision in (Decision.RESUME, Decision.PROGRESS) or (decision is Decision.HOLD and not off)
    order_given: int | None = None
    if gives_dose and order is not None and ordered is not None:
        # As it stands (5.1): what a gap, a flare or a past inflammation would allow does not bend the clinician's word.
        doses = Doses(walk=doses.walk if order.walk is None else order.walk, raises=order.raises or doses.raises)
        order_given = order.number
        reasons.append(Reason.NEW_DOSE)

    walk_changed, raises_changed = doses.walk != state.doses.walk, doses.raises != state.doses.raises
    if order_given is not None and order is not None:
        walk_changed = walk_changed or order.walk is not None
        raises_changed = raises_changed or order.raises is not None
    anchor = state.day if raises_changed or decision is Decision.RESUME else state.raises_anchor
    plan = _plan(state.day, doses, anchor) if gives_dose else _no_plan(doses.raises)

    if irritable:
        reasons.append(Reason.IRRITABLE)
    reasons = [
        *_reasons(today, decision, phase.reasons, flare, settled, answered=answered, silent=silent_too_long, off=off),
        *_progress_reasons(decision, progress),
        *reasons,
    ]
    released = settled.released and decision is Decision.RESUME
    if released:
        notices.append(Notice.RELEASE)
    if answered and plan.has_dose and state.gap >= protocol.return_gap_days and not state.return_told:
        notices.append(Notice.LONG_GAP_RETURN)
    if _reference_too_high(state, pain, reference.pain, protocol):
        notices.append(Notice.HIGH_REFERENCE)
    if phase.phase is Phase.INFLAMMATORY and state.inflammatory_run == protocol.inflammatory_told_days:
        notices.append(Notice.LONG_INFLAMMATORY)
    if not answered and state.silent_run + 1 == protocol.silence_told_days:
        notices.append(Notice.SILENCE)
    last_progress = state.last_progress_day or 1
    below_target = doses.walk < protocol.walk_target
    if progressed is None and below_target and (state.day - last_progress) == protocol.no_progress_days:
        notices.append(Notice.NO_PROGRESS)
    shown = plan
    if decision is Decision.STOP and today.shown is not None:
        shown = today.shown
    reference_today = reference.pain
    if released and pain is not None:
        # 5.4: the reference starts anew from the last 3 answered mornings, today's with them.
        reference_today = median_half_up((*state.answered_pains, pain)[-protocol.release_answers :])
    return DayDecision(
        day=state.day,
        phase=phase.phase,
        decision=decision,
        reasons=tuple(dict.fromkeys(reasons)),
        notices=tuple(notices),
        plan=plan,
        shown=shown,
        doses=doses,
        walk_without_gap=walk_without_gap if doses.walk == walk_before_rest_of_day else doses.walk,
        answered=answered,
        first_step_pain=pain,
        rest_pattern=pattern if answered else None,
        stated_pattern=morning.rest_pattern,
        settled=settled.settled,
        released=released,
        reference=reference_today,
        reference_counts=reference.counts or released,
        flare=None if flare is None else flare.flare,
        irritable=irritable,
        off=not gives_dose,
        walk_changed=walk_changed,
        raises_changed=raises_changed,
        raises_anchor=anchor,
        last_up=_last_up(state, doses, progressed),
        progressed=progressed,
        order_given=order_given,
        phase_order_ended=phase.order_ended,
        only_question=silent_too_long,
    )


def _last_up(state: State, doses: Doses, progressed: Variable | None) -> Variable | None:
    """What went up last (4.4): walking again once anything has set raises back."""
    if ladder.rank(doses.raises) < ladder.rank(state.doses.raises):
        return Variable.WALKING
    if progressed is not None:
        return progressed
    if doses.walk > state.doses.walk:
        return Variable.WALKING
    if ladder.rank(doses.raises) > ladder.rank(state.doses.raises):
        return Variable.RAISES
    return state.last_up


def _reference_too_high(state: State, pain: int | None, reference: int, protocol: Protocol) -> bool:
    """Reference over 5 and no morning at 5 or below in the last 14 answered: to the clinician (6), once a week."""
    if pain is None or reference <= protocol.barred_reference:
        return False
    pains = (*state.answered_pains, pain)[-protocol.barred_mornings :]
    told = state.high_reference_told_day
    return (
        len(pains) >= protocol.barred_mornings
        and min(pains) > protocol.barred_reference
        and (told is None or state.day - told >= protocol.barred_told_days)
    )


def _reasons(
    today: Today,
    decision: Decision,
    phase_reasons: tuple[Reason, ...],
    flare: FlareFound | None,
    settled: _Settled,
    *,
    answered: bool,
    silent: bool,
    off: bool,
) -> list[Reason]:
    found: list[Reason] = []
    if decision is Decision.STOP:
        found.extend([Reason.RED_FLAG] if today.open_flags else [])
        found.extend([Reason.CLINICIAN_STOPPED] if today.loading_stopped else [])
    found.extend(phase_reasons)
    if flare is not None:
        found.extend(flare.reasons)
    if not answered:
        found.append(Reason.SILENCE if silent else Reason.NO_ANSWER)
    if decision is Decision.REST and flare is None:
        found.append(Reason.REST_GOES_ON)
    if decision is Decision.RESUME:
        found.append(Reason.RELEASED if settled.released else Reason.SETTLED)
    if decision is Decision.HOLD and answered and off:
        found.append(Reason.NOT_SETTLED)
    return found


def _progress_reasons(decision: Decision, progress: Progress | None) -> list[Reason]:
    if progress is None:
        return []
    if decision is Decision.PROGRESS:
        return [Reason.WALK_UP if progress.variable is Variable.WALKING else Reason.RAISES_UP]
    return list(progress.missing)
