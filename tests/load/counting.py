"""Counts the statements that a piece of work sends to its database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from storage.database import Database


@contextmanager
def statements(database: Database) -> Iterator[list[str]]:
    """Every statement sent meanwhile; one with many rows of values (executemany) is one. BEGIN and COMMIT are left out."""
    sent: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, _values: Any, _context: Any, _many: bool) -> None:
        if not statement.startswith("BEGIN"):
            sent.append(" ".join(statement.split()))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
