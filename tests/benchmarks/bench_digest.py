"""A clinician's digest of 10, 100 and 1,000 patients after 24 weeks, against reading as many decisions alone.

python -m tests.benchmarks.bench_digest
"""

from __future__ import annotations

from datetime import timedelta
from time import perf_counter

from sqlalchemy import delete
from sqlmodel import col, select

from bot.digest import digest_messages
from bot.digest.gather import gather
from storage import people
from storage.database import Database
from storage.tables import DayDecisionRow, OutgoingMessage
from tests.benchmarks.common import KINDS, fresh_database, settle, show
from tests.conversation.room import START, Room
from tests.load.counting import statements
from tests.load.crowd import copy_patient, live

SIZES = (10, 100, 1_000)
DAYS = 168
UNTIL = START + timedelta(days=DAYS - 1)


def _fill(database: Database, patients: int) -> Room:
    room = Room(database)
    live(room, range(1, DAYS + 1))
    with database.session() as session:
        # The digest reads the check-ins sent in its week.
        session.execute(delete(OutgoingMessage).where(col(OutgoingMessage.day) < UNTIL - timedelta(days=14)))
    copy_patient(database, patients - 1, without=frozenset({"incoming_messages"}))
    settle(database)
    return room


def main() -> None:
    """Print the table."""
    rows = []
    for kind in KINDS:
        with fresh_database(kind) as database:
            room = _fill(database, max(SIZES))
            now = room.at(DAYS + 1, "08:00")
            for number in (2, *SIZES):
                ids = list(range(1, number + 1))
                with database.session() as session:
                    begun = perf_counter()
                    bare = len(
                        session.exec(select(DayDecisionRow.value).where(col(DayDecisionRow.patient_id).in_(ids))).all()
                    )
                    bare_seconds = perf_counter() - begun
                if bare < number * DAYS:
                    raise RuntimeError(f"{bare} decisions of {number} patients")
                with database.session() as session, statements(database) as sent:
                    begun = perf_counter()
                    gather(session, ids, until=UNTIL, now=now)
                    seconds = perf_counter() - begun
                with database.session() as session:
                    clinician = people.clinicians(session)[0]
                    begun = perf_counter()
                    digest_messages(session, ids, clinician, UNTIL, now)
                    message = perf_counter() - begun
                if number > 2:  # the first warms up
                    each = seconds / number * 1000
                    rows.append(
                        (kind, f"{number:,}", seconds, each, len(sent), message, bare_seconds, seconds / bare_seconds)
                    )
    show(
        f"The digest, {DAYS} days of every patient",
        ("database", "patients", "gather s", "ms each", "statements", "whole message s", "decisions alone s", "ratio"),
        rows,
    )


if __name__ == "__main__":
    main()
