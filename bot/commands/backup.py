"""`heel-checkin backup` and `heel-checkin restore`."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from bot.settings import SettingsError, load_settings
from storage.backup import BackupError, Manifest, backup, restore
from storage.database import DatabaseError

Say = Callable[[str], None]


def back_up(*, out: Path, database: str | None, now: datetime, say: Say, complain: Say) -> int:
    """Write a backup to `out`: a new file, or a folder that gets one named for the time. Returns the exit status."""
    moment = now.astimezone(UTC)
    path = out / f"heel-checkin-{moment:%Y%m%dT%H%M%SZ}.backup" if out.is_dir() else out
    try:
        manifest = backup(load_settings(database_url=database).database_url, path, now)
    except (SettingsError, BackupError, DatabaseError) as problem:
        complain(str(problem))
        return 1
    say(f"{path}: {_told(manifest)}. It holds patients' data: keep it as safe as the database.")
    return 0


def bring_back(*, file: Path, database: str | None, say: Say, complain: Say) -> int:
    """Restore the backup `file` into an empty database. Returns the exit status."""
    try:
        settings = load_settings(database_url=database)
        manifest = restore(file, settings.database_url)
    except (SettingsError, BackupError, DatabaseError) as problem:
        complain(str(problem))
        return 1
    say(f"{settings.database_shown}: {_told(manifest)}.")
    if manifest.rows.get("patients"):
        say("Patients who were erased after this backup was made are back: erase them again.")
    return 0


def _told(manifest: Manifest) -> str:
    return (
        f"{manifest.total} rows, {manifest.rows.get('patients', 0)} patients, as of "
        f"{manifest.made_at:%Y-%m-%d %H:%M} UTC, version {manifest.schema}"
    )
