"""The same reply is read in the same way by every process: Python's hash seed must not decide in which order sets are walked."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

LINES = Path(__file__).parent / "corpus" / "writer_fir.jsonl"


def _read_with_seed(seed: str) -> str:
    return subprocess.run(
        [sys.executable, "-m", "bot", "read", "--explain"],
        input=LINES.read_text(encoding="utf-8"),
        env=os.environ | {"PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        check=True,
    ).stdout


def test_the_hash_seed_changes_nothing() -> None:
    first = _read_with_seed("1")
    assert len(first.splitlines()) > 100
    assert _read_with_seed("2") == first
