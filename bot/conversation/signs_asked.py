"""Possible warning signs whose yes-or-no question is open, as they are kept in a dialogue between two messages."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bot.program.terms import RedFlag
from bot.reader.reading import FlagFinding

KEPT_UNDER = "flag_question"
"""Where they stand in the dialogue; the first of them is the one that was asked about."""


def keep(memory: dict[str, Any], findings: Iterable[FlagFinding]) -> tuple[FlagFinding, ...]:
    """Keep them, each sign once. Returns those that are kept."""
    kept = tuple({each.code: each for each in findings}.values())
    memory[KEPT_UNDER] = [{"code": str(each.code), "words": each.words, "score": each.score} for each in kept]
    return kept


def kept_in(memory: dict[str, Any]) -> list[FlagFinding]:
    """The signs that are asked about, the open question's first."""
    return [
        FlagFinding(code=RedFlag(each["code"]), words=each["words"], score=each["score"])
        for each in memory.get(KEPT_UNDER) or []
    ]
