"""One message of a clinician: which command, which patient. Unknown and ambiguous names are asked back, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from rapidfuzz import fuzz
from sqlmodel import Session, col, select

from bot.conversation.days import PatientDays
from bot.conversation.names import beginnings, first_word, names_for, plain_name
from bot.conversation.prompting import tell_notices
from bot.conversation.replies import Replies
from bot.conversation.values import Button
from bot.conversation.wording import clinic
from bot.conversation.wording import clinician as words
from scheduler.times import local_day
from storage import people, shares
from storage.tables import Clinician, ClinicianAction, IncomingMessage, Patient

_CLOSE_ENOUGH = 75
"""Likeness (0-100) from which a misspelt name is offered back as a question."""
_MOST_OFFERED = 20

Command = Callable[["ClinicianDesk", Patient, str], None]


@dataclass(frozen=True, slots=True)
class PatientCommand:
    """A command about one patient.

    `changes`: it acts, so it is asked back as a question that is over once it is answered. `started`: it needs a
    programme that has begun. `bare`: the name is all it needs, so a list of names is offered. `when`: the patient's
    states in which it can be said at all.
    """

    run: Command
    changes: bool = True
    started: bool = True
    bare: bool = False
    when: tuple[str, ...] = shares.ALL


class ClinicianDesk:
    """Handles one message of a clinician within one transaction."""

    def __init__(
        self,
        session: Session,
        clinician: Clinician,
        replies: Replies,
        now: datetime,
        *,
        message: IncomingMessage | None = None,
        invitation_link: Callable[[str], str] = "/start {}".format,
    ) -> None:
        if clinician.id is None:
            raise ValueError("a stored clinician has an id")
        self.session = session
        self.clinician = clinician
        self.id: int = clinician.id
        self.replies = replies
        self.now = now
        self.message = message
        self.invitation_link = invitation_link
        self.today = now.astimezone(ZoneInfo(clinician.timezone)).date()
        self.said_at: datetime = now if message is None or message.sent_at is None else min(now, message.sent_at)
        """When the words were written: what came later, the clinician had not seen."""
        self.about: Patient | None = None
        self._names: dict[int, str] | None = None
        self._logged: list[ClinicianAction] = []

    def say(self, text: str, buttons: Sequence[Sequence[Button]] = (), **more: Any) -> None:
        """Answer the clinician."""
        self.replies.say(text, clinician=self.clinician, about=self.about, buttons=buttons, **more)

    def done(self, patient: Patient, text: str, told: str) -> None:
        """Confirm what was done, and tell the patient in plain words; say so where the patient cannot be told."""
        reached = patient.address is not None and patient.unreachable_at is None
        self.say(text if reached else f"{text}\n{clinic.not_told(self.name_of(patient))}")
        self.replies.say(told, patient=patient)

    def handle(self, text: str) -> None:
        """Answer `text`."""
        from bot.conversation.desk.commands import GENERAL, OF_A_PATIENT
        from bot.conversation.desk.zones import own_zone

        first, rest = first_word(text)
        command = first.casefold().partition("@")[0]
        if (general := GENERAL.get(command)) is not None:
            general(self, rest)
            return
        if command == "/zone" and own_zone(self, rest):
            return
        action = OF_A_PATIENT.get(command)
        if action is None:
            self.say(words.not_understood())
            return
        patient, argument = self._named(command, rest, action)
        if patient is None or not self._lock(patient):
            return
        self.about = patient
        if self.message is not None:
            self.message.patient_id = patient.id
        if patient.status not in action.when:
            self.say(words.not_now(self.name_of(patient), patient.status))
            return
        if patient.start is None and action.started:
            self.say(words.not_enrolled(self.name_of(patient)))
            return
        today = self.day_of(patient)
        if patient.start is not None and today >= patient.start and patient.status == "active":
            self.close_days(PatientDays(self.session, patient, self.now), today)
        action.run(self, patient, argument)
        self._note_what_was_set(patient)

    def _note_what_was_set(self, patient: Patient) -> None:
        """Beside what was before an order, what it made of it: a later `/undo` sees whether that still holds."""
        for action in self._logged:
            if before := action.details.get("before"):
                action.details = {**action.details, "after": self.before(patient, *before)}
        self._logged.clear()

    def close_days(self, days: PatientDays, today: date) -> None:
        """Close the days before today, and keep what the rules have to tell of them."""
        for closed in days.close_until(today):
            tell_notices(self.session, days, closed.notices, self.replies, days.day_numbered(closed.day))

    def _lock(self, patient: Patient) -> bool:
        """Wait until nobody else works on the patient, and see what is so now. False, once that is said, if they are gone."""
        alias = patient.alias
        found = self.lock_all([patient])
        if not found:
            self.say(words.unknown_name(alias, ()))
        return bool(found)

    def lock_all(self, patients: Sequence[Patient]) -> list[Patient]:
        """The same for many: those who are still there."""
        ids = [each.id for each in patients]
        found = self.session.exec(
            select(Patient)
            .where(col(Patient.id).in_(ids))
            .order_by(col(Patient.id))
            .with_for_update(key_share=True)
            .execution_options(populate_existing=True)
        )
        return list(found)

    def day_of(self, patient: Patient) -> date:
        """Today, on the patient's clock."""
        return local_day(self.now, ZoneInfo(patient.timezone))

    def caseload(self, statuses: tuple[str, ...] = shares.IN_CARE) -> list[Patient]:
        """The patients that the clinician may see."""
        return shares.caseload(self.session, self.id, self.now, statuses)

    def name_of(self, patient: Patient) -> str:
        """The alias, with whose patient it is where it is a colleague's; no two patients of a clinician share it."""
        if self._names is None:
            self._names = names_for(self.session, self.id, self.caseload(shares.ALL))
        return self._names.get(patient.id or 0, patient.alias)

    def _named(self, command: str, rest: str, action: PatientCommand) -> tuple[Patient | None, str]:
        """The patient whom the words begin with (the longest name that fits), and the words after the name."""
        # A programme that has ended can still be looked at, and be taken up again.
        mine = self.caseload(shares.ALL)
        current = [each for each in mine if each.status in shares.IN_CARE]
        if not rest:
            offered = current[:_MOST_OFFERED] if action.bare else []
            self.say(
                words.which_patient(command, tuple(self.name_of(each) for each in current)),
                [[(self.name_of(each), f"{command} {self.name_of(each)}")] for each in offered],
                question=action.changes and bool(offered),
            )
            return None, ""
        for said, argument in beginnings(rest):
            fits = [each for each in mine if said in {plain_name(self.name_of(each)), plain_name(each.alias)}]
            if len(fits) > 1 and any(each.status in shares.IN_CARE for each in fits):
                fits = [each for each in fits if each.status in shares.IN_CARE]
            if len(fits) > 1:
                self._which(command, said, argument, fits, action)
                return None, ""
            if fits:
                return fits[0], argument
        self._ask_back(command, rest, action, current)
        return None, ""

    def _ask_back(self, command: str, rest: str, action: PatientCommand, current: list[Patient]) -> None:
        """Nobody is called that. A beginning of a name, or one that is nearly right, is offered and never acted on."""
        for said, argument in beginnings(rest):
            begins = [each for each in current if plain_name(each.alias).startswith(said)]
            if begins:
                self._which(command, said, argument, begins, action)
                return
        near: dict[int, tuple[float, str, str]] = {}
        for said, argument in beginnings(rest):
            for place, each in enumerate(current):
                likeness = fuzz.ratio(said, plain_name(each.alias))
                if likeness >= _CLOSE_ENOUGH and likeness > near.get(place, (0.0,))[0]:
                    near[place] = (likeness, said, argument)
        if near:
            best = sorted(near, key=lambda place: (-near[place][0], place))[:3]
            _, said, argument = near[best[0]]
            self._which(command, said, argument, [current[place] for place in best], action)
        else:
            name, _ = first_word(rest)
            self.say(words.unknown_name(name, tuple(self.name_of(each) for each in current)))

    def _which(self, command: str, said: str, argument: str, offered: list[Patient], action: PatientCommand) -> None:
        """Ask which of them is meant, with a button each that says the whole of it again."""
        names = [self.name_of(each) for each in offered]
        buttons: list[list[Button]] = [
            [(name if len(names) > 1 else f"Yes, {name}", f"{command} {name} {argument}".strip())]
            for name in names[:_MOST_OFFERED]
        ]
        text = clinic.did_you_mean(said, names[0]) if len(names) == 1 else words.ambiguous_name(said, tuple(names))
        self.say(text, buttons, question=action.changes)

    def log(self, patient: Patient, kind: str, **details: Any) -> int:
        """Write down what was done. Returns the action's number."""
        if patient.id is None:
            raise ValueError("a stored patient has an id")
        action = people.add_action(
            self.session,
            patient_id=patient.id,
            clinician_id=self.id,
            kind=kind,
            details=details,
            now=self.now,
        )
        self.session.flush()
        self._logged.append(action)
        if action.id is None:
            raise ValueError("a stored action has an id")
        return action.id

    @staticmethod
    def before(patient: Patient, *columns: str) -> dict[str, Any]:
        """The columns as they are now, so that a change of them can be taken back."""
        values = {name: getattr(patient, name) for name in columns}
        return {name: each.isoformat() if isinstance(each, date) else each for name, each in values.items()}
