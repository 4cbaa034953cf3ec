"""All that is stored of one patient, for the patient's own copy."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from bot.program.values import Evening, Morning
from storage import records
from storage.tables import (
    ActivityRecord,
    Clinician,
    ClinicianAction,
    DayDecisionRow,
    EveningReport,
    ExerciseRecord,
    FlareRow,
    IncomingMessage,
    MorningReport,
    OutgoingMessage,
    Patient,
    RedFlagRow,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class PatientRecord:
    """The rows of one patient, oldest first, and the days as they stand after corrections."""

    patient: Patient
    clinicians: dict[int, str]
    """Names by id, as the patient was told them."""
    morning_reports: tuple[MorningReport, ...]
    evening_reports: tuple[EveningReport, ...]
    activities: dict[int, tuple[ActivityRecord, ...]]
    """By evening report."""
    exercises: dict[int, tuple[ExerciseRecord, ...]]
    """By evening report."""
    decisions: tuple[DayDecisionRow, ...]
    """All of them; the last of a day is the day's."""
    flares: tuple[FlareRow, ...]
    flags: tuple[RedFlagRow, ...]
    actions: tuple[ClinicianAction, ...]
    received: tuple[IncomingMessage, ...]
    sent: tuple[OutgoingMessage, ...]
    """To the patient only: what a clinician was told of the patient is the clinician's correspondence."""
    mornings: dict[date, Morning]
    evenings: dict[date, Evening]


def patients_called(session: Session, name: str) -> list[Patient]:
    """The patients of that alias (case apart), of any clinician and whatever became of them."""
    wanted = name.casefold()
    found = session.exec(select(Patient).order_by(col(Patient.id)))
    return [each for each in found if each.alias.casefold() == wanted]


def patient_record(session: Session, patient_id: int) -> PatientRecord:
    """Everything that is stored of a patient. Raises `LookupError` where there is none."""
    patient = session.get(Patient, patient_id)
    if patient is None:
        raise LookupError("there is no such patient")

    def of_patient(table: Any) -> tuple[Any, ...]:
        return tuple(session.exec(select(table).where(table.patient_id == patient_id).order_by(col(table.id))))

    evenings = of_patient(EveningReport)
    activities: dict[int, list[ActivityRecord]] = defaultdict(list)
    exercises: dict[int, list[ExerciseRecord]] = defaultdict(list)
    for activity in session.exec(
        select(ActivityRecord)
        .join(EveningReport, col(ActivityRecord.report_id) == col(EveningReport.id))
        .where(EveningReport.patient_id == patient_id)
        .order_by(col(ActivityRecord.id))
    ):
        activities[activity.report_id].append(activity)
    for exercise in session.exec(
        select(ExerciseRecord)
        .join(EveningReport, col(ExerciseRecord.report_id) == col(EveningReport.id))
        .where(EveningReport.patient_id == patient_id)
        .order_by(col(ExerciseRecord.id))
    ):
        exercises[exercise.report_id].append(exercise)
    return PatientRecord(
        patient=patient,
        clinicians={key: name for key, name in session.exec(select(Clinician.id, Clinician.name)) if key is not None},
        morning_reports=of_patient(MorningReport),
        evening_reports=evenings,
        activities={key: tuple(rows) for key, rows in activities.items()},
        exercises={key: tuple(rows) for key, rows in exercises.items()},
        decisions=of_patient(DayDecisionRow),
        flares=of_patient(FlareRow),
        flags=of_patient(RedFlagRow),
        actions=of_patient(ClinicianAction),
        received=tuple(
            session.exec(
                select(IncomingMessage)
                # A clinician's message about the patient carries the patient's number too.
                .where(IncomingMessage.patient_id == patient_id, func.coalesce(IncomingMessage.role, "") != "clinician")
                .order_by(col(IncomingMessage.id))
            )
        ),
        sent=_sent_to(session, patient),
        mornings=records.mornings(session, patient_id, date.min, date.max),
        evenings=records.evenings(session, patient_id, date.min, date.max),
    )


def _sent_to(session: Session, patient: Patient) -> tuple[OutgoingMessage, ...]:
    # A clinician's alert may carry the patient's id too: what counts is that it went to nobody else.
    return tuple(
        session.exec(
            select(OutgoingMessage)
            .where(
                OutgoingMessage.patient_id == patient.id,
                col(OutgoingMessage.clinician_id).is_(None),
                OutgoingMessage.channel == patient.channel,
                or_(patient.address is None, OutgoingMessage.address == patient.address),
            )
            .order_by(col(OutgoingMessage.id))
        )
    )
