"""Red flags by words: spelling first, then findings from the vocabulary, then their scope (`bot.reader.scope`)."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from rapidfuzz.distance import OSA

from bot.program.terms import Asked, RedFlag
from bot.reader.normalise import SENTENCE_END, normalised
from bot.reader.reading import FlagFinding
from bot.reader.scope import Scope, set_aside

_BETWEEN = r"(?:[\s,]+[\w']+){0,5}?[\s,]+"
_CLAUSE = re.compile(r"\s(?:but|except|apart from|although|though|whereas|while)\s|\s-+\s|[()]")
_WORD = re.compile(r"[^\W\d_]{5,}")
_KEEPS_APART = re.compile(
    r"\b(?:not|no|isn't|aren't|wasn't|weren't|never|nothing|hasn't|nor|normal|fine|ok|same|and (?:my|i))\b"
)
_NEAR = 7
"""Words that may stand between two signs that belong together."""
_LONG_WORD = 10
"""From this many letters on, two slips of spelling are forgiven, below it one."""
_DENIED_INSIDE = frozenset(
    {
        RedFlag.CLOT_SIGNS,
        RedFlag.INFECTION_SIGNS,
        RedFlag.CIRCULATION_SIGNS,
        RedFlag.JOINT_SIGNS,
        RedFlag.SYSTEMIC_SIGNS,
    }
)
"""Signs that are body part and quality with words in between, where a denial may stand ("calf not hot")."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Sign:
    present: re.Pattern[str]
    together: tuple[tuple[re.Pattern[str], re.Pattern[str]], ...]
    unsure: re.Pattern[str]
    unless: re.Pattern[str] | None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Vocabulary:
    signs: dict[RedFlag, _Sign]
    figures: re.Pattern[str]
    scope: Scope
    spell_right: dict[str, None]
    spell_leave: frozenset[str]
    spell_fixed: tuple[tuple[re.Pattern[str], str], ...]


def _pattern(alternatives: list[str], words: dict[str, str]) -> re.Pattern[str]:
    made: list[str] = []
    for each in sorted(alternatives, key=len, reverse=True):
        # A last part that may be missing takes its gap with it.
        each = re.sub(r" ~ (\((?:[^()]|\([^()]*\))*\))\?$", "", each)
        each = re.sub(r"\{([a-z_]+)\}", lambda found: words[found[1]], each)
        # A word in between may have an apostrophe ("I've"), but is no denial.
        each = each.replace(r"(?:\w+ )", r"(?:(?!\w+n't)[\w']+ )")
        each = each.replace(r"(?: \w+)", r"(?: (?!\w+n't)[\w']+)")
        made.append(each.replace(" ~ ", _BETWEEN))
    return re.compile(r"(?<![\w'])(?:" + "|".join(made) + r")(?!\w)")


