"""Reads what a digest needs: a fixed number of statements, however many patients and days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.days import enrolment_of, protocol_of
from bot.digest.values import Action, Caseload, Day, Flag, History
from bot.program.advance import advance
from bot.program.flags import URGENCY_OF
from bot.program.ladder import RaiseDose
from bot.program.load import evening_facts
from bot.program.protocol import DEFAULT, Protocol
from bot.program.terms import Phase, RedFlag, Step
from bot.program.values import DoseOrder, Evening, Morning, PhaseOrder, State, Today
from scheduler.times import day_start, local_day
from storage import figures
from storage.figures import StoredHistory
from storage.tables import Patient

WEEK = timedelta(days=7)
_ONE_DAY = timedelta(days=1)


def gather(session: Session, patient_ids: Sequence[int], *, until: date, now: datetime) -> Caseload:
    """The histories of those patients up to the end of `until` (the patients' local date), in the order of the ids.

    Flags and actions are as they stand at `now`, so that a flag of this morning is in a digest of last week; for a
    week that is long over, as they stood two days after its end. Ids that nobody has are left out.
    """
    stored = figures.histories(
        session,
        patient_ids,
        until=until,
        week_from=until - WEEK + _ONE_DAY,
        # A day wider on both sides than any time zone asks for.
        actions_from=day_start(until - WEEK, ZoneInfo("UTC")),
    )
    names = figures.clinician_names(session)
    as_at = min(now, day_start(until + timedelta(days=3), ZoneInfo("UTC")))
    return Caseload(
        until=until,
        as_at=as_at,
        histories=tuple(
            _history(stored[key], until=until, as_at=as_at, names=names)
            for key in dict.fromkeys(patient_ids)
            if key in stored
        ),
    )


def _history(stored: StoredHistory, *, until: date, as_at: datetime, names: Mapping[int, str]) -> History:
    patient = stored.patient
    zone = ZoneInfo(patient.timezone)
    flags = _flags(stored, zone, as_at, names)
    enrolled = patient.start is not None
    state = _next_state(stored, until) if enrolled else None
    week_begins = until - WEEK + _ONE_DAY
    return History(
        patient_id=patient.id or 0,
        alias=patient.alias,
        foot=patient.foot,
        status=patient.status,
        until=until,
        start=patient.start,
        enrolled_pain=patient.enrolled_first_step_pain,
        enrolled_doses=enrolment_of(patient).doses if enrolled else None,
        protocol=protocol_of(patient),
        days=_days(stored, until, today=local_day(as_at, zone)),
        flags=flags,
        actions=tuple(
            Action(
                day=local_day(row.at, zone),
                kind=row.kind,
                details=dict(row.details),
                by=None if row.clinician_id is None else names.get(row.clinician_id, "a clinician"),
            )
            for row in stored.actions
            if row.at <= as_at and local_day(row.at, zone) >= week_begins
        ),
        sent=stored.sent,
        paused_until=patient.paused_until,
        loading_stopped=patient.loading_stopped,
        quiet=(patient.quiet_from, patient.quiet_until) if patient.quiet_from and patient.quiet_until else None,
        next_state=state,
        next_day=None if state is None else _next_day(patient, state, flags, until + _ONE_DAY),
    )


def _flags(stored: StoredHistory, zone: ZoneInfo, as_at: datetime, names: Mapping[int, str]) -> tuple[Flag, ...]:
    found: list[Flag] = []
    for row in stored.flags:
        if row.opened_at > as_at:
            continue
        cleared = row.cleared_at is not None and row.cleared_at <= as_at
        code = RedFlag(row.code)
        found.append(
            Flag(
                code=code,
                urgency=URGENCY_OF[code],
                score=row.score,
                words=row.words,
                opened=local_day(row.opened_at, zone),
                cleared=local_day(row.cleared_at, zone) if cleared and row.cleared_at is not None else None,
                cleared_by=names.get(row.cleared_by) if cleared and row.cleared_by is not None else None,
                note=row.note if cleared else None,
            )
        )
    return tuple(found)


def _protocol(changes: Mapping[str, float]) -> Protocol:
    return DEFAULT.changed(**changes) if changes else DEFAULT


def _days(stored: StoredHistory, until: date, *, today: date) -> tuple[Day, ...]:
    first = stored.patient.start
    if first is None:
        return ()
    found: list[Day] = []
    for offset in range((until - first).days + 1):
        day = first + timedelta(days=offset)
        morning = stored.mornings.get(day, Morning())
        evening = stored.evenings.get(day, Evening())
        kept = stored.decisions.get(day)
        decision = None if kept is None else kept.decision
        walked: float | None = None
        walk_done = raises_done = False
        if kept is not None and decision is not None:
            facts = evening_facts(evening, decision.plan, decision.shown, _protocol(kept.protocol))
            walked = facts.walked if evening.reported else None
            walk_done, raises_done = facts.walk_done, facts.raises_done
        found.append(
            Day(
                date=day,
                number=offset + 1,
                given_pain=morning.first_step_pain,
                answered=decision is not None and decision.answered,
                pain=None if decision is None else decision.first_step_pain,
                rest_pattern=morning.rest_pattern if decision is None else decision.rest_pattern,
                reported=evening.reported,
                worst_pain=evening.worst_pain,
                walked=walked,
                walk_done=walk_done,
                raises_done=raises_done,
                decision=decision,
                going_on=day >= today,
            )
        )
    return tuple(found)


def _next_state(stored: StoredHistory, until: date) -> State | None:
    """The state of the day after: as stored, or carried on from `until` if that day is decided but not closed yet."""
    following = stored.states.get(until + _ONE_DAY)
    if following is not None:
        return following
    begun, kept = stored.states.get(until), stored.decisions.get(until)
    if begun is None or kept is None or begun.day != kept.decision.day:
        return None
    patient = stored.patient
    return advance(
        begun,
        kept.decision,
        stored.evenings.get(until, Evening()),
        _protocol(kept.protocol),
        order_placed=_dose_order(patient) if patient.dose_order_day == until else None,
    )


def _dose_order(patient: Patient) -> DoseOrder | None:
    if not patient.dose_order_number:
        return None
    raises = None
    if patient.dose_order_step is not None:
        raises = RaiseDose(
            step=Step(patient.dose_order_step), sets=patient.dose_order_sets or 0, reps=patient.dose_order_reps or 0
        )
    return DoseOrder(number=patient.dose_order_number, walk=patient.dose_order_walk, raises=raises)


def _next_day(patient: Patient, state: State, flags: tuple[Flag, ...], day: date) -> Today:
    phase = None
    if patient.phase_by_hand is not None:
        phase = PhaseOrder(number=patient.phase_order_number, phase=Phase(patient.phase_by_hand))
    return Today(
        day=state.day,
        open_flags=tuple(each.code for each in flags if each.open),
        loading_stopped=patient.loading_stopped,
        paused=patient.paused_until is not None and patient.paused_until >= day,
        dose_order=_dose_order(patient),
        phase_order=phase,
    )
