"""Forgetting: one patient altogether, and whatever is older than the clinic keeps.

An erased patient leaves a date in `erasures`, and nothing else. What clinicians wrote and were told about them goes too.
What another patient's record says in its own words is that patient's, and stays.
"""

from __future__ import annotations

import calendar
import json
import re
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Table, and_, delete, func, or_, update
from sqlmodel import Session, SQLModel, col, select

from storage.database import Database
from storage.tables import (
    ActivityRecord,
    Clinician,
    ClinicianAction,
    DayDecisionRow,
    Erasure,
    EveningReport,
    ExerciseRecord,
    IncomingMessage,
    OutgoingMessage,
    Patient,
    Share,
)

GOODBYE = "goodbye"
"""The kind of the last message to or about an erased patient: it goes away itself once it is sent."""
KEEP_STRANGERS = timedelta(days=30)
"""What people wrote who were never let in, and what they were answered."""
_PATIENTS_A_BATCH = 10
"""Each is looked for in all that clinicians wrote, and nobody else writes to an SQLite file meanwhile."""
_OVER = ("ended", "left", "invited")
_OVER_ACTIONS = ("end", "left")
_ERASED = "(erased)"
_MONTHS = frozenset({*calendar.month_name[1:], *calendar.month_abbr[1:]})
"""Aliases that are also written in dates."""
_TABLES: tuple[Table, ...] = tuple(SQLModel.metadata.sorted_tables)


@dataclass(frozen=True, kw_only=True, slots=True)
class Forgotten:
    """How much was forgotten in one batch. `more`: there may be more, so call again."""

    patients: int = 0
    texts: int = 0
    strangers: int = 0
    more: bool = False


def erase_patient(session: Session, patient_id: int, now: datetime) -> None:
    """Delete everything of a patient. Raises `LookupError` where there is none.

    The session forgets its objects of the patient: none of them may be used afterwards. A last message to the patient is
    queued after this, with the kind `GOODBYE`, without the patient's or any message's id, and under a key that tells
    nothing; the same goes for the one that tells the clinician.
    """
    session.flush()
    patient = session.get(Patient, patient_id, with_for_update=True)
    if patient is None:
        raise LookupError("there is no such patient")
    _overwrite(session)
    addresses = _addresses(session, patient)
    _blank_correspondence(session, patient)
    mine = select(EveningReport.id).where(EveningReport.patient_id == patient_id)
    for reported in (ActivityRecord, ExerciseRecord):
        session.execute(delete(reported).where(col(reported.report_id).in_(mine)))
    messages = select(IncomingMessage.id).where(IncomingMessage.patient_id == patient_id)
    session.execute(delete(OutgoingMessage).where(col(OutgoingMessage.in_reply_to).in_(messages)))
    # Whatever table has a patient's number in it: the youngest in the order of references goes first.
    for table in reversed(_TABLES):
        for key in table.foreign_keys:
            if key.column.table.name == "patients":
                session.execute(delete(table).where(key.parent == patient_id))
    for channel, address in addresses:
        session.execute(
            delete(OutgoingMessage).where(
                col(OutgoingMessage.channel) == channel,
                col(OutgoingMessage.address) == address,
                col(OutgoingMessage.patient_id).is_(None),
                col(OutgoingMessage.clinician_id).is_(None),
                col(OutgoingMessage.kind) != GOODBYE,
            )
        )
        session.execute(
            delete(IncomingMessage).where(
                col(IncomingMessage.channel) == channel,
                col(IncomingMessage.address) == address,
                col(IncomingMessage.patient_id).is_(None),
                func.coalesce(IncomingMessage.role, "") != "clinician",
            )
        )
    session.execute(delete(Patient).where(col(Patient.id) == patient_id))
    session.add(Erasure(erased_on=now.astimezone(UTC).date()))
    session.flush()
    _let_go(session, patient_id)


def forget_goodbyes(session: Session) -> int:
    """Delete the last messages of erased patients that were sent, or will never be. Returns how many."""
    _overwrite(session)
    gone = session.execute(
        delete(OutgoingMessage).where(
            col(OutgoingMessage.kind) == GOODBYE,
            or_(col(OutgoingMessage.sent_at).is_not(None), col(OutgoingMessage.refused_at).is_not(None)),
        )
    )
    return int(gone.rowcount)  # type: ignore[attr-defined]


