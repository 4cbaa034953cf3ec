"""Prompts, nudges and what comes with them, when the scheduler finds a patient due."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation import signs_asked
from bot.conversation.days import PatientDays
from bot.conversation.replies import Replies
from bot.conversation.wording import asking
from bot.conversation.wording import clinician as clinician_words
from bot.conversation.wording import days as day_words
from bot.conversation.wording import flags as flag_words
from bot.conversation.wording import prompts as prompt_words
from bot.program.reasons import Notice
from scheduler.times import is_too_late, local_day, next_due
from storage import messages, people, records
from storage.batch import in_bulk
from storage.tables import Patient

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

PAIN_BUTTONS = (tuple("01234"), ("5", "6", "7", "8"), ("9", "10"))
REST_BUTTONS = (("no pain at rest",), ("comes and goes",), ("constant",))
DONE_BUTTONS = (("all done", "some of it", "none of it"),)
YES_NO = (("yes", "no"),)


def schedule_next(patient: Patient, after: datetime) -> None:
    """Write down when the patient is due next."""
    if patient.start is None:
        return
    quiet = (patient.quiet_from, patient.quiet_until) if patient.quiet_from and patient.quiet_until else None
    due_at, kind = next_due(
        after,
        tz=ZoneInfo(patient.timezone),
        morning=patient.morning_time,
        evening=patient.evening_time,
        first_day=patient.start,
        quiet=quiet,
    )
    patient.next_due_at, patient.next_due_kind = due_at, kind


def morning_open(days: PatientDays, day: date) -> bool:
    """Whether the morning check-in still waits for an answer."""
    return not days.is_answered(day)


def evening_open(session: Session, days: PatientDays, day: date) -> bool:
    """Whether the evening check-in still waits for an answer."""
    evening = records.evening_of(session, days.id, day)
    return not (evening.reported and evening.worst_pain is not None)


def queue_due_prompts(
    session: Session, due: Sequence[Patient], replies: Callable[[], Replies], now: datetime, *, spread: timedelta
) -> None:
    """Queue what is due for all of these patients, in a number of statements that does not grow with them.

    `replies` makes what queues the texts, one for each patient.
    """
    days = {
        patient.id: local_day(patient.next_due_at, ZoneInfo(patient.timezone))
        for patient in due
        if patient.id is not None and patient.start is not None and patient.next_due_at is not None
    }
    with in_bulk(session, due, days):
        for patient in due:
            queue_due_prompt(session, patient, replies(), now, spread=spread)


def queue_due_prompt(
    session: Session, patient: Patient, replies: Replies, now: datetime, *, spread: timedelta = timedelta(0)
) -> None:
    """Queue what is due for the patient, unless it is answered or hours late, and write down the next time.

    `spread`: morning prompts go out over so long a time.
    """
    kind, due_at = patient.next_due_kind, patient.next_due_at
    if kind is None or due_at is None or patient.status != "active":
        patient.next_due_at = None
        return
    schedule_next(patient, due_at)
    if patient.next_due_at is not None and patient.next_due_at <= now:
        schedule_next(patient, now)
    if is_too_late(kind, due_at, now):
        return
    day = local_day(due_at, ZoneInfo(patient.timezone))
    days = PatientDays(session, patient, now)
    for closed in days.close_until(day):
        tell_notices(session, days, closed.notices, replies, days.day_numbered(closed.day))
    key = f"prompt:{patient.id}:{day}:{kind}"
    if kind == "morning" and morning_open(days, day):
        delay = _place_in(spread, days.id)
        text, buttons = _first(patient, "morning") or (_morning_text(patient, days, day), PAIN_BUTTONS)
        replies.say(text, patient=patient, kind="prompt", key=key, buttons=buttons, delay=delay)
    elif kind == "evening" and evening_open(session, days, day):
        text, buttons = _first(patient, "evening") or (prompt_words.evening_prompt(patient.alias), DONE_BUTTONS)
        replies.say(text, patient=patient, kind="prompt", key=key, buttons=buttons)
    elif kind == "morning_nudge" and "morning" in messages.prompts_sent(session, days.id, day):
        if records.morning_of(session, days.id, day).silent:
            replies.say(prompt_words.nudge("morning"), patient=patient, kind="nudge", key=key)
    elif kind == "evening_nudge" and "evening" in messages.prompts_sent(session, days.id, day):
        evening = records.evening_of(session, days.id, day)
        if not evening.reported and evening.worst_pain is None:
            replies.say(prompt_words.nudge("evening"), patient=patient, kind="nudge", key=key)


def _place_in(spread: timedelta, patient_id: int) -> timedelta:
    """The patient's own place in the spread: the golden ratio's multiples lie evenly, however many there are."""
    return spread * ((patient_id * 0.618033988749895) % 1)


def _first(patient: Patient, kind: str) -> tuple[str, tuple[tuple[str, ...], ...]] | None:
    """What has to be known before anything else: a possible warning sign, or what is new or worrying. No plan before it.

    Its buttons are the only ones: a score pressed here would be taken for an answer to it, or a yes for another one.
    """
    memory = patient.dialogue or {}
    if waiting := signs_asked.kept_in(memory):
        return prompt_words.only_that(patient.alias, kind, asking.ask_flag(waiting[0].code)), YES_NO
    if memory.get("worry"):
        return prompt_words.only_that(patient.alias, kind, asking.ask_worry_in_the_morning()), ()
    return None


def _morning_text(patient: Patient, days: PatientDays, day: date) -> str:
    shown = days.decided_or_provisional(day)
    week = days.week(day)
    codes = days.open_codes()
    if codes:
        return (
            prompt_words.morning_prompt(patient.alias, None, week)
            + "\n\n"
            + flag_words.still_open(codes, clinician_name(days.session, patient))
        )
    if shown.only_question:
        return prompt_words.only_question(patient.alias)
    text = prompt_words.morning_prompt(patient.alias, day_words.plan_lines(shown.plan, shown, days.protocol), week)
    milestone = prompt_words.milestone(week) if (days.number(day) - 1) % 7 == 0 else ""
    return f"{milestone}\n\n{text}" if milestone else text


def clinician_name(session: Session, patient: Patient) -> str:
    """The name of the patient's clinician, or plain words for it."""
    clinician = people.clinician_of(session, patient)
    return clinician.name if clinician is not None else "your clinician"


def tell_notices(session: Session, days: PatientDays, notices: Sequence[str], replies: Replies, day: date) -> None:
    """Keep what the clinician has to be told: irritable at once, the rest with the digest."""
    clinician = people.clinician_of(session, days.patient)
    for notice in notices:
        people.add_action(
            session,
            patient_id=days.id,
            clinician_id=None,
            kind="notice",
            details={"notice": str(notice), "day": str(day)},
            now=days.now,
        )
        at_once = notice == Notice.IRRITABLE or (
            clinician is not None and clinician.tells_at_once and notice in {Notice.SILENCE, Notice.LONG_INFLAMMATORY}
        )
        if clinician is not None and at_once:
            replies.say(
                f"{days.patient.alias}: {clinician_words.notice(notice)}",
                clinician=clinician,
                about=days.patient,
                kind="alert",
                key=f"notice:{days.id}:{day}:{notice}",
            )
