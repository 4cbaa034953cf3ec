"""How the databases find what is asked for with every message and every tick: by an index, never by reading a whole table.

The plans are the databases' own: https://www.sqlite.org/eqp.html and
https://www.postgresql.org/docs/current/using-explain.html.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import event, text
from sqlmodel import Session

from bot.conversation.values import Incoming
from storage import alerts, decisions, flags, messages, people, records
from storage.database import Database
from storage.tables import OutgoingMessage
from tests.conversation.room import START, Room
from tests.load.crowd import crowd, say_only

PATIENTS, DAYS = 600, 6
_DAY = START + timedelta(days=DAYS)
_MANY = frozenset(
    {
        "patients",
        "incoming_messages",
        "outgoing_messages",
        "morning_reports",
        "evening_reports",
        "activities",
        "exercises",
        "day_decisions",
        "program_states",
        "red_flags",
        "flares",
        "clinician_actions",
    }
)
"""Tables that grow with patients and days. Clinicians and their like are few: PostgreSQL is right to read those whole."""
_SHORT = ("ix_outgoing_waiting",)
"""The index of what waits only, which is read from one end to the other."""

Plan = list[tuple[str, str | None]]
"""Table and index (None: the table is read whole)."""


@contextmanager
def _sent(database: Database) -> Iterator[list[tuple[str, Any]]]:
    found: list[tuple[str, Any]] = []

    def note(_connection: Any, _cursor: Any, statement: str, values: Any, _context: Any, many: bool) -> None:
        if statement.startswith(("SELECT", "UPDATE", "DELETE")):
            found.append((statement, values[0] if many else values))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield found
    finally:
        event.remove(database.engine, "before_cursor_execute", note)


def _plan(database: Database, statement: str, values: Any, *, only_if_it_must: bool = False) -> Plan:
    """`only_if_it_must`: PostgreSQL reads a table whole only where no index fits, be it ever so small."""
    with database.engine.connect() as connection:
        if database.engine.dialect.name == "sqlite":
            rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values).all()
            return [each for row in rows if (each := _of_sqlite(str(row[-1]))) is not None]
        if only_if_it_must:
            connection.execute(text("SET LOCAL enable_seqscan = off"))
        found = connection.exec_driver_sql(f"EXPLAIN (FORMAT JSON) {statement}", values).scalar_one()
        tree = found if isinstance(found, list) else json.loads(found)
        return list(_of_postgres(tree[0]["Plan"], None))


def _of_sqlite(line: str) -> tuple[str, str | None] | None:
    """ "SEARCH patients USING INDEX ix (a=?)", "SCAN patients"."""
    words = line.split()
    if words[0] not in {"SEARCH", "SCAN"} or "USING" not in line:
        return (words[1], None) if words[0] == "SCAN" else None
    if "PRIMARY KEY" in line:
        return words[1], "primary key"
    index = words[words.index("INDEX") + 1]
    whole = words[0] == "SCAN" and index not in _SHORT
    return words[1], None if whole else index


def _of_postgres(node: dict[str, Any], table: str | None) -> Iterator[tuple[str, str | None]]:
    table = node.get("Relation Name", table)
    kind = node["Node Type"]
    if kind == "Seq Scan" and table is not None:
        yield table, None
    elif "Index Name" in node:
        whole = "Index Cond" not in node and node["Index Name"] not in {*_SHORT, "ix_patients_next_due_at"}
        yield table or "", None if whole else node["Index Name"]
    for each in node.get("Plans", ()):
        yield from _of_postgres(each, table)


def _read_whole(database: Database, sent: list[tuple[str, Any]]) -> list[str]:
    found: list[str] = []
    for statement, values in sent:
        for table, index in _plan(database, statement, values, only_if_it_must=True):
            # SQLite calls a table by its other name in the statement: messages_1.
            name = table.removesuffix("_1").removesuffix("_2")
            if index is None and name in _MANY:
                found.append(f"{name}: {' '.join(statement.split())}")
    return found


@pytest.fixture
def room(database: Database) -> Room:
    made = crowd(database, PATIENTS, days=DAYS, kept=DAYS)
    with database.engine.begin() as connection:
        # Warning signs of the past, and statistics as the databases keep them by themselves.
        connection.execute(
            text(
                "INSERT INTO red_flags (patient_id, code, words, opened_at, cleared_at) "
                "VALUES (:patient, 'severe_pain', '', '2026-03-02 08:00', '2026-03-03 08:00')"
            ),
            [{"patient": number % PATIENTS + 1} for number in range(3000)],
        )
    with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))
    return made


def test_no_turn_reads_a_table_whole(database: Database, room: Room) -> None:
    now = room.at(DAYS + 1, "07:00")
    room.conversation.tick(now, 500)
    room.conversation.tick(now, 500)
    with database.session() as session:
        prompt = messages.claim(session, now, 1)[0]
        messages.mark_sent(session, prompt.id or 0, now, "77")
    with _sent(database) as sent:
        room.conversation.handle(
            Incoming(
                channel="test",
                update_id="pressed",
                address=prompt.address,
                text="",
                kind="button",
                button=(prompt.id or 0, 4),
                sent_at=now,
            ),
            now,
        )
        say_only(room, DAYS + 1, "07:10", "4, comes and goes", "patient-7")
        say_only(room, DAYS + 1, "07:11", "undo", "patient-7")
        say_only(room, DAYS + 1, "07:12", "my foot is numb", "patient-8")
        say_only(room, DAYS + 1, "20:10", "walked 10 minutes, raises 2x8, worst pain 4", "patient-9")
        say_only(room, DAYS + 1, "20:11", "how am I doing", "patient-9")
        say_only(room, DAYS + 1, "20:12", "hello", "nobody")
        edited = room.at(DAYS + 1, "20:20")
        room.conversation.handle(
            Incoming(
                channel="test",
                update_id="edited",
                address="patient-9",
                text="worst pain 3",
                kind="edit",
                source_id="5",
                sent_at=edited,
            ),
            edited,
        )
    assert len(sent) > 60
    assert _read_whole(database, sent) == []


def test_no_tick_and_no_delivery_reads_a_table_whole(database: Database, room: Room) -> None:
    with _sent(database) as sent:
        for clock in ("07:00", "09:00", "19:30"):
            room.conversation.tick(room.at(DAYS + 1, clock), 50)
        now = room.at(DAYS + 1, "19:30")
        with database.session() as session:
            for each in messages.claim(session, now, 20):
                messages.mark_sent(session, each.id or 0, now)
            messages.waiting(session, now)
            messages.drop_stale(session, now)
            messages.undelivered(session, now, 10)
            messages.refuse_chat(session, "test", "patient-3", now)
            alerts.due(session, now, 10)
    assert len(sent) > 30
    assert _read_whole(database, sent) == []


_ASKED: dict[str, tuple[Callable[[Session, Room], object], set[str]]] = {
    "due patients": (
        lambda session, room: people.due_patients(session, room.at(DAYS, "07:00"), 100),
        {"ix_patients_next_due_at"},
    ),
    "claim": (
        lambda session, room: messages.claim(session, room.at(DAYS, "07:00"), 40),
        {"ix_outgoing_waiting", "ix_outgoing_chat_sent"},
    ),
    "latest decision": (
        lambda session, room: decisions.latest_decision(session, 7, _DAY),
        {"ix_day_decisions_patient_day"},
    ),
    "latest state": (
        lambda session, room: decisions.latest_state_day(session, 7),
        {"sqlite_autoindex_program_states_1", "program_states_pkey"},
    ),
    "mornings": (
        lambda session, room: records.mornings(session, 7, START, _DAY),
        {"ix_morning_reports_patient_day"},
    ),
    "evenings": (
        lambda session, room: records.evenings(session, 7, START, _DAY),
        {"ix_evening_reports_patient_day", "ix_activities_report_id", "ix_exercises_report_id"},
    ),
    "open flags": (lambda session, room: flags.open_flags(session, 7), {"ix_red_flags_patient_id"}),
    "latest question": (
        lambda session, room: messages.is_latest_question(
            session, OutgoingMessage(id=5, channel="test", address="patient-7")
        ),
        {"ix_outgoing_questions"},
    ),
    "close questions": (
        lambda session, room: messages.close_questions(
            session, "test", "patient-7", room.at(DAYS, "07:00"), but_replies_to=5
        ),
        {"ix_outgoing_open_questions"},
    ),
    "message from": (
        lambda session, room: messages.message_from(session, "test", "patient-7", "5"),
        {"ix_incoming_source"},
    ),
    "strangers": (
        lambda session, room: messages.lately_from_stranger(session, "test", "nobody", room.at(DAYS, "07:00")),
        {"ix_incoming_strangers"},
    ),
}


def test_what_is_asked_most_has_an_index_of_its_own(database: Database, room: Room) -> None:
    used: dict[str, set[str]] = {}
    for name, (ask, _) in _ASKED.items():
        with _sent(database) as sent, database.session() as session:
            ask(session, room)
        plans = [each for statement, values in sent for each in _plan(database, statement, values)]
        assert all(index is not None for table, index in plans if table in _MANY), (name, plans)
        used[name] = {str(index) for _, index in plans}
    missing = {
        name: f"{sorted(wanted)} wanted, {sorted(used[name])} used"
        for name, (_, wanted) in _ASKED.items()
        if not wanted & used[name]
    }
    assert missing == {}


def test_a_heap_of_prompts_is_claimed_at_once_although_the_statistics_know_nothing_of_it(
    database: Database, room: Room
) -> None:
    """PostgreSQL's statistics are of the night before, when nothing waited: with them it once read 600 x 600 rows."""
    now = room.at(DAYS + 1, "07:00")
    while room.conversation.tick(now, 500):
        pass
    with _sent(database) as sent, database.session() as session:
        assert len(messages.claim(session, now, 40)) == 40
        assert messages.waiting(session, now) == PATIENTS
    used = next(_plan(database, *each) for each in sent[:1])
    if database.engine.dialect.name == "sqlite":
        assert ("outgoing_messages_1", "ix_outgoing_chat_sent") in used
        return
    with database.engine.connect() as connection:
        tree = connection.exec_driver_sql(f"EXPLAIN (ANALYZE, FORMAT JSON) {sent[0][0]}", sent[0][1]).scalar_one()[0]
    assert max(_rows_read(tree["Plan"])) < 3 * PATIENTS


def _rows_read(node: dict[str, Any]) -> Iterator[float]:
    """Rows that each step of a plan looked at, those it passed over with them."""
    passed_over = sum(node.get(f"Rows Removed by {what}", 0) for what in ("Filter", "Join Filter", "Index Recheck"))
    yield (node["Actual Rows"] + passed_over) * node["Actual Loops"]
    for each in node.get("Plans", ()):
        yield from _rows_read(each)
