"""Finding the phrases of the vocabulary in a row of words, in time linear in its length.

A phrase is plain words. `(one|other|)` is a choice, an empty choice may be left out; right behind letters it is a choice of
endings (`eas(e|ed)`); `walk*` is any word that begins so;
`_` is any one word; `{n}` is a number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from bot.reader.automaton import Automaton, Phrase

_ENDINGS = re.compile(r"(\w+)\(([^()]*)\)")
_PIECE = re.compile(r"[(|)]|[^\s(|)]+")


@dataclass(slots=True)
class Found:
    """A phrase of the vocabulary, from word `first` up to, but not with, word `last`."""

    first: int
    last: int


def parsed(phrase: str) -> Phrase:
    """The words and choices of a phrase. Raises `ValueError` for brackets that do not match."""
    whole_words = _ENDINGS.sub(lambda m: "(" + "|".join(m[1] + ending for ending in m[2].split("|")) + ")", phrase)
    pieces = iter(_PIECE.findall(whole_words))

    def alternatives(*, inside: bool) -> list[Phrase]:
        found: list[list[str | Sequence[Phrase]]] = [[]]
        for piece in pieces:
            if piece == "(":
                found[-1].append(alternatives(inside=True))
            elif piece == "|" and inside:
                found.append([])
            elif piece == ")" and inside:
                return [*found]
            elif piece in "(|)":
                raise ValueError(f"brackets do not match in {phrase!r}")
            else:
                found[-1].append(piece)
        if inside:
            raise ValueError(f"a bracket is not closed in {phrase!r}")
        return [*found]

    return alternatives(inside=False)[0]


def words_of(phrase: Phrase) -> Iterator[str]:
    """Every word that is written in a phrase."""
    for part in phrase:
        if isinstance(part, str):
            yield part
        else:
            for alternative in part:
                yield from words_of(alternative)


class Phrases:
    """All phrases of a vocabulary with their labels."""

    def __init__(self, phrases: Mapping[str, Iterable[str]]) -> None:
        self._rows = Automaton()
        self.words: set[str] = set()
        """Every plain word of them."""
        for label, alternatives in phrases.items():
            for each in alternatives:
                phrase = parsed(each)
                self._rows.add(phrase, label)
                self.words.update(word for word in words_of(phrase) if not word.endswith("*") or len(word) == 1)

    def find(self, words: Sequence[str]) -> dict[str, list[Found]]:
        """By labels: for each place the longest phrase that begins there."""
        found: dict[str, list[Found]] = {}
        for label, spans in self._rows.find(words).items():
            if len(spans) == 1:
                found[label] = [Found(*spans[0])]
            else:
                found[label] = [Found(first, last) for first, last in spans]
        return found
