"""`heel-checkin` as a process of its own, as an operator runs it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.telegram_server.control import Control

ROOT = Path(__file__).resolve().parents[2]


def environment(server: Control | None, url: str, **settings: str) -> dict[str, str]:
    """The settings; None of this shell's own."""
    given = {name: value for name, value in os.environ.items() if not name.startswith("HEEL_CHECKIN_")}
    given["HEEL_CHECKIN_DATABASE_URL"] = url
    if server is not None:
        given |= {"HEEL_CHECKIN_TELEGRAM_TOKEN": server.token, "HEEL_CHECKIN_TELEGRAM_API": server.url}
    return given | {f"HEEL_CHECKIN_{name.upper()}": value for name, value in settings.items()}


def start(*arguments: str, environment: dict[str, str], log: Path | None = None) -> subprocess.Popen[str]:
    """Start it. Its log goes to a file, or can be read from the process."""
    command = [sys.executable, "-m", "bot", *arguments]
    if log is None:
        return subprocess.Popen(
            command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
    with log.open("a") as held:
        return subprocess.Popen(command, cwd=ROOT, env=environment, stdout=held, stderr=held, text=True)
