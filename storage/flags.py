"""Red flags: opened by words, added to, cleared by a clinician only."""

from __future__ import annotations

from datetime import date, datetime

from sqlmodel import Session, col, or_, select

from storage.memory import memory_of
from storage.tables import RedFlagRow


def open_flags(session: Session, patient_id: int) -> list[RedFlagRow]:
    """The flags that are open, oldest first."""
    known = memory_of(session).flags
    if patient_id not in known:
        found = session.exec(
            select(RedFlagRow)
            .where(RedFlagRow.patient_id == patient_id, col(RedFlagRow.cleared_at).is_(None))
            .order_by(col(RedFlagRow.id))
        ).all()
        known = memory_of(session).flags
        known[patient_id] = list(found)
    return [row for row in known[patient_id] if row.cleared_at is None]


def open_at(session: Session, patient_id: int, instant: datetime) -> list[RedFlagRow]:
    """The flags that were open just before `instant`."""
    return list(
        session.exec(
            select(RedFlagRow).where(
                RedFlagRow.patient_id == patient_id,
                col(RedFlagRow.opened_at) < instant,
                or_(col(RedFlagRow.cleared_at).is_(None), col(RedFlagRow.cleared_at) >= instant),
            )
        )
    )


def open_flag(
    session: Session,
    *,
    patient_id: int,
    code: str,
    score: int | None,
    words: str,
    message_id: int | None,
    now: datetime,
) -> RedFlagRow:
    """A flag opens."""
    row = RedFlagRow(
        patient_id=patient_id, code=str(code), score=score, words=words, opened_by_message=message_id, opened_at=now
    )
    session.add(row)
    session.flush()
    memory_of(session).flags.pop(patient_id, None)
    return row


def add_to_flag(row: RedFlagRow, *, score: int | None, words: str) -> None:
    """More words for a flag that is open. The highest number counts."""
    if words and words not in row.words:
        row.words = f"{row.words}; {words}" if row.words else words
    if score is not None:
        row.score = score if row.score is None else max(row.score, score)


def clear_flags(
    session: Session,
    *,
    patient_id: int,
    clinician_id: int | None,
    note: str,
    now: datetime,
    day: date,
    opened_until: datetime | None = None,
) -> list[RedFlagRow]:
    """Clear every open flag of a patient that had opened by then. Returns those that were cleared."""
    rows = open_flags(session, patient_id)
    if opened_until is not None:
        rows = [each for each in rows if each.opened_at <= opened_until]
    for row in rows:
        row.cleared_at, row.cleared_day, row.cleared_by, row.note = now, day, clinician_id, note or None
        session.add(row)
    session.flush()
    return rows


def last_cleared(session: Session, patient_id: int, code: str) -> RedFlagRow | None:
    """The flag of that code that was cleared last."""
    return session.exec(
        select(RedFlagRow)
        .where(
            RedFlagRow.patient_id == patient_id,
            RedFlagRow.code == str(code),
            col(RedFlagRow.cleared_at).is_not(None),
        )
        .order_by(col(RedFlagRow.cleared_at).desc(), col(RedFlagRow.id).desc())
        .limit(1)
    ).first()


def open_again(session: Session, flag_ids: list[int]) -> None:
    """A clearing is taken back."""
    for row in session.exec(select(RedFlagRow).where(col(RedFlagRow.id).in_(flag_ids))):
        row.cleared_at = row.cleared_day = row.cleared_by = row.note = None
        memory_of(session).flags.pop(row.patient_id, None)
    session.flush()
