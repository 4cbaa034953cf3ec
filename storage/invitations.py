"""Invitations: single use, known by their hash only, for seven days."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from storage.tables import Invitation

VALID_FOR = timedelta(days=7)
_BYTES = 16
"""128 bits."""


def new_token() -> str:
    """A token that cannot be guessed, in the 64 characters that a link may carry."""
    return secrets.token_urlsafe(_BYTES)


def _hash(token: str) -> str:
    # The token is random, so a plain hash is enough: there is nothing to guess it from.
    return hashlib.sha256(token.encode()).hexdigest()


def invite(
    session: Session,
    token: str,
    *,
    role: str,
    now: datetime,
    clinician_id: int | None = None,
    patient_id: int | None = None,
) -> Invitation:
    """Store an invitation. Earlier ones for the same person end."""
    withdraw(session, now=now, clinician_id=clinician_id, patient_id=patient_id, role=role)
    invitation = Invitation(
        token_hash=_hash(token),
        role=role,
        clinician_id=clinician_id,
        patient_id=patient_id,
        expires_at=now + VALID_FOR,
        created_at=now,
    )
    session.add(invitation)
    return invitation


def withdraw(
    session: Session, *, now: datetime, role: str, clinician_id: int | None = None, patient_id: int | None = None
) -> None:
    """End the unused invitations of a patient, or of a clinician."""
    whose = Invitation.patient_id == patient_id if role == "patient" else Invitation.clinician_id == clinician_id
    for earlier in session.exec(
        select(Invitation).where(whose, Invitation.role == role, col(Invitation.used_at).is_(None))
    ):
        earlier.expires_at = min(earlier.expires_at, now)


def valid(session: Session, token: str, now: datetime) -> Invitation | None:
    """The invitation, locked, unless there is none such, it was used, or it is over."""
    found = session.exec(select(Invitation).where(Invitation.token_hash == _hash(token)).with_for_update()).first()
    if found is None or found.used_at is not None or found.expires_at <= now:
        return None
    return found
