"""A clinician goes on from another account."""

from __future__ import annotations

from sqlalchemy import update
from sqlmodel import Session, col

from storage.tables import Clinician, OutgoingMessage


def move_clinician(session: Session, clinician: Clinician, *, channel: str, address: str) -> tuple[str, str] | None:
    """The clinician's chat is this one now, and what waits to be sent goes there. Returns the chat before, if there was one."""
    before = None if clinician.address is None else (clinician.channel, clinician.address)
    clinician.channel, clinician.address = channel, address
    clinician.unreachable_at = None
    session.flush()
    session.execute(
        update(OutgoingMessage)
        .where(
            col(OutgoingMessage.clinician_id) == clinician.id,
            col(OutgoingMessage.sent_at).is_(None),
            col(OutgoingMessage.refused_at).is_(None),
        )
        .values(channel=channel, address=address)
        .execution_options(synchronize_session=False)
    )
    return before if before != (channel, address) else None
