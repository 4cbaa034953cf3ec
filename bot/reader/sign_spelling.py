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

_WORD = re.compile(r"(?<![\w'])[^\W\d_]{4,20}(?![\w'])")
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
    join: frozenset[str]
    fixed: re.Pattern[str]
    """Every listed slip in one pattern; the group that matched, `f0`, `f1` ..., says which of `fixed_to` is right."""
    fixed_to: dict[str, str]


def _by_first_letter(words: Iterable[str]) -> dict[str, tuple[str, ...]]:
    letters: dict[str, list[str]] = {}
    for word in sorted(set(words)):
        letters.setdefault(word[0], []).append(word)
    return {letter: tuple(each) for letter, each in letters.items()}


@cache
def _spelling() -> _Spelling:
    folder = files("bot.reader").joinpath("vocabulary")
    data: dict[str, Any] = tomllib.loads(folder.joinpath("flags.toml").read_text(encoding="utf-8"))["spelling"]
    common = {
        line.strip()
        for name in ("common_words.txt", "spoken_words.txt")
        for line in folder.joinpath(name).read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    }
    starts = tuple(each for each in signs().starts if len(each) >= _SHORTEST)
    right = {
        *data["right"],
        *(each for each in signs().words if len(each) >= _SHORTEST),
        *(each for each in common if each.startswith(starts)),
    }
    known = {*right, *signs().words}
    with_endings = {each + ending for each in known for ending in _ENDINGS}
    return _Spelling(
        right=_by_first_letter(right),
        short=_by_first_letter(data["short"]),
        leave=frozenset({*common, *known, *with_endings, *data["leave"]}),
        join=frozenset({*signs().words, *data["right"], *data["little_words"]}),
        fixed=re.compile(
            r"(?<![\w'])(?:" + "|".join(f"(?P<f{n}>{wrong})" for n, wrong in enumerate(data["fixed"])) + r")(?!\w)"
        ),
        fixed_to={f"f{n}": right_word for n, right_word in enumerate(data["fixed"].values())},
    )


def spelt(text: str) -> str:
    """The text with slips in the words that matter here put right. Linear in its length."""
    spelling = _spelling()

    def right(found: re.Match[str]) -> str:
        word = found[0]
        return word if word in spelling.leave else _nearest(word)

    text = _WORD.sub(right, text)
    return spelling.fixed.sub(lambda found: spelling.fixed_to[found.lastgroup or ""], text)


@lru_cache(maxsize=20_000)
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
