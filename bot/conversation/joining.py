"""Strangers, and how they become patients and clinicians. A stranger learns nothing but that there is a door."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from sqlmodel import Session

from bot.conversation.digests import schedule_digest
from bot.conversation.enrolling import EnrolmentDialogue
from bot.conversation.replies import Replies
from bot.conversation.values import Incoming
from bot.conversation.wording import clinic
from bot.conversation.wording import service as words
from storage import invitations, messages, people
from storage.moving import move_clinician
from storage.tables import IncomingMessage, Patient

_TOKENS = (
    re.compile(r"^/start(?:@\w+)?\s+([A-Za-z0-9_-]{16,64})(?:\s|$)", re.IGNORECASE),
    # The link itself, pasted into the chat.
    re.compile(r"[?&]start=([A-Za-z0-9_-]{16,64})"),
)
TOKEN_TAKEN_OUT = "/start (invitation)"
_BARE_TOKEN = re.compile(r"(?<![A-Za-z0-9_-])[A-Za-z0-9_-]{22}(?![A-Za-z0-9_-])")
"""128 bits in base64."""
_WITHIN = timedelta(hours=1)
_MOST_ANSWERS = 3
"""Answers to one stranger within an hour."""
_MOST_TRIES = 5
"""Invitations that one stranger may try within an hour; a guess hits one of 2^128 anyway."""


def token_in(text: str) -> str | None:
    """The invitation's token that a message brings, or None."""
    found = next((found for each in _TOKENS if (found := each.search(text.strip()))), None)
    return None if found is None else found[1]


def take_tokens_out(session: Session, text: str, now: datetime) -> tuple[str, str | None]:
    """The text without invitations that still work, wherever they stand in it, and the one that it brings, if any.

    Only a text that is nothing but the token brings it: in a sentence it is taken out, and the sentence counts.
    """
    if (token := token_in(text)) is not None:
        return TOKEN_TAKEN_OUT, token
    still_work = [each for each in _BARE_TOKEN.findall(text) if invitations.valid(session, each, now) is not None]
    if still_work == [text.strip()]:
        return TOKEN_TAKEN_OUT, still_work[0]
    for each in still_work:
        text = text.replace(each, "(invitation)")
    return text, None


def begins_anew(session: Session, patient: Patient, token: str | None, now: datetime) -> bool:
    """Whether somebody whose programme has ended brings an invitation to another one. Their chat is then free for it."""
    if token is None or patient.status != "ended":
        return False
    invitation = invitations.valid(session, token, now)
    if invitation is None or invitation.role != "patient" or invitation.patient_id == patient.id:
        return False
    patient.address = None
    session.flush()
    return True


def meet_stranger(
    session: Session, incoming: Incoming, message: IncomingMessage, token: str | None, replies: Replies, now: datetime
) -> None:
    """Let in whoever brings a valid invitation; say the same one thing to everybody else, a few times an hour."""
    since = now - _WITHIN
    invitation = None
    if token is not None:
        tries = messages.lately_from_stranger(session, incoming.channel, incoming.address, since, text=TOKEN_TAKEN_OUT)
        invitation = None if tries >= _MOST_TRIES else invitations.valid(session, token, now)
    if invitation is None:
        before = messages.lately_from_stranger(session, incoming.channel, incoming.address, since)
        if before < _MOST_ANSWERS:
            replies.say_to_stranger(words.stranger(), channel=incoming.channel, address=incoming.address)
        return
    invitation.used_at = now
    if invitation.role == "clinician" and invitation.clinician_id is not None:
        clinician = people.clinician_by_id(session, invitation.clinician_id)
        if clinician is None:
            return
        lost = move_clinician(session, clinician, channel=incoming.channel, address=incoming.address)
        schedule_digest(clinician, now)
        if lost is not None:
            # The lost account, or somebody who holds it, hears that it is over.
            replies.say_to_stranger(clinic.moved_away(clinician.name), channel=lost[0], address=lost[1])
        message.role = "clinician"
        session.flush()
        replies.say(
            clinic.clinician_joined(clinician.name),
            clinician=clinician,
            attachment={"what": messages.MENU, "role": "clinician"},
        )
    elif invitation.patient_id is not None:
        patient = people.patient_by_id(session, invitation.patient_id)
        patient.channel, patient.address = incoming.channel, incoming.address
        patient.status, patient.unreachable_at, patient.dialogue = "enrolling", None, {}
        message.role, message.patient_id = "patient", patient.id
        session.flush()
        EnrolmentDialogue(session, patient, replies, now).begin()
