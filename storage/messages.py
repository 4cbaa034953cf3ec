"""Messages in and out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import and_, case, func, literal_column, null, or_, update
from sqlalchemy import true as sql_true
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from storage.memory import memory_of
from storage.tables import IncomingMessage, OutgoingMessage, SendingPace

_SLOTS = ("morning", "evening")
FAREWELL = "goodbye"
"""The last words to, and about, somebody who was erased."""
_PRIORITY = {"alert": 0, "reply": 1, FAREWELL: 1}
_CAN_WAIT = 2
"""Alerts go out before replies, replies before what can wait (prompts, nudges, digests)."""
_KEEPS_ITS_PLACE = 4
"""A message that failed so often (31 seconds after the first try) is overtaken by the later ones of its chat."""
LEASE = timedelta(seconds=45)
"""A message taken for sending is free again after this, if nobody said what became of it."""
CHAT_PACE = timedelta(seconds=1)
"""The channel's limit: one message a second in a chat."""
LATEST_PROMPT = timedelta(hours=3)
LATEST_MESSAGE = timedelta(days=3)
MENU = "menu"
"""An attachment that is a list of commands to set, not a file to draw."""
SECRET_SENT = "(sent, and taken out)"
_WITHOUT_SECRETS: dict[str, Any] = {
    "text": case((col(OutgoingMessage.secret), SECRET_SENT), else_=col(OutgoingMessage.text)),
    "attachment": case((col(OutgoingMessage.secret), null()), else_=col(OutgoingMessage.attachment)),
}
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
    source_id: str | None = None,
) -> IncomingMessage | None:
    """Store a message before it is understood. None: this update was seen before."""
    values = {
        "channel": channel,
        "update_id": update_id,
        "address": address,
        "source_id": source_id,
        "kind": kind,
        "text": _storable(text),
        "sent_at": sent_at,
        "received_at": received_at,
    }
    new = _insert_unless_there(session, IncomingMessage, ["channel", "update_id"]).values(**values)
    return session.scalars(new.returning(IncomingMessage)).one_or_none()


def _storable(text: str) -> str:
    return _NOT_STORABLE.sub("\ufffd", text)


def _insert_unless_there(session: Session, table: Any, unique: list[str]) -> Any:
    """An insert that leaves what is there already alone."""
    dialect = session.get_bind().dialect.name
    insert = postgresql.insert(table) if dialect == "postgresql" else sqlite.insert(table)
    return insert.on_conflict_do_nothing(index_elements=unique)


def _insert_once(session: Session, table: Any, values: dict[str, Any], unique: list[str]) -> int | None:
    statement = _insert_unless_there(session, table, unique).values(**values).returning(table.id)
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


def brings_file(attachment: dict[str, Any] | None) -> bool:
    """Whether something has to be drawn and sent with the text; a menu is only set."""
    return attachment is not None and attachment.get("what") != MENU


def queue(
    session: Session,
    *,
    key: str,
    channel: str,
    address: str,
    text: str,
    kind: str,
    due_at: datetime,
    buttons: list[list[Any]] | None = None,
    question: bool = False,
    attachment: dict[str, Any] | None = None,
    secret: bool = False,
    patient_id: int | None = None,
    clinician_id: int | None = None,
    about_id: int | None = None,
    in_reply_to: int | None = None,
    day: date | None = None,
) -> bool:
    """Put a message into the outbox. False: one with this key was queued before.

    In a batch (`storage.batch`) it is put there when the batch is done, unless one with this key was queued before.
    """
    values = {
        "key": key,
        "channel": channel,
        "address": address,
        "kind": kind,
        "priority": _PRIORITY.get(kind, _CAN_WAIT),
        "text": _storable(text),
        "buttons": buttons or [],
        "has_question": question,
        "attachment": attachment,
        "has_file": brings_file(attachment),
        "secret": secret,
        "patient_id": patient_id,
        "clinician_id": clinician_id,
        "about_id": about_id,
        "in_reply_to": in_reply_to,
        "day": day,
        "queued_at": due_at,
        "due_at": due_at,
        "attempts": 0,
    }
    memory = memory_of(session)
    if patient_id is not None:
        memory.prompts.pop(patient_id, None)
    if memory.waiting is not None:
        memory.waiting.outgoing.append(values)
        return True
    return _insert_once(session, OutgoingMessage, values, ["key"]) is not None


