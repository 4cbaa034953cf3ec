"""Who may see and treat whose patients besides their own clinician."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, and_, col, or_, select

from storage.tables import Clinician, Patient, Share

IN_CARE = ("invited", "enrolling", "active")
"""Patients on a caseload: not those who left or whose programme ended."""
ALL = (*IN_CARE, "ended", "left")


def _going_on(session: Session, now: datetime, *conditions: object) -> list[Share]:
    """The shares that hold now. The last day of one is a day on the clock of the clinician who set it."""
    rows = session.exec(
        select(Share, Clinician.timezone)
        .join(Clinician, Share.owner_id == Clinician.id)  # type: ignore[arg-type]
        .where(col(Share.ended_at).is_(None), *conditions)  # type: ignore[arg-type]
        .order_by(col(Share.id))
    )
    return [
        share for share, zone in rows if share.until is None or share.until >= now.astimezone(ZoneInfo(zone)).date()
    ]


def caseload(session: Session, clinician_id: int, now: datetime, statuses: tuple[str, ...] = IN_CARE) -> list[Patient]:
    """A clinician's own patients and those shared with them, by alias."""
    shared = _going_on(session, now, Share.colleague_id == clinician_id)
    mine: list[Any] = [Patient.clinician_id == clinician_id]
    # The owner is named beside the patient: a share never reaches further than its giver's own patients.
    mine += [
        and_(Patient.clinician_id == each.owner_id, Patient.id == each.patient_id)
        if each.patient_id is not None
        else Patient.clinician_id == each.owner_id
        for each in shared
    ]
    return list(
        session.exec(
            select(Patient)
            .where(or_(*mine), col(Patient.status).in_(statuses))
            .order_by(col(Patient.alias), col(Patient.id))
        )
    )


def colleagues_for(
    session: Session, patient: Patient, now: datetime, *, covering_only: bool = False
) -> list[Clinician]:
    """The colleagues who see this patient; `covering_only`: those who have taken over until a date."""
    found = _going_on(
        session,
        now,
        Share.owner_id == patient.clinician_id,
        or_(col(Share.patient_id).is_(None), Share.patient_id == patient.id),
    )
    if covering_only:
        found = [each for each in found if each.patient_id is None and each.until is not None]
    ids = {each.colleague_id for each in found}
    return list(session.exec(select(Clinician).where(col(Clinician.id).in_(ids)).order_by(col(Clinician.id))))


def share(
    session: Session,
    *,
    owner_id: int,
    colleague_id: int,
    patient_id: int | None,
    until: date | None,
    now: datetime,
) -> Share:
    """Let a colleague in: to one patient, or (`patient_id` None) to all. An earlier share of the same is replaced.

    One for a time and one without an end stand beside each other: what was shared for good outlives a holiday.
    """
    conditions = [
        Share.owner_id == owner_id,
        Share.colleague_id == colleague_id,
        Share.patient_id == patient_id,
        col(Share.until).is_(None) if until is None else col(Share.until).is_not(None),
    ]
    _end(session, now, *conditions)
    made = Share(owner_id=owner_id, colleague_id=colleague_id, patient_id=patient_id, until=until, created_at=now)
    session.add(made)
    return made


def end(
    session: Session,
    *,
    owner_id: int,
    colleague_id: int | None,
    patient_id: int | None,
    now: datetime,
    covers_only: bool = False,
) -> list[int]:
    """End what was shared, with one colleague or (None) with everybody. Returns the colleagues who are out by it.

    `patient_id` None: the whole caseload, and every patient shared by name. `covers_only`: only what was for a time.
    """
    conditions: list[Any] = [Share.owner_id == owner_id]
    if colleague_id is not None:
        conditions.append(Share.colleague_id == colleague_id)
    if patient_id is not None:
        conditions.append(Share.patient_id == patient_id)
    if covers_only:
        conditions.append(col(Share.until).is_not(None))
    going_on = {each.id for each in _going_on(session, now, *conditions)}
    return sorted({each.colleague_id for each in _end(session, now, *conditions) if each.id in going_on})


def _end(session: Session, now: datetime, *conditions: object) -> list[Share]:
    found = list(session.exec(select(Share).where(col(Share.ended_at).is_(None), *conditions)))  # type: ignore[arg-type]
    for each in found:
        each.ended_at = now
    session.flush()
    return found


def of_owner(session: Session, owner_id: int, now: datetime) -> list[Share]:
    """What a clinician shares now."""
    return _going_on(session, now, Share.owner_id == owner_id)
