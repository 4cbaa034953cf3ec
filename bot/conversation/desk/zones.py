"""Time zones: the clinician's own, and a patient's."""

from __future__ import annotations

from bot.conversation.desk.core import ClinicianDesk
from bot.conversation.digests import schedule_digest
from bot.conversation.enrolling import time_zone
from bot.conversation.prompting import schedule_next
from bot.conversation.wording import clinic
from storage.tables import Patient


def own_zone(desk: ClinicianDesk, argument: str) -> bool:
    """Set the clinician's time zone: digest and waking hours follow it. False: the words speak of a patient."""
    name = time_zone(argument)
    if name is None:
        if len(argument.split()) > 1:
            return False
        desk.say(clinic.zone_how(argument, desk.clinician.timezone))
        return True
    desk.clinician.timezone = name
    schedule_digest(desk.clinician, desk.now)
    desk.say(clinic.zone_set(name))
    return True


def patients_zone(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Set a patient's time zone: prompts follow it, and days begin by it."""
    name = time_zone(argument)
    if name is None:
        desk.say(clinic.zone_how(argument, desk.clinician.timezone))
        return
    before = desk.before(patient, "timezone")
    patient.timezone = name
    desk.log(patient, "zone", value=name, before=before)
    prompt_again(desk, patient)
    told = clinic.tell_zone(desk.clinician.name, name, patient.morning_time, patient.evening_time)
    desk.done(patient, clinic.patients_zone_set(desk.name_of(patient), name), told)


def prompt_again(desk: ClinicianDesk, patient: Patient) -> None:
    """Write down anew when prompts are due."""
    if patient.status == "active":
        schedule_next(patient, desk.now)
