"""What a patient can do beside the check-ins: progress, times, a message to the clinician, own data, leaving, erasing."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Protocol

from sqlmodel import Session

from bot.conversation import signs_asked
from bot.conversation.enrolling import prompt_times, time_zone
from bot.conversation.intents import intent_of, plain, words_of
from bot.conversation.prompting import YES_NO, clinician_name, schedule_next
from bot.conversation.replies import Replies
from bot.conversation.values import LONGEST_PASSED_ON
from bot.conversation.wording import clinic
from bot.conversation.wording import enrolment as enrolment_words
from bot.conversation.wording import service as words
from bot.program.terms import Asked
from bot.reader import read
from storage import people, records
from storage.tables import Patient

if TYPE_CHECKING:
    from bot.conversation.patient_turn import PatientTurn

_MESSAGE = re.compile(r"^/?message\b[\s:,-]*(.*)$", re.IGNORECASE | re.DOTALL)
_TIMES = re.compile(r"^/?times?(?:\s+[\d:.hapm\s,and-]+)?$", re.IGNORECASE)
_ZONE = re.compile(r"^/?(?:my )?(?:time ?)?zone\b(?:\s+is\b)?[\s:]*(.*)$", re.IGNORECASE)
CONFIRM_WITHIN = timedelta(minutes=30)
"""How long the question whether to leave, or to erase, waits for its yes."""
_FEWEST_MORNINGS = 3


class Speaks(Protocol):
    """A patient's turn, in a programme or outside of one."""

    session: Session
    patient: Patient
    replies: Replies
    now: datetime
    memory: dict[str, Any]
    settled: bool
    erases: bool

    def say(self, text: str, buttons: tuple[tuple[str, ...], ...] = ()) -> None: ...


def answer_anyway(turn: Speaks, text: str) -> bool:
    """What a patient can always do, whatever else is asked: own data, leaving, erasing. False if it is none of these."""
    if turn.memory.get("confirm") and (sure := _confirmed(turn, text)) is not None:
        return sure
    intent = intent_of(text)
    if intent == "export":
        _export(turn)
    elif intent in {"leave", "erase"}:
        turn.memory["confirm"] = {"what": intent, "at": turn.now.isoformat()}
        clinician = clinician_name(turn.session, turn.patient)
        turn.say(words.ask_leave(clinician) if intent == "leave" else words.ask_erase(clinician), YES_NO)
    else:
        return False
    return True


def answer(turn: PatientTurn, text: str) -> bool:
    """Answer it if it is one of the other things that only a programme has; False if not."""
    if intent_of(text) == "progress":
        _progress(turn)
    elif _TIMES.match(text.strip()):
        _times(turn, text)
    elif (zone := _ZONE.match(text.strip())) is not None:
        _zone(turn, zone[1])
    elif (said := message_in(text)) is not None:
        _message(turn, said)
    else:
        return False
    return True


def _confirmed(turn: Speaks, text: str) -> bool | None:
    """Take the answer to "do you want to leave?". None: it was none, and the words may be a check-in.

    Nothing but a plain yes counts, and only for a while: "yes, all done" in the evening must not erase anybody.
    """
    asked = turn.memory.pop("confirm")
    plain_yes = _is_plain_yes(text)
    if not plain_yes and intent_of(text) != "no":
        return None
    if turn.now - datetime.fromisoformat(asked["at"]) > CONFIRM_WITHIN:
        if turn.memory.get(signs_asked.KEPT_UNDER) or not plain_yes:
            return None
        turn.say(words.confirm_over())
        return True
    turn.settled = True
    if not plain_yes:
        turn.say(words.stays())
    elif asked["what"] == "erase":
        turn.erases = True
    else:
        _leave(turn)
    return True


def _is_plain_yes(text: str) -> bool:
    said = plain(text)
    if intent_of(said) == "yes":
        return True
    first, *others = re.findall(r"[\w']+", said) or [""]
    return first == "yes" and words_of("after_a_sure_yes").issuperset(others)


def _leave(turn: Speaks) -> None:
    patient = turn.patient
    clinician = people.clinician_of(turn.session, patient)
    turn.say(words.left(clinician_name(turn.session, patient)))
    turn.replies.say(clinic.left(patient.alias, erased=False), clinician=clinician, about=patient)
    _log(turn, "left")
    # Without an address they are a stranger again; a new invitation lets them come back.
    patient.status, patient.address = "left", None
    patient.next_due_at = patient.next_due_kind = None


def _progress(turn: PatientTurn) -> None:
    first = max(turn.days.first, turn.today.replace(year=turn.today.year - 1, day=1))
    mornings = records.mornings(turn.session, turn.days.id, first, turn.today)
    if sum(each.first_step_pain is not None for each in mornings.values()) < _FEWEST_MORNINGS:
        turn.say(words.progress_too_early())
        return
    turn.replies.say(
        words.progress(clinician_name(turn.session, turn.patient)),
        patient=turn.patient,
        attachment={"what": "progress_chart", "patient_id": turn.days.id, "until": str(turn.today)},
    )


def _export(turn: Speaks) -> None:
    _log(turn, "export")
    turn.replies.say(
        words.export_sent(), patient=turn.patient, attachment={"what": "export", "patient_id": turn.patient.id}
    )


def _times(turn: PatientTurn, text: str) -> None:
    patient = turn.patient
    found = prompt_times(text)
    if found is None:
        turn.say(words.times_how(patient.morning_time, patient.evening_time))
        return
    patient.morning_time, patient.evening_time = found
    schedule_next(patient, turn.now)
    turn.say(words.times_set(*found))


def _zone(turn: PatientTurn, said: str) -> None:
    """Another time zone: the prompts come by its clock from now on."""
    patient = turn.patient
    if not said:
        turn.say(words.zone_how(patient.timezone))
    elif (name := time_zone(said)) is None:
        turn.say(enrolment_words.unclear_time_zone())
    else:
        patient.timezone = name
        schedule_next(patient, turn.now)
        turn.say(words.zone_set(name, patient.morning_time, patient.evening_time))


def message_in(text: str) -> str | None:
    """The words of a message to the clinician ("" where none follow), or None where it is no such message."""
    found = _MESSAGE.match(text.strip())
    return None if found is None else found[1].strip()


def pass_on(turn: Speaks, text: str) -> None:
    """Pass a patient's words on to the clinician."""
    patient = turn.patient
    clinician = people.clinician_of(turn.session, patient)
    turn.replies.say(
        clinic.message_from_patient(
            patient.alias, patient.alias, text[:LONGEST_PASSED_ON], over=patient.status == "ended"
        ),
        clinician=clinician,
        about=patient,
        buttons=[[(patient.alias, f"/patient {patient.alias}")]],
        question=False,
    )


def _message(turn: PatientTurn, text: str) -> None:
    name = clinician_name(turn.session, turn.patient)
    if not text:
        turn.say(words.message_how(name))
        return
    pass_on(turn, text)
    # A sure warning sign in it counts all the same, and its answer says that the clinician is told.
    signs = read(text, Asked.ANY).flags
    if not any(each.certain for each in signs):
        turn.say(words.message_passed_on(name))
    turn.take_in_found(signs)


def _log(turn: Speaks, kind: str) -> None:
    people.add_action(
        turn.session, patient_id=turn.patient.id or 0, clinician_id=None, kind=kind, details={}, now=turn.now
    )
