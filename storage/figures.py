"""What a digest is made of: whole histories of many patients, in a number of statements that does not grow with them.

Every question is asked for a list of patients at once (in chunks, because databases limit the values of one statement).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from pydantic import TypeAdapter
from sqlmodel import Session, col, select

from bot.program.reports import merged_evening, merged_morning
from bot.program.terms import Activity, Exercise, PlanDone, RestPattern
from bot.program.values import ActivityAmount, DayDecision, Evening, Morning, RaisesReported, State
from storage.tables import (
    ActivityRecord,
    Clinician,
    ClinicianAction,
    DayDecisionRow,
    EveningReport,
    ExerciseRecord,
    MorningReport,
    OutgoingMessage,
    Patient,
    ProgramState,
    RedFlagRow,
)

_CHUNK = 500
"""Patients a statement; SQLite takes 999 values and more, PostgreSQL 65,535."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StoredDecision:
    """A day's last decision with the thresholds that differed from the defaults when it was made."""

    decision: DayDecision
    protocol: dict[str, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class StoredHistory:
    """All that is stored of one patient up to a day."""

    patient: Patient
    mornings: dict[date, Morning]
    evenings: dict[date, Evening]
    decisions: dict[date, StoredDecision]
    flags: tuple[RedFlagRow, ...]
    actions: tuple[ClinicianAction, ...]
    sent: frozenset[tuple[date, str]]
    """Check-ins sent: the day, and "morning" or "evening"."""
    states: dict[date, State]
    """The states that are kept, by the day they start."""


def _chunks(ids: Sequence[int]) -> Iterator[list[int]]:
    wanted = sorted(set(ids))
    for start in range(0, len(wanted), _CHUNK):
        yield wanted[start : start + _CHUNK]


def patients_by_id(session: Session, ids: Sequence[int]) -> dict[int, Patient]:
    """The patients of those ids; ids that nobody has are left out."""
    found: dict[int, Patient] = {}
    for chunk in _chunks(ids):
        for patient in session.exec(select(Patient).where(col(Patient.id).in_(chunk))):
            found[patient.id or 0] = patient
    return found


def clinician_names(session: Session) -> dict[int, str]:
    """The names of all clinicians."""
    return {key: name for key, name in session.exec(select(Clinician.id, Clinician.name)) if key is not None}


def histories(
    session: Session, ids: Sequence[int], *, until: date, week_from: date, actions_from: datetime
) -> dict[int, StoredHistory]:
    """Everything up to the day `until` of each patient: check-ins sent from `week_from` on, actions from `actions_from`."""
    found: dict[int, StoredHistory] = {}
    for chunk in _chunks(ids):
        patients = patients_by_id(session, chunk)
        mornings = _mornings(session, chunk, until)
        evenings = _evenings(session, chunk, until)
        decisions = _decisions(session, chunk, until)
        flags = _flags(session, chunk)
        actions = _actions(session, chunk, actions_from)
        sent = _sent(session, chunk, week_from, until)
        states = _states(session, chunk)
        for key, patient in patients.items():
            found[key] = StoredHistory(
                patient=patient,
                mornings=mornings[key],
                evenings=evenings[key],
                decisions=decisions[key],
                flags=tuple(flags[key]),
                actions=tuple(actions[key]),
                sent=frozenset(sent[key]),
                states=states[key],
            )
    return found


def _mornings(session: Session, ids: list[int], until: date) -> dict[int, dict[date, Morning]]:
    found: dict[int, dict[date, Morning]] = defaultdict(dict)
    rows = session.exec(
        select(MorningReport)
        .where(
            col(MorningReport.patient_id).in_(ids),
            MorningReport.day <= until,
            col(MorningReport.withdrawn_at).is_(None),
        )
        .order_by(col(MorningReport.id))
    )
    for row in rows:
        said = Morning(
            first_step_pain=row.first_step_pain,
            rest_pattern=None if row.rest_pattern is None else RestPattern(row.rest_pattern),
            settle_minutes=row.settle_minutes,
        )
        days = found[row.patient_id]
        days[row.day] = merged_morning(days.get(row.day, Morning()), said)
    return found


def _evenings(session: Session, ids: list[int], until: date) -> dict[int, dict[date, Evening]]:
    standing = (
        col(EveningReport.patient_id).in_(ids),
        EveningReport.day <= until,
        col(EveningReport.withdrawn_at).is_(None),
    )
    activities: dict[int, list[ActivityAmount]] = defaultdict(list)
    for each in session.exec(
        select(ActivityRecord)
        .join(EveningReport, col(ActivityRecord.report_id) == col(EveningReport.id))
        .where(*standing)
        .order_by(col(ActivityRecord.id))
    ):
        activities[each.report_id].append(
            ActivityAmount(
                activity=Activity(each.activity), minutes=each.minutes, count=each.count, steps=each.steps, km=each.km
            )
        )
    raises: dict[int, RaisesReported] = {}
    for done in session.exec(
        select(ExerciseRecord)
        .join(EveningReport, col(ExerciseRecord.report_id) == col(EveningReport.id))
        .where(*standing, ExerciseRecord.exercise == str(Exercise.HEEL_RAISE))
        .order_by(col(ExerciseRecord.id))
    ):
        raises[done.report_id] = RaisesReported(sets=done.sets, reps=done.reps)
    found: dict[int, dict[date, Evening]] = defaultdict(dict)
    for row in session.exec(select(EveningReport).where(*standing).order_by(col(EveningReport.id))):
        key = row.id or 0
        said = Evening(
            worst_pain=row.worst_pain,
            plan_done=None if row.plan_done is None else PlanDone(row.plan_done),
            activities=tuple(activities.get(key, ())),
            raises=raises.get(key),
            says_what_was_done=row.says_what_was_done,
        )
        days = found[row.patient_id]
        days[row.day] = merged_evening(days.get(row.day, Evening()), said)
    return found


def _decisions(session: Session, ids: list[int], until: date) -> dict[int, dict[date, StoredDecision]]:
    codec = TypeAdapter(DayDecision)
    rows = session.exec(
        select(
            col(DayDecisionRow.patient_id),
            col(DayDecisionRow.day),
            col(DayDecisionRow.value),
            col(DayDecisionRow.protocol),
        )
        .where(col(DayDecisionRow.patient_id).in_(ids), DayDecisionRow.day <= until)
        .order_by(col(DayDecisionRow.id))
    )
    last = {(patient, day): (value, protocol) for patient, day, value, protocol in rows}
    found: dict[int, dict[date, StoredDecision]] = defaultdict(dict)
    for (patient, day), (value, protocol) in sorted(last.items()):
        found[patient][day] = StoredDecision(decision=codec.validate_python(value), protocol=dict(protocol))
    return found


def _flags(session: Session, ids: list[int]) -> dict[int, list[RedFlagRow]]:
    found: dict[int, list[RedFlagRow]] = defaultdict(list)
    for row in session.exec(select(RedFlagRow).where(col(RedFlagRow.patient_id).in_(ids)).order_by(col(RedFlagRow.id))):
        found[row.patient_id].append(row)
    return found


def _actions(session: Session, ids: list[int], since: datetime) -> dict[int, list[ClinicianAction]]:
    found: dict[int, list[ClinicianAction]] = defaultdict(list)
    for row in session.exec(
        select(ClinicianAction)
        .where(col(ClinicianAction.patient_id).in_(ids), ClinicianAction.at >= since)
        .order_by(col(ClinicianAction.id))
    ):
        found[row.patient_id].append(row)
    return found


def _sent(session: Session, ids: list[int], first: date, last: date) -> dict[int, set[tuple[date, str]]]:
    found: dict[int, set[tuple[date, str]]] = defaultdict(set)
    rows = session.exec(
        select(col(OutgoingMessage.patient_id), col(OutgoingMessage.day), col(OutgoingMessage.key)).where(
            col(OutgoingMessage.patient_id).in_(ids),
            col(OutgoingMessage.day).between(first, last),
            OutgoingMessage.kind == "prompt",
            col(OutgoingMessage.sent_at).is_not(None),
        )
    )
    for patient, day, key in rows:
        slot = key.rpartition(":")[2]
        if patient is not None and day is not None and slot in ("morning", "evening"):
            found[patient].add((day, slot))
    return found


def _states(session: Session, ids: list[int]) -> dict[int, dict[date, State]]:
    codec = TypeAdapter(State)
    found: dict[int, dict[date, State]] = defaultdict(dict)
    for row in session.exec(select(ProgramState).where(col(ProgramState.patient_id).in_(ids))):
        found[row.patient_id][row.day] = codec.validate_python(row.value)
    return found
