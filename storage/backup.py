"""Backup and restore: one portable file, the same for SQLite and PostgreSQL, taken while the service runs.

The file is a zip: `manifest.json` (schema version, when, for each table its rows and SHA-256) and `tables/NAME.jsonl`, a
JSON object a row. Instants are UTC with their zone, dates are dates, JSON columns are kept as the text that they are.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import IO, Any

from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import (
    JSON,
    Connection,
    Date,
    DateTime,
    MetaData,
    Table,
    Text,
    cast,
    create_engine,
    func,
    inspect,
    make_url,
    select,
    text,
)
from sqlalchemy.exc import DBAPIError
from sqlmodel import SQLModel

from storage.database import DatabaseError, alembic_config, changing_tables, open_database

FORMAT = "heel-checkin backup"
VERSION = 1
_MANIFEST = "manifest.json"
_VERSION_TABLE = "alembic_version"
_BATCH = 500


class BackupError(Exception):
    """A backup cannot be made or used. The text says what was found and what to do."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Manifest:
    """What a backup says of itself."""

    schema: str
    """The version of the tables (Alembic's revision)."""
    made_at: datetime
    rows: dict[str, int]
    sha256: dict[str, str]

    @property
    def total(self) -> int:
        """Rows in all."""
        return sum(self.rows.values())


def backup(url: str, path: Path, now: datetime) -> Manifest:
    """Write a consistent copy of the database at `url` to the new file `path`, for its owner only.

    The service may go on writing meanwhile. The file appears whole or not at all. Raises `BackupError`, `DatabaseError`.
    """
    if path.exists():
        raise BackupError(f"{path} is there already, and a backup never replaces another. Choose a new name.")
    folder = path.parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".backup-", dir=folder)
    except OSError as problem:
        raise BackupError(f"No backup can be written to {folder}: {problem.strerror}.") from None
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            with _snapshot(url, folder) as connection:
                manifest = _write(connection, out, now)
            out.flush()
            os.fsync(out.fileno())
        _verify(part)
        _put_in_place(part, path)
        _sync_folder(folder)
    except FileExistsError:
        raise BackupError(f"{path} is there already, and a backup never replaces another. Choose a new name.") from None
    except OSError as problem:
        raise BackupError(f"The backup could not be written to {folder}: {problem.strerror}.") from None
    finally:
        part.unlink(missing_ok=True)
    return manifest


def restore(path: Path, url: str) -> Manifest:
    """Fill the empty database at `url` from a backup, and upgrade it to this program's version.

    Refuses what is no backup, is damaged, or is newer than this program, and a database that holds anything. It happens
    whole or not at all. Raises `BackupError`, `DatabaseError`.
    """
    manifest = _verify(path)
    known = {each.revision for each in ScriptDirectory.from_config(alembic_config()).walk_revisions()}
    if manifest.schema not in known:
        raise BackupError(
            f"The backup is of version {manifest.schema}, which this program does not know: a newer program made it. "
            "Install that one, then restore."
        )
    database = open_database(url, migrate=False)
    try:
        with changing_tables(database.engine) as connection:
            _empty(connection)
            config = alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, manifest.schema)
            with zipfile.ZipFile(path) as packed:
                _fill(connection, packed, manifest)
            command.upgrade(config, "head")
    except DBAPIError as problem:
        raise DatabaseError(f"The database did not take the backup: {problem.orig}. Nothing was restored.") from None
    finally:
        database.close()
    return manifest


# -- making


@contextmanager
def _snapshot(url: str, folder: Path) -> Iterator[Connection]:
    """A connection that sees one moment of the database, and keeps nobody from writing."""
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        with tempfile.TemporaryDirectory(prefix=".backup-", dir=folder) as place:
            copy = Path(place) / "copy.sqlite3"
            _copy_sqlite(parsed.database, copy)
            engine = create_engine(f"sqlite:///{copy}")
            try:
                with engine.connect() as connection:
                    yield connection
            finally:
                engine.dispose()
        return
    database = open_database(url, migrate=False)
    try:
        with database.engine.connect().execution_options(
            isolation_level="REPEATABLE READ", postgresql_readonly=True
        ) as connection:
            yield connection
    finally:
        database.close()


