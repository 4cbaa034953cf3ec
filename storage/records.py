"""What patients said of their mornings and evenings. A correction adds a row; nothing is overwritten."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from sqlmodel import Session, col, select

from bot.program.reports import merged_evening, merged_morning
from bot.program.terms import Activity, Exercise, PlanDone, RestPattern
from bot.program.values import ActivityAmount, Evening, Morning, RaisesReported
from storage.memory import memory_of
from storage.tables import ActivityRecord, EveningReport, ExerciseRecord, IncomingMessage, MorningReport

_CHUNK = 10_000
"""Reports a statement: databases limit the values in one (SQLite 32,766, PostgreSQL 65,535)."""


def add_morning(
    session: Session, *, patient_id: int, day: date, morning: Morning, message_id: int | None, now: datetime
) -> None:
    """Record what a message says of a morning."""
    row = MorningReport(
        patient_id=patient_id,
        day=day,
        first_step_pain=morning.first_step_pain,
        rest_pattern=None if morning.rest_pattern is None else str(morning.rest_pattern),
        settle_minutes=_real(morning.settle_minutes),
        message_id=message_id,
        created_at=now,
    )
    session.add(row)
    session.flush()
    known = memory_of(session).mornings
    if (patient_id, day) in known:
        known[patient_id, day] = merged_morning(known[patient_id, day], said_morning(row))


def _real(number: float | None) -> float | None:
    """As the database gives it back: "30" is 30.0."""
    return None if number is None else float(number)


def add_evening(
    session: Session,
    *,
    patient_id: int,
    day: date,
    evening: Evening,
    exercises: Iterable[tuple[Exercise, int | None, int | None, int | None]],
    message_id: int | None,
    now: datetime,
) -> None:
    """Record what a message says of an evening: exercises are (exercise, sets, repetitions, seconds)."""
    report = EveningReport(
        patient_id=patient_id,
        day=day,
        worst_pain=evening.worst_pain,
        plan_done=None if evening.plan_done is None else str(evening.plan_done),
        says_what_was_done=evening.says_what_was_done,
        message_id=message_id,
        created_at=now,
    )
    session.add(report)
    session.flush()
    if report.id is None:
        raise ValueError("a stored report has an id")
    activities = [
        ActivityRecord(
            report_id=report.id,
            activity=str(each.activity),
            minutes=_real(each.minutes),
            count=_real(each.count),
            steps=each.steps,
            km=_real(each.km),
        )
        for each in evening.activities
    ]
    done = [
        ExerciseRecord(report_id=report.id, exercise=str(exercise), sets=sets, reps=reps, seconds=seconds)
        for exercise, sets, reps, seconds in exercises
    ]
    session.add_all([*activities, *done])
    session.flush()
    known = memory_of(session).evenings
    if (patient_id, day) in known:
        known[patient_id, day] = merged_evening(known[patient_id, day], said_evening(report, activities, done))


def said_morning(row: MorningReport) -> Morning:
    """What one message said of a morning."""
    return Morning(
        first_step_pain=row.first_step_pain,
        rest_pattern=None if row.rest_pattern is None else RestPattern(row.rest_pattern),
        settle_minutes=row.settle_minutes,
    )


def said_evening(
    row: EveningReport, activities: Iterable[ActivityRecord], exercises: Iterable[ExerciseRecord]
) -> Evening:
    """What one message said of an evening. Of heel raises named twice the last count."""
    raises = [each for each in exercises if each.exercise == Exercise.HEEL_RAISE]
    return Evening(
        worst_pain=row.worst_pain,
        plan_done=None if row.plan_done is None else PlanDone(row.plan_done),
        activities=tuple(
            ActivityAmount(
                activity=Activity(each.activity),
                minutes=each.minutes,
                count=each.count,
                steps=each.steps,
                km=each.km,
            )
            for each in activities
        ),
        raises=RaisesReported(sets=raises[-1].sets, reps=raises[-1].reps) if raises else None,
        says_what_was_done=row.says_what_was_done,
    )


def mornings(session: Session, patient_id: int, first: date, last: date) -> dict[date, Morning]:
    """The mornings of those days, later answers merged over earlier ones."""
    rows = session.exec(
        select(MorningReport)
        .where(
            MorningReport.patient_id == patient_id,
            col(MorningReport.day).between(first, last),
            col(MorningReport.withdrawn_at).is_(None),
        )
        .order_by(col(MorningReport.id))
    )
    found: dict[date, Morning] = {}
    for row in rows:
        found[row.day] = merged_morning(found.get(row.day, Morning()), said_morning(row))
    return found


def evenings(session: Session, patient_id: int, first: date, last: date) -> dict[date, Evening]:
    """The evenings of those days, later replies merged over earlier ones."""
    rows = list(
        session.exec(
            select(EveningReport)
            .where(
                EveningReport.patient_id == patient_id,
                col(EveningReport.day).between(first, last),
                col(EveningReport.withdrawn_at).is_(None),
            )
            .order_by(col(EveningReport.id))
        )
    )
    found: dict[date, Evening] = {}
    for row, said in with_details(session, rows):
        found[row.day] = merged_evening(found.get(row.day, Evening()), said)
    return found


def with_details(session: Session, rows: list[EveningReport]) -> list[tuple[EveningReport, Evening]]:
    """Each report with what it says, its activities and exercises with it, in two statements for all of them (for 10,000)."""
    activities: dict[int, list[ActivityRecord]] = defaultdict(list)
    exercises: dict[int, list[ExerciseRecord]] = defaultdict(list)
    ids = [row.id for row in rows if row.id is not None]
    for start in range(0, len(ids), _CHUNK):
        chunk = ids[start : start + _CHUNK]
        for each in session.exec(
            select(ActivityRecord).where(col(ActivityRecord.report_id).in_(chunk)).order_by(col(ActivityRecord.id))
        ):
            activities[each.report_id].append(each)
        for done in session.exec(
            select(ExerciseRecord)
            .where(col(ExerciseRecord.report_id).in_(chunk), ExerciseRecord.exercise == str(Exercise.HEEL_RAISE))
            .order_by(col(ExerciseRecord.id))
        ):
            exercises[done.report_id].append(done)
    return [(row, said_evening(row, activities[row.id or 0], exercises[row.id or 0])) for row in rows]


def morning_of(session: Session, patient_id: int, day: date) -> Morning:
    """The day's morning; a silent one if nothing was said."""
    known = memory_of(session).mornings
    if (patient_id, day) not in known:
        found = mornings(session, patient_id, day, day).get(day, Morning())
        known = memory_of(session).mornings
        known[patient_id, day] = found
    return known[patient_id, day]


