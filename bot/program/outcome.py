"""Outcome figures (rule 9): week, change, trend, adherence, and who is not answering to treatment."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist, median

from bot.program.protocol import Protocol
from bot.program.rounding import median_half_up


def week_of(number: int) -> int:
    """The week, from 1, of a day's number, from 1 (rule 2.1)."""
    return (number - 1) // 7 + 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """Median first-step pain of two weeks, 0-10. Negative `points`: better."""

    first: int
    now: int
    important: bool

    @property
    def points(self) -> int:
        """Now less first."""
        return self.now - self.first


def change(first_week: Sequence[int], this_week: Sequence[int], protocol: Protocol) -> Change | None:
    """The change in first-step pain; important at 2 points or 30 % (Farrar et al. 2001, Pain 94:149-158 [P]).

    None where either week has no score.
    """
    if not first_week or not this_week:
        return None
    first, now = median_half_up(first_week), median_half_up(this_week)
    points = abs(now - first)
    share = points / first if first else math.inf
    important = points > 0 and (points >= protocol.important_points or share >= protocol.important_share - 1e-9)
    return Change(first=first, now=now, important=important)


@dataclass(frozen=True, kw_only=True, slots=True)
class Trend:
    """Theil-Sen slope in points a week, with its 95 % interval."""

    slope: float
    low: float
    high: float
    mornings: int


def trend(days: Sequence[int], pains: Sequence[int]) -> Trend | None:
    """The Theil-Sen slope of first-step pain over days, in points a week; None below two different days.

    The interval is Sen's (1968), by the normal approximation with ties, as in scipy's `theilslopes`.
    """
    if len(days) != len(pains):
        raise ValueError(f"{len(days)} days but {len(pains)} scores")
    slopes = sorted(
        (pains[j] - pains[i]) / (days[j] - days[i])
        for i in range(len(days))
        for j in range(len(days))
        if days[j] > days[i]
    )
    if not slopes:
        return None

    def ties(values: Sequence[int]) -> int:
        return sum(k * (k - 1) * (2 * k + 5) for k in Counter(values).values())

    n = len(days)
    variance = (n * (n - 1) * (2 * n + 5) - ties(days) - ties(pains)) / 18
    z = NormalDist().inv_cdf(0.025)
    spread = z * math.sqrt(max(0.0, variance))
    count = len(slopes)
    upper = min(round((count - spread) / 2), count - 1)
    lower = max(round((count + spread) / 2) - 1, 0)
    return Trend(slope=median(slopes) * 7, low=slopes[lower] * 7, high=slopes[upper] * 7, mornings=n)


class Standing(StrEnum):
    """Where treatment stands after some weeks."""

    REVIEW = "review"
    RE_EVALUATE = "re-evaluate"


def standing(week: int, change_so_far: Change | None, protocol: Protocol) -> Standing | None:
    """Not answering to treatment: "review" from week 8 on without an important improvement [D]; "re-evaluate" from week 12
    on, still symptomatic (referral after 12 weeks of self-management is common NHS guidance [P])."""
    if change_so_far is None or week <= protocol.review_week:
        return None
    improved = change_so_far.important and change_so_far.points < 0
    if improved or change_so_far.now == 0:
        return None
    return Standing.RE_EVALUATE if week > protocol.re_evaluate_week else Standing.REVIEW


def is_worsening(weekly_medians: Sequence[int | None], protocol: Protocol) -> bool:
    """Whether the last week's median is 2 or more over the best week so far."""
    known = [each for each in weekly_medians if each is not None]
    if not known or weekly_medians[-1] is None:
        return False
    return weekly_medians[-1] >= min(known) + protocol.worsening_points


def share(part: int, whole: int) -> float | None:
    """Part of whole, 0-1; None of nothing."""
    return part / whole if whole else None
