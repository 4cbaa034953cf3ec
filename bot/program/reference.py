"""The reference morning pain (rules 4.1 and 4.2): what the patient's mornings are usually like."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from bot.program.protocol import Protocol
from bot.program.rounding import median_half_up
from bot.program.values import State


@dataclass(frozen=True, kw_only=True, slots=True)
class Reference:
    """The reference of a day, and whether it counts when the lowest of the last 28 days is looked for."""

    pain: int
    counts: bool


def reference_of(state: State, pain_today: int | None, protocol: Protocol) -> Reference:
    """The reference of the day that starts with `state`.

    Until there are 3 reference mornings it is the higher of the enrolment's pain and the first f answered (today's, if
    today is the first), at most 1 over the enrolment's. A slow worsening is seen and not grown used to: the
    median of the last 14 is at most 1 over the lowest reference of the 28 days before [D]. After a release (5.4) the
    mornings of the release are enough.
    """
    if len(state.reference_pains) < protocol.reference_least and state.last_release_day is None:
        enrolled = state.enrolment.first_step_pain
        first = state.first_answered_pain if state.first_answered_pain is not None else pain_today
        pain = enrolled if first is None else max(enrolled, min(first, enrolled + protocol.reference_rise))
        return Reference(pain=pain, counts=False)
    pain = median_half_up(state.reference_pains[-protocol.reference_mornings :])
    earliest = state.day - protocol.reference_lowest_days
    lowest = [day.reference for day in state.past if day.reference is not None and day.day >= earliest]
    if lowest:
        pain = min(pain, min(lowest) + protocol.reference_rise)
    return Reference(pain=pain, counts=True)


def irritable_on(day: int, flares: tuple[tuple[int, object], ...], protocol: Protocol) -> bool:
    """Whether the tissue is irritable on `day` (4.8).

    `flares` are day and cause, oldest first, those of cause other left out. Irritable: two of them at most 13 days
    apart, for 28 days after the second.
    """
    days = [each for each, _ in flares if each <= day]
    return any(
        later - earlier <= protocol.irritable_apart and day - later <= protocol.irritable_days
        for earlier, later in itertools.pairwise(days)
    )