def forget_old(session: Session, now: datetime, keep: timedelta | None, *, limit: int = 500) -> Forgotten:
    """One batch of forgetting, to be repeated in new transactions while there is `more`.

    `keep`: patients whose programme ended, or who left or never came, longer ago than this are erased; the raw texts of
    messages older than this are taken out (what was read in them stays: it is the record). None: both are kept for ever.
    Strangers' messages go after `KEEP_STRANGERS` in any case.
    """
    goodbyes = forget_goodbyes(session)
    strangers = _forget_strangers(session, now - KEEP_STRANGERS, limit)
    if keep is None:
        return Forgotten(strangers=strangers, more=strangers >= limit)
    before = now - keep
    over = _over_before(session, before, min(limit, _PATIENTS_A_BATCH))
    for patient_id in over:
        erase_patient(session, patient_id, now)
    texts = _blank(
        session,
        IncomingMessage,
        col(IncomingMessage.received_at) < before,
        limit,
        extra={"reading": None},
    ) + _blank(
        session,
        OutgoingMessage,
        and_(
            col(OutgoingMessage.due_at) < before,
            or_(col(OutgoingMessage.sent_at).is_not(None), col(OutgoingMessage.refused_at).is_not(None)),
        ),
        limit,
        extra={"buttons": [], "attachment": None},
    )
    return Forgotten(
        patients=len(over),
        texts=texts,
        strangers=strangers,
        more=len(over) >= min(limit, _PATIENTS_A_BATCH) or max(texts, strangers, goodbyes) >= limit,
    )


def compact(database: Database) -> bool:
    """Write an SQLite file anew, so that nothing erased is left in it: SQLite keeps stale copies between its rows.

    Keeps others from writing while it lasts (about a second for 100 MB), so call it once after erasures, apart from any
    transaction. False: the database was busy, call again later. PostgreSQL sees to it itself (autovacuum).
    """
    if database.engine.dialect.name != "sqlite":
        return True
    with database.engine.connect() as connection:
        driver: Any = connection.connection.dbapi_connection
        try:
            driver.execute("VACUUM")
            busy, *_ = driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        except sqlite3.OperationalError:
            return False
        return not busy


def _overwrite(session: Session) -> None:
    # SQLite leaves deleted content in the file's free pages unless it is told to write zeros over it.
    if session.get_bind().dialect.name == "sqlite":
        session.connection().exec_driver_sql("PRAGMA secure_delete=ON")


def _addresses(session: Session, patient: Patient) -> set[tuple[str, str]]:
    found = set(
        session.exec(
            select(IncomingMessage.channel, IncomingMessage.address)
            .where(IncomingMessage.patient_id == patient.id)
            .distinct()
        ).all()
    )
    if patient.address is not None:
        found.add((patient.channel, patient.address))
    theirs = set(session.exec(select(Clinician.channel, Clinician.address)).all())
    return {each for each in found if each not in theirs}


class _Name:
    """Finds a patient's alias in what clinicians wrote and were told.

    As it is written or in capitals, as a word, and not as a part of something else: of another patient's longer name, of another
    clinician's patient of that name, or of a date ("5 May").
    """

    def __init__(self, session: Session, patient: Patient) -> None:
        word = rf"(?<!\w)(?:{re.escape(patient.alias)}|{re.escape(patient.alias.upper())})(?!\w)"
        apart = [
            rf"(?<!\w){re.escape(alias)}(?!\w)"
            for alias in session.exec(select(Patient.alias).where(Patient.id != patient.id).distinct())
            if alias != patient.alias and re.search(word, alias)
        ]
        apart += [
            rf"{word} \({re.escape(name)}\)"
            for name in session.exec(select(Clinician.name).where(col(Clinician.id) != patient.clinician_id))
        ]
        if patient.alias in _MONTHS:
            apart.append(rf"\b\d{{1,2}} {word}|{word} \d{{1,4}}\b")
        self._pattern = re.compile("|".join([*sorted(apart, key=len, reverse=True), f"({word})"]))
        self._command = re.compile(rf"^\s*/\w+\s+{re.escape(patient.alias)}(?!\w)", re.IGNORECASE)

    def in_text(self, text: str) -> bool:
        return any(found[1] for found in self._pattern.finditer(text))

    def in_command(self, text: str) -> bool:
        """In the place where a command has a name, however it is written ("/pauze rowan")."""
        return self.in_text(text) or self._command.match(text) is not None

    def in_value(self, value: Any) -> bool:
        return value is not None and self.in_text(json.dumps(value, ensure_ascii=False))

    def taken_out(self, value: Any) -> Any:
        """The text or JSON value, with the name replaced."""
        if isinstance(value, str):
            return self._pattern.sub(lambda found: _ERASED if found[1] else found[0], value)
        if isinstance(value, list | tuple):
            return [self.taken_out(each) for each in value]
        if isinstance(value, dict):
            return {key: self.taken_out(each) for key, each in value.items()}
        return value


