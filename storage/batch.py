"""Many patients at once: what a tick needs of all of them is asked in a few statements, what it writes is written in a few.

The number of statements is the same for 5 patients as for 500. Within `in_bulk` the functions of decisions, records,
flags, messages and people work as ever, on what was fetched; what they write is there once the batch is over.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from typing import Any

from sqlalchemy import and_, bindparam, delete, func, update
from sqlalchemy.orm.attributes import set_committed_value
from sqlmodel import Session, SQLModel, col, select

from bot.program.reports import merged_evening, merged_morning
from bot.program.values import Evening, Morning
from storage import decisions, messages, records
from storage.memory import Memory, Waiting, memory_of
from storage.tables import Clinician, DayDecisionRow, EveningReport, MorningReport, Patient, ProgramState, RedFlagRow

_PATIENTS, _STATES = (SQLModel.metadata.tables[name] for name in ("patients", "program_states"))
_DUE = ("next_due_at", "next_due_kind")


@contextmanager
def in_bulk(session: Session, patients: Sequence[Patient], days: dict[int, date]) -> Iterator[None]:
    """Work on these patients, each on a day of their own (by id), with everything fetched before and written after.

    On an exception nothing is written: the transaction has to be rolled back.
    """
    ids = sorted(days)
    if ids:
        _fetch(session, ids, days, [each for each in patients if each.id in days])
    memory = memory_of(session)
    memory.waiting = Waiting()
    yield
    waiting, memory.waiting = memory.waiting, None
    _write_due(session, patients)
    session.flush()
    messages.queue_all(session, waiting.outgoing)
    if waiting.old_states:
        session.connection().execute(
            delete(_STATES).where(_STATES.c.patient_id == bindparam("patient"), _STATES.c.day < bindparam("before")),
            [{"patient": patient, "before": before} for patient, before in sorted(waiting.old_states.items())],
        )


def _fetch(session: Session, ids: list[int], days: dict[int, date], patients: list[Patient]) -> None:
    memory = memory_of(session)
    # Nothing before the last day whose start is stored is needed, however long ago that is; without one, day 1.
    latest = (
        select(func.max(ProgramState.day)).where(ProgramState.patient_id == Patient.id).correlate(Patient)
    ).scalar_subquery()
    since = (
        select(col(Patient.id).label("patient"), func.coalesce(latest, Patient.start).label("day"))
        .where(col(Patient.id).in_(ids))
        .subquery()
    )
    memory.latest_states.update(dict.fromkeys(ids))
    first = {each.id: each.start for each in patients}
    rows = session.exec(
        select(ProgramState.patient_id, ProgramState.day, decisions.as_text(ProgramState.value)).join(
            since, and_(since.c.patient == ProgramState.patient_id, since.c.day == ProgramState.day)
        )
    )
    for patient, day, value in rows:
        memory.latest_states[patient] = first[patient] = day
        memory.state_texts[patient, day] = value
    # The same said in values for all: with them the planner knows how few rows these are.
    earliest = min((each for each in first.values() if each is not None), default=min(days.values()))
    _fetch_decisions(session, memory, since, earliest)
    _fetch_reports(session, memory, since, earliest)
    for patient, day in days.items():
        begun = first.get(patient)
        for offset in range((day - begun).days + 1) if begun is not None else ():
            key = (patient, date.fromordinal(begun.toordinal() + offset))
            memory.decisions.setdefault(key, None)
            memory.mornings.setdefault(key, Morning())
            memory.evenings.setdefault(key, Evening())
    memory.flags.update({each: [] for each in ids})
    for flag in session.exec(
        select(RedFlagRow)
        .where(col(RedFlagRow.patient_id).in_(ids), col(RedFlagRow.cleared_at).is_(None))
        .order_by(col(RedFlagRow.id))
    ):
        memory.flags[flag.patient_id].append(flag)
    for (patient, day), slots in messages.prompts_sent_to(session, days.items()).items():
        memory.prompts.setdefault(patient, {})[day] = slots
    treating = {each.clinician_id for each in patients if each.clinician_id is not None}
    for clinician in session.exec(select(Clinician).where(col(Clinician.id).in_(treating))):
        memory.clinicians[clinician.id or 0] = clinician


def _fetch_decisions(session: Session, memory: Memory, since: Any, earliest: date) -> None:
    found = session.exec(
        select(DayDecisionRow.patient_id, DayDecisionRow.day, decisions.as_text(DayDecisionRow.value))
        .join(since, and_(since.c.patient == DayDecisionRow.patient_id, since.c.day <= DayDecisionRow.day))
        .where(DayDecisionRow.day >= earliest)
        .order_by(col(DayDecisionRow.id))
    )
    last = {(patient, day): value for patient, day, value in found}
    memory.decisions.update({key: decisions.decision_of(value) for key, value in last.items()})


def _fetch_reports(session: Session, memory: Memory, since: Any, earliest: date) -> None:
    mornings: dict[tuple[int, date], Morning] = {}
    evenings: dict[tuple[int, date], Evening] = {}
    for row in session.exec(
        select(MorningReport)
        .join(since, and_(since.c.patient == MorningReport.patient_id, since.c.day <= MorningReport.day))
        .where(MorningReport.day >= earliest, col(MorningReport.withdrawn_at).is_(None))
        .order_by(col(MorningReport.id))
    ):
        key = (row.patient_id, row.day)
        mornings[key] = merged_morning(mornings.get(key, Morning()), records.said_morning(row))
    reports = session.exec(
        select(EveningReport)
        .join(since, and_(since.c.patient == EveningReport.patient_id, since.c.day <= EveningReport.day))
        .where(EveningReport.day >= earliest, col(EveningReport.withdrawn_at).is_(None))
        .order_by(col(EveningReport.id))
    ).all()
    for report, said in records.with_details(session, list(reports)):
        key = (report.patient_id, report.day)
        evenings[key] = merged_evening(evenings.get(key, Evening()), said)
    memory.mornings.update(mornings)
    memory.evenings.update(evenings)


def _write_due(session: Session, patients: Sequence[Patient]) -> None:
    """When each is due next, in one statement; left to the session, it would be one for every mix of columns."""
    rows = [
        {"key": each.id, "at": each.next_due_at, "kind": each.next_due_kind}
        for each in sorted(patients, key=lambda each: each.id or 0)
    ]
    for each in patients:
        for name in _DUE:
            set_committed_value(each, name, getattr(each, name))
    if rows:
        session.connection().execute(
            update(_PATIENTS)
            .where(_PATIENTS.c.id == bindparam("key"))
            .values(next_due_at=bindparam("at"), next_due_kind=bindparam("kind")),
            rows,
        )
