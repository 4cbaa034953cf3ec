"""Three processes on one PostgreSQL: one receives, all deliver."""

from __future__ import annotations

import random
import time
import uuid
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

import psycopg
import pytest
from sqlalchemy import make_url

from storage import messages
from storage.database import open_database
from tests.channels.running import Rows
from tests.crash.counting import Crowd, at_rest, begin, count, furnish
from tests.crash.killing import settings_for
from tests.crash.zygote import Zygote
from tests.telegram_server import ServerProcess

pytestmark = pytest.mark.postgres


@pytest.fixture
def post_url(postgres_server: str, postgres_template: str) -> Iterator[str]:
    """A fresh PostgreSQL database."""
    name = f"t{uuid.uuid4().hex}"
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{postgres_template}"')
    url = make_url(postgres_server).set(drivername="postgresql+psycopg", database=name)
    yield url.render_as_string(hide_password=False)
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def test_three_processes_keep_to_one_pace_and_send_nothing_twice(zygote: Zygote, post_url: str) -> None:
    chats = range(5000, 5120)
    with ServerProcess() as server:
        clock = begin(1.0)
        database = open_database(post_url)
        for chat in chats:
            server.user(chat).starts()
        # The bot may write to them from now on; what they said is of no matter here.
        server.ask("drop_pending")
        # The default pace: three processes cannot space their messages to a hair as one can.
        received = settings_for(server, post_url) | {"messages_per_second": "25"}
        pids = [zygote.start(received, clock)]
        with database.session() as session:
            for number in range(2):
                for chat in chats if not number else chats[:10]:
                    messages.queue(
                        session,
                        key=f"test:{chat}:{number}",
                        channel="telegram",
                        address=str(chat),
                        text=f"message {number}",
                        kind="prompt",
                        due_at=clock() + timedelta(seconds=2),
                    )
        database.close()
        pids += [zygote.start(received | {"receives": "false"}, clock) for _ in range(2)]
        rows = Rows(post_url)
        server.wait_for(lambda: at_rest(server, rows), 40)
        assert server.violations() == [], server.most_in_a_second()
        got = Counter((each.chat_id, each.text) for each in server.sent())
        assert set(got.values()) == {1}
        for chat in chats[:10]:
            assert [each.text for each in server.sent_to(chat)][-2:] == ["message 0", "message 1"]
        for pid in pids:
            assert zygote.stop(pid) == 0
        rows.close()


def test_one_of_three_is_killed_and_nothing_is_stuck_longer_than_a_minute(zygote: Zygote, post_url: str) -> None:
    chance = random.Random(11)
    with ServerProcess() as server:
        # Three times as fast: what a killed process had taken is free after fifteen true seconds. Faster, a second in which
        # somebody else has the machine would count for more of the minute than it is.
        clock = begin(3.0)
        furnish(post_url, server, clock, minutes=1)
        crowd = Crowd(server, chance)
        crowd.all_start()
        settings = settings_for(server, post_url)
        receiving = zygote.start(settings, clock)
        others = [zygote.start(settings | {"receives": "false"}, clock) for _ in range(2)]
        rows = Rows(post_url)

        def live(seconds: float) -> None:
            until = time.monotonic() + seconds
            while (left := until - time.monotonic()) > 0:
                crowd.act()
                server._wait_for_change(min(left, 0.04))

        live(2)
        killed = []
        # One that delivers is killed for good, while it has something in hand, and the one that receives is replaced.
        for pid, replaced in ((others[0], False), (receiving, True)):
            zygote.kill(pid)
            killed.append(time.monotonic())
            if replaced:
                zygote.start(settings, clock)
            live(1.5)
        # Every connection of everybody breaks once.
        rows.all(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        live(1)
        last = "SELECT count(*) FROM patients WHERE next_due_kind = 'morning' AND next_due_at < '2026-03-05'"
        server.wait_for(lambda: not rows.one(last) and at_rest(server, rows), 60)
        found = count(server, rows, crowd.said, killed)
        assert found.prompts >= 10
        worst = rows.one("SELECT max(sent_at - due_at) FROM outgoing_messages")
        assert worst < timedelta(seconds=60), worst
        for pid in tuple(zygote.running):
            assert zygote.stop(pid) == 0
        rows.close()
