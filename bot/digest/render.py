"""What the rest of the house calls: the digest's messages, and a picture or PDF from its description when it is sent.

The description (`spec`) is plain JSON, so that it can wait in the outbox; the file is made from the data of the moment.
Drawing is imported only when something is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlmodel import Session

from bot.digest.attention import in_order
from bot.digest.gather import gather
from bot.digest.message import messages
from bot.digest.values import History
from storage.figures import clinician_names
from storage.tables import Clinician

PNG, PDF = "image/png", "application/pdf"


class What(StrEnum):
    """The files there are."""

    PROGRESS_CHART = "progress_chart"
    """The patient's own picture."""
    PATIENT_CHART = "patient_chart"
    """The clinician's chart of one patient."""
    DIGEST_PDF = "digest_pdf"
    """The digest: the overview, and a page a patient."""


class SpecError(ValueError):
    """A description that no file can be made from. The text says what was expected and what was found."""


def digest_messages(
    session: Session, patient_ids: Sequence[int], clinician: Clinician, until: date, now: datetime
) -> list[str]:
    """The digest of those patients for the week that ends with `until`, as plain-text messages of at most 4,096 characters.

    `clinician`: who reads it; the texts are the same for everybody. `now`: an aware UTC datetime.
    """
    caseload = gather(session, patient_ids, until=until, now=now)
    return messages(in_order(caseload.histories), until)


def render(session: Session, spec: Mapping[str, Any], now: datetime) -> tuple[str, bytes, str]:
    """File name, bytes and media type of a description. Raises `SpecError` where it cannot be made.

    {"what": "progress_chart" or "patient_chart", "patient_id": 1, "until": "2026-03-29"}
    {"what": "digest_pdf", "clinician_id": 1, "patient_ids": [1, 2], "until": "2026-03-29"}
    """
    try:
        what = What(spec["what"])
        until = date.fromisoformat(spec["until"])
        if what is What.DIGEST_PDF:
            ids = [int(each) for each in spec["patient_ids"]]
            clinician_id = int(spec["clinician_id"])
        else:
            ids = [int(spec["patient_id"])]
    except (KeyError, TypeError, ValueError) as problem:
        raise SpecError(f"a picture or digest cannot be made from {dict(spec)!r}: {problem!r}") from None
    if what is What.DIGEST_PDF:
        return digest_file(session, ids, clinician=clinician_names(session).get(clinician_id, ""), until=until, now=now)
    found = gather(session, ids, until=until, now=now).histories
    if not found:
        raise SpecError(f"there is no patient {ids[0]}")
    if what is What.PATIENT_CHART:
        return f"chart-{until}.png", patient_chart(found[0]), PNG
    return f"progress-{until}.png", progress_chart(found[0]), PNG


def digest_file(
    session: Session, patient_ids: Sequence[int], *, clinician: str, until: date, now: datetime
) -> tuple[str, bytes, str]:
    """The digest as a PDF: file name, bytes and media type."""
    from bot.digest.pdf import digest_pdf

    lines = in_order(gather(session, patient_ids, until=until, now=now).histories)
    return f"digest-{until}.pdf", digest_pdf(lines, clinician=clinician, until=until), PDF


def patient_chart(history: History) -> bytes:
    """The clinician's chart as a PNG."""
    from bot.digest.charts import clinician_chart

    return clinician_chart(history)


def progress_chart(history: History) -> bytes:
    """The patient's own picture as a PNG."""
    from bot.digest.charts import patient_picture

    return patient_picture(history)
