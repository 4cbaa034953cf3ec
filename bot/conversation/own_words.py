"""What a patient can do beside the check-ins: progress, times, a message to the clinician, own data, leaving, erasing."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from bot.conversation.enrolling import prompt_times
from bot.conversation.intents import intent_of, yes_or_no
from bot.conversation.prompting import clinician_name, schedule_next
from bot.conversation.wording import clinic
from bot.conversation.wording import service as words
from storage import people, records

if TYPE_CHECKING:
    from bot.conversation.patient_turn import PatientTurn

_MESSAGE = re.compile(r"^/?message\b[\s:,-]*(.*)$", re.IGNORECASE | re.DOTALL)
_TIMES = re.compile(r"^/?times?(?:\s+[\d:.hapm\s,and-]+)?$", re.IGNORECASE)
_YES_NO = (("yes", "no"),)
_FEWEST_MORNINGS = 3
LONGEST_MESSAGE = 1500
"""Characters of a message that is passed on; the rest stays in the record."""


def answer(turn: PatientTurn, text: str) -> bool:
    """Answer it if it is one of these; False if not."""
    if turn.memory.get("confirm"):
        return _confirmed(turn, text)
    intent = intent_of(text)
    if intent == "progress":
        _progress(turn)
    elif intent == "export":
        _export(turn)
    elif intent in {"leave", "erase"}:
        turn.memory["confirm"] = intent
        clinician = clinician_name(turn.session, turn.patient)
        turn.say(words.ask_leave(clinician) if intent == "leave" else words.ask_erase(clinician), _YES_NO)
    elif _TIMES.match(text.strip()):
        _times(turn, text)
    elif found := _MESSAGE.match(text.strip()):
        _message(turn, found[1].strip())
    else:
        return False
    return True


def _confirmed(turn: PatientTurn, text: str) -> bool:
    wanted = turn.memory.pop("confirm")
    sure = yes_or_no(text)
    if sure is None:
        # Anything but a yes keeps things as they are; the words may be a check-in.
        return False
    turn.settled = True
    if not sure:
        turn.say(words.stays())
    elif wanted == "erase":
        turn.erases = True
    else:
        _leave(turn)
    return True


def _leave(turn: PatientTurn) -> None:
    patient = turn.patient
    clinician = people.clinician_of(turn.session, patient)
    turn.say(words.left(clinician_name(turn.session, patient)))
    turn.replies.say(clinic.left(patient.alias, erased=False), clinician=clinician, about=patient)
    people.add_action(turn.session, patient_id=turn.days.id, clinician_id=None, kind="left", details={}, now=turn.now)
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


def _export(turn: PatientTurn) -> None:
    people.add_action(turn.session, patient_id=turn.days.id, clinician_id=None, kind="export", details={}, now=turn.now)
    turn.replies.say(
        words.export_sent(), patient=turn.patient, attachment={"what": "export", "patient_id": turn.days.id}
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


def _message(turn: PatientTurn, text: str) -> None:
    clinician = people.clinician_of(turn.session, turn.patient)
    name = clinician_name(turn.session, turn.patient)
    if not text:
        turn.say(words.message_how(name))
        return
    turn.replies.say(
        clinic.message_from_patient(turn.patient.alias, text[:LONGEST_MESSAGE]),
        clinician=clinician,
        about=turn.patient,
        buttons=[[(turn.patient.alias, f"/patient {turn.patient.alias}")]],
        question=False,
    )
    # A warning sign in it counts all the same, and its answer says that the clinician is told.
    if not turn.take_in_signs(text):
        turn.say(words.message_passed_on(name))
