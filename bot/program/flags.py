"""Red flags (rule 10): how urgent each is, and when a cleared one opens again.

From published foot and ankle guidance: hot, red, swollen with fever; cannot bear weight; nerve or circulation
compromise; rapid worsening (NHS Gloucestershire, foot and ankle red flags [P]); the rest is common practice [C].
"""

from __future__ import annotations

from collections.abc import Iterable

from bot.program.protocol import Protocol
from bot.program.terms import RedFlag, Urgency

URGENCY_OF: dict[RedFlag, Urgency] = {
    RedFlag.CHEST_OR_BREATHING: Urgency.EMERGENCY,
    RedFlag.BLADDER_BOWEL_SADDLE: Urgency.EMERGENCY,
    RedFlag.SELF_HARM: Urgency.EMERGENCY,
    RedFlag.CLOT_SIGNS: Urgency.SAME_DAY,
    RedFlag.INFECTION_SIGNS: Urgency.SAME_DAY,
    RedFlag.SUDDEN_POP: Urgency.SAME_DAY,
    RedFlag.CANNOT_BEAR_WEIGHT: Urgency.SAME_DAY,
    RedFlag.NEW_INJURY: Urgency.SAME_DAY,
    RedFlag.CIRCULATION_SIGNS: Urgency.SAME_DAY,
    RedFlag.SKIN_BREAKDOWN: Urgency.SAME_DAY,
    RedFlag.NERVE_SIGNS: Urgency.SOON,
    RedFlag.NIGHT_PAIN: Urgency.SOON,
    RedFlag.SYSTEMIC_SIGNS: Urgency.SOON,
    RedFlag.JOINT_SIGNS: Urgency.SOON,
    RedFlag.SEVERE_PAIN: Urgency.SOON,
}
_ORDER = tuple(Urgency)


def most_urgent(codes: Iterable[RedFlag]) -> Urgency | None:
    """The highest urgency among the codes, or None where there are none."""
    return min((URGENCY_OF[code] for code in codes), key=_ORDER.index, default=None)


def opens(
    code: RedFlag,
    *,
    score: int | None,
    days_since_cleared: int | None,
    cleared_score: int | None,
    protocol: Protocol,
) -> bool:
    """Whether a flag that is not open now opens on this finding.

    For 14 days after clearing, `severe_pain` does not open again on a number no higher than the one cleared; words
    (`score` None) and every other code do, at once. `cleared_score`: the number last cleared, None where words opened it.
    """
    if code is not RedFlag.SEVERE_PAIN or score is None:
        return True
    if days_since_cleared is None or cleared_score is None:
        return True
    return days_since_cleared > protocol.severe_pain_quiet_days or score > cleared_score
