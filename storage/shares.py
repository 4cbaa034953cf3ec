"""Who may see and treat whose patients besides their own clinician."""

from __future__ import annotations

from datetime import date, datetime

from sqlmodel import Session, col, or_, select

from storage.tables import Clinician, Patient, Share

IN_CARE = ("invited", "enrolling", "active")
"""Patients on a caseload: not those who left or whose programme ended."""


def _active(today: date) -> tuple[object, ...]:
    return (col(Share.ended_at).is_(None), or_(col(Share.until).is_(None), col(Share.until) >= today))


def caseload(session: Session, clinician_id: int, today: date, statuses: tuple[str, ...] = IN_CARE) -> list[Patient]:
    """A clinician's own patients and those shared with them, by alias."""
    shared = (
        select(Share.id)
        .where(
            Share.colleague_id == clinician_id,
            Share.owner_id == Patient.clinician_id,
            or_(col(Share.patient_id).is_(None), Share.patient_id == Patient.id),
            *_active(today),
        )
        .exists()
    )
    return list(
        session.exec(
            select(Patient)
            .where(or_(Patient.clinician_id == clinician_id, shared), col(Patient.status).in_(statuses))
            .order_by(col(Patient.alias), col(Patient.id))
        )
    )


def colleagues_for(session: Session, patient: Patient, today: date, *, covering_only: bool = False) -> list[Clinician]:
    """The colleagues who see this patient; `covering_only`: those who have taken over until a date."""
    conditions = [
        Share.owner_id == patient.clinician_id,
        or_(col(Share.patient_id).is_(None), Share.patient_id == patient.id),
        *_active(today),
    ]
    if covering_only:
        conditions.append(col(Share.until).is_not(None))
        conditions.append(col(Share.patient_id).is_(None))
    found = session.exec(
        select(Clinician)
        .join(Share, Share.colleague_id == Clinician.id)  # type: ignore[arg-type]
        .where(*conditions)
        .order_by(col(Clinician.id))
        .distinct()
    )
    return list(found)


def share(
    session: Session,
    *,
    owner_id: int,
    colleague_id: int,
    patient_id: int | None,
    until: date | None,
    now: datetime,
) -> Share:
    """Let a colleague in: to one patient, or (`patient_id` None) to all. An earlier share of the same is replaced."""
    end(session, owner_id=owner_id, colleague_id=colleague_id, patient_id=patient_id, now=now)
    made = Share(owner_id=owner_id, colleague_id=colleague_id, patient_id=patient_id, until=until, created_at=now)
    session.add(made)
    return made


def end(session: Session, *, owner_id: int, colleague_id: int | None, patient_id: int | None, now: datetime) -> int:
    """End what was shared, with one colleague or (None) with everybody. Returns how many shares ended."""
    conditions = [Share.owner_id == owner_id, Share.patient_id == patient_id, col(Share.ended_at).is_(None)]
    if colleague_id is not None:
        conditions.append(Share.colleague_id == colleague_id)
    found = list(session.exec(select(Share).where(*conditions)))
    for each in found:
        each.ended_at = now
    return len(found)


def of_owner(session: Session, owner_id: int, today: date) -> list[Share]:
    """What a clinician shares now."""
    return list(session.exec(select(Share).where(Share.owner_id == owner_id, *_active(today)).order_by(col(Share.id))))
