"""Finding the phrases of the vocabulary in a row of words, in time linear in its length.

A phrase is plain words. `(one|other|)` is a choice, an empty choice may be left out; right behind letters it is a choice of
endings (`eas(e|ed)`); `walk*` is any word that begins so;
`_` is any one word; `{n}` is a number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

NUMBER = "{n}"
_KEPT_WORDS = 20_000
_ENDINGS = re.compile(r"(\w+)\(([^()]*)\)")
_PIECE = re.compile(r"[(|)]|[^\s(|)]+")


class Found(NamedTuple):
    """A phrase of the vocabulary, from word `first` up to, but not with, word `last`."""

    label: str
    first: int
    last: int


class _Node:
    __slots__ = ("exact", "goes_on", "labels", "only_words", "prefixes", "sizes")

    def __init__(self) -> None:
        self.exact: dict[str, _Node] = {}
        self.prefixes: dict[str, _Node] = {}
        self.labels: tuple[str, ...] = ()
        self.goes_on = False
        self.only_words = True
        """Nothing but plain words follows: no beginnings, and not any word."""
        self.sizes: tuple[int, ...] = ()
        """The lengths of the beginnings in `prefixes`."""


_Opening = tuple[tuple[str, ...], tuple[_Node, ...]]
"""Of one word: the labels of the phrases that it is the whole of, and the nodes that go on."""


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
        self._root = _Node()
        self._openings: tuple[dict[str, _Opening], dict[str, _Opening]] = {}, {}
        """Of words and of numbers."""
        self.words: set[str] = set()
        for label, alternatives in phrases.items():
            for phrase in alternatives:
                for row in spelled_out(phrase):
                    self._add(row, label)

    def _add(self, row: tuple[str, ...], label: str) -> None:
        node = self._root
        for word in row:
            node.goes_on = True
            if word == "_" or (word.endswith("*") and len(word) > 1):
                node.only_words = False
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
        of_words, of_numbers = self._openings
        for first in range(size):
            word = words[first]
            opening = (of_numbers if numbers[first] else of_words).get(word)
            labels, going_on = opening or self._openings_of(word, numbers[first])
            at = first + 1
            states: list[_Node] = []
            if going_on and at < size:
                following, number = words[at], numbers[at]
                for node in going_on:
                    if node.only_words and not number:
                        if following in node.exact:
                            states.append(node.exact[following])
                    else:
                        states += self._next(node, following, number)
            if not states:
                for label in labels:
                    found.append(Found(label, first, at))
                continue
            longest = dict.fromkeys(labels, at)
            while states:
                at += 1
                then: list[_Node] = []
                for node in states:
                    for label in node.labels:
                        longest[label] = at
                    if at < size and node.goes_on:
                        then += self._next(node, words[at], numbers[at])
                states = then
            for label, last in longest.items():
                found.append(Found(label, first, last))
        return found

    def _openings_of(self, word: str, number: bool) -> _Opening:
        """The first step with a word; kept, since replies are made of few different words."""
        states = self._next(self._root, word, number)
        opening = (
            tuple(dict.fromkeys(label for node in states for label in node.labels)),
            tuple(node for node in states if node.goes_on),
        )
        kept = self._openings[number]
        if len(kept) >= _KEPT_WORDS:
            kept.clear()
        kept[word] = opening
        return opening

    @staticmethod
    def _next(node: _Node, word: str, number: bool) -> list[_Node]:
        nodes: list[_Node] = []
        exact = node.exact
        child = exact.get(word)
        if child is not None:
            nodes.append(child)
        if number and (child := exact.get(NUMBER)) is not None:
            nodes.append(child)
        if (child := exact.get("_")) is not None and (number or word[0].isalpha()):
            nodes.append(child)
        for size in node.sizes:
            if size > len(word):
                break
            child = node.prefixes.get(word[:size])
            if child is not None:
                nodes.append(child)
        return nodes