def evening_of(session: Session, patient_id: int, day: date) -> Evening:
    """The day's evening; an empty one if nothing was said."""
    known = memory_of(session).evenings
    if (patient_id, day) not in known:
        found = evenings(session, patient_id, day, day).get(day, Evening())
        known = memory_of(session).evenings
        known[patient_id, day] = found
    return known[patient_id, day]


def _rows_of(session: Session, message_id: int) -> list[MorningReport | EveningReport]:
    found: list[MorningReport | EveningReport] = list(
        session.exec(
            select(MorningReport).where(
                MorningReport.message_id == message_id, col(MorningReport.withdrawn_at).is_(None)
            )
        )
    )
    found.extend(
        session.exec(
            select(EveningReport).where(
                EveningReport.message_id == message_id, col(EveningReport.withdrawn_at).is_(None)
            )
        )
    )
    return found


def days_of_message(session: Session, message_id: int) -> list[tuple[str, date]]:
    """The check-ins ("morning" or "evening", and the day) that a message wrote to."""
    return [
        ("morning" if isinstance(row, MorningReport) else "evening", row.day) for row in _rows_of(session, message_id)
    ]


def withdraw(session: Session, message_id: int, now: datetime) -> list[tuple[str, date]]:
    """Take back what a message recorded. The rows stay, marked."""
    touched = days_of_message(session, message_id)
    for row in _rows_of(session, message_id):
        row.withdrawn_at = now
        session.add(row)
        memory_of(session).forget_days(row.patient_id)
    session.flush()
    return touched


def last_recorded_message(session: Session, patient_id: int) -> IncomingMessage | None:
    """The patient's latest message whose records stand."""
    latest = [
        session.exec(
            select(table.message_id)
            .where(
                table.patient_id == patient_id,
                col(table.withdrawn_at).is_(None),
                col(table.message_id).is_not(None),
            )
            .order_by(col(table.id).desc())
            .limit(1)
        ).first()
        for table in (MorningReport, EveningReport)
    ]
    known = [each for each in latest if each is not None]
    return session.get(IncomingMessage, max(known)) if known else None
