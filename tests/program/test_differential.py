"""The rules engine against a second implementation, written from the rules' text alone (tests/oracle)."""

from __future__ import annotations

import random

import pytest

from tests.oracle.histories import random_programme
from tests.oracle.reference import run
from tests.program.differential import differences, replay


@pytest.mark.parametrize("seed", range(60))
def test_the_engine_decides_every_day_as_the_plain_reading_of_the_rules_does(seed: int) -> None:
    chance = random.Random(seed)
    programme = random_programme(chance, chance.choice([30, 60, 120, 200]))
    theirs, ours = run(programme), replay(programme)
    assert len(theirs) == len(ours) == len(programme["days"])
    for one, other in zip(theirs, ours, strict=True):
        assert not differences(one, other), (differences(one, other), one, other)
