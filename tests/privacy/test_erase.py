"""Erasing leaves a date and nothing else; retention forgets what is old. Proved by looking through every table."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import func
from sqlmodel import Session, col, select

import storage.database
from storage import messages, people
from storage.database import Database, open_database
from storage.erase import GOODBYE, KEEP_STRANGERS, compact, erase_patient, forget_goodbyes, forget_old
from storage.tables import (
    ClinicianAction,
    Erasure,
    IncomingMessage,
    MorningReport,
    OutgoingMessage,
    Patient,
)
from tests.privacy.lives import BEGUN, Life, everything, find, traces, two_clinicians

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
ALIAS, ADDRESS, WORD = "Rowan Ash", "700101", "quokka"
OTHER = {"alias": "Wren", "address": "700202", "word": "zeppelin"}


def _clinic(session: Session) -> tuple[Life, Life]:
    clinicians = two_clinicians(session)
    other = Life(session, clinicians=clinicians, begun=BEGUN + timedelta(minutes=7), **OTHER)
    life = Life(session, alias=ALIAS, address=ADDRESS, word=WORD, clinicians=clinicians)
    # A digest that went out, and one that waits.
    life.tell_clinician("digest:1", f"{ALIAS}: better. Wren: the same.", BEGUN, about=False)
    for row in session.exec(select(OutgoingMessage)).all():
        messages.mark_sent(session, row.id or 0, BEGUN)
    life.tell_clinician("digest:2", f"{ALIAS}: better. Wren: the same.", BEGUN, about=False)
    life.tell_clinician("alert:x", f"{ALIAS} has a warning sign: {WORD}", BEGUN)
    session.flush()
    return life, other


def _of_other(session: Session, other: Life) -> int:
    return len(traces(session, OTHER["alias"], OTHER["word"], OTHER["address"])) + int(
        session.exec(select(func.count()).select_from(MorningReport).where(MorningReport.patient_id == other.id)).one()
    )


def test_no_trace_is_left_in_any_table(database: Database) -> None:
    with database.session() as session:
        life, other = _clinic(session)
    with database.session() as session:
        before = everything(session)
        assert len(traces(session, WORD)) > 80
        assert len(traces(session, ALIAS)) > 40
        assert len(traces(session, ADDRESS)) > 60
        kept = _of_other(session, other)
    filled = {name for name, rows in before.items() if rows}
    assert set(before) - filled == {"erasures", "sending_pace"}, "the test has to fill every table"
    with database.session() as session:
        erase_patient(session, life.id, NOW)
    with database.session() as session:
        assert traces(session, WORD, ALIAS, ADDRESS, "Rowan") == []
        assert everything(session)["erasures"] == [{"id": 1, "erased_on": date(2026, 4, 1)}]
        for table, rows in everything(session).items():
            for row in rows:
                for column in ("patient_id", "about_id"):
                    assert row.get(column) != life.id, table
        # Nothing of anybody else went with it but one line of their names in a digest that was sent.
        assert kept - _of_other(session, other) == 1
        waiting = session.exec(select(OutgoingMessage).where(OutgoingMessage.key == "digest:2")).one()
        assert waiting.text == "(erased): better. Wren: the same."
        assert waiting.buttons == [[["(erased)", "/patient (erased)"]]]


def test_the_words_of_a_clinician_are_emptied_and_the_update_stays_known(database: Database) -> None:
    with database.session() as session:
        life, _ = _clinic(session)
        said = session.exec(
            select(IncomingMessage)
            .where(IncomingMessage.role == "clinician", col(IncomingMessage.update_id).startswith(f"{life.id}-"))
            .order_by(col(IncomingMessage.id))
        ).all()
        assert [each.text for each in said] == [
            f"/invite {ALIAS}",
            f"/note {ALIAS} private-{WORD}",
            f"/note {ALIAS[:2]} {WORD}",
            "/caseload",
        ]
        erase_patient(session, life.id, NOW)
    with database.session() as session:
        after = session.exec(
            select(IncomingMessage)
            .where(IncomingMessage.role == "clinician", col(IncomingMessage.update_id).startswith(f"{life.id}-"))
            .order_by(col(IncomingMessage.id))
        ).all()
        assert [each.text for each in after] == ["", "", "", "/caseload"]


def test_the_turn_that_erases_can_say_goodbye_and_the_goodbye_goes_too(database: Database) -> None:
    with database.session() as session:
        life, _ = _clinic(session)
    with database.session() as session:
        patient = find(session, ALIAS)
        assert patient is not None
        message = session.exec(select(IncomingMessage).where(IncomingMessage.patient_id == life.id)).first()
        patient.status = "left"
        assert message is not None
        message.reading = {"words": WORD}
        erase_patient(session, life.id, NOW)
        for key, address, text in (("g1", ADDRESS, "All is deleted."), ("g2", "900001", f"{ALIAS} had all erased.")):
            messages.queue(session, key=key, channel="telegram", address=address, text=text, kind=GOODBYE, due_at=NOW)
    with database.session() as session:
        assert len(traces(session, ADDRESS)) == 1
        assert forget_goodbyes(session) == 0
        rows = session.exec(select(OutgoingMessage).where(OutgoingMessage.kind == GOODBYE)).all()
        # One is sent and goes at once; the other, which nobody takes, goes with the next forgetting.
        messages.mark_sent(session, rows[0].id or 0, NOW)
        messages.mark_refused(session, rows[1].id or 0, NOW)
        session.flush()
        assert len(session.exec(select(OutgoingMessage).where(OutgoingMessage.kind == GOODBYE)).all()) == 1
        forget_old(session, NOW, None)
    with database.session() as session:
        assert traces(session, WORD, ALIAS, ADDRESS) == []


def test_an_alias_is_found_as_a_word_only(database: Database) -> None:
    with database.session() as session:
        clinicians = two_clinicians(session)
        other = Life(session, alias="Alfred", address="2", word="zeppelin", clinicians=clinicians, days=2)
        life = Life(session, alias="Al", address="1", word="quokka", clinicians=clinicians, days=2)
        other.clinician_says("/pause ALFRED until 2026-05-01", NOW, "Alfred is paused. All right.")
        erase_patient(session, life.id, NOW)
    with database.session() as session:
        texts = [each.text for each in session.exec(select(IncomingMessage)).all()]
        assert "/pause ALFRED until 2026-05-01" in texts
        assert "Alfred is paused. All right." in [each.text for each in session.exec(select(OutgoingMessage)).all()]


def test_erasing_may_leaves_others_records_whole(database: Database) -> None:
    """A name that is a word, a month, and the beginning of another name; and another clinician's patient of that name."""
    with database.session() as session:
        vale, moor = two_clinicians(session)
        far = people.add_clinician(
            session, name="Dr Far", channel="telegram", address="900003", timezone="UTC", now=BEGUN
        )
        session.flush()
        later = BEGUN + timedelta(minutes=7)
        life = Life(session, alias="May", address="1", word="quokka", clinicians=(vale, moor), days=2)
        other = Life(session, alias="Wren", address="2", word="zeppelin", clinicians=(vale, moor), days=2, begun=later)
        Life(session, alias="May Ann", address="3", word="gazebo", clinicians=(vale, moor), days=2, begun=later)
        other.clinician_says("/pause Wren until 5 May", NOW, "Wren is paused. May it help.", patient_id=other.id)
        other.tell_clinician("alert:wren", 'WARNING SIGN: Wren\nTheir words: "May I call?"', NOW)
        other.clinician_says(
            "/cover Dr Moor until 9 May", NOW, "Dr Moor covers to 9 May. It may be longer.", about=False
        )
        other.tell_clinician(
            "waits:1", "May: better. May Ann: the same. May (Dr Far): paused until 5 May.", NOW, about=False
        )
        unknown = Life(session, alias="May", address="4", word="pagoda", clinicians=(far, far), days=2)
        unknown.clinician_says("/pauze may for 2 days", NOW, "I did not understand May.", about=False)
        life.clinician_says(
            "/pauze may for 2 days", NOW + timedelta(minutes=1), "I did not understand that.", about=False
        )
        kept = [len(traces(session, word)) for word in ("zeppelin", "gazebo", "pagoda")]
        erase_patient(session, life.id, NOW)
    with database.session() as session:
        assert traces(session, "quokka") == []
        said = [each.text for each in session.exec(select(IncomingMessage)).all()]
        told = [each.text for each in session.exec(select(OutgoingMessage)).all()]
        assert [len(traces(session, word)) for word in ("zeppelin", "gazebo", "pagoda")] == kept
        assert said.count("/pauze may for 2 days") == 1, "the other clinician's"
        for whole in ("/pause Wren until 5 May", "/cover Dr Moor until 9 May"):
            assert whole in said
        for whole in (
            "Wren is paused. May it help.",
            'WARNING SIGN: Wren\nTheir words: "May I call?"',
            "Dr Moor covers to 9 May. It may be longer.",
            "I did not understand May.",
            "(erased): better. May Ann: the same. May (Dr Far): paused until 5 May.",
        ):
            assert whole in told


