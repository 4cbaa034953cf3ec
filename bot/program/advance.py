"""From one day to the next: the state that the rules carry, once a day's decision and its evening are known."""

from __future__ import annotations

from dataclasses import replace

from bot.program.load import evening_facts, usual_after
from bot.program.protocol import Protocol
from bot.program.reasons import Notice
from bot.program.terms import Cause, Decision, Phase, RestPattern
from bot.program.values import DayDecision, DoseOrder, Evening, PainfulEvening, PastDay, State

_REFERENCE_DECISIONS = frozenset({Decision.RESUME, Decision.HOLD, Decision.PROGRESS})


def _kept_days(protocol: Protocol) -> int:
    """Past days that some rule still looks at, by this patient's own thresholds: 29 by the defaults."""
    return 1 + max(protocol.proven_window, protocol.reference_lowest_days, protocol.long_interval)


def _kept_flare_days(protocol: Protocol) -> int:
    """Days for which a flare is remembered: as the first of two (4.8), or as the last one (3, 4.5, 6)."""
    return 2 + max(
        protocol.irritable_apart + protocol.irritable_days,
        protocol.remodelling_calm_days,
        protocol.third_flare_days,
        protocol.long_interval_flare_days,
    )


def _is_reference_morning(decision: DayDecision) -> bool:
    """Rule 4.1: answered, with f, decision resume, hold or progress, or a flare whose cause is other or unknown."""
    if not decision.answered or decision.first_step_pain is None:
        return False
    if decision.decision in _REFERENCE_DECISIONS:
        return True
    return decision.flare is not None and decision.flare.cause in (Cause.OTHER, Cause.UNKNOWN)


