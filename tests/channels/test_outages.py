"""What passes by itself is waited for; what is for good holds up nobody."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.exc import DataError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from telegram import Bot, Update

from bot.channels.delivery import Delivery, Result, Sent, shares_of
from bot.channels.metrics import Metrics
from bot.channels.telegram.receiving import Receiver, Unhandled
from bot.conversation.service import Conversation
from bot.conversation.values import Outgoing
from storage import messages
from storage.database import Database, open_database

NOW = datetime(2026, 3, 2, 7, tzinfo=UTC)
AWAY = OperationalError("SELECT 1", {}, Exception("the server closed the connection"))
FULL = PoolTimeout("QueuePool limit of size 10 overflow 5 reached, connection timed out")
FOR_GOOD = DataError("SELECT 1", {}, Exception("integer out of range"))


@pytest.fixture
def database(lite_url: str) -> Any:
    """A migrated SQLite file."""
    opened = open_database(lite_url)
    yield opened
    opened.close()


def _fails(times: int, problem: Exception, work: Callable[..., Any]) -> Callable[..., Any]:
    left = [times]

    def failing(*given: Any, **more: Any) -> Any:
        if left[0]:
            left[0] -= 1
            raise problem
        return work(*given, **more)

    return failing


def _hears(conversation: Conversation) -> Any:
    receiver = Receiver(conversation, Bot("1:a"), lambda: NOW, lambda: None, Metrics())
    chat = {"id": 2, "type": "private", "first_name": "R"}
    message = {"message_id": 9, "date": 1_772_000_000, "chat": chat, "from": chat | {"is_bot": False}, "text": "4"}
    return receiver.take(Update.de_json({"update_id": 7, "message": message}, None) or pytest.fail("no update"))


def _kinds(database: Database) -> list[str]:
    with database.engine.connect() as connection:
        return [row[0] for row in connection.exec_driver_sql("SELECT kind FROM incoming_messages")]


@pytest.mark.parametrize("problem", [AWAY, FULL])
def test_a_message_is_not_taken_while_the_database_is_away(
    database: Database, monkeypatch: pytest.MonkeyPatch, problem: Exception
) -> None:
    conversation = Conversation(database)
    monkeypatch.setattr(conversation, "handle", _fails(1, problem, conversation.handle))
    with pytest.raises(Unhandled):
        asyncio.run(_hears(conversation))
    assert _kinds(database) == []
    asyncio.run(_hears(conversation))
    assert _kinds(database) == ["text"]


def test_a_message_that_the_database_will_never_take_is_kept_as_it_came(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    conversation = Conversation(database)
    monkeypatch.setattr(conversation, "handle", _fails(9, FOR_GOOD, conversation.handle))
    asyncio.run(_hears(conversation))
    assert _kinds(database) == ["failed"]


def test_a_message_is_kept_although_nobody_can_be_told(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    conversation = Conversation(database)
    monkeypatch.setattr(conversation, "handle", _fails(9, FOR_GOOD, conversation.handle))
    monkeypatch.setattr(conversation, "_tell_kept", _fails(9, ZeroDivisionError(), conversation._tell_kept))
    asyncio.run(_hears(conversation))
    assert _kinds(database) == ["failed"]


class _Notes:
    """A sender that is always well."""

    def __init__(self, done: Callable[[], None], pause: float = 0.0) -> None:
        self.sent: list[str] = []
        self.done = done
        self.pause = pause

    async def send(self, message: Outgoing) -> Sent:
        await asyncio.sleep(self.pause)
        self.sent.append(message.text)
        self.done()
        return Sent(Result.SENT, source_id="1")


def _queue(database: Database, *texts: str, **more: Any) -> None:
    with database.session() as session:
        for number, text in enumerate(texts):
            messages.queue(
                session,
                key=text,
                channel="telegram",
                address=str(number),
                text=text,
                kind="reply",
                due_at=NOW,
                **more,
            )


@pytest.mark.parametrize("problem", [AWAY, FULL, FOR_GOOD])
def test_delivery_outlives_a_database_that_fails(
    database: Database, monkeypatch: pytest.MonkeyPatch, problem: Exception
) -> None:
    _queue(database, "hello")

    async def deliver() -> list[str]:
        stop = asyncio.Event()
        sender = _Notes(stop.set)
        delivery = Delivery(database, Conversation(database), sender, lambda: NOW, Metrics(), per_second=25)
        monkeypatch.setattr(delivery, "_take_now", _fails(1, problem, delivery._take_now))
        monkeypatch.setattr(delivery, "_note", _fails(1, problem, delivery._note))
        monkeypatch.setattr("bot.channels.delivery._IDLE", 0.01)
        await asyncio.wait_for(delivery.run(stop), 10)
        return sender.sent

    assert asyncio.run(deliver()) == ["hello"]
    with database.session() as session:
        assert messages.waiting(session, NOW + timedelta(hours=1)) == 0


def test_the_pace_and_the_burst_together_are_the_wanted_pace() -> None:
    """In any one second at most the burst and what a second fills up: never more than was set."""
    for wanted in range(1, 29):
        steady, burst = shares_of(wanted)
        assert int(burst + steady) <= wanted
        assert steady >= wanted / 2


def test_an_idle_look_writes_nothing(database: Database) -> None:
    began: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_: Any) -> None:
        began.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    delivery = Delivery(database, Conversation(database), _Notes(lambda: None), lambda: NOW, Metrics(), per_second=25)
    assert delivery._take_now(40) == []
    assert [each.split()[0] for each in began] == ["BEGIN", "SELECT"]
    assert "BEGIN IMMEDIATE" not in began
    _queue(database, "hello")
    assert [each.text for each in delivery._take_now(40)] == ["hello"]
    assert "BEGIN IMMEDIATE" in began
