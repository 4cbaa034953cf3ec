"""Backups: consistent while others write, the same from and to either database, and refused where they do not fit."""

from __future__ import annotations

import json
import stat
import threading
import uuid
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from alembic import command
from sqlalchemy import func, make_url, text
from sqlmodel import Session, SQLModel, select

from storage import messages, people
from storage.backup import BackupError, backup, restore
from storage.database import Database, DatabaseError, alembic_config, open_database
from storage.tables import ClinicianAction, IncomingMessage, OutgoingMessage, Patient
from tests.privacy.lives import BEGUN, Life, everything, two_clinicians

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
NewUrl = Callable[[str], str]


@pytest.fixture
def new_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[NewUrl]:
    """Makes the URL of a database without any table, of either kind."""
    made: list[str] = []

    def make(kind: str) -> str:
        name = f"e{uuid.uuid4().hex}"
        if kind == "sqlite":
            return f"sqlite:///{tmp_path / name}.sqlite3"
        server: str = request.getfixturevalue("postgres_server")
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{name}"')
        made.append(name)
        return (
            make_url(server).set(drivername="postgresql+psycopg", database=name).render_as_string(hide_password=False)
        )

    yield make
    for name in made:
        server = request.getfixturevalue("postgres_server")
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def _filled(url: str, days: int = 6) -> Database:
    database = open_database(url)
    with database.session() as session:
        clinicians = two_clinicians(session)
        for number in range(3):
            word = f'w{number} "x"\n\u2028'
            Life(session, alias=f"P{number} é ✓", address=f"{number}", word=word, clinicians=clinicians, days=days)
        messages.take_pace(session, NOW, 1, per_second=25, burst=3)
        # SQL's NULL and JSON's null are two things.
        session.execute(text("UPDATE incoming_messages SET reading = NULL WHERE id = 1"))
        session.execute(text("UPDATE incoming_messages SET reading = 'null' WHERE id = 2"))
    return database


def _nulls(session: Session) -> list[int]:
    return list(session.execute(text("SELECT id FROM incoming_messages WHERE reading IS NULL ORDER BY id")).scalars())


@pytest.mark.parametrize("source", ["sqlite", "postgres"])
@pytest.mark.parametrize("target", ["sqlite", "postgres"])
def test_every_row_comes_back_in_either_database(new_url: NewUrl, tmp_path: Path, source: str, target: str) -> None:
    database, path, url = _filled(new_url(source)), tmp_path / "a.backup", new_url(target)
    manifest = backup(database.engine.url.render_as_string(hide_password=False), path, NOW)
    with database.session() as session:
        before, nulls = everything(session), _nulls(session)
        schema = session.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
    database.close()
    assert manifest.schema == schema
    assert manifest.rows == {name: len(rows) for name, rows in before.items()}
    assert manifest.total > 150
    assert restore(path, url) == manifest
    again = open_database(url)
    with again.session() as session:
        assert everything(session) == before
        assert _nulls(session) == nulls
        assert 1 in nulls
        assert 2 not in nulls
    # The restored database goes on: new rows of every table with a number of its own find a free one.
    with again.session() as session:
        clinicians = tuple(
            people.add_clinician(session, name=name, channel="telegram", address=name, timezone="UTC", now=NOW)
            for name in ("Dr Late", "Dr Later")
        )
        session.flush()
        life = Life(session, alias="New", address="new", word="new", clinicians=clinicians, days=2)  # type: ignore[arg-type]
        assert life.id == 4
    again.close()


def test_the_file_is_for_its_owner_only_and_replaces_none(new_url: NewUrl, tmp_path: Path) -> None:
    database, path = _filled(new_url("sqlite"), 1), tmp_path / "deep" / "a.backup"
    database.close()
    backup(str(database.engine.url), path, NOW)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    content = path.read_bytes()
    with pytest.raises(BackupError, match="is there already"):
        backup(str(database.engine.url), path, NOW)
    assert path.read_bytes() == content
    assert [each.name for each in path.parent.iterdir()] == ["a.backup"], "nothing is left lying about"


