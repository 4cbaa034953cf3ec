"""The vocabulary files, read once when they are first needed."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bot.program.terms import Activity, Exercise, PlanDone, RestPattern
from bot.reader.phrases import Phrases
from bot.reader.spelling import Spelling

_KEPT_WORDS = 20_000
PARTING = frozenset(".;?,-:(")
"""Marks that part sentences and clauses."""
_DRAWN_OUT = re.compile(r"([a-z])\1{2,}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Vocabulary:
    """Everything that the steps of the reader look up."""

    contractions: dict[str, tuple[str, ...]]
    fixed: dict[str, tuple[str, ...]]
    """Words that are always meant as other words."""
    seen: dict[str, tuple[str, ...]]
    """Typed words seen so far and what they stand for: replies are made of few different words."""
    spelling: Spelling
    numbers: dict[str, int]
    multiples: dict[str, int]
    fractions: dict[str, int]
    number_starts: frozenset[str]
    """Words with which a number in words may begin."""
    amount_starts: frozenset[str]
    amount_openings: frozenset[str]
    """The same, and units that may stand before their number."""
    amount_goes_on: frozenset[str]
    """What stands behind "a", "the" and the like, where they begin an amount."""
    noted: frozenset[str]
    """Words that a reply is looked through for, once for all of them: the starts and openings above, and `PARTING`."""
    units: dict[str, tuple[str, float]]
    other_units: frozenset[str]
    number_names: frozenset[str]
    months: frozenset[str]
    clock_before: frozenset[str]
    clock_only: frozenset[str]
    before_numbers: frozenset[str]
    """Words of all these kinds that before a number tell that it may be no amount."""
    after_numbers: frozenset[str]
    """The same of words behind it."""
    clock_verbs: frozenset[str]
    not_when: frozenset[str]
    """Words before "at 4" that speak of pain, not of the time."""
    range_between: frozenset[str]
    corrects: frozenset[str]
    corrects_opens: frozenset[str]
    not_a_number: frozenset[str]
    score_cues: frozenset[str]
    score_filler: frozenset[str]
    plan_alone: dict[str, PlanDone]
    """A whole reply that says how much of the plan was done."""
    plan_fillers: frozenset[str]
    phrases: Phrases
    """All phrases, each under a label such as "activity walking" or "cue yesterday"."""

    def parts(self, typed: str) -> tuple[str, ...]:
        """The words that a typed word stands for: short forms taken apart, slips of spelling put right."""
        found: list[str] = []
        drawn_out = _DRAWN_OUT.sub(r"\1", typed)
        if drawn_out != typed and (drawn_out in self.numbers or drawn_out in self.phrases.words):
            self.seen[typed] = self.parts(drawn_out)
            return self.seen[typed]
        twice = _DRAWN_OUT.sub(r"\1\1", typed)
        if twice != typed and (twice in self.numbers or twice in self.phrases.words):
            self.seen[typed] = self.parts(twice)
            return self.seen[typed]
        for part in self.fixed.get(typed) or self.contractions.get(typed) or _apart(typed):
            found.extend((part,) if "'" in part else self.spelling.corrected(part))
        if len(self.seen) >= _KEPT_WORDS:
            self.seen.clear()
        self.seen[typed] = tuple(found)
        return self.seen[typed]


def _apart(word: str) -> tuple[str, ...]:
    if "'" not in word:
        return (word,)
    stem, _, tail = word.rpartition("'")
    if stem in {"t", "th"} and len(tail) > 2:
        return "the", tail  # "t'allotment"
    if tail == "t" and len(stem) > 1 and stem.endswith("n"):
        return stem[:-1], "not"
    ending = {"m": "am", "re": "are", "ve": "have", "ll": "will", "d": "would", "s": "is"}.get(tail)
    return (stem, ending) if stem and ending else (word.replace("'", ""),)


def _file(name: str) -> str:
    return files("bot.reader").joinpath("vocabulary", name).read_text(encoding="utf-8")


def _labelled(data: dict[str, Any]) -> dict[str, list[str]]:
    phrases: dict[str, list[str]] = {
        "figure": data["figures"]["phrases"],
        "not_loading": data["not_loading"]["phrases"],
        "not_deeds": data["not_deeds"]["phrases"],
    }
    phrases |= {f"activity {Activity(name)}": each for name, each in data["activities"].items()}
    phrases |= {f"exercise {Exercise(name)}": each for name, each in data["exercises"].items()}
    rest = data["rest"]
    phrases |= {f"place {name}": rest[name]["phrases"] for name in ("places", "free", "hurts")}
    phrases |= {f"rest {name}": rest[name] for name in RestPattern}
    phrases |= {f"plan {name}": data["plan"][name] for name in PlanDone}
    phrases |= {f"scope {name}": each for name, each in data["scope"].items()}
    phrases |= {f"score {name}": each for name, each in data["score"].items() if name not in {"cues", "filler_after"}}
    phrases |= {f"cue {name}": each for name, each in data["cues"].items()}
    return phrases


@cache
def vocabulary() -> Vocabulary:
    """The vocabulary of the files under `vocabulary/`. Raises `ValueError` or `KeyError` for a file that is not well-formed."""
    data: dict[str, Any] = tomllib.loads(_file("words.toml"))
    amounts: dict[str, Any] = tomllib.loads(_file("numbers.toml"))
    slips: dict[str, Any] = tomllib.loads(_file("spelling.toml"))
    numbers, multiples, words = amounts["numbers"], amounts["multiples"], amounts["words"]
    units = {name: (str(kind), float(factor)) for name, (kind, factor) in amounts["units"].items()}
    phrases = Phrases(_labelled(data))
    common = [line for line in _file("common_words.txt").splitlines() if not line.startswith("#")]
    common += slips["leave"]["words"]
    content = {
        each
        for group in ("activities", "exercises")
        for name in data[group]
        for each in data[group][name]
        if " " not in each
    }
    content |= numbers.keys() | units.keys() | set(slips["run_together"]["words"])
    number_starts = frozenset(numbers) | frozenset(words["number_starts"])
    amount_openings = listed["quantities", "units_before_number"].union(words["amount_starts"])
    known = phrases.words | numbers.keys() | multiples.keys() | units.keys()
    return Vocabulary(
        contractions={wrong: tuple(right.split()) for wrong, right in slips["contractions"].items()},
        fixed={wrong: tuple(right.split()) for wrong, right in slips["words"].items()},
        seen={},
        spelling=Spelling(known, common, content),
        numbers=numbers,
        multiples=multiples,
        fractions=amounts["fractions"],
        number_starts=number_starts,
        amount_starts=frozenset(words["amount_starts"]),
        amount_openings=amount_openings,
        amount_goes_on=listed["quantities", "between_article_and_unit", "one_of_several"].union(units),
        noted=number_starts | amount_openings | PARTING,
        units=units,
        other_units=frozenset(words["other_units"]),
        number_names=frozenset(words["number_names"]),
        months=frozenset(words["months"]),
        clock_before=frozenset(words["clock_before"]),
        clock_only=frozenset(words["clock_only"]),
        before_numbers=frozenset().union(
            *(words[name] for name in ("number_names", "months", "clock_before", "clock_only"))
        ),
        after_numbers=frozenset(words["other_units"]).union(words["months"]),
        clock_verbs=frozenset(words["clock_verbs"]),
        not_when=frozenset(words["not_when"]),
        range_between=frozenset(words["range_between"]),
        corrects=frozenset(words["corrects"]),
        corrects_opens=frozenset(words["corrects_opens"]),
        not_a_number=frozenset(words["not_a_number"]),
        score_cues=frozenset(data["score"]["cues"]),
        score_filler=frozenset(data["score"]["filler_after"]),
        plan_alone={words: kind for kind in (PlanDone.ALL, PlanDone.SOME) for words in data["plan_alone"][kind]},
        plan_fillers=frozenset(data["plan_alone"]["fillers"]),
        phrases=phrases,
    )


@cache
def words_with_digits() -> dict[str, str]:
    """Words typed with a digit in them ("b4")."""
    mixed: dict[str, str] = tomllib.loads(_file("spelling.toml"))["mixed"]
    return mixed


@cache
def dictated_scores() -> dict[str, str]:
    """Words that dictation writes for a number before "out of ten"."""
    spoken: dict[str, str] = tomllib.loads(_file("spelling.toml"))["spoken_scores"]
    return spoken


@cache
def _linking() -> dict[str, dict[str, frozenset[str]]]:
    lists: dict[str, dict[str, list[str]]] = tomllib.loads(_file("linking.toml"))
    return {step: {name: frozenset(words) for name, words in of.items()} for step, of in lists.items()}


class _Listed(dict[tuple[str, ...], frozenset[str]]):
    """The words of one or more lists of `vocabulary/linking.toml`: `listed["scores", "link"]`, the step first.

    A dictionary, since every step asks many times. Raises `KeyError` for a list that is not there.
    """

    def __missing__(self, key: tuple[str, ...]) -> frozenset[str]:
        lists = _linking()[key[0]]
        self[key] = lists[key[1]].union(*(lists[name] for name in key[2:]))
        return self[key]


listed = _Listed()
