"""Many patients with a real history, quickly: one life is lived through the conversation, then copied row by row in SQL."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from sqlalchemy import Connection, Table, delete, func, select, text
from sqlmodel import SQLModel

from bot.conversation.values import Incoming
from storage.database import Database
from tests.conversation.room import START, Room

MORNINGS = ("4, comes and goes", "3, no pain at rest", "3, comes and goes", "2, no pain at rest")
EVENINGS = (
    "walked 10 minutes, raises 2x8, worst pain 3",
    "all done, worst pain 2",
    "all done, walked 8 minutes, worst 3",
)
_LEFT_ALONE = frozenset({"clinicians", "alembic_version", "sending_pace", "invitations", "shares"})


def live(room: Room, days: Iterable[int]) -> None:
    """The room's patient answers every morning and evening of these days."""
    for day in days:
        room.say(day, "07:20", MORNINGS[day % len(MORNINGS)])
        room.say(day, "20:00", EVENINGS[day % len(EVENINGS)])


def say_only(room: Room, day: int, clock: str, text_said: str, who: str = "patient") -> None:
    """Say it without the ticks before it, and leave the outbox alone."""
    now = room.at(day, clock)
    room.updates += 1
    room.conversation.handle(
        Incoming(channel="test", update_id=f"only-{room.updates}", address=who, text=text_said, sent_at=now), now
    )


def forget_before(database: Database, day: date) -> None:
    """Let go of what is older than `day`: a copy of it would only take time."""
    tables = SQLModel.metadata.tables
    with database.engine.begin() as connection:
        reports = tables["evening_reports"]
        old = select(reports.c.id).where(reports.c.day < day)
        for name in ("activities", "exercises"):
            connection.execute(delete(tables[name]).where(tables[name].c.report_id.in_(old)))
        for name in ("outgoing_messages", "morning_reports", "evening_reports", "day_decisions", "flares"):
            connection.execute(delete(tables[name]).where(tables[name].c.day < day))
        incoming = tables["incoming_messages"]
        kept = [
            select(tables[name].c[column]).where(tables[name].c[column].is_not(None))
            for name, column in (
                ("morning_reports", "message_id"),
                ("evening_reports", "message_id"),
                ("outgoing_messages", "in_reply_to"),
            )
        ]
        connection.execute(delete(incoming).where(*(incoming.c.id.not_in(each) for each in kept)))


def copy_patient(database: Database, copies: int, *, without: frozenset[str] = frozenset()) -> None:
    """Copy the only patient, number 1, and all rows `copies` times: patients 2 to `copies` + 1, addresses "patient-N".

    `without`: tables that are not copied; what refers to their rows refers to nothing.
    """
    with database.engine.begin() as connection:
        # How far the numbers of the copies lie apart.
        strides = {
            table.name: (connection.execute(select(func.max(table.c.id))).scalar() or 0) + 1
            for table in SQLModel.metadata.sorted_tables
            if "id" in table.columns
        }
        for table in SQLModel.metadata.sorted_tables:
            if table.name not in _LEFT_ALONE | without:
                _copy_table(connection, table, copies, strides, without)
        if connection.dialect.name == "postgresql":
            connection.execute(text("ANALYZE"))


def _copy_table(
    connection: Connection, table: Table, copies: int, strides: dict[str, int], without: frozenset[str]
) -> None:
    targets: list[str] = []
    values: list[str] = []
    for column in table.columns:
        name = f'"{column.name}"'
        refers = next((key.column.table.name for key in column.foreign_keys), None)
        value = f"t.{name}"
        if column.name == "id" and table.name == "patients":
            value = "1 + n.i"
        elif column.name == "id":
            value = f"t.id + n.i * {strides[table.name]}"
        elif refers == "patients":
            value = f"{value} + n.i"
        elif refers in without and refers != "clinicians":
            value = "NULL"
        elif refers is not None and refers != "clinicians":
            value = f"{value} + n.i * {strides[refers]}"
        elif column.name == "address":
            value = f"CASE WHEN {value} = 'patient' THEN 'patient-' || (1 + n.i) ELSE {value} END"
        elif column.name == "update_id":
            value = f"{value} || '-' || (1 + n.i)"
        elif column.name == "key":
            value = (
                "CASE WHEN t.key LIKE 'prompt:1:%' THEN 'prompt:' || (1 + n.i) || substr(t.key, 9) "
                "ELSE t.key || '-' || (1 + n.i) END"
            )
        targets.append(name)
        values.append(value)
    connection.execute(
        text(
            f"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {copies}) "
            f"INSERT INTO {table.name} ({', '.join(targets)}) SELECT {', '.join(values)} "
            f"FROM {table.name} t, n WHERE {'t.patient_id = 1' if 'patient_id' in table.columns else 'true'}"
        )
    )
    if connection.dialect.name == "postgresql" and "id" in table.columns:
        connection.execute(
            text(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), (SELECT max(id) FROM {table.name}) + 1, false)"
            )
        )


def crowd(database: Database, patients: int, *, days: int = 30, kept: int = 3) -> Room:
    """So many patients after `days` days of the programme, the rows of the last `kept` days with them.

    Everybody's next prompt is due on the morning of the day after.
    """
    room = Room(database)
    live(room, range(1, days + 1))
    # The evening's nudge is over before the copies are made.
    room.tick_until(room.at(days, "23:30"))
    forget_before(database, START + timedelta(days=days - kept))
    if patients > 1:
        copy_patient(database, patients - 1)
    return room
