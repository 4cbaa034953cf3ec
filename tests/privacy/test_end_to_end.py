"""The real service on a Bot API server: what it logs of people, what a patient takes along, and what is left after leaving."""

from __future__ import annotations

import io
import json
import logging
import sys
import threading
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from bot import logs
from bot.conversation import service as conversation
from storage.erase import compact
from tests.channels.running import Person, Running, enrol, new_clinician, running
from tests.privacy.lives import traces
from tests.telegram_server import TelegramServer
from tests.telegram_server.world import DEFAULT_TOKEN

ALIAS, WORD, NOTE = "Quillon", "zibeline", "marchpane"
PATIENT, CLINICIAN, STRANGER = 987_650_001, 987_650_002, 987_650_003
PRIVATE = (ALIAS, WORD, NOTE, str(PATIENT), str(CLINICIAN), str(STRANGER), "Dr Vale")


@pytest.fixture
def logged() -> Iterator[io.StringIO]:
    """Everything that is logged, from debug on, as the service writes it."""
    root = logging.getLogger()
    hooks = (logging.raiseExceptions, sys.excepthook, threading.excepthook, list(root.handlers), root.level)
    levels = {name: logging.getLogger(name).level for name in ("bot", "scheduler", "storage", "__main__")}
    out = io.StringIO()
    logs.set_up("debug", "json", secrets=(DEFAULT_TOKEN,), stream=out)
    yield out
    logging.raiseExceptions, sys.excepthook, threading.excepthook, root.handlers[:], level = hooks
    root.setLevel(level)
    for name, each in levels.items():
        logging.getLogger(name).setLevel(each)


def _clinic(service: Running) -> tuple[Person, Person]:
    vale = new_clinician(service, CLINICIAN, "Dr Vale")
    quillon = enrol(service, vale, PATIENT, ALIAS)
    service.go_to(service.at(1, "07:30"))
    quillon.says(f"3, comes and goes, {WORD}")
    service.go_to(service.at(1, "20:00"))
    quillon.says(f"walked 5 min, all done, worst 3, {WORD}")
    vale.says(f"/note {ALIAS} {NOTE}")
    return vale, quillon


def test_nothing_of_people_gets_into_the_logs(
    database_url: str, logged: io.StringIO, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    turn = conversation.PatientTurn.handle

    def breaks(self: Any, text: str, *arguments: Any, **more: Any) -> Any:
        if "trip up" in text:
            raise ValueError(f"cannot read {text!r} of {self.patient.alias}")
        return turn(self, text, *arguments, **more)

    monkeypatch.setattr(conversation.PatientTurn, "handle", breaks)
    with TelegramServer() as server, running(server, database_url) as service:
        vale, quillon = _clinic(service)
        Person(service, STRANGER).says(f"hello, {WORD}")
        # What may go wrong on the way: our own fault, a server that fails, a wait, a chat that is closed.
        quillon.says(f"trip up, {WORD}")
        server.fail_next("sendMessage", status=500)
        quillon.says(f"4, {WORD}")
        server.fail_next("sendMessage", status=429, retry_after=1)
        quillon.says(f"my calf is hot and swollen, {WORD}")
        quillon.user.blocks()
        vale.says(f"/message {ALIAS} {NOTE}")
        token = server.token
    told = logged.getvalue() + "".join(capfd.readouterr())
    lines = [json.loads(line) for line in logged.getvalue().splitlines()]
    assert len(lines) >= 3, "otherwise this test looks at nothing"
    assert any("exception" in line or line["level"] == "error" for line in lines), "the fault was to be logged"
    for private in (*PRIVATE, token, token.partition(":")[2]):
        assert private not in told, private


def test_a_patient_takes_the_data_along_and_leaves_without_a_trace(database_url: str) -> None:
    with TelegramServer() as server, running(server, database_url) as service:
        vale, quillon = _clinic(service)
        quillon.says("my data")
        copies = [each for each in quillon.user.received() if each.kind == "document"]
        assert len(copies) == 1
        with zipfile.ZipFile(io.BytesIO(copies[0].data or b"")) as packed:
            assert packed.testzip() is None
            copy = json.loads(packed.read("everything.json"))
        assert WORD in json.dumps(copy["messages_from_you"])
        assert [name for name, part in copy.items() if NOTE in json.dumps(part)] == []
        assert copy["mornings"][0]["first_step_pain"] == 3

        assert "delete" in quillon.says("erase")
        with service.database.session() as session:
            assert len(traces(session, ALIAS, WORD, str(PATIENT))) > 20
        assert "is deleted" in quillon.says("yes")
        assert f"{ALIAS} has left" in vale.text()
        service.go_on(hours=30)
        with service.database.session() as session:
            assert traces(session, ALIAS, WORD, NOTE, str(PATIENT)) == []
            assert len(traces(session, "erased_on")) == 0
        assert [row[0] for row in service.rows.all("SELECT count(*) FROM erasures")] == [1]
        assert compact(service.database)
        assert not quillon.new(), "nobody writes to somebody who left"
        # Somebody who was erased is a stranger again.
        assert ALIAS not in quillon.says("hello")
        assert service.clock() - service.at(1, "20:00") < timedelta(days=3)
