"""A third voice on warning signs: a small net that has read word order and knows which words are near each other in meaning.

The lists find what somebody thought of, and the second net weighs words one by one. This net reads windows of neighbouring words: each
word stands as a vector, near to those of like meaning, so that words in which nobody has told of a sign yet count too ("one airship
where my calf used to be"). Two layers of convolution with a window of three words each, pooled over the reply, and one sum for each sign: Kim, Convolutional
Neural Networks for Sentence Classification, EMNLP 2014. It was taught by a large language model of sentences, which itself was
taught by the labelled replies (distillation: Hinton, Vinyals, Dean 2015, arXiv:1503.02531); `tests/reader/sentence_net` has all of it.

It costs a third of what the rest of the reader does, so it is asked only where the other two voices leave anything open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bot.program.terms import RedFlag

_Matrix = NDArray[np.float32]

UNKNOWN, NUMBER = "", "#"
"""What stands for a word that the net does not know, and for every number."""
LONGEST = 64
"""Tokens that are read in one go, as in teaching; a longer text is read in pieces, and the piece that says most counts."""
LEAST, MOST = -7.0, 7.0
"""Log odds further from even say no more."""
_AT_ONCE = 24
"""Rows that are multiplied at once."""
_KEPT_WORDS = 8_000
_TOLD = 3
"""Words that a finding rests on."""
SPREAD = 4.0
"""What the sum over a reply is divided by, beside the root of its length, so that it stays in the range of its greatest values."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Net:
    codes: tuple[RedFlag, ...]
    places: dict[str, int]
    """For each word its row of `vectors`."""
    vectors: NDArray[np.int8]
    steps: _Matrix
    """What one step of each column of `vectors` is worth."""
    first: _Matrix
    """Of a layer the weights for the word before, the word itself and the word behind."""
    first_base: _Matrix
    second: _Matrix
    second_base: _Matrix
    out: _Matrix
    out_base: _Matrix


@cache
def _net() -> _Net:
    with as_file(files("bot.reader").joinpath("vocabulary", "sentence_net.npz")) as path, np.load(path) as stored:
        parts: dict[str, Any] = {name: stored[name] for name in stored.files}
    words = parts.pop("words").tobytes().decode("utf-8").split("\n")
    codes = parts.pop("codes").tobytes().decode("utf-8").split("\n")
    vectors = parts.pop("vectors")
    return _Net(
        codes=tuple(map(RedFlag, codes)),
        places={word: place for place, word in enumerate(words)},
        vectors=vectors,
        **{name: each.astype(np.float32) for name, each in parts.items()},
    )


def known_as(word: str) -> str:
    """What a token is looked up as: every number is the same."""
    return NUMBER if word[0].isdigit() else word


class _Rows(dict[str, _Matrix]):
    """What each word adds to the first layer of the word behind it, of itself and of the word before it; kept, since words come again."""

    def __init__(self, net: _Net) -> None:
        self._net = net

    def __missing__(self, word: str) -> _Matrix:
        if len(self) >= _KEPT_WORDS:
            self.clear()
        net = self._net
        vector = net.vectors[net.places.get(known_as(word), 0)] * net.steps
        told: _Matrix = vector @ net.first
        self[word] = told
        return told


@cache
def _rows() -> _Rows:
    return _Rows(_net())


def _times(rows: _Matrix, weights: _Matrix) -> _Matrix:
    """The product, a few rows at a time: so small a one is left to one thread, which is quicker than to wait for others."""
    if len(rows) <= _AT_ONCE:
        return rows @ weights
    return np.concatenate([rows[start : start + _AT_ONCE] @ weights for start in range(0, len(rows), _AT_ONCE)])


def _window(before: _Matrix, own: _Matrix, behind: _Matrix, base: _Matrix) -> _Matrix:
    """What each word comes to by what the one before it, it and the one behind it add; nothing stands beyond the ends. Never below zero."""
    found: _Matrix = own + base
    found[1:] += before[:-1]
    found[:-1] += behind[1:]
    np.maximum(found, 0, out=found)
    return found


def _read(net: _Net, tokens: Sequence[str]) -> _Matrix:
    """What the two layers make of each token."""
    words = np.array([*map(_rows().__getitem__, tokens)])
    first = _window(words[:, 0], words[:, 1], words[:, 2], net.first_base)
    before, own, behind = (_times(first, each) for each in net.second)
    second = _window(before, own, behind, net.second_base)
    second += first
    return second


def sentence_odds(tokens: Sequence[str]) -> dict[RedFlag, float]:
    """How likely a reply of these tokens makes each sign, as the logarithm of its odds, from `LEAST` to `MOST`."""
    net = _net()
    if not tokens:
        return dict.fromkeys(net.codes, LEAST)
    odds: _Matrix | None = None
    for start in range(0, len(tokens), LONGEST):
        piece = _read(net, tokens[start : start + LONGEST])
        pooled = np.concatenate((piece.max(axis=0), piece.sum(axis=0) / (len(piece) ** 0.5 * SPREAD)))
        said = pooled @ net.out + net.out_base
        odds = said if odds is None else np.maximum(odds, said)
    return dict(zip(net.codes, np.clip(odds, LEAST, MOST).tolist(), strict=True))  # type: ignore[arg-type]


def telling(tokens: Sequence[str], code: RedFlag) -> list[int]:
    """The numbers of the tokens that say most for a sign, the heaviest first; none where no word speaks for it."""
    net = _net()
    number = net.codes.index(code)
    width = len(net.first_base)
    said: list[tuple[float, int]] = []
    for start in range(0, len(tokens), LONGEST):
        piece = _read(net, tokens[start : start + LONGEST])
        each = piece @ net.out[width:, number] / (len(piece) ** 0.5 * SPREAD)
        # The greatest value of each column belongs to the token where it stands.
        np.add.at(each, piece.argmax(axis=0), piece.max(axis=0) * net.out[:width, number])
        said += [(float(weight), start + at) for at, weight in enumerate(each)]
    return [at for weight, at in sorted(said, reverse=True)[:_TOLD] if weight > 0]