def _copy_sqlite(source: str | None, copy: Path) -> None:
    if source in (None, "", ":memory:") or not Path(str(source)).exists():
        raise BackupError(f"There is no database at {source or ':memory:'}. Check HEEL_CHECKIN_DATABASE_URL.")
    copy.touch(mode=0o600)
    try:
        with (
            closing(sqlite3.connect(f"{Path(str(source)).resolve().as_uri()}?mode=ro", uri=True, timeout=30)) as live,
            closing(sqlite3.connect(copy)) as into,
        ):
            live.backup(into)
            found = "; ".join(str(row[0]) for row in into.execute("PRAGMA integrity_check").fetchmany(3))
    except sqlite3.Error as problem:
        raise BackupError(f"The database cannot be copied: {problem}.") from None
    if found != "ok":
        raise BackupError(f"The database is damaged ({found}). Keep its file, and restore the latest good backup.")


def _reflected(connection: Connection) -> list[Table]:
    """The tables as they are there, those that others refer to first."""
    metadata = MetaData()
    metadata.reflect(bind=connection)
    return [table for table in metadata.sorted_tables if table.name != _VERSION_TABLE]


def _write(connection: Connection, out: IO[bytes], now: datetime) -> Manifest:
    if not inspect(connection).has_table(_VERSION_TABLE):
        raise BackupError("The database is none of this program's: it has no version. Check HEEL_CHECKIN_DATABASE_URL.")
    schema = connection.execute(text(f"SELECT version_num FROM {_VERSION_TABLE}")).scalar_one()
    rows: dict[str, int] = {}
    sums: dict[str, str] = {}
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for table in _reflected(connection):
            digest, count = hashlib.sha256(), 0
            with packed.open(f"tables/{table.name}.jsonl", "w", force_zip64=True) as member:
                for line in _lines(connection, table):
                    member.write(line)
                    digest.update(line)
                    count += 1
            rows[table.name], sums[table.name] = count, digest.hexdigest()
        manifest = Manifest(schema=schema, made_at=now, rows=rows, sha256=sums)
        packed.writestr(_MANIFEST, _encoded(manifest))
    return manifest


