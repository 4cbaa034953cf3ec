"""Killed at any moment, the service loses nothing, and sends twice only what it had no time to note."""

from __future__ import annotations

from tests.crash.killing import kill_again_and_again
from tests.crash.zygote import Zygote


def test_five_kills_lose_nothing(zygote: Zygote, database_url: str) -> None:
    found = kill_again_and_again(zygote, database_url, kills=5, seed=20260304)
    assert found.accepted > 50, found
    assert found.prompts >= 10, found
