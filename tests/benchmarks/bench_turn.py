"""One check-in turn (read, decide, record, queue, commit) against one bare row, and on day 7 against day 168.

python -m tests.benchmarks.bench_turn
"""

from __future__ import annotations

from contextlib import ExitStack
from functools import partial

from bot.program.terms import Asked
from bot.reader import read
from storage.database import Database
from tests.benchmarks.common import KINDS, bare_insert, fresh_database, median, milliseconds, settle, show, worst
from tests.conversation.room import Room
from tests.load.counting import statements
from tests.load.crowd import crowd, say_only

TURNS, WARM_UP = 100, 6
DAYS = (7, 168)
MORNING, EVENING = "4, comes and goes", "walked 10 minutes, raises 2x8, worst pain 4"


Found = dict[str, list[float]]


def _ready(database: Database, day: int) -> Room:
    """Patients on the morning of their day `day`, their prompts queued."""
    room = crowd(database, TURNS + WARM_UP, days=day - 1, kept=day)
    while room.conversation.tick(room.at(day, "07:00"), 500):
        pass
    settle(database)
    return room


def _turns(kind: str) -> dict[int, Found]:
    """The same turns early and late, by turns: whatever else the machine does meets both."""
    with ExitStack() as stack:
        databases = {day: stack.enter_context(fresh_database(kind)) for day in DAYS}
        rooms = {day: _ready(database, day) for day, database in databases.items()}
        found: dict[int, Found] = {day: {} for day in DAYS}
        for slot, clock, said in (("morning", "07:20", MORNING), ("evening", "20:00", EVENING)):
            for patient in range(TURNS + WARM_UP):
                for day, database in databases.items():
                    with statements(database) as sent:
                        taken = milliseconds(
                            partial(
                                say_only,
                                rooms[day],
                                day,
                                clock,
                                said,
                                f"patient-{patient + 1}" if patient else "patient",
                            )
                        )
                    row = bare_insert(database)
                    if patient >= WARM_UP:
                        found[day].setdefault("row", []).append(row)
                        found[day].setdefault(slot, []).append(taken)
                        found[day][f"{slot} statements"] = [len(sent)]
        return found


def main() -> None:
    """Print the tables."""
    reading = [milliseconds(lambda: read(MORNING, Asked.MORNING)) for _ in range(200)]
    rows = []
    for kind in KINDS:
        turns = _turns(kind)
        early, late = (turns[day] for day in DAYS)
        row = median(early["row"] + late["row"])
        rows.append((kind, "one bare row, committed", row, worst(early["row"] + late["row"]), 1.0, "1"))
        rows.append((kind, "reading the words alone", median(reading), worst(reading), median(reading) / row, "0"))
        for slot in ("morning", "evening"):
            for day, found in zip(DAYS, (early, late), strict=True):
                asked = int(found[f"{slot} statements"][0])
                times = found[slot]
                rows.append((kind, f"{slot} turn, day {day}", median(times), worst(times), median(times) / row, asked))
            ratio = median(late[slot]) / median(early[slot])
            rows.append((kind, f"{slot}: day {DAYS[1]} / day {DAYS[0]}", ratio, "", "", ""))
    show(f"A turn ({TURNS} of each)", ("database", "what", "median ms", "95 % ms", "x bare row", "statements"), rows)


if __name__ == "__main__":
    main()
