"""`heel-checkin check`: what is wrong with this installation, and how to mend it."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import httpx
from alembic.script import ScriptDirectory
from sqlalchemy import delete, func, inspect, make_url, text
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlmodel import Session, col, select

from bot.settings import PREFIX, Settings, SettingsError, load_settings, unknown_variables
from storage.database import Database, DatabaseError, alembic_config, open_database
from storage.tables import Clinician, Erasure, OutgoingMessage, Patient

Say = Callable[[str], None]
Clock = Callable[[], datetime]

CLOCK_OFF = timedelta(seconds=60)
LATE_PROMPT = timedelta(minutes=10)
"""The service looks for what is due every few seconds."""
LATE_MESSAGE = timedelta(minutes=10)
LEAST_SPACE = 200 * 1024 * 1024
"""Bytes. A clinic's year is some tens of megabytes; the write-ahead log and a backup need room as well."""
_PATIENCE = 10.0
"""Seconds for one request."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One thing that was looked at. `mend`: what to do, if it is wrong."""

    about: str
    told: str
    mend: str | None = None

    @property
    def is_right(self) -> bool:
        """Nothing to mend."""
        return self.mend is None


# -- settings


def check_settings(environment: Mapping[str, str]) -> tuple[Settings | None, list[Finding]]:
    """The settings, if they can be used, and what is wrong with them."""
    findings = [
        Finding(
            about="settings",
            told=f"{name} is set, and means nothing",
            mend="It may be misspelt: `heel-checkin serve --help` and README.md list the settings.",
        )
        for name in unknown_variables(environment)
    ]
    try:
        settings = load_settings()
    except SettingsError as problem:
        return None, findings + [
            Finding(about="settings", told=line, mend="Set it as told, or unset it.")
            for line in str(problem).splitlines()
        ]
    return settings, findings or [Finding(about="settings", told="can be used")]


# -- the database


def check_database_file(settings: Settings) -> list[Finding]:
    """The SQLite file: that its folder is there or can be made, and that only its owner can read it."""
    url = make_url(settings.database_url)
    if url.get_backend_name() != "sqlite":
        return []
    if url.database in (None, "", ":memory:"):
        return [
            Finding(
                about="database",
                told="is in memory, and forgotten at every stop",
                mend=f"Set {PREFIX}DATABASE_URL to sqlite:/// and a file's path.",
            )
        ]
    path = Path(str(url.database))
    if not path.exists():
        return [Finding(about="database", told=f"{path} is not there yet; `serve` makes it")]
    open_to_others = [
        each for each in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))) if _is_open(each)
    ]
    if open_to_others:
        names = " ".join(str(each) for each in open_to_others)
        return [
            Finding(
                about="database file",
                told=f"others on this machine can read or write {names}",
                mend=f"chmod 600 {names}",
            )
        ]
    return [Finding(about="database file", told=f"{path} is for its owner only")]


def _is_open(path: Path) -> bool:
    return path.exists() and bool(path.stat().st_mode & 0o077)


def open_checked(settings: Settings) -> tuple[Database | None, list[Finding]]:
    """The database, if it can be reached. Nothing is made or changed."""
    url = make_url(settings.database_url)
    if url.get_backend_name() == "sqlite" and not Path(str(url.database)).is_file():
        return None, []
    try:
        return open_database(settings.database_url, migrate=False), []
    except DatabaseError as problem:
        return None, [
            Finding(
                about="database",
                told=f"{settings.database_shown}: {problem}",
                mend="Start the database, or correct its address, user and password.",
            )
        ]


def check_version(database: Database) -> Finding:
    """That the tables are of this program's version, or can be brought there."""
    scripts = ScriptDirectory.from_config(alembic_config())
    head = scripts.get_current_head()
    with database.engine.connect() as connection:
        found = (
            connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
            if inspect(connection).has_table("alembic_version")
            else None
        )
    if found is None:
        return Finding(about="database version", told="no tables yet; `serve` makes them")
    if found == head:
        return Finding(about="database version", told=str(found))
    if found in {each.revision for each in scripts.walk_revisions()}:
        return Finding(about="database version", told=f"{found}; `serve` brings it to {head} (make a backup before)")
    return Finding(
        about="database version",
        told=f"{found}, and this program knows up to {head}",
        mend="Install the newer program, or restore a backup that fits.",
    )


