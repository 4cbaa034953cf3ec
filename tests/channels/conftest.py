"""A server, a service on it, and the people of a small clinic."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from storage.database import open_database
from tests.channels.running import Running, running
from tests.telegram_server import TelegramServer


@pytest.fixture
def server() -> Iterator[TelegramServer]:
    """A Bot API server; what it refuses without being told to is a fault of ours."""
    with TelegramServer() as opened:
        yield opened


@pytest.fixture(scope="session")
def lite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file that others are copied from."""
    path = tmp_path_factory.mktemp("template") / "migrated.sqlite3"
    open_database(f"sqlite:///{path}").close()
    return path


@pytest.fixture
def lite_url(tmp_path: Path, lite_template: Path) -> str:
    """A fresh, migrated SQLite file."""
    shutil.copy(lite_template, tmp_path / "clinic.sqlite3")
    return f"sqlite:///{tmp_path / 'clinic.sqlite3'}"


@pytest.fixture
def service(server: TelegramServer, lite_url: str) -> Iterator[Running]:
    """The service, by long polling."""
    with running(server, lite_url) as started:
        yield started
