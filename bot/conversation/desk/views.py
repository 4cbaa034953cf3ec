"""What a clinician looks at: the caseload, one patient, a week, a chart, who did what, the digest."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bot.conversation.days import PatientDays
from bot.conversation.desk.core import ClinicianDesk
from bot.conversation.digests import queue_digest, schedule_digest
from bot.conversation.periods import WEEKDAYS
from bot.conversation.values import Button
from bot.conversation.wording import clinic
from bot.conversation.wording import clinician as words
from bot.program.load import minutes_said
from bot.program.terms import Activity, RedFlag
from storage import alerts, decisions, flags, people, records, shares
from storage.batch import in_bulk
from storage.tables import ClinicianAction, Patient

_MOST_BUTTONS = 30
_LOG_LINES = 30
_DAYS = 7
_ALERT_NUMBER = re.compile(r"\s#(\d{1,12})$")
_TIME = re.compile(r"^([01]?\d|2[0-3])[:.]([0-5]\d)$")


def show_help(desk: ClinicianDesk, argument: str) -> None:
    """All commands."""
    desk.say(words.help_text())


def caseload(desk: ClinicianDesk, argument: str) -> None:
    """All patients, a line each, with a button for each."""
    mine = desk.caseload()
    names = [desk.name_of(each) for each in mine]
    buttons: list[list[Button]] = [[(name, f"/patient {name}")] for name in names[:_MOST_BUTTONS]]
    paired = [buttons[at] + (buttons[at + 1] if at + 1 < len(buttons) else []) for at in range(0, len(buttons), 2)]
    # All at once: the number of statements does not grow with the caseload. Closing days writes, so these are locked.
    begun = desk.lock_all([each for each in mine if _goes_on(desk, each)])
    with in_bulk(desk.session, begun, {each.id: desk.day_of(each) for each in mine if each.id is not None}):
        lines = tuple(_line(desk, each) for each in mine)
    desk.say(words.caseload(lines), paired, question=False)


def _goes_on(desk: ClinicianDesk, patient: Patient) -> bool:
    """Whether today is a day of the patient's programme."""
    return patient.status == "active" and patient.start is not None and desk.day_of(patient) >= patient.start


def _line(desk: ClinicianDesk, patient: Patient) -> str:
    name = desk.name_of(patient)
    if patient.status == "invited":
        return clinic.not_joined(name)
    codes = tuple(RedFlag(row.code) for row in flags.open_flags(desk.session, patient.id or 0))
    if patient.status in {"ended", "left"}:
        return words.caseload_over(name, patient.status, codes)
    today = desk.day_of(patient)
    if patient.status == "enrolling" or patient.start is None:
        line = words.caseload_enrolling(name)
    elif today < patient.start:
        line = words.caseload_line(name, None, None, None, codes, start=patient.start)
    else:
        days = PatientDays(desk.session, patient, desk.now)
        desk.close_days(days, today)
        decision = days.decided_or_provisional(today)
        line = words.caseload_line(name, days.week(today), decision.phase, decision.decision, codes)
    if patient.loading_stopped:
        line = f"{line}; {words.LOADING_STOPPED}"
    return line if patient.unreachable_at is None else f"{line}; {words.CANNOT_BE_REACHED}"


