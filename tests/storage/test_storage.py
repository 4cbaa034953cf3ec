"""Tables, migrations and the outbox, on SQLite and PostgreSQL."""

from __future__ import annotations

import stat
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlmodel import SQLModel, select

from bot.program.terms import Activity, Exercise, RestPattern
from bot.program.values import ActivityAmount, Evening, Morning, RaisesReported
from storage import decisions, flags, messages, people, records
from storage.database import Database, DatabaseError, open_database
from storage.tables import EveningReport, MorningReport, OutgoingMessage
from tests.conversation.room import START, Room

NOW = datetime(2026, 3, 2, 7, tzinfo=UTC)


def test_the_migrations_lead_to_the_tables_that_the_code_knows(database: Database) -> None:
    with database.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), SQLModel.metadata) == []


def test_opening_again_keeps_what_is_there(database: Database, database_url: str) -> None:
    with database.session() as session:
        people.add_clinician(session, name="Dr Vale", channel="test", address="c", timezone="UTC", now=NOW)
    again = open_database(database_url)
    with again.session() as session:
        assert people.clinician_by_address(session, "test", "c") is not None
    again.close()


def test_a_database_of_a_newer_program_is_refused_in_plain_words(database: Database, database_url: str) -> None:
    with database.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(DatabaseError, match="newer program"):
        open_database(database_url)


def test_an_unreachable_database_is_said_to_be_so() -> None:
    with pytest.raises(DatabaseError, match="HEEL_CHECKIN_DATABASE_URL"):
        open_database("postgresql+psycopg://nobody@127.0.0.1:1/none")


