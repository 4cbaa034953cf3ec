"""Messages in and out."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

from sqlalchemy import case
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from storage.tables import IncomingMessage, OutgoingMessage

_SLOTS = ("morning", "evening")
_NOT_STORABLE = re.compile("[\x00\ud800-\udfff]")
"""A NUL, or half of a character outside the basic plane: no text column takes them."""


def store_incoming(
    session: Session,
    *,
    channel: str,
    update_id: str,
    address: str,
    kind: str,
    text: str,
    sent_at: datetime,
    received_at: datetime,
) -> IncomingMessage | None:
    """Store a message before it is understood. None: this update was seen before."""
    values = {
        "channel": channel,
        "update_id": update_id,
        "address": address,
        "kind": kind,
        "text": _storable(text),
        "sent_at": sent_at,
        "received_at": received_at,
    }
    new_id = _insert_once(session, IncomingMessage, values, ["channel", "update_id"])
    return None if new_id is None else session.get(IncomingMessage, new_id)


def _storable(text: str) -> str:
    return _NOT_STORABLE.sub("\ufffd", text)


def _insert_once(session: Session, table: Any, values: dict[str, Any], unique: list[str]) -> int | None:
    dialect = session.get_bind().dialect.name
    insert = postgresql.insert(table) if dialect == "postgresql" else sqlite.insert(table)
    statement = insert.values(**values).on_conflict_do_nothing(index_elements=unique).returning(table.id)
    found: int | None = session.execute(statement).scalar_one_or_none()
    return found


def mark_understood(
    session: Session,
    message: IncomingMessage,
    *,
    patient_id: int | None,
    role: str,
    reading: dict[str, Any] | None,
) -> None:
    """Note whose message it was and what was read in it."""
    message.patient_id, message.role, message.reading = patient_id, role, reading
    session.add(message)


def queue(
    session: Session,
    *,
    key: str,
    channel: str,
    address: str,
    text: str,
    kind: str,
    due_at: datetime,
    buttons: list[list[str]] | None = None,
    patient_id: int | None = None,
    clinician_id: int | None = None,
    in_reply_to: int | None = None,
    day: date | None = None,
) -> bool:
    """Put a message into the outbox. False: one with this key was queued before."""
    values = {
        "key": key,
        "channel": channel,
        "address": address,
        "kind": kind,
        "text": _storable(text),
        "buttons": buttons or [],
        "patient_id": patient_id,
        "clinician_id": clinician_id,
        "in_reply_to": in_reply_to,
        "day": day,
        "due_at": due_at,
        "attempts": 0,
    }
    return _insert_once(session, OutgoingMessage, values, ["key"]) is not None


def undelivered(session: Session, now: datetime, limit: int) -> list[OutgoingMessage]:
    """What waits to be sent: replies and alerts before prompts, oldest first."""
    later = case((col(OutgoingMessage.kind).in_(("reply", "alert")), 0), else_=1)
    return list(
        session.exec(
            select(OutgoingMessage)
            .where(
                col(OutgoingMessage.sent_at).is_(None),
                col(OutgoingMessage.refused_at).is_(None),
                col(OutgoingMessage.due_at) <= now,
            )
            .order_by(later, col(OutgoingMessage.id))
            .limit(limit)
            .with_for_update(skip_locked=True)
        )
    )


def _row(session: Session, message_id: int) -> OutgoingMessage:
    row = session.get(OutgoingMessage, message_id)
    if row is None:
        raise LookupError("there is no such message in the outbox")
    return row


def mark_sent(session: Session, message_id: int, now: datetime) -> None:
    """The message was accepted by the channel."""
    _row(session, message_id).sent_at = now


def mark_failed(session: Session, message_id: int, now: datetime, retry_at: datetime, error: str) -> None:
    """The message could not be sent now; it is due again at `retry_at`. `error` is a kind, never a text of a patient."""
    row = _row(session, message_id)
    row.attempts += 1
    row.last_error = error
    row.due_at = max(retry_at, now)


def mark_refused(session: Session, message_id: int, now: datetime) -> None:
    """The chat refuses messages: no more tries."""
    _row(session, message_id).refused_at = now


def prompts_sent(session: Session, patient_id: int, day: date) -> set[str]:
    """Which of the day's prompts, "morning" and "evening", were queued."""
    keys = {f"prompt:{patient_id}:{day}:{slot}": slot for slot in _SLOTS}
    found = session.exec(select(OutgoingMessage.key).where(col(OutgoingMessage.key).in_(tuple(keys))))
    return {keys[key] for key in found}
