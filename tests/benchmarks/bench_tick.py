"""The tick: 100, 1,000 and 10,000 patients due in the same minute, against as many bare rows inserted in batches.

python -m tests.benchmarks.bench_tick
"""

from __future__ import annotations

from time import perf_counter, process_time

from sqlalchemy import insert, text

from storage.database import Database
from storage.tables import Erasure
from tests.benchmarks.common import KINDS, fresh_database, settle, show
from tests.conversation.room import START, Room
from tests.load.counting import statements
from tests.load.crowd import crowd

SIZES = (100, 1_000, 10_000)
BATCH = 500
DAYS = 30


def _bare_rows(database: Database, number: int) -> float:
    begun = perf_counter()
    for start in range(0, number, BATCH):
        with database.session() as session:
            session.execute(insert(Erasure), [{"erased_on": START}] * min(BATCH, number - start))
    return perf_counter() - begun


def _tick(database: Database, room: Room, number: int, clock: str) -> tuple[float, float, float, int]:
    """Seconds in all, seconds of a core, seconds of the longest batch, and the most statements of a batch."""
    with database.engine.begin() as connection:
        connection.execute(
            text("UPDATE patients SET status = CASE WHEN id <= :last THEN 'active' ELSE 'ended' END"), {"last": number}
        )
    settle(database)
    longest, most, done, begun, cpu = 0.0, 0, 0, perf_counter(), process_time()
    while True:
        with statements(database) as sent:
            before = perf_counter()
            found = room.conversation.tick(room.at(DAYS + 1, clock), BATCH)
            longest = max(longest, perf_counter() - before)
        most, done = max(most, len(sent)), done + found
        if found < BATCH:
            break
    seconds, cpu = perf_counter() - begun, process_time() - cpu
    if done != number:
        raise RuntimeError(f"{done} were due, not {number}")
    return seconds, cpu, longest, most


def main() -> None:
    """Print the table."""
    rows = []
    for kind in KINDS:
        for number in SIZES:
            with fresh_database(kind) as database:
                room = crowd(database, number, days=DAYS)
                bare = _bare_rows(database, number)
                for what, clock in (("morning", "07:00"), ("nudge", "09:00"), ("evening", "19:30")):
                    seconds, cpu, longest, most = _tick(database, room, number, clock)
                    each = seconds / number * 1000
                    rows.append(
                        (kind, what, f"{number:,}", seconds, each, cpu / number * 1000, longest, most, seconds / bare)
                    )
    show(
        f"The tick, batches of {BATCH}",
        (
            "database",
            "what",
            "due",
            "seconds",
            "ms each",
            "CPU ms each",
            "longest batch s",
            "statements a batch",
            "x bare rows",
        ),
        rows,
    )


if __name__ == "__main__":
    main()
