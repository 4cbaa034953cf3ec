"""A patient's days in the database: closing what is over, deciding what is due, deciding anew (rule 2.4)."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from sqlmodel import Session

from bot.program.advance import advance
from bot.program.decide import decide, is_answered
from bot.program.ladder import RaiseDose
from bot.program.outcome import week_of
from bot.program.protocol import DEFAULT, Protocol
from bot.program.terms import Phase, PriorActivity, RedFlag, RestPattern, Step
from bot.program.values import (
    DayDecision,
    DoseOrder,
    Doses,
    Enrolment,
    Morning,
    PhaseOrder,
    Plan,
    State,
    Today,
    start,
)
from storage import decisions, flags, records
from storage.tables import Patient

_ONE_DAY = timedelta(days=1)


def protocol_of(patient: Patient) -> Protocol:
    """The protocol with what the clinician changed for this patient."""
    changes: dict[str, float] = {}
    if patient.walk_target is not None:
        changes["walk_target"] = patient.walk_target
    if patient.interval is not None:
        changes["interval"] = patient.interval
    return DEFAULT.changed(**changes) if changes else DEFAULT


def enrolment_of(patient: Patient) -> Enrolment:
    """What was known on day 0."""
    return Enrolment(
        first_step_pain=patient.enrolled_first_step_pain or 0,
        rest_pattern=RestPattern(patient.enrolled_rest_pattern or "intermittent"),
        prior_activity=PriorActivity(patient.prior_activity or "moderately"),
        doses=Doses(
            walk=patient.start_walk or 0,
            raises=RaiseDose(
                step=Step(patient.start_step or "seated both"),
                sets=patient.start_sets or 0,
                reps=patient.start_reps or 0,
            ),
        ),
    )


class PatientDays:
    """The days of one enrolled patient within one transaction."""

    def __init__(self, session: Session, patient: Patient, now: datetime) -> None:
        if patient.id is None or patient.start is None:
            raise ValueError("the patient is not enrolled yet")
        self.session = session
        self.patient = patient
        self.id: int = patient.id
        self.first: date = patient.start
        self.now = now
        self.protocol = protocol_of(patient)

    def number(self, day: date) -> int:
        """The day's number: day 1 is the first full day (2.1)."""
        return (day - self.first).days + 1

    def day_numbered(self, number: int) -> date:
        """The date of a day's number."""
        return self.first + timedelta(days=number - 1)

    def week(self, day: date) -> int:
        """The week's number (2.1)."""
        return week_of(self.number(day))

    def state(self, day: date) -> State:
        """The state at the start of `day`, which must have been reached by `close_until`."""
        found = decisions.get_state(self.session, self.id, day)
        if found is not None:
            return found
        if day == self.first:
            begun = start(enrolment_of(self.patient), walk_floor=self.protocol.walk_floor)
            decisions.put_state(self.session, self.id, day, begun)
            return begun
        raise LookupError("no state is stored for that day")

    def close_until(self, day: date) -> list[DayDecision]:
        """Close every day before `day`: decide it at its end if it was not decided, and carry the state on."""
        latest = decisions.latest_state_day(self.session, self.id) or self.first
        closed: list[DayDecision] = []
        while latest < day:
            decision = decisions.latest_decision(self.session, self.id, latest)
            if decision is None:
                decision = self.decide(latest)
                closed.append(decision)
            self.carry_on(latest, decision)
            latest += _ONE_DAY
        return closed

    def carry_on(self, day: date, decision: DayDecision | None = None) -> None:
        """Store the next day's state anew from this day's decision and evening."""
        if decision is None:
            decision = decisions.latest_decision(self.session, self.id, day)
        if decision is None:
            return
        evening = records.evening_of(self.session, self.id, day)
        order = self._dose_order() if self.patient.dose_order_day == day else None
        following = advance(self.state(day), decision, evening, self.protocol, order_placed=order)
        decisions.put_state(self.session, self.id, day + _ONE_DAY, following)

    def open_codes(self) -> tuple[RedFlag, ...]:
        """The codes of the flags that are open now."""
        return tuple(RedFlag(row.code) for row in flags.open_flags(self.session, self.id))

    def _dose_order(self) -> DoseOrder | None:
        patient = self.patient
        if not patient.dose_order_number:
            return None
        raises = None
        if patient.dose_order_step is not None:
            raises = RaiseDose(
                step=Step(patient.dose_order_step),
                sets=patient.dose_order_sets or 0,
                reps=patient.dose_order_reps or 0,
            )
        return DoseOrder(number=patient.dose_order_number, walk=patient.dose_order_walk, raises=raises)

    def _today(self, day: date, morning: Morning, shown: Plan | None, *, unflagged: bool = False) -> Today:
        patient = self.patient
        phase = None
        if patient.phase_by_hand is not None:
            phase = PhaseOrder(number=patient.phase_order_number, phase=Phase(patient.phase_by_hand))
        return Today(
            day=self.number(day),
            morning=morning,
            open_flags=() if unflagged else self.open_codes(),
            loading_stopped=patient.loading_stopped and not unflagged,
            paused=patient.paused_until is not None and patient.paused_until >= day,
            dose_order=self._dose_order(),
            phase_order=phase,
            shown=shown,
        )

    def provisional(self, day: date) -> DayDecision:
        """What hold would give: what is shown until the day's first answered morning (2.4)."""
        return decide(self.state(day), self._today(day, Morning(), None), self.protocol)

    def decision(self, day: date) -> DayDecision | None:
        """The day's last decision, if it is decided."""
        return decisions.latest_decision(self.session, self.id, day)

    def decided_or_provisional(self, day: date) -> DayDecision:
        """The decision to show now."""
        return self.decision(day) or self.provisional(day)

    def is_answered(self, day: date) -> bool:
        """Whether the morning is answered (2.2)."""
        return is_answered(self.state(day), records.morning_of(self.session, self.id, day), self.protocol)

    def decide(self, day: date, *, just_stopped: bool = False) -> DayDecision:
        """Decide the day, or decide it anew, from the state it started with, and store the decision.

        `just_stopped`: a red flag opened, or loading was stopped, a moment ago: "all" of the plan keeps the meaning it
        had before (2.4).
        """
        state = self.state(day)
        morning = records.morning_of(self.session, self.id, day)
        earlier = self.decision(day)
        shown = None
        if earlier is not None:
            shown = earlier.shown
        elif just_stopped:
            shown = decide(state, self._today(day, Morning(), None, unflagged=True), self.protocol).plan
        decided = decide(state, self._today(day, morning, shown), self.protocol)
        decisions.add_decision(
            self.session,
            patient_id=self.id,
            day=day,
            decision=decided,
            protocol=self.protocol,
            decided_at=self.now,
        )
        return decided
