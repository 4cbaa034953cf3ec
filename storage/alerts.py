"""Alerts: warning signs that a clinician has to see."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, select

from storage.tables import Alert, Patient


def open_alert(
    session: Session,
    *,
    patient_id: int,
    urgency: str,
    codes: list[str],
    words: str,
    next_at: datetime | None,
    now: datetime,
) -> Alert:
    """An alert; `words`: the patient's own; `next_at`: when it is repeated if nobody has seen it."""
    alert = Alert(
        patient_id=patient_id, urgency=urgency, codes=codes, words=words, opened_at=now, next_at=next_at, repeats=0
    )
    session.add(alert)
    session.flush()
    return alert


def due(session: Session, now: datetime, limit: int) -> list[Alert]:
    """Alerts to be repeated now. They and their patients are locked for this transaction; those in use are passed over.

    Nothing is waited for, so that whoever holds a patient and waits for an alert is never waited for in turn.
    """
    found = session.exec(
        select(Alert, Patient)
        .join(Patient, col(Alert.patient_id) == col(Patient.id))
        .where(col(Alert.next_at) <= now, col(Alert.seen_at).is_(None))
        .order_by(col(Alert.next_at), col(Alert.id))
        .limit(limit)
        .with_for_update(skip_locked=True, key_share=True)
    )
    return [alert for alert, _ in found]


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


def mark_seen(
    session: Session,
    patient_id: int,
    clinician_id: int | None,
    now: datetime,
    *,
    up_to: int | None = None,
    opened_until: datetime | None = None,
) -> list[Alert]:
    """A clinician has seen what is open about a patient. Returns those alerts.

    `up_to`: the number of the last alert that was seen. `opened_until`: what came later cannot have been seen.
    """
    found = [
        each
        for each in unseen(session, [patient_id])
        if (up_to is None or (each.id or 0) <= up_to) and (opened_until is None or each.opened_at <= opened_until)
    ]
    for each in found:
        each.seen_at, each.seen_by, each.next_at = now, clinician_id, None
    return found


def alert_by_id(session: Session, alert_id: int) -> Alert | None:
    """The alert, if there is one."""
    return session.get(Alert, alert_id)


def unsee(session: Session, alert_ids: list[int]) -> list[Alert]:
    """What marked these alerts as seen was taken back. Returns those that are unseen by it."""
    found = session.exec(select(Alert).where(col(Alert.id).in_(alert_ids), col(Alert.seen_at).is_not(None)))
    alerts = list(found)
    for each in alerts:
        each.seen_at = each.seen_by = None
    return alerts


def opened_since(session: Session, patient_id: int, instant: datetime) -> list[Alert]:
    """The alerts about a patient that came after `instant`."""
    return list(session.exec(select(Alert).where(Alert.patient_id == patient_id, col(Alert.opened_at) > instant)))
