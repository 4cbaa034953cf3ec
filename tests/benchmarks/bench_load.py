"""10,000 enrolled patients, half of them due in the same minute, some answering meanwhile: pace, waiting, memory.

    python -m tests.benchmarks.bench_load [SECONDS]

The service runs in a process of its own at 25 messages a second, against the Bot API server on this machine.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from time import perf_counter, sleep

from sqlalchemy import text

from tests.benchmarks.common import KINDS, fresh_database, median, settle, show, worst
from tests.benchmarks.running import memory, service
from tests.channels.running import Rows
from tests.load.crowd import crowd
from tests.telegram_server import TelegramServer

PATIENTS, DUE = 10_000, 5_000
DAYS = 30
FIRST_CHAT = 10_000
ANSWER_EVERY = 1.0
_WAITING = "SELECT count(*) FROM outgoing_messages WHERE sent_at IS NULL AND refused_at IS NULL"


def _one(kind: str, seconds: float) -> tuple[object, ...]:
    with fresh_database(kind) as database:
        room = crowd(database, PATIENTS, days=DAYS)
        due = room.at(DAYS + 1, "07:00")
        with database.engine.begin() as connection:
            connection.execute(
                text(f"UPDATE patients SET channel = 'telegram', address = CAST({FIRST_CHAT} + id AS TEXT)")
            )
            connection.execute(text(f"UPDATE patients SET next_due_at = NULL WHERE id > {DUE}"))
        settle(database)
        url = database.engine.url.render_as_string(hide_password=False)
        with TelegramServer() as server:
            for number in range(1, PATIENTS + 1):
                server.user(FIRST_CHAT + number)
                server.world.chats[FIRST_CHAT + number].started = True
            with service(server, url, due - timedelta(seconds=5), 25) as running:
                at_start, rows = memory(running), Rows(url)
                begun = perf_counter()
                queued: float | None = None
                waited: list[float] = []
                asked: dict[int, float] = {}
                # Patients who are not due now answer, one after the other.
                number = DUE
                while perf_counter() - begun < seconds:
                    number += 1
                    chat = FIRST_CHAT + number
                    asked[chat] = perf_counter()
                    server.user(chat).says("4, comes and goes")
                    until = perf_counter() + ANSWER_EVERY
                    while perf_counter() < until:
                        for each in [each for each in asked if server.count_sent(each)]:
                            waited.append(perf_counter() - asked.pop(each))
                        if queued is None and rows.one(_WAITING) + server.count_sent() >= DUE:
                            queued = perf_counter() - begun
                        sleep(0.05)
                sent = server.count_sent()
                most = memory(running, "VmHWM")
                rows.close()
                return (
                    kind,
                    "never" if queued is None else queued,
                    sent / seconds,
                    server.most_in_a_second(),
                    len(server.violations()),
                    median(waited),
                    worst(waited),
                    f"{len(asked)} of {number - DUE}",
                    at_start,
                    most,
                )


def main() -> None:
    """Print the table."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    show(
        f"{PATIENTS:,} patients, {DUE:,} due at once, {seconds:.0f} s",
        (
            "database",
            "all queued after s",
            "sent a second",
            "most in a second",
            "over the limit",
            "reply after s",
            "95 % s",
            "no reply yet",
            "MB at start",
            "most MB",
        ),
        [_one(kind, seconds) for kind in KINDS],
    )


if __name__ == "__main__":
    main()
