"""Rounding and medians as rule 2.1 has them: to the nearest whole number, halves up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

_TINY = 1e-9
"""So that 0.6 x 7.5, which binary floating point puts a hair under 4.5, rounds up as the rule says."""


def half_up(value: float) -> int:
    """The nearest whole number, halves up."""
    return math.floor(value + 0.5 + _TINY)


def median_half_up(values: Sequence[float]) -> int:
    """The median as a whole number, halves up. Raises `statistics.StatisticsError` on no values."""
    return half_up(median(values))


def one_decimal(value: float) -> float:
    """A load as it is given: one decimal, halves up."""
    return math.floor(value * 10 + 0.5 + _TINY) / 10
