"""Decisions and the state between days, as JSON and as columns that can be asked for."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

from pydantic import TypeAdapter
from sqlalchemy import Text, cast, delete, update
from sqlmodel import Session, col, select

from bot.program.protocol import Protocol
from bot.program.values import DayDecision, State
from storage.memory import memory_of
from storage.tables import DayDecisionRow, FlareRow, ProgramState

_KEPT_STATES = timedelta(days=4)
_ONE_DAY = timedelta(days=1)


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
    earlier = latest_decision(session, patient_id, day)
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
    if earlier is not None:
        # A flare comes from a decision only, so the first one of a day has none to supersede.
        session.execute(
            update(FlareRow)
            .where(
                col(FlareRow.patient_id) == patient_id, col(FlareRow.day) == day, col(FlareRow.superseded_at).is_(None)
            )
            .values(superseded_at=decided_at)
            .execution_options(synchronize_session=False)
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
    memory_of(session).decisions[patient_id, day] = decision


def latest_decision(session: Session, patient_id: int, day: date) -> DayDecision | None:
    """The day's decision, if it is decided."""
    known = memory_of(session).decisions
    if (patient_id, day) not in known:
        # The day before is nearly always asked for as well.
        days = [each for each in (day - _ONE_DAY, day) if (patient_id, each) not in known]
        found = decisions(session, patient_id, days[0], day)
        known = memory_of(session).decisions
        known.update({(patient_id, each): found.get(each) for each in days})
    return known[patient_id, day]


def decisions(session: Session, patient_id: int, first: date, last: date) -> dict[date, DayDecision]:
    """The last decision of each of those days."""
    rows = session.exec(
        select(DayDecisionRow.day, as_text(DayDecisionRow.value))
        .where(DayDecisionRow.patient_id == patient_id, col(DayDecisionRow.day).between(first, last))
        .order_by(col(DayDecisionRow.id))
    )
    latest = dict(rows.all())
    return {day: decision_of(value) for day, value in sorted(latest.items())}


def decision_of(value: str) -> DayDecision:
    """A decision as it was stored, in JSON."""
    return _decision_codec().validate_json(value)


def get_state(session: Session, patient_id: int, day: date) -> State | None:
    """The state at the start of `day`, if it is kept."""
    latest = latest_state_day(session, patient_id)
    if latest is None or day > latest:
        return None
    memory, key = memory_of(session), (patient_id, day)
    if key not in memory.states:
        text = memory.state_texts.get(key)
        if text is None:
            text = session.exec(
                select(as_text(ProgramState.value)).where(
                    ProgramState.patient_id == patient_id, ProgramState.day == day
                )
            ).first()
        memory.states[key] = None if text is None else _state_codec().validate_json(text)
    return memory.states[key]


def put_state(session: Session, patient_id: int, day: date, state: State) -> None:
    """Keep the state at the start of `day`; states of long-past days are let go."""
    value = _state_codec().dump_python(state, mode="json")
    latest = latest_state_day(session, patient_id)
    memory, key = memory_of(session), (patient_id, day)
    row = memory.state_rows.get(key)
    if row is None and latest is not None and day <= latest:
        row = session.get(ProgramState, key)
    if row is None:
        row = ProgramState(patient_id=patient_id, day=day, value=value)
        session.add(row)
    else:
        row.value = value
    memory.state_rows[key], memory.states[key] = row, state
    if latest is not None and latest >= day:
        return
    memory.latest_states[patient_id] = day
    if memory.waiting is not None:
        memory.waiting.old_states[patient_id] = day - _KEPT_STATES
        return
    session.execute(
        delete(ProgramState)
        .where(col(ProgramState.patient_id) == patient_id, col(ProgramState.day) < day - _KEPT_STATES)
        .execution_options(synchronize_session=False)
    )


def latest_state_day(session: Session, patient_id: int) -> date | None:
    """The last day whose start is stored."""
    memory = memory_of(session)
    if patient_id not in memory.latest_states:
        found = session.exec(
            select(ProgramState.day, as_text(ProgramState.value))
            .where(ProgramState.patient_id == patient_id)
            .order_by(col(ProgramState.day).desc())
            .limit(1)
        ).first()
        memory = memory_of(session)
        memory.latest_states[patient_id] = None if found is None else found[0]
        if found is not None:
            memory.state_texts[patient_id, found[0]] = found[1]
    return memory.latest_states[patient_id]


def as_text(column: Any) -> Any:
    """A JSON column as the text that it is: the codecs read it much faster than in two steps."""
    return cast(column, Text)
