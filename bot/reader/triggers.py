"""Many patterns over one text, of which only those are run whose words the text has.

A pattern such as `(?:lost|losing) control ~ (?:bladder|bowels?)` cannot match a text without a word that begins with "lost" or
"losing", one with "control" and one with "bladder" or "bowel". Such needs are read off the pattern once. A text is asked for its
words; patterns whose needs are not all met are passed over, and a pattern is compiled when it is first run. The needs are only a
filter: they never hide a match (`tests/reader/test_flags.py` runs every pattern over every line to see so).
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Callable, Iterable, Sequence
from functools import cache, reduce
from importlib.resources import files
from itertools import chain
from operator import and_, or_

from bot.reader.frames import TOKEN

WORD = re.compile(r"\w[\w']*")
_KEPT_WORDS = 20_000
_ESCAPED_NO_WORD = frozenset({"W", "s"})
_INSIDE = "*"
"""Before letters that a word has anywhere."""
_SHORTEST_INSIDE = 3
_QUANTIFIER = re.compile(r"[?*+]\??|\{(\d*),?\d*\}\??")
_NO_WORD_CLASS = re.compile(r"(?:[ ,.;:=!?/&-]|\\[sW])+")
_WORD_STARTS = re.compile(r"\(\?<!\[\\w[^\]]*\]\)")
_LOOKS = ("?=", "?!", "?<=", "?<!")

Need = frozenset[str]
"""Beginnings of words of which a text must have one."""
Says = tuple[bool, int, int]
"""How much a need tells texts apart, most first."""


class _Pattern:
    """Reads the needs off a regular expression, in one pass from left to right."""

    def __init__(self, pattern: str, says: Callable[[Need], Says], *, inside: bool = False) -> None:
        """`inside`: letters that a word need not begin with are needs too."""
        self.text, self.at, self.says, self.inside = pattern, 0, says, inside

    def needs(self, starts: bool = True) -> list[Need]:
        """All needs of the pattern. `starts`: it begins at the start of a word."""
        alternatives = [self._sequence(starts)]
        while self.at < len(self.text) and self.text[self.at] == "|":
            self.at += 1
            alternatives.append(self._sequence(starts))
        return alternatives[0][0] if len(alternatives) == 1 else _either(alternatives, self.says)

    def _optional(self) -> tuple[bool, bool]:
        """Whether the piece before may be missing, and whether it has a quantifier at all."""
        found = _QUANTIFIER.match(self.text, self.at)
        if found is None:
            return False, False
        self.at = found.end()
        return found[0][0] in "?*" or (found[0][0] == "{" and (found[1] or "0") == "0"), True

    def _sequence(self, starts: bool) -> tuple[list[Need], bool]:
        """Needs up to the end of a group or choice, and whether a word must start there. `starts`: whether one does here."""
        needs: list[Need] = []
        run, counted = "", False
        while self.at < len(self.text) and self.text[self.at] not in "|)":
            sign = self.text[self.at]
            if sign.isalnum() or sign == "'":
                self.at += 1
                optional, repeated = self._optional()
                if not run:
                    counted = starts
                starts = False
                if not optional:
                    run += sign
                if optional or repeated:
                    run, counted = self._closed(needs, run, counted), False
                continue
            run, counted = self._closed(needs, run, counted), False
            starts = self._other(sign, needs, starts)
        self._closed(needs, run, counted)
        return needs, starts

    def _closed(self, needs: list[Need], run: str, counted: bool) -> str:
        if run and counted and run[0] != "'":
            needs.append(frozenset({run}))
        elif self.inside and len(run := run.lstrip("'")) >= _SHORTEST_INSIDE:
            needs.append(frozenset({_INSIDE + run}))
        return ""

    def _other(self, sign: str, needs: list[Need], starts: bool) -> bool:
        """Goes over one piece that is no letter; whether a word starts behind it."""
        look = _WORD_STARTS.match(self.text, self.at)
        if look is not None:
            self.at = look.end()
            return True
        if sign == "(":
            return self._group(needs, starts)
        if sign == "[":
            end = self.text.index("]", self.at + 2)
            inside = self.text[self.at + 1 : end]
            self.at = end + 1
            optional, _ = self._optional()
            no_word = _NO_WORD_CLASS.fullmatch(inside) is not None
            return (starts and no_word) if optional else no_word
        if sign == "\\":
            escaped = self.text[self.at + 1]
            self.at += 2
            optional, _ = self._optional()
            if escaped == "b":
                return True
            no_word = escaped in _ESCAPED_NO_WORD or not escaped.isalnum()
            return (starts and no_word) if optional else no_word
        self.at += 1
        if sign in "^$":
            return starts or sign == "^"
        optional, _ = self._optional()
        no_word = sign != "."
        return (starts and no_word) if optional else no_word

    def _group(self, needs: list[Need], starts: bool) -> bool:
        head = self.text[self.at + 1 : self.at + 4]
        look = head.startswith(_LOOKS)
        if look:
            self.at += 1 + max(len(each) for each in _LOOKS if head.startswith(each))
        elif head.startswith("?P<"):
            self.at = self.text.index(">", self.at) + 1
        else:
            self.at += 3 if head.startswith("?:") else 1
        alternatives = [self._sequence(starts)]
        while self.text[self.at] == "|":
            self.at += 1
            alternatives.append(self._sequence(starts))
        self.at += 1
        optional, _ = self._optional()
        if look:
            return starts
        ends = all(each[1] for each in alternatives)
        if optional:
            return starts and ends
        needs.extend(_either(alternatives, self.says) if len(alternatives) > 1 else alternatives[0][0])
        return ends


def _either(alternatives: Sequence[tuple[list[Need], bool]], says: Callable[[Need], Says]) -> list[Need]:
    """What a choice needs: one word of the need of each alternative that says most."""
    if not all(needs for needs, _ in alternatives):
        return []
    return [frozenset().union(*(min(needs, key=says) for needs, _ in alternatives))]


def _meets(word: str, beginning: str) -> bool:
    return beginning[1:] in word if beginning.startswith(_INSIDE) else word.startswith(beginning)


def needs_of(
    pattern: str, everyday: frozenset[str] = frozenset(), *, starts: bool = True, inside: bool = False
) -> list[Need]:
    """The needs of a pattern: a text without a word for each of them has no match. `starts`: it begins at the start of a word.
    `inside`: letters that a word has anywhere are needs too ("*raise").

    What says most comes first: no beginning of an everyday word, then long and few beginnings.
    """

    def says(need: Need) -> Says:
        common = any(_meets(word, beginning) for beginning in need for word in everyday)
        return common, -min(len(each) for each in need), len(need)

    return sorted(_Pattern(pattern, says, inside=inside).needs(starts), key=says)


class _Needs:
    """Needs by number, and which of them a word meets."""

    def __init__(self) -> None:
        self._numbers: dict[Need, int] = {}
        self._by_beginning: dict[str, list[int]] = {}
        self._sizes: list[int] = []
        self._inside: list[tuple[str, int]] = []

    def number(self, need: Need) -> int:
        """The number of a need, whether it is new or not."""
        number = self._numbers.get(need)
        if number is None:
            number = self._numbers[need] = len(self._numbers)
            beginnings = [each for each in need if not each.startswith(_INSIDE)]
            for beginning in beginnings:
                self._by_beginning.setdefault(beginning, []).append(number)
            self._sizes = sorted({*self._sizes, *map(len, beginnings)})
            self._inside += [(each[1:], number) for each in need if each.startswith(_INSIDE)]
        return number

    @property
    def longest(self) -> int:
        """Letters of the longest beginning."""
        return self._sizes[-1] if self._sizes else 0

    def met_by(self, word: str) -> set[int]:
        """The numbers of the needs that a word meets."""
        met = {number for letters, number in self._inside if letters in word}
        for size in self._sizes:
            if size > len(word):
                break
            met.update(self._by_beginning.get(word[:size], ()))
        return met


def _bits(numbers: Iterable[int]) -> int:
    return reduce(or_, (1 << each for each in numbers), 0)


class _Met(dict[str, tuple[int, tuple[tuple[int, int], ...]]]):
    """What needs each word meets, as a row of bits, and the patterns that are looked for by it, each with the bits of its other needs;
    kept, since replies are made of few different words."""

    def __init__(self, triggers: Triggers) -> None:
        self.triggers = triggers

    def __missing__(self, word: str) -> tuple[int, tuple[tuple[int, int], ...]]:
        triggers = self.triggers
        needs = triggers.met_by(word)
        if len(self) >= _KEPT_WORDS:
            self.clear()
        met = self[word] = (_bits(needs), tuple(chain.from_iterable(triggers.by_need.get(each, ()) for each in needs)))
        return met


class Triggers:
    """Patterns by number, in the order given; each is matched as whole words and run only where its words stand."""

    def __init__(
        self, patterns: Sequence[str], everyday: frozenset[str] = frozenset(), *, inside: bool = False
    ) -> None:
        """`everyday` words say little of a text. `inside`: what stands inside words is needed too, which tells texts better apart."""
        self.patterns = tuple(patterns)
        self._compiled: dict[int, re.Pattern[str]] = {}
        self._always: list[int] = []
        self.by_need: dict[int, list[tuple[int, int]]] = {}
        """By the need that says most: the patterns with it, and the bits of their other needs."""
        self._needs = _Needs()
        self._met = _Met(self)
        for number, pattern in enumerate(self.patterns):
            needs = needs_of(pattern, everyday, inside=inside)
            if not needs:
                self._always.append(number)
                continue
            first, *others = map(self._needs.number, needs)
            self.by_need.setdefault(first, []).append((number, _bits(others)))

    def met_by(self, word: str) -> set[int]:
        """The numbers of the needs that a word meets."""
        return self._needs.met_by(word)

    def looked_for_by(self, word: str) -> list[int]:
        """The numbers of the patterns of which a word meets the need that says most: of each that matches, some word of the text does."""
        return [*self._always, *(number for number, _ in self._met[word][1])]

    def present(self, words: Iterable[str]) -> Sequence[int]:
        """The numbers of the patterns that may match a text of these words, in order."""
        told = [*map(self._met.__getitem__, words)]
        met = reduce(or_, [bits for bits, _ in told], 0)
        found = [
            number for _, looked_for in told if looked_for for number, others in looked_for if others & met == others
        ]
        return sorted({*found, *self._always}) if found else self._always

    def compiled(self, number: int) -> re.Pattern[str]:
        """The pattern of that number, compiled when it is first wanted."""
        found = self._compiled.get(number)
        if found is None:
            found = re.compile(rf"(?<![\w'])(?:{self.patterns[number]})(?!\w)")
            self._compiled[number] = found
        return found


@cache
def everyday() -> frozenset[str]:
    """Words that say little of a text, since every other reply has them."""
    text = files("bot.reader").joinpath("vocabulary", "flags.toml").read_text(encoding="utf-8")
    return frozenset(tomllib.loads(text)["everyday"]["words"])


class Sought:
    """A pattern that is only run over a text with its words, of which a `Sieve` tells."""

    __slots__ = ("_match", "_search", "needs", "pattern")

    def __init__(self, pattern: re.Pattern[str], needs: int) -> None:
        self.pattern = pattern
        self._search, self._match = pattern.search, pattern.match
        self.needs = needs

    def among(self, told: int) -> bool:
        """Whether it may match in a text. `told`: what the sieve tells of the text's tokens."""
        return told & self.needs == self.needs

    def search(self, told: int, text: str, first: int = 0, last: int = sys.maxsize) -> re.Match[str] | None:
        """The same as the pattern's own."""
        return self._search(text, first, last) if told & self.needs == self.needs else None

    def match(self, told: int, text: str, first: int = 0, last: int = sys.maxsize) -> re.Match[str] | None:
        """The same as the pattern's own."""
        return self._match(text, first, last) if told & self.needs == self.needs else None


