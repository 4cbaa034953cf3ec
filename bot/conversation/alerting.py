"""Alerts to clinicians: at once, hourly in waking hours until somebody has seen them, then to the colleague.

Not an emergency service: the patient was told whom to call when the alert was raised, whatever happens to it here.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.names import names_for
from bot.conversation.replies import Replies
from bot.conversation.wording import clinic
from bot.program.flags import URGENCY_OF, most_urgent
from bot.program.terms import RedFlag, Urgency
from bot.reader.reading import FlagFinding
from scheduler.times import instant_of
from storage import alerts, flags, people, shares
from storage.tables import Alert, Clinician, Patient

REPEAT_EVERY = timedelta(hours=1)
PASS_ON_AFTER = timedelta(hours=4)
DAILY_AFTER = timedelta(days=3)
"""An alert that nobody has seen for so long comes once a day."""
WAKING_FROM, WAKING_UNTIL = time(7), time(22)
_REPEATED = frozenset({Urgency.EMERGENCY, Urgency.SAME_DAY})
_OVER = frozenset({"ended", "left"})
SEEN_BUTTON = "Seen"


def waking(at: datetime, zone: ZoneInfo) -> datetime:
    """`at`, or where that is at night the next morning on that clock."""
    local = at.astimezone(zone)
    if WAKING_FROM <= local.time() < WAKING_UNTIL:
        return at
    day = local.date() if local.time() < WAKING_FROM else local.date() + timedelta(days=1)
    return instant_of(day, WAKING_FROM.strftime("%H:%M"), zone)


def raise_alert(
    session: Session,
    patient: Patient,
    codes: tuple[RedFlag, ...],
    text: str,
    replies: Replies,
    now: datetime,
    *,
    words: str,
) -> None:
    """Tell the patient's clinician at once, and whoever covers for them; repeat what is urgent until it is seen.

    `words`: the patient's own, which `text` quotes and every repeat quotes again.
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
        words=words,
        next_at=waking(now + REPEAT_EVERY, zone) if urgency in _REPEATED else None,
        now=now,
    )
    _send(session, alert, _at_once(session, owner, patient, now), patient, text, replies, now)


def _at_once(session: Session, owner: Clinician, patient: Patient, now: datetime) -> list[Clinician]:
    """The patient's clinician and who covers; every colleague where the clinician's chat takes no messages."""
    lost = owner.address is None or owner.unreachable_at is not None
    return [owner, *shares.colleagues_for(session, patient, now, covering_only=not lost)]


def _send(
    session: Session, alert: Alert, to: list[Clinician], patient: Patient, text: str, replies: Replies, now: datetime
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
            # The button knows its alert: pressed later, it must not stand for one that nobody has read.
            buttons=[[(SEEN_BUTTON, f"/seen {name} #{alert.id}"), (name, f"/patient {name}")]],
            question=False,
        )


def repeat_due(session: Session, replies: Replies, now: datetime, limit: int = 50) -> int:
    """Repeat the alerts that nobody has seen; after four hours to the colleagues as well. Returns how many were due.

    A repeat is short: the whole of it was sent with the alert. After three days it comes once a day, and once more only
    where the patient has no programme any more.
    """
    found = alerts.due(session, now, limit)
    for alert in found:
        patient = people.patient_by_id(session, alert.patient_id)
        owner = people.clinician_of(session, patient)
        if owner is None:
            alert.next_at = None
            continue
        zone = ZoneInfo(owner.timezone)
        age = now - alert.opened_at
        after = clinic.PRESS_SEEN
        alert.repeats += 1
        alert.next_at = waking(now + REPEAT_EVERY, zone)
        if age >= DAILY_AFTER:
            over = patient.status in _OVER
            alert.next_at = None if over else waking(now + timedelta(days=1), zone)
            after = clinic.alert_last_time(patient.alias) if over else clinic.alert_daily()
        text = _short(alert, patient, zone, now, after)
        if age < PASS_ON_AFTER:
            _send(session, alert, _at_once(session, owner, patient, now), patient, text, replies, now)
            continue
        colleagues = shares.colleagues_for(session, patient, now)
        passed_on = clinic.alert_passed_on(owner.name, text)
        if not colleagues and alert.passed_on_at is None:
            text = f"{text}\n{clinic.alert_nobody_else(patient.alias)}"
        alert.passed_on_at = alert.passed_on_at or now
        _send(session, alert, [owner], patient, text, replies, now)
        _send(session, alert, colleagues, patient, passed_on, replies, now)
    return len(found)


def _short(alert: Alert, patient: Patient, zone: ZoneInfo, now: datetime, after: str) -> str:
    """Who, which signs, since when, in which words."""
    opened, local = alert.opened_at.astimezone(zone), now.astimezone(zone)
    since = f"{opened:%H:%M}" if opened.date() == local.date() else f"{opened:%a} {opened.day} {opened:%b, %H:%M}"
    return clinic.alert_again(
        patient.alias,
        Urgency(alert.urgency),
        [RedFlag(each) for each in alert.codes],
        alert.words,
        age=now - alert.opened_at,
        since=since,
        after=after,
    )


def bring_back(session: Session, patient: Patient, alert_ids: list[int], now: datetime) -> int:
    """What had marked these alerts as seen was taken back: they wait again. Returns how many do."""
    owner = people.clinician_of(session, patient)
    found = alerts.unsee(session, alert_ids)
    for each in found:
        if owner is not None and Urgency(each.urgency) in _REPEATED:
            each.next_at = waking(now + REPEAT_EVERY, ZoneInfo(owner.timezone))
    return len(found)


def is_told_again(session: Session, patient: Patient, codes: Iterable[RedFlag]) -> bool:
    """Whether what is open already is a new alert: it cannot wait, and its alert was seen, so that it may have come back."""
    urgent = any(URGENCY_OF[code] is not Urgency.SOON for code in codes)
    return urgent and not alerts.unseen(session, [patient.id or 0])


def open_signs(
    session: Session, patient: Patient, findings: Iterable[FlagFinding], message_id: int | None, now: datetime
) -> tuple[RedFlag, ...]:
    """Open a red flag for each sign, for somebody who has no day of a programme. Returns the codes that were not open.

    A code that is open already is added to (rule 10).
    """
    patient_id = patient.id or 0
    rows = {row.code: row for row in flags.open_flags(session, patient_id)}
    new: list[RedFlag] = []
    for each in findings:
        if (row := rows.get(str(each.code))) is not None:
            flags.add_to_flag(row, score=each.score, words=each.words)
            continue
        new.append(each.code)
        rows[str(each.code)] = flags.open_flag(
            session,
            patient_id=patient_id,
            code=each.code,
            score=each.score,
            words=each.words,
            message_id=message_id,
            now=now,
        )
    return tuple(new)
