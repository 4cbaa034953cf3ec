"""Spelling for warning signs: slips in the words that matter are put right, common English words are left alone."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from rapidfuzz import process
from rapidfuzz.distance import OSA

from bot.reader.frames import signs
from bot.reader.triggers import WORD, Triggers, everyday

_WORD = re.compile(r"(?<![\w'])[^\W\d_]{4,20}(?![\w'])")
_UNIT = re.compile(r"\d\s?[hkms]")
_GLUED_UNIT = re.compile(r"(\d)(min|hour|sec|km|mile)s?\b")
_UNITS = re.compile(
    r"(\d)\s?(?:(mins?|minutes?|m(?=\s+(?:walk|of walking)))|(hrs?|hours?)"
    r"|(?:kms?|kilometres?|kilometers?|k(?= (?:walk|run|ran|jog|ride|bike|round|along))))\b"
)
_LOOK = re.compile(r"\(\?<?[=!](?:[^()]|\([^()]*\))*\)")
"""What a slip must or must not stand beside."""
_MORE_THAN_A_WORD = re.compile(r" |\(\?<?[=!]")
_KEPT_WORDS = 20_000
_SHORTEST = 5
"""Letters of a word that one slip is forgiven in; shorter words are too near to others."""
_LONG_WORD = 9
"""From this many letters on, two slips of spelling are forgiven, below it one."""
_ENDINGS = ("s", "es", "ed", "ing", "d", "er", "y", "ly")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Spelling:
    right: dict[str, tuple[str, ...]]
    """The words that slips are put right to, by their first letter, which people get right."""
    short: dict[str, tuple[str, ...]]
    """Words of four letters that one slip is forgiven in, in the same way."""
    leave: frozenset[str]
    known: frozenset[str]
    """Words that are left alone with an ending too."""
    join: frozenset[str]
    seen: dict[str, str]
    """Words met so far, and how they are spelt right."""
    plain: set[str]
    """Words met so far in which nothing is to be put right, whatever stands beside them."""
    slips: Triggers
    """Every listed slip, first those of the other readers (spelling.toml), then those of warning signs."""
    right_of: tuple[str, ...]
    """What each of `slips` is put right to."""


def _by_first_letter(words: Iterable[str]) -> dict[str, tuple[str, ...]]:
    letters: dict[str, list[str]] = {}
    for word in sorted(set(words)):
        letters.setdefault(word[0], []).append(word)
    return {letter: tuple(each) for letter, each in letters.items()}


@cache
def _spelling() -> _Spelling:
    folder = files("bot.reader").joinpath("vocabulary")
    everything: dict[str, Any] = tomllib.loads(folder.joinpath("flags.toml").read_text(encoding="utf-8"))
    data = everything["spelling"]
    shared: dict[str, Any] = tomllib.loads(folder.joinpath("spelling.toml").read_text(encoding="utf-8"))
    slips: dict[str, str] = {**shared["patterns"], **data["fixed"]}
    common = {
        line.strip()
        for name in ("common_words.txt", "spoken_words.txt")
        for line in folder.joinpath(name).read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    }
    common.update(shared["leave"]["words"])
    starts = tuple(each for each in signs().starts if len(each) >= _SHORTEST)
    right = {
        *data["right"],
        *(each for each in signs().words if len(each) >= _SHORTEST),
        *(each for each in common if each.startswith(starts)),
    }
    known = {*right, *signs().words}
    return _Spelling(
        right=_by_first_letter(right),
        short=_by_first_letter(data["short"]),
        leave=frozenset({*common, *known, *data["leave"]}),
        known=frozenset(known),
        join=frozenset({*signs().words, *data["right"], *data["little_words"]}),
        seen={},
        plain=set(),
        slips=Triggers(list(slips), everyday()),
        right_of=tuple(slips.values()),
    )


def _unit(found: re.Match[str]) -> str:
    return found[1] + (" min" if found[2] else " hour" if found[3] else " km")


def spelt(text: str) -> tuple[str, set[str]]:
    """The text with units in one spelling and slips in the words that matter here put right, and its different words.

    Linear in the length of the text.
    """
    spelling = _spelling()
    if _UNIT.search(text):
        text = _UNITS.sub(_unit, _GLUED_UNIT.sub(r"\1 \2", text))
    words = set(WORD.findall(text))
    doubtful = words - spelling.plain
    if not doubtful:
        return text, words
    mended = _listed(spelling, text, words)
    wrong: dict[str, str] = {}
    for word in doubtful:
        right = spelling.seen.get(word) or _looked_at(spelling, word)
        if right != word:
            wrong[word] = right
    if wrong:
        mended = _WORD.sub(lambda found: wrong.get(found[0], found[0]), mended)
    return mended, words if mended == text else set(WORD.findall(mended))


def _listed(spelling: _Spelling, text: str, words: set[str]) -> str:
    for number in spelling.slips.present(words):
        text = spelling.slips.compiled(number).sub(spelling.right_of[number], text)
    return text


def _looked_at(spelling: _Spelling, word: str) -> str:
    """How a word is spelt right; kept, since replies are made of few different words."""
    right = word
    ended = any(word.endswith(each) and word[: -len(each)] in spelling.known for each in _ENDINGS)
    if _WORD.fullmatch(word) and word not in spelling.leave and not ended:
        right = _listed(spelling, _nearest(word), {word})
    if len(spelling.seen) >= _KEPT_WORDS:
        spelling.seen.clear()
        spelling.plain.clear()
    spelling.seen[word] = right
    if right == word and not _may_be_slip(spelling, word):
        spelling.plain.add(word)
    return right


def _may_be_slip(spelling: _Spelling, word: str) -> bool:
    """Whether a listed slip that is looked for by this word may change it, or words beside it."""
    for number in spelling.slips.looked_for_by(word):
        alone = _alone(spelling.slips.patterns[number])
        if alone is None or (word != spelling.right_of[number] and alone.match(word)):
            return True
    return False


@lru_cache(maxsize=256)
def _alone(slip: str) -> re.Pattern[str] | None:
    """A slip whatever stands beside it; `None` where it is more than one word."""
    bare = _LOOK.sub("", slip)
    return None if _MORE_THAN_A_WORD.search(bare) else re.compile(rf"(?:{bare})(?!\w)")


def _nearest(word: str) -> str:
    spelling = _spelling()
    if len(word) >= _SHORTEST:
        slips = 2 if len(word) >= _LONG_WORD else 1
        best = process.extractOne(word, spelling.right.get(word[0], ()), scorer=OSA.distance, score_cutoff=slips)
        if best is not None:
            return best[0]
    best = process.extractOne(word, spelling.short.get(word[0], ()), scorer=OSA.distance, score_cutoff=1)
    if best is not None:
        return best[0]
    # Run together: "myfoot", "cantwalk".
    for cut in range(2, len(word) - 1):
        if word[:cut] in spelling.join and word[cut:] in spelling.join and max(cut, len(word) - cut) >= 4:
            return f"{word[:cut]} {word[cut:]}"
    return word