def needed_by_all(patterns: Iterable[Sought]) -> int:
    """The needs that all of some patterns have: none of them may match in a text without."""
    return reduce(and_, (each.needs for each in patterns))


EVERYTHING = -1
"""What a sieve tells of a text of which nothing is known."""


class Sieve(dict[str, int]):
    """What needs of some patterns each token meets, as a row of bits; kept, since replies are made of few different words.

    The patterns may be run over any part of a text that begins at the start or end of a token.
    """

    def __init__(self, everyday: frozenset[str]) -> None:
        self._everyday = everyday
        self._needs = _Needs()

    def __missing__(self, token: str) -> int:
        # A word may start behind an apostrophe too.
        starts = [at for at in range(len(token)) if not at or token[at - 1] == "'"]
        longest = self._needs.longest
        if len(self) >= _KEPT_WORDS:
            self.clear()
        bits = self[token] = _bits(set().union(*[self._needs.met_by(token[at : at + longest]) for at in starts]))
        return bits

    def sought(self, pattern: str) -> Sought:
        """The pattern, to be run only over a text with its words."""
        needs = needs_of(pattern, self._everyday, starts=False)
        first_tokens = (frozenset(TOKEN.findall(each)[0] for each in need) for need in needs)
        self.clear()
        return Sought(re.compile(pattern), _bits(map(self._needs.number, first_tokens)))

    def told(self, tokens: Iterable[str]) -> int:
        """Which needs the tokens of a text meet."""
        return reduce(or_, map(self.__getitem__, tokens), 0)
