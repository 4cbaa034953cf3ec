"""Taking back the last thing that was done for a patient."""

from __future__ import annotations

from datetime import date
from typing import Any

from bot.conversation.desk.core import ClinicianDesk
from bot.conversation.desk.orders import order_given, stop_loading, take_up_again
from bot.conversation.wording import clinic
from storage import flags, invitations, people
from storage.tables import ClinicianAction, Patient

_DATES = frozenset({"paused_until", "dose_order_day"})
_SILENT = frozenset({"note"})
"""What the patient was not told of, so its end is not told either."""


def undo(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Take back the last action of a clinician for the patient."""
    last = people.last_action(desk.session, patient.id or 0, (*clinic.UNDONE, "invite"))
    if last is None or (last.kind == "invite" and patient.status != "invited"):
        desk.say(clinic.nothing_to_undo(patient.alias))
        return
    if last.kind == "invite":
        invitations.withdraw(desk.session, now=desk.now, role="patient", patient_id=patient.id)
        _mark(desk, patient, last)
        patient.status = "left"
        desk.say(clinic.invitation_withdrawn(patient.alias))
        return
    if last.kind == "dose" and last.id is not None and order_given(desk, patient) >= last.id:
        desk.say(clinic.dose_was_given(patient.alias))
        return
    before: dict[str, Any] = last.details.get("before", {})
    if last.kind == "allow" and before.get("loading_stopped"):
        stop_loading(desk, patient)
    else:
        for name, value in before.items():
            setattr(patient, name, date.fromisoformat(value) if value and name in _DATES else value)
    if last.kind == "clear":
        flags.open_again(desk.session, last.details.get("flag_ids", []))
        stop_loading_for_flags(desk, patient)
    if last.kind == "end":
        take_up_again(desk, patient)
    _mark(desk, patient, last)
    by = people.clinician_by_id(desk.session, last.clinician_id)
    desk.say(clinic.undone(patient.alias, last.kind, "you" if by is None or by.id == desk.id else by.name))
    if last.kind not in _SILENT:
        desk.tell(patient, clinic.tell_undone(desk.clinician.name, last.kind))


def stop_loading_for_flags(desk: ClinicianDesk, patient: Patient) -> None:
    """Flags are open again: decide today anew."""
    from bot.conversation.days import PatientDays

    desk.session.flush()
    today = desk.day_of(patient)
    if patient.start is not None and today >= patient.start:
        PatientDays(desk.session, patient, desk.now).decide(today)


def _mark(desk: ClinicianDesk, patient: Patient, action: ClinicianAction) -> None:
    action.undone_at = desk.now
    desk.log(patient, "undo", kind=action.kind, action=action.id)
