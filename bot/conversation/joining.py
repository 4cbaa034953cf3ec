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
from storage.tables import IncomingMessage

_TOKEN = re.compile(r"^/start(?:@\w+)?\s+([A-Za-z0-9_-]{1,64})\s*$")
TOKEN_TAKEN_OUT = "/start (invitation)"
_WITHIN = timedelta(hours=1)
_MOST_ANSWERS = 3
"""Answers to one stranger within an hour."""
_MOST_TRIES = 5
"""Invitations that one stranger may try within an hour; a guess hits one of 2^128 anyway."""


def token_in(text: str) -> str | None:
    """The invitation's token that a message brings, or None."""
    found = _TOKEN.match(text.strip())
    return None if found is None else found[1]


def meet_stranger(
    session: Session, incoming: Incoming, message: IncomingMessage, token: str | None, replies: Replies, now: datetime
) -> None:
    """Let in whoever brings a valid invitation; say the same one thing to everybody else, a few times an hour."""
    before = messages.lately_from_stranger(session, incoming.channel, incoming.address, now - _WITHIN)
    invitation = None if token is None or before >= _MOST_TRIES else invitations.valid(session, token, now)
    if invitation is None:
        if before < _MOST_ANSWERS:
            replies.say_to_stranger(words.stranger(), channel=incoming.channel, address=incoming.address)
        return
    invitation.used_at = now
    if invitation.role == "clinician" and invitation.clinician_id is not None:
        clinician = people.clinician_by_id(session, invitation.clinician_id)
        if clinician is None:
            return
        clinician.channel, clinician.address = incoming.channel, incoming.address
        schedule_digest(clinician, now)
        message.role = "clinician"
        session.flush()
        replies.say(
            clinic.clinician_joined(clinician.name),
            clinician=clinician,
            attachment={"what": "menu", "role": "clinician"},
        )
    elif invitation.patient_id is not None:
        patient = people.patient_by_id(session, invitation.patient_id)
        patient.channel, patient.address = incoming.channel, incoming.address
        patient.status = "enrolling"
        message.role, message.patient_id = "patient", patient.id
        session.flush()
        EnrolmentDialogue(session, patient, replies, now).begin()
