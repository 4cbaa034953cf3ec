"""One message of a clinician: which command, which patient. Unknown and ambiguous names are asked back, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from rapidfuzz import fuzz, process
from sqlmodel import Session

from bot.conversation.days import PatientDays
from bot.conversation.prompting import Says
from bot.conversation.values import Button
from bot.conversation.wording import clinic
from bot.conversation.wording import clinician as words
from scheduler.times import local_day
from storage import people, shares
from storage.tables import Clinician, IncomingMessage, Patient

_CLOSE_ENOUGH = 75
"""Likeness (0-100) from which a misspelt name is offered back as a question."""

Command = Callable[["ClinicianDesk", Patient, str], None]


@dataclass(frozen=True, slots=True)
class PatientCommand:
    """A command about one patient. `changes`: it acts, so the name has to be whole. `started`: needs a programme."""

    run: Command
    changes: bool = True
    started: bool = True


class ClinicianDesk:
    """Handles one message of a clinician within one transaction."""

    def __init__(
        self,
        session: Session,
        clinician: Clinician,
        replies: Says,
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
        self.about: Patient | None = None

    def say(self, text: str, buttons: Sequence[Sequence[Button]] = (), **more: Any) -> None:
        """Answer the clinician."""
        self.replies.say(text, clinician=self.clinician, about=self.about, buttons=buttons, **more)

    def tell(self, patient: Patient, text: str) -> None:
        """Tell the patient, in plain words, what was changed."""
        self.replies.say(text, patient=patient)

    def handle(self, text: str) -> None:
        """Answer `text`."""
        from bot.conversation.desk.commands import GENERAL, OF_A_PATIENT

        command, _, rest = text.strip().partition(" ")
        command = command.casefold().partition("@")[0]
        if (general := GENERAL.get(command)) is not None:
            general(self, rest.strip())
            return
        action = OF_A_PATIENT.get(command)
        if action is None:
            self.say(words.help_text())
            return
        patient, argument = self._named(command, rest.strip(), action)
        if patient is None:
            return
        self.about = patient
        if self.message is not None:
            self.message.patient_id = patient.id
        if patient.start is None and action.started:
            self.say(words.not_enrolled(patient.alias))
            return
        today = self.day_of(patient)
        if patient.start is not None and today >= patient.start and patient.status == "active":
            PatientDays(self.session, patient, self.now).close_until(today)
        action.run(self, patient, argument)

    def day_of(self, patient: Patient) -> date:
        """Today, on the patient's clock."""
        return local_day(self.now, ZoneInfo(patient.timezone))

    def caseload(self, statuses: tuple[str, ...] = shares.IN_CARE) -> list[Patient]:
        """The patients that the clinician may see."""
        return shares.caseload(self.session, self.id, self.today, statuses)

    def name_of(self, patient: Patient) -> str:
        """The alias, with whose patient it is where it is a colleague's."""
        if patient.clinician_id == self.id:
            return patient.alias
        owner = people.clinician_of(self.session, patient)
        return patient.alias if owner is None else f"{patient.alias} ({owner.name})"

    def _named(self, command: str, rest: str, action: PatientCommand) -> tuple[Patient | None, str]:
        """The patient that the words begin with (the longest name that fits), and the words after it."""
        # A programme that has ended can still be looked at, and be taken up again.
        mine = self.caseload((*shares.IN_CARE, "ended", "left"))
        current = [each for each in mine if each.status in shares.IN_CARE]
        if not rest:
            self.say(
                words.which_patient(tuple(self.name_of(each) for each in current)),
                [[(self.name_of(each), f"{command} {self.name_of(each)}")] for each in current[:20]]
                if not action.changes
                else (),
                question=False,
            )
            return None, ""
        folded = rest.casefold()
        fits: dict[int, list[Patient]] = {}
        for each in mine:
            for name in {self.name_of(each), each.alias}:
                if folded == name.casefold() or folded.startswith(name.casefold() + " "):
                    fits.setdefault(len(name), []).append(each)
        if fits:
            length = max(fits)
            best = fits[length]
            if len(best) > 1 and any(each.status in shares.IN_CARE for each in best):
                best = [each for each in best if each.status in shares.IN_CARE]
            if len(best) == 1:
                return best[0], rest[length:].strip()
            self.say(words.ambiguous_name(rest[:length], tuple(self.name_of(each) for each in best)))
            return None, ""
        self._ask_back(command, rest, action, current)
        return None, ""

    def _ask_back(self, command: str, rest: str, action: PatientCommand, current: list[Patient]) -> None:
        name, _, argument = rest.partition(" ")
        begins = [each for each in current if each.alias.casefold().startswith(name.casefold())]
        if not begins:
            folded = [each.alias.casefold() for each in current]
            near = process.extract(name.casefold(), folded, scorer=fuzz.ratio, score_cutoff=_CLOSE_ENOUGH, limit=3)
            begins = [current[index] for _, _, index in near]
        if len(begins) > 1:
            self.say(
                words.ambiguous_name(name, tuple(self.name_of(each) for each in begins)),
                [[(self.name_of(each), f"{command} {self.name_of(each)} {argument}".strip())] for each in begins],
                question=action.changes,
            )
        elif begins:
            close = self.name_of(begins[0])
            self.say(
                clinic.did_you_mean(name, close),
                [[(f"Yes, {close}", f"{command} {close} {argument}".strip())]],
                question=action.changes,
            )
        else:
            self.say(words.unknown_name(name, tuple(self.name_of(each) for each in current)))

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
        if action.id is None:
            raise ValueError("a stored action has an id")
        return action.id

    @staticmethod
    def before(patient: Patient, *columns: str) -> dict[str, Any]:
        """The columns as they are now, so that a change of them can be taken back."""
        values = {name: getattr(patient, name) for name in columns}
        return {name: each.isoformat() if isinstance(each, date) else each for name, each in values.items()}
