"""Opening a database: engine, migrations at start, one transaction a session."""

from __future__ import annotations

import sqlite3
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from functools import cache
from pathlib import Path
from threading import Lock, get_ident
from time import sleep
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.pool import StaticPool
from sqlmodel import Session, create_engine

_BUSY_MILLISECONDS = 10_000
_RETRY_MILLISECONDS = 20
_MIGRATION_LOCK = 4_835_001
"""Any number that nothing else in the database locks by."""
_CONNECTIONS = 10
"""The service's eight threads, its tick and its drawing."""
_READS_ONLY = "heel_checkin_reads_only"
OUTAGES = (OperationalError, InterfaceError, PoolTimeout)
"""What passes by itself: the database is away, locked, full, or has no connection to give. Anything else is for good."""


class DatabaseError(Exception):
    """The database cannot be used. The text says what was found and what to do."""


class Turns:
    """A lock for the thread that has waited longest, which may take it again.

    Python's own locks go to whoever asks at the right moment: a tick with many batches would take it again and again,
    while everybody who answers waits.
    """

    def __init__(self) -> None:
        self._guard = Lock()
        self._waiting: deque[tuple[Lock, int]] = deque()
        self._owner: int | None = None
        self._depth = 0

    def __enter__(self) -> None:
        me = get_ident()
        with self._guard:
            if self._owner in (None, me):
                self._owner, self._depth = me, self._depth + 1
                return
            gate = Lock()
            gate.acquire()
            self._waiting.append((gate, me))
        gate.acquire()

    def __exit__(self, *_: object) -> None:
        with self._guard:
            self._depth -= 1
            if self._depth:
                return
            self._owner = None
            if self._waiting:
                gate, self._owner = self._waiting.popleft()
                self._depth = 1
                gate.release()


class Database:
    """An open database."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        # SQLite lets one write at a time, and whoever waits looks again after ever longer pauses: under load some thread
        # would starve. Within a process the threads queue here instead.
        self._turn = Turns() if engine.dialect.name == "sqlite" else nullcontext()
        # The one connection of a database in memory cannot read beside its own write.
        self._reading_turn = self._turn if isinstance(engine.pool, StaticPool) else nullcontext()
        self._reader = engine.execution_options(**{_READS_ONLY: True})

    @contextmanager
    def session(self) -> Iterator[Session]:
        """One transaction: committed at the end, rolled back whole on an exception."""
        with self._turn, Session(self.engine, expire_on_commit=False) as session:
            yield from _one_transaction(session)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One transaction that only reads. On SQLite it waits for no writer, and no writer waits for it."""
        with self._reading_turn, Session(self._reader, expire_on_commit=False) as session:
            yield from _one_transaction(session)

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()


def _one_transaction(session: Session) -> Iterator[Session]:
    try:
        with session.begin():
            yield session
    finally:
        # What a transaction knows refers to it, and it to the session: a ring that would lie about for long.
        session.info.clear()


