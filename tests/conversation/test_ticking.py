"""A fault in one row costs one person an hour, never everybody their prompts, alerts or digests."""

from __future__ import annotations

import logging
from collections import Counter
from datetime import datetime
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from bot.conversation import alerting, digests
from bot.conversation.service import Conversation
from storage.database import Database
from tests.conversation.room import Room


@pytest.fixture
def aside() -> Counter[str]:
    """What was set aside, by kind."""
    return Counter()


@pytest.fixture
def room(database: Database, aside: Counter[str]) -> Room:
    """Three patients who are due at 07:00."""
    made = Room(database)
    made.conversation = Conversation(database, set_aside=lambda what: aside.update([what]))
    for number in range(2):
        made.add_patient(f"Other{number}", f"other{number}", next_due_at=made.at(1, "07:00"), next_due_kind="morning")
    return made


def _spoil(room: Room) -> None:
    """A step that no version of the ladder ever had, as a slip by hand leaves it."""
    with room.database.engine.begin() as connection:
        connection.execute(text("UPDATE patients SET start_step = 'moon walk' WHERE id = :id"), {"id": room.patient_id})


def _prompted(room: Room, now: datetime) -> list[str]:
    return sorted(address for address, _ in room.deliver(now))


def test_one_bad_patient_row_stops_nobody_elses_prompt(
    room: Room, aside: Counter[str], caplog: pytest.LogCaptureFixture
) -> None:
    _spoil(room)
    now = room.at(1, "07:00")
    with caplog.at_level(logging.ERROR):
        assert room.conversation.tick(now) == 3
    assert _prompted(room, now) == ["other0", "other1"]
    assert aside == {"prompt": 1}
    assert f"number {room.patient_id} " in caplog.text
    assert "Rowan" not in caplog.text
    assert room.get().next_due_at == room.at(1, "08:00")
    # Mended within the hour: the prompt comes.
    room.set(start_step="seated both")
    room.conversation.tick(room.at(1, "08:00"))
    assert _prompted(room, room.at(1, "08:00")) == ["patient"]


def test_one_that_goes_on_failing_is_looked_at_again_and_never_prompted_at_night(
    room: Room, aside: Counter[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def faulty(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError

    looks = []
    with monkeypatch.context() as patched:
        patched.setattr("bot.conversation.prompting.queue_due_prompt", faulty)
        while (due := room.get().next_due_at) and due < room.at(2, "07:00"):
            looks.append(due)
            room.conversation.tick(due)
    hours = ("07:00", "08:00", "09:00", "19:30", "20:30", "21:30", "22:30")
    assert looks == [room.at(1, hour) for hour in hours], (
        "a nudge is not worth a second try, a prompt three hours' tries"
    )
    assert aside["prompt"] >= len(looks)
    room.deliver(room.at(2, "07:00"))
    room.conversation.tick(room.at(2, "07:00"))
    assert "patient" in _prompted(room, room.at(2, "07:00"))


def test_a_row_without_sense_in_its_own_clock_is_set_aside_too(room: Room, aside: Counter[str]) -> None:
    with room.database.engine.begin() as connection:
        connection.execute(text("UPDATE patients SET timezone = 'Moon/Sea' WHERE id = 1"))
    now = room.at(1, "07:00")
    room.conversation.tick(now)
    assert _prompted(room, now) == ["other0", "other1"]
    assert room.get().next_due_at == room.at(1, "08:00")
    assert room.conversation.tick(now) == 0
    assert aside == {"prompt": 1}


@pytest.mark.parametrize("module, name", [(alerting, "repeat_due"), (digests, "queue_due_digest")])
def test_each_step_goes_on_when_another_fails(
    room: Room, aside: Counter[str], monkeypatch: pytest.MonkeyPatch, module: Any, name: str
) -> None:
    room.say(1, "07:05", "my foot is numb and I have chest pain")
    with room.database.engine.begin() as connection:
        due = room.at(1, "06:00").replace(tzinfo=None)
        connection.execute(text("UPDATE alerts SET next_at = :due"), {"due": due})
        connection.execute(text("UPDATE clinicians SET next_digest_at = :due"), {"due": due})
    for each in range(2):
        room.set(2 + each, next_due_at=room.at(1, "19:30"), next_due_kind="evening")

    def faulty(*_: Any, **__: Any) -> int:
        raise ZeroDivisionError

    monkeypatch.setattr(module, name, faulty)
    now = room.at(1, "19:30")
    room.conversation.tick(now)
    got = room.deliver(now)
    if module is digests:
        assert aside == {"digest": 1}
        assert any("chest" in said for address, said in got if address == "clinician"), "the alert is repeated"
    else:
        assert aside == {"alert": 1}
        assert any("PDF" in said or "Rowan" in said for address, said in got if address == "clinician")
    assert {"other0", "other1"} <= {address for address, _ in got}, "and the evening's prompts are there"
    aside.clear()
    room.conversation.tick(now)
    assert aside == {}, "not again within the hour"


def test_a_database_that_is_away_ends_the_tick_and_sets_nobody_aside(
    room: Room, aside: Counter[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(*_: Any, **__: Any) -> int:
        raise OperationalError("SELECT 1", {}, Exception("the server closed the connection"))

    with monkeypatch.context() as patched:
        patched.setattr("bot.conversation.ticking.queue_due_prompts", away)
        with pytest.raises(OperationalError):
            room.conversation.tick(room.at(1, "07:00"))
    assert aside == {}
    assert room.conversation.tick(room.at(1, "07:00")) == 3