def check_writable(database: Database) -> Finding:
    """That rows can be written: a deletion of nothing, rolled back."""
    try:
        with database.engine.connect() as connection:
            if inspect(connection).has_table("erasures"):
                connection.execute(delete(Erasure).where(text("1 = 0")))
            connection.rollback()
    except DBAPIError as problem:
        return Finding(
            about="database",
            told=f"cannot be written: {_first_line(problem.orig)}",
            mend="Give this user the right to write it (for a file: to its folder too), make room on the disk, or end the "
            "program that holds it.",
        )
    return Finding(about="database", told="can be read and written")


def _first_line(problem: BaseException | None) -> str:
    return str(problem).partition("\n")[0]


def check_space(settings: Settings, free: Callable[[Path], int] | None = None) -> list[Finding]:
    """That the disk of an SQLite file has room. A server's disk is not this machine's to see."""
    url = make_url(settings.database_url)
    if url.get_backend_name() != "sqlite" or url.database in (None, "", ":memory:"):
        return []
    folder = next((each for each in Path(str(url.database)).absolute().parents if each.exists()), Path("/"))
    left = (free or (lambda path: shutil.disk_usage(path).free))(folder)
    told = f"{left // 1024**2} MB free in {folder}"
    if left < LEAST_SPACE:
        return [Finding(about="disk", told=told, mend=f"Make room: at least {LEAST_SPACE // 1024**2} MB.")]
    return [Finding(about="disk", told=told)]


# -- time


def check_zones(session: Session) -> Finding:
    """That the time-zone data is there, for every zone that people live in."""
    zones = {"Europe/Lisbon", *session.exec(select(Patient.timezone).distinct())}
    zones.update(session.exec(select(Clinician.timezone).distinct()))
    return check_zone_names(zones)


def check_zone_names(zones: set[str]) -> Finding:
    """That each of these zones is known."""
    unknown = []
    for zone in sorted(zones):
        try:
            ZoneInfo(zone)
        except (ValueError, OSError, LookupError):
            unknown.append(zone)
    if unknown:
        return Finding(
            about="time zones",
            told=f"no data for {', '.join(unknown)}",
            mend="pip install --upgrade tzdata",
        )
    return Finding(about="time zones", told=f"data for all {len(zones)} that are used")


def check_clock(settings: Settings, clock: Clock) -> Finding:
    """That this machine's clock is right, by the date that the Bot API's server sends along."""
    try:
        response = httpx.get(settings.telegram_api, timeout=_PATIENCE, follow_redirects=False)
        sent = response.headers.get("Date")
        theirs = parsedate_to_datetime(sent) if sent else None
    except (httpx.HTTPError, ValueError) as problem:
        return Finding(
            about="clock",
            told=f"cannot be compared: {settings.telegram_api} does not answer ({type(problem).__name__})",
            mend=f"Check the network, and {PREFIX}TELEGRAM_API.",
        )
    if theirs is None:
        return Finding(about="clock", told=f"not compared: {settings.telegram_api} sends no date")
    off = clock() - theirs.astimezone(UTC)
    seconds = round(off.total_seconds())
    if abs(off) > CLOCK_OFF:
        return Finding(
            about="clock",
            told=f"{abs(seconds)} s {'ahead' if seconds > 0 else 'behind'}: prompts go out at the wrong time",
            mend="Set the clock by the network, such as with `timedatectl set-ntp true`.",
        )
    return Finding(about="clock", told="right within a minute")


# -- Telegram