def show(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """One patient: today's decision, plan, figures and reasons."""
    today = desk.day_of(patient)
    name = desk.name_of(patient)
    if patient.start is None or today < patient.start or patient.status != "active":
        desk.say(_line(desk, patient), [[("Who did what", f"/log {name}")]], question=False)
        return
    days = PatientDays(desk.session, patient, desk.now)
    decision = days.decided_or_provisional(today)
    text = words.patient_summary(
        _line(desk, patient),
        decision,
        paused_until=patient.paused_until if patient.paused_until and patient.paused_until >= today else None,
        loading_stopped=patient.loading_stopped,
    )
    desk.say(
        f"{text}\n\n{_week(desk, patient, days, today)}",
        [[("Chart", f"/chart {name}"), ("Who did what", f"/log {name}")]],
        question=False,
    )


def week(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """The answers of the last seven days."""
    desk.say(_week(desk, patient, PatientDays(desk.session, patient, desk.now), desk.day_of(patient)))


def _week(desk: ClinicianDesk, patient: Patient, days: PatientDays, today: date) -> str:
    lines = [clinic.week_head(desk.name_of(patient))]
    for back in reversed(range(_DAYS)):
        day = today - timedelta(days=back)
        if day < days.first:
            continue
        evening = records.evening_of(desk.session, days.id, day)
        walk = next((each for each in evening.activities if each.activity is Activity.WALKING), None)
        lines.append(
            clinic.week_line(
                day,
                records.morning_of(desk.session, days.id, day),
                evening,
                None if walk is None else minutes_said(walk, days.protocol),
                decisions.latest_decision(desk.session, days.id, day),
            )
        )
    return "\n".join(lines)


def chart(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """The chart, drawn when it is sent."""
    desk.say(
        clinic.chart_caption(desk.name_of(patient)),
        attachment={"what": "patient_chart", "patient_id": patient.id, "until": str(desk.day_of(patient))},
    )


def log(desk: ClinicianDesk, patient: Patient, argument: str) -> None:
    """Who did what for a patient."""
    found = people.actions_of(desk.session, patient.id or 0, latest=_LOG_LINES)
    if not found:
        desk.say(clinic.empty_log(desk.name_of(patient)))
        return
    desk.say("\n".join([clinic.log_head(desk.name_of(patient)), *(_log_line(desk, each) for each in found)]))


def _log_line(desk: ClinicianDesk, action: ClinicianAction) -> str:
    by = people.clinician_by_id(desk.session, action.clinician_id)
    who = None if by is None else "you" if by.id == desk.id else by.name
    local = action.at.astimezone(ZoneInfo(desk.clinician.timezone))
    shown = [_shown(name, value) for name, value in action.details.items() if name not in _UNSHOWN]
    what = ": ".join(
        filter(None, [clinic.DONE.get(action.kind, action.kind), ", ".join(filter(None, shown))]),
    )
    line = clinic.log_line(f"{local:%Y-%m-%d %H:%M}", who, what)
    return line if action.undone_at is None else f"{line} ({words.TAKEN_BACK})"


def _shown(name: str, value: Any) -> str:
    if value in (None, "", []):
        return ""
    if name == "of":
        value = clinic.DONE.get(value, value)
    said = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return f"{_DETAIL[name]} {said}" if name in _DETAIL else said


_UNSHOWN = frozenset({"before", "after", "flag_ids", "alert_ids", "action", "day"})
_DETAIL = {
    "until": "until",
    "walk": "walk",
    "raises": "raises",
    "start_walk": "walk",
    "start_step": "raises",
    "start_sets": "sets",
    "start_reps": "repetitions",
    "walk_target": "target",
    "colleague": "with",
    "day 1": "day 1",
}


def digest(desk: ClinicianDesk, argument: str) -> None:
    """The digest, now."""
    desk.say(clinic.digest_coming())
    queue_digest(desk.session, desk.clinician, desk.replies, desk.now, key=f"digest:{desk.id}:{desk.now.isoformat()}")


def digest_time(desk: ClinicianDesk, argument: str) -> None:
    """When the weekly digest comes."""
    day, _, clock = argument.strip().casefold().partition(" ")
    weekday = next((number for number, name in enumerate(WEEKDAYS) if len(day) >= 3 and name.startswith(day)), None)
    found = _TIME.match(clock.strip())
    if weekday is None or found is None:
        desk.say(clinic.digest_time_how())
        return
    desk.clinician.digest_weekday = weekday
    desk.clinician.digest_time = f"{int(found[1]):02d}:{found[2]}"
    schedule_digest(desk.clinician, desk.now)
    desk.say(clinic.digest_set(WEEKDAYS[weekday].capitalize(), desk.clinician.digest_time))


def at_once(desk: ClinicianDesk, argument: str) -> None:
    """Whether silence and long constant pain are told at once."""
    wanted = {"on": True, "off": False}.get(argument.strip().casefold())
    if wanted is None:
        desk.say(clinic.at_once_how())
        return
    desk.clinician.tells_at_once = wanted
    desk.say(clinic.at_once(wanted))


def seen(desk: ClinicianDesk, argument: str) -> None:
    """Acknowledge alerts: of one patient if a name is given, else all that wait; a button's, up to its own number."""
    # Of those who left or whose programme ended too: their last alert is repeated until somebody has seen it.
    mine = desk.caseload(shares.ALL)
    wanted = " ".join(argument.casefold().split()).rstrip(".,:;")
    up_to: int | None = None
    if numbered := _ALERT_NUMBER.search(wanted):
        up_to = int(numbered[1])
        alert = alerts.alert_by_id(desk.session, up_to)
        mine = [each for each in mine if alert is not None and each.id == alert.patient_id]
    elif wanted:
        called = [each for each in mine if wanted == desk.name_of(each).casefold()]
        mine = called or [each for each in mine if wanted == each.alias.casefold()]
        if not mine:
            desk.say(words.unknown_name(argument, [desk.name_of(each) for each in desk.caseload()]))
            return
    by_id = {each.id or 0: each for each in mine}
    waiting = list(dict.fromkeys(each.patient_id for each in alerts.unseen(desk.session, list(by_id))))
    if wanted and len(waiting) > 1:
        names = [desk.name_of(by_id[each]) for each in waiting]
        desk.say(words.ambiguous_name(argument, names), [[(each, f"/seen {each}")] for each in names], question=False)
        return
    desk.lock_all([by_id[each] for each in waiting])
    # A button's message is older than its press, and knows its alert; words cannot speak of what came after them.
    until = None if up_to is not None else desk.said_at
    found = [
        each
        for each in waiting
        if alerts.mark_seen(desk.session, each, desk.id, desk.now, up_to=up_to, opened_until=until)
    ]
    desk.session.flush()
    newer = {each.patient_id for each in alerts.unseen(desk.session, waiting)}
    for patient_id in found:
        desk.log(by_id[patient_id], "seen")
    stopped = any(flags.open_flags(desk.session, each) or by_id[each].loading_stopped for each in found)
    desk.about = by_id[waiting[0]] if len(waiting) == 1 else None
    said = [clinic.seen([desk.name_of(by_id[each]) for each in found], stopped=stopped)] if found else []
    if newer:
        said.append(clinic.newer_alert([desk.name_of(by_id[each]) for each in sorted(newer)]))
    desk.say("\n".join(said) or clinic.nothing_unseen())
