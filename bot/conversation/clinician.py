"""The clinician's words: what each command does, is confirmed in a sentence, logged, and told to the patient."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.days import PatientDays
from bot.conversation.prompting import Says
from bot.conversation.wording import clinician as words
from bot.conversation.wording import flags as flag_words
from bot.program.ladder import RaiseDose
from bot.program.protocol import DEFAULT, ProtocolError
from bot.program.terms import Phase, RedFlag, Step
from scheduler.times import local_day
from storage import flags, people
from storage.tables import Clinician, Patient

_UNTIL = re.compile(r"^(?:until\s+)?(\d{4}-\d{2}-\d{2})$")
_FOR_DAYS = re.compile(r"^(?:for\s+)?(\d{1,3})\s*days?$")
_WALK = re.compile(r"^walk(?:ing)?\s+(\d{1,3})\s*(?:min|minutes)?$")
_RAISES = re.compile(r"^raises\s+(.+?)\s+(\d{1,2})\s*[x×]\s*(\d{1,3})$")
_LONGEST_PAUSE = timedelta(days=366)


class ClinicianDesk:
    """Handles one message of a clinician within one transaction."""

    def __init__(self, session: Session, clinician: Clinician, replies: Says, now: datetime) -> None:
        self.session = session
        self.clinician = clinician
        self.replies = replies
        self.now = now
        self.commands: dict[str, Callable[[Patient, str], None]] = {
            "/pause": self._pause,
            "/resume": self._resume,
            "/stop": self._stop,
            "/allow": self._allow,
            "/dose": self._dose,
            "/phase": self._phase,
            "/clear": self._clear,
            "/note": self._note,
            "/target": self._target,
            "/interval": self._interval,
            "/patient": self._show,
        }

    def say(self, text: str) -> None:
        """Answer the clinician."""
        self.replies.say(text, clinician=self.clinician)

    def tell(self, patient: Patient, text: str) -> None:
        """Tell the patient, in plain words, what was changed."""
        self.replies.say(text, patient=patient)

    def handle(self, text: str) -> None:
        """Answer `text`."""
        command, _, rest = text.strip().partition(" ")
        command = command.casefold()
        if command == "/caseload":
            self._caseload()
            return
        action = self.commands.get(command)
        if action is None:
            self.say(words.help_text())
            return
        patient, argument = self._named(rest.strip())
        if patient is not None:
            if patient.start is None:
                self.say(words.not_enrolled(patient.alias))
                return
            today = self._today(patient)
            if today >= patient.start:
                PatientDays(self.session, patient, self.now).close_until(today)
            action(patient, argument)

    def _today(self, patient: Patient) -> date:
        return local_day(self.now, ZoneInfo(patient.timezone))

    def _named(self, rest: str) -> tuple[Patient | None, str]:
        """The patient that the words begin with (the longest alias that fits), and the words after it."""
        if self.clinician.id is None:
            return None, ""
        mine = people.patients_of(self.session, self.clinician.id)
        if not rest:
            self.say(words.which_patient(tuple(each.alias for each in mine)))
            return None, ""
        folded = rest.casefold()
        whole = [
            each for each in mine if folded == each.alias.casefold() or folded.startswith(each.alias.casefold() + " ")
        ]
        if whole:
            patient = max(whole, key=lambda each: len(each.alias))
            return patient, rest[len(patient.alias) :].strip()
        name, _, argument = rest.partition(" ")
        close = people.patient_named(self.session, self.clinician.id, name)
        if len(close) == 1:
            return close[0], argument.strip()
        if close:
            self.say(words.ambiguous_name(name, tuple(each.alias for each in close)))
        else:
            self.say(words.unknown_name(name, tuple(each.alias for each in mine)))
        return None, ""

    def _log(self, patient: Patient, kind: str, **details: Any) -> int:
        if patient.id is None:
            raise ValueError("a stored patient has an id")
        action = people.add_action(
            self.session,
            patient_id=patient.id,
            clinician_id=self.clinician.id,
            kind=kind,
            details=details,
            now=self.now,
        )
        self.session.flush()
        if action.id is None:
            raise ValueError("a stored action has an id")
        return action.id

    def _pause(self, patient: Patient, argument: str) -> None:
        today = self._today(patient)
        until: date | None = None
        if found := _UNTIL.match(argument):
            try:
                until = date.fromisoformat(found[1])
            except ValueError:
                until = None
        elif found := _FOR_DAYS.match(argument):
            until = today + timedelta(days=int(found[1]) - 1)
        if until is None or not today <= until <= today + _LONGEST_PAUSE:
            self.say(words.bad_date(argument))
            return
        patient.paused_until = until
        self._log(patient, "pause", until=until.isoformat())
        self.say(words.paused(patient.alias, until))
        self.tell(patient, words.tell_paused(self.clinician.name, until))

    def _resume(self, patient: Patient, argument: str) -> None:
        if patient.paused_until is None or patient.paused_until < self._today(patient):
            self.say(words.was_not_paused(patient.alias))
            return
        patient.paused_until = None
        self._log(patient, "resume")
        self.say(words.resumed(patient.alias))
        self.tell(patient, words.tell_resumed(self.clinician.name))

    def _stop(self, patient: Patient, argument: str) -> None:
        clear_before = not patient.loading_stopped and not flags.open_flags(self.session, patient.id or 0)
        patient.loading_stopped = True
        self._log(patient, "stop")
        self.session.flush()
        today = self._today(patient)
        if patient.start is not None and today >= patient.start:
            PatientDays(self.session, patient, self.now).decide(today, just_stopped=clear_before)
        self.say(words.loading_stopped(patient.alias))
        self.tell(patient, words.tell_loading_stopped(self.clinician.name))

    def _allow(self, patient: Patient, argument: str) -> None:
        patient.loading_stopped = False
        self._log(patient, "allow")
        self.say(words.loading_allowed(patient.alias))
        self.tell(patient, words.tell_loading_allowed(self.clinician.name))

    def _dose(self, patient: Patient, argument: str) -> None:
        walk, raises = _WALK.match(argument.casefold()), _RAISES.match(argument.casefold())
        if walk is not None and int(walk[1]) <= 120:
            minutes = int(walk[1])
            number = self._log(patient, "dose", walk=minutes)
            patient.dose_order_walk = minutes
            text = f"{minutes} min"
        elif raises is not None and raises[1] in set(Step) and 0 < int(raises[2]) <= 10 and 0 < int(raises[3]) <= 50:
            dose = RaiseDose(step=Step(raises[1]), sets=int(raises[2]), reps=int(raises[3]))
            number = self._log(patient, "dose", raises=str(dose))
            patient.dose_order_step = str(dose.step)
            patient.dose_order_sets, patient.dose_order_reps = dose.sets, dose.reps
            text = str(dose)
        else:
            self.say(words.bad_dose(argument))
            return
        # A new order speaks of one dose only; what an older order said and was given already must not come again.
        given = self._order_given(patient)
        if patient.dose_order_number and patient.dose_order_number <= given:
            if walk is not None:
                patient.dose_order_step = patient.dose_order_sets = patient.dose_order_reps = None
            else:
                patient.dose_order_walk = None
        patient.dose_order_number = number
        patient.dose_order_day = self._today(patient)
        what = "walking" if walk is not None else "heel raises"
        self.say(words.dose_set(patient.alias, what, text))
        self.tell(patient, words.tell_dose(self.clinician.name, what, text))

    def _order_given(self, patient: Patient) -> int:
        days = PatientDays(self.session, patient, self.now)
        today = self._today(patient)
        if patient.start is None or today < patient.start:
            return 0
        decided = days.decision(today)
        given = days.state(today).order_given
        return max(given, decided.order_given or 0) if decided is not None else given

    def _phase(self, patient: Patient, argument: str) -> None:
        wanted = argument.casefold()
        if wanted in {"auto", "automatic"}:
            patient.phase_by_hand = None
            self._log(patient, "phase", phase=None)
            self.say(words.phase_lifted(patient.alias))
            return
        if wanted not in set(Phase):
            self.say(words.bad_phase(argument))
            return
        patient.phase_order_number = self._log(patient, "phase", phase=wanted)
        patient.phase_by_hand = wanted
        self.say(words.phase_set(patient.alias, Phase(wanted)))
        self.tell(patient, words.tell_phase(self.clinician.name, Phase(wanted)))

    def _clear(self, patient: Patient, argument: str) -> None:
        cleared = flags.clear_flags(
            self.session,
            patient_id=patient.id or 0,
            clinician_id=self.clinician.id,
            note=argument,
            now=self.now,
            day=self._today(patient),
        )
        if not cleared:
            self.say(words.nothing_to_clear(patient.alias))
            return
        codes = tuple(RedFlag(row.code) for row in cleared)
        self._log(patient, "clear", codes=[str(code) for code in codes], note=argument)
        self.say(words.flags_cleared(patient.alias, codes))
        self.tell(patient, flag_words.flag_cleared(self.clinician.name))

    def _note(self, patient: Patient, argument: str) -> None:
        if not argument:
            self.say(words.empty_note(patient.alias))
            return
        self._log(patient, "note", text=argument)
        self.say(words.noted(patient.alias))

    def _target(self, patient: Patient, argument: str) -> None:
        self._threshold(patient, argument, "walk_target", "target")

    def _interval(self, patient: Patient, argument: str) -> None:
        self._threshold(patient, argument, "interval", "interval")

    def _threshold(self, patient: Patient, argument: str, name: str, kind: str) -> None:
        found = re.match(r"^(\d{1,3})\b", argument)
        try:
            if found is None:
                self.say(words.bad_number(kind, "a whole number is needed"))
                return
            value = int(found[1])
            DEFAULT.changed(**{name: value})
        except ProtocolError as problem:
            self.say(words.bad_number(kind, str(problem)))
            return
        setattr(patient, name, value)
        self._log(patient, kind, value=value)
        self.say(words.threshold_set(patient.alias, kind, value))

    def _caseload(self) -> None:
        mine = people.patients_of(self.session, self.clinician.id or 0)
        self.say(words.caseload(tuple(self._line(each) for each in mine)))

    def _line(self, patient: Patient) -> str:
        today = self._today(patient)
        if patient.start is None:
            return words.caseload_line(patient.alias, None, None, None, ())
        if today < patient.start:
            return words.caseload_line(patient.alias, None, None, None, ())
        days = PatientDays(self.session, patient, self.now)
        days.close_until(today)
        decision = days.decided_or_provisional(today)
        return words.caseload_line(
            patient.alias, days.week(today), decision.phase, decision.decision, days.open_codes()
        )

    def _show(self, patient: Patient, argument: str) -> None:
        today = self._today(patient)
        if patient.start is None or today < patient.start:
            self.say(self._line(patient))
            return
        days = PatientDays(self.session, patient, self.now)
        decision = days.decided_or_provisional(today)
        self.say(
            words.patient_summary(
                self._line(patient),
                decision,
                paused_until=patient.paused_until,
                loading_stopped=patient.loading_stopped,
            )
        )
