"""What goes in and out of the conversation, whatever channel carries it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Incoming:
    """A message as a channel hands it over. `sent_at` is an aware UTC datetime."""

    channel: str
    update_id: str
    address: str
    text: str
    sent_at: datetime
    kind: str = "text"


@dataclass(frozen=True, kw_only=True, slots=True)
class Outgoing:
    """A message put into the outbox."""

    id: int
    channel: str
    address: str
    text: str
    kind: str
    buttons: tuple[tuple[str, ...], ...] = ()
