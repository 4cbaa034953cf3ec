"""Orders for a patient: each is confirmed in a sentence, logged with what was before, and told to the patient."""

from __future__ import annotations

import re

from bot.conversation.days import PatientDays
from bot.conversation.desk.core import ClinicianDesk
from bot.conversation.desk.periods import end_of_period
from bot.conversation.prompting import schedule_next
from bot.conversation.values import LONGEST_PASSED_ON
from bot.conversation.wording import clinic
from bot.conversation.wording import clinician as words
from bot.conversation.wording import flags as flag_words
from bot.program.ladder import RaiseDose
from bot.program.protocol import DEFAULT, ProtocolError
from bot.program.terms import Phase, RedFlag, Step
from storage import alerts, flags, messages
from storage.tables import Patient

_WALK = re.compile(r"^walk(?:ing)?\s+(\d{1,3})\s*(?:min|minutes)?$")
_RAISES = re.compile(r"^raises\s+(.+?)\s+(\d{1,2})\s*[x×]\s*(\d{1,3})$")
_NUMBER = re.compile(r"^(\d{1,3})\s*(?:min|minutes?|days?)?$")
LONGEST_WALK = 120

DOSE_ORDER = (
    "dose_order_number",
    "dose_order_day",
    "dose_order_walk",
    "dose_order_step",
    "dose_order_sets",
    "dose_order_reps",
)


def walk_of(argument: str) -> int | None:
    """The minutes of "walk 12" (0-120), or None."""
    found = _WALK.match(argument.casefold().strip().rstrip("."))
    return int(found[1]) if found is not None and int(found[1]) <= LONGEST_WALK else None


def raises_of(argument: str) -> RaiseDose | None:
    """The dose of "raises seated both 2x8" (up to 10x50), or None."""
    found = _RAISES.match(" ".join(argument.casefold().rstrip(".").split()))
    if found is None or found[1] not in set(Step) or not 0 < int(found[2]) <= 10 or not 0 < int(found[3]) <= 50:
        return None
    return RaiseDose(step=Step(found[1]), sets=int(found[2]), reps=int(found[3]))