def queue_all(session: Session, rows: list[dict[str, Any]]) -> None:
    """Put many messages into the outbox in one statement; those with a key that was queued before are left out."""
    if rows:
        session.execute(_insert_unless_there(session, OutgoingMessage, ["key"]), rows)


def undelivered(session: Session, now: datetime, limit: int) -> list[OutgoingMessage]:
    """What waits to be sent, in order, without taking it: for a channel that is alone with its database."""
    return list(
        session.exec(
            select(OutgoingMessage)
            .where(_waits(OutgoingMessage), col(OutgoingMessage.due_at) <= now)
            .order_by(col(OutgoingMessage.priority), col(OutgoingMessage.id))
            .limit(limit)
        )
    )


def claim(
    session: Session, now: datetime, limit: int, lease: timedelta = LEASE, *, most_files: int | None = None
) -> list[OutgoingMessage]:
    """Take messages for sending: alerts first, then replies, one a chat, nobody else's until the lease is over.

    A chat's messages go out one after the other and at least a second apart, whichever process sends them: a later one
    waits while an earlier one is due, on its way, or failed just now. One that goes on failing is overtaken.
    `most_files`: so many of them may bring a file, which takes seconds to draw.
    """
    first = aliased(OutgoingMessage)
    lately = aliased(OutgoingMessage)
    in_the_way = (
        select(first.id)
        .where(
            first.channel == OutgoingMessage.channel,
            first.address == OutgoingMessage.address,
            # Said in other words than those of the index of what waits: where statistics are older than the heap of
            # prompts, PostgreSQL takes that index for empty, and would read all of it for every message.
            col(first.sent_at).is_(None),
            func.coalesce(first.sent_at, first.refused_at).is_(None),
            or_(
                and_(
                    col(first.claimed_until) > now,
                    # A file takes long to draw and send. What is more urgent does not wait for it.
                    or_(~col(first.has_file), col(first.priority) <= col(OutgoingMessage.priority)),
                ),
                and_(
                    or_(col(first.due_at) <= now, col(first.attempts).between(1, _KEEPS_ITS_PLACE)),
                    or_(
                        col(first.priority) < col(OutgoingMessage.priority),
                        and_(first.priority == OutgoingMessage.priority, col(first.id) < col(OutgoingMessage.id)),
                    ),
                ),
            ),
        )
        .exists()
    )
    sent_just_now = (
        select(lately.id)
        .where(
            lately.channel == OutgoingMessage.channel,
            lately.address == OutgoingMessage.address,
            col(lately.sent_at) > now - CHAT_PACE,
        )
        .exists()
    )
    rows = list(
        session.exec(
            select(OutgoingMessage)
            .where(
                _waits(OutgoingMessage),
                col(OutgoingMessage.due_at) <= now,
                _is_free(now),
                sql_true() if most_files is None or most_files > 0 else ~col(OutgoingMessage.has_file),
                ~in_the_way,
                ~sent_just_now,
            )
            .order_by(col(OutgoingMessage.priority), col(OutgoingMessage.id))
            .limit(limit)
            .with_for_update(skip_locked=True, of=OutgoingMessage)
        )
    )
    files = 0
    taken = []
    for row in rows:
        files += row.has_file
        if row.has_file and most_files is not None and files > most_files:
            continue
        row.claimed_until = now + lease
        taken.append(row)
    return taken


def renew(session: Session, message_id: int, now: datetime, lease: timedelta = LEASE) -> None:
    """The message is still on its way: nobody else's for another lease. One whose fate was noted stays as it is."""
    session.execute(
        update(OutgoingMessage)
        .where(
            OutgoingMessage.id == message_id,
            _waits(OutgoingMessage),
            col(OutgoingMessage.claimed_until).is_not(None),
        )
        .values(claimed_until=now + lease)
    )


def _is_free(now: datetime) -> Any:
    return or_(col(OutgoingMessage.claimed_until).is_(None), col(OutgoingMessage.claimed_until) <= now)


