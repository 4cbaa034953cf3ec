"""A long gap (rule 5.6): what is lost by weeks without a dose is not asked for again at once."""

from __future__ import annotations

from bot.program import ladder
from bot.program.flare import walk_at_least
from bot.program.protocol import Protocol
from bot.program.rounding import half_up
from bot.program.values import Doses, State


def doses_after_gap(state: State, protocol: Protocol) -> Doses:
    """The doses in force at the start of the day, at most what the gap up to yesterday allows."""
    if state.gap < protocol.gap_days:
        return state.doses
    before = state.doses_before_gap
    long = state.gap >= protocol.long_gap_days
    share = protocol.long_gap_share if long else protocol.gap_share
    walk = half_up(share * before.walk)
    raises = ladder.first_of(ladder.step_before(before.raises.step)) if long else ladder.lower(before.raises)
    if state.gap >= protocol.return_gap_days:
        walk = min(walk, state.enrolment.doses.walk)
        raises = ladder.lesser(raises, state.enrolment.doses.raises)
    return Doses(
        walk=walk_at_least(state, walk, state.doses.walk),
        raises=ladder.lesser(raises, state.doses.raises),
    )