def _who_knew(session: Session, patient: Patient) -> set[int]:
    """The clinicians who may have written or read of the patient: their own, whom it was ever shared with, who acted."""
    found = {patient.clinician_id}
    found |= set(
        session.exec(
            select(Share.colleague_id).where(
                Share.owner_id == patient.clinician_id,
                or_(col(Share.patient_id).is_(None), Share.patient_id == patient.id),
            )
        ).all()
    )
    found |= set(
        session.exec(
            select(ClinicianAction.clinician_id).where(ClinicianAction.patient_id == patient.id).distinct()
        ).all()
    )
    found |= set(
        session.exec(
            select(OutgoingMessage.clinician_id).where(OutgoingMessage.about_id == patient.id).distinct()
        ).all()
    )
    return {each for each in found if each is not None}


def _blank_correspondence(session: Session, patient: Patient) -> None:
    """Take the patient out of what clinicians wrote and were told: by what was done, what it was about, and the alias in it.

    Messages that were handled are emptied and not deleted, so that a repeated update is still known. In one that waits
    to be sent (a digest, say) the name is replaced. What is about another patient is theirs, and stays as it is.
    """
    name, knew = _Name(session, patient), _who_knew(session, patient)
    about = or_(col(OutgoingMessage.about_id) == patient.id, col(OutgoingMessage.patient_id) == patient.id)
    written = (
        col(IncomingMessage.role) == "clinician",
        or_(col(IncomingMessage.patient_id).is_(None), col(IncomingMessage.patient_id) == patient.id),
    )
    spoken_of = set(
        session.exec(
            select(OutgoingMessage.in_reply_to)
            .join(IncomingMessage, col(OutgoingMessage.in_reply_to) == col(IncomingMessage.id))
            .where(*written, about)
        ).all()
    )
    spoken_of |= set(
        session.exec(select(IncomingMessage.id).where(*written, col(IncomingMessage.patient_id).is_not(None)))
    )
    # What a clinician did is written down at the instant at which the message came.
    spoken_of |= set(
        session.exec(
            select(IncomingMessage.id)
            .join(ClinicianAction, col(ClinicianAction.at) == col(IncomingMessage.received_at))
            .join(Clinician, col(ClinicianAction.clinician_id) == col(Clinician.id))
            .where(
                *written,
                col(ClinicianAction.patient_id) == patient.id,
                col(IncomingMessage.channel) == Clinician.channel,
                col(IncomingMessage.address) == Clinician.address,
            )
        ).all()
    )
    # Not by who has access now: a clinician may have written from a chat that they no longer have.
    others = {
        (each.channel, each.address) for each in session.exec(select(Clinician)) if each.id not in knew and each.address
    }
    said = session.exec(
        select(
            IncomingMessage.id,
            IncomingMessage.channel,
            IncomingMessage.address,
            IncomingMessage.text,
            IncomingMessage.reading,
        ).where(*written)
    )
    spoken_of |= {
        key
        for key, channel, address, text, reading in said
        if (channel, address) not in others and (name.in_command(text) or name.in_value(reading))
    }
    for chunk in _chunks(key for key in spoken_of if key is not None):
        session.execute(update(IncomingMessage).where(col(IncomingMessage.id).in_(chunk)).values(text="", reading=None))
    session.execute(
        update(IncomingMessage)
        .where(col(IncomingMessage.role) == "clinician", col(IncomingMessage.patient_id) == patient.id)
        .values(patient_id=None)
    )
    told = session.exec(
        select(OutgoingMessage).where(
            col(OutgoingMessage.clinician_id).in_(knew),
            col(OutgoingMessage.about_id).is_(None),
            col(OutgoingMessage.patient_id).is_(None),
        )
    )
    for row in told:
        if not (
            row.in_reply_to in spoken_of
            or name.in_text(row.text)
            or name.in_value(row.buttons)
            or name.in_value(row.attachment)
        ):
            continue
        if row.sent_at is not None or row.refused_at is not None:
            row.text, row.buttons, row.attachment = "", [], None
        else:
            row.text = name.taken_out(row.text)
            row.buttons, row.attachment = name.taken_out(row.buttons), name.taken_out(row.attachment)
    session.flush()


