"""Whether a sign counts, is asked back, or is not named: what the lists found and the weight of the words, put together.

Once more a logistic regression, over a handful of facts about one sign in one reply. Its weights and the limits stand in
`vocabulary/verdict.toml`. Three things stand above the sum: a sign that the lists are sure of is never dropped (in words that otherwise
speak against it, it is asked back); one that they are unsure of is asked back unless
all words speak for it clearly; one that they found and that is denied, somebody else's, long over or
only asked about is named only where other words, that are not, speak for it clearly. Where only the weight of the words speaks for a sign, and these stand in such a scope or beside an everyday
reason, they must speak for it far more clearly.
"""

from __future__ import annotations

import tomllib
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
        return (
            odds,
            self.listed,
            self.set_aside or not self.stands,
            self.beside,
            self.any_set_aside,
            self.asks,
            min(_LONGEST, self.tokens) / _LONGEST,
            odds if self.listed else 0.0,
            1.0,
        )


_FURTHEST = 8.0
"""Odds further from even say no more."""
_LONGEST = 40
"""Tokens of a reply that is as long as any."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rule:
    weights: tuple[float, ...]
    counts: dict[RedFlag, float]
    """The log odds from which on each sign counts."""
    asked_back: dict[RedFlag, float]
    aside_counts: float
    aside_asked_back: float
    aside_in_scope_asked_back: float
    in_scope_counts: float
    in_scope_asked_back: float
    excused_counts: float
    unsure_counts: float
    alone_counts: float
    alone_asked_back: float


@cache
def _rule() -> _Rule:
    text = files("bot.reader").joinpath("vocabulary", "verdict.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    return _Rule(
        weights=tuple(data["weights"].values()),
        counts={code: data["counts"][URGENCY_OF[code]] for code in RedFlag},
        asked_back={code: data["asked_back"][URGENCY_OF[code]] for code in RedFlag},
        **data["words"],
    )


@cache
def least_odds() -> tuple[float, float]:
    """The log odds by the words alone below which a sign that the lists did not find cannot be named, whatever else is known.

    First where it stands beside no everyday reason for it, then where it does.
    """
    rule = _rule()
    # The weights of the odds, of the lists, which found nothing, and of the base stand apart; the other facts are 0 to 1.
    by_odds, _, *others, _, base = rule.weights
    most = base + sum(each for each in others if each > 0)
    return (
        min(
            rule.alone_counts,
            rule.alone_asked_back,
            rule.aside_counts,
            rule.aside_asked_back,
            rule.aside_in_scope_asked_back,
            rule.in_scope_counts,
            rule.in_scope_asked_back,
        ),
        (min(*rule.asked_back.values(), *rule.counts.values()) - most) / by_odds,
    )


def score(facts: Facts) -> float:
    """The log odds of the sign by all facts."""
    return sum(weight * value for weight, value in zip(_rule().weights, facts.row(), strict=True))


def verdict(code: RedFlag, facts: Facts) -> Verdict:
    """What is done about the sign."""
    rule = _rule()
    if facts.unsure:
        return Verdict.COUNTS if facts.log_odds >= rule.unsure_counts else Verdict.ASKED_BACK
    if facts.set_aside and not facts.listed:
        if facts.stands and facts.log_odds >= rule.aside_counts:
            return Verdict.COUNTS
        least = rule.aside_asked_back if facts.stands else rule.aside_in_scope_asked_back
        return Verdict.ASKED_BACK if facts.log_odds >= least else Verdict.NOT_NAMED
    if not facts.stands:
        if facts.log_odds >= rule.in_scope_counts:
            return Verdict.COUNTS
        return Verdict.ASKED_BACK if facts.log_odds >= rule.in_scope_asked_back else Verdict.NOT_NAMED
    total = score(facts)
    if facts.listed:
        return Verdict.COUNTS if total >= rule.counts[code] else Verdict.ASKED_BACK
    needed = rule.excused_counts if facts.excused else rule.alone_counts
    if total >= rule.counts[code] and facts.log_odds >= needed:
        return Verdict.COUNTS
    if total >= rule.asked_back[code] and (facts.excused or facts.log_odds >= rule.alone_asked_back):
        return Verdict.ASKED_BACK
    return Verdict.NOT_NAMED
