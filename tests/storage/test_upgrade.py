"""A database of the first version, full of rows, becomes one of today: nothing is lost, and the service goes on with it."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import MetaData, make_url, text
from sqlmodel import Session, SQLModel, select

from storage import messages, people
from storage.backup import backup, restore
from storage.database import Database, DatabaseError, alembic_config, changing_tables, open_database
from storage.erase import erase_patient
from storage.export import patient_record
from storage.tables import OutgoingMessage, Patient
from tests.privacy.lives import BEGUN, Life, everything, the_clinicians, traces, two_clinicians

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
FIRST = "0001"


@pytest.fixture(scope="module")
def today() -> dict[str, list[dict[str, Any]]]:
    """Rows as today's service writes them."""
    database = open_database("sqlite://")
    with database.session() as session:
        clinicians = two_clinicians(session)
        for number, alias in enumerate(("Rowan", "Wren")):
            Life(session, alias=alias, address=f"70010{number}", word=f"word{number}", clinicians=clinicians)
        for row in session.exec(select(OutgoingMessage)).all()[::2]:
            messages.mark_sent(session, row.id or 0, NOW)
    with database.session() as session:
        found = everything(session)
    database.close()
    return found


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A database without tables."""
    if request.param == "sqlite":
        opened = open_database(f"sqlite:///{tmp_path / 'old.sqlite3'}", migrate=False)
        yield opened
        opened.close()
        return
    server: str = request.getfixturevalue("postgres_server")
    name = f"u{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    url = make_url(server).set(drivername="postgresql+psycopg", database=name)
    opened = open_database(url.render_as_string(hide_password=False), migrate=False)
    yield opened
    opened.close()
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def _make_first_version(database: Database, rows: dict[str, list[dict[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    """The tables of the first version with those rows, as far as they had columns for them. Returns what was written."""
    config = alembic_config()
    written: dict[str, list[dict[str, Any]]] = {}
    with database.engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, FIRST)
        metadata = MetaData()
        metadata.reflect(bind=connection)
        sqlite = connection.dialect.name == "sqlite"
        for table in metadata.sorted_tables:
            if table.name == "alembic_version":
                continue
            old = [{name: value for name, value in row.items() if name in table.columns} for row in rows[table.name]]
            assert old, f"{table.name} has to be filled"
            connection.execute(
                table.insert(),
                [{name: _without_zone(value) if sqlite else value for name, value in row.items()} for row in old],
            )
            if not sqlite and "id" in table.columns:
                connection.execute(
                    text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), max(id)) FROM {table.name}")
                )
            written[table.name] = old
    return written


def _without_zone(value: Any) -> Any:
    return value.astimezone(UTC).replace(tzinfo=None) if isinstance(value, datetime) else value


def test_nothing_is_lost_on_the_way_up(empty: Database, today: dict[str, list[dict[str, Any]]]) -> None:
    written = _make_first_version(empty, today)
    assert len(written) == 14, "the tables of the first version"
    assert sum(len(rows) for rows in written.values()) > 400
    database = open_database(empty.engine.url.render_as_string(hide_password=False))
    with database.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), SQLModel.metadata) == []
        if connection.dialect.name == "sqlite":
            assert connection.execute(text("PRAGMA foreign_key_check")).all() == []
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
    with database.session() as session:
        after = everything(session)
        for table, rows in written.items():
            kept = [{name: row[name] for name in rows[0]} for row in after[table]]
            assert kept == rows, table
        # What is new has its first value, in every row.
        for table in set(after) - set(written):
            assert after[table] == []
        found = {(row["kind"], row["priority"]) for row in after["outgoing_messages"]}
        assert found == {("reply", 1), ("prompt", 2)}
        assert {(row["secret"], row["has_question"]) for row in after["outgoing_messages"]} == {(False, False)}
        assert {row["tells_at_once"] for row in after["clinicians"]} == {False}
        assert {row["undone_at"] for row in after["clinician_actions"]} == {None}
    database.close()


def test_the_service_goes_on_with_the_old_rows(empty: Database, today: dict[str, list[dict[str, Any]]]) -> None:
    written = _make_first_version(empty, today)
    database = open_database(empty.engine.url.render_as_string(hide_password=False))
    with database.session() as session:
        patient = people.patient_by_address(session, "telegram", "700100")
        assert patient is not None
        record = patient_record(session, patient.id or 0)
        assert len(record.mornings) == 19
        assert len(record.decisions) == 20
        waiting = messages.claim(session, NOW + timedelta(minutes=1), 10)
        assert [each.sent_at for each in waiting] == [None] * len(waiting)
        assert waiting, "what waited before is sent now"
        messages.mark_sent(session, waiting[0].id or 0, NOW)
    with database.session() as session:
        # An update that the first version answered is known.
        known = written["incoming_messages"][5]
        assert (
            messages.store_incoming(
                session,
                channel=known["channel"],
                update_id=known["update_id"],
                address=known["address"],
                kind="text",
                text="again",
                sent_at=NOW,
                received_at=NOW,
            )
            is None
        )
        Life(session, alias="New", address="new", word="new", clinicians=the_clinicians(session), begun=BEGUN)
    with database.session() as session:
        erase_patient(session, record.patient.id or 0, NOW + timedelta(days=1))
    with database.session() as session:
        assert traces(session, "Rowan", "700100", "word0") == []
        assert sorted(session.exec(select(Patient.alias)).all()) == ["New", "Wren"]
    database.close()


def test_every_version_between_can_be_brought_up(empty: Database, today: dict[str, list[dict[str, Any]]]) -> None:
    """One step at a time ends where one go ends."""
    from alembic.script import ScriptDirectory

    written = _make_first_version(empty, today)
    config = alembic_config()
    revisions = [each.revision for each in ScriptDirectory.from_config(config).walk_revisions()][::-1]
    assert revisions[0] == FIRST
    assert len(revisions) >= 2
    for revision in revisions[1:]:
        with changing_tables(empty.engine) as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, revision)
    with Session(empty.engine) as session:
        after = everything(session)
    assert {name: len(after[name]) for name in written} == {name: len(rows) for name, rows in written.items()}


def test_a_full_backup_of_the_first_version_is_brought_up(
    empty: Database, today: dict[str, list[dict[str, Any]]], tmp_path: Path
) -> None:
    written = _make_first_version(empty, today)
    manifest = backup(empty.engine.url.render_as_string(hide_password=False), tmp_path / "a.backup", NOW)
    assert manifest.schema == FIRST
    url = f"sqlite:///{tmp_path / 'new.sqlite3'}"
    restore(tmp_path / "a.backup", url)
    database = open_database(url)
    with database.session() as session:
        after = everything(session)
        assert session.connection().exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert session.connection().exec_driver_sql("PRAGMA foreign_key_check").all() == []
    for table, rows in written.items():
        assert [{name: row[name] for name in rows[0]} for row in after[table]] == rows, table
    database.close()


def test_a_row_that_refers_to_nobody_stops_the_upgrade(tmp_path: Path) -> None:
    database = open_database(f"sqlite:///{tmp_path / 'a.sqlite3'}")
    with pytest.raises(DatabaseError, match="refer to others"), changing_tables(database.engine) as connection:
        connection.execute(text("INSERT INTO program_states (patient_id, day, value) VALUES (99, '2026-03-02', '{}')"))
    with database.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM program_states")).scalar() == 0
        assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1
    database.close()
