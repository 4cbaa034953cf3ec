"""A number that can be a pain score."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Score:
    """A number that can be a pain score, with what it was taken for."""

    value: int
    role: str
    """first, worst, rest, eased, past, other or plain."""
    strength: int
    """How plainly it is a score: 3 said to be one, 2 beside a word of pain, 1 by itself, 0 otherwise."""
    at: int
    last: int
    tagged: bool
