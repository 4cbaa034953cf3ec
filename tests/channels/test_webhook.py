"""By webhook: with the secret, and a health page. https://core.telegram.org/bots/api#setwebhook"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta

import httpx
import pytest

from bot.channels.telegram.service import WebhookRefused
from tests.channels.running import Running, active, free_port, new_clinician, running
from tests.telegram_server import TelegramServer

SECRET = "a-secret-of-sixteen-or-more"


@pytest.fixture
def hooked(server: TelegramServer, lite_url: str) -> Iterator[Running]:
    """The service by webhook."""
    port = free_port()
    with running(
        server,
        lite_url,
        webhook_url=f"http://127.0.0.1:{port}/heel/hook",
        webhook_port=port,
        webhook_secret=SECRET,
        health_host="127.0.0.1",
    ) as service:
        yield service


def post(service: Running, body: bytes) -> httpx.Response:
    """Hand something in, as Telegram does."""
    headers = {"X-Telegram-Bot-Api-Secret-Token": SECRET}
    return httpx.post(str(service.options.webhook_url), content=body, headers=headers)


def test_a_conversation_by_webhook(hooked: Running, server: TelegramServer) -> None:
    assert server.webhook()["secret_token"] == SECRET
    vale = new_clinician(hooked, 1, "Dr Vale")
    rowan = active(hooked, vale, 2, "Rowan")
    hooked.go_to(hooked.at(1, "07:05"))
    rowan.new()
    assert "first steps 3" in rowan.presses("3")
    assert rowan.notice() == "3"
    assert not server.calls("getUpdates")
    hooked.restart()
    assert "You are welcome" in rowan.says("thanks")


def test_nobody_without_the_secret_gets_anything(hooked: Running) -> None:
    vale = new_clinician(hooked, 1, "Dr Vale")
    update = {
        "update_id": 77,
        "message": {
            "message_id": 5,
            "date": 1,
            "chat": {"id": vale.chat_id, "type": "private", "first_name": "V"},
            "from": {"id": vale.chat_id, "is_bot": False, "first_name": "V"},
            "text": "/invite Mallory",
        },
    }
    body = json.dumps(update).encode()
    stored = hooked.rows.one("SELECT count(*) FROM incoming_messages")
    for secret in (None, b"", b"wrong", SECRET[:-1].encode(), SECRET.encode() + b"x", b"\xe9"):
        headers = [] if secret is None else [(b"X-Telegram-Bot-Api-Secret-Token", secret)]
        answer = httpx.post(str(hooked.options.webhook_url), content=body, headers=headers)
        assert (answer.status_code, answer.text) == (403, ""), secret
    assert hooked.rows.one("SELECT count(*) FROM incoming_messages") == stored
    assert post(hooked, body).status_code == 200
    assert hooked.rows.one("SELECT count(*) FROM incoming_messages") == stored + 1
    hooked.settle()


def test_what_is_no_update_is_refused_or_passed_over_without_a_fault(
    hooked: Running, caplog: pytest.LogCaptureFixture
) -> None:
    odd = (
        b"",
        b"{",
        b"[]",
        b"null",
        b"7",
        b'"text"',
        b"{}",
        b'{"update_id": "x"}',
        b'{"update_id": 1, "message": 5}',
        b"\xff",
    )
    for body in odd:
        assert post(hooked, body).status_code in {200, 400}, body
    assert "Traceback" not in caplog.text
    assert hooked.rows.one("SELECT count(*) FROM incoming_messages") == 0


def test_other_pages_are_not_there(hooked: Running) -> None:
    port = hooked.options.webhook_port
    for path in ("/", "/heel", "/heel/hook/x", "/metrics", "/heelxhook"):
        assert httpx.get(f"http://127.0.0.1:{port}{path}").status_code == 404, path
    assert httpx.get(f"http://127.0.0.1:{port}/heel/hook").status_code == 405


def test_the_health_page_tells_how_things_are(hooked: Running) -> None:
    page = f"http://127.0.0.1:{hooked.service.health_port}"
    hooked.tick()
    answer = httpx.get(f"{page}/health")
    assert answer.status_code == 200
    assert answer.json()["status"] == "ok"
    assert answer.json()["database"] == "ok"
    assert httpx.get(f"http://127.0.0.1:{hooked.options.webhook_port}/health").status_code == 200
    new_clinician(hooked, 1, "Dr Vale")
    figures = httpx.get(f"{page}/metrics").text
    assert 'heel_checkin_updates_total{result="handled"} 1.0' in figures
    assert 'heel_checkin_messages_total{result="sent"} 1.0' in figures
    assert "Vale" not in figures + answer.text
    hooked.clock.move(timedelta(minutes=4))
    assert httpx.get(f"{page}/health").status_code == 503, "the last tick was long ago"


def test_an_update_that_the_database_does_not_take_is_sent_again(hooked: Running, server: TelegramServer) -> None:
    vale = new_clinician(hooked, 1, "Dr Vale")
    with hooked.database.session() as session:
        session.connection().exec_driver_sql("ALTER TABLE incoming_messages RENAME TO away")
    said = vale.user.says("/caseload")
    server.wait_for(lambda: "503" in server.webhook().get("last_error_message", ""))
    assert server.unconfirmed() == [said.update_id]
    with hooked.database.session() as session:
        session.connection().exec_driver_sql("ALTER TABLE away RENAME TO incoming_messages")
    hooked.settle()
    assert vale.text() != ""
    assert hooked.rows.one("SELECT count(*) FROM incoming_messages WHERE text = '/caseload'") == 1


def test_a_webhook_address_that_telegram_refuses_is_told_at_the_start(server: TelegramServer, lite_url: str) -> None:
    server.fail_next("setWebhook", status=400)
    with (
        pytest.raises(WebhookRefused),
        running(server, lite_url, webhook_url="http://127.0.0.1/hook", webhook_port=free_port()),
    ):
        raise AssertionError("it must not start")
