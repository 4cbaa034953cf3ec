"""The conversation: one message in, one transaction, the replies into the outbox.

Load, decide with pure functions, save and queue. Nothing here asks what time it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.clinician import ClinicianDesk
from bot.conversation.enrolling import EnrolmentDialogue
from bot.conversation.patient_turn import PatientTurn
from bot.conversation.prompting import queue_due_prompt
from bot.conversation.values import Incoming, Outgoing
from scheduler.times import local_day
from storage import messages, people
from storage.database import Database
from storage.tables import Clinician, IncomingMessage, OutgoingMessage, Patient


class Replies:
    """Collects what a turn has to say and puts it into the outbox under unique keys."""

    def __init__(self, session: Session, now: datetime, message: IncomingMessage | None = None) -> None:
        self.session = session
        self.now = now
        self.message = message
        self._count = 0

    def say(
        self,
        text: str,
        *,
        patient: Patient | None = None,
        clinician: Clinician | None = None,
        buttons: Sequence[Sequence[str]] = (),
        kind: str = "reply",
        key: str | None = None,
    ) -> None:
        """Queue a text for a patient or a clinician. Nothing is queued for somebody without an address."""
        to = patient if patient is not None else clinician
        if not text.strip() or to is None or to.address is None:
            return
        if key is None:
            self._count += 1
            key = f"{kind}:{self.message.id if self.message else self.now.isoformat()}:{self._count}"
        messages.queue(
            self.session,
            key=key,
            channel=to.channel,
            address=to.address,
            text=text,
            buttons=[list(row) for row in buttons],
            kind=kind,
            patient_id=None if patient is None else patient.id,
            clinician_id=None if clinician is None else clinician.id,
            in_reply_to=None if self.message is None else self.message.id,
            day=local_day(self.now, ZoneInfo(patient.timezone)) if patient is not None else None,
            due_at=self.now,
        )


class Conversation:
    """Carries every turn through the database. Safe to call again with the same message: it is answered once."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def handle(self, incoming: Incoming, now: datetime) -> None:
        """Store, read, record, decide and queue the replies, in one transaction that rolls back whole."""
        with self.database.session() as session:
            message = messages.store_incoming(
                session,
                channel=incoming.channel,
                update_id=incoming.update_id,
                address=incoming.address,
                kind=incoming.kind,
                text=incoming.text,
                sent_at=incoming.sent_at,
                received_at=now,
            )
            if message is None:
                return
            replies = Replies(session, now, message)
            clinician = people.clinician_by_address(session, incoming.channel, incoming.address)
            if clinician is not None:
                messages.mark_understood(session, message, patient_id=None, role="clinician", reading=None)
                ClinicianDesk(session, clinician, replies, now).handle(incoming.text)
                return
            patient = people.patient_by_address(session, incoming.channel, incoming.address)
            if patient is None:
                messages.mark_understood(session, message, patient_id=None, role="stranger", reading=None)
                return
            if patient.status == "enrolling":
                messages.mark_understood(session, message, patient_id=patient.id, role="patient", reading=None)
                EnrolmentDialogue(session, patient, replies, now).handle(incoming.text)
            elif patient.start is not None:
                PatientTurn(session, patient, replies, message, now).handle(incoming.text)

    def tick(self, now: datetime, limit: int = 500) -> int:
        """Queue the prompts that are due at `now`. Returns how many patients were looked at."""
        with self.database.session() as session:
            due = people.due_patients(session, now, limit)
            for patient in due:
                queue_due_prompt(session, patient, Replies(session, now), now)
            return len(due)

    def deliverable(self, now: datetime, limit: int = 100) -> list[Outgoing]:
        """What waits in the outbox, replies before prompts."""
        with self.database.session() as session:
            return [_outgoing(row) for row in messages.undelivered(session, now, limit)]

    def delivered(self, message_id: int, now: datetime) -> None:
        """Note that a message of the outbox was sent."""
        with self.database.session() as session:
            messages.mark_sent(session, message_id, now)


def _outgoing(row: OutgoingMessage) -> Outgoing:
    if row.id is None:
        raise ValueError("a queued message has an id")
    return Outgoing(
        id=row.id,
        channel=row.channel,
        address=row.address,
        text=row.text,
        kind=row.kind,
        buttons=tuple(tuple(each) for each in row.buttons or ()),
    )
