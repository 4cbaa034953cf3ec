"""A patient's own copy of the data: JSON with everything, CSV with a line a day, FHIR R4 with the morning scores.

Pure: what is stored comes in, documents go out.
"""

from __future__ import annotations

import csv
import io
import json
import uuid
import zipfile
from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from bot.program.reasons import RULE_OF, Reason
from scheduler.times import local_day
from storage.export import PatientRecord
from storage.tables import ClinicianAction, DayDecisionRow, OutgoingMessage

ABOUT = (
    "All that this service keeps about you: what you said, what was worked out from it and why, what was sent to you, "
    "and what your clinician did. Only the notes are left out: they are your clinician's own, "
    "and your clinician can show them to you. Days are your local dates; times are UTC. "
    "Pain is from 0 (none) to 10 (worst). A row with 'withdrawn_at' was taken back or corrected later."
)
NOTE_KEPT_BACK = "a note of the clinician's, not part of this copy"
_PRIVATE_KINDS = frozenset({"note"})
_PRIVATE_DETAILS = frozenset({"note"})
_ARCHIVE_NAMES = {"json": "everything.json", "csv": "days.csv", "fhir": "fhir-bundle.json"}
FORMATS = tuple(_ARCHIVE_NAMES)
_NAMESPACE = uuid.UUID("6f8f8d0e-5a53-4c1c-9d1f-3a0c64a7b7d2")
"""Any fixed value: the same morning keeps its identity from one copy to the next."""


# -- JSON


def json_document(record: PatientRecord, now: datetime) -> str:
    """Everything, for a person or a program to read."""
    patient = record.patient
    document = {
        "about": ABOUT,
        "made_at": now,
        "you": {
            "alias": patient.alias,
            "clinician": record.clinicians.get(patient.clinician_id or 0),
            "chat": {"channel": patient.channel, "address": patient.address},
            "foot": patient.foot,
            "timezone": patient.timezone,
            "morning_time": patient.morning_time,
            "evening_time": patient.evening_time,
            "status": patient.status,
            "enrolled_at": patient.created_at,
            "first_day": patient.start,
            "activity_before": patient.prior_activity,
            "first_step_pain_at_enrolment": patient.enrolled_first_step_pain,
            "rest_pain_at_enrolment": patient.enrolled_rest_pattern,
            "starting_dose": {
                "walk_minutes": patient.start_walk,
                "heel_raise_step": patient.start_step,
                "sets": patient.start_sets,
                "reps": patient.start_reps,
            },
            "walking_target_minutes": patient.walk_target,
            "least_days_between_increases": patient.interval,
            "paused_until": patient.paused_until,
            "loading_stopped": patient.loading_stopped,
            "phase_set_by_hand": patient.phase_by_hand,
            "dose_ordered": {
                "day": patient.dose_order_day,
                "walk_minutes": patient.dose_order_walk,
                "heel_raise_step": patient.dose_order_step,
                "sets": patient.dose_order_sets,
                "reps": patient.dose_order_reps,
            },
            "quiet_from": patient.quiet_from,
            "quiet_until": patient.quiet_until,
            "dialogue": patient.dialogue,
        },
        "mornings": [
            {
                "day": row.day,
                "first_step_pain": row.first_step_pain,
                "rest_pain": row.rest_pattern,
                "minutes_until_settled": row.settle_minutes,
                "message": row.message_id,
                "recorded_at": row.created_at,
                "withdrawn_at": row.withdrawn_at,
            }
            for row in record.morning_reports
        ],
        "evenings": [
            {
                "day": row.day,
                "worst_pain": row.worst_pain,
                "plan_done": row.plan_done,
                "activities": [
                    {
                        "activity": each.activity,
                        "minutes": each.minutes,
                        "count": each.count,
                        "steps": each.steps,
                        "km": each.km,
                    }
                    for each in record.activities.get(row.id or 0, ())
                ],
                "exercises": [
                    {"exercise": each.exercise, "sets": each.sets, "reps": each.reps, "seconds": each.seconds}
                    for each in record.exercises.get(row.id or 0, ())
                ],
                "message": row.message_id,
                "recorded_at": row.created_at,
                "withdrawn_at": row.withdrawn_at,
            }
            for row in record.evening_reports
        ],
        "decisions": [_decision(row) for row in record.decisions],
        "flares": [
            {"day": row.day, "cause": row.cause, "candidates": row.candidates, "superseded_at": row.superseded_at}
            for row in record.flares
        ],
        "warning_signs": [
            {
                "sign": row.code,
                "score": row.score,
                "your_words": row.words,
                "opened_at": row.opened_at,
                "cleared_at": row.cleared_at,
                "cleared_by": record.clinicians.get(row.cleared_by or 0),
                "note": NOTE_KEPT_BACK if row.note else None,
            }
            for row in record.flags
        ],
        "clinician_actions": [_action(row, record) for row in record.actions],
        "messages_from_you": [
            {
                "message": row.id,
                "kind": row.kind,
                "text": row.text,
                "sent_at": row.sent_at,
                "received_at": row.received_at,
                "understood_as": row.reading,
            }
            for row in record.received
        ],
        "messages_to_you": [
            {
                "kind": row.kind,
                "text": row.text,
                "buttons": row.buttons,
                "day": row.day,
                "due_at": row.due_at,
                "sent_at": row.sent_at,
                "refused_at": row.refused_at,
                "in_reply_to": row.in_reply_to,
            }
            for row in record.sent
            if not _is_the_copy(row)
        ],
    }
    return json.dumps(document, ensure_ascii=False, indent=1, default=_plain) + "\n"


