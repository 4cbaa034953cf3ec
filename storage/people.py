"""Patients, clinicians, and what clinicians did."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from storage.memory import memory_of
from storage.tables import Clinician, ClinicianAction, Patient


def add_clinician(
    session: Session, *, name: str, channel: str, address: str | None, timezone: str, now: datetime
) -> Clinician:
    """A new clinician."""
    clinician = Clinician(name=name, channel=channel, address=address, timezone=timezone, created_at=now)
    session.add(clinician)
    return clinician


def add_patient(session: Session, **columns: Any) -> Patient:
    """A new patient with these columns."""
    patient = Patient(**columns)
    session.add(patient)
    return patient


def patient_by_id(session: Session, patient_id: int) -> Patient:
    """The patient. Raises `LookupError` where there is none."""
    patient = session.get(Patient, patient_id)
    if patient is None:
        raise LookupError("there is no such patient")
    return patient


# Locks are taken in one order: clinician, patient, alerts, messages of the outbox. They leave the key alone ("FOR NO KEY
# UPDATE"): a message that is queued for somebody refers to their row, and must not wait for that somebody's own turn
# (https://www.postgresql.org/docs/current/explicit-locking.html#LOCKING-ROWS).


def patient_by_address(session: Session, channel: str, address: str) -> Patient | None:
    """The patient who writes from there. The row is locked, so that the turns of one chat come one after the other."""
    return session.exec(
        select(Patient)
        .where(Patient.channel == channel, Patient.address == address)
        .with_for_update(key_share=True)
        .execution_options(populate_existing=True)
    ).first()


def clinician_by_address(session: Session, channel: str, address: str, *, lock: bool = False) -> Clinician | None:
    """The clinician who writes from there. `lock`: before any patient's row, for a turn of their chat."""
    query = select(Clinician).where(Clinician.channel == channel, Clinician.address == address)
    if lock:
        query = query.with_for_update(key_share=True).execution_options(populate_existing=True)
    return session.exec(query).first()


def clinician_by_id(session: Session, clinician_id: int | None) -> Clinician | None:
    """The clinician, if there is one."""
    return None if clinician_id is None else session.get(Clinician, clinician_id)


def clinicians(session: Session) -> list[Clinician]:
    """All clinicians, by name."""
    return list(session.exec(select(Clinician).order_by(col(Clinician.name), col(Clinician.id))))


def clinicians_named(session: Session, name: str) -> list[Clinician]:
    """Clinicians of that name, case apart."""
    wanted = name.casefold().strip()
    return [each for each in clinicians(session) if each.name.casefold() == wanted]


def clinician_of(session: Session, patient: Patient) -> Clinician | None:
    """The patient's own clinician."""
    if patient.clinician_id is None:
        return None
    known = memory_of(session).clinicians
    if patient.clinician_id not in known:
        found = session.get(Clinician, patient.clinician_id)
        known = memory_of(session).clinicians
        known[patient.clinician_id] = found
    return known[patient.clinician_id]


def add_action(
    session: Session,
    *,
    patient_id: int,
    clinician_id: int | None,
    kind: str,
    details: dict[str, Any],
    now: datetime,
) -> ClinicianAction:
    """A line of the audit trail. Without a clinician: something the rules have to tell."""
    action = ClinicianAction(patient_id=patient_id, clinician_id=clinician_id, kind=kind, details=details, at=now)
    session.add(action)
    return action


def actions_of(session: Session, patient_id: int, *, latest: int | None = None) -> list[ClinicianAction]:
    """Who did what for a patient, oldest first; the `latest` ones only, if a number is given."""
    found = list(
        session.exec(
            select(ClinicianAction)
            .where(ClinicianAction.patient_id == patient_id)
            .order_by(col(ClinicianAction.id).desc())
            .limit(latest)
        )
    )
    return found[::-1]


def last_action(session: Session, patient_id: int, kinds: tuple[str, ...]) -> ClinicianAction | None:
    """The last thing that a clinician did for a patient, of these kinds, which was not taken back."""
    return session.exec(
        select(ClinicianAction)
        .where(
            ClinicianAction.patient_id == patient_id,
            col(ClinicianAction.clinician_id).is_not(None),
            col(ClinicianAction.undone_at).is_(None),
            col(ClinicianAction.kind).in_(kinds),
        )
        .order_by(col(ClinicianAction.id).desc())
        .limit(1)
    ).first()


def due_patients(session: Session, now: datetime, limit: int) -> list[Patient]:
    """Patients who are due, locked for this transaction; those another process has claimed are passed over."""
    found = session.exec(
        select(Patient)
        .where(col(Patient.next_due_at) <= now, Patient.status == "active")
        .order_by(col(Patient.next_due_at))
        .limit(limit)
        .with_for_update(skip_locked=True, key_share=True)
    )
    return list(found)


def due_clinicians(session: Session, now: datetime, limit: int = 20) -> list[Clinician]:
    """Clinicians whose digest is due, locked for this transaction."""
    return list(
        session.exec(
            select(Clinician)
            .where(col(Clinician.next_digest_at) <= now, col(Clinician.unreachable_at).is_(None))
            .order_by(col(Clinician.next_digest_at))
            .limit(limit)
            .with_for_update(skip_locked=True, key_share=True)
        )
    )
