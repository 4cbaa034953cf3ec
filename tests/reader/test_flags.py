"""Warning signs: recall and false alarms over lines written from how people talk (`flag_lines.jsonl`)."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.program.terms import Asked, RedFlag
from bot.reader.flags import find_flags

LINES: list[dict[str, Any]] = [
    json.loads(line) for line in (Path(__file__).parent / "flag_lines.jsonl").read_text(encoding="utf-8").splitlines()
]
URGENT = {
    "chest_or_breathing",
    "bladder_bowel_saddle",
    "self_harm",
    "clot_signs",
    "infection_signs",
    "sudden_pop",
    "cannot_bear_weight",
    "new_injury",
    "circulation_signs",
    "skin_breakdown",
}
"""Emergency and same-day codes (reader's contract, "Red flags")."""


def _sure(text: str, asked: str = "any") -> set[str]:
    return {each.code.value for each in find_flags(text, Asked(asked)) if each.certain}


def _by_words(line: dict[str, Any]) -> bool:
    # Scores of 9 and 10 are read where scores are read.
    return not line["text"].strip().isdigit()


def test_recall_by_line_and_code_is_at_least_97_percent() -> None:
    asked = [(line, code) for line in LINES if _by_words(line) for code in line["red_flags"]]
    missed = [(line["text"], code) for line, code in asked if code not in _sure(line["text"], line["asked"])]
    assert len(asked) > 150
    assert len(missed) <= 0.03 * len(asked), missed


def test_no_urgent_line_goes_without_any_flag() -> None:
    urgent = [line for line in LINES if URGENT & set(line["red_flags"])]
    assert len(urgent) > 100
    assert [line["text"] for line in urgent if not find_flags(line["text"], Asked(line["asked"]))] == []


def test_at_most_3_percent_of_flag_free_lines_raise_one() -> None:
    free = [line for line in LINES if not line["red_flags"]]
    raised = [line["text"] for line in free if find_flags(line["text"], Asked(line["asked"]))]
    assert len(free) > 90
    assert len(raised) <= 0.03 * len(free), raised


@pytest.mark.parametrize("code", list(RedFlag))
def test_every_code_has_lines_and_most_are_found(code: RedFlag) -> None:
    lines = [line for line in LINES if code in line["red_flags"] and _by_words(line)]
    found = [line for line in lines if code in _sure(line["text"], line["asked"])]
    assert len(lines) >= 7
    assert len(found) >= len(lines) - 1


@pytest.mark.parametrize(
    ("present", "set_aside"),
    [
        ("my calf is swollen", "my calf is not swollen"),
        ("my toes went numb", "my toes never went numb"),
        ("my foot has gone blue", "my husband's foot has gone blue"),
        ("I fell on the stairs", "I fell on the stairs in 2012, long healed"),
        ("I have a fever", "what if I have a fever"),
        ("my foot is numb", "no fever, swelling or numbness"),
        ("not only sore but my toes are numb", "not numb, not tingling"),
        ("the wife says my foot is grey", "the wife has a grey foot"),
    ],
)
def test_scope_puts_aside_what_is_not_the_patients_own_present(present: str, set_aside: str) -> None:
    assert _sure(present)
    assert not find_flags(set_aside, Asked.ANY)


def test_doubtful_words_are_found_but_not_sure() -> None:
    (finding,) = find_flags("my foot feels a bit odd", Asked.EVENING)
    assert finding.code is RedFlag.NERVE_SIGNS
    assert not finding.certain
    assert finding.words in "my foot feels a bit odd"


@pytest.mark.parametrize("word", ["bothered", "numbered", "feeling", "bedding", "would", "fewer", "sweet", "swapped"])
def test_plain_words_are_not_taken_for_misspelt_signs(word: str) -> None:
    assert not find_flags(f"my foot {word} a bit", Asked.ANY)


@settings(max_examples=200, deadline=None)
@given(text=st.text(max_size=2_000), asked=st.sampled_from(list(Asked)))
def test_no_text_raises(text: str, asked: Asked) -> None:
    assert all(isinstance(each.code, RedFlag) for each in find_flags(text, asked))


@pytest.mark.parametrize(
    "part", ["calf foot no ", "not numb, ", "my mum's foot hurts and ", "a", "i have pain ", "if my toes "]
)
def test_time_grows_with_length_not_faster(part: str) -> None:
    def taken(length: int) -> float:
        text = (part * (length // len(part) + 1))[:length]
        start = time.perf_counter()
        find_flags(text, Asked.ANY)
        return time.perf_counter() - start

    taken(1_000)
    assert taken(40_000) < 14 * taken(10_000) + 0.2
