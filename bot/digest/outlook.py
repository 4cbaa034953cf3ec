"""What the rules will do next: the real decision of the next morning, run on supposed answers. Nothing is stored."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from bot.digest.values import History
from bot.program.decide import decide
from bot.program.terms import RestPattern
from bot.program.values import DayDecision, Morning

_WORST = 10


class Suppose(StrEnum):
    """A morning that might come."""

    CALM = "calm"
    """First steps at the reference, pain at rest not constant."""
    HIGH = "high"
    """First steps high enough for a flare (4.3), pain at rest not constant."""
    ANY = "any"
    """Either of them, where both get the same decision for the same reasons; pain at rest not constant."""
    CONSTANT = "constant"
    """First steps at the reference, pain at rest constant: said where it changes the decision."""
    SILENT = "silent"
    """No answer."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Outlook:
    """The decision that a supposed morning would get."""

    suppose: Suppose
    pain: int | None
    decision: DayDecision


def outlook(history: History) -> tuple[Outlook, ...]:
    """The next day's decision on a calm, a high and a silent morning, and on constant pain at rest.

    Empty where the next day's state is not known.
    A dose that is new on that day (clinician's order, gap) is in it; an evening report that comes later is not.
    """
    state, today = history.next_state, history.next_day
    if state is None or today is None:
        return ()
    protocol = history.protocol
    silent = decide(state, today, protocol)
    pattern = state.stated_pattern
    if pattern is RestPattern.CONSTANT:
        pattern = RestPattern.INTERMITTENT
    found: list[Outlook] = []
    high = min(_WORST, max(protocol.flare_pain, silent.reference + protocol.flare_rise))
    for suppose, pain in ((Suppose.CALM, silent.reference), (Suppose.HIGH, high)):
        morning = Morning(first_step_pain=pain, rest_pattern=pattern)
        supposed = decide(state, replace(today, morning=morning), protocol)
        found.append(Outlook(suppose=suppose, pain=pain, decision=supposed))
    first, second = (each.decision for each in found)
    if (first.decision, first.reasons, first.plan) == (second.decision, second.reasons, second.plan):
        found = [Outlook(suppose=Suppose.ANY, pain=None, decision=first)]
    constant = Morning(first_step_pain=silent.reference, rest_pattern=RestPattern.CONSTANT)
    worse = decide(state, replace(today, morning=constant), protocol)
    if worse.decision is not first.decision:
        found.append(Outlook(suppose=Suppose.CONSTANT, pain=silent.reference, decision=worse))
    found.append(Outlook(suppose=Suppose.SILENT, pain=None, decision=silent))
    return tuple(found)
