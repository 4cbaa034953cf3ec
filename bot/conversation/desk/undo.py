"""Taking back the last thing that was done for a patient."""

from __future__ import annotations

from datetime import date
from typing import Any

from bot.conversation.alerting import bring_back
from bot.conversation.desk.core import ClinicianDesk
from bot.conversation.desk.orders import decide_today, order_given, stop_loading, take_up_again
from bot.conversation.desk.zones import prompt_again
from bot.conversation.wording import clinic
from bot.conversation.wording import clinician as words
from storage import alerts, flags, invitations, people
from storage.tables import ClinicianAction, Patient

_DATES = frozenset({"paused_until", "dose_order_day"})
_SENT = frozenset({"message"})
"""What is out and cannot be called back."""


def undo(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Take back the last action of a clinician for the patient, or say why it cannot be."""
    name = desk.name_of(patient)
    last = people.last_action(desk.session, patient.id or 0, (*clinic.UNDONE, "invite"))
    sent = people.last_action(desk.session, patient.id or 0, tuple(_SENT))
    if sent is not None and last is not None and (sent.id or 0) < (last.id or 0):
        sent = None
    if last is None or (last.kind == "invite" and patient.status != "invited"):
        desk.say(clinic.message_stays(name) if sent is not None else clinic.nothing_to_undo(name))
        return
    if last.kind == "invite":
        invitations.withdraw(desk.session, now=desk.now, role="patient", patient_id=patient.id)
        _mark(desk, patient, last)
        patient.status = "left"
        desk.say(clinic.invitation_withdrawn(name))
        return
    if (why := _too_late(desk, patient, last)) is not None:
        desk.say(why)
        return
    before: dict[str, Any] = last.details.get("before", {})
    if last.kind == "allow" and before.get("loading_stopped"):
        stop_loading(desk, patient)
    else:
        for column, value in before.items():
            setattr(patient, column, date.fromisoformat(value) if value and column in _DATES else value)
    if last.kind == "stop":
        _unstop(desk, patient, last)
    if last.kind == "phase" and last.details.get("day") == str(desk.day_of(patient)):
        decide_today(desk, patient)
    if last.kind == "clear":
        _open_again(desk, patient, last)
    if last.kind == "end":
        take_up_again(desk, patient)
    if last.kind == "zone":
        prompt_again(desk, patient)
    waiting = bring_back(desk.session, patient, last.details.get("alert_ids", []), desk.now)
    _mark(desk, patient, last)
    by = people.clinician_by_id(desk.session, last.clinician_id)
    mine = by is None or by.id == desk.id
    text = clinic.undone(name, last.kind, "you" if mine or by is None else by.name, stays=sent is not None)
    text += clinic.alerts_wait_again(waiting) if waiting else ""
    told = _told(desk, patient, last)
    if told is None:
        desk.say(text)
    else:
        desk.done(patient, text, told)
    if by is not None and not mine:
        desk.replies.say(clinic.told_undone(desk.clinician.name, patient.alias, last.kind), clinician=by, about=patient)


def _too_late(desk: ClinicianDesk, patient: Patient, last: ClinicianAction) -> str | None:
    name = desk.name_of(patient)
    if last.kind in _OF_A_PROGRAMME and patient.status not in {"active", "enrolling"}:
        return words.not_now(name, patient.status)
    if last.kind == "dose" and last.id is not None and order_given(desk, patient) >= last.id:
        return clinic.dose_was_given(name)
    if last.kind == "pause" and last.details.get("until", "") < str(desk.day_of(patient)):
        return clinic.pause_is_over(name)
    if last.kind == "end" and (patient.status != "ended" or patient.address is None):
        return clinic.end_stays(name)
    if last.kind == "stop" and _sign_since(desk, patient, last):
        return clinic.stop_stays(name)
    after: dict[str, Any] = last.details.get("after", {})
    if last.kind != "end" and after != desk.before(patient, *after):
        return clinic.changed_since(name, last.kind)
    return None


def _sign_since(desk: ClinicianDesk, patient: Patient, last: ClinicianAction) -> bool:
    """Whether a warning sign came after the stop and needs it: at enrolment, or one of which no flag is kept."""
    since = alerts.opened_since(desk.session, patient.id or 0, last.at)
    return any(patient.status == "enrolling" or not each.codes for each in since)


_OF_A_PROGRAMME = frozenset({"pause", "resume", "stop", "allow", "dose", "phase", "target", "interval", "zone"})


def _open_again(desk: ClinicianDesk, patient: Patient, last: ClinicianAction) -> None:
    """Open what was cleared; a code that was opened anew meanwhile is not opened twice."""
    opened_since = {row.code for row in flags.open_flags(desk.session, patient.id or 0)}
    cleared = zip(last.details.get("codes", []), last.details.get("flag_ids", []), strict=True)
    flags.open_again(desk.session, [flag_id for code, flag_id in cleared if code not in opened_since])
    decide_today(desk, patient)


def _unstop(desk: ClinicianDesk, patient: Patient, last: ClinicianAction) -> None:
    """A stop of today is as if it had not been; one of an earlier day has already been a day without doses."""
    if last.details.get("day") == str(desk.day_of(patient)) and not flags.open_flags(desk.session, patient.id or 0):
        decide_today(desk, patient)


def _told(desk: ClinicianDesk, patient: Patient, last: ClinicianAction) -> str | None:
    """What the patient is told, in words that say what holds now."""
    who = desk.clinician.name
    match last.kind:
        case "allow":
            return words.tell_loading_stopped(who)
        case "stop":
            if flags.open_flags(desk.session, patient.id or 0):
                return None
            same_day = last.details.get("day") == str(desk.day_of(patient))
            return clinic.tell_stop_undone(who) if same_day else words.tell_loading_allowed(who)
        case "clear":
            return clinic.tell_open_again(who) if patient.status in {"active", "enrolling"} else None
        case "pause" | "resume":
            if patient.paused_until is not None and patient.paused_until >= desk.day_of(patient):
                return words.tell_paused(who, patient.paused_until)
            return words.tell_resumed(who)
        case "end":
            return clinic.tell_goes_on(who, enrolling=patient.status == "enrolling")
        case "note":
            return None
        case _:
            return clinic.tell_undone(who, last.kind)


def _mark(desk: ClinicianDesk, patient: Patient, action: ClinicianAction) -> None:
    action.undone_at = desk.now
    desk.log(patient, "undo", of=action.kind, action=action.id)
