"""Sends one message of the outbox through the Bot API, and tells what became of it.

Texts go as plain text, without a parse mode, so that nothing a patient wrote can be taken for a format.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Any

from telegram import (
    Bot,
    BotCommand,
    BotCommandScopeChat,
    InlineKeyboardButton,
    InlineKeyboardMarkup,
    LinkPreviewOptions,
    Message,
)
from telegram.error import BadRequest, Forbidden, InvalidToken, NetworkError, RetryAfter, TelegramError

from bot.channels.attachments import draw
from bot.channels.delivery import Result, Sent
from bot.channels.telegram.updates import button_data
from bot.conversation.values import Outgoing, label_of
from bot.conversation.wording import files, menus
from storage.database import OUTAGES, Database
from storage.messages import MENU

log = logging.getLogger(__name__)
TRIES_WITH_FILE = 3
_TOO_LARGE = ("entity too large", "(413)", "file is too big")
_NO_PREVIEW = LinkPreviewOptions(is_disabled=True)
_GONE = ("chat not found", "user is deactivated", "peer_id_invalid", "bot can't initiate conversation")
_CHOSEN = "\N{CHECK MARK} {}"


def markup_of(message: Outgoing) -> InlineKeyboardMarkup | None:
    """The buttons, each knowing its message and its place."""
    if not message.buttons:
        return None
    rows: list[list[InlineKeyboardButton]] = []
    index = 0
    for line in message.buttons:
        row = []
        for button in line:
            row.append(InlineKeyboardButton(label_of(button), callback_data=button_data(message.id, index)))
            index += 1
        rows.append(row)
    return InlineKeyboardMarkup(rows)


def chosen_markup(label: str) -> InlineKeyboardMarkup:
    """What a keyboard shows once it is answered. Pressing it does nothing more."""
    return InlineKeyboardMarkup([[InlineKeyboardButton(_CHOSEN.format(label), callback_data=button_data(0, 0))]])


def _is_gone(problem: BadRequest) -> bool:
    return any(each in problem.message.casefold() for each in _GONE)


def _tries_with_file(problem: Exception) -> int | None:
    """How many tries with the file are worth it; None where the file is not what is at fault."""
    if isinstance(problem, BadRequest):
        return None if _is_gone(problem) else 1
    if isinstance(problem, TelegramError):
        too_large = any(each in problem.message.casefold() for each in _TOO_LARGE)
        return TRIES_WITH_FILE if too_large else None
    return None if isinstance(problem, OUTAGES) else TRIES_WITH_FILE


class TelegramSender:
    """Sends by a bot."""

    def __init__(self, bot: Bot, database: Database, clock: Callable[[], datetime]) -> None:
        self.bot = bot
        self.database = database
        self.clock = clock
        # Drawing takes seconds and is not safe in several threads; in one of its own it takes no place from the turns.
        self._drawing = ThreadPoolExecutor(1, "drawing")

    async def send(self, message: Outgoing) -> Sent:
        """Send it. What can happen on a network is told, not raised."""
        try:
            return Sent(Result.SENT, source_id=str((await self._send(message)).message_id))
        except RetryAfter as problem:
            wait = problem.retry_after
            seconds = wait.total_seconds() if isinstance(wait, timedelta) else float(wait)
            return Sent(Result.LATER, retry_after=seconds + 0.5, problem="429")
        except (Forbidden, InvalidToken) as problem:
            blocked = isinstance(problem, Forbidden) and not isinstance(problem, InvalidToken)
            return Sent(Result.BLOCKED if blocked else Result.LATER, problem=type(problem).__name__)
        except BadRequest as problem:
            return Sent(Result.BLOCKED if _is_gone(problem) else Result.REFUSED, problem="bad request")
        except NetworkError as problem:
            return Sent(Result.LATER, problem=type(problem).__name__)
        except TelegramError as problem:
            return Sent(Result.LATER, problem=type(problem).__name__)

    async def _send(self, message: Outgoing) -> Message:
        chat = int(message.address)
        wanted = message.attachment
        markup = markup_of(message)
        if wanted is not None and wanted.get("what") == MENU:
            await self._menu(chat, str(wanted.get("role")))
            wanted = None
        if wanted is None:
            return await self._text(chat, message.text, markup)
        try:
            return await self._with_file(chat, message, wanted, markup)
        except (RetryAfter, Forbidden, InvalidToken):
            raise
        except LookupError:
            log.warning("Message %d: what it should bring is gone", message.id)
        except Exception as problem:
            tries = _tries_with_file(problem)
            if tries is None or message.attempts + 1 < tries:
                raise
            log.error("Message %d goes without its file (%s)", message.id, type(problem).__name__)
        return await self._text(chat, f"{message.text}\n\n{files.not_made()}".strip(), markup)

    async def _text(self, chat: int, text: str, markup: InlineKeyboardMarkup | None) -> Message:
        return await self.bot.send_message(chat, text, reply_markup=markup, link_preview_options=_NO_PREVIEW)

    async def _with_file(
        self, chat: int, message: Outgoing, wanted: dict[str, Any], markup: InlineKeyboardMarkup | None
    ) -> Message:
        loop = asyncio.get_running_loop()
        (file,) = await loop.run_in_executor(self._drawing, draw, self.database, wanted, self.clock())
        send = self.bot.send_photo if file.is_picture else self.bot.send_document
        return await send(chat, file.content, caption=message.text or None, reply_markup=markup, filename=file.name)

    def close(self) -> None:
        """Let the thread that draws end. What it is drawing is finished first."""
        self._drawing.shutdown(wait=True, cancel_futures=True)

    async def _menu(self, chat: int, role: str) -> None:
        commands = [BotCommand(name, what) for name, what in menus.MENUS[role]]
        await self.bot.set_my_commands(commands, scope=BotCommandScopeChat(chat))