def pause(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """No increases until a date, or for days (rule 5.1)."""
    until = end_of_period(argument, desk.day_of(patient))
    if until is None:
        desk.say(words.bad_date(argument))
        return
    before = desk.before(patient, "paused_until")
    patient.paused_until = until
    desk.log(patient, "pause", until=until.isoformat(), before=before)
    desk.done(patient, words.paused(desk.name_of(patient), until), words.tell_paused(desk.clinician.name, until))


def resume(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """End a pause."""
    if patient.paused_until is None or patient.paused_until < desk.day_of(patient):
        desk.say(words.was_not_paused(desk.name_of(patient), stopped=patient.loading_stopped))
        return
    before = desk.before(patient, "paused_until")
    patient.paused_until = None
    desk.log(patient, "resume", before=before)
    desk.done(patient, words.resumed(desk.name_of(patient)), words.tell_resumed(desk.clinician.name))


def stop(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Stop all loading, from now on."""
    if patient.loading_stopped:
        desk.say(words.stopped_already(desk.name_of(patient)))
        return
    before = desk.before(patient, "loading_stopped")
    stop_loading(desk, patient)
    desk.log(patient, "stop", day=str(desk.day_of(patient)), before=before)
    desk.done(patient, words.loading_stopped(desk.name_of(patient)), words.tell_loading_stopped(desk.clinician.name))


def decide_today(desk: ClinicianDesk, patient: Patient, *, just_stopped: bool = False) -> None:
    """Decide the patient's day anew, if it is a day of a programme that goes on."""
    desk.session.flush()
    today = desk.day_of(patient)
    if patient.start is not None and today >= patient.start and patient.status == "active":
        PatientDays(desk.session, patient, desk.now).decide(today, just_stopped=just_stopped)


def stop_loading(desk: ClinicianDesk, patient: Patient) -> None:
    """Set the stop, and decide today anew."""
    was_clear = not patient.loading_stopped and not flags.open_flags(desk.session, patient.id or 0)
    patient.loading_stopped = True
    decide_today(desk, patient, just_stopped=was_clear)


def allow(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """End a stop."""
    name = desk.name_of(patient)
    waiting = bool(flags.open_flags(desk.session, patient.id or 0))
    if not patient.loading_stopped:
        desk.say(words.was_not_stopped(name, flags_open=waiting))
        return
    before = desk.before(patient, "loading_stopped")
    patient.loading_stopped = False
    desk.log(patient, "allow", before=before)
    if patient.status == "enrolling" and not waiting:
        desk.done(patient, words.loading_allowed_at_enrolment(name), words.tell_may_start(desk.clinician.name))
    else:
        told = words.tell_loading_allowed(desk.clinician.name, flags_open=waiting)
        desk.done(patient, words.loading_allowed(name, flags_open=waiting), told)


def dose(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Set the walking dose or the heel raises; given from the next day that has a dose."""
    minutes, raises = walk_of(argument), raises_of(argument)
    if minutes is None and raises is None:
        desk.say(words.bad_dose(argument))
        return
    before = desk.before(patient, *DOSE_ORDER)
    given = order_given(desk, patient)
    # A new order speaks of one dose only; what an older order said and was given already must not come again.
    is_old = bool(patient.dose_order_number) and patient.dose_order_number <= given
    if minutes is not None:
        number = desk.log(patient, "dose", walk=minutes, before=before)
        patient.dose_order_walk = minutes
        text = f"{minutes} min"
        if is_old:
            patient.dose_order_step = patient.dose_order_sets = patient.dose_order_reps = None
    elif raises is not None:
        number = desk.log(patient, "dose", raises=str(raises), before=before)
        patient.dose_order_step = str(raises.step)
        patient.dose_order_sets, patient.dose_order_reps = raises.sets, raises.reps
        text = str(raises)
        if is_old:
            patient.dose_order_walk = None
    patient.dose_order_number = number
    patient.dose_order_day = desk.day_of(patient)
    what = "walking" if minutes is not None else "heel raises"
    desk.done(
        patient,
        words.dose_set(desk.name_of(patient), what, text),
        words.tell_dose(desk.clinician.name, what, text),
    )


def order_given(desk: ClinicianDesk, patient: Patient) -> int:
    """The number of the last dose order that is in force already."""
    days = PatientDays(desk.session, patient, desk.now)
    today = desk.day_of(patient)
    if patient.start is None or today < patient.start:
        return 0
    decided = days.decision(today)
    given = days.state(today).order_given
    return max(given, decided.order_given or 0) if decided is not None else given


def phase(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Set the phase by hand, or leave it to the rules again."""
    wanted = argument.casefold()
    name = desk.name_of(patient)
    before = desk.before(patient, "phase_by_hand", "phase_order_number")
    if wanted in {"auto", "automatic"}:
        if patient.phase_by_hand is None:
            desk.say(words.phase_not_set(name))
            return
        patient.phase_by_hand = None
        desk.log(patient, "phase", phase="auto", before=before)
        desk.done(patient, words.phase_lifted(name), words.tell_phase_lifted(desk.clinician.name))
        return
    if wanted not in set(Phase):
        desk.say(words.bad_phase(argument))
        return
    anew = Phase(wanted) is Phase.INFLAMMATORY and _has_doses_today(desk, patient)
    decided = {"day": str(desk.day_of(patient))} if anew else {}
    patient.phase_order_number = desk.log(patient, "phase", phase=wanted, before=before, **decided)
    patient.phase_by_hand = wanted
    if anew:
        # Who wants the heel to calm down does not mean from tomorrow on.
        decide_today(desk, patient)
    desk.done(patient, words.phase_set(name, Phase(wanted)), words.tell_phase(desk.clinician.name, Phase(wanted)))


def _has_doses_today(desk: ClinicianDesk, patient: Patient) -> bool:
    """Whether today is decided already, with something to do."""
    today = desk.day_of(patient)
    if patient.start is None or today < patient.start:
        return False
    decided = PatientDays(desk.session, patient, desk.now).decision(today)
    return decided is not None and (decided.plan.walk > 0 or decided.plan.has_raises)


def clear(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Clear all open red flags, with a note."""
    name = desk.name_of(patient)
    cleared = flags.clear_flags(
        desk.session,
        patient_id=patient.id or 0,
        clinician_id=desk.id,
        note=argument,
        now=desk.now,
        day=desk.day_of(patient),
        opened_until=desk.said_at,
    )
    newer = tuple(RedFlag(row.code) for row in flags.open_flags(desk.session, patient.id or 0))
    if not cleared:
        desk.say(
            words.newer_sign(name, newer) if newer else words.nothing_to_clear(name, stopped=patient.loading_stopped)
        )
        return
    seen = alerts.mark_seen(desk.session, patient.id or 0, desk.id, desk.now, opened_until=desk.said_at)
    codes = tuple(RedFlag(row.code) for row in cleared)
    desk.log(
        patient,
        "clear",
        codes=[str(code) for code in codes],
        note=argument,
        flag_ids=[row.id for row in cleared],
        alert_ids=[each.id for each in seen],
    )
    confirmed = words.flags_cleared(name, codes, stopped=patient.loading_stopped)
    if newer:
        # The patient was told of the newer one; nothing goes on.
        desk.say(f"{words.flags_cleared(name, codes, bare=True)}\n{words.newer_sign(name, newer)}")
    elif patient.status == "enrolling" and not patient.loading_stopped:
        desk.done(
            patient,
            f"{words.flags_cleared(name, codes, bare=True)} {words.loading_allowed_at_enrolment(name)}",
            words.tell_may_start(desk.clinician.name),
        )
    elif patient.status not in {"active", "enrolling"}:
        # There is no programme to go on with.
        desk.say(words.flags_cleared_only(name, codes))
    else:
        told = (
            words.tell_cleared_but_stopped(desk.clinician.name)
            if patient.loading_stopped
            else flag_words.flag_cleared(desk.clinician.name)
        )
        desk.done(patient, confirmed, told)


def note(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Keep a note that the patient does not see."""
    if not argument:
        desk.say(words.empty_note(desk.name_of(patient)))
        return
    desk.log(patient, "note", text=argument)
    desk.say(words.noted(desk.name_of(patient)))


def target(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """The walking target."""
    _threshold(desk, patient, argument, "walk_target", "target")


def interval(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """The least days between two increases."""
    _threshold(desk, patient, argument, "interval", "interval")


def _threshold(desk: ClinicianDesk, patient: Patient, argument: str, column: str, kind: str) -> None:
    found = _NUMBER.match(argument.casefold().strip().rstrip("."))
    try:
        if found is None:
            desk.say(words.bad_number(kind, "a whole number is needed"))
            return
        value = int(found[1])
        DEFAULT.changed(**{column: value})
    except ProtocolError as problem:
        desk.say(words.bad_number(kind, str(problem)))
        return
    before = desk.before(patient, column)
    setattr(patient, column, value)
    desk.log(patient, kind, value=value, before=before)
    desk.done(
        patient,
        words.threshold_set(desk.name_of(patient), kind, value),
        words.tell_threshold(desk.clinician.name, kind, value),
    )


def message(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """A message to the patient."""
    name = desk.name_of(patient)
    if not argument:
        desk.say(clinic.message_empty(name))
    elif len(argument) > LONGEST_PASSED_ON:
        desk.say(clinic.message_too_long(LONGEST_PASSED_ON))
    elif patient.address is None or patient.unreachable_at is not None:
        desk.say(clinic.message_not_sent(name))
    else:
        desk.log(patient, "message", text=argument)
        desk.replies.say(clinic.tell_message(desk.clinician.name, argument), patient=patient)
        desk.say(clinic.message_sent(name))


def end(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """End the programme."""
    before = desk.before(patient, "status")
    seen = alerts.mark_seen(desk.session, patient.id or 0, desk.id, desk.now, opened_until=desk.said_at)
    desk.log(patient, "end", before=before, alert_ids=[each.id for each in seen])
    patient.status, patient.next_due_at, patient.next_due_kind = "ended", None, None
    if patient.address is not None:
        messages.close_questions(desk.session, patient.channel, patient.address, desk.now, but_replies_to=None)
    desk.done(patient, clinic.ended(desk.name_of(patient)), clinic.tell_ended(desk.clinician.name))


def take_up_again(desk: ClinicianDesk, patient: Patient) -> None:
    """After an ended programme was taken up again: prompts come back."""
    if patient.status == "active":
        schedule_next(patient, desk.now)
