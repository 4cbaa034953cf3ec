"""When a clinician's weekly digest is due, and what is queued for it."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.replies import Replies
from bot.conversation.wording import clinic
from scheduler.times import instant_of
from storage import shares
from storage.tables import Clinician

LATEST = timedelta(hours=36)
"""A digest that is later than this after an outage is dropped: the next one tells it all."""


def schedule_digest(clinician: Clinician, after: datetime) -> None:
    """Write down when the next digest is due, on the clinician's clock."""
    zone = ZoneInfo(clinician.timezone)
    day = after.astimezone(zone).date()
    clock = time.fromisoformat(clinician.digest_time)
    for _ in range(8):
        if day.weekday() == clinician.digest_weekday:
            due = instant_of(day, clock.strftime("%H:%M"), zone)
            if due > after:
                clinician.next_digest_at = due.astimezone(UTC)
                return
        day += timedelta(days=1)


def queue_due_digest(session: Session, clinician: Clinician, replies: Replies, now: datetime) -> None:
    """Queue the digest that is due, unless it is days late, and write down the next."""
    due_at = clinician.next_digest_at
    schedule_digest(clinician, now)
    if due_at is None or now - due_at > LATEST:
        return
    key = f"digest:{clinician.id}:{due_at.date()}"
    queue_digest(session, clinician, replies, now, key=key, even_empty=False)


def queue_digest(
    session: Session, clinician: Clinician, replies: Replies, now: datetime, *, key: str, even_empty: bool = True
) -> None:
    """Queue the digest: the message, and the PDF that is drawn when it is sent. Not `even_empty`: only of somebody."""
    patient_ids = [each.id for each in shares.caseload(session, clinician.id or 0, now) if each.id is not None]
    if not patient_ids and not even_empty:
        return
    # Figures of many patients: only needed here, and slow to import.
    from bot.digest import digest_messages

    zone = ZoneInfo(clinician.timezone)
    today = now.astimezone(zone).date()
    until = today - timedelta(days=1)
    texts = digest_messages(session, patient_ids, clinician, until, now)
    pdf = {"what": "digest_pdf", "clinician_id": clinician.id, "patient_ids": patient_ids, "until": str(until)}
    for number, text in enumerate(texts, start=1):
        replies.say(text, clinician=clinician, kind="digest", key=f"{key}:{number}")
    if patient_ids:
        # A message of its own: with its text in another one, a stop between the two could send that text twice.
        replies.say(clinic.digest_pdf(), clinician=clinician, kind="digest", key=f"{key}:pdf", attachment=pdf)