def test_the_sqlite_file_is_for_its_owner_only_and_writes_ahead(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "a.sqlite3"
    opened = open_database(f"sqlite:///{path}")
    with opened.engine.connect() as connection:
        assert connection.execute(text("PRAGMA journal_mode")).scalar() == "wal"
        assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    opened.close()


def test_a_naive_instant_is_refused(database: Database) -> None:
    with pytest.raises(Exception, match="time zone"), database.session() as session:
        people.add_clinician(session, name="x", channel="t", address="c", timezone="UTC", now=datetime(2026, 1, 1))  # noqa: DTZ001
        session.flush()


def test_a_key_is_queued_once_and_replies_go_before_prompts(database: Database) -> None:
    with database.session() as session:
        for key, kind in (("a", "prompt"), ("b", "reply"), ("a", "prompt")):
            messages.queue(session, key=key, channel="t", address="p", text=key, kind=kind, due_at=NOW)
        assert [row.key for row in messages.undelivered(session, NOW, 10)] == ["b", "a"]
    with database.session() as session:
        first, second = messages.undelivered(session, NOW, 10)
        messages.mark_sent(session, first.id or 0, NOW)
        messages.mark_failed(session, second.id or 0, NOW, NOW + timedelta(minutes=1), "network")
    with database.session() as session:
        assert messages.undelivered(session, NOW, 10) == []
        (later,) = messages.undelivered(session, NOW + timedelta(minutes=1), 10)
        messages.mark_refused(session, later.id or 0, NOW)
    with database.session() as session:
        assert messages.undelivered(session, NOW + timedelta(days=1), 10) == []


def _queued(database: Database, *kinds: str, address: str = "p") -> None:
    with database.session() as session:
        for kind in kinds:
            messages.queue(
                session, key=f"{address}:{kind}", channel="t", address=address, text=kind, kind=kind, due_at=NOW
            )


def _claimed(database: Database, now: datetime) -> list[str]:
    with database.session() as session:
        return [row.kind for row in messages.claim(session, now, 10)]


def _fails(database: Database, now: datetime, wait: timedelta) -> None:
    """Every message that is on its way fails."""
    with database.session() as session:
        for row in session.exec(select(OutgoingMessage).where(OutgoingMessage.claimed_until > now)).all():  # type: ignore[operator]
            messages.mark_failed(session, row.id or 0, now, now + wait, "network")


def test_alerts_go_before_replies_and_replies_before_the_rest(database: Database) -> None:
    _queued(database, "digest", "prompt", "reply", "alert")
    now, order = NOW, []
    while taken := _claimed(database, now):
        order += taken
        with database.session() as session:
            messages.mark_sent(
                session,
                session.exec(select(OutgoingMessage.id).where(OutgoingMessage.kind == taken[0])).one() or 0,
                now,
            )
        now += timedelta(seconds=2)
    assert order == ["alert", "reply", "digest", "prompt"]


def test_a_reply_that_goes_on_failing_does_not_silence_its_chat(database: Database) -> None:
    _queued(database, "reply")
    now = NOW
    for attempt in range(1, 6):
        assert _claimed(database, now) == ["reply"]
        _fails(database, now, timedelta(seconds=2**attempt))
        if attempt == 1:
            _queued(database, "goodbye")
        if attempt < 5:
            assert _claimed(database, now) == [], "order is kept over a fault of seconds"
            now += timedelta(seconds=2**attempt)
    assert _claimed(database, now) == ["goodbye"]


def test_an_alert_waits_for_no_reply_that_failed_even_once(database: Database) -> None:
    _queued(database, "reply")
    assert _claimed(database, NOW) == ["reply"]
    _queued(database, "alert")
    assert _claimed(database, NOW) == [], "one at a time"
    _fails(database, NOW, timedelta(minutes=5))
    assert _claimed(database, NOW) == ["alert"]


def test_an_alert_does_not_wait_for_a_file_that_is_being_drawn(database: Database) -> None:
    with database.session() as session:
        for kind in ("reply", "prompt"):
            messages.queue(
                session,
                key=kind,
                channel="t",
                address="p",
                text=kind,
                kind=kind,
                due_at=NOW,
                attachment={"what": "qr", "link": "x"} if kind == "reply" else None,
            )
    assert _claimed(database, NOW) == ["reply"]
    _queued(database, "alert")
    assert _claimed(database, NOW) == ["alert"]


def test_what_is_due_later_stands_in_nobodys_way(database: Database) -> None:
    with database.session() as session:
        for key, wait in (("spread", 10), ("now", 0)):
            messages.queue(
                session,
                key=key,
                channel="t",
                address="p",
                text=key,
                kind="prompt",
                due_at=NOW + timedelta(minutes=wait),
            )
        assert [row.key for row in messages.claim(session, NOW, 10)] == ["now"]


def test_reports_are_merged_and_can_be_withdrawn_but_never_lost(database: Database) -> None:
    room = Room(database)
    with database.session() as session:
        ids = [
            (
                messages.store_incoming(
                    session,
                    channel="t",
                    update_id=str(n),
                    address="p",
                    kind="text",
                    text="x",
                    sent_at=NOW,
                    received_at=NOW,
                )
                or pytest.fail("a new message is stored")
            ).id
            for n in range(2)
        ]
        patient = {"patient_id": room.patient_id, "day": START, "now": NOW}
        records.add_morning(session, morning=Morning(first_step_pain=6), message_id=ids[0], **patient)
        records.add_morning(session, morning=Morning(rest_pattern=RestPattern.NONE), message_id=ids[1], **patient)
        walk = ActivityAmount(activity=Activity.WALKING, minutes=5)
        stairs = ActivityAmount(activity=Activity.STAIRS, count=2)
        records.add_evening(
            session,
            evening=Evening(activities=(walk, stairs), worst_pain=3),
            exercises=[(Exercise.HEEL_RAISE, 2, 8, None)],
            message_id=ids[0],
            **patient,
        )
        longer = ActivityAmount(activity=Activity.WALKING, minutes=9)
        records.add_evening(session, evening=Evening(activities=(longer,)), exercises=[], message_id=ids[1], **patient)
    with database.session() as session:
        assert records.morning_of(session, room.patient_id, START) == Morning(
            first_step_pain=6, rest_pattern=RestPattern.NONE
        )
        evening = records.evening_of(session, room.patient_id, START)
        assert set(evening.activities) == {stairs, longer}
        assert (evening.worst_pain, evening.raises) == (3, RaisesReported(sets=2, reps=8))
        assert sorted(records.withdraw(session, ids[1] or 0, NOW)) == [("evening", START), ("morning", START)]
    with database.session() as session:
        assert set(records.evening_of(session, room.patient_id, START).activities) == {stairs, walk}
        assert len(session.exec(select(MorningReport)).all()) == len(session.exec(select(EveningReport)).all()) == 2


def test_only_the_last_states_are_kept_and_decisions_all(database: Database) -> None:
    room = Room(database)
    for day in range(1, 12):
        room.say(day, "07:10", "4, on and off")
    with database.session() as session:
        kept = [
            number
            for number in range(1, 13)
            if decisions.get_state(session, room.patient_id, START + timedelta(days=number - 1)) is not None
        ]
        assert kept == [7, 8, 9, 10, 11]
        assert len(decisions.decisions(session, room.patient_id, START, START + timedelta(days=30))) == 11


def test_flags_open_add_up_and_are_cleared_by_somebody(database: Database) -> None:
    room = Room(database)
    with database.session() as session:
        row = flags.open_flag(
            session, patient_id=room.patient_id, code="severe_pain", score=9, words="9", message_id=None, now=NOW
        )
        flags.add_to_flag(row, score=10, words="10 of 10")
        assert (row.score, row.words) == (10, "9; 10 of 10")
        flags.clear_flags(
            session, patient_id=room.patient_id, clinician_id=None, note="seen", now=NOW + timedelta(hours=1), day=START
        )
    with database.session() as session:
        assert flags.open_flags(session, room.patient_id) == []
        assert len(flags.open_at(session, room.patient_id, NOW + timedelta(minutes=30))) == 1
        cleared = flags.last_cleared(session, room.patient_id, "severe_pain")
        assert cleared is not None
        assert (cleared.score, cleared.cleared_day, cleared.note) == (10, date(2026, 3, 2), "seen")


def test_due_patients_are_those_whose_time_has_come(database: Database) -> None:
    room = Room(database)
    with database.session() as session:
        assert people.due_patients(session, room.at(1, "06:59"), 10) == []
        assert len(people.due_patients(session, room.at(1, "07:00"), 10)) == 1


def test_what_patients_and_clinicians_said_goes_with_the_patient_only(database: Database) -> None:
    from sqlalchemy.exc import IntegrityError

    from storage.tables import Clinician, Patient, RedFlagRow

    room = Room(database)
    room.say(1, "07:10", "4, on and off, walked 5 min. my foot is numb")
    with database.session() as session:
        clinician = people.clinician_by_address(session, "test", "clinician")
    with pytest.raises(IntegrityError), database.session() as session:
        session.delete(session.get_one(Clinician, clinician.id if clinician else 0))
    with database.session() as session:
        assert len(session.exec(select(RedFlagRow)).all()) == 1
        session.delete(session.get_one(Patient, room.patient_id))
    with database.session() as session:
        for table in (RedFlagRow, MorningReport, EveningReport):
            assert session.exec(select(table)).all() == []
