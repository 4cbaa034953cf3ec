"""What goes into the database comes out the same: decisions, states, texts; and the network is out of reach."""

from __future__ import annotations

import random
import re
import socket
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from pytest_socket import SocketConnectBlockedError
from sqlmodel import select

from bot.program.protocol import DEFAULT
from storage import decisions, messages, people, records
from storage.database import Database, DatabaseError, open_database
from storage.tables import FlareRow
from tests.oracle.histories import random_programme
from tests.program.differential import Engine

NOW = datetime(2026, 3, 2, 7, tzinfo=UTC)
DAY = date(2026, 3, 2)


def _patient(database: Database) -> int:
    with database.session() as session:
        patient = people.add_patient(session, alias="Rowan", channel="t", address="p", created_at=NOW)
        session.flush()
        return patient.id or pytest.fail("a stored patient has an id")


def _spelt(value: object) -> str:
    """With the types, which equality does not see (a string enum equals its plain string); 6 and 6.0 are one number."""
    return re.sub(r"(?<=\d)\.0\b", "", repr(value))


def test_states_and_decisions_come_back_as_they_were(database: Database) -> None:
    patient_id, seen, flares = _patient(database), 0, 0
    for seed in range(6):
        programme = random_programme(random.Random(seed), 60)
        engine = Engine(programme)
        for number, day in enumerate(programme["days"]):
            engine.day(day["events"])
            assert engine.previous is not None
            _, decision, _ = engine.previous
            at = DAY + timedelta(days=100 * seed + number)
            with database.session() as session:
                decisions.put_state(session, patient_id, at, engine.state)
                decisions.add_decision(
                    session, patient_id=patient_id, day=at, decision=decision, protocol=DEFAULT, decided_at=NOW
                )
            with database.session() as session:
                state, again = (
                    decisions.get_state(session, patient_id, at),
                    decisions.latest_decision(session, patient_id, at),
                )
            assert state == engine.state
            assert _spelt(state) == _spelt(engine.state)
            assert again == decision
            assert _spelt(again) == _spelt(decision)
            seen, flares = seen + 1, flares + (decision.flare is not None)
    assert seen == 360
    assert flares > 10, "flares are among what was tried"
    with database.session() as session:
        assert len(session.exec(select(FlareRow)).all()) == flares


def test_texts_that_no_column_takes_are_stored_all_the_same(database: Database) -> None:
    with database.session() as session:
        stored = messages.store_incoming(
            session,
            channel="t",
            update_id="1",
            address="p",
            kind="text",
            text="4\x00 on \ud800 and off \U0001f9b6",
            sent_at=NOW,
            received_at=NOW,
        )
        assert stored is not None
        assert messages.queue(session, key="k", channel="t", address="p", text="\x00", kind="reply", due_at=NOW)
        stored_id = stored.id
    with database.session() as session:
        found = session.get(type(stored), stored_id)
        assert found is not None
        assert found.text == "4\ufffd on \ufffd and off \U0001f9b6"


def test_what_fails_rolls_back_whole(database: Database) -> None:
    with pytest.raises(RuntimeError), database.session() as session:
        people.add_clinician(session, name="Dr Vale", channel="t", address="c", timezone="UTC", now=NOW)
        session.flush()
        raise RuntimeError
    with database.session() as session:
        assert people.clinician_by_address(session, "t", "c") is None


def test_nothing_said_is_a_silent_morning_and_an_empty_evening(database: Database) -> None:
    patient_id = _patient(database)
    with database.session() as session:
        assert records.morning_of(session, patient_id, DAY).silent
        assert not records.evening_of(session, patient_id, DAY).reported
        assert records.last_recorded_message(session, patient_id) is None


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("no url at all", "begins with sqlite:///"),
        ("postgresql+nosuchdriver://x/y", "begins with sqlite:///"),
        ("sqlite:///{folder}/notes.txt", "not a database"),
        ("sqlite:///{folder}/notes.txt/below/a.sqlite3", "cannot be made"),
    ],
)
def test_what_cannot_be_a_database_is_refused_in_plain_words(url: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("not a database, but long enough to be looked at as one " * 50)
    with pytest.raises(DatabaseError, match=said) as problem:
        open_database(url.format(folder=tmp_path))
    assert "HEEL_CHECKIN_DATABASE_URL" in str(problem.value)


@pytest.mark.filterwarnings("ignore:A test tried to use socket")
def test_the_network_is_out_of_reach() -> None:
    # 192.0.2.0/24 is for documentation and leads nowhere (RFC 5737).
    with socket.socket() as sock, pytest.raises(SocketConnectBlockedError):
        sock.connect(("192.0.2.1", 80))
