"""Finding the phrases of the vocabulary in a row of words, in time linear in its length.

A phrase is plain words. `(one|other|)` is a choice, an empty choice may be left out; right behind letters it is a choice of
endings (`eas(e|ed)`); `walk*` is any word that begins so;
`_` is any one word; `{n}` is a number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bot.reader.automaton import Automaton

_ENDINGS = re.compile(r"(\w+)\(([^()]*)\)")
_PIECE = re.compile(r"[(|)]|[^\s(|)]+")


@dataclass(slots=True)
class Found:
    """A phrase of the vocabulary, from word `first` up to, but not with, word `last`."""

    label: str
    first: int
    last: int


def spelled_out(phrase: str) -> list[tuple[str, ...]]:
    """Every row of words that a phrase with choices stands for. Raises `ValueError` for brackets that do not match."""
    whole_words = _ENDINGS.sub(lambda m: "(" + "|".join(m[1] + ending for ending in m[2].split("|")) + ")", phrase)
    pieces = _PIECE.findall(whole_words)
    place = 0

    def rows(inside: bool) -> list[tuple[str, ...]]:
        nonlocal place
        choices: list[tuple[str, ...]] = []
        row: list[tuple[str, ...]] = [()]
        while place < len(pieces):
            piece = pieces[place]
            place += 1
            if piece == "(":
                inner = rows(True)
                row = [*dict.fromkeys((*one, *other) for one in row for other in inner)]
            elif piece == "|" and inside:
                choices.extend(row)
                row = [()]
            elif piece == ")" and inside:
                return [*choices, *row]
            elif piece in "(|)":
                raise ValueError(f"brackets do not match in {phrase!r}")
            else:
                row = [(*one, piece) for one in row]
        if inside:
            raise ValueError(f"a bracket is not closed in {phrase!r}")
        return row

    return [row for row in rows(False) if row]


class Phrases:
    """All phrases of a vocabulary with their labels."""

    def __init__(self, phrases: Mapping[str, Iterable[str]]) -> None:
        self._rows = Automaton()
        self.words: set[str] = set()
        """Every plain word of them."""
        for label, alternatives in phrases.items():
            for phrase in alternatives:
                for row in spelled_out(phrase):
                    self._rows.add(row, label)
                    self.words.update(word for word in row if not word.endswith("*") or len(word) == 1)

    def find(self, words: Sequence[str]) -> dict[str, list[Found]]:
        """By labels: for each place the longest phrase that begins there."""
        return {
            label: [Found(label, first, last) for first, last in spans]
            for label, spans in self._rows.find(words).items()
        }