def test_nobody_is_erased_twice(database: Database) -> None:
    with database.session() as session:
        life, _ = _clinic(session)
        erase_patient(session, life.id, NOW)
    with pytest.raises(LookupError), database.session() as session:
        erase_patient(session, life.id, NOW)
    with database.session() as session:
        assert len(session.exec(select(Erasure)).all()) == 1


def test_the_file_itself_holds_nothing_any_more(tmp_path: Path) -> None:
    path = tmp_path / "clinic.sqlite3"

    def found() -> list[str]:
        content = b"".join(each.read_bytes() for each in tmp_path.iterdir())
        return [word for word in (WORD, ALIAS, ADDRESS, OTHER["word"]) if word.encode() in content]

    database = open_database(f"sqlite:///{path}")
    with database.session() as session:
        life, _ = _clinic(session)
    assert found() == [WORD, ALIAS, ADDRESS, OTHER["word"]]
    with database.session() as session:
        # Some builds of SQLite overwrite what is deleted by themselves; here it has to be asked for.
        session.connection().exec_driver_sql("PRAGMA secure_delete=OFF")
        erase_patient(session, life.id, NOW)
    # The service goes on, with the file open.
    assert compact(database)
    assert found() == [OTHER["word"]]
    with database.session() as session:
        assert session.connection().exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    database.close()
    assert found() == [OTHER["word"]]


