"""Signs as words that stand together: classes of words ("calf", "swollen") and frames ("calf + swollen").

The classes and frames are in `vocabulary/signs.toml`. A class lists words and phrases; a frame asks for a word of each of its
classes in one clause, with few words in between, in any order ("+") or in this one (">"). So every way of saying the one
goes with every way of saying the other.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from itertools import accumulate, chain, pairwise
from typing import Any, NamedTuple

from bot.program.terms import RedFlag
from bot.reader.automaton import Automaton, Span

TOKEN = re.compile(r"'s\b|\d+|[^\W\d]+(?:'(?!s\b)[^\W\d]+)*|#+|[^\w\s]")
_PLAIN_TOKEN = re.compile(r"[a-zA-Z_]+(?:'(?!s\b)[a-zA-Z_]+)*|[0-9]+|#+|'s\b|[^\w\s]")
"""The same where all characters are ASCII, quicker."""
_GAP = 6
"""Words that may stand between two neighbours of a frame, unless the frame says otherwise ("~9")."""
_EXCUSE_REACH = 8
"""Words between an excuse and a sign."""
_LONGEST_JOINED = 30
"""Tokens of a sentence that a short neighbour is read together with."""
_SHORT_SENTENCE = 14
"""Words of a sentence that may speak of the body part of the one before."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Frame:
    """Classes whose words together are a sign."""

    code: RedFlag
    text: str
    """As written in the file; it is the reason that a finding gives."""
    classes: tuple[str, ...]
    needed: frozenset[str]
    """The same as a set."""
    anchor: int
    """Which of `classes` is looked for first: one that is no body part, where there is one."""
    beside: tuple[int, ...]
    """The others."""
    ordered: bool
    gap: int
    sentence: bool
    """Looked for in the whole sentence, not only within a clause."""
    unless: frozenset[str]
    """Classes of which no word may stand near it, unless that word is denied itself."""
    sure: bool