def check_token(settings: Settings) -> Finding:
    """That the token is accepted, and whose it is."""
    from telegram import Bot
    from telegram.error import InvalidToken, TelegramError
    from telegram.request import HTTPXRequest

    if settings.telegram_token is None:
        return Finding(
            about="token",
            told=f"{PREFIX}TELEGRAM_TOKEN is not set",
            mend="Make a bot with @BotFather in Telegram and set the token it gives you.",
        )

    async def ask() -> str:
        request = HTTPXRequest(connect_timeout=_PATIENCE, read_timeout=_PATIENCE)
        async with Bot(settings.token(), base_url=f"{settings.telegram_api}/bot", request=request) as bot:
            return f"accepted; the bot is @{bot.username}"

    # The errors' own words may hold the token.
    try:
        return Finding(about="token", told=asyncio.run(ask()))
    except InvalidToken:
        return Finding(
            about="token",
            told="refused",
            mend="Copy it again from @BotFather, whole; a new one makes the old one invalid.",
        )
    except TelegramError as problem:
        return Finding(
            about="token",
            told=f"cannot be tried: {settings.telegram_api} does not answer as it should ({type(problem).__name__})",
            mend=f"Check the network, and {PREFIX}TELEGRAM_API.",
        )


# -- is it running


def check_prompts(session: Session, now: datetime) -> Finding:
    """That no prompt is long overdue."""
    late, oldest = session.exec(
        select(func.count(), func.min(Patient.next_due_at)).where(
            Patient.status == "active", col(Patient.next_due_at) <= now - LATE_PROMPT
        )
    ).one()
    if not late:
        return Finding(about="prompts", told="none overdue")
    return Finding(
        about="prompts",
        told=f"{late} patients are overdue, the first since {oldest:%Y-%m-%d %H:%M} UTC",
        mend="Is `heel-checkin serve` running? Start it, and look at its log.",
    )


def check_outbox(session: Session, now: datetime) -> Finding:
    """That no message waits for long."""
    waits = (
        col(OutgoingMessage.sent_at).is_(None),
        col(OutgoingMessage.refused_at).is_(None),
        OutgoingMessage.channel == "telegram",
        col(OutgoingMessage.due_at) <= now,
    )
    count, oldest = session.exec(select(func.count(), func.min(OutgoingMessage.due_at)).where(*waits)).one()
    if not count:
        return Finding(about="messages", told="none waiting")
    told = f"{count} waiting, the first since {oldest:%Y-%m-%d %H:%M} UTC"
    if oldest > now - LATE_MESSAGE:
        return Finding(about="messages", told=told)
    return Finding(
        about="messages",
        told=told,
        mend="Is `heel-checkin serve` running, and Telegram in reach? Look at its log.",
    )


# -- all of it


def findings(environment: Mapping[str, str], clock: Clock) -> list[Finding]:
    """Everything, in order. What depends on something that is wrong is not looked at."""
    settings, found = check_settings(environment)
    if settings is None:
        return found
    found += check_database_file(settings)
    found += check_space(settings)
    database, trouble = open_checked(settings)
    found += trouble
    zones_seen = False
    if database is not None:
        try:
            version = check_version(database)
            found.append(version)
            found.append(check_writable(database))
            if version.is_right and version.told == ScriptDirectory.from_config(alembic_config()).get_current_head():
                with database.session() as session:
                    found += [check_zones(session), check_prompts(session, clock()), check_outbox(session, clock())]
                    zones_seen = True
        except OperationalError as problem:
            found.append(
                Finding(
                    about="database",
                    told=f"stopped answering: {_first_line(problem.orig)}",
                    mend="Look at the database's own log, and try again.",
                )
            )
        finally:
            database.close()
    if not zones_seen:
        found.append(check_zone_names({"Europe/Lisbon"}))
    found += [check_clock(settings, clock), check_token(settings)]
    return found


def check(*, environment: Mapping[str, str], clock: Clock, say: Say) -> int:
    """Say what is right and what is wrong. Returns the exit status: 1 if anything has to be mended."""
    found = findings(environment, clock)
    for each in found:
        say(f"{'ok   ' if each.is_right else 'WRONG'} {each.about}: {each.told}")
        if each.mend is not None:
            say(f"      -> {each.mend}")
    wrong = sum(not each.is_right for each in found)
    say("Nothing to mend." if not wrong else f"{wrong} to mend.")
    return 1 if wrong else 0
