"""The conversation: one message in, one transaction, the replies into the outbox.

Load, decide with pure functions, save and queue. Nothing here asks what time it is.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation import joining, ticking
from bot.conversation.desk import ClinicianDesk
from bot.conversation.enrolling import EnrolmentDialogue
from bot.conversation.outside import OutsideTurn
from bot.conversation.patient_turn import PatientTurn
from bot.conversation.prompting import schedule_next
from bot.conversation.replies import Replies
from bot.conversation.values import Incoming, Outgoing, Pressed, label_of, words_of
from bot.conversation.wording import clinic
from bot.conversation.wording import service as words
from bot.program.terms import Asked
from bot.reader import read
from scheduler.times import local_day
from storage import messages, people, records
from storage.database import OUTAGES, Database
from storage.erase import compact, erase_patient, forget_old
from storage.tables import Clinician, IncomingMessage, OutgoingMessage, Patient

log = logging.getLogger(__name__)
_CLINICIANS_QUESTION = timedelta(hours=12)
"""A name that was offered to a clinician ("do you mean ...?") can be pressed for so long."""
WORDS = frozenset({"text", "edit", "button", "forwarded"})
"""Kinds of messages that are words. Any other kind may still have a caption."""


class Conversation:
    """Carries every turn through the database. Safe to call again with the same message: it is answered once."""

    def __init__(
        self,
        database: Database,
        *,
        invitation_link: Callable[[str], str] = "/start {}".format,
        spread: timedelta = timedelta(0),
        set_aside: Callable[[str], None] = lambda _what: None,
    ) -> None:
        self.database = database
        self.set_aside = set_aside
        self.invitation_link = invitation_link
        self.spread = spread
        """Morning prompts go out over so long a time, each patient's at the same distance every day."""
        self._to_compact = True
        """Whether somebody may have been erased since the database's file was last written anew."""

    @staticmethod
    def warm_up() -> None:
        """Read once: the vocabulary takes seconds to load, and nobody should wait for it with a transaction open."""
        read("good morning", Asked.ANY)

    def handle(self, incoming: Incoming, now: datetime) -> Pressed | None:
        """Store, read, record, decide and queue the replies, in one transaction that rolls back whole.

        Returns what a pressed button led to; None for everything else, and for a message that was seen before.
        """
        with self.database.session() as session:
            # Locked first, so that the turns of one chat come one after the other; in the one order of all locks.
            clinician = people.clinician_by_address(session, incoming.channel, incoming.address, lock=True)
            patient = people.patient_by_address(session, incoming.channel, incoming.address)
            earlier = (
                messages.message_from(session, incoming.channel, incoming.address, incoming.source_id)
                if incoming.kind == "edit" and incoming.source_id is not None
                else None
            )
            # Invitations are kept by their hash only, so a token is not kept here either.
            said, token = joining.take_tokens_out(session, incoming.text, now)
            incoming = replace(incoming, text=said)
            message = messages.store_incoming(
                session,
                channel=incoming.channel,
                update_id=incoming.update_id,
                address=incoming.address,
                kind=incoming.kind,
                text=incoming.text,
                source_id=incoming.source_id,
                sent_at=incoming.sent_at,
                received_at=now,
            )
            if message is None:
                return None
            replies = Replies(session, now, message)
            pressed: Pressed | None = None
            if incoming.button is not None:
                pressed, pressed_words = self._press(session, incoming, clinician, patient, now)
                if pressed_words is None:
                    self._mark_role(session, message, clinician, patient)
                    return pressed
                message.text = pressed_words
            if clinician is not None:
                self._clinician(session, clinician, message, replies, token, now)
            elif patient is None or joining.begins_anew(session, patient, token, now):
                messages.mark_understood(session, message, patient_id=None, role="stranger", reading=None)
                joining.meet_stranger(session, incoming, message, token, replies, now)
            else:
                self._patient(session, patient, message, earlier, replies, token, now)
            return pressed

    @staticmethod
    def _mark_role(
        session: Session, message: IncomingMessage, clinician: Clinician | None, patient: Patient | None
    ) -> None:
        role = "clinician" if clinician is not None else "patient" if patient is not None else "stranger"
        messages.mark_understood(
            session, message, patient_id=None if patient is None else patient.id, role=role, reading=None
        )

    @staticmethod
    def _press(
        session: Session, incoming: Incoming, clinician: Clinician | None, patient: Patient | None, now: datetime
    ) -> tuple[Pressed, str | None]:
        """What a button says, if its question is still open."""
        if incoming.button is None:
            raise ValueError("no button was pressed")
        number, index = incoming.button
        row = messages.keyboard(session, incoming.channel, incoming.address, number)
        flat = [] if row is None else [each for line in row.buttons for each in line]
        if row is None or not 0 <= index < len(flat):
            return Pressed(note=words.old_button()), None
        button = flat[index] if isinstance(flat[index], str) else (flat[index][0], flat[index][1])
        if not row.has_question:
            return Pressed(note=""), words_of(button)
        over = row.answered_at is not None or not messages.is_latest_question(session, row)
        if clinician is not None:
            over = over or now - row.due_at > _CLINICIANS_QUESTION
        elif patient is None:
            over = True
        elif patient.status != "enrolling":
            over = over or row.day != _local(patient, now)
        if over:
            return Pressed(note=words.old_button()), None
        row.answered_at = now
        return Pressed(note=label_of(button), label=label_of(button)), words_of(button)

    def _clinician(
        self,
        session: Session,
        clinician: Clinician,
        message: IncomingMessage,
        replies: Replies,
        token: str | None,
        now: datetime,
    ) -> None:
        messages.mark_understood(session, message, patient_id=None, role="clinician", reading=None)
        clinician.unreachable_at = None
        if token is not None:
            replies.say(words.invitation_here(), clinician=clinician)
        elif message.kind == "edit":
            replies.say(clinic.edited_message(), clinician=clinician)
        elif message.kind == "forwarded":
            replies.say(clinic.forwarded_message(), clinician=clinician)
        elif message.kind not in WORDS and not message.text.strip():
            replies.say(clinic.words_only(), clinician=clinician)
        else:
            desk = ClinicianDesk(
                session, clinician, replies, now, message=message, invitation_link=self.invitation_link
            )
            desk.handle(message.text)
            # What was asked before is over, whether it was answered or not: a name offered long ago must not act.
            self._close_questions(session, message, now)

    def _patient(
        self,
        session: Session,
        patient: Patient,
        message: IncomingMessage,
        earlier: IncomingMessage | None,
        replies: Replies,
        token: str | None,
        now: datetime,
    ) -> None:
        messages.mark_understood(session, message, patient_id=patient.id, role="patient", reading=None)
        if patient.unreachable_at is not None:
            self._reachable_again(session, patient, replies, now)
        text = message.text
        if token is not None:
            replies.say(words.already_joined(), patient=patient)
            return
        if message.kind not in WORDS:
            replies.say(f"{words.cannot_read(message.kind)}\n{words.cannot_read_urgent()}", patient=patient)
            if not text.strip():
                return
        outside = OutsideTurn(session, patient, replies, message, now)
        if message.kind == "forwarded" and not _names_a_sign(text):
            replies.say(words.forwarded(), patient=patient)
            return
        if patient.status == "enrolling":
            if message.kind == "edit" and not _names_a_sign(text):
                replies.say(words.edit_not_used(), patient=patient)
            elif message.kind != "edit" and outside.answer_anyway(text):
                self._after(session, patient, message, outside, now)
            else:
                dialogue = EnrolmentDialogue(session, patient, replies, now, message)
                dialogue.handle(text)
                if dialogue.moved_on:
                    self._close_questions(session, message, now)
        elif patient.status != "active" or patient.start is None:
            outside.handle(text)
            self._after(session, patient, message, outside, now)
        elif message.kind == "edit":
            self._edited(session, patient, message, earlier, replies, now)
        else:
            turn = PatientTurn(session, patient, replies, message, now)
            turn.handle(text, signs_only=message.kind == "forwarded")
            self._after(session, patient, message, turn, now)

    def _after(
        self,
        session: Session,
        patient: Patient,
        message: IncomingMessage,
        turn: PatientTurn | OutsideTurn,
        now: datetime,
    ) -> None:
        if turn.settled:
            self._close_questions(session, message, now)
        if turn.erases:
            self._erase(session, patient, now)

    @staticmethod
    def _close_questions(session: Session, message: IncomingMessage, now: datetime) -> None:
        messages.close_questions(session, message.channel, message.address, now, but_replies_to=message.id)

    def _erase(self, session: Session, patient: Patient, now: datetime) -> None:
        self._to_compact = True
        channel, address, alias = patient.channel, patient.address, patient.alias
        clinician = people.clinician_of(session, patient)
        session.flush()
        erase_patient(session, patient.id or 0, now)
        replies = Replies(session, now)
        if address is not None:
            replies.say_to_stranger(words.erased(), channel=channel, address=address, kind=messages.FAREWELL)
        replies.say(clinic.left(alias, erased=True), clinician=clinician, kind=messages.FAREWELL)

    def _edited(
        self,
        session: Session,
        patient: Patient,
        message: IncomingMessage,
        earlier: IncomingMessage | None,
        replies: Replies,
        now: datetime,
    ) -> None:
        """An edited answer is a correction of what it said before."""
        turn = PatientTurn(session, patient, replies, message, now)
        touched = [] if earlier is None or earlier.id is None else records.days_of_message(session, earlier.id)
        said_on = [day for _, day in touched]
        if earlier is not None and not touched:
            said_on = [_local(patient, earlier.received_at)]
        if said_on and min(said_on) < turn.today - timedelta(days=1):
            if _names_a_sign(message.text):
                turn.handle(message.text, signs_only=True)
            else:
                replies.say(words.edit_not_used(), patient=patient)
            return
        if earlier is not None and earlier.id is not None and touched:
            turn.correct(message.text, earlier.id, touched)
        else:
            turn.handle(message.text)

    def _reachable_again(self, session: Session, patient: Patient, replies: Replies, now: datetime) -> None:
        patient.unreachable_at = None
        if patient.status == "active":
            schedule_next(patient, now)
        clinician = people.clinician_of(session, patient)
        replies.say(clinic.reachable_again(patient.alias), clinician=clinician, about=patient)

    def tick(self, now: datetime, limit: int = 500) -> int:
        """Queue what is due at `now`: prompts, repeated alerts, digests. Returns how many patients were looked at.

        What fails for one of them is set aside for an hour, logged and told to `set_aside`, and the others go on. A database
        that is away is the only thing that ends a tick: raises one of `OUTAGES`.
        """
        return ticking.tick(self.database, now, limit, spread=self.spread, set_aside=self.set_aside)

    def deliverable(self, now: datetime, limit: int = 100) -> list[Outgoing]:
        """What waits in the outbox, replies before prompts, for a channel that is alone with its database."""
        with self.database.session() as session:
            return [outgoing(row) for row in messages.undelivered(session, now, limit)]

    def delivered(self, message_id: int, now: datetime, source_id: str | None = None) -> None:
        """Note that a message of the outbox was sent."""
        with self.database.session() as session:
            messages.mark_sent(session, message_id, now, source_id)

    def blocked(self, message_id: int, now: datetime) -> None:
        """The chat refused a message: nothing more is tried there, and the clinician is told."""
        with self.database.session() as session:
            chat = messages.chat_of(session, message_id)
            if chat is not None:
                self._gone(session, *chat, now, message_id)

    def gone(self, channel: str, address: str, now: datetime) -> None:
        """The user blocked the bot: the same as a refused message."""
        with self.database.session() as session:
            self._gone(session, channel, address, now)

    @staticmethod
    def _gone(session: Session, channel: str, address: str, now: datetime, message_id: int | None = None) -> None:
        # People first, then messages: the other way round a button pressed just now would wait for us, and we for it.
        clinician = people.clinician_by_address(session, channel, address, lock=True)
        patient = people.patient_by_address(session, channel, address)
        if message_id is not None:
            messages.mark_refused(session, message_id, now, "blocked")
        messages.refuse_chat(session, channel, address, now)
        if patient is None:
            if clinician is not None:
                clinician.unreachable_at = now
            return
        if patient.unreachable_at is not None:
            return
        patient.unreachable_at = now
        patient.next_due_at = patient.next_due_kind = None
        people.add_action(
            session, patient_id=patient.id or 0, clinician_id=None, kind="unreachable", details={}, now=now
        )
        Replies(session, now).say(
            clinic.unreachable(patient.alias),
            clinician=people.clinician_of(session, patient),
            about=patient,
            kind="alert",
            key=f"unreachable:{patient.id}:{now.isoformat()}",
        )

    def keep(self, incoming: Incoming, now: datetime) -> None:
        """Keep a message that could not be handled, tell its sender, and a patient's clinician: nothing is lost."""
        with self.database.session() as session:
            incoming = replace(incoming, text=joining.take_tokens_out(session, incoming.text, now)[0])
            clinician = people.clinician_by_address(session, incoming.channel, incoming.address, lock=True)
            patient = people.patient_by_address(session, incoming.channel, incoming.address)
            message = messages.store_incoming(
                session,
                channel=incoming.channel,
                update_id=incoming.update_id,
                address=incoming.address,
                kind="failed",
                text=incoming.text,
                source_id=incoming.source_id,
                sent_at=incoming.sent_at,
                received_at=now,
            )
            if message is None:
                return
            message.role = "stranger" if clinician is None and patient is None else "clinician"
            if clinician is None and patient is not None:
                message.role, message.patient_id = "patient", patient.id
            session.flush()
            try:
                with session.begin_nested():
                    self._tell_kept(session, message, clinician, patient, incoming.text, now)
            except OUTAGES:
                raise
            except Exception as problem:  # whatever it was that failed must not fail this too
                log.critical("Nobody could be told of a message that was kept", extra={"error": type(problem).__name__})

    @staticmethod
    def _tell_kept(
        session: Session,
        message: IncomingMessage,
        clinician: Clinician | None,
        patient: Patient | None,
        text: str,
        now: datetime,
    ) -> None:
        replies = Replies(session, now, message)
        if clinician is not None:
            replies.say(words.failed(), clinician=clinician)
        elif patient is not None:
            replies.say(words.failed(), patient=patient)
            replies.say(
                clinic.not_handled(patient.alias, text),
                clinician=people.clinician_of(session, patient),
                about=patient,
                kind="alert",
            )

    def forget_old(self, now: datetime, keep: timedelta | None) -> None:
        """Forget what is older than is kept, batch by batch; then leave nothing erased in the database's file."""
        while True:
            with self.database.session() as session:
                forgotten = forget_old(session, now, keep)
            self._to_compact = self._to_compact or bool(forgotten.patients)
            if not forgotten.more:
                break
        if self._to_compact and compact(self.database):
            self._to_compact = False


def _names_a_sign(text: str) -> bool:
    """Whether a warning sign stands in it for sure."""
    return any(each.certain for each in read(text, Asked.ANY).flags)


def _local(patient: Patient, now: datetime) -> date:
    return local_day(now, ZoneInfo(patient.timezone))


def outgoing(row: OutgoingMessage) -> Outgoing:
    """A row of the outbox as a channel needs it."""
    if row.id is None:
        raise ValueError("a queued message has an id")
    return Outgoing(
        id=row.id,
        channel=row.channel,
        address=row.address,
        text=row.text,
        kind=row.kind,
        buttons=tuple(
            tuple(each if isinstance(each, str) else (each[0], each[1]) for each in line) for line in row.buttons or ()
        ),
        attachment=row.attachment,
        has_file=row.has_file,
        attempts=row.attempts,
    )
