"""Finding the phrases of the vocabulary in a row of words, in time linear in its length.

A phrase is plain words. `(one|other|)` is a choice, an empty choice may be left out; right behind letters it is a choice of
endings (`eas(e|ed)`); `walk*` is any word that begins so;
`_` is any one word; `{n}` is a number.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass

NUMBER = "{n}"
_KEPT_WORDS = 20_000
_ENDINGS = re.compile(r"(\w+)\(([^()]*)\)")
_PIECE = re.compile(r"[(|)]|[^\s(|)]+")


@dataclass(slots=True)
class Found:
    """A phrase of the vocabulary, from word `first` up to, but not with, word `last`."""

    label: str
    first: int
    last: int


class _Node:
    __slots__ = ("exact", "goes_on", "labels", "open", "prefixes", "sizes")

    def __init__(self) -> None:
        self.exact: dict[str, _Node] = {}
        self.prefixes: dict[str, _Node] = {}
        self.labels: tuple[str, ...] = ()
        self.goes_on = False
        self.open = False
        """Not only certain words may follow, but any, any number, or any with a certain beginning."""
        self.sizes: tuple[int, ...] = ()
        """The lengths of the beginnings in `prefixes`."""


_Opening = tuple[tuple[str, ...], tuple[_Node, ...], frozenset[str], tuple[str, ...]]
"""Of one word: the labels of the phrases that it is the whole of, the nodes that go on, the words that may follow, and with
which beginnings others may. A plain tuple: taking it apart is quick."""


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
        self._openings: dict[str, _Opening] = {}
        """Of words and of numbers; no word is written like a number."""
        self.words: set[str] = set()
        for label, alternatives in phrases.items():
            for phrase in alternatives:
                for row in spelled_out(phrase):
                    self._add(row, label)

    def _add(self, row: tuple[str, ...], label: str) -> None:
        node = self._root
        for word in row:
            node.goes_on = True
            if word in {"_", NUMBER} or (word.endswith("*") and len(word) > 1):
                node.open = True
            if word.endswith("*") and len(word) > 1:
                node.sizes = tuple(sorted({*node.sizes, len(word) - 1}))
                node = node.prefixes.setdefault(word[:-1], _Node())
            else:
                node = node.exact.setdefault(word, _Node())
                self.words.add(word)
        if label not in node.labels:
            node.labels = (*node.labels, label)

    def find(self, words: Sequence[str], numbers: Container[int]) -> dict[str, list[Found]]:
        """By labels: for each place the longest phrase that begins there. `numbers` are the places of the numbers."""
        found: defaultdict[str, list[Found]] = defaultdict(list)
        openings = map(self._openings.get, words)
        for first, (opening, following) in enumerate(zip(openings, (*words[1:], ""), strict=False)):
            labels, going_on, then, beginnings = opening or self._opening_of(words[first], first in numbers)
            if following in then or (beginnings and following.startswith(beginnings)):
                for label, last in self._longest(labels, going_on, words, numbers, first + 1).items():
                    found[label].append(Found(label, first, last))
            elif labels:
                for label in labels:
                    found[label].append(Found(label, first, first + 1))
        return dict(found)

    def _longest(
        self, labels: Iterable[str], states: Iterable[_Node], words: Sequence[str], numbers: Container[int], at: int
    ) -> dict[str, int]:
        """For each label where its longest phrase ends, of those that end at a place or go on there from some states."""
        longest = dict.fromkeys(labels, at)
        while at < len(words):
            word = words[at]
            then: list[_Node] = []
            for node in states:
                if node.open:
                    then += self._next(node, word, at in numbers)
                elif (child := node.exact.get(word)) is not None:
                    then.append(child)
            if not then:
                break
            at += 1
            for node in then:
                for label in node.labels:
                    longest[label] = at
            states = then
        return longest

    def _opening_of(self, word: str, number: bool) -> _Opening:
        """The first step with a word; kept, since replies are made of few different words."""
        states = self._next(self._root, word, number)
        going_on = tuple(node for node in states if node.goes_on)
        then = frozenset(word for node in going_on for word in node.exact)
        any_word = bool(then & {"_", NUMBER})
        opening = (
            tuple(dict.fromkeys(label for node in states for label in node.labels)),
            going_on,
            then,
            ("",) if any_word else tuple(beginning for node in going_on for beginning in node.prefixes),
        )
        if len(self._openings) >= _KEPT_WORDS:
            self._openings.clear()
        self._openings[word] = opening
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
