"""A second net under the word lists: the weight of a reply's words, learnt from labelled replies.

The lists of `signs.toml` find what somebody thought of. Here each word and pair of neighbours has a weight for each warning sign
(logistic regression, `vocabulary/flag_weights.txt`, written by `python -m tests.reader.learn_weights`); what they add up to says how
likely the sign is. It is a net for what the lists miss: a likely sign is asked back, only a very likely one counts at once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from math import exp, log, sqrt
from struct import unpack

from bot.program.terms import RedFlag

SURE = 0.4
"""From this likelihood on a sign counts at once."""
UNSURE = 0.35
"""From this likelihood on a sign is asked back."""
UNSURE_BESIDE = 0.5
"""From this likelihood on a sign is asked back beside one that the lists ask back."""
SURE_BESIDE = 0.75
"""From this likelihood on a sign counts beside one that the lists are sure of."""
SURE_EXCUSED = 0.9
"""From this likelihood on a sign counts although the lists found an everyday reason for it, or are unsure themselves."""
NOT_LEARNT = frozenset({RedFlag.SEVERE_PAIN})
"""Decided by a number or by plain words: "worst pain" stands in every other reply."""
_FEWEST = 12
"""Fewer known words and pairs than this say too little to count for more each."""
_BITS = 64
"""Room for the hundredths of a sign's weights in a packed number, in any text that memory holds."""
_ZERO = 1 << (_BITS - 1)
_CLOSE = 1e-6
"""How far rounding can move a sum of weights in a long text, and much more."""
_LEAST = log(UNSURE / (1 - UNSURE)) - _CLOSE
"""A smaller sum of weights is less likely than `UNSURE`."""
_ENDINGS = ("ing", "ed", "es", "s", "y")
_SHORTEST_STEM = 4


UNLIKELY = 0.02
"""A sign that the lists found in words which together make it less likely than this is asked back instead of counted."""
UNLIKELY_EMERGENCY = 0.01
"""The same for a sign that cannot wait for an answer."""


@dataclass(frozen=True, slots=True)
class Hunch:
    """A sign that a reply's words make likely, and the places of the words that say most for it."""

    code: RedFlag
    likelihood: float
    heaviest: tuple[int, ...]
    """Numbers of tokens, the heaviest word or pair first."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Weights:
    codes: tuple[RedFlag, ...]
    base: tuple[float, ...]
    of: dict[str, tuple[tuple[int, float], ...]]
    packed: dict[str, int]
    """For each feature the hundredths of all its weights in one whole number, `_BITS` for each sign: one addition adds them all."""
    zeros: int
    """What is added to a packed sum, so that no part of it is below zero."""


@lru_cache(maxsize=20_000)
def stem(word: str) -> str:
    """A word without its ending; every number is "#"."""
    if word[0].isdigit():
        return "#"
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) >= len(ending) + _SHORTEST_STEM:
            return word[: -len(ending)]
    return word


def features(tokens: Sequence[str]) -> dict[str, int]:
    """The words and pairs of neighbours of a reply, each with the number of the token where it first stands."""
    found: dict[str, int] = {}
    before = ""
    for at, token in enumerate(tokens):
        if not token[0].isalnum():
            continue
        word = stem(token)
        if word not in found:
            found[word] = at
        if before:
            pair = f"{before} {word}"
            if pair not in found:
                found[pair] = at
        before = word
    return found


def share(known: int) -> float:
    """How much each of so many known words and pairs counts: less in a long reply, and in a very short one no more."""
    return 1 / sqrt(max(_FEWEST, known))


@cache
def _weights() -> _Weights:
    lines = files("bot.reader").joinpath("vocabulary", "flag_weights.txt").read_text(encoding="utf-8").splitlines()
    head, *rows = (each for each in lines if not each.startswith("#"))
    base = {RedFlag(name): float(value) for name, _, value in (each.partition(":") for each in head.split())}
    codes = tuple(base)
    of: dict[str, tuple[tuple[int, float], ...]] = {}
    for row in rows:
        feature, _, weights = row.partition("\t")
        pairs = (each.partition(":") for each in weights.split())
        of[feature] = tuple((int(number), int(hundredths) / 100) for number, _, hundredths in pairs)
    packed = {
        feature: sum(round(weight * 100) << (_BITS * number) for number, weight in weights)
        for feature, weights in of.items()
    }
    zeros = sum(_ZERO << (_BITS * number) for number in range(len(codes)))
    return _Weights(codes=codes, base=tuple(base.values()), of=of, packed=packed, zeros=zeros)


def _perhaps(known: _Weights, total: int, each_counts: float) -> list[int]:
    """The numbers of the signs that may be likely enough, by the packed sum of the weights of all features."""
    size = len(known.base)
    sums = unpack(f"<{size}Q", (total + known.zeros).to_bytes(size * _BITS // 8, "little"))
    hundredth = each_counts / 100
    return [
        number
        for number, (base, hundredths) in enumerate(zip(known.base, sums, strict=True))
        if base + (hundredths - _ZERO) * hundredth >= _LEAST
    ]


def _likelihood(known: _Weights, number: int, found: Iterable[str], each_counts: float) -> float:
    total = known.base[number]
    for name in found:
        for code, weight in known.of.get(name, ()):
            if code == number:
                total += weight * each_counts
    return 1 / (1 + exp(-total))


def hunches(found: Mapping[str, int]) -> list[Hunch]:
    """The signs that these words (`features`) make likely, at least `UNSURE`."""
    known = _weights()
    packed = known.packed
    weights = [packed[name] for name in found if name in packed]
    each_counts = share(len(weights))
    likely: list[Hunch] = []
    for number in _perhaps(known, sum(weights), each_counts):
        likelihood = _likelihood(known, number, found, each_counts)
        if likelihood >= UNSURE:
            heavy = sorted(
                (
                    (weight, at)
                    for name, at in found.items()
                    for code, weight in known.of.get(name, ())
                    if code == number
                ),
                reverse=True,
            )
            likely.append(Hunch(known.codes[number], likelihood, tuple(at for _, at in heavy[:3])))
    return likely


def likelihoods(found: Mapping[str, int], codes: Collection[RedFlag]) -> dict[RedFlag, float]:
    """How likely these words (`features`) make each of these signs; those that the net has not learnt are left out."""
    known = _weights()
    each_counts = share(sum(name in known.packed for name in found))
    return {
        code: _likelihood(known, number, found, each_counts) for number, code in enumerate(known.codes) if code in codes
    }


def knows(words: str) -> bool:
    """Whether the net has learnt any of these words: of a misspelt or rare one it can say nothing."""
    known = _weights()
    return any(stem(word) in known.packed for word in words.casefold().split() if word[0].isalnum())
