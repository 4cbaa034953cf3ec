"""The tick: prompts, repeated alerts and digests, each step for itself.

Prompts are queued many at a time. Where one of them fails (a row that nobody can make sense of, a fault of ours), the batch is
done again one by one, each in a transaction of its own, and the culprit is set aside for an hour: nobody else's prompt,
alert or digest hangs on it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation import alerting, digests
from bot.conversation.prompting import queue_due_prompts, schedule_next
from bot.conversation.replies import Replies
from scheduler.times import due_instant, is_too_late, local_day
from storage import alerts, people
from storage.database import OUTAGES, Database
from storage.tables import Alert, Clinician, Patient

log = logging.getLogger(__name__)
SET_ASIDE = timedelta(hours=1)
_MOST_ALERTS, _MOST_DIGESTS = 50, 20


class _Step(NamedTuple):
    """One thing that is due at a time."""

    what: str
    work: Callable[[Session, Callable[[int], None]], bool]
    """Does the first thing that is due, and tells its number before. False: nothing is due."""
    aside: Callable[[Session, int], None]


def tick(database: Database, now: datetime, limit: int, *, spread: timedelta, set_aside: Callable[[str], None]) -> int:
    """See `Conversation.tick`."""
    looked_at, outage = 0, None
    steps: tuple[Callable[[], int], ...] = (
        lambda: _prompts(database, now, limit, spread, set_aside),
        lambda: _one_by_one(database, _alert_step(now), _MOST_ALERTS, set_aside),
        lambda: _one_by_one(database, _digest_step(now), _MOST_DIGESTS, set_aside),
    )
    for number, step in enumerate(steps):
        try:
            done = step()
        except OUTAGES as problem:
            outage = outage or problem
        else:
            looked_at += done if number == 0 else 0
    if outage is not None:
        raise outage
    return looked_at


def _prompts(database: Database, now: datetime, limit: int, spread: timedelta, set_aside: Callable[[str], None]) -> int:
    try:
        with database.session() as session:
            due = people.due_patients(session, now, limit)
            queue_due_prompts(session, due, lambda: Replies(session, now), now, spread=spread)
            return len(due)
    except OUTAGES:
        raise
    except Exception as problem:  # one of them is at fault; the others must get their prompts
        log.warning("A batch of prompts failed (%s); it is done again one by one", type(problem).__name__)

    def work(session: Session, begin: Callable[[int], None]) -> bool:
        due = people.due_patients(session, now, 1)
        for each in due:
            begin(each.id or 0)
            queue_due_prompts(session, [each], lambda: Replies(session, now), now, spread=spread)
        return bool(due)

    def aside(session: Session, number: int) -> None:
        patient = session.get(Patient, number)
        if patient is not None:
            _ask_again(patient, now)

    return _one_by_one(database, _Step("prompt", work, aside), limit, set_aside)


def _ask_again(patient: Patient, now: datetime) -> None:
    """In an hour, unless something else is due by then or it would be too late for it; then whatever is due next."""
    kind, due_at, later = patient.next_due_kind, patient.next_due_at, now + SET_ASIDE
    try:
        schedule_next(patient, now)
        zone = ZoneInfo(patient.timezone)
        meant = due_instant(
            kind or "", local_day(due_at or now, zone), zone, patient.morning_time, patient.evening_time
        )
    except Exception:  # the row itself makes no sense: look again in an hour, as long as that may take
        patient.next_due_at, patient.next_due_kind = later, kind
        return
    too_late = meant is None or is_too_late(kind or "", meant, later)
    next_at = patient.next_due_at
    if next_at is not None and next_at > now and (too_late or next_at <= later):
        return
    patient.next_due_at, patient.next_due_kind = later, kind


def _alert_step(now: datetime) -> _Step:
    def work(session: Session, begin: Callable[[int], None]) -> bool:
        due = alerts.due(session, now, 1)
        for each in due:
            begin(each.id or 0)
            # Takes the same one: it is the first that is due, and locked by us.
            alerting.repeat_due(session, Replies(session, now), now, 1)
        return bool(due)

    def aside(session: Session, number: int) -> None:
        alert = session.get(Alert, number)
        if alert is not None:
            alert.next_at = now + SET_ASIDE

    return _Step("alert", work, aside)


def _digest_step(now: datetime) -> _Step:
    def work(session: Session, begin: Callable[[int], None]) -> bool:
        due = people.due_clinicians(session, now, 1)
        for each in due:
            begin(each.id or 0)
            digests.queue_due_digest(session, each, Replies(session, now), now)
        return bool(due)

    def aside(session: Session, number: int) -> None:
        clinician = session.get(Clinician, number)
        if clinician is not None:
            clinician.next_digest_at = now + SET_ASIDE

    return _Step("digest", work, aside)


def _one_by_one(database: Database, step: _Step, limit: int, set_aside: Callable[[str], None]) -> int:
    """Each in a transaction of its own, until nothing is due. Returns how many there were."""
    for done in range(limit):
        started: list[int] = []
        try:
            with database.session() as session:
                if not step.work(session, started.append):
                    return done
        except OUTAGES:
            raise
        except Exception as problem:  # told, counted, and the next one's turn
            log.error(
                "The %s of number %s failed and is set aside for an hour",
                step.what,
                started[-1] if started else "(unknown)",
                extra={"error": type(problem).__name__},
                exc_info=True,
            )
            set_aside(step.what)
            if not started:
                return done
            with database.session() as session:
                step.aside(session, started[-1])
    return limit
