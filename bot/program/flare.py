"""Flares: when a morning is one (rule 4.3), what it is laid to (4.4, 4.7), and what goes back (4.4 to 4.6)."""

from __future__ import annotations

from dataclasses import dataclass

from bot.program import ladder
from bot.program.ladder import RaiseDose
from bot.program.load import candidates
from bot.program.protocol import Protocol
from bot.program.reasons import Notice, Reason
from bot.program.rounding import half_up
from bot.program.terms import Activity, Cause, RestPattern, Variable
from bot.program.values import Doses, Flare, PastDay, State


def flare_signs(
    state: State, *, pain: int | None, constant: bool, reference: int, protocol: Protocol
) -> tuple[Reason, ...]:
    """Which of the three signs of a flare an answered morning shows.

    2 points are a clinically important change (Farrar et al. 2001 [P]); pain up to 5 is allowed if it has settled by
    the next morning (pain-monitoring model: Thomeé 1997, Silbernagel et al. 2007 [P]).
    """
    signs: list[Reason] = []
    if constant and state.stated_pattern is not RestPattern.CONSTANT:
        signs.append(Reason.FLARE_CONSTANT)
    if pain is not None:
        if pain >= protocol.flare_pain and pain >= reference + protocol.flare_rise:
            signs.append(Reason.FLARE_RISE)
        yesterday = state.yesterday
        worst = None if yesterday is None else yesterday.worst_pain
        if worst is not None and worst > protocol.tolerated_pain and pain > reference:
            signs.append(Reason.FLARE_NOT_SETTLED)
    return tuple(signs)


def was_tolerated(state: State, day: PastDay, variable: Variable, protocol: Protocol) -> bool:
    """Whether a past day's walking or raises were tolerated (2.3), its next morning being before `state.day`."""
    following = next((each for each in state.past if each.day == day.day + 1), None)
    if following is None:
        return False
    return carried_through(day, variable, protocol) and following.answered and following.flare is None


def carried_through(day: PastDay, variable: Variable, protocol: Protocol) -> bool:
    """The evening's half of "tolerated": done, and a worst pain was given and at most 5."""
    done = day.walk_done if variable is Variable.WALKING else day.raises_done
    return done and day.worst_pain is not None and day.worst_pain <= protocol.tolerated_pain


def _window(state: State, protocol: Protocol) -> list[PastDay]:
    first = state.day - protocol.proven_window + 1
    return [day for day in state.past if day.day >= first]


def proven_walk(state: State, protocol: Protocol) -> int | None:
    """The highest walking dose that was tolerated, it or a higher one, on at least 4 of the last 28 days."""
    doses = sorted(
        (day.plan.walk for day in _window(state, protocol) if was_tolerated(state, day, Variable.WALKING, protocol)),
        reverse=True,
    )
    return doses[protocol.proven_days - 1] if len(doses) >= protocol.proven_days else None


def proven_raises(state: State, protocol: Protocol) -> RaiseDose | None:
    """The same for raises; for a step of every second day 2 days are enough."""
    doses = sorted(
        (day.plan.raises for day in _window(state, protocol) if was_tolerated(state, day, Variable.RAISES, protocol)),
        key=ladder.rank,
        reverse=True,
    )
    for index, dose in enumerate(doses):
        last_of_rank = index + 1 == len(doses) or ladder.rank(doses[index + 1]) != ladder.rank(dose)
        needed = protocol.proven_days if ladder.is_daily(dose.step) else protocol.proven_days_alternate
        if last_of_rank and index + 1 >= needed:
            return dose
    return None


def _nothing_done(yesterday: PastDay, variable: Variable) -> bool:
    planned = yesterday.plan.walk > 0 if variable is Variable.WALKING else yesterday.plan.has_raises
    if not planned:
        return True
    done = yesterday.some_walking if variable is Variable.WALKING else yesterday.some_raises
    return yesterday.reported and not done


def _is_proven(state: State, doses: Doses, yesterday: PastDay, variable: Variable, protocol: Protocol) -> bool:
    if variable is Variable.RAISES:
        proven = proven_raises(state, protocol)
        return proven is not None and ladder.rank(doses.raises) <= ladder.rank(proven)
    proven_minutes = proven_walk(state, protocol)
    if proven_minutes is None:
        return False
    return doses.walk <= proven_minutes or 0 < yesterday.walked <= proven_minutes