@pytest.mark.parametrize("kind", ["sqlite", "postgres"])
def test_a_backup_during_writes_is_of_one_moment(new_url: NewUrl, tmp_path: Path, kind: str) -> None:
    url = new_url(kind)
    _filled(url, 1).close()
    database, stop, problems, written = open_database(url), threading.Event(), [], [0]

    def writes() -> None:
        # Each transaction adds a message, its reply and an action: a moment has as many of each.
        number = 0
        while not stop.is_set():
            number += 1
            at = BEGUN + timedelta(seconds=number)
            try:
                with database.session() as session:
                    said = messages.store_incoming(
                        session, channel="t", update_id=f"w{number}", address="w", kind="text", text=f"busy {number}",
                        sent_at=at, received_at=at,
                    )  # fmt: skip
                    assert said is not None
                    session.flush()
                    messages.queue(
                        session, key=f"busy:{said.id}", channel="t", address="w", text="busy", kind="reply",
                        in_reply_to=said.id, due_at=at,
                    )  # fmt: skip
                    people.add_action(session, patient_id=1, clinician_id=None, kind="busy", details={}, now=at)
                written[0] = number
            except Exception as problem:
                problems.append(problem)
                return

    writer = threading.Thread(target=writes)
    writer.start()
    try:
        seen = []
        for number in range(4):
            before = written[0]
            while written[0] == before and not problems:
                pass
            backup(url, tmp_path / f"{number}.backup", NOW)
            seen.append((before, written[0]))
    finally:
        stop.set()
        writer.join()
        database.close()
    assert problems == []
    assert seen[-1][1] > seen[0][0] + 4, "the writer went on meanwhile"
    for number, (low, high) in enumerate(seen):
        target = new_url("sqlite")
        restore(tmp_path / f"{number}.backup", target)
        restored = open_database(target)
        with restored.session() as session:
            counts = {
                session.exec(select(func.count()).select_from(table).where(condition)).one()
                for table, condition in (
                    (IncomingMessage, IncomingMessage.address == "w"),
                    (OutgoingMessage, OutgoingMessage.address == "w"),
                    (ClinicianAction, ClinicianAction.kind == "busy"),
                )
            }
        restored.close()
        assert len(counts) == 1, "half a transaction got into the backup"
        assert low <= counts.pop() <= high + 1


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("good")
    url = f"sqlite:///{folder / 'a.sqlite3'}"
    _filled(url, 2).close()
    backup(url, folder / "good.backup", NOW)
    return folder / "good.backup"


def _changed(good: Path, path: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    with zipfile.ZipFile(good) as packed:
        members = {name: packed.read(name) for name in packed.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w") as packed:
        for name, content in members.items():
            packed.writestr(name, content)
    return path


def _manifest(**changes: Any) -> Callable[[dict[str, bytes]], None]:
    def change(members: dict[str, bytes]) -> None:
        members["manifest.json"] = json.dumps(json.loads(members["manifest.json"]) | changes).encode()

    return change


def _other_words(members: dict[str, bytes]) -> None:
    name = "tables/incoming_messages.jsonl"
    assert b"quite" not in members[name]
    members[name] = members[name].replace(b"walked", b"quite!", 1)


def _a_row_less(members: dict[str, bytes]) -> None:
    members["tables/day_decisions.jsonl"] = members["tables/day_decisions.jsonl"].partition(b"\n")[2]


def _a_table_less(members: dict[str, bytes]) -> None:
    del members["tables/patients.jsonl"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_other_words, "is damaged: table incoming_messages"),
        (_a_row_less, "is damaged: table day_decisions"),
        (_a_table_less, "is damaged"),
        (_manifest(format="other"), "is no heel-checkin backup"),
        (_manifest(version=2), "version 2 of the format"),
        (_manifest(schema="9999"), "a newer program made it"),
        (lambda members: members.pop("manifest.json"), "it has no manifest.json"),
        (lambda members: members.update({"manifest.json": b"{"}), "is damaged"),
        (lambda members: members.update({"manifest.json": b"[]"}), "is damaged"),
    ],
)
def test_what_is_no_whole_backup_is_refused(
    good: Path, tmp_path: Path, change: Callable[[dict[str, bytes]], None], told: str
) -> None:
    target = tmp_path / "t.sqlite3"
    with pytest.raises(BackupError, match=told):
        restore(_changed(good, tmp_path / "bad.backup", change), f"sqlite:///{target}")
    assert not target.exists()


def test_a_flipped_bit_anywhere_is_found(good: Path, tmp_path: Path) -> None:
    content, path = good.read_bytes(), tmp_path / "bad.backup"
    with zipfile.ZipFile(good) as packed:
        largest = max(packed.infolist(), key=lambda each: each.compress_size)
    for place in range(largest.header_offset + 100, largest.header_offset + largest.compress_size, 997):
        path.write_bytes(content[:place] + bytes([content[place] ^ 4]) + content[place + 1 :])
        with pytest.raises(BackupError):
            restore(path, f"sqlite:///{tmp_path / 't.sqlite3'}")
    for length in (0, 10, len(content) // 2, len(content) - 1):
        path.write_bytes(content[:length])
        with pytest.raises(BackupError):
            restore(path, f"sqlite:///{tmp_path / 't.sqlite3'}")


def test_other_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="There is no file"):
        restore(tmp_path / "none", f"sqlite:///{tmp_path / 't.sqlite3'}")
    (tmp_path / "text").write_text("hello")
    with pytest.raises(BackupError, match="is no heel-checkin backup"):
        restore(tmp_path / "text", f"sqlite:///{tmp_path / 't.sqlite3'}")
    with zipfile.ZipFile(tmp_path / "zip", "w") as packed:
        packed.writestr("a", "b")
    with pytest.raises(BackupError, match=r"it has no manifest\.json"):
        restore(tmp_path / "zip", f"sqlite:///{tmp_path / 't.sqlite3'}")


