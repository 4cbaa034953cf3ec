"""Patients, clinicians, and what clinicians did."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

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


def patient_by_address(session: Session, channel: str, address: str) -> Patient | None:
    """The patient who writes from there. The row is locked, so that the turns of one chat come one after the other."""
    return session.exec(
        select(Patient).where(Patient.channel == channel, Patient.address == address).with_for_update()
    ).first()


def clinician_by_address(session: Session, channel: str, address: str) -> Clinician | None:
    """The clinician who writes from there."""
    return session.exec(select(Clinician).where(Clinician.channel == channel, Clinician.address == address)).first()


def clinician_of(session: Session, patient: Patient) -> Clinician | None:
    """The patient's own clinician."""
    return None if patient.clinician_id is None else session.get(Clinician, patient.clinician_id)


def patients_of(session: Session, clinician_id: int) -> list[Patient]:
    """A clinician's caseload, by alias: those who have not left and whose programme has not ended."""
    found = session.exec(
        select(Patient)
        .where(Patient.clinician_id == clinician_id, col(Patient.status).in_(("enrolling", "active")))
        .order_by(col(Patient.alias), col(Patient.id))
    )
    return list(found)


def patient_named(session: Session, clinician_id: int, alias: str) -> list[Patient]:
    """The clinician's patients of that alias, case apart; if none, those whose alias begins so."""
    wanted = alias.casefold()
    mine = patients_of(session, clinician_id)
    exact = [each for each in mine if each.alias.casefold() == wanted]
    return exact or [each for each in mine if wanted and each.alias.casefold().startswith(wanted)]


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


def actions_of(session: Session, patient_id: int) -> list[ClinicianAction]:
    """Who did what for a patient, oldest first."""
    return list(
        session.exec(
            select(ClinicianAction).where(ClinicianAction.patient_id == patient_id).order_by(col(ClinicianAction.id))
        )
    )


def due_patients(session: Session, now: datetime, limit: int) -> list[Patient]:
    """Patients who are due, locked for this transaction; those another process has claimed are passed over."""
    found = session.exec(
        select(Patient)
        .where(col(Patient.next_due_at) <= now, Patient.status == "active")
        .order_by(col(Patient.next_due_at))
        .limit(limit)
        .with_for_update(skip_locked=True)
    )
    return list(found)
