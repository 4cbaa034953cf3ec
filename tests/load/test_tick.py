"""Many patients due at once: few statements, nothing twice, and just what comes out one by one."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from sqlalchemy import select, text
from sqlmodel import SQLModel

from bot.conversation.prompting import queue_due_prompt
from bot.conversation.replies import Replies
from bot.conversation.service import Conversation
from storage import people
from storage.database import Database, open_database
from tests.conversation.room import Room
from tests.load.counting import statements
from tests.load.crowd import crowd, say_only

DAYS = 3
CLOCKS = ("07:00", "09:00", "19:30")
"""Morning prompts with the day before to be closed, nudges, evening prompts."""


def _statements_of_ticks(database: Database, room: Room, patients: int) -> list[int]:
    found: list[int] = []
    for clock in CLOCKS:
        with statements(database) as sent:
            assert room.conversation.tick(room.at(DAYS + 1, clock), 500) == patients
        found.append(len(sent))
    return found


def test_five_take_as_many_statements_as_three_hundred(database: Database) -> None:
    room = crowd(database, 300, days=DAYS)
    with database.engine.begin() as connection:
        connection.execute(text("UPDATE patients SET status = 'ended' WHERE id > 5"))
    few = _statements_of_ticks(database, room, 5)
    with database.engine.begin() as connection:
        connection.execute(text("UPDATE patients SET status = 'ended' WHERE id <= 5"))
        connection.execute(text("UPDATE patients SET status = 'active' WHERE id > 5"))
    many = _statements_of_ticks(database, room, 295)
    assert many == few
    # What is due is 13 to 16 of them; alerts and digests are looked for by one each.
    assert max(many) <= 16
    with database.engine.connect() as connection:
        queued = dict(
            connection.execute(
                text("SELECT kind, count(*) FROM outgoing_messages WHERE sent_at IS NULL GROUP BY kind")
            ).all()
        )
    # Two prompts and, as nobody answered the first, one nudge for everybody.
    assert queued == {"prompt": 600, "nudge": 300}


def _different_lives(database: Database) -> Room:
    """Twelve patients: silent, answered, with a warning sign, on holiday, stopped, paused, with an irritable heel."""
    room = crowd(database, 12, days=DAYS)
    room.deliver(room.at(DAYS, "23:30"))
    with database.engine.begin() as connection:
        for patient, change in (
            (2, "paused_until = '2026-03-20'"),
            (3, "loading_stopped = true"),
            (4, "quiet_from = '2026-03-05', quiet_until = '2026-03-09'"),
            (5, "walk_target = 20"),
            (6, "status = 'ended'"),
        ):
            connection.execute(text(f"UPDATE patients SET {change} WHERE id = {patient}"))
    for patient, said in (
        (7, "there is numbness in my foot"),
        (8, "5, comes and goes"),
        (9, "9, constant"),
        (10, "walked 60 minutes, worst pain 8"),
    ):
        say_only(room, DAYS + 1, "06:30", said, f"patient-{patient}")
    # One whom nobody looked after for a week, and one before the first day.
    with database.engine.begin() as connection:
        connection.execute(text("DELETE FROM program_states WHERE patient_id = 11 AND day > '2026-03-03'"))
        for table in ("day_decisions", "morning_reports"):
            connection.execute(text(f"DELETE FROM {table} WHERE patient_id = 11 AND day > '2026-03-02'"))
        connection.execute(text("DELETE FROM program_states WHERE patient_id = 12"))
        for table in ("day_decisions", "morning_reports"):
            connection.execute(text(f"DELETE FROM {table} WHERE patient_id = 12"))
    return room


_SEEN = {
    "outgoing_messages": "key, address, kind, text, buttons, patient_id, clinician_id, day, due_at, has_question",
    "program_states": "patient_id, day, value",
    "day_decisions": "patient_id, day, decision, value, protocol, decided_at",
    "flares": "patient_id, day, cause, superseded_at",
    "clinician_actions": "patient_id, kind, details",
    "patients": "id, next_due_at, next_due_kind, status, dialogue",
}


def _everything(database: Database) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    with database.engine.connect() as connection:
        for table, columns in _SEEN.items():
            wanted = SQLModel.metadata.tables[table].c
            rows = connection.execute(select(*(wanted[each] for each in columns.split(", "))))
            found[table] = sorted(json.dumps(list(row), sort_keys=True, default=str) for row in rows)
    return found


def _tick_one_by_one(conversation: Conversation, database: Database, now: Any) -> None:
    with database.session() as session:
        ids = [each.id for each in people.due_patients(session, now, 500)]
    for each in ids:
        with database.session() as session:
            patient = people.patient_by_id(session, each or 0)
            queue_due_prompt(session, patient, Replies(session, now), now)


def test_a_batch_does_just_what_one_by_one_does(database_url: str, tmp_path: Any) -> None:
    alone_at = open_database(f"sqlite:///{tmp_path / 'one-by-one.sqlite3'}")
    together_at = open_database(database_url)
    try:
        alone, together = _different_lives(alone_at), _different_lives(together_at)
        for day in (DAYS + 1, DAYS + 2, DAYS + 8):
            for clock in CLOCKS:
                now = alone.at(day, clock)
                _tick_one_by_one(alone.conversation, alone_at, now)
                together.conversation.tick(now)
                if clock == "07:00":
                    for room in (alone, together):
                        say_only(room, day, "08:00", "4, no pain at rest", "patient-9")
        before, after = _everything(alone_at), _everything(together_at)
    finally:
        alone_at.close()
        together_at.close()
    # The lives differ: warning signs, notices to the clinician, days off, a patient whom nobody prompts.
    assert len(before["outgoing_messages"]) > 60
    assert before["clinician_actions"]
    assert len({json.loads(each)[2] for each in before["day_decisions"]}) >= 4
    for table, rows in before.items():
        assert after[table] == rows, table


def test_two_processes_queue_nothing_twice_and_leave_nobody_out(database_url: str) -> None:
    first = open_database(database_url)
    other = open_database(database_url)
    try:
        room = crowd(first, 200, days=DAYS)
        now = room.at(DAYS + 1, "07:00")
        together = Barrier(2)

        def tick(database: Database) -> int:
            conversation, found = Conversation(database), 0
            together.wait(30)
            while looked_at := conversation.tick(now, 20):
                found += looked_at
            return found

        with ThreadPoolExecutor(2) as pool:
            looked_at = list(pool.map(tick, (first, other)))
        with first.engine.connect() as connection:
            prompts, patients = connection.execute(
                text("SELECT count(*), count(DISTINCT patient_id) FROM outgoing_messages WHERE sent_at IS NULL")
            ).one()
    finally:
        first.close()
        other.close()
    assert sum(looked_at) == 200
    assert (prompts, patients) == (200, 200)
