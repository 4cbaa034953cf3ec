"""Alerts: warning signs that a clinician has to see."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, select

from storage.tables import Alert


def open_alert(
    session: Session,
    *,
    patient_id: int,
    urgency: str,
    codes: list[str],
    text: str,
    next_at: datetime | None,
    now: datetime,
) -> Alert:
    """An alert; `next_at`: when it is repeated if nobody has seen it."""
    alert = Alert(
        patient_id=patient_id, urgency=urgency, codes=codes, text=text, opened_at=now, next_at=next_at, repeats=0
    )
    session.add(alert)
    session.flush()
    return alert


def due(session: Session, now: datetime, limit: int) -> list[Alert]:
    """Alerts to be repeated now, locked for this transaction."""
    return list(
        session.exec(
            select(Alert)
            .where(col(Alert.next_at) <= now, col(Alert.seen_at).is_(None))
            .order_by(col(Alert.next_at))
            .limit(limit)
            .with_for_update(skip_locked=True)
        )
    )


def unseen(session: Session, patient_ids: list[int]) -> list[Alert]:
    """The alerts of these patients that nobody has seen yet, oldest first."""
    if not patient_ids:
        return []
    return list(
        session.exec(
            select(Alert)
            .where(col(Alert.patient_id).in_(patient_ids), col(Alert.seen_at).is_(None))
            .order_by(col(Alert.id))
        )
    )


def mark_seen(session: Session, patient_id: int, clinician_id: int | None, now: datetime) -> list[Alert]:
    """A clinician has seen what is open about a patient. Returns those alerts."""
    found = unseen(session, [patient_id])
    for each in found:
        each.seen_at, each.seen_by, each.next_at = now, clinician_id, None
    return found