def _waits(table: Any) -> Any:
    return and_(col(table.sent_at).is_(None), col(table.refused_at).is_(None))


def drop_stale(session: Session, now: datetime) -> int:
    """Prompts that could not be sent for hours are dropped, so that nobody gets a heap; the rest is given up after days."""
    prompts = col(OutgoingMessage.kind).in_(("prompt", "nudge"))
    dropped = session.execute(
        update(OutgoingMessage)
        .where(
            _waits(OutgoingMessage),
            or_(
                and_(prompts, col(OutgoingMessage.queued_at) < now - LATEST_PROMPT),
                col(OutgoingMessage.queued_at) < now - LATEST_MESSAGE,
            ),
        )
        .values(refused_at=now, last_error="too late", claimed_until=None, **_WITHOUT_SECRETS)
    )
    return int(getattr(dropped, "rowcount", 0))


def take_pace(session: Session, now: datetime, wanted: int, *, per_second: float, burst: float) -> int:
    """How many of `wanted` messages may go out now, over all processes: never more than `per_second` + `burst` a second."""
    if wanted <= 0:
        return 0
    _insert_once(session, SendingPace, {"id": 1, "tokens": burst, "counted_at": now}, ["id"])
    row = session.exec(select(SendingPace).where(SendingPace.id == 1).with_for_update()).one()
    passed = max(0.0, (now - row.counted_at).total_seconds())
    filled = min(burst, row.tokens + passed * per_second)
    given = min(wanted, int(filled))
    row.tokens, row.counted_at = filled - given, max(now, row.counted_at)
    return given


def give_back_pace(session: Session, unused: int) -> None:
    """Fewer messages waited than were allowed."""
    row = session.get(SendingPace, 1)
    if row is not None and unused > 0:
        row.tokens += unused


def anything_waits(session: Session, now: datetime) -> bool:
    """Whether a message is due that nobody has taken."""
    return (
        session.exec(
            select(OutgoingMessage.id)
            .where(_waits(OutgoingMessage), col(OutgoingMessage.due_at) <= now, _is_free(now))
            .limit(1)
        ).first()
        is not None
    )


def waiting(session: Session, now: datetime) -> int:
    """How many messages wait that are due."""
    found = session.exec(
        select(func.count())
        .select_from(OutgoingMessage)
        .where(_waits(OutgoingMessage), col(OutgoingMessage.due_at) <= now)
    ).one()
    return int(found)


def _row(session: Session, message_id: int) -> OutgoingMessage | None:
    """The message, if it is still there: its patient may have been erased while it was on its way."""
    return session.get(OutgoingMessage, message_id, with_for_update=True)


def chat_of(session: Session, message_id: int) -> tuple[str, str] | None:
    """Channel and address that a message goes to, if it is still there. Nothing is locked."""
    found = session.exec(
        select(OutgoingMessage.channel, OutgoingMessage.address).where(OutgoingMessage.id == message_id)
    ).first()
    return None if found is None else (found[0], found[1])


def mark_sent(session: Session, message_id: int, now: datetime, source_id: str | None = None) -> None:
    """The message was accepted by the channel, which calls it `source_id`. A secret text is taken out."""
    row = _row(session, message_id)
    if row is None:
        return
    if row.kind == FAREWELL:
        # The last word to somebody who was erased: nothing of it is kept, nor where it went.
        session.delete(row)
        return
    row.sent_at, row.source_id, row.claimed_until = now, source_id, None
    if row.secret:
        row.text, row.attachment = SECRET_SENT, None


def mark_failed(session: Session, message_id: int, now: datetime, retry_at: datetime, error: str) -> None:
    """The message could not be sent now; it is due again at `retry_at`. `error` is a kind, never a text of a patient."""
    row = _row(session, message_id)
    if row is None:
        return
    row.attempts += 1
    row.last_error, row.claimed_until = error, None
    row.due_at = max(retry_at, now)


def mark_refused(session: Session, message_id: int, now: datetime, error: str | None = None) -> OutgoingMessage | None:
    """The message will never be taken: no more tries."""
    row = _row(session, message_id)
    if row is not None:
        row.refused_at, row.last_error, row.claimed_until = now, error, None
        if row.secret:
            row.text, row.attachment = SECRET_SENT, None
    return row


