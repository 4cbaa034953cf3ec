"""Several processes or threads on one database: nothing happens twice, and nobody trips over another."""

from __future__ import annotations

import multiprocessing
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psycopg
import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import make_url, text

from storage import messages, people
from storage.database import Database, _write_ahead, alembic_config, open_database

NOW = datetime(2026, 3, 2, 7, tzinfo=UTC)
_AT_ONCE = 4


def _all_at_once(work: Callable[[], Any]) -> list[Any]:
    gate = threading.Barrier(_AT_ONCE)

    def one(_number: int) -> Any:
        gate.wait(10)
        return work()

    with ThreadPoolExecutor(_AT_ONCE) as pool:
        return list(pool.map(one, range(_AT_ONCE)))


def test_a_prompt_queued_by_four_at_once_is_queued_once(database: Database) -> None:
    def work() -> bool:
        with database.session() as session:
            return messages.queue(
                session,
                key="prompt:1:2026-03-02:morning",
                channel="t",
                address="p",
                text="x",
                kind="prompt",
                due_at=NOW,
            )

    assert sorted(_all_at_once(work)) == [False, False, False, True]


def test_an_update_handed_over_by_four_at_once_is_stored_once(database: Database) -> None:
    def work() -> bool:
        with database.session() as session:
            stored = messages.store_incoming(
                session,
                channel="t",
                update_id="7",
                address="p",
                kind="text",
                text="4, none",
                sent_at=NOW,
                received_at=NOW,
            )
            return stored is not None

    assert sorted(_all_at_once(work)) == [False, False, False, True]


def test_processes_that_open_a_new_file_at_once_migrate_it_once(tmp_path: Path) -> None:
    _opened_at_once(f"sqlite:///{tmp_path / 'new.sqlite3'}")


@pytest.mark.postgres
def test_processes_that_open_a_new_database_at_once_migrate_it_once(postgres_server: str) -> None:
    # Not from the template, which is migrated already.
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute("CREATE DATABASE opened_at_once")
    url = make_url(postgres_server).set(drivername="postgresql+psycopg", database="opened_at_once")
    _opened_at_once(url.render_as_string(hide_password=False))


_HEAD = ScriptDirectory.from_config(alembic_config()).get_current_head()


def _opened_at_once(url: str) -> None:
    # Alembic's context is one a process: threads would trip over that, not over the database.
    with multiprocessing.get_context("fork").Pool(_AT_ONCE) as pool:
        assert pool.map(_open_and_close, [url] * _AT_ONCE, chunksize=1) == [_HEAD] * _AT_ONCE


def _open_and_close(url: str) -> str:
    opened = open_database(url)
    with opened.engine.connect() as connection:
        found = str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one())
    opened.close()
    return found


@pytest.mark.postgres
@pytest.mark.parametrize("database_url", ["postgres"], indirect=True)
def test_due_patients_are_claimed_by_one_process_and_passed_over_by_the_other(database: Database) -> None:
    with database.session() as session:
        for number in range(4):
            people.add_patient(
                session,
                alias=str(number),
                channel="t",
                address=str(number),
                status="active",
                next_due_at=NOW,
                created_at=NOW,
            )
    with database.session() as one, database.session() as other:
        mine = {each.id for each in people.due_patients(one, NOW, 3)}
        theirs = {each.id for each in people.due_patients(other, NOW, 3)}
        assert (len(mine), len(theirs)) == (3, 1)
        assert not mine & theirs


class _LockedAtFirst:
    """A cursor that meets a lock some times, as one of about 170 does when six processes open a new file at once."""

    def __init__(self, times: int) -> None:
        self.left, self.done = times, []

    def execute(self, statement: str) -> None:
        if self.left:
            self.left -= 1
            raise sqlite3.OperationalError("database is locked")
        self.done.append(statement)


def test_the_switch_to_write_ahead_is_tried_again_and_given_up_in_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    waits: list[float] = []
    monkeypatch.setattr("storage.database.sleep", waits.append)
    cursor = _LockedAtFirst(3)
    _write_ahead(cursor)
    assert cursor.done == ["PRAGMA journal_mode=WAL"]
    assert len(waits) == 3
    with pytest.raises(sqlite3.OperationalError, match="locked"):
        _write_ahead(_LockedAtFirst(1_000_000))
    assert 9 < sum(waits) < 11, "about the ten seconds that every other lock is waited for"
