"""Alerts to clinicians: at once, hourly in waking hours until somebody has seen them, then to the colleague.

Not an emergency service: the patient was told whom to call when the alert was raised, whatever happens to it here.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.names import names_for
from bot.conversation.prompting import Says
from bot.conversation.wording import clinic
from bot.program.flags import most_urgent
from bot.program.terms import RedFlag, Urgency
from scheduler.times import instant_of
from storage import alerts, people, shares
from storage.tables import Alert, Clinician, Patient

REPEAT_EVERY = timedelta(hours=1)
PASS_ON_AFTER = timedelta(hours=4)
WAKING_FROM, WAKING_UNTIL = time(7), time(22)
_REPEATED = frozenset({Urgency.EMERGENCY, Urgency.SAME_DAY})
SEEN_BUTTON = "Seen"


def waking(at: datetime, zone: ZoneInfo) -> datetime:
    """`at`, or where that is at night the next morning on that clock."""
    local = at.astimezone(zone)
    if WAKING_FROM <= local.time() < WAKING_UNTIL:
        return at
    day = local.date() if local.time() < WAKING_FROM else local.date() + timedelta(days=1)
    return instant_of(day, WAKING_FROM.strftime("%H:%M"), zone)


def raise_alert(
    session: Session, patient: Patient, codes: tuple[RedFlag, ...], text: str, replies: Says, now: datetime
) -> None:
    """Tell the patient's clinician at once, and whoever covers for them; repeat what is urgent until it is seen.

    Without a code (a "yes" to the list of warning signs) it is taken as one of the same day.
    """
    owner = people.clinician_of(session, patient)
    if owner is None or patient.id is None:
        return
    urgency = most_urgent(codes) or Urgency.SAME_DAY
    zone = ZoneInfo(owner.timezone)
    alert = alerts.open_alert(
        session,
        patient_id=patient.id,
        urgency=str(urgency),
        codes=[str(code) for code in codes],
        text=text,
        next_at=waking(now + REPEAT_EVERY, zone) if urgency in _REPEATED else None,
        now=now,
    )
    _send(session, alert, _at_once(session, owner, patient, now), patient, text, replies, now)


def _at_once(session: Session, owner: Clinician, patient: Patient, now: datetime) -> list[Clinician]:
    """The patient's clinician and who covers; every colleague where the clinician's chat takes no messages."""
    lost = owner.address is None or owner.unreachable_at is not None
    return [owner, *shares.colleagues_for(session, patient, now, covering_only=not lost)]


def _send(
    session: Session, alert: Alert, to: list[Clinician], patient: Patient, text: str, replies: Says, now: datetime
) -> None:
    for each in {one.id: one for one in to}.values():
        # A colleague may have a patient of the same name: the buttons say whose is meant.
        name = patient.alias
        if each.id != patient.clinician_id and each.id is not None:
            seen = shares.caseload(session, each.id, now, shares.ALL)
            name = names_for(session, each.id, seen).get(patient.id or 0, name)
        replies.say(
            text,
            clinician=each,
            about=patient,
            kind="alert",
            key=f"alert:{alert.id}:{alert.repeats}:{each.id}",
            buttons=[[(SEEN_BUTTON, f"/seen {name}"), (name, f"/patient {name}")]],
            question=False,
        )


def repeat_due(session: Session, replies: Says, now: datetime, limit: int = 50) -> int:
    """Repeat the alerts that nobody has seen; after four hours to the colleagues as well. Returns how many were due."""
    found = alerts.due(session, now, limit)
    for alert in found:
        patient = people.patient_by_id(session, alert.patient_id)
        owner = people.clinician_of(session, patient)
        if owner is None:
            alert.next_at = None
            continue
        zone = ZoneInfo(owner.timezone)
        hours = max(1, round((now - alert.opened_at).total_seconds() / 3600))
        alert.repeats += 1
        alert.next_at = waking(now + REPEAT_EVERY, zone)
        text = clinic.alert_again(alert.text, hours)
        if now - alert.opened_at < PASS_ON_AFTER:
            _send(session, alert, _at_once(session, owner, patient, now), patient, text, replies, now)
            continue
        colleagues = shares.colleagues_for(session, patient, now)
        if not colleagues and alert.passed_on_at is None:
            text = f"{clinic.alert_nobody_else(patient.alias)}\n\n{text}"
        alert.passed_on_at = alert.passed_on_at or now
        _send(session, alert, [owner], patient, text, replies, now)
        passed_on = clinic.alert_passed_on(owner.name, alert.text, hours)
        _send(session, alert, colleagues, patient, passed_on, replies, now)
    return len(found)
