"""`heel-checkin export`: one patient's own copy of the data, as files for the owner only."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from sqlalchemy import make_url

from bot.conversation.export import FORMATS, documents
from bot.settings import SettingsError, load_settings
from storage.database import Database, DatabaseError, open_database
from storage.export import patient_record, patients_called
from storage.tables import Patient

Say = Callable[[str], None]


def export_patient(
    *, patient: str, out: Path, formats: str, database: str | None, now: datetime, say: Say, complain: Say
) -> int:
    """Write the documents. `patient`: a number or an alias; `formats`: json, csv, fhir or all. Returns the exit status."""
    if formats not in (*FORMATS, "all"):
        complain(f"--format: expected {', '.join(FORMATS)} or all, found {formats!r}.")
        return 2
    try:
        opened = open_existing(load_settings(database_url=database).database_url)
    except (SettingsError, DatabaseError) as problem:
        complain(str(problem))
        return 1
    try:
        with opened.session() as session:
            found = _wanted(patients_called(session, patient), session.get(Patient, _number(patient)))
            if len(found) != 1:
                complain(_not_one(patient, found))
                return 1
            record = patient_record(session, found[0].id or 0)
    finally:
        opened.close()
    try:
        files = documents(record, now, FORMATS if formats == "all" else (formats,))
        out.mkdir(mode=0o700, parents=True, exist_ok=True)
        for name, content in files.items():
            path = out / f"patient-{record.patient.id}-{now.date().isoformat()}-{name}"
            _write_privately(path, content)
            say(str(path))
    except OSError as problem:
        complain(f"--out: the files cannot be written to {out}: {problem.strerror}.")
        return 1
    return 0


def open_existing(url: str) -> Database:
    """Open a database that must be there already. Raises `DatabaseError`."""
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite" and not Path(parsed.database or "").is_file():
        raise DatabaseError(
            f"There is no database at {parsed.database or ':memory:'}. Check --database or HEEL_CHECKIN_DATABASE_URL."
        )
    return open_database(url)


def _number(text: str) -> int:
    # No patient has the number 0, and no database takes a number of more than 18 digits.
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


def _wanted(called: list[Patient], numbered: Patient | None) -> list[Patient]:
    others = [] if numbered is None or numbered in called else [numbered]
    return [*called, *others]


def _not_one(given: str, found: list[Patient]) -> str:
    if not found:
        return f"There is no patient {given!r}: expected a number, or an alias as the clinician typed it."
    numbers = ", ".join(str(each.id) for each in found)
    return f"{given!r} fits more than one patient. Give the number instead, one of: {numbers}."


def _write_privately(path: Path, content: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as file:
        if hasattr(os, "fchmod"):
            os.fchmod(file.fileno(), 0o600)
        file.write(content)
