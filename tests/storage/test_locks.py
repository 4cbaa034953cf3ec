"""Who waits for whom. Locks are taken in one order (clinician, patient, alerts, outbox), so that nobody waits in a ring."""

from __future__ import annotations

import gc
import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotYet
from typing import Any

import pytest
from sqlalchemy import make_url, text
from sqlmodel import select

from storage import messages, people
from storage.database import Database, Turns
from storage.memory import Memory
from storage.tables import OutgoingMessage
from tests.conversation.room import Room

on_postgres = pytest.mark.parametrize("database_url", ["postgres"], indirect=True)


@pytest.fixture
def beside() -> Iterator[Callable[..., Future[Any]]]:
    """Runs something in another thread."""
    with ThreadPoolExecutor(1) as pool:
        yield pool.submit


def _waits(future: Future[Any]) -> bool:
    try:
        future.result(0.3)
    except NotYet:
        return True
    return False


@pytest.mark.postgres
@on_postgres
@pytest.mark.parametrize("who", ["clinician", "patient"])
def test_the_turns_of_one_chat_come_one_after_the_other(
    database: Database, beside: Callable[..., Future[Any]], who: str
) -> None:
    room = Room(database)
    with database.session() as session:
        if who == "clinician":
            people.clinician_by_address(session, "test", who, lock=True)
        else:
            people.patient_by_address(session, "test", who)
        turn = beside(room.send, 1, "12:00", "/caseload", who)
        assert _waits(turn)
    assert turn.result(10)


@pytest.mark.postgres
@on_postgres
def test_a_patients_turn_that_writes_to_the_clinician_does_not_wait_for_the_clinicians_own(
    database: Database, beside: Callable[..., Future[Any]]
) -> None:
    room = Room(database)
    with database.session() as session:
        people.clinician_by_address(session, "test", "clinician", lock=True)
        assert beside(room.send, 1, "12:00", "I have chest pain").result(10)
        assert "chest pain" in room.sent_to("clinician")


@pytest.mark.postgres
@on_postgres
@pytest.mark.parametrize("told", ["blocked", "gone"])
def test_a_chat_that_is_gone_waits_for_its_patient_with_no_message_in_its_hand(
    database: Database, beside: Callable[..., Future[Any]], told: str
) -> None:
    """The other way round a pressed button waited for us and we for it: PostgreSQL ends one of the two."""
    room = Room(database)
    now = room.at(1, "07:00")
    room.conversation.tick(now)
    with database.session() as session:
        number = session.exec(select(OutgoingMessage.id)).one() or 0
    with database.session() as session:
        people.patient_by_address(session, "test", "patient")
        act = room.conversation.blocked if told == "blocked" else room.conversation.gone
        gone = beside(act, *((number,) if told == "blocked" else ("test", "patient")), now)
        assert _waits(gone)
        assert session.exec(
            select(OutgoingMessage).where(OutgoingMessage.id == number).with_for_update(nowait=True)
        ).one()
    gone.result(10)
    assert room.get().unreachable_at == now
    with database.session() as session:
        assert messages.waiting(session, now) == 1, "only what the clinician is told"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_reading_waits_for_no_writer_on_sqlite(database: Database, beside: Callable[..., Future[Any]]) -> None:
    room = Room(database)

    def count() -> int:
        with database.reading() as session:
            return len(people.clinicians(session))

    with database.session() as session:
        people.add_clinician(session, name="New", channel="test", address="n", timezone="UTC", now=room.at(1, "07:00"))
        session.flush()
        assert beside(count).result(5) == 1
    assert beside(count).result(5) == 2


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_no_writer_waits_for_reading_on_sqlite(database: Database, database_url: str) -> None:
    Room(database)
    with database.reading() as session:
        assert len(people.clinicians(session)) == 1
        with sqlite3.connect(str(make_url(database_url).database), timeout=0) as other:
            other.execute("UPDATE clinicians SET name = 'Other'")
        with database.session() as writing:
            writing.connection().execute(text("UPDATE clinicians SET name = 'Third'"))


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_write_still_takes_its_turn_at_once_on_sqlite(database: Database, database_url: str) -> None:
    with database.session() as session:
        session.connection()
        with (
            sqlite3.connect(str(make_url(database_url).database), timeout=0) as other,
            pytest.raises(sqlite3.OperationalError, match="locked"),
        ):
            other.execute("BEGIN IMMEDIATE")


def test_threads_have_their_turns_in_the_order_in_which_they_came() -> None:
    turns, order = Turns(), []

    def act(name: str) -> None:
        with turns:
            order.append(name)

    with ThreadPoolExecutor(3) as pool:
        with turns, turns:
            for number in range(3):
                pool.submit(act, f"thread {number}")
                while len(turns._waiting) <= number:
                    pass
        # Asks again at once, as a tick does between its batches.
        act("the one who had it")
    assert order == ["thread 0", "thread 1", "thread 2", "the one who had it"]


def test_nothing_of_a_transaction_outlives_it(database: Database) -> None:
    """What it knew of hundreds of patients lay about until the garbage was looked for: 35 MB in a morning's rush."""
    room = Room(database)
    gc.collect()
    gc.disable()
    try:
        room.conversation.tick(room.at(1, "07:00"))
        assert [each for each in gc.get_objects() if isinstance(each, Memory)] == []
    finally:
        gc.enable()
