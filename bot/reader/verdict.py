"""Whether a sign counts, is asked back, or is not named: what the lists, the weight of the words and the net of sentences say, put together.

Once more a logistic regression, over a handful of facts about one sign in one reply. Its weights and the limits stand in
`vocabulary/verdict.toml`. Beside the sum stands this: a sign that the lists are unsure of is asked back at least; so is one that they
are sure of, until everything else speaks against it clearly, and an emergency even then; one that is denied, somebody else's, long over or
only asked about, so that none of its words stands, must be spoken for far more clearly. Where lists and words agree, nothing is open and the third
voice is not asked.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Container, Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

from bot.program.flags import URGENCY_OF
from bot.program.terms import RedFlag


class Verdict(IntEnum):
    """What is done about a sign."""

    NOT_NAMED = 0
    ASKED_BACK = 1
    COUNTS = 2


class Facts(NamedTuple):
    """What is known of one sign in one reply."""

    log_odds: float
    """By the weight of the words (`second_net.log_odds`)."""
    sentence_odds: float
    """By the net of sentences (`sentence_net.sentence_odds`)."""
    listed: bool
    """The lists are sure of it."""
    unsure: bool
    """The lists found it and are unsure."""
    set_aside: bool
    """The lists found it, and it is denied, somebody else's, long over or only asked about."""
    stands: bool
    """The words that speak most for it are not."""
    excused: bool
    """It was found beside an everyday reason for it."""
    beside: bool
    """The lists are sure of another sign."""
    any_set_aside: bool
    """Some sign was set aside."""
    asks: bool
    """The reply has a question mark."""
    tokens: int
    """Words and marks of the reply."""

    def row(self) -> tuple[float, ...]:
        """The facts as numbers, in the order of the file's weights."""
        odds = max(-_FURTHEST, min(_FURTHEST, self.log_odds))
        sentence = self.sentence_odds
        return (
            odds,
            sentence,
            self.listed,
            self.unsure,
            self.set_aside and not self.listed,
            not self.stands,
            self.excused,
            self.beside,
            self.any_set_aside,
            self.asks,
            min(_LONGEST, self.tokens) / _LONGEST,
            odds if self.listed else 0.0,
            sentence if self.listed else 0.0,
            0.0 if self.stands else sentence,
            1.0,
        )


_FURTHEST = 8.0
"""Odds further from even say no more."""
_LONGEST = 40
"""Tokens of a reply that is as long as any."""
_BY_ODDS = 2
"""The first weights are of odds; those of the other facts follow, the base last."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rule:
    weights: tuple[float, ...]
    counts: dict[RedFlag, float]
    """The log odds from which on each sign counts that the lists are sure of."""
    counts_alone: dict[RedFlag, float]
    asked_back: dict[RedFlag, float]
    asked_back_if_listed: dict[RedFlag, float]
    unsure_counts: float
    in_scope_counts: float
    in_scope_asked_back: dict[RedFlag, float]
    open_from: float
    settled_from: float
    most_by_other_facts: float
    """The most that all facts but the odds add, the base among them, where the lists found nothing."""
    least_asked_back: float


@cache
def _rule() -> _Rule:
    text = files("bot.reader").joinpath("vocabulary", "verdict.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    weights: dict[str, float] = data["weights"]
    of_found = {"listed", "unsure", "log_odds_if_listed", "sentence_odds_if_listed", "sentence_odds_if_not_standing"}
    others = [value for name, value in [*weights.items()][_BY_ODDS:-1] if name not in of_found]

    def limits(name: str) -> dict[RedFlag, float]:
        return {code: data[name][URGENCY_OF[code]] for code in RedFlag}

    return _Rule(
        weights=tuple(weights.values()),
        counts=limits("counts"),
        counts_alone=limits("counts_alone"),
        asked_back=limits("asked_back"),
        asked_back_if_listed=limits("asked_back_if_listed"),
        in_scope_asked_back=limits("in_scope_asked_back"),
        most_by_other_facts=weights["base"] + sum(each for each in others if each > 0),
        least_asked_back=min(limits("asked_back").values()),
        **data["words"],
    )


def open_from() -> float:
    """The log odds by the weight of the words above which a sign is open that the lists did not find."""
    return _rule().open_from


def anything_open(odds: Mapping[RedFlag, float], sure: Container[RedFlag], touched: Collection[RedFlag]) -> bool:
    """Whether lists and words leave anything open: a sign found that the words do not clearly speak for, or none found that they do.

    `sure`: the signs that the lists are sure of; `touched`: all that they found, set aside, or found an everyday reason for.
    """
    rule = _rule()
    return any(
        each <= rule.settled_from if code in sure else each > rule.open_from or code in touched
        for code, each in odds.items()
    )


def could_be_named(log_odds: float, sentence_odds: float) -> bool:
    """Whether a sign that the lists did not find can be named at all, whatever else is known."""
    rule = _rule()
    return (
        rule.weights[0] * log_odds + rule.weights[1] * sentence_odds + rule.most_by_other_facts >= rule.least_asked_back
    )


def score(facts: Facts) -> float:
    """The log odds of the sign by all facts."""
    return sum(weight * value for weight, value in zip(_rule().weights, facts.row(), strict=True))


def verdict(code: RedFlag, facts: Facts) -> Verdict:
    """What is done about the sign."""
    rule = _rule()
    total = score(facts)
    if facts.set_aside and not facts.listed and not facts.stands:
        if total >= rule.in_scope_counts:
            return Verdict.COUNTS
        return Verdict.ASKED_BACK if total >= rule.in_scope_asked_back[code] else Verdict.NOT_NAMED
    counts = rule.counts[code] if facts.listed else rule.unsure_counts if facts.unsure else rule.counts_alone[code]
    if total >= counts:
        return Verdict.COUNTS
    asked_back = (rule.asked_back_if_listed if facts.listed else rule.asked_back)[code]
    return Verdict.ASKED_BACK if facts.unsure or total >= asked_back else Verdict.NOT_NAMED