def _chunks(ids: Iterable[int], size: int = 500) -> Iterable[list[int]]:
    wanted = sorted(ids)
    for start in range(0, len(wanted), size):
        yield wanted[start : start + size]


def _let_go(session: Session, patient_id: int) -> None:
    """Objects that this session still holds of rows that are gone would be written again at the next flush."""
    for each in list(session.identity_map.values()):
        if (isinstance(each, Patient) and each.id == patient_id) or getattr(each, "patient_id", None) == patient_id:
            session.expunge(each)
    session.expire_all()


def _over_before(session: Session, before: datetime, limit: int) -> list[int]:
    """Patients whose programme is over, and for whom nothing happened since."""
    ended = (
        select(func.max(ClinicianAction.at))
        .where(
            col(ClinicianAction.patient_id) == Patient.id,
            col(ClinicianAction.kind).in_(_OVER_ACTIONS),
            col(ClinicianAction.undone_at).is_(None),
        )
        .correlate(Patient)
        .scalar_subquery()
    )
    acted = (
        select(func.max(ClinicianAction.at))
        .where(ClinicianAction.patient_id == Patient.id)
        .correlate(Patient)
        .scalar_subquery()
    )
    decided = (
        select(func.max(DayDecisionRow.decided_at))
        .where(DayDecisionRow.patient_id == Patient.id)
        .correlate(Patient)
        .scalar_subquery()
    )
    # Where nobody wrote down the end, or the invitation was renewed: the last thing that happened counts.
    known_end = and_(col(Patient.status) != "invited", ended.is_not(None))
    found = session.exec(
        select(Patient.id)
        .where(
            col(Patient.status).in_(_OVER),
            or_(
                and_(known_end, ended < before),
                and_(
                    ~func.coalesce(known_end, False),
                    col(Patient.created_at) < before,
                    or_(acted.is_(None), acted < before),
                    or_(decided.is_(None), decided < before),
                ),
            ),
        )
        .order_by(col(Patient.id))
        .limit(limit)
    )
    return [each for each in found if each is not None]


def _forget_strangers(session: Session, before: datetime, limit: int) -> int:
    ids = [
        each
        for each in session.exec(
            select(IncomingMessage.id)
            .where(IncomingMessage.role == "stranger", col(IncomingMessage.received_at) < before)
            .limit(limit)
        )
        if each is not None
    ]
    for chunk in _chunks(ids):
        session.execute(delete(OutgoingMessage).where(col(OutgoingMessage.in_reply_to).in_(chunk)))
        session.execute(delete(IncomingMessage).where(col(IncomingMessage.id).in_(chunk)))
    session.execute(
        delete(OutgoingMessage).where(
            col(OutgoingMessage.patient_id).is_(None),
            col(OutgoingMessage.clinician_id).is_(None),
            col(OutgoingMessage.due_at) < before,
        )
    )
    return len(ids)


def _blank(session: Session, table: Any, condition: Any, limit: int, *, extra: dict[str, Any]) -> int:
    ids = list(session.exec(select(table.id).where(condition, table.text != "").limit(limit)))
    for chunk in _chunks(ids):
        session.execute(update(table).where(table.id.in_(chunk)).values(text="", **extra))
    return len(ids)
