"""The service as an operator runs it: the invitation of the first clinician, serving, and a clean end."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.channels.process import environment, start
from tests.channels.running import MovingClock, Rows, running, token_in
from tests.telegram_server import ServerProcess


@pytest.fixture
def started() -> Iterator[list[subprocess.Popen[str]]]:
    """Processes that end with the test."""
    held: list[subprocess.Popen[str]] = []
    yield held
    for process in held:
        if process.poll() is None:
            process.kill()
        process.communicate()


def test_enrolment_and_a_clean_stop_of_a_process(
    lite_url: str, tmp_path: Path, started: list[subprocess.Popen[str]]
) -> None:
    with ServerProcess() as server:
        settings = environment(server, lite_url, log_level="debug")
        picture = tmp_path / "invitation.png"
        inviting = start(
            "invite", "Dr Vale", "--timezone", "Europe/Lisbon", "--picture", str(picture), environment=settings
        )
        started.append(inviting)
        log = tmp_path / "log.txt"
        service = start("serve", environment=settings, log=log)
        started.append(service)
        invitation, problems = inviting.communicate(timeout=60)
        assert inviting.returncode == 0, problems
        assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"

        vale, rowan = server.user(1), server.user(2)
        vale.starts(token_in(invitation))
        server.wait_for(lambda: "Welcome, Dr Vale" in server.text_to(1), 60)
        vale.says("/invite Rowan")
        server.wait_for(lambda: "t.me" in server.text_to(1))
        token = next(token_in(each.text) for each in server.sent_to(1) if "t.me" in each.text)
        rowan.starts(token)
        consent = server.wait_for(lambda: [each for each in server.sent_to(2) if each.buttons])
        rowan.presses(consent[-1], "yes")
        server.wait_for(lambda: server.count_sent(2) >= 2)

        said = [server.user(chat).says("hello, the heel is fine") for chat in range(100, 120)]
        service.send_signal(signal.SIGTERM)
        assert service.wait(30) == 0
        rows = Rows(lite_url)
        taken = {int(each) for (each,) in rows.all("SELECT update_id FROM incoming_messages")}
        left = set(server.unconfirmed())
        # What Telegram was told to be taken is stored; what is not stored will be sent again.
        assert {each.update_id for each in said} <= taken | left
        assert rows.one("SELECT count(*) FROM outgoing_messages WHERE sent_at IS NULL AND refused_at IS NULL") == 0
        answered = [each.update_id for each, chat in zip(said, range(100, 120), strict=True) if server.count_sent(chat)]
        assert {each.update_id for each in said} & taken == set(answered), "what was accepted is answered"
        assert all(server.count_sent(chat) <= 1 for chat in range(100, 120))

        words = log.read_text()
        assert "Stopped" in words
        for secret in (server.token, token, "Rowan", "Vale", "heel is fine"):
            assert secret not in words, secret
        assert "Traceback" not in words

        # What was not taken is answered by the next start, and only that.
        with running(server, lite_url, MovingClock(datetime.now(UTC))) as again:
            again.settle()
            assert all(server.count_sent(chat) == 1 for chat in range(100, 120))
        assert rows.one("SELECT count(*) FROM incoming_messages WHERE role = 'stranger'") == 20
        rows.close()