def test_compacting_waits_for_nobody_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(storage.database, "_BUSY_MILLISECONDS", 50)
    url = f"sqlite:///{tmp_path / 'clinic.sqlite3'}"
    database, other = open_database(url), open_database(url)
    with other.engine.begin():
        assert not compact(database)
    assert compact(database)
    database.close()
    other.close()


def test_compacting_is_the_servers_own_affair_on_postgresql(database: Database) -> None:
    assert compact(database)


# -- retention


def _end(session: Session, life: Life, status: str, at: datetime | None) -> None:
    life.patient.status = status
    session.add(life.patient)
    if at is not None:
        session.add(
            ClinicianAction(
                patient_id=life.id, clinician_id=None, kind="end" if status == "ended" else "left", details={}, at=at
            )
        )


def test_patients_go_when_their_programme_is_over_long_enough(database: Database) -> None:
    keep = timedelta(days=365)
    now = BEGUN + timedelta(days=800)
    with database.session() as session:
        clinicians = two_clinicians(session)

        def life(alias: str, status: str, ended: datetime | None, begun: datetime = BEGUN) -> None:
            made = Life(
                session, alias=alias, address=alias, word=f"w{alias}", clinicians=clinicians, days=2, begun=begun
            )
            _end(session, made, status, ended)

        life("ended-long-ago", "ended", now - keep - timedelta(days=1))
        life("left-long-ago", "left", now - keep - timedelta(seconds=1))
        life("ended-lately", "ended", now - keep + timedelta(seconds=1))
        life("nobody-wrote-it-down", "left", None)
        life("active-all-the-time", "active", None)
        life("came-back", "active", now - keep - timedelta(days=1))
        life("invited-and-never-came", "invited", None)
        life("invited-again-lately", "invited", now - timedelta(days=5))
        life("invited-lately", "invited", None, now - timedelta(days=20))
        life("enrolling", "enrolling", None)
    with database.session() as session:
        assert forget_old(session, now, keep).patients == 4
    with database.session() as session:
        assert sorted(each.alias for each in session.exec(select(Patient))) == [
            "active-all-the-time",
            "came-back",
            "ended-lately",
            "enrolling",
            "invited-again-lately",
            "invited-lately",
        ]
        assert len(session.exec(select(Erasure)).all()) == 4
        assert traces(session, "ended-long-ago", "left-long-ago", "nobody-wrote", "never-came") == []
        assert forget_old(session, now, keep).patients == 0