@cache
def _vocabulary() -> _Vocabulary:
    text = files("bot.reader").joinpath("vocabulary", "flags.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    words = {name: "(?:" + "|".join(each) + ")" for name, each in data["words"].items()}
    scope = data["scope"]
    signs: dict[RedFlag, _Sign] = {}
    for code in RedFlag:
        of = data[code]
        pairs = [each.split(" & ") for each in of.get("together", [])]
        signs[code] = _Sign(
            present=_pattern([*of["present"], *of.get("phrases", [])], words),
            together=tuple((_pattern([one], words), _pattern([other], words)) for one, other in pairs),
            unsure=_pattern(of["unsure"], words),
            unless=_pattern(of["unless"], words) if "unless" in of else None,
        )
    return _Vocabulary(
        signs=signs,
        figures=_pattern(data["figures"]["phrases"], words),
        scope=Scope(
            negation=re.compile(r"(?:(?<![\w'])(?:" + "|".join(scope["negation"]) + r")|n't)(?!\w)"),
            double=_pattern(scope["double_negation"], words),
            ends=_pattern(scope["ends"], words),
            list_items=_pattern(scope["list_items"], words),
            others=_pattern([f"(?:{each})(?:'?s)?" for each in scope["others"]], words),
            report=re.compile(r"\W*(?:\w+ )?(?:" + "|".join(scope["others_report"]) + r")(?!\w)"),
            history=_pattern(scope["history"], words),
            hypothetical=_pattern(scope["hypothetical"], words),
        ),
        spell_right=dict.fromkeys(data["spelling"]["right"]),
        spell_leave=frozenset(data["spelling"]["leave"]),
        spell_fixed=tuple((_pattern([wrong], words), right) for wrong, right in data["spelling"]["fixed"].items()),
    )


@cache
def _known(stem: str) -> frozenset[str]:
    return frozenset({stem, stem + "s", stem + "ed", stem + "es"})


def _spelt(vocabulary: _Vocabulary, text: str) -> str:
    """The text with slips in the words that matter here put right."""
    seen: dict[str, str] = {}

    def right(found: re.Match[str]) -> str:
        word = found[0]
        if word not in seen:
            seen[word] = _nearest(vocabulary, word)
        return seen[word]

    text = _WORD.sub(right, text)
    for wrong, word in vocabulary.spell_fixed:
        text = wrong.sub(word, text)
    return text


def _nearest(vocabulary: _Vocabulary, word: str) -> str:
    if word in vocabulary.spell_leave or word in vocabulary.spell_right or len(word) > 20:
        return word
    for target in vocabulary.spell_right:
        slips = 2 if len(target) >= _LONG_WORD else 1
        if word[0] != target[0] or abs(len(word) - len(target)) > slips:
            continue
        if word in _known(target):
            return word
        if OSA.distance(word, target, score_cutoff=slips) <= slips:
            return target
    return word


def _spans(pattern: re.Pattern[str], text: str, first: int, last: int) -> list[tuple[int, int]]:
    parts: list[tuple[int, int]] = []
    start = first
    for match in pattern.finditer(text, first, last):
        parts.append((start, match.end()))
        start = match.end()
    parts.append((start, last))
    return parts


def _pairs(
    one: re.Pattern[str], other: re.Pattern[str], text: str, clauses: list[tuple[int, int]]
) -> Iterator[tuple[int, int]]:
    for first, last in clauses:
        theirs = [found.span() for found in other.finditer(text, first, last)]
        if not theirs:
            continue
        starts = [span[0] for span in theirs]
        for found in one.finditer(text, first, last):
            at = bisect_right(starts, found.start())
            for start, end in theirs[max(0, at - 1) : at + 1]:
                gap = text[end : found.start()] if end <= found.start() else text[found.end() : start]
                apart = start >= found.end() or end <= found.start()
                if apart and len(gap) < 90 and len(gap.split()) <= _NEAR and not _KEEPS_APART.search(gap):
                    yield min(start, found.start()), max(end, found.end())


def _excused(unless: re.Pattern[str] | None, sentence: str) -> bool:
    """Whether the same sentence gives a plain reason ("on purpose"), and the reason is not itself denied."""
    if unless is None:
        return False
    return any(
        not re.search(r"(?:\b(?:not|no|without|never)|n't)(?: \w+){0,3} $", sentence[: found.start()][-40:])
        for found in unless.finditer(sentence)
    )


def _first(
    vocabulary: _Vocabulary,
    text: str,
    sentences: list[tuple[int, int]],
    code: RedFlag,
    candidates: Iterator[tuple[int, int]],
) -> str | None:
    starts = [each[0] for each in sentences]
    for start, end in candidates:
        sentence = sentences[max(0, bisect_right(starts, start) - 1)]
        inside = text[start:end].partition(" ")[2]
        if code in _DENIED_INSIDE and re.search(r"\b(?:not|no|isn't|aren't|wasn't|never|nothing)\b", inside):
            continue
        if _excused(vocabulary.signs[code].unless, text[max(sentence[0], start - 400) : min(sentence[1], end + 400)]):
            continue
        if not set_aside(vocabulary.scope, text, sentence, start, end, code):
            return text[start:end]
    return None


def _candidates(sign: _Sign, text: str, clauses: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    for found in sign.present.finditer(text):
        yield found.span()
    for one, other in sign.together:
        yield from _pairs(one, other, text, clauses)


def find_flags(text: str, asked: Asked) -> tuple[FlagFinding, ...]:
    """The warning signs that a reply speaks of as the patient's own present state, with the words they rest on.

    `asked` changes nothing yet: a sign counts whatever was asked. Never raises.
    """
    vocabulary = _vocabulary()
    plain = _spelt(vocabulary, normalised(text, number_words=False))
    plain = vocabulary.figures.sub(lambda found: "#" * len(found[0]), plain)
    sentences = _spans(SENTENCE_END, plain, 0, len(plain))
    clauses = [part for first, last in sentences for part in _spans(_CLAUSE, plain, first, last)]
    sure: dict[RedFlag, str] = {}
    unsure: dict[RedFlag, str] = {}
    for code, sign in vocabulary.signs.items():
        read = plain
        if code is RedFlag.NERVE_SIGNS and RedFlag.BLADDER_BOWEL_SADDLE in sure:
            # A numb saddle is named once (contract); a nerve sign of its own beside it stays.
            saddle = vocabulary.signs[RedFlag.BLADDER_BOWEL_SADDLE]
            letters = list(plain)
            for start, end in _candidates(saddle, plain, clauses):
                letters[start:end] = "#" * (end - start)
            read = "".join(letters)
        words = _first(vocabulary, read, sentences, code, _candidates(sign, read, clauses))
        if words is not None:
            sure[code] = words
            continue
        doubtful = _first(vocabulary, read, sentences, code, (found.span() for found in sign.unsure.finditer(read)))
        if doubtful is not None:
            unsure[code] = doubtful
    return (
        *(FlagFinding(code=code, words=words) for code, words in sure.items()),
        *(FlagFinding(code=code, words=words, certain=False) for code, words in unsure.items()),
    )
