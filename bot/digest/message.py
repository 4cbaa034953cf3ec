"""The digest as a chat message: plain text, the most pressing first, split at patients' lines where it is too long."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from bot.digest import wording
from bot.digest.attention import Line

LIMIT = 4096
"""Characters of one chat message."""
_SECTION_BREAK = "\n\n"


def messages(lines: Sequence[Line], until: date) -> list[str]:
    """The digest in as few messages as have room; a patient's line is never split."""
    pieces: list[str] = [wording.head(until, lines)]
    needing = [line for line in lines if line.needs]
    if needing:
        pieces.append(_SECTION_BREAK + wording.NEEDS_HEADING)
        pieces += ["\n" + wording.needs_line(place, line) for place, line in enumerate(needing, 1)]
    if lines:
        pieces.append(_SECTION_BREAK + wording.ALL_HEADING)
        pieces += [("\n\n" if at else "\n") + wording.patient_line(line) for at, line in enumerate(lines)]
        pieces.append(_SECTION_BREAK + wording.FOOT)
    headings = {_SECTION_BREAK + wording.NEEDS_HEADING, _SECTION_BREAK + wording.ALL_HEADING}
    found: list[str] = []
    text = ""
    for at, piece in enumerate(pieces):
        # A heading goes with the line below it.
        following = pieces[at + 1] if piece in headings else ""
        if text and _units(text) + _units(piece) + _units(following) > LIMIT:
            found.append(text)
            text = piece.lstrip("\n")
        else:
            text += piece
    found.append(text)
    return found


def _units(text: str) -> int:
    """Length as chats count it: UTF-16 code units, so that a smiley counts twice."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2