def _went_up_last(state: State, doses: Doses) -> Variable:
    """u of rule 4.4: walking if nothing has gone up, and again once anything has set raises back, a gap today too."""
    set_back_today = ladder.rank(doses.raises) < ladder.rank(state.doses.raises)
    return Variable.WALKING if set_back_today else state.last_up or Variable.WALKING


def likely_cause(state: State, doses: Doses, found: tuple[Activity, ...], protocol: Protocol) -> Cause:
    """What a flare is laid to (4.4), from the day before: the first row that holds.

    Four tolerated days and then a flare is laid to something else [C].
    """
    yesterday = state.yesterday
    variable = _went_up_last(state, doses)
    other_or_unknown = Cause.OTHER if found else Cause.UNKNOWN
    if yesterday is None:
        return other_or_unknown
    rows = (
        (yesterday.overdone, Cause.OVERDONE),
        (_nothing_done(yesterday, variable), other_or_unknown),
        (_is_proven(state, doses, yesterday, variable, protocol), Cause.OTHER),
    )
    return next((cause for holds, cause in rows if holds), Cause.INCREASE)


@dataclass(frozen=True, kw_only=True, slots=True)
class FlareFound:
    """A flare with the doses it leaves."""

    flare: Flare
    doses: Doses
    walk_without_gap: int
    reasons: tuple[Reason, ...]
    notices: tuple[Notice, ...]


def _reduced_walk(state: State, doses: Doses, protocol: Protocol) -> float:
    """0.6 of the dose, or of what was walked if that was less and not nothing (5 minutes not tolerated: next 3 [C]).

    In a gap (5.6) the dose is that without the gap's limits: the two reductions are never multiplied.
    """
    dose = max(state.walk_without_gap, doses.walk)
    walked_yesterday = state.yesterday.walked if state.yesterday is not None else 0.0
    base = walked_yesterday if 0 < walked_yesterday < dose else dose
    return protocol.back_share * base


def walk_at_least(state: State, wanted: int, dose: int) -> int:
    """A lowered walking dose: never below the floor (4.6), never above the dose in force."""
    return min(dose, max(state.walk_floor, wanted))


def found_flare(state: State, doses: Doses, signs: tuple[Reason, ...], protocol: Protocol) -> FlareFound:
    """The flare of a morning that shows `signs`, and the doses after it."""
    yesterday = state.yesterday
    planned_walk = 0 if yesterday is None else yesterday.plan.walk
    others = candidates(state.loads_yesterday, state.usual_before_yesterday, planned_walk, protocol)
    cause = likely_cause(state, doses, others, protocol)
    reasons: list[Reason] = [Reason.FLARE, *signs, Reason(f"cause_{cause}")]
    earliest = state.day - protocol.third_flare_days + 1
    lately = sum(1 for day, was in state.flares if day >= earliest and was is not Cause.OTHER)
    third = cause is not Cause.OTHER and lately + 1 >= protocol.third_flare
    walk, raises = doses.walk, doses.raises
    free_walk = max(state.walk_without_gap, walk)
    at_floor = False
    if third:
        reasons.append(Reason.THIRD_FLARE)
    walking_rose = cause is Cause.INCREASE and _went_up_last(state, doses) is Variable.WALKING
    if third or cause is Cause.OVERDONE or walking_rose:
        proven = None if third else proven_walk(state, protocol)
        wanted = proven if proven is not None else half_up(_reduced_walk(state, doses, protocol))
        walk = walk_at_least(state, wanted, doses.walk)
        free_walk = walk_at_least(state, wanted, free_walk)
        at_floor = proven is None and doses.walk <= state.walk_floor
    elif cause is Cause.INCREASE:
        raises = ladder.lower(doses.raises)
        at_floor = raises == doses.raises
    return FlareFound(
        flare=Flare(cause=cause, candidates=others),
        doses=Doses(walk=walk, raises=raises),
        walk_without_gap=free_walk,
        reasons=tuple(reasons),
        notices=(Notice.NOTHING_TO_LOWER,) if at_floor else (),
    )