def test_a_database_that_holds_rows_is_left_alone(good: Path, database: Database, database_url: str) -> None:
    with database.session() as session:
        people.add_clinician(session, name="Dr Vale", channel="t", address="c", timezone="UTC", now=NOW)
    with pytest.raises(BackupError, match="holds rows already"):
        restore(good, database_url)
    with database.session() as session:
        assert people.clinician_by_address(session, "t", "c") is not None
        assert session.exec(select(func.count()).select_from(Patient)).one() == 0


def test_an_empty_database_of_this_program_is_filled(good: Path, database: Database, database_url: str) -> None:
    assert restore(good, database_url).rows["patients"] == 3
    with database.session() as session:
        assert session.exec(select(func.count()).select_from(Patient)).one() == 3


def test_a_database_of_something_else_is_left_alone(good: Path, new_url: NewUrl) -> None:
    url = new_url("sqlite")
    other = open_database(url, migrate=False)
    with other.engine.begin() as connection:
        connection.execute(text("CREATE TABLE orders (id INTEGER)"))
    with pytest.raises(BackupError, match="orders"):
        restore(good, url)
    with other.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM orders")).scalar_one() == 0
    other.close()
    with pytest.raises(BackupError, match="has no version"):
        backup(url, good.parent / "other.backup", NOW)


def test_a_restore_that_fails_leaves_nothing(
    good: Path, database: Database, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import storage.backup

    def breaks(connection: Any, table: Any) -> None:
        if table.name == "red_flags":
            raise BackupError("broken off")

    monkeypatch.setattr(storage.backup, "_set_sequence", breaks)
    with pytest.raises(BackupError, match="broken off"):
        restore(good, database_url)
    with database.session() as session:
        assert {name for name, rows in everything(session).items() if rows} == set()


@pytest.mark.parametrize("kind", ["sqlite", "postgres"])
def test_a_backup_of_the_first_version_is_restored_and_upgraded(new_url: NewUrl, tmp_path: Path, kind: str) -> None:
    old = open_database(new_url(kind), migrate=False)
    config = alembic_config()
    with old.engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(
            text(
                "INSERT INTO patients (id, alias, channel, foot, timezone, morning_time, evening_time, status, "
                "loading_stopped, phase_order_number, dose_order_number, dialogue, created_at) VALUES "
                "(7, 'Rowan', 'telegram', 'left', 'UTC', '07:00', '19:30', 'active', :no, 0, 0, '{\"a\": 1}', :at)"
            ),
            {"no": False, "at": "2026-03-02 07:00:00.000000"},
        )
    old.close()
    manifest = backup(old.engine.url.render_as_string(hide_password=False), tmp_path / "old.backup", NOW)
    assert manifest.schema == "0001"
    assert "alerts" not in manifest.rows
    url = new_url(kind)
    restore(tmp_path / "old.backup", url)
    restored = open_database(url)
    with restored.session() as session:
        patient = session.get(Patient, 7)
        assert patient is not None
        assert (patient.alias, patient.foot, patient.dialogue, patient.loading_stopped) == (
            "Rowan",
            "left",
            {"a": 1},
            False,
        )
        assert patient.created_at == datetime(2026, 3, 2, 7, tzinfo=UTC)
        assert patient.unreachable_at is None
        assert set(everything(session)) == set(SQLModel.metadata.tables)
    restored.close()


def test_a_database_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="There is no database"):
        backup(f"sqlite:///{tmp_path / 'none.sqlite3'}", tmp_path / "a", NOW)
    assert not (tmp_path / "none.sqlite3").exists()
    with pytest.raises(DatabaseError, match="cannot be reached"):
        backup("postgresql+psycopg://nobody@127.0.0.1:1/none", tmp_path / "a", NOW)
    assert list(tmp_path.iterdir()) == []


def test_a_damaged_database_is_not_taken_for_a_backup(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite3"
    _filled(f"sqlite:///{path}", 3).close()
    content = bytearray(path.read_bytes())
    for place in range(8192, len(content) - 4096, 4096 * 3):
        content[place : place + 64] = b"\xff" * 64
    path.write_bytes(content)
    with pytest.raises(BackupError, match=r"damaged|cannot be copied"):
        backup(f"sqlite:///{path}", tmp_path / "b", NOW)
    assert not (tmp_path / "b").exists()