def _is_the_copy(row: OutgoingMessage) -> bool:
    return row.secret and row.sent_at is None


def _plain(value: Any) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no place in a copy")


def _decision(row: DayDecisionRow) -> dict[str, Any]:
    return {
        "day": row.day,
        "phase": row.phase,
        "decision": row.decision,
        "reasons": [{"reason": code, "rule": _rule(code)} for code in row.reasons],
        "plan": {"walk_minutes": row.walk, "heel_raise_step": row.step, "sets": row.sets, "reps": row.reps},
        "details": row.value,
        "thresholds_that_differ": row.protocol,
        "decided_at": row.decided_at,
    }


def _rule(code: str) -> str | None:
    return RULE_OF[Reason(code)] if code in set(Reason) else None


def _action(row: ClinicianAction, record: PatientRecord) -> dict[str, Any]:
    details: dict[str, Any] | str
    if row.kind in _PRIVATE_KINDS:
        details = NOTE_KEPT_BACK
    else:
        details = {
            name: NOTE_KEPT_BACK if name in _PRIVATE_DETAILS and value else value for name, value in row.details.items()
        }
    return {
        "at": row.at,
        "by": record.clinicians.get(row.clinician_id or 0, "the rules"),
        "what": row.kind,
        "details": details,
        "undone_at": row.undone_at,
    }


# -- CSV

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""https://owasp.org/www-community/attacks/CSV_Injection: = + - @ tab, carriage return, line feed and the full-width forms
of the signs; ASVS 1.2.10 adds NUL."""


def safe_cell(value: Any) -> Any:
    """A text that a spreadsheet would run gets an apostrophe in front. Numbers stay numbers."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and (value.startswith(_FORMULA_STARTS) or value.lstrip().startswith(_FORMULA_STARTS)):
        return "'" + value
    return value


_COLUMNS = (
    "day",
    "day_number",
    "patient",
    "first_step_pain",
    "rest_pain",
    "minutes_until_settled",
    "worst_pain",
    "plan_done",
    "walking_minutes",
    "running_minutes",
    "standing_minutes",
    "other_activities",
    "heel_raise_sets",
    "heel_raise_reps",
    "other_exercises",
    "phase",
    "decision",
    "reasons",
    "planned_walk_minutes",
    "planned_heel_raise_step",
    "planned_sets",
    "planned_reps",
    "flare_cause",
    "warning_signs",
    "your_words",
)
_IN_COLUMNS = ("walking", "running", "standing")


def csv_document(record: PatientRecord) -> str:
    """A line a day, as the day stands after corrections: RFC 4180, with a byte order mark so that spreadsheets see UTF-8."""
    zone = ZoneInfo(record.patient.timezone)
    decisions = {row.day: row for row in record.decisions}
    flares = {row.day: row.cause for row in record.flares if row.superseded_at is None}
    signs: dict[date, list[str]] = defaultdict(list)
    for flag in record.flags:
        signs[local_day(flag.opened_at, zone)].append(flag.code)
    words: dict[date, list[str]] = defaultdict(list)
    for message in record.received:
        if message.text:
            words[local_day(message.sent_at, zone)].append(message.text)
    exercises = _other_exercises(record)
    out = io.StringIO(newline="")
    out.write("\ufeff")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for day in sorted({*record.mornings, *record.evenings, *decisions, *signs, *words}):
        morning, evening, decided = record.mornings.get(day), record.evenings.get(day), decisions.get(day)
        amounts = {} if evening is None else {str(each.activity): each for each in evening.activities}
        raises = None if evening is None else evening.raises
        cells: dict[str, Any] = {
            "day": day.isoformat(),
            "day_number": None if record.patient.start is None else (day - record.patient.start).days + 1,
            "patient": record.patient.alias,
            "flare_cause": flares.get(day),
            "warning_signs": _joined(signs[day]),
            "your_words": _joined(words[day], " / "),
            "other_exercises": _joined(exercises[day]),
            "other_activities": _joined(
                f"{name}{_amount(each)}"
                for name, each in amounts.items()
                if name not in _IN_COLUMNS or not each.minutes
            ),
        }
        for name in _IN_COLUMNS:
            cells[f"{name}_minutes"] = amounts[name].minutes if name in amounts else None
        if morning is not None:
            cells["first_step_pain"] = morning.first_step_pain
            cells["rest_pain"] = None if morning.rest_pattern is None else str(morning.rest_pattern)
            cells["minutes_until_settled"] = morning.settle_minutes
        if evening is not None:
            cells["worst_pain"] = evening.worst_pain
            cells["plan_done"] = None if evening.plan_done is None else str(evening.plan_done)
        if raises is not None:
            cells["heel_raise_sets"], cells["heel_raise_reps"] = raises.sets, raises.reps
        if decided is not None:
            cells["phase"], cells["decision"] = decided.phase, decided.decision
            cells["reasons"] = _joined(decided.reasons)
            cells["planned_walk_minutes"] = decided.walk
            cells["planned_heel_raise_step"] = decided.step
            cells["planned_sets"], cells["planned_reps"] = decided.sets, decided.reps
        writer.writerow([safe_cell(_number(cells.get(name))) for name in _COLUMNS])
    return out.getvalue()


