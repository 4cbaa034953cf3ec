"""`heel-checkin serve` and `heel-checkin invite`: the service, and the first clinician's way in."""

from __future__ import annotations

import asyncio
import gc
import logging
import signal
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlmodel import Session

from bot.settings import Settings, SettingsError, load_settings
from storage import invitations, people
from storage.database import DatabaseError, open_database

if TYPE_CHECKING:
    from bot.channels.telegram.service import Options

log = logging.getLogger(__name__)
TOKEN_REFUSED = (
    "Telegram does not accept the token. Check HEEL_CHECKIN_TELEGRAM_TOKEN: it is a number, a colon and letters, just as "
    "@BotFather gave it; if it was revoked, ask for a new one."
)


def utc_now() -> datetime:
    """The clock of the outermost floor."""
    return datetime.now(UTC)


def options_of(settings: Settings) -> Options:
    """What the service needs of the settings. Raises `SettingsError` without a token."""
    from bot.channels.telegram.service import Options

    listen, health = settings.webhook_address, settings.health_address
    return Options(
        token=settings.token(),
        api=settings.telegram_api,
        receives=settings.receives,
        webhook_url=settings.webhook_url,
        webhook_host=listen.host,
        webhook_port=listen.port,
        webhook_secret="" if settings.webhook_secret is None else settings.webhook_secret.get_secret_value(),
        health_host=None if health is None else health.host,
        health_port=0 if health is None else health.port,
        messages_per_second=settings.messages_per_second,
        spread=timedelta(minutes=settings.spread_minutes),
        keep=None if settings.keep_days is None else timedelta(days=settings.keep_days),
    )


def serve(complain: Callable[[str], None]) -> int:
    """Run the service until SIGTERM or Ctrl-C. Returns the exit status."""
    from bot.channels.telegram.service import Service, TokenRefused, WebhookRefused
    from bot.logs import set_up

    try:
        settings = load_settings()
        options = options_of(settings)
        set_up(settings.log_level, settings.log_format, secrets=[options.token, options.webhook_secret])
        database = open_database(settings.database_url)
    except (SettingsError, DatabaseError) as problem:
        complain(str(problem))
        return 1

    async def run() -> None:
        stop = asyncio.Event()
        loop = asyncio.get_running_loop()
        for each in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(each, stop.set)
        service = Service(database, options, utc_now)

        async def settle() -> None:
            await service.ready.wait()
            # What is loaded by now stays: looking through it for garbage again and again costs a fifth of a tick.
            gc.collect()
            gc.freeze()

        settling = asyncio.create_task(settle())
        try:
            await service.run(stop)
        finally:
            settling.cancel()

    try:
        asyncio.run(run())
    except TokenRefused:
        complain(TOKEN_REFUSED)
        return 1
    except WebhookRefused as problem:
        complain(f"Telegram does not take the webhook's address: {problem}. Check HEEL_CHECKIN_WEBHOOK_URL.")
        return 1
    except OSError as problem:
        complain(
            f"The port cannot be opened: {problem.strerror or problem}. Check HEEL_CHECKIN_WEBHOOK_LISTEN and "
            "HEEL_CHECKIN_HEALTH_LISTEN."
        )
        return 1
    finally:
        database.close()
    return 0


def invite_clinician(
    name: str,
    *,
    timezone: str | None,
    picture: Path | None,
    say: Callable[[str], None],
    complain: Callable[[str], None],
    again: bool = False,
) -> int:
    """Make a clinician's invitation: link, and QR image if wanted. Returns the exit status.

    `again`: for one who has joined and lost the account. `timezone`: None keeps the one they have; UTC for a new one.
    """
    from bot.conversation.wording import clinic

    try:
        ZoneInfo(timezone or "UTC")
    except (ZoneInfoNotFoundError, ValueError, OSError):
        complain(f"There is no time zone {timezone!r}. Write it like Europe/Lisbon.")
        return 2
    name = " ".join(name.split())
    if not name or len(name) > 60:
        complain("A name is needed, at most 60 characters; patients read it, such as 'Dr Vale'.")
        return 2
    try:
        settings = load_settings()
        username = asyncio.run(_username(settings.token(), settings.telegram_api))
        database = open_database(settings.database_url)
    except (SettingsError, DatabaseError) as problem:
        complain(str(problem))
        return 1
    token = invitations.new_token()
    try:
        with database.session() as session:
            problem = _store_clinician_invitation(session, name, timezone, token, utc_now(), again=again)
        if problem:
            complain(problem)
            return 1
    finally:
        database.close()
    link = f"https://t.me/{username}?start={token}"
    say(clinic.clinician_link(name, link, again=again))
    if picture is not None:
        from bot.channels.attachments import qr_picture

        picture.touch(mode=0o600)
        picture.write_bytes(qr_picture(link))
        say(f"The same as a picture: {picture}")
    return 0


def _store_clinician_invitation(
    session: Session, name: str, timezone: str | None, token: str, now: datetime, *, again: bool = False
) -> str:
    """Store it; a clinician who has not joined yet gets a new one. Returns what is wrong, or ""."""
    known = people.clinicians_named(session, name)
    if again and not known:
        return f"There is no clinician called {name}. Without --again a new one is invited."
    if not again and any(each.address is not None for each in known):
        return (
            f"{name} has joined already. For another clinician choose another name; "
            "--again lets this one go on from another account."
        )
    clinician = known[0] if known else None
    if clinician is None:
        clinician = people.add_clinician(
            session, name=name, channel="telegram", address=None, timezone=timezone or "UTC", now=now
        )
    clinician.timezone = timezone or clinician.timezone
    session.flush()
    invitations.invite(session, token, role="clinician", now=now, clinician_id=clinician.id)
    return ""


async def _username(token: str, api: str) -> str:
    from telegram.error import InvalidToken, TelegramError

    from bot.channels.telegram.service import make_bot

    bot = make_bot(token, api)
    try:
        await bot.initialize()
        return str(bot.username)
    except InvalidToken:
        raise SettingsError(TOKEN_REFUSED) from None
    except TelegramError as problem:
        raise SettingsError(
            f"Telegram cannot be reached ({type(problem).__name__}), and its name for the bot is needed for the link. "
            "Check the network and HEEL_CHECKIN_TELEGRAM_API, and try again."
        ) from None
    finally:
        await bot.shutdown()
