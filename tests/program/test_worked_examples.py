"""The worked examples of the rules, each numbered rule on both sides of its boundary, through the engine.

The cases stand in tests/oracle/test_reference.py, with their rule and source beside them; there they check the plain
implementation, here the same functions run against the rules engine.
"""

from __future__ import annotations

import pytest

from tests.oracle import test_reference as examples
from tests.program.differential import rounded

_LEFT_OUT = {
    # Compares the oracle's own names of reasons; the differential test covers the rule.
    "test_standing_on_one_foot_waits_for_day_22_and_each_towel_dose_for_14_days",
    # Compares the reference on the day of the release itself, which the engine already gives anew (5.4).
    "test_nobody_is_rested_for_ever",
}
_EXAMPLES = {name: case for name, case in vars(examples).items() if name.startswith("test_")}


def test_what_is_left_out_is_there_and_most_is_taken() -> None:
    assert set(_EXAMPLES) >= _LEFT_OUT
    assert len(_EXAMPLES) - len(_LEFT_OUT) > 50


@pytest.fixture(autouse=True)
def engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every example that calls `run` gets the engine's days."""
    monkeypatch.setattr(examples, "run", rounded)


globals().update({name: case for name, case in _EXAMPLES.items() if name not in _LEFT_OUT})
