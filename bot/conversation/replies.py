"""What a turn has to say, put into the outbox under unique keys."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from secrets import token_hex
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation.values import Button
from scheduler.times import local_day
from storage import messages
from storage.tables import Clinician, IncomingMessage, Patient

LONGEST_TEXT = 4000
"""Characters in one message, a little under the channel's 4,096."""
LONGEST_BESIDE_FILE = 1000
"""Characters that go with a file in one message, a little under the channel's 1,024."""


def in_pieces(text: str, longest: int = LONGEST_TEXT) -> list[str]:
    """The text in pieces of at most `longest` characters, cut between lines or words where it can be."""
    pieces: list[str] = []
    rest = text.strip()
    if _units(rest) > longest:
        longest = longest if len(rest) > longest and rest.isascii() else longest // 2
    while len(rest) > longest:
        cut = max(rest.rfind("\n", 0, longest), 0) or rest.rfind(" ", 0, longest)
        cut = cut if cut > longest // 2 else longest
        pieces.append(rest[:cut].rstrip())
        rest = rest[cut:].lstrip()
    return [*pieces, rest] if rest else pieces


def _units(text: str) -> int:
    """How long the channel takes it to be: it counts UTF-16 units, and an emoji takes two of them."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


class Replies:
    """Collects what a turn has to say and puts it into the outbox."""

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
        about: Patient | None = None,
        buttons: Sequence[Sequence[Button]] = (),
        question: bool | None = None,
        kind: str = "reply",
        key: str | None = None,
        attachment: dict[str, Any] | None = None,
        secret: bool = False,
        delay: timedelta = timedelta(0),
    ) -> None:
        """Queue a text for a patient or a clinician. Nothing is queued for somebody without an address.

        `question`: the buttons answer a question, which is over once it is answered (what a patient's buttons are,
        unless said otherwise); else they are a list to choose from, again and again.
        """
        to = patient if patient is not None else clinician
        if not text.strip() or to is None or to.address is None:
            return
        if question is None:
            question = bool(buttons) and patient is not None
        pieces = in_pieces(text)
        if messages.brings_file(attachment) and (len(pieces) > 1 or _units(text) > LONGEST_BESIDE_FILE):
            # A message of its own: what is tried again because of the file must not say the text again.
            pieces.append("")
        for number, piece in enumerate(pieces, start=1):
            last = number == len(pieces)
            self._queue(
                piece,
                channel=to.channel,
                address=to.address,
                key=key if key is None or number == 1 else f"{key}:{number}",
                kind=kind,
                buttons=[[each if isinstance(each, str) else list(each) for each in row] for row in buttons]
                if last
                else [],
                question=question and last,
                patient_id=None if patient is None else patient.id,
                clinician_id=None if clinician is None else clinician.id,
                about_id=None if about is None else about.id,
                day=local_day(self.now, ZoneInfo(patient.timezone)) if patient is not None else None,
                attachment=attachment if last else None,
                secret=secret,
                delay=delay,
            )

    def say_to_stranger(self, text: str, *, channel: str, address: str, kind: str = "reply") -> None:
        """Queue a text for somebody who is neither patient nor clinician."""
        self._queue(text, channel=channel, address=address, key=None, kind=kind)

    def _queue(
        self,
        text: str,
        *,
        channel: str,
        address: str,
        key: str | None,
        kind: str,
        delay: timedelta = timedelta(0),
        **more: Any,
    ) -> None:
        if key is None:
            self._count += 1
            # Without a message there is nothing that could come twice; two at the same instant are two all the same.
            whose = str(self.message.id) if self.message else f"{self.now.isoformat()}:{token_hex(4)}"
            key = f"{kind}:{whose}:{self._count}"
        messages.queue(
            self.session,
            key=key,
            channel=channel,
            address=address,
            text=text,
            kind=kind,
            in_reply_to=None if self.message is None else self.message.id,
            due_at=self.now + delay,
            **more,
        )
