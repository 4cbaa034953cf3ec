"""The invented caseload, played once for all tests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from bot.commands.demo_caseload import LAST_DAY, demo_caseload
from bot.digest.gather import gather
from bot.digest.values import History
from storage.database import Database


@dataclass(frozen=True, kw_only=True)
class Demo:
    """Five patients after twelve weeks, on the Monday morning after."""

    url: str
    database: Database
    ids: list[int]
    until: date
    now: datetime
    histories: dict[str, History]


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """The caseload of `heel-checkin digest --demo`, in a file."""
    path: Path = tmp_path_factory.mktemp("digest") / "demo.sqlite3"
    url = f"sqlite:///{path}"
    database, ids = demo_caseload(url)
    now = datetime.combine(LAST_DAY + timedelta(days=1), time(8), tzinfo=UTC)
    with database.session() as session:
        found = gather(session, ids, until=LAST_DAY, now=now).histories
    yield Demo(
        url=url, database=database, ids=ids, until=LAST_DAY, now=now, histories={each.alias: each for each in found}
    )
    database.close()
