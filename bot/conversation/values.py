"""What goes in and out of the conversation, whatever channel carries it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

LONGEST_PASSED_ON = 1500
"""Characters of a message that is passed on between patient and clinician; the rest stays in the record."""
Button = str | tuple[str, str]
"""A label that is also what is said by pressing it, or a label and the words that it stands for."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Incoming:
    """A message as a channel hands it over. `sent_at` is an aware UTC datetime.

    `kind`: text, edit, button, forwarded, or what was sent instead of words (voice, photo, sticker, ...); `text` is then
    its caption. `source_id`: the channel's name for the message, the same for an edited one. `button`: the outgoing
    message's id and the button's number in it.
    """

    channel: str
    update_id: str
    address: str
    text: str
    sent_at: datetime
    kind: str = "text"
    source_id: str | None = None
    button: tuple[int, int] | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Pressed:
    """What a pressed button led to: a short note for the one who pressed, and the label that now counts, if any."""

    note: str
    label: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Outgoing:
    """A message put into the outbox. `attachment` tells what is to be drawn when it is sent."""

    id: int
    channel: str
    address: str
    text: str
    kind: str
    buttons: tuple[tuple[Button, ...], ...] = ()
    attachment: dict[str, Any] | None = None
    has_file: bool = False
    attempts: int = 0


def label_of(button: Button) -> str:
    """What stands on a button."""
    return button if isinstance(button, str) else button[0]


def words_of(button: Button) -> str:
    """What pressing it says."""
    return button if isinstance(button, str) else button[1]
