"""A second net under the word lists: the weight of a reply's words, learnt from labelled replies.

The lists of `signs.toml` find what somebody thought of. Here each word, pair of neighbours, denied word and class of words has a weight
for each warning sign (logistic regression, `vocabulary/flag_weights.txt`, written by `python -m tests.reader.learn_weights`); what they
add up to says how likely the sign is. `verdict` puts that beside what the lists found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from math import sqrt
from struct import unpack

from bot.program.terms import RedFlag
from bot.reader.frames import Span, signs

NOT_LEARNT = frozenset({RedFlag.SEVERE_PAIN})
"""Decided by a number or by plain words: "worst pain" stands in every other reply."""
_FEWEST = 12
"""Fewer known features than this say too little to count for more each."""
_DENIED = 5
"""Words behind a denial that are looked at as denied."""
_LENGTH_STEP, _LENGTHS = 6, 5
"""Tokens in a step of a reply's length, and how many steps are told apart."""
_BITS = 64
"""Room for the hundredths of a sign's weights in a packed number, in any text that memory holds."""
_ZERO = 1 << (_BITS - 1)
_ENDINGS = ("ing", "ed", "es", "s", "y")
_SHORTEST_STEM = 4
_HEAVIEST = 3
"""Features that a finding rests on."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Weights:
    codes: tuple[RedFlag, ...]
    base: tuple[float, ...]
    packed: dict[str, int]
    """For each feature the hundredths of all its weights in one whole number, `_BITS` for each sign: one addition adds them all."""
    zeros: int
    """What is added to a packed sum, so that no part of it is below zero."""
    format: str

    def parts(self, total: int) -> tuple[int, ...]:
        """The hundredths of each sign in a packed sum, `_ZERO` above their worth."""
        return unpack(self.format, (total + self.zeros).to_bytes(len(self.base) * _BITS // 8, "little"))


@lru_cache(maxsize=20_000)
def stem(word: str) -> str:
    """A word without its ending; every number is "#", and a mark has none."""
    if not word[0].isalnum():
        return ""
    if word[0].isdigit():
        return "#"
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) >= len(ending) + _SHORTEST_STEM:
            return word[: -len(ending)]
    return word


def features(tokens: Sequence[str], mentions: Iterable[Mapping[str, Sequence[Span]]]) -> dict[str, int]:
    """What has a weight in a reply, each with the number of the token where it first stands.

    That is words, pairs of neighbours ("one other"), words close behind a denial ("!word"), classes of words ("@class"), whether
    something is asked ("?") and the length of the reply ("= 2"). `mentions` are the classes of each sentence.
    """
    known = signs()
    denials, ends = known.denials, known.denial_ends
    found: dict[str, int] = {f"= {min(_LENGTHS, len(tokens) // _LENGTH_STEP)}": 0}
    before = ""
    denied = 0
    for at, token in enumerate(tokens):
        word = stem(token)
        if not word:
            if token in ends:
                denied = 0
                if token == "?" and token not in found:
                    found[token] = at
            continue
        if word not in found:
            found[word] = at
        if before:
            pair = f"{before} {word}"
            if pair not in found:
                found[pair] = at
        before = word
        if denied:
            denied -= 1
            if token in ends:
                denied = 0
            elif (name := "!" + word) not in found:
                found[name] = at
        if token in denials or token.endswith("n't"):
            denied = _DENIED
    for each in mentions:
        for name, places in each.items():
            if (named := "@" + name) not in found:
                found[named] = places[0][0]
    return found


def share(known: int) -> float:
    """How much each of so many known features counts: less in a long reply, and in a very short one no more."""
    return 1 / sqrt(max(_FEWEST, known))


@cache
def _weights() -> _Weights:
    lines = files("bot.reader").joinpath("vocabulary", "flag_weights.txt").read_text(encoding="utf-8").splitlines()
    head, *rows = (each for each in lines if "\t" in each or not each.startswith("#"))
    base = {RedFlag(name): float(value) for name, _, value in (each.partition(":") for each in head.split())}
    shifts = {str(number): _BITS * number for number in range(len(base))}
    packed: dict[str, int] = {}
    for row in rows:
        feature, _, weights = row.partition("\t")
        total = 0
        for each in weights.split():
            number, _, hundredths = each.partition(":")
            total += int(hundredths) << shifts[number]
        packed[feature] = total
    zeros = sum(_ZERO << shift for shift in shifts.values())
    return _Weights(codes=tuple(base), base=tuple(base.values()), packed=packed, zeros=zeros, format=f"<{len(base)}Q")


def log_odds(found: Iterable[str]) -> dict[RedFlag, float]:
    """How likely these features make each sign that is learnt, as the logarithm of its odds."""
    known = _weights()
    packed = known.packed
    weights = [packed[name] for name in found if name in packed]
    each_counts = share(len(weights)) / 100
    sums = known.parts(sum(weights))
    return {
        code: base + (hundredths - _ZERO) * each_counts
        for code, base, hundredths in zip(known.codes, known.base, sums, strict=True)
    }


def heaviest(found: Mapping[str, int], code: RedFlag) -> list[int]:
    """The numbers of the tokens that say most for a sign, the heaviest first."""
    known = _weights()
    number = known.codes.index(code)
    weights = ((known.parts(known.packed[name])[number], at) for name, at in found.items() if name in known.packed)
    return [at for weight, at in sorted(weights, reverse=True)[:_HEAVIEST] if weight > _ZERO]


def knows(words: str) -> bool:
    """Whether the net has learnt any of these words: of a misspelt or rare one it can say nothing."""
    known = _weights()
    return any(stem(word) in known.packed for word in words.casefold().split() if word[0].isalnum())
