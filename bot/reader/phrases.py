"""Finding the phrases of the vocabulary in a row of words, in time linear in its length.

A phrase is plain words. `(one|other|)` is a choice, an empty choice may be left out; `walk*` is any word that begins so;
`_` is any one word; `{n}` is a number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

NUMBER = "{n}"
_PIECE = re.compile(r"[(|)]|[^\s(|)]+")


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase of the vocabulary, from word `first` up to, but not with, word `last`."""

    label: str
    first: int
    last: int


class _Node:
    __slots__ = ("exact", "labels", "prefixes", "sizes")

    def __init__(self) -> None:
        self.exact: dict[str, _Node] = {}
        self.prefixes: dict[str, _Node] = {}
        self.labels: tuple[str, ...] = ()
        self.sizes: tuple[int, ...] = ()
        """The lengths of the beginnings in `prefixes`."""


def spelled_out(phrase: str) -> list[tuple[str, ...]]:
    """Every row of words that a phrase with choices stands for. Raises `ValueError` for brackets that do not match."""
    pieces = _PIECE.findall(phrase)
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
        self._root = _Node()
        self.words: set[str] = set()
        for label, alternatives in phrases.items():
            for phrase in alternatives:
                for row in spelled_out(phrase):
                    self._add(row, label)

    def _add(self, row: tuple[str, ...], label: str) -> None:
        node = self._root
        for word in row:
            if word.endswith("*") and len(word) > 1:
                node.sizes = tuple(sorted({*node.sizes, len(word) - 1}))
                node = node.prefixes.setdefault(word[:-1], _Node())
            else:
                node = node.exact.setdefault(word, _Node())
                self.words.add(word)
        if label not in node.labels:
            node.labels = (*node.labels, label)

    def find(self, words: Sequence[str], numbers: Sequence[bool]) -> list[Found]:
        """For each place and label the longest phrase that begins there. `numbers` says which words are numbers."""
        found: list[Found] = []
        size = len(words)
        root = self._root
        for first in range(size):
            longest: dict[str, int] = {}
            states = self._next(root, words[first], numbers[first])
            at = first + 1
            while states:
                following: list[_Node] = []
                for node in states:
                    for label in node.labels:
                        longest[label] = at
                    if at < size and (node.exact or node.prefixes):
                        following.extend(self._next(node, words[at], numbers[at]))
                states = following
                at += 1
            found.extend(Found(label, first, last) for label, last in longest.items())
        return found

    @staticmethod
    def _next(node: _Node, word: str, number: bool) -> list[_Node]:
        nodes: list[_Node] = []
        exact = node.exact
        child = exact.get(word)
        if child is not None:
            nodes.append(child)
        if number and NUMBER in exact:
            nodes.append(exact[NUMBER])
        if "_" in exact and (word[0].isalpha() or number):
            nodes.append(exact["_"])
        for size in node.sizes:
            if size > len(word):
                break
            child = node.prefixes.get(word[:size])
            if child is not None:
                nodes.append(child)
        return nodes
