"""Messages that bring a picture or a file: their text is said once, and nobody waits for the drawing."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from bot.conversation.replies import Replies
from bot.conversation.wording import files
from storage import messages, people
from tests.channels.running import Person, Running, new_clinician
from tests.telegram_server import TelegramServer

QR = {"what": "qr", "link": "https://t.me/x?start=y"}


@pytest.fixture
def vale(service: Running) -> Person:
    """A clinician."""
    person = new_clinician(service, 1, "Dr Vale")
    person.new()
    return person


def _say(service: Running, text: str, attachment: dict[str, Any], key: str | None = None) -> None:
    with service.database.session() as session:
        clinician = people.clinician_by_address(session, "telegram", "1")
        Replies(session, service.clock()).say(text, clinician=clinician, attachment=attachment, key=key)
    service.wake()


def _calls(server: TelegramServer, method: str) -> list[int]:
    return [each.code for each in server.calls(method)]


def test_a_long_text_is_said_once_however_often_its_picture_fails(
    service: Running, server: TelegramServer, vale: Person
) -> None:
    server.fail_next("sendPhoto", status=502, times=3, html=True)
    _say(service, "A long text. " * 100, QR)
    service.settle()
    got = vale.new()
    assert [each.text[:12] for each in got] == ["A long text.", ""]
    assert [each.kind for each in got] == ["text", "photo"]
    assert _calls(server, "sendPhoto") == [502, 502, 502, 200]


def test_a_short_text_goes_with_its_picture(service: Running, vale: Person) -> None:
    _say(service, "\N{FOOT}" * 500, QR)
    service.settle()
    assert [(each.kind, len(each.text)) for each in vale.new()] == [("photo", 500)]


def test_a_file_that_is_too_large_is_tried_three_times_and_the_text_goes_without_it(
    service: Running, server: TelegramServer, vale: Person
) -> None:
    server.fail_next("sendPhoto", status=413, times=3)
    _say(service, "Here is the picture.", QR)
    service.settle()
    assert vale.text() == f"Here is the picture.\n\n{files.not_made()}"
    assert _calls(server, "sendPhoto") == [413, 413, 413]


def test_a_picture_that_telegram_refuses_does_not_cost_the_text(
    service: Running, server: TelegramServer, vale: Person
) -> None:
    server.fail_next("sendPhoto", status=400)
    _say(service, "Here is the picture.", QR)
    service.settle()
    assert vale.text() == f"Here is the picture.\n\n{files.not_made()}"
    assert _calls(server, "sendPhoto") == [400]


def test_a_picture_that_cannot_be_drawn_does_not_cost_the_text(
    service: Running, vale: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries: list[dict[str, Any]] = []

    def faulty(_database: Any, wanted: dict[str, Any], _now: Any) -> Any:
        tries.append(wanted)
        raise ZeroDivisionError

    monkeypatch.setattr("bot.channels.telegram.sending.draw", faulty)
    _say(service, "How it went. " * 100, QR)
    service.settle()
    assert [each.text[:12] for each in vale.new()] == ["How it went.", files.not_made()[:12]]
    assert len(tries) == 3


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """Drawing does not end before the test does. What is being drawn."""
    go_on = threading.Event()
    drawing: list[int] = []

    def draw(_database: Any, wanted: dict[str, Any], _now: Any) -> Any:
        drawing.append(wanted["number"])
        go_on.wait(20)
        raise LookupError

    monkeypatch.setattr("bot.channels.telegram.sending.draw", draw)
    monkeypatch.setattr("bot.channels.delivery.RENEW_EVERY", 0.05)
    yield drawing
    go_on.set()


def test_nobody_waits_for_fifty_drawings_and_nobody_else_takes_what_is_being_drawn(
    service: Running, server: TelegramServer, vale: Person, slow: list[int]
) -> None:
    for chat in range(100, 150):
        server.user(chat)
        server.world.chats[chat].started = True
    with service.database.session() as session:
        for chat in range(100, 150):
            messages.queue(
                session,
                key=f"digest:{chat}",
                channel="telegram",
                address=str(chat),
                text="The week",
                kind="digest",
                due_at=service.clock(),
                attachment=QR | {"number": chat},
            )
    service.wake()
    server.wait_for(lambda: bool(slow))
    for number in range(3):
        vale.user.says("/caseload")
        server.wait_for(lambda wanted=number + 1: server.text_to(1).count("no patients") >= wanted)  # type: ignore[misc]
        service.clock.move(timedelta(seconds=46))
    assert len(service.service.delivery._files) == 2
    threading.Event().wait(0.3)
    with service.database.session() as session:
        free = {row.address for row in messages.claim(session, service.clock(), 100)}
        session.rollback()
    assert len(free) == 48
    assert str(slow[0]) not in free
    assert slow == slow[:1]
    with service.database.session() as session:
        session.connection().exec_driver_sql("UPDATE outgoing_messages SET refused_at = due_at WHERE sent_at IS NULL")