def _number(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _joined(parts: Iterable[str], between: str = "; ") -> str | None:
    return between.join(parts) or None


def _amount(each: Any) -> str:
    told = [
        f"{_number(value)} {unit}"
        for value, unit in ((each.minutes, "min"), (each.count, "times"), (each.steps, "steps"), (each.km, "km"))
        if value is not None
    ]
    return "" if not told else " " + ", ".join(told)


def _other_exercises(record: PatientRecord) -> dict[date, list[str]]:
    found: dict[date, list[str]] = defaultdict(list)
    for report in record.evening_reports:
        if report.withdrawn_at is not None:
            continue
        for each in record.exercises.get(report.id or 0, ()):
            if each.exercise != "heel_raise":
                told = [
                    f"{unit} {value}"
                    for value, unit in ((each.sets, "sets"), (each.reps, "reps"), (each.seconds, "seconds"))
                    if value is not None
                ]
                found[report.day].append(" ".join([each.exercise, *told]))
    return found


# -- FHIR


def fhir_document(record: PatientRecord, now: datetime) -> str:
    """A FHIR R4 collection: the patient under the alias, and an observation for each morning's first-step pain.

    The scale is LOINC 72514-3 (https://loinc.org/72514-3). The observation's time is the day, in the patient's own
    calendar; `issued` is when it was recorded. Raises `ValueError` where the model refuses it.
    """
    # Slow to import, and seldom needed. R4B is R4 with changes in other resources than these.
    from fhir.resources.R4B.bundle import Bundle

    patient = record.patient
    whose = f"{patient.id}:{_plain(patient.created_at)}"
    patient_url = uuid.uuid5(_NAMESPACE, whose).urn
    recorded = {row.day: row.created_at for row in record.morning_reports if row.withdrawn_at is None}
    foot = {"left": "left heel", "right": "right heel"}.get(patient.foot, "both heels")
    entries: list[dict[str, Any]] = [
        {
            "fullUrl": patient_url,
            "resource": {
                "resourceType": "Patient",
                "identifier": [{"use": "secondary", "type": {"text": "alias"}, "value": patient.alias}],
            },
        }
    ]
    for day, morning in sorted(record.mornings.items()):
        if morning.first_step_pain is None:
            continue
        entries.append(
            {
                "fullUrl": uuid.uuid5(_NAMESPACE, f"{whose}:{day}").urn,
                "resource": {
                    "resourceType": "Observation",
                    "status": "final",
                    "category": [
                        {
                            "coding": [
                                {
                                    "system": "http://terminology.hl7.org/CodeSystem/observation-category",
                                    "code": "survey",
                                    "display": "Survey",
                                }
                            ]
                        }
                    ],
                    "code": {
                        "coding": [
                            {
                                "system": "http://loinc.org",
                                "code": "72514-3",
                                "display": "Pain severity - 0-10 verbal numeric rating [Score] - Reported",
                            }
                        ],
                        "text": "Heel pain with the first steps in the morning",
                    },
                    "bodySite": {"text": foot},
                    "subject": {"reference": patient_url},
                    "effectiveDateTime": day.isoformat(),
                    "issued": _plain(recorded[day]),
                    "valueQuantity": {
                        "value": morning.first_step_pain,
                        "unit": "{score}",
                        "system": "http://unitsofmeasure.org",
                        "code": "{score}",
                    },
                },
            }
        )
    bundle = Bundle.model_validate(
        {"resourceType": "Bundle", "type": "collection", "timestamp": _plain(now), "entry": entries}
    )
    return str(bundle.model_dump_json(indent=1)) + "\n"


# -- all of it


def documents(record: PatientRecord, now: datetime, formats: Iterable[str] = FORMATS) -> dict[str, bytes]:
    """File names and contents. `formats`: of "json", "csv", "fhir"."""
    makers = {
        "json": lambda: json_document(record, now),
        "csv": lambda: csv_document(record),
        "fhir": lambda: fhir_document(record, now),
    }
    return {_ARCHIVE_NAMES[name]: makers[name]().encode() for name in formats}


def archive(record: PatientRecord, now: datetime) -> bytes:
    """All documents in one zip file, to be sent in a chat."""
    out = io.BytesIO()
    made = now.astimezone(UTC)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in documents(record, now).items():
            entry = zipfile.ZipInfo(name, (made.year, made.month, made.day, made.hour, made.minute, made.second))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            packed.writestr(entry, content)
    return out.getvalue()
