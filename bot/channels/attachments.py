"""Draws what a message brings along: charts, the digest's PDF, a picture of a link, a patient's own data."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from storage.database import Database


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file to be sent."""

    name: str
    content: bytes
    mime: str

    @property
    def is_picture(self) -> bool:
        """Whether it is shown in the chat rather than offered as a file."""
        return self.mime.startswith("image/")


def qr_picture(link: str) -> bytes:
    """A link as a QR code (PNG)."""
    import qrcode

    code = qrcode.QRCode(border=4, box_size=12)
    code.add_data(link)
    code.make(fit=True)
    held = io.BytesIO()
    code.make_image().save(held, "PNG")
    return held.getvalue()


def draw(database: Database, wanted: dict[str, Any], now: datetime) -> list[Attachment]:
    """The files that `wanted` tells of. Raises `LookupError` where its patient is gone.

    What is drawn is read in one short transaction and drawn after it: drawing takes seconds, and others want to write.
    """
    what = wanted.get("what")
    if what == "qr":
        return [Attachment("invitation.png", qr_picture(str(wanted["link"])), "image/png")]
    if what == "export":
        from bot.conversation.export import archive
        from storage.export import patient_record

        with database.reading() as session:
            record = patient_record(session, int(wanted["patient_id"]))
        return [Attachment("my-data.zip", archive(record, now), "application/zip")]
    # Slow to import, and only needed here.
    from bot.digest import SpecError, prepare

    try:
        with database.reading() as session:
            prepared = prepare(session, wanted, now)
    except SpecError as problem:
        raise LookupError(str(problem)) from None
    return [Attachment(prepared.name, prepared.draw(), prepared.media_type)]
