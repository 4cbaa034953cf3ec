"""The amounts of two general-purpose recognisers' own test data, put into evening replies."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from bot.program.terms import Activity, Asked
from bot.reader import read

_GROUPS: list[dict[str, Any]] = json.loads((Path(__file__).parent / "outside_cases.json").read_text())["groups"]
_CASES = [(each["source"], each["unit"], phrase, value) for each in _GROUPS for phrase, value in each["cases"].items()]

_NOT_HERE = {
    "9m": "in a walk nine minutes are meant, not nine metres",
    "5 in": "a word here, not inches",
    '5"': "seconds of a hold here, not inches",
}


def _walked(text: str) -> dict[str, float | None]:
    walks = [each for each in read(text, Asked.EVENING).activities if each.activity is Activity.WALKING]
    if len(walks) != 1:
        return {}
    return {"minutes": walks[0].minutes, "km": walks[0].km, "steps": walks[0].steps}


def _is(found: float | None, value: float) -> bool:
    return found is not None and math.isclose(found, value, rel_tol=1e-9, abs_tol=1e-9)


@pytest.mark.parametrize(("source", "unit", "phrase", "value"), [each for each in _CASES if each[2] not in _NOT_HERE])
def test_an_amount_is_worth_what_the_source_says(source: str, unit: str, phrase: str, value: float) -> None:
    if unit == "minutes":
        assert _is(_walked(f"walked for {phrase}")["minutes"], value)
        assert _is(_walked(f"went for a walk, {phrase}. Worst 4")["minutes"], value)
    elif unit == "km":
        assert _is(_walked(f"walked {phrase}")["km"], value)
        assert _is(_walked(f"I walked {phrase} today, worst 3")["km"], value)
    elif value <= 10:
        # A pain score goes to its higher whole value (the reader's contract).
        assert read(f"pain {phrase}", Asked.EVENING).worst_pain == math.ceil(value)
    elif float(value).is_integer():
        assert _is(_walked(f"walked {phrase} steps")["steps"], value)
    else:
        assert _is(_walked(f"walked {phrase} minutes")["minutes"], value)


def test_what_is_read_otherwise_has_a_reason_and_stays_below_three_in_a_hundred() -> None:
    phrases = {each[2] for each in _CASES}
    assert _NOT_HERE.keys() <= phrases
    assert len(_NOT_HERE) <= 0.03 * len(_CASES)
