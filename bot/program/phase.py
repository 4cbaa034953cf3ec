"""The phase of a day (rule 3)."""

from __future__ import annotations

from dataclasses import dataclass

from bot.program.ladder import reaches
from bot.program.protocol import Protocol
from bot.program.reasons import Reason
from bot.program.rounding import median_half_up
from bot.program.terms import Phase, Step
from bot.program.values import Doses, State, Today


@dataclass(frozen=True, kw_only=True, slots=True)
class PhaseFound:
    """The phase, why, and the number of the clinician's order that constant pain ended, if it did."""

    phase: Phase
    reasons: tuple[Reason, ...] = ()
    order_ended: int | None = None


def phase_of(
    state: State,
    today: Today,
    *,
    answered: bool,
    constant: bool,
    pain: int | None,
    doses: Doses,
    flare_today: bool,
    protocol: Protocol,
) -> PhaseFound:
    """The day's phase. One position free of pain rules out the inflammatory phase [C]."""
    order = today.phase_order
    if order is not None and order.number <= state.phase_order_ended:
        order = None
    if answered and constant:
        ended = None if order is None else order.number
        return PhaseFound(phase=Phase.INFLAMMATORY, reasons=(Reason.CONSTANT_PAIN,), order_ended=ended)
    if order is not None:
        return PhaseFound(phase=order.phase, reasons=(Reason.PHASE_BY_HAND,))
    if not answered:
        return PhaseFound(phase=state.phase, reasons=(Reason.PHASE_KEPT,))
    pains = (*state.answered_pains, *(() if pain is None else (pain,)))
    recent = pains[-protocol.remodelling_mornings :]
    last_inflammatory = state.last_inflammatory_day
    last_flare = state.flares[-1][0] if state.flares else None
    remodelling = (
        state.day - 1 >= protocol.remodelling_days
        and (last_inflammatory is None or state.day - last_inflammatory >= protocol.remodelling_days)
        and not flare_today
        and (last_flare is None or state.day - last_flare >= protocol.remodelling_calm_days)
        and len(recent) >= protocol.remodelling_mornings
        and median_half_up(recent) <= protocol.remodelling_pain
        and reaches(doses.raises, Step.STANDING_BOTH)
    )
    return PhaseFound(phase=Phase.REMODELLING if remodelling else Phase.REPARATIVE)