def test_an_end_that_was_taken_back_does_not_count(database: Database) -> None:
    now = BEGUN + timedelta(days=800)
    with database.session() as session:
        life = Life(session, alias="A", address="1", word="quokka", clinicians=two_clinicians(session), days=2)
        _end(session, life, "ended", BEGUN + timedelta(days=10))
        session.flush()
        for each in session.exec(select(ClinicianAction).where(ClinicianAction.kind == "end")):
            each.undone_at = BEGUN + timedelta(days=11)
        _end(session, life, "ended", now - timedelta(days=2))
    with database.session() as session:
        assert forget_old(session, now, timedelta(days=365)).patients == 0


def test_raw_texts_go_and_the_record_stays_in_batches(database: Database) -> None:
    keep = timedelta(days=30)
    with database.session() as session:
        life = Life(session, alias="A", address="1", word="quokka", clinicians=two_clinicians(session))
        for row in session.exec(select(OutgoingMessage)).all():
            messages.mark_sent(session, row.id or 0, row.due_at)
        life.tell("waits", "still to be sent", BEGUN)
    now = BEGUN + timedelta(days=40, seconds=1)
    batches = 0
    while True:
        with database.session() as session:
            done = forget_old(session, now, keep, limit=7)
        batches += 1
        assert done.texts <= 14
        assert done.patients == 0
        if not done.more:
            break
    assert batches > 3
    with database.session() as session:
        incoming = session.exec(select(IncomingMessage).order_by(col(IncomingMessage.id))).all()
        old = [each for each in incoming if each.received_at < now - keep and each.role != "stranger"]
        young = [each for each in incoming if each.received_at >= now - keep]
        assert len(old) > 15
        assert {each.text for each in old} == {""}
        assert {each.reading is None for each in old} == {True}
        assert len(young) > 10
        assert all("quokka" in each.text for each in young)
        assert len(session.exec(select(MorningReport)).all()) == 20
        assert session.exec(select(OutgoingMessage.text).where(OutgoingMessage.key == "waits")).one() == (
            "still to be sent"
        )
        assert session.exec(select(OutgoingMessage.key).where(OutgoingMessage.kind == "prompt")).first()


def test_strangers_go_after_thirty_days_even_if_all_else_is_kept(database: Database) -> None:
    now = BEGUN + timedelta(days=100)
    with database.session() as session:
        for number, received in enumerate(
            (now - KEEP_STRANGERS - timedelta(seconds=1), now - KEEP_STRANGERS + timedelta(seconds=1))
        ):
            said = messages.store_incoming(
                session,
                channel="telegram",
                update_id=f"u{number}",
                address=f"stranger{number}",
                kind="text",
                text=f"who are you {number}",
                sent_at=received,
                received_at=received,
            )
            assert said is not None
            messages.mark_understood(session, said, patient_id=None, role="stranger", reading=None)
            session.flush()
            messages.queue(
                session,
                key=f"reply:{said.id}:1",
                channel="telegram",
                address=f"stranger{number}",
                text="Please ask your clinician.",
                kind="reply",
                in_reply_to=said.id,
                due_at=received,
            )
        life = Life(session, alias="A", address="1", word="quokka", clinicians=two_clinicians(session), days=2)
    with database.session() as session:
        done = forget_old(session, now, None)
        # The patient's own first message, before the chat was known, is a stranger's too.
        assert (done.strangers, done.texts, done.patients, done.more) == (2, 0, 0, False)
    with database.session() as session:
        assert traces(session, "stranger0", "who are you 0") == []
        assert len(traces(session, "stranger1")) == 2
        assert find(session, "A") is not None
        assert session.exec(select(MorningReport).where(MorningReport.patient_id == life.id)).first() is not None
