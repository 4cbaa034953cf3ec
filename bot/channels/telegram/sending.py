"""Sends one message of the outbox through the Bot API, and tells what became of it.

Texts go as plain text, without a parse mode, so that nothing a patient wrote can be taken for a format.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from datetime import datetime, timedelta

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

from bot.channels.attachments import Attachment, draw
from bot.channels.delivery import Result, Sent
from bot.channels.telegram.updates import button_data
from bot.conversation.values import Outgoing, label_of
from bot.conversation.wording import menus
from storage.database import Database

log = logging.getLogger(__name__)
LONGEST_CAPTION = 1024
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


class TelegramSender:
    """Sends by a bot."""

    def __init__(self, bot: Bot, database: Database, clock: Callable[[], datetime]) -> None:
        self.bot = bot
        self.database = database
        self.clock = clock

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
            gone = any(each in problem.message.casefold() for each in _GONE)
            return Sent(Result.BLOCKED if gone else Result.REFUSED, problem="bad request")
        except NetworkError as problem:
            return Sent(Result.LATER, problem=type(problem).__name__)
        except TelegramError as problem:
            return Sent(Result.LATER, problem=type(problem).__name__)

    async def _send(self, message: Outgoing) -> Message:
        chat = int(message.address)
        wanted = message.attachment
        markup = markup_of(message)
        if wanted is not None and wanted.get("what") == "menu":
            await self._menu(chat, str(wanted.get("role")))
            wanted = None
        files: list[Attachment] = []
        if wanted is not None:
            try:
                files = await asyncio.to_thread(draw, self.database, wanted, self.clock())
            except LookupError:
                log.warning("Message %d: what it should bring is gone", message.id)
        text = message.text
        if not files or len(text) > LONGEST_CAPTION:
            sent = await self.bot.send_message(chat, text, reply_markup=markup, link_preview_options=_NO_PREVIEW)
            text = ""
            markup = None
            if not files:
                return sent
        for file in files:
            caption = text or None
            if file.is_picture:
                sent = await self.bot.send_photo(
                    chat, file.content, caption=caption, reply_markup=markup, filename=file.name
                )
            else:
                sent = await self.bot.send_document(
                    chat, file.content, caption=caption, reply_markup=markup, filename=file.name
                )
            text, markup = "", None
        return sent

    async def _menu(self, chat: int, role: str) -> None:
        commands = [BotCommand(name, what) for name, what in menus.MENUS[role]]
        await self.bot.set_my_commands(commands, scope=BotCommandScopeChat(chat))