def advance(
    state: State,
    decision: DayDecision,
    evening: Evening,
    protocol: Protocol,
    *,
    order_placed: DoseOrder | None = None,
) -> State:
    """The state at the start of the next day.

    `state` is the one the day started with, `decision` its last decision, `evening` all that is known of it by now (a
    late report is taken in by advancing again). `order_placed`: a clinician's new dose of that day, which ends a gap.
    """
    day = state.day
    facts = evening_facts(evening, decision.plan, decision.shown, protocol)
    constant = decision.answered and decision.rest_pattern is RestPattern.CONSTANT
    inflammatory = decision.phase is Phase.INFLAMMATORY
    resumed = decision.decision is Decision.RESUME
    pain = decision.first_step_pain
    past_day = PastDay(
        day=day,
        decision=decision.decision,
        answered=decision.answered,
        flare=None if decision.flare is None else decision.flare.cause,
        first_step_pain=pain,
        worst_pain=evening.worst_pain,
        reported=evening.reported,
        plan=decision.plan,
        walked=facts.walked,
        walk_done=facts.walk_done,
        raises_done=facts.raises_done,
        some_walking=facts.some_walking,
        some_raises=facts.some_raises,
        overdone=facts.overdone,
        reference=decision.reference if decision.reference_counts else None,
    )
    earlier = state.past
    if decision.released:
        earlier = tuple(replace(each, reference=None) for each in earlier)

    answered_pains = state.answered_pains
    if pain is not None:
        kept = max(2 * protocol.week_mornings, protocol.barred_mornings, protocol.remodelling_mornings)
        answered_pains = (*answered_pains, pain)[-kept:]
    reference_pains = state.reference_pains
    if decision.released:
        reference_pains = answered_pains[-protocol.release_answers :]
    elif _is_reference_morning(decision) and pain is not None:
        reference_pains = (*reference_pains, pain)[-protocol.reference_mornings :]

    flares = tuple(each for each in state.flares if day - each[0] < _kept_flare_days(protocol))
    if decision.flare is not None:
        flares = (*flares, (day, decision.flare.cause))

    resting = (state.resting or decision.flare is not None or inflammatory) and not resumed
    since_constant = state.answered_since_constant
    if constant:
        since_constant = 0
    elif decision.answered:
        since_constant += 1

    rest_run, rest_answered = 0, 0
    rest_pains: tuple[int, ...] = ()
    if decision.decision is Decision.REST:
        rest_run = state.rest_run + 1
        rest_answered, rest_pains = state.rest_run_answered, state.rest_run_pains
        if state.rest_run > 0 and pain is not None:
            rest_answered += 1
            rest_pains = (*rest_pains, pain)[-protocol.release_answers :]

    dosed = decision.plan.has_dose and (facts.some_walking or facts.some_raises)
    gap = 0 if dosed else state.gap + 1
    before_gap = decision.doses if dosed else state.doses_before_gap
    if decision.order_given is not None and not dosed:
        # A clinician's dose ends a gap (5.1): it stands, and this day is the first of a new gap.
        gap, before_gap = 1, decision.doses
    if order_placed is not None:
        gap = 0
        base = decision.doses
        before_gap = replace(
            base,
            walk=base.walk if order_placed.walk is None else order_placed.walk,
            raises=order_placed.raises or base.raises,
        )
    floor = state.walk_floor
    if order_placed is not None and order_placed.walk is not None:
        floor = min(protocol.walk_floor, order_placed.walk)

    evenings = state.evenings
    if evening.worst_pain is not None:
        painful = PainfulEvening(day=day, worst_pain=evening.worst_pain, walk_done=facts.walk_done)
        evenings = (*evenings, painful)[-protocol.painful_evenings :]

    notices = decision.notices
    return State(
        day=day + 1,
        enrolment=state.enrolment,
        doses=decision.doses,
        off=decision.off,
        resting=resting,
        phase=decision.phase,
        past=(*earlier, past_day)[-_kept_days(protocol) :],
        first_answered_pain=state.first_answered_pain if state.first_answered_pain is not None else pain,
        any_answered=state.any_answered or decision.answered,
        answered_pains=answered_pains,
        reference_pains=reference_pains,
        stated_pattern=decision.stated_pattern or state.stated_pattern,
        stated_pattern_day=day if decision.stated_pattern is not None else state.stated_pattern_day,
        walk_changed_day=day if decision.walk_changed else state.walk_changed_day,
        raises_changed_day=day if decision.raises_changed else state.raises_changed_day,
        raises_anchor=decision.raises_anchor,
        walk_floor=floor,
        last_up=decision.last_up,
        last_progressed=decision.progressed or state.last_progressed,
        last_progress_day=day if decision.progressed is not None else state.last_progress_day,
        last_resume_day=day if resumed else state.last_resume_day,
        last_release_day=day if decision.released else state.last_release_day,
        last_inflammatory_day=day if inflammatory else state.last_inflammatory_day,
        inflammatory_since_resume=inflammatory or (state.inflammatory_since_resume and not resumed),
        answered_since_constant=since_constant,
        inflammatory_run=state.inflammatory_run + 1 if inflammatory else 0,
        flares=flares,
        rest_run=rest_run,
        rest_run_answered=rest_answered,
        rest_run_pains=rest_pains,
        silent_run=0 if decision.answered else state.silent_run + 1,
        gap=gap,
        doses_before_gap=before_gap,
        walk_without_gap=decision.walk_without_gap if gap else decision.doses.walk,
        return_told=_told(decision, state, gap),
        order_given=state.order_given if decision.order_given is None else decision.order_given,
        phase_order_ended=state.phase_order_ended if decision.phase_order_ended is None else decision.phase_order_ended,
        usual=usual_after(state.usual, facts.loads, protocol),
        usual_before_yesterday=state.usual,
        loads_yesterday=facts.loads,
        evenings=evenings,
        painful_told_day=day if Notice.PAINFUL_DOSES in notices else state.painful_told_day,
        high_reference_told_day=day if Notice.HIGH_REFERENCE in notices else state.high_reference_told_day,
    )


def _told(decision: DayDecision, state: State, gap: int) -> bool:
    return gap > 0 and (state.return_told or Notice.LONG_GAP_RETURN in decision.notices)
