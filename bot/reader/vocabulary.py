"""The vocabulary files, compiled once when they are first needed."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bot.program.terms import Activity, Exercise, PlanDone, RestPattern


def words_pattern(alternatives: list[str]) -> re.Pattern[str]:
    """One pattern for whole words or phrases, the longest first."""
    ordered = sorted(alternatives, key=len, reverse=True)
    return re.compile(r"(?<![\w'])(?:" + "|".join(ordered) + r")(?!\w)")


def _cue(alternatives: list[str]) -> re.Pattern[str]:
    return re.compile(r"\b(?:" + "|".join(alternatives) + r")\b")


@dataclass(frozen=True, kw_only=True, slots=True)
class Vocabulary:
    """Compiled patterns by what they find."""

    numbers: dict[str, int]
    number: re.Pattern[str]
    not_a_number: re.Pattern[str]
    """Words before "one" with which it counts nothing ("the second one")."""
    yesterday: re.Pattern[str]
    today: re.Pattern[str]
    correction: re.Pattern[str]
    no_pain: re.Pattern[str]
    nothing: re.Pattern[str]
    settled: re.Pattern[str]
    spelling: re.Pattern[str]
    """Every listed misspelling in one pattern; the group that matched, `s0`, `s1` ..., says which of `spelled` is right."""
    spelled: dict[str, str]
    figures: re.Pattern[str]
    activities: dict[Activity, re.Pattern[str]]
    exercises: dict[Exercise, re.Pattern[str]]
    rest: dict[RestPattern, re.Pattern[str]]
    plan: dict[PlanDone, re.Pattern[str]]
    denied_before: re.Pattern[str]
    denied_after: re.Pattern[str]
    first: re.Pattern[str]
    worst: re.Pattern[str]
    at_rest: re.Pattern[str]
    score_cue: re.Pattern[str]
    score_filler: frozenset[str]
    other_part: re.Pattern[str]


@cache
def vocabulary() -> Vocabulary:
    """The vocabulary of `vocabulary/words.toml`."""
    text = files("bot.reader").joinpath("vocabulary", "words.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    denied_before = "|".join(sorted(data["negation"]["before"], key=len, reverse=True))
    score, cues = data["score"], data["cues"]
    return Vocabulary(
        numbers=data["numbers"],
        number=re.compile(r"\b(" + "|".join(sorted(data["numbers"], key=len, reverse=True)) + r")\b"),
        not_a_number=re.compile(r"\b(" + "|".join(cues["not_a_number"]) + r") one\b"),
        yesterday=_cue(cues["yesterday"]),
        today=_cue(cues["today"]),
        correction=_cue(cues["correction"]),
        no_pain=words_pattern(cues["no_pain"]),
        nothing=re.compile(r"^\W*(?:" + "|".join(cues["nothing"]) + r")(?: at all)?\W*$"),
        settled=_cue(cues["settled"]),
        spelling=re.compile(
            r"(?<![\w'])(?:" + "|".join(f"(?P<s{n}>{wrong})" for n, wrong in enumerate(data["spelling"])) + r")(?!\w)"
        ),
        spelled={f"s{n}": right for n, right in enumerate(data["spelling"].values())},
        figures=words_pattern(data["figures"]["phrases"]),
        activities={Activity(name): words_pattern(each) for name, each in data["activities"].items()},
        exercises={Exercise(name): words_pattern(each) for name, each in data["exercises"].items()},
        rest={RestPattern(name): words_pattern(each) for name, each in data["rest"].items()},
        plan={PlanDone(name): words_pattern(each) for name, each in data["plan"].items()},
        denied_before=re.compile(rf"(?<![\w'])(?:{denied_before})(?:\s+[\w']+){{0,3}}\s*$"),
        denied_after=re.compile(
            r"^\s*(?:was|were|is|got)?\s*(?:"
            + "|".join(re.escape(each) for each in data["negation"]["after"])
            + r")(?!\w)"
        ),
        first=words_pattern(score["first"]),
        worst=words_pattern(score["worst"]),
        at_rest=words_pattern(score["rest"]),
        score_cue=re.compile(r"(?:^|[\s,:;(])(?:" + "|".join(score["cues"]) + r")\s*[:=]?\s*$"),
        score_filler=frozenset(score["filler_after"]),
        other_part=words_pattern(score["other_part"]),
    )
