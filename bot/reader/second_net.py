"""A second net under the word lists: the weight of a reply's words, learnt from labelled replies.

The lists of `signs.toml` find what somebody thought of. Here each word, pair of neighbours, denied word and class of words has a weight
for each warning sign (logistic regression, `vocabulary/flag_weights.txt`, written by `python -m tests.reader.learn_weights`); what they
add up to says how likely the sign is. `verdict` puts that beside what the lists found.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from importlib.resources import files
from math import floor, sqrt
from struct import unpack
from sys import intern
from typing import NamedTuple

from bot.program.terms import RedFlag
from bot.reader.frames import signs

NOT_LEARNT = frozenset({RedFlag.SEVERE_PAIN})
"""Decided by a number or by plain words: "worst pain" stands in every other reply."""
_FEWEST = 12
"""Fewer known features than this say too little to count for more each."""
_DENIED = 5
"""Words behind a denial that are looked at as denied."""
_LENGTH_STEP, _LENGTHS = 6, 5
"""Tokens in a step of a reply's length, and how many steps are told apart."""
_BITS = 32
"""Room for the hundredths of a sign's weights in a packed number: each feature counts once, so all of them together fit."""
_ZERO = 1 << (_BITS - 1)
_ASKS = "?"
_NO_WEIGHTS: Mapping[str, int] = {}
_ENDINGS = ("ing", "ed", "es", "s", "y")
_SHORTEST_STEM = 4
_KEPT_WORDS = 20_000
_KEPT_BARS = 256
_HEAVIEST = 3
"""Features that a finding rests on."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Weights:
    codes: tuple[RedFlag, ...]
    base: tuple[float, ...]
    packed: dict[str, int]
    """For each feature but the classes the hundredths of all its weights in one whole number, `_BITS` for each sign: one addition adds them all."""
    of_classes: dict[str, int]
    """The same for each class of words."""
    words: _Words
    lengths: tuple[int, ...]
    """The same for each length of a reply."""
    zeros: int
    """What is added to a packed sum, so that no part of it is below zero; by itself the top bit of each part."""
    format: str

    def parts(self, total: int) -> tuple[int, ...]:
        """The hundredths of each sign in a packed sum, `_ZERO` above their worth."""
        return unpack(self.format, (total + self.zeros).to_bytes(len(self.base) * _BITS // 8, "little"))


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


_Word = tuple[str, bool, bool, int, int, Mapping[str, int]]
"""Of a word its stem, whether it denies, whether it ends a denial, its weights and those of it denied, both packed, and those of the
pairs with a word behind. A plain tuple is taken apart quickest."""


class _Words(dict[str, _Word]):
    """What is known of each word; kept, since replies are made of few different words."""

    def __init__(self, packed: Mapping[str, int]) -> None:
        self._packed = packed
        self._followed: dict[str, dict[str, int]] = {}
        for name, weights in packed.items():
            first, _, second = name.partition(" ")
            if second and weights:
                self._followed.setdefault(first, {})[intern(second)] = weights

    def __missing__(self, word: str) -> _Word:
        if len(self) >= _KEPT_WORDS:
            self.clear()
        known, weights_of = signs(), self._packed.get
        root = intern(stem(word))
        ends = word in known.denial_ends
        told = self[word] = (
            root,
            word in known.denials or word.endswith("n't"),
            ends,
            weights_of(root, 0) if root else weights_of(_ASKS, 0) if ends and word == _ASKS else 0,
            weights_of(f"!{root}", 0),
            self._followed.get(root, _NO_WEIGHTS),
        )
        return told


class Features(Mapping[str, int]):
    """What has a weight in a reply, each with the number of the token where it first stands.

    That is words, pairs of neighbours ("one other"), words close behind a denial ("!word"), whether something is asked ("?") and the
    length of the reply ("= 2"). The classes of its words have weights too.
    """

    def __init__(self, tokens: Sequence[str]) -> None:
        self._tokens = tokens

    @cached_property
    def _places(self) -> dict[str, int]:
        tokens = self._tokens
        found: dict[str, int] = {f"= {_length(tokens)}": 0}
        first = found.setdefault
        before = ""
        denied = 0
        for at, (word, denies, ends, *_) in enumerate(map(_weights().words.__getitem__, tokens)):
            if not word:
                if ends:
                    denied = 0
                    if tokens[at] == _ASKS:
                        first(_ASKS, at)
                continue
            first(word, at)
            if before:
                first(f"{before} {word}", at)
            before = word
            if denied:
                denied -= 1
                if ends:
                    denied = 0
                else:
                    first(f"!{word}", at)
            if denies:
                denied = _DENIED
        return found

    def __getitem__(self, name: str) -> int:
        return self._places[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)

    def weights(self) -> list[int]:
        """The packed weights of all that have one; quicker than to look up their names, which would have to be made."""
        known = _weights()
        found: dict[str | tuple[str, str], int] = {}
        before, followed = "", _NO_WEIGHTS
        denied = 0
        for word, denies, ends, weights, weights_denied, then in map(known.words.__getitem__, self._tokens):
            if weights:
                found[word] = weights
            if not word:
                if ends:
                    denied = 0
                continue
            if word in followed:
                found[before, word] = followed[word]
            before, followed = word, then
            if denied:
                denied -= 1
                if ends:
                    denied = 0
                elif weights_denied:
                    found["!", word] = weights_denied
            if denies:
                denied = _DENIED
        length = known.lengths[_length(self._tokens)]
        return [length, *found.values()] if length else [*found.values()]


def _length(tokens: Sequence[str]) -> int:
    return min(_LENGTHS, len(tokens) // _LENGTH_STEP)


def features(tokens: Sequence[str]) -> Features:
    """What has a weight in a reply."""
    return Features(tokens)


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
    of_words = {name: total for name, total in packed.items() if name[0] != "@"}
    return _Weights(
        codes=tuple(base),
        base=tuple(base.values()),
        packed=of_words,
        of_classes={name[1:]: total for name, total in packed.items() if name[0] == "@"},
        words=_Words(of_words),
        lengths=tuple(of_words.get(f"= {number}", 0) for number in range(_LENGTHS + 1)),
        zeros=zeros,
        format=f"<{len(base)}I",
    )


@lru_cache(maxsize=_KEPT_BARS)
def _bar(limit: float, known: int) -> int:
    """What lifts the part of each sign in a packed sum of so many weights to its top bit, where its log odds are above a limit.

    A hundredth less is enough for that, so that no rounding matters.
    """
    each_counts = share(known) / 100
    steps = (floor((limit - base) / each_counts) for base in _weights().base)
    return sum((_ZERO - step) << (_BITS * number) for number, step in enumerate(steps))


class Weighed(NamedTuple):
    """All the weights of a reply."""

    total: int
    """Their packed sum."""
    known: int
    """How many there are."""

    def may_exceed(self, limit: float) -> bool:
        """Whether the log odds of any sign may be above a limit; never `False` where one is. Quicker than to ask for them."""
        return (self.total + _bar(limit, self.known)) & _weights().zeros != 0

    def log_odds(self) -> zip[tuple[RedFlag, float]]:
        """How likely each sign that is learnt is, as the logarithm of its odds."""
        known = _weights()
        each_counts = share(self.known) / 100
        parts = known.parts(self.total)
        odds = [base + (part - _ZERO) * each_counts for base, part in zip(known.base, parts, strict=True)]
        return zip(known.codes, odds, strict=True)


def weighed(found: Features, classes: Iterable[str]) -> Weighed:
    """The weights of these features and classes."""
    weights = found.weights()
    weights += filter(None, map(_weights().of_classes.get, classes))
    return Weighed(sum(weights), len(weights))


def log_odds(found: Features, classes: Iterable[str]) -> zip[tuple[RedFlag, float]]:
    """How likely these features and classes make each sign that is learnt, as the logarithm of its odds."""
    return weighed(found, classes).log_odds()


def heaviest(found: Mapping[str, int], classes: Mapping[str, int], code: RedFlag) -> list[int]:
    """The numbers of the tokens that say most for a sign, the heaviest first. `classes`: where a word of each first stands."""
    known = _weights()
    number = known.codes.index(code)
    told = [(known.packed[name], at) for name, at in found.items() if name in known.packed]
    told += [(known.of_classes[name], at) for name, at in classes.items() if name in known.of_classes]
    weights = [(known.parts(packed)[number], at) for packed, at in told]
    return [at for weight, at in sorted(weights, reverse=True)[:_HEAVIEST] if weight > _ZERO]
