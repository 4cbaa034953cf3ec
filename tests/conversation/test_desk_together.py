"""A clinician and a patient at the same time: nobody's words are lost, and nothing that was not read is acted on."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from sqlmodel import select

from bot.conversation.values import Incoming
from bot.program.terms import RedFlag
from storage import alerts, flags, people
from storage.database import Database, open_database
from storage.tables import ClinicianAction
from tests.conversation.room import Room

CALF = "my calf is swollen and hot"
NUMB = "my foot is numb"


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


def _doctor(room: Room, text: str, written: str, handled: str) -> str:
    """What is written at one time and arrives at another (an outage, or a patient who was quicker)."""
    now = room.at(1, handled)
    room.updates += 1
    room.conversation.handle(
        Incoming(
            channel="test", update_id=str(room.updates), address="clinician", text=text, sent_at=room.at(1, written)
        ),
        now,
    )
    room.last = room.deliver(now)
    return room.sent_to("clinician")


def test_a_clearing_does_not_touch_a_sign_that_came_after_it_was_written(room: Room) -> None:
    room.say(1, "07:10", f"4, on and off. {NUMB}")
    room.say(1, "10:05", CALF)
    reply = _doctor(room, "/clear Rowan", "10:00", "10:10")
    assert "cleared nerve_signs" in reply
    assert "NEW since you wrote: clot_signs" in reply
    assert room.sent_to("patient") == "", "nothing goes on"
    assert room.open_flags() == ["clot_signs"]
    with room.database.session() as session:
        assert [each.seen_at is None for each in alerts.unseen(session, [1])] == [True]
    assert "cleared clot_signs" in _doctor(room, "/clear Rowan", "10:20", "10:20")
    assert room.open_flags() == []


def test_a_clearing_of_nothing_but_newer_signs_does_nothing(room: Room) -> None:
    room.say(1, "10:05", CALF)
    assert "NEW since you wrote" in _doctor(room, "/clear Rowan", "10:00", "10:10")
    assert room.open_flags() == ["clot_signs"]
    assert room.actions() == []


def test_a_clearing_waits_for_the_patients_turn_and_sees_what_it_said(database: Database) -> None:
    """The patient's turn is not over yet when the clinician's message comes in; it opens a second sign."""
    room = Room(database)
    room.say(1, "07:10", f"4, on and off. {NUMB}")
    with ThreadPoolExecutor(1) as executor:
        with database.session() as session:
            patient = people.patient_by_address(session, "test", "patient")
            assert patient is not None
            clearing = executor.submit(_doctor, room, "/clear Rowan", "10:00", "10:00")
            with pytest.raises(TimeoutError):
                clearing.result(0.5)
            patient.walk_target = 44
            later = room.at(1, "10:00") + timedelta(seconds=1)
            flags.open_flag(
                session, patient_id=1, code=RedFlag.CLOT_SIGNS, score=None, words=CALF, message_id=None, now=later
            )
        assert "NEW since you wrote: clot_signs" in clearing.result(10)
    assert room.open_flags() == ["clot_signs"]
    assert room.get().walk_target == 44


def test_a_repeated_alert_waits_for_nobody(database: Database) -> None:
    """Whoever holds the patient may want the alert next: the tick must not hold it and wait for the patient."""
    room = Room(database)
    room.say(1, "10:00", CALF)
    if database.engine.dialect.name == "sqlite":
        room.conversation.tick(room.at(1, "11:00"))
    else:
        with ThreadPoolExecutor(1) as executor, database.session() as session:
            people.patient_by_address(session, "test", "patient")
            executor.submit(room.conversation.tick, room.at(1, "11:00")).result(10)
        assert room.deliver(room.at(1, "11:00")) == []
        room.conversation.tick(room.at(1, "11:01"))
    assert CALF in "".join(text for who, text in room.deliver(room.at(1, "11:01")) if who == "clinician")


@pytest.mark.parametrize("command", ["/caseload", "/patient Rowan", "/week Rowan", "/note Rowan x"])
def test_what_the_rules_tell_of_a_day_is_kept_whoever_closes_it(room: Room, command: str) -> None:
    """Nobody ticked for days: the clinician's own look is what closes them."""
    _doctor(room, "/atonce on", "06:00", "06:00")
    room.send(5, "12:00", command, "clinician")
    with room.database.session() as session:
        told = session.exec(select(ClinicianAction.details).where(ClinicianAction.kind == "notice")).all()
    assert [(each["notice"], each["day"]) for each in told] == [("silence", "2026-03-04")]
    assert "No answer for 3 mornings" in room.sent_to("clinician"), "and at once, as was wanted"
    room.send(5, "12:01", command, "clinician")
    assert "No answer for 3 mornings" not in room.sent_to("clinician")