def refuse_chat(session: Session, channel: str, address: str, now: datetime) -> None:
    """The chat takes nothing any more: whatever waits for it is not tried again."""
    session.execute(
        update(OutgoingMessage)
        .where(OutgoingMessage.channel == channel, OutgoingMessage.address == address, _waits(OutgoingMessage))
        .values(refused_at=now, last_error="blocked", claimed_until=None, **_WITHOUT_SECRETS)
    )


def keyboard(session: Session, channel: str, address: str, message_id: int) -> OutgoingMessage | None:
    """A message with buttons that was sent to that chat. Nobody gets at the buttons of another chat."""
    return session.exec(
        select(OutgoingMessage)
        .where(OutgoingMessage.id == message_id, OutgoingMessage.channel == channel, OutgoingMessage.address == address)
        .with_for_update()
    ).first()


def is_latest_question(session: Session, row: OutgoingMessage) -> bool:
    """Whether no later question with buttons was put to that chat."""
    later = session.exec(
        select(OutgoingMessage.id)
        .where(
            OutgoingMessage.channel == row.channel,
            OutgoingMessage.address == row.address,
            col(OutgoingMessage.id) > row.id,
            OutgoingMessage.has_question,
        )
        .limit(1)
    ).first()
    return later is None


def close_questions(session: Session, channel: str, address: str, now: datetime, *, but_replies_to: int | None) -> None:
    """Buttons of questions put to that chat before this turn are over: they were answered in words."""
    session.execute(
        update(OutgoingMessage)
        .where(
            OutgoingMessage.channel == channel,
            OutgoingMessage.address == address,
            OutgoingMessage.has_question,
            col(OutgoingMessage.answered_at).is_(None),
            or_(col(OutgoingMessage.in_reply_to).is_(None), OutgoingMessage.in_reply_to != but_replies_to),
        )
        .values(answered_at=now)
        .execution_options(synchronize_session=False)
    )


def message_from(session: Session, channel: str, address: str, source_id: str) -> IncomingMessage | None:
    """The latest stored version of a message that the channel calls `source_id`."""
    return session.exec(
        select(IncomingMessage)
        .where(
            IncomingMessage.channel == channel,
            IncomingMessage.address == address,
            IncomingMessage.source_id == source_id,
        )
        .order_by(col(IncomingMessage.id).desc())
        .limit(1)
    ).first()


def prompts_sent(session: Session, patient_id: int, day: date) -> set[str]:
    """Which of the day's prompts, "morning" and "evening", were queued."""
    known = memory_of(session).prompts.get(patient_id, {})
    if day not in known:
        found = prompts_sent_to(session, [(patient_id, day)])
        known = memory_of(session).prompts.setdefault(patient_id, {})
        known[day] = found[patient_id, day]
    return set(known[day])


def prompts_sent_to(session: Session, wanted: Iterable[tuple[int, date]]) -> dict[tuple[int, date], set[str]]:
    """Which prompts were queued for each of these patients on that day."""
    found: dict[tuple[int, date], set[str]] = {each: set() for each in wanted}
    keys = {f"prompt:{patient}:{day}:{slot}": (patient, day, slot) for patient, day in found for slot in _SLOTS}
    if keys:
        for key in session.exec(select(OutgoingMessage.key).where(col(OutgoingMessage.key).in_(tuple(keys)))):
            patient, day, slot = keys[key]
            found[patient, day].add(slot)
    return found


def lately_from_stranger(
    session: Session, channel: str, address: str, since: datetime, *, text: str | None = None
) -> int:
    """How many messages (`text`: with just this text) a stranger sent after `since`, the one being handled left out."""
    found = session.exec(
        select(func.count())
        .select_from(IncomingMessage)
        .where(
            IncomingMessage.channel == channel,
            IncomingMessage.address == address,
            # Written out, or the partial index does not fit: a value that is sent apart could be any.
            IncomingMessage.role == literal_column("'stranger'"),
            col(IncomingMessage.received_at) > since,
            sql_true() if text is None else IncomingMessage.text == text,
        )
    ).one()
    return max(0, int(found) - 1)