class Found(NamedTuple):
    """A frame that fits: where its words stand."""

    frame: Frame
    start: int
    end: int
    parts: tuple[Span, ...]
    """Places of the words that are no mere body part, in order."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Signs:
    """The compiled file."""

    rows: Automaton
    """The phrases of every class."""
    places: frozenset[str]
    """Classes that are body parts or things: a denial before them does not matter."""
    carried: frozenset[str]
    """Body parts that a following sentence without one may speak of."""
    anywhere: frozenset[str]
    """Excuses that count from anywhere in the sentence."""
    denied: frozenset[str]
    """Words before an excuse that make it none."""
    phrases_unless: dict[RedFlag, frozenset[str]]
    """Excuses for the set phrases of a code."""
    gives_way: dict[RedFlag, frozenset[RedFlag]]
    """Signs beside which one is not named, where both rest on the same words."""
    gives_way_anywhere: dict[RedFlag, frozenset[RedFlag]]
    joined_codes: frozenset[RedFlag]
    """Signs for which a short sentence is read together with its neighbour."""
    joined_words: int
    """Words of such a short sentence."""
    anchors: frozenset[str]
    frames: dict[str, tuple[tuple[str, Frame], ...]]
    """By the class of their anchor, each with a second class."""

    def fitting(self, classes: AbstractSet[str]) -> list[Frame]:
        """The frames that words of these classes may make; those of one anchor in the order of the file."""
        return [
            frame
            for anchor in self.anchors & classes
            for second, frame in self.frames[anchor]
            if second in classes and frame.needed <= classes
        ]

    words: frozenset[str]
    """Every single word of the classes, for the spelling step."""
    starts: frozenset[str]
    """The starts of words ("swell*")."""
    denials: frozenset[str]
    """Words whose followers the second net looks at as denied."""
    denial_ends: frozenset[str]
    """Words and marks where that ends."""


def _choices(phrase: str) -> list[list[list[str]]]:
    """The choices of a phrase: "a|b" is either, "[x]" may be missing, "_" is any word, "ab*" any word with that start."""
    choices: list[list[list[str]]] = []
    for each in phrase.split():
        words = each.strip("[]").split("|")
        if each.startswith("["):
            words.append("")
        plain = (word.isalpha() or word == "_" or word.endswith("*") for word in words)
        choices.append(
            [[word] if is_plain else TOKEN.findall(word) for word, is_plain in zip(words, plain, strict=True)]
        )
    return choices


def _frame(code: RedFlag, text: str, known: dict[str, list[str]], places: frozenset[str], *, sure: bool) -> Frame:
    head, _, unless = text.partition(" unless ")
    gap, sentence = _GAP, False
    words: list[str] = []
    for each in head.split():
        if each.startswith("~"):
            gap, sentence = int(each[1:]), int(each[1:]) > 10
        elif each not in {"+", ">"}:
            words.append(each)
    for each in [*words, *unless.split()]:
        if each not in known:
            raise ValueError(f"{code}: no class {each!r} in the frame {text!r}")
    anchor = next((n for n, each in enumerate(words) if each not in places), 0)
    return Frame(
        code=code,
        text=text,
        classes=tuple(words),
        needed=frozenset(words),
        anchor=anchor,
        beside=tuple(n for n in range(len(words)) if n != anchor),
        ordered=">" in head.split(),
        gap=gap,
        sentence=sentence,
        unless=frozenset(unless.split()),
        sure=sure,
    )


def _by_anchor(frames: list[Frame]) -> dict[str, tuple[tuple[str, Frame], ...]]:
    found: dict[str, tuple[tuple[str, Frame], ...]] = {}
    for each in frames:
        name = each.classes[each.anchor]
        second = next((other for other in each.classes if other != name), name)
        found[name] = (*found.get(name, ()), (second, each))
    return found


def _codes(lists: dict[str, list[str]]) -> dict[RedFlag, frozenset[RedFlag]]:
    return {RedFlag(code): frozenset(map(RedFlag, others)) for code, others in lists.items()}


@cache
def signs() -> Signs:
    """The classes and frames of `vocabulary/signs.toml`. Raises ValueError for a frame with an unknown class."""
    text = files("bot.reader").joinpath("vocabulary", "signs.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    known: dict[str, list[str]] = {**data["places"], **data["classes"]}
    rows = Automaton()
    single: set[str] = set()
    starts: set[str] = set()

    def phrases(name: str, above: tuple[str, ...] = ()) -> Iterator[str]:
        for each in known[name]:
            if each.startswith("@"):
                if each[1:] not in above:
                    yield from phrases(each[1:], (*above, name))
            else:
                yield each

    for name in known:
        for phrase in phrases(name):
            choices = _choices(phrase)
            rows.add(choices, name)
            for word in chain.from_iterable(chain.from_iterable(choices)):
                if word.isalpha():
                    single.add(word)
                elif word.endswith("*"):
                    starts.add(word[:-1])
    places = frozenset(data["places"])
    frames: list[Frame] = []
    phrases_unless: dict[RedFlag, frozenset[str]] = {}
    for code in RedFlag:
        of = data.get(code, {})
        phrases_unless[code] = frozenset(of.get("phrases_unless", "").split())
        if not phrases_unless[code] <= known.keys():
            raise ValueError(f"{code}: no class {sorted(phrases_unless[code] - known.keys())}")
        for kind, sure in (("sure", True), ("unsure", False)):
            for each in of.get(kind, []):
                frames.append(_frame(code, each, known, places, sure=sure))
    return Signs(
        rows=rows,
        places=places,
        carried=frozenset(data["carried"]["places"]),
        anywhere=frozenset(data["excuses"]["anywhere"]),
        denied=frozenset(data["excuses"]["denied"]),
        phrases_unless=phrases_unless,
        gives_way=_codes(data["gives_way"]["same_words"]),
        gives_way_anywhere=_codes(data["gives_way"]["anywhere"]),
        joined_codes=frozenset(RedFlag(each) for each in data["joined"]["codes"]),
        joined_words=data["joined"]["words"],
        anchors=frozenset(each.classes[each.anchor] for each in frames),
        frames=_by_anchor(frames),
        words=frozenset(single),
        starts=frozenset(starts),
        denials=frozenset(data["second_net"]["denials"]),
        denial_ends=frozenset(data["second_net"]["denial_ends"]),
    )


def _near(places: list[Span], span: Span, taken: Iterable[Span]) -> list[Span]:
    """The free mentions next to `span`, at most two on each side."""
    if len(places) > 1:
        at = bisect_left(places, span)
        places = places[max(0, at - 2) : at + 3]
    return [each for each in places if all(each[1] <= other[0] or each[0] >= other[1] for other in taken)]


def _distance(one: Span, other: Span, commas: list[int]) -> int:
    """Words between, a comma counting as three."""
    if one > other:
        one, other = other, one
    return max(other[0] - one[1] + 2 * (commas[other[0]] - commas[min(one[1], other[0])]), 0)


def _fits(frame: Frame, of: dict[str, list[Span]], commas: list[int]) -> Iterator[tuple[Span, ...]]:
    for anchor in of[frame.classes[frame.anchor]]:
        chosen: dict[int, Span] = {frame.anchor: anchor}
        for place in frame.beside:
            free = _near(of[frame.classes[place]], anchor, chosen.values())
            if frame.ordered:
                free = [each for each in free if (each[0] > anchor[0]) == (place > frame.anchor)]
            if not free:
                break
            chosen[place] = free[0] if len(free) == 1 else min(free, key=lambda each: _distance(each, anchor, commas))
        else:
            spans = [chosen[place] for place in range(len(frame.classes))]
            ordered = sorted(spans)
            if frame.ordered and ordered != spans:
                continue
            if all(_distance(one, other, commas) <= frame.gap for one, other in pairwise(ordered)):
                yield tuple(spans)


def parted(end: re.Pattern[str], text: str, first: int, last: int) -> list[Span]:
    """The parts of a stretch of text, each up to and with an end."""
    parts: list[Span] = []
    start = first
    for match in end.finditer(text, first, last):
        parts.append((start, match.end()))
        start = match.end()
    parts.append((start, last))
    return parts


class Sentences:
    """A text by sentences, with the classes of words that each has."""

    def __init__(self, text: str, sentences: list[Span], clause: re.Pattern[str]) -> None:
        """`clause` is what ends a clause."""
        self.known = signs()
        self.text, self.sentences = text, sentences
        self._clause = clause
        self._token = _PLAIN_TOKEN if text.isascii() else TOKEN
        self.tokens: list[str] = []
        self.bounds: list[Span] = []
        """The tokens of each sentence."""
        tokens_in, first = self._token.findall, 0
        for start, end in sentences:
            # No token goes over the end of a sentence, which is a mark.
            self.tokens += tokens_in(text, start, end)
            last = len(self.tokens)
            self.bounds.append((first, last))
            first = last
        labels = self.known.rows.labels
        self.classes = [labels(self.tokens, first, last) for first, last in self.bounds]
        """Of each sentence."""
        self.excused: set[RedFlag] = set()
        """Codes of frames that fitted, but for an everyday reason."""
        self.settled: set[RedFlag] = set()
        """Codes whose frames need not be looked for any more."""
        self._commas: list[int] = []
        self._mentions: dict[int, dict[str, list[Span]]] = {}

    @cached_property
    def _places(self) -> list[Span]:
        return [each.span() for each in self._token.finditer(self.text)]

    @cached_property
    def starts(self) -> list[int]:
        """Where each token begins."""
        return [start for start, _ in self._places]

    @cached_property
    def ends(self) -> list[int]:
        """Where each token ends."""
        return [end for _, end in self._places]

    def _clauses(self, number: int) -> list[Span]:
        """The clauses of a sentence, by their tokens."""
        first, last = self.bounds[number]
        if _spelt_out(self._clause).isdisjoint(self.tokens[first:last]):
            return [(first, last)]
        parts = parted(self._clause, self.text, *self.sentences[number])
        return [(bisect_left(self.starts, first), bisect_left(self.starts, last)) for first, last in parts]

    def mentions(self, number: int) -> dict[str, list[Span]]:
        """Where the words of each class stand in a sentence."""
        found = self._mentions.get(number)
        if found is None:
            found = self._mentions[number] = self.known.rows.find(self.tokens, *self.bounds[number])
        return found

    @cached_property
    def all_classes(self) -> AbstractSet[str]:
        """The classes of words of the whole text."""
        return self.classes[0] if len(self.classes) == 1 else set().union(*self.classes)

    def classes_at(self) -> dict[str, int]:
        """The token where a word of each class stands first."""
        places: dict[str, int] = {}
        for number in range(len(self.bounds)):
            for name, spans in self.mentions(number).items():
                places.setdefault(name, spans[0][0])
        return places

    @property
    def commas(self) -> list[int]:
        """How many commas stand before each token."""
        if not self._commas:
            self._commas = [0, *accumulate(each == "," for each in self.tokens)]
        return self._commas

    def may_have_frames(self) -> bool:
        """Whether the words of the whole text would make any frame, if they stood together."""
        return bool(self.known.fitting(self.all_classes))

    def frames(self) -> Iterator[Found]:
        """Every frame that fits, in the order of the sentences. Linear in the length of the text."""
        known = self.known
        carried: AbstractSet[str] = frozenset()
        for number, ((first, last), classes) in enumerate(zip(self.bounds, self.classes, strict=True)):
            if first == last:
                continue
            parts = known.carried & classes
            added = carried if not parts and last - first <= _SHORT_SENTENCE else frozenset[str]()
            carried = parts
            frames = known.fitting(classes | added if added else classes)
            if frames:
                yield from self._in_sentence(number, added, frames)
        if len(self.bounds) > 1:
            yield from self._joined()

    def _in_sentence(self, number: int, added: AbstractSet[str], frames: list[Frame]) -> Iterator[Found]:
        """Those of some frames that fit in a sentence. `added`: body parts that the sentence before speaks of."""
        whole = self.mentions(number)
        first = self.bounds[number][0]
        if added:
            # "My left calf. Swollen and hot.": the part of the sentence before.
            whole = {**whole, **{name: [(first, first)] for name in sorted(added)}}
        within_clause, within_sentence = _by_width(frames, whole)
        if within_clause:
            clauses = self._clauses(number)
            for low, high in clauses:
                within = whole if len(clauses) == 1 else _within(whole, low, high)
                yield from self._in(within, whole, within_clause)
        if within_sentence:
            yield from self._in(whole, whole, within_sentence)

    def _joined(self) -> Iterator[Found]:
        """Frames over a short sentence and its neighbour; not where numbers stand, they are scores and amounts."""
        for place in range(1, len(self.bounds)):
            (first, border), (_, last) = self.bounds[place - 1], self.bounds[place]
            tokens = self.tokens[first:last]
            if max(border - first, last - border) > _LONGEST_JOINED or any(map(str.isdigit, tokens)):
                continue
            frames = self.known.fitting(self.classes[place - 1] | self.classes[place])
            if not frames or any(each[0].isdigit() for each in tokens):
                continue
            one, other = self.tokens[first:border], self.tokens[border:last]
            words = min(sum(each[0].isalnum() for each in one), sum(each[0].isalnum() for each in other))
            if not 0 < words <= self.known.joined_words:
                continue
            before, after = self.mentions(place - 1), self.mentions(place)
            both = {name: [*before.get(name, ()), *after.get(name, ())] for name in before | after}
            for of_width in _by_width(frames, both):
                for found in self._in(both, both, of_width):
                    across = found.start < self.starts[border] <= found.end
                    if across and found.frame.code in self.known.joined_codes:
                        yield found

    def _in(self, of: dict[str, list[Span]], whole: dict[str, list[Span]], frames: list[Frame]) -> Iterator[Found]:
        """Those of some frames that fit among the mentions `of` a clause or sentence; `whole` is the sentence, for excuses."""
        named = of.keys()
        for frame in frames:
            if frame.needed <= named and frame.code not in self.settled:
                for spans in _fits(frame, of, self.commas):
                    if frame.unless and self._excused(frame.unless, min(spans)[0], max(spans)[1], whole):
                        self.excused.add(frame.code)
                    else:
                        yield self._placed(frame, spans)

    def _placed(self, frame: Frame, spans: tuple[Span, ...]) -> Found:
        starts, ends = self.starts, self.ends
        # An empty span is carried over from the sentence before.
        places = {
            name: (starts[first], ends[last - 1] if last > first else starts[first])
            for name, (first, last) in zip(frame.classes, spans, strict=True)
        }
        parts = [span for name, span in places.items() if name not in self.known.places] or [*places.values()]
        parts.sort()
        return Found(frame, min(places.values())[0], max(end for _, end in places.values()), tuple(parts))

    def phrase_excused(self, code: RedFlag, start: int, end: int) -> bool:
        """Whether an excuse stands near the set phrase at the characters `start`..`end`."""
        unless = self.known.phrases_unless.get(code)
        if not unless:
            return False
        number = max(0, bisect_right(self.sentences, (start, len(self.starts) + start + 1)) - 1)
        first, last = bisect_left(self.starts, start), bisect_left(self.starts, end)
        return self._excused(unless, first, last, self.mentions(number))

    def _excused(self, unless: frozenset[str], first: int, last: int, mentions: dict[str, list[Span]]) -> bool:
        for name in unless & mentions.keys():
            reach = len(self.tokens) if name in self.known.anywhere else _EXCUSE_REACH
            places = mentions[name]
            for place in range(bisect_left(places, (first - reach, 0)), len(places)):
                each = places[place]
                if each[0] > last + reach:
                    break
                if self.known.denied.isdisjoint(self.tokens[max(0, each[0] - 3) : each[0]]):
                    return True
        return False


@cache
def _spelt_out(pattern: re.Pattern[str]) -> frozenset[str]:
    """The words and marks that a pattern is written with: it matches no text without one of them, if it needs any."""
    return frozenset(TOKEN.findall(pattern.pattern))


def _by_width(frames: list[Frame], mentions: dict[str, list[Span]]) -> tuple[list[Frame], list[Frame]]:
    """Those within a clause and those of a whole sentence, each in the order in which their anchors are mentioned."""
    if len(frames) > 1:
        order = {name: number for number, name in enumerate(mentions)}
        frames = sorted(frames, key=lambda each: order[each.classes[each.anchor]])
    return [each for each in frames if not each.sentence], [each for each in frames if each.sentence]


def _within(mentions: dict[str, list[Span]], low: int, high: int) -> dict[str, list[Span]]:
    within: dict[str, list[Span]] = {}
    for name, spans in mentions.items():
        near = spans[bisect_left(spans, (low, 0)) : bisect_left(spans, (high + 1, 0))]
        kept = [each for each in near if each[1] <= high]
        if kept:
            within[name] = kept
    return within