def _write_ahead(cursor: Any) -> None:
    # SQLite does not wait its busy timeout for this one: processes that open a new file together would fail.
    for left in reversed(range(_BUSY_MILLISECONDS // _RETRY_MILLISECONDS)):
        try:
            cursor.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError:
            if not left:
                raise
            sleep(_RETRY_MILLISECONDS / 1000)


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def on_connect(connection: Any, _record: Any) -> None:
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout={_BUSY_MILLISECONDS}")
        _write_ahead(cursor)
        cursor.execute("PRAGMA foreign_keys=ON")
        # What is deleted is overwritten in the file; not every build of SQLite does it by itself.
        cursor.execute("PRAGMA secure_delete=ON")
        cursor.close()
        # SQLAlchemy, not the driver, begins transactions: a write lock is taken at once, so that two turns never
        # both read before one writes.
        connection.isolation_level = None

    @event.listens_for(engine, "begin")
    def on_begin(connection: Any) -> None:
        reads_only = connection.get_execution_options().get(_READS_ONLY, False)
        connection.exec_driver_sql("BEGIN" if reads_only else "BEGIN IMMEDIATE")


def _engine(url: str) -> Engine:
    parsed = make_url(url)
    if not parsed.drivername.startswith("sqlite"):
        return create_engine(url, pool_pre_ping=True, pool_size=_CONNECTIONS, max_overflow=_CONNECTIONS // 2)
    if parsed.database in (None, "", ":memory:"):
        engine = create_engine(url, poolclass=StaticPool, connect_args={"check_same_thread": False})
    else:
        path = Path(str(parsed.database))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600, exist_ok=True)
        engine = create_engine(url, pool_size=_CONNECTIONS, max_overflow=_CONNECTIONS // 2)
    _prepare_sqlite(engine)
    return engine


def _first_line(problem: Exception) -> str:
    return str(problem).partition("\n")[0]


def alembic_config() -> Config:
    """Alembic's configuration, with the scripts of this package."""
    config = Config()
    config.set_main_option("script_location", "storage:migrations")
    return config


@contextmanager
def changing_tables(engine: Engine) -> Iterator[Connection]:
    """One transaction for migrations.

    SQLite changes most of a table by making it anew, and dropping the old one would delete, or be refused for, all rows
    that refer to it (https://www.sqlite.org/lang_altertable.html, section 7). So its foreign keys are off meanwhile (they
    cannot be turned off within a transaction), and looked at before the end. Raises `DatabaseError` if one is broken.
    """
    with engine.connect() as connection:
        sqlite = connection.dialect.name == "sqlite"
        driver: Any = connection.connection.dbapi_connection
        if sqlite:
            driver.execute("PRAGMA foreign_keys=OFF")
        try:
            with connection.begin():
                yield connection
                if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                    raise DatabaseError(
                        "Rows refer to others that are not there, so nothing was changed. Restore the latest good backup."
                    )
        finally:
            if sqlite:
                driver.execute("PRAGMA foreign_keys=ON")


@cache
def _known_versions() -> frozenset[str]:
    return frozenset(ScriptDirectory.from_config(alembic_config()).get_heads())


def upgrade(engine: Engine) -> None:
    """Bring the schema up to date. Raises `DatabaseError` on a database newer than this program."""
    config = alembic_config()
    with engine.connect() as connection:
        if set(MigrationContext.configure(connection).get_current_heads()) == _known_versions():
            return
    with changing_tables(engine) as connection:
        if connection.dialect.name == "postgresql":
            # Processes that start together migrate one after the other; SQLite's BEGIN IMMEDIATE does the same.
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATION_LOCK})
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, "head")
        except CommandError as problem:
            heads = ", ".join(ScriptDirectory.from_config(config).get_heads())
            raise DatabaseError(
                f"The database is of another version than this program, which knows up to {heads} ({problem}). "
                "Install the newer program, or restore a backup that fits."
            ) from None


def _upgrade_in_memory(engine: Engine) -> None:
    """The same for a new database in memory, of which many are made: the migrated tables are copied from the first."""
    with engine.connect() as connection:
        driver: Any = connection.connection.dbapi_connection
        if _migrated_in_memory:
            driver.deserialize(_migrated_in_memory[0])
            return
    upgrade(engine)
    with engine.connect() as connection:
        driver = connection.connection.dbapi_connection
        _migrated_in_memory.append(driver.serialize())


_migrated_in_memory: list[bytes] = []


def open_database(url: str, *, migrate: bool = True) -> Database:
    """Open the database at `url` and upgrade it. Raises `DatabaseError` where it cannot be reached or used."""
    try:
        engine = _engine(url)
    except (ArgumentError, ImportError) as problem:
        raise DatabaseError(
            f"This is no database that the program can use ({_first_line(problem)}). HEEL_CHECKIN_DATABASE_URL begins "
            "with sqlite:/// and a file's path, or with postgresql+psycopg://."
        ) from None
    except OSError as problem:
        raise DatabaseError(
            f"The database's file cannot be made: {problem}. Check HEEL_CHECKIN_DATABASE_URL."
        ) from None
    try:
        if migrate and engine.url.get_backend_name() == "sqlite" and isinstance(engine.pool, StaticPool):
            _upgrade_in_memory(engine)
        elif migrate:
            upgrade(engine)
        else:
            engine.connect().close()
    except DBAPIError as problem:
        engine.dispose()
        raise DatabaseError(
            f"The database cannot be reached or written: {problem.orig}. Check HEEL_CHECKIN_DATABASE_URL."
        ) from None
    return Database(engine)
