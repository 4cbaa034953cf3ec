"""A server, a service on it, and the people of a small clinic."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.channels.running import Running, running
from tests.telegram_server import TelegramServer


@pytest.fixture
def server() -> Iterator[TelegramServer]:
    """A Bot API server; what it refuses without being told to is a fault of ours."""
    with TelegramServer() as opened:
        yield opened


@pytest.fixture
def lite_url(tmp_path: Path) -> str:
    """A fresh SQLite file."""
    return f"sqlite:///{tmp_path / 'clinic.sqlite3'}"


@pytest.fixture
def service(server: TelegramServer, lite_url: str) -> Iterator[Running]:
    """The service, by long polling."""
    with running(server, lite_url) as started:
        yield started