def _lines(connection: Connection, table: Table) -> Iterator[bytes]:
    columns = [cast(each, Text).label(each.name) if isinstance(each.type, JSON) else each for each in table.columns]
    found = connection.execution_options(yield_per=_BATCH).execute(select(*columns).order_by(*table.primary_key))
    for row in found.mappings():
        yield (json.dumps({name: _plain(value) for name, value in row.items()}, ensure_ascii=False) + "\n").encode()


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        # SQLite keeps instants without a zone; all of them are UTC.
        return (value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _encoded(manifest: Manifest) -> str:
    return json.dumps(
        {
            "format": FORMAT,
            "version": VERSION,
            "schema": manifest.schema,
            "made_at": manifest.made_at.astimezone(UTC).isoformat(),
            "tables": {name: {"rows": count, "sha256": manifest.sha256[name]} for name, count in manifest.rows.items()},
        },
        indent=1,
    )


def _put_in_place(part: Path, path: Path) -> None:
    try:
        # A link, unlike a rename, fails if somebody has put a file there meanwhile.
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:
        # Some file systems have no links.
        if path.exists():
            raise FileExistsError(path) from None
        part.rename(path)


def _sync_folder(folder: Path) -> None:
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


# -- reading


def _verify(path: Path) -> Manifest:
    """The manifest of a backup whose every table is as it was written. Raises `BackupError`."""
    try:
        with zipfile.ZipFile(path) as packed:
            manifest = _manifest(packed, path)
            for name, count in manifest.rows.items():
                digest, found = hashlib.sha256(), 0
                with packed.open(f"tables/{name}.jsonl") as member:
                    for line in member:
                        digest.update(line)
                        found += 1
                if digest.hexdigest() != manifest.sha256[name] or found != count:
                    raise BackupError(f"{path} is damaged: table {name} is not as it was written. Use another backup.")
    except FileNotFoundError:
        raise BackupError(f"There is no file {path}.") from None
    except zipfile.BadZipFile as problem:
        # A broken checksum inside is told in the same way as no zip at all.
        what = "is damaged" if zipfile.is_zipfile(path) else f"is no {FORMAT}, or damaged"
        raise BackupError(f"{path} {what} ({problem}). Use another backup.") from None
    except (OSError, EOFError, KeyError, ValueError, TypeError, AttributeError, zlib.error) as problem:
        raise BackupError(f"{path} is damaged ({problem}). Use another backup.") from None
    return manifest


def _manifest(packed: zipfile.ZipFile, path: Path) -> Manifest:
    if _MANIFEST not in packed.namelist():
        raise BackupError(f"{path} is no {FORMAT}: it has no {_MANIFEST}.")
    told = json.loads(packed.read(_MANIFEST))
    if told.get("format") != FORMAT:
        raise BackupError(f"{path} is no {FORMAT}.")
    if told.get("version") != VERSION:
        raise BackupError(
            f"{path} is written in version {told.get('version')} of the format; this program reads {VERSION}. "
            "Install the newer program, then restore."
        )
    return Manifest(
        schema=str(told["schema"]),
        made_at=datetime.fromisoformat(told["made_at"]),
        rows={name: int(each["rows"]) for name, each in told["tables"].items()},
        sha256={name: str(each["sha256"]) for name, each in told["tables"].items()},
    )


def _empty(connection: Connection) -> None:
    """Take away the program's own tables, if nothing is in them. Raises `BackupError` where there is anything else."""
    ours = set(SQLModel.metadata.tables)
    tables = _reflected(connection)
    strange = sorted(table.name for table in tables if table.name not in ours)
    if strange:
        raise BackupError(
            f"The database has tables that are not this program's ({', '.join(strange)}). Restore into a new one."
        )
    for table in tables:
        if connection.execute(select(func.count()).select_from(table)).scalar_one():
            raise BackupError(
                f"The database holds rows already (in {table.name}). Nothing was changed: restore into a new one."
            )
    for table in reversed(tables):
        table.drop(connection)
    connection.execute(text(f"DROP TABLE IF EXISTS {_VERSION_TABLE}"))


def _fill(connection: Connection, packed: zipfile.ZipFile, manifest: Manifest) -> None:
    tables = _reflected(connection)
    unknown = sorted(set(manifest.rows) - {table.name for table in tables})
    if unknown:
        raise BackupError(f"The backup has tables that its version does not know ({', '.join(unknown)}).")
    for table in tables:
        if table.name not in manifest.rows:
            continue
        for column in table.columns:
            if isinstance(column.type, JSON):
                column.type = JSON(none_as_null=True)
        with packed.open(f"tables/{table.name}.jsonl") as member:
            batch: list[dict[str, Any]] = []
            for line in member:
                batch.append(_row(json.loads(line), table, connection.dialect.name))
                if len(batch) == _BATCH:
                    connection.execute(table.insert(), batch)
                    batch = []
            if batch:
                connection.execute(table.insert(), batch)
        found = connection.execute(select(func.count()).select_from(table)).scalar_one()
        if found != manifest.rows[table.name]:
            raise BackupError(
                f"Table {table.name} took {found} of {manifest.rows[table.name]} rows. Nothing was restored."
            )
        _set_sequence(connection, table)


def _row(told: dict[str, Any], table: Table, dialect: str) -> dict[str, Any]:
    if set(told) != {column.name for column in table.columns}:
        raise BackupError(f"The backup's rows of {table.name} do not fit its version. Nothing was restored.")
    return {column.name: _value(told[column.name], column.type, dialect) for column in table.columns}


def _value(value: Any, kind: Any, dialect: str) -> Any:
    if value is None:
        return None
    if isinstance(kind, JSON):
        parsed = json.loads(value)
        # The text "null" is a value of its own, not an empty column.
        return JSON.NULL if parsed is None else parsed
    if isinstance(kind, DateTime):
        instant = datetime.fromisoformat(value).astimezone(UTC)
        return instant.replace(tzinfo=None) if dialect == "sqlite" else instant
    if isinstance(kind, Date):
        return date.fromisoformat(value)
    return value


def _set_sequence(connection: Connection, table: Table) -> None:
    """PostgreSQL counts on from where the rows end, or the next new row would collide."""
    if connection.dialect.name != "postgresql" or "id" not in table.columns:
        return
    sequence = connection.execute(
        text("SELECT pg_get_serial_sequence(:name, 'id')"), {"name": f'"{table.name}"'}
    ).scalar_one()
    last = connection.execute(select(func.max(table.c.id))).scalar_one()
    if sequence is not None and last is not None:
        connection.execute(
            text("SELECT setval(CAST(:sequence AS regclass), :last)"), {"sequence": sequence, "last": last}
        )
