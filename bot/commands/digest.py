"""`heel-checkin digest`: the week's PDF, message and charts as files, for each clinician, or for an invented caseload."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import make_url
from sqlmodel import Session

from bot.digest.attention import in_order
from bot.digest.gather import gather
from bot.digest.message import messages
from bot.digest.render import draw_digest, draw_patient_chart, draw_progress_chart
from bot.digest.values import History
from storage import people, shares
from storage.database import Database, DatabaseError, open_database
from storage.tables import Clinician

_BETWEEN_MESSAGES = "\n\n----\n\n"


class DigestError(Exception):
    """The digest cannot be made. The text says what was expected, what was found, and what to do."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Digest:
    """One clinician's digest, read and not drawn yet."""

    number: int
    name: str
    until: date
    histories: tuple[History, ...]


def digest(
    *,
    out: Path,
    clinician: str | None,
    until: str | None,
    database_url: str | None,
    demo: bool,
    now: datetime,
    say: Callable[[str], None],
    complain: Callable[[str], None],
) -> int:
    """Write the files into `out` and name each. Returns the exit status: 0 written, 1 not.

    `clinician`: a name, or the beginning of one; all clinicians if None. `until`: the last day of the week, YYYY-MM-DD;
    yesterday on the clinician's clock if None. `database_url`: that of the settings if None. `demo`: an invented
    caseload instead of a database. `now`: an aware UTC datetime.
    """
    try:
        last = _date(until, now)
        if demo:
            if database_url is not None:
                raise DigestError("--demo makes its own caseload; leave --database out.")
            found, last = _demo(clinician, last, say)
        else:
            found = _stored(clinician, last, database_url, now)
        _make_folder(out)
        for each in found:
            for path in _write(each, out):
                say(str(path))
    except (DigestError, DatabaseError) as problem:
        complain(str(problem))
        return 1
    except OSError as problem:
        complain(f"The files cannot be written: {problem}. Give a folder with --out that you may write to.")
        return 1
    return 0


def _date(text: str | None, now: datetime) -> date | None:
    if text is None:
        return None
    try:
        last = date.fromisoformat(text)
    except ValueError:
        raise DigestError(f'--until was "{text}"; expected a date such as 2026-03-29.') from None
    if last > now.date() + timedelta(days=1):
        raise DigestError(f"--until was {last}, which is still to come; give today or an earlier day.")
    return last


def _demo(clinician: str | None, last: date | None, say: Callable[[str], None]) -> tuple[list[_Digest], date]:
    from bot.commands.demo_caseload import LAST_DAY, START, WEEKS, demo_caseload

    last = LAST_DAY if last is None else last
    if not START <= last <= LAST_DAY:
        raise DigestError(f"--until was {last}; the invented caseload has the days from {START} to {LAST_DAY}.")
    say(f"Playing {WEEKS} weeks of five invented patients; this takes some seconds.")
    database, _ = demo_caseload(weeks=(last - START).days // 7 + 1)
    try:
        begun = datetime(last.year, last.month, last.day, 8, tzinfo=UTC) + timedelta(days=1)
        return _read(database, clinician, last, begun), last
    finally:
        database.close()


def _stored(clinician: str | None, last: date | None, database_url: str | None, now: datetime) -> list[_Digest]:
    from bot.settings import SettingsError, load_settings

    try:
        url = load_settings(database_url=database_url).database_url
    except SettingsError as problem:
        raise DigestError(str(problem)) from None
    parsed = make_url(url)
    # Opening would make an empty file where there is none.
    if parsed.get_backend_name() == "sqlite" and not (parsed.database and Path(parsed.database).is_file()):
        raise DigestError(
            f"There is no database at {parsed.render_as_string()}. Give one with --database or "
            "HEEL_CHECKIN_DATABASE_URL, or use --demo to see an invented caseload."
        )
    database = open_database(url)
    try:
        return _read(database, clinician, last, now)
    finally:
        database.close()


def _read(database: Database, clinician: str | None, last: date | None, now: datetime) -> list[_Digest]:
    """All that is drawn later: the database is not locked while pictures are made."""
    with database.session() as session:
        chosen = _chosen(people.clinicians(session), clinician)
        return [_digest_of(session, each, last, now) for each in chosen]


def _chosen(known: Sequence[Clinician], name: str | None) -> list[Clinician]:
    if not known:
        raise DigestError("There is no clinician in this database yet.")
    if name is None:
        return list(known)
    wanted = name.casefold().strip()
    exact = [each for each in known if each.name.casefold() == wanted]
    close = exact or [each for each in known if wanted and each.name.casefold().startswith(wanted)]
    if not close:
        raise DigestError(f'There is no clinician called "{name}". Known: {", ".join(each.name for each in known)}.')
    return close


def _digest_of(session: Session, clinician: Clinician, last: date | None, now: datetime) -> _Digest:
    today = now.astimezone(ZoneInfo(clinician.timezone)).date()
    until = today - timedelta(days=1) if last is None else last
    ids = [each.id for each in shares.caseload(session, clinician.id or 0, now) if each.id is not None]
    return _Digest(
        number=clinician.id or 0,
        name=clinician.name,
        until=until,
        histories=gather(session, ids, until=until, now=now).histories,
    )


def safe_name(text: str) -> str:
    """A name for a file: letters, digits and hyphens of plain ASCII, at most 30; "" where nothing is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:30].strip("-")


def _make_folder(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise DigestError(f"--out was {out}, which is a file; give a folder.")
    out.mkdir(parents=True, exist_ok=True)


def _write(found: _Digest, out: Path) -> list[Path]:
    stem = f"clinician-{found.number}"
    text = _BETWEEN_MESSAGES.join(messages(in_order(found.histories), found.until)) + "\n"
    files: list[tuple[str, bytes]] = [
        (f"{stem}-digest.pdf", draw_digest(found.histories, clinician=found.name, until=found.until)),
        (f"{stem}-digest.txt", text.encode("utf-8", "replace")),
    ]
    for history in found.histories:
        alias = safe_name(history.alias)
        name = f"{stem}-patient-{history.patient_id}" + (f"-{alias}" if alias else "")
        files.append((f"{name}-chart.png", draw_patient_chart(history)))
        files.append((f"{name}-progress.png", draw_progress_chart(history)))
    written: list[Path] = []
    for name, content in files:
        path = out / name
        # What patients said is for the one who asked for it, as in the database's own file.
        path.touch(mode=0o600)
        path.write_bytes(content)
        written.append(path)
    return written
