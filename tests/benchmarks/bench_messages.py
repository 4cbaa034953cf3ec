"""Messages a second through the Bot API server on this machine: the service against a bare echo bot.

    python -m tests.benchmarks.bench_messages

Every patient answers the morning, and gets the plan. The pace is set far over Telegram's 30 a second, which would hide
everything else. The server shares the machine's cores with the bot in both cases.
"""

from __future__ import annotations

from time import perf_counter

from sqlalchemy import text

from tests.benchmarks.common import KINDS, fresh_database, settle, show
from tests.benchmarks.running import echo_bot, service
from tests.load.crowd import crowd
from tests.telegram_server import TelegramServer

PATIENTS = 400
DAYS = 10
FIRST_CHAT = 10_000


def _a_second(server: TelegramServer) -> float:
    """Everybody writes at once; answers a second until the last one is there."""
    users = [server.user(FIRST_CHAT + number) for number in range(1, PATIENTS + 1)]
    before = server.count_sent()
    begun = perf_counter()
    for user in users:
        user.says("4, comes and goes")
    server.wait_for(lambda: server.count_sent() >= before + PATIENTS, timeout=300)
    return PATIENTS / (perf_counter() - begun)


def main() -> None:
    """Print the table."""
    with TelegramServer() as server, echo_bot(server):
        _a_second(server)
        bare = _a_second(server)
    rows: list[tuple[object, ...]] = [("bare echo bot", bare, 1.0)]
    for kind in KINDS:
        with fresh_database(kind) as database:
            room = crowd(database, PATIENTS, days=DAYS)
            with database.engine.begin() as connection:
                connection.execute(
                    text(f"UPDATE patients SET channel = 'telegram', address = CAST({FIRST_CHAT} + id AS TEXT)")
                )
                # Nothing is due meanwhile: only answers are counted.
                connection.execute(text("UPDATE patients SET next_due_at = NULL"))
            settle(database)
            url = database.engine.url.render_as_string(hide_password=False)
            with TelegramServer() as server, service(server, url, room.at(DAYS + 1, "07:20"), 5_000):
                found = _a_second(server)
            rows.append((f"the service, {kind}", found, found / bare))
    show(f"Answers a second, {PATIENTS} people at once", ("what", "a second", "x echo bot"), rows)


if __name__ == "__main__":
    main()
