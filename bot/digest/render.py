"""What the rest of the house calls: the digest's messages, and a picture or PDF from its description when it is sent.

The description (`spec`) is plain JSON, so that it can wait in the outbox; the file is made from the data of the moment.
Drawing is imported only when something is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from functools import partial
from threading import Lock
from typing import Any

from sqlmodel import Session

from bot.digest.attention import in_order
from bot.digest.gather import gather
from bot.digest.message import messages
from bot.digest.values import History
from storage.figures import clinician_names
from storage.tables import Clinician

_ONE_AT_A_TIME = Lock()
"""matplotlib does not promise to draw in two threads at once."""
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Prepared:
    """A file whose data are read and that is not drawn yet: drawing takes seconds and needs no database."""

    name: str
    media_type: str
    draw: Callable[[], bytes]


def prepare(session: Session, spec: Mapping[str, Any], now: datetime) -> Prepared:
    """Read what a description needs; `draw()` it after the transaction, which would lock a database for seconds.

    {"what": "progress_chart" or "patient_chart", "patient_id": 1, "until": "2026-03-29"}
    {"what": "digest_pdf", "clinician_id": 1, "patient_ids": [1, 2], "until": "2026-03-29"}

    Raises `SpecError` where no file can be made.
    """
    try:
        what = What(spec["what"])
        until = date.fromisoformat(spec["until"])
        if what is What.DIGEST_PDF:
            ids = [int(each) for each in spec["patient_ids"]]
            clinician_id = int(spec["clinician_id"])
        else:
            ids = [int(spec["patient_id"])]
            clinician_id = 0
    except (KeyError, TypeError, ValueError) as problem:
        raise SpecError(f"a picture or digest cannot be made from {dict(spec)!r}: {problem!r}") from None
    histories = gather(session, ids, until=until, now=now).histories
    if what is What.DIGEST_PDF:
        name = clinician_names(session).get(clinician_id, "")
        return Prepared(
            name=f"digest-{until}.pdf",
            media_type=PDF,
            draw=partial(draw_digest, histories, clinician=name, until=until),
        )
    if not histories:
        raise SpecError(f"there is no patient {ids[0]}")
    if what is What.PATIENT_CHART:
        return Prepared(name=f"chart-{until}.png", media_type=PNG, draw=partial(draw_patient_chart, histories[0]))
    return Prepared(name=f"progress-{until}.png", media_type=PNG, draw=partial(draw_progress_chart, histories[0]))


def render(session: Session, spec: Mapping[str, Any], now: datetime) -> tuple[str, bytes, str]:
    """File name, bytes and media type of a description (see `prepare`, which does not draw inside a transaction)."""
    prepared = prepare(session, spec, now)
    return prepared.name, prepared.draw(), prepared.media_type


def draw_digest(histories: Sequence[History], *, clinician: str, until: date) -> bytes:
    """The digest as a PDF."""
    from bot.digest.pdf import digest_pdf

    with _ONE_AT_A_TIME:
        return digest_pdf(in_order(histories), clinician=clinician, until=until)


def draw_patient_chart(history: History) -> bytes:
    """The clinician's chart as a PNG."""
    from bot.digest.charts import clinician_chart

    with _ONE_AT_A_TIME:
        return clinician_chart(history)


def draw_progress_chart(history: History) -> bytes:
    """The patient's own picture as a PNG."""
    from bot.digest.charts import patient_picture

    with _ONE_AT_A_TIME:
        return patient_picture(history)
