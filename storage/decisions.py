"""Decisions and the state between days, as JSON and as columns that can be asked for."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cache

from pydantic import TypeAdapter
from sqlalchemy import delete, update
from sqlmodel import Session, col, select

from bot.program.protocol import Protocol
from bot.program.values import DayDecision, State
from storage.tables import DayDecisionRow, FlareRow, ProgramState

_KEPT_STATES = timedelta(days=4)


@cache
def _decision_codec() -> TypeAdapter[DayDecision]:
    return TypeAdapter(DayDecision)


@cache
def _state_codec() -> TypeAdapter[State]:
    return TypeAdapter(State)


def add_decision(
    session: Session, *, patient_id: int, day: date, decision: DayDecision, protocol: Protocol, decided_at: datetime
) -> None:
    """Store a decision. Earlier ones of the day stay; the last is the day's (2.4). Its flare supersedes theirs."""
    session.add(
        DayDecisionRow(
            patient_id=patient_id,
            day=day,
            phase=str(decision.phase),
            decision=str(decision.decision),
            reasons=[str(each) for each in decision.reasons],
            walk=decision.plan.walk,
            step=str(decision.plan.step),
            sets=decision.plan.sets,
            reps=decision.plan.reps,
            value=_decision_codec().dump_python(decision, mode="json"),
            protocol=protocol.differences(),
            decided_at=decided_at,
        )
    )
    session.execute(
        update(FlareRow)
        .where(col(FlareRow.patient_id) == patient_id, col(FlareRow.day) == day, col(FlareRow.superseded_at).is_(None))
        .values(superseded_at=decided_at)
    )
    if decision.flare is not None:
        session.add(
            FlareRow(
                patient_id=patient_id,
                day=day,
                cause=str(decision.flare.cause),
                candidates=[str(each) for each in decision.flare.candidates],
            )
        )
    session.flush()


def latest_decision(session: Session, patient_id: int, day: date) -> DayDecision | None:
    """The day's decision, if it is decided."""
    value = session.exec(
        select(DayDecisionRow.value)
        .where(DayDecisionRow.patient_id == patient_id, DayDecisionRow.day == day)
        .order_by(col(DayDecisionRow.id).desc())
        .limit(1)
    ).first()
    return None if value is None else _decision_codec().validate_python(value)


def decisions(session: Session, patient_id: int, first: date, last: date) -> dict[date, DayDecision]:
    """The last decision of each of those days."""
    rows = session.exec(
        select(DayDecisionRow.day, DayDecisionRow.value)
        .where(DayDecisionRow.patient_id == patient_id, col(DayDecisionRow.day).between(first, last))
        .order_by(col(DayDecisionRow.id))
    )
    latest = dict(rows.all())
    return {day: _decision_codec().validate_python(value) for day, value in sorted(latest.items())}


def get_state(session: Session, patient_id: int, day: date) -> State | None:
    """The state at the start of `day`, if it is kept."""
    row = session.get(ProgramState, (patient_id, day))
    return None if row is None else _state_codec().validate_python(row.value)


def put_state(session: Session, patient_id: int, day: date, state: State) -> None:
    """Keep the state at the start of `day`; states of long-past days are let go."""
    value = _state_codec().dump_python(state, mode="json")
    row = session.get(ProgramState, (patient_id, day))
    if row is None:
        session.add(ProgramState(patient_id=patient_id, day=day, value=value))
    else:
        row.value = value
        session.add(row)
    session.execute(
        delete(ProgramState).where(
            col(ProgramState.patient_id) == patient_id, col(ProgramState.day) < day - _KEPT_STATES
        )
    )
    session.flush()


def latest_state_day(session: Session, patient_id: int) -> date | None:
    """The last day whose start is stored."""
    return session.exec(
        select(ProgramState.day)
        .where(ProgramState.patient_id == patient_id)
        .order_by(col(ProgramState.day).desc())
        .limit(1)
    ).first()
