"""The clinician's words, and what each does."""

from __future__ import annotations

from collections.abc import Callable

from bot.conversation.desk import orders, people, undo, views, zones
from bot.conversation.desk.core import ClinicianDesk, PatientCommand

GENERAL: dict[str, Callable[[ClinicianDesk, str], None]] = {
    "/start": views.show_help,
    "/help": views.show_help,
    "/caseload": views.caseload,
    "/invite": people.invite,
    "/digest": views.digest,
    "/digesttime": views.digest_time,
    "/atonce": views.at_once,
    "/seen": views.seen,
    "/share": people.share,
    "/unshare": people.unshare,
    "/cover": people.cover,
}
_ON = ("active",)
_JOINED = ("enrolling", "active")
OF_A_PATIENT: dict[str, PatientCommand] = {
    "/patient": PatientCommand(views.show, changes=False, started=False, bare=True),
    "/week": PatientCommand(views.week, changes=False, bare=True),
    "/chart": PatientCommand(views.chart, changes=False, bare=True),
    "/log": PatientCommand(views.log, changes=False, started=False, bare=True),
    "/pause": PatientCommand(orders.pause, when=_ON),
    "/resume": PatientCommand(orders.resume, bare=True, when=_ON),
    "/stop": PatientCommand(orders.stop, started=False, bare=True, when=_JOINED),
    "/allow": PatientCommand(orders.allow, started=False, bare=True, when=_JOINED),
    "/dose": PatientCommand(orders.dose, when=_ON),
    "/phase": PatientCommand(orders.phase, when=_ON),
    "/target": PatientCommand(orders.target, when=_ON),
    "/interval": PatientCommand(orders.interval, when=_ON),
    "/zone": PatientCommand(zones.patients_zone, started=False, when=_JOINED),
    "/clear": PatientCommand(orders.clear, started=False, bare=True),
    "/note": PatientCommand(orders.note, started=False),
    "/message": PatientCommand(orders.message, started=False),
    "/end": PatientCommand(orders.end, started=False, when=_JOINED),
    "/undo": PatientCommand(undo.undo, started=False, bare=True),
}
