"""Telegram's limits are kept, and a chat's messages keep their order.

https://core.telegram.org/bots/faq#my-bot-is-hitting-limits-how-do-i-avoid-this: one message a second in a chat, about
30 a second over all.
"""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

from storage import messages
from tests.channels.running import MovingClock, Running, active, new_clinician, running
from tests.telegram_server import TelegramServer


def queue(service: Running, chat_id: int, text: str, kind: str = "prompt") -> None:
    """Put a message into the outbox."""
    with service.database.session() as session:
        assert messages.queue(
            session,
            key=f"test:{chat_id}:{text}",
            channel="telegram",
            address=str(chat_id),
            text=text,
            kind=kind,
            due_at=service.clock(),
        )


def known(server: TelegramServer, chat_id: int) -> None:
    """A chat that the bot may write to."""
    server.user(chat_id)
    server.world.chats[chat_id].started = True


def test_two_hundred_messages_keep_to_thirty_a_second_and_come_near_the_wanted_pace(
    server: TelegramServer, lite_url: str
) -> None:
    with running(server, lite_url, MovingClock(), messages_per_second=28.0) as service:
        for chat in range(1000, 1200):
            known(server, chat)
        with service.database.session() as session:
            for chat in range(1000, 1200):
                messages.queue(
                    session,
                    key=f"test:{chat}",
                    channel="telegram",
                    address=str(chat),
                    text="Good morning",
                    kind="prompt",
                    due_at=service.clock(),
                )
        service.wake()
        server.wait_for(lambda: server.count_sent() == 200, 40)
        mornings = server.sent()
        took = mornings[-1].at - mornings[0].at
        assert server.violations() == []
        assert 200 / 28 - 1 < took < 20, took
        assert len({each.chat_id for each in mornings}) == 200


def test_a_chats_messages_come_in_order_a_second_apart(server: TelegramServer, lite_url: str) -> None:
    with running(server, lite_url, MovingClock()) as service:
        vale = new_clinician(service, 1, "Dr Vale")
        active(service, vale, 2, "Rowan")
        before = server.count_sent(2)
        service.clock.move(timedelta(seconds=2))
        for number in range(4):
            queue(service, 2, f"message {number}")
        service.wake()
        server.wait_for(lambda: server.count_sent(2) == before + 4, 10)
        got = server.sent_to(2)[-4:]
        assert [each.text for each in got] == [f"message {number}" for number in range(4)]
        gaps = [later.at - earlier.at for earlier, later in pairwise(got)]
        assert all(gap > 0.9 for gap in gaps), gaps
        assert server.violations() == []


def test_order_is_kept_when_the_first_of_a_chat_fails_for_a_while(server: TelegramServer, lite_url: str) -> None:
    with running(server, lite_url) as service:
        vale = new_clinician(service, 1, "Dr Vale")
        rowan = active(service, vale, 2, "Rowan")
        server.fail_next("sendMessage", status=502, times=2, chat_id=2)
        for number in range(3):
            queue(service, 2, f"message {number}")
        service.settle()
        assert rowan.text().split("\n") == [f"message {number}" for number in range(3)]


def test_replies_go_before_prompts(server: TelegramServer, lite_url: str) -> None:
    with running(server, lite_url, MovingClock(), messages_per_second=25.0) as service:
        vale = new_clinician(service, 1, "Dr Vale")
        rowan = active(service, vale, 2, "Rowan")
        service.clock.move(timedelta(seconds=2))
        for chat in range(2000, 2100):
            known(server, chat)
        for chat in range(2000, 2100):
            queue(service, chat, "Good morning")
        service.wake()
        server.wait_for(lambda: any(each.text == "Good morning" for each in server.sent()))
        rowan.user.says("thanks")
        server.wait_for(lambda: "You are welcome" in server.text_to(2))
        mornings = sum(each.text == "Good morning" for each in server.sent())
        assert mornings < 75, "the answer did not wait for a hundred prompts"
        assert server.violations() == []
        with service.database.session() as session:
            # The rest would be sent before the service stops.
            session.connection().exec_driver_sql("DELETE FROM outgoing_messages WHERE sent_at IS NULL")


def test_answers_to_messages_of_one_chat_come_in_the_order_of_the_messages(
    server: TelegramServer, lite_url: str
) -> None:
    with running(server, lite_url) as service:
        vale = new_clinician(service, 1, "Dr Vale")
        rowan = active(service, vale, 2, "Rowan")
        service.go_to(service.at(1, "12:00"))
        rowan.new()
        for pain in (7, 6, 5, 4):
            rowan.user.says(f"first steps {pain}, comes and goes")
        service.settle()
        said = [line for line in rowan.text().split("\n") if "first steps" in line]
        assert [next(p for p in (7, 6, 5, 4) if f"first steps {p}" in line) for line in said] == [7, 6, 5, 4]
