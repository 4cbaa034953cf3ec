"""Takes updates in, by long polling or by webhook: each is handled and committed before Telegram is told that it arrived.

An update that cannot be handled because the database fails is seen again. One that fails for another reason (a fault of
ours) is kept as it came after a few tries, and its sender is told, so that it cannot hold up everybody behind it.
"""

from __future__ import annotations

import asyncio
import hmac
import json
import logging
from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from time import perf_counter
from weakref import WeakValueDictionary

from sqlalchemy.exc import DataError, IntegrityError, SQLAlchemyError
from telegram import Bot, Update
from telegram.error import Conflict, InvalidToken, NetworkError, RetryAfter, TelegramError
from tornado.web import RequestHandler

from bot.channels.delivery import kind_of
from bot.channels.metrics import Metrics
from bot.channels.telegram.sending import chosen_markup
from bot.channels.telegram.updates import CHANNEL, Gone, Pressing, understood
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming, Pressed
from storage.database import OUTAGES

log = logging.getLogger(__name__)
ALLOWED = ["message", "edited_message", "callback_query", "my_chat_member"]
_POLL_SECONDS = 25
_MOST_AT_ONCE = 100
_TRIES = 3
_LONGEST_WAIT = 30.0


class Unhandled(Exception):
    """The database does not answer, so the update was not taken."""


class Receiver:
    """Handles updates: those of one chat one after the other, chats beside each other."""

    def __init__(
        self,
        conversation: Conversation,
        bot: Bot,
        clock: Callable[[], datetime],
        wake: Callable[[], None],
        metrics: Metrics,
    ) -> None:
        self.conversation = conversation
        self.bot = bot
        self.clock = clock
        self.wake = wake
        self.metrics = metrics
        self._locks: WeakValueDictionary[int, asyncio.Lock] = WeakValueDictionary()
        self._answers: set[asyncio.Task[None]] = set()

    async def take(self, update: Update) -> None:
        """Handle one update. Raises `Unhandled` while the database fails."""
        try:
            about = understood(update)
        except Exception as problem:  # one strange update must not hold up everybody behind it
            log.error(
                "An update has a shape that was not foreseen", extra={"error": type(problem).__name__}, exc_info=True
            )
            self.metrics.updates.labels("failed").inc()
            return
        if about is None:
            self.metrics.updates.labels("not for us").inc()
            return
        address = about.address if isinstance(about, Gone) else _incoming(about).address
        lock = self._locks.setdefault(int(address), asyncio.Lock())
        async with lock:
            await self._take(about)
        self.wake()

    async def _take(self, about: Incoming | Pressing | Gone) -> None:
        for left in reversed(range(_TRIES)):
            began = perf_counter()
            try:
                pressed = await asyncio.to_thread(self._handle, about)
            except OUTAGES as problem:
                log.error("The database does not take a message (%s)", kind_of(problem))
                self.metrics.updates.labels("database").inc()
                raise Unhandled from None
            except Exception as problem:
                log.error("A message could not be handled", extra={"error": type(problem).__name__}, exc_info=True)
                self.metrics.updates.labels("failed").inc()
                if left:
                    continue
                await self._keep(about)
                return
            self.metrics.turn_seconds.observe(perf_counter() - began)
            self.metrics.updates.labels("handled").inc()
            if isinstance(about, Pressing):
                self._answer_later(about, pressed)
            return

    def _handle(self, about: Incoming | Pressing | Gone) -> Pressed | None:
        if isinstance(about, Gone):
            self.conversation.gone(CHANNEL, about.address, self.clock())
            return None
        return self.conversation.handle(_incoming(about), self.clock())

    async def _keep(self, about: Incoming | Pressing | Gone) -> None:
        if isinstance(about, Gone):
            return
        try:
            await asyncio.to_thread(self.conversation.keep, _incoming(about), self.clock())
        except (DataError, IntegrityError) as problem:
            # Not even as it came: what can never be stored must not hold up everybody for good.
            log.critical("A message could not be kept either", extra={"error": type(problem).__name__})
            self.metrics.updates.labels("lost").inc()
        except SQLAlchemyError:
            raise Unhandled from None

    def _answer_later(self, about: Pressing, pressed: Pressed | None) -> None:
        task = asyncio.create_task(self._answer(about, pressed))
        self._answers.add(task)
        task.add_done_callback(self._answers.discard)

    async def _answer(self, about: Pressing, pressed: Pressed | None) -> None:
        """Tell the one who pressed, and show on the keyboard what counts. Nothing hangs on it."""
        try:
            await self.bot.answer_callback_query(about.query_id, text=None if pressed is None else pressed.note[:200])
            if pressed is not None and pressed.label is not None and about.message_id is not None:
                await self.bot.edit_message_reply_markup(
                    chat_id=about.chat_id, message_id=about.message_id, reply_markup=chosen_markup(pressed.label)
                )
        except TelegramError as problem:
            log.info("A pressed button could not be answered (%s)", type(problem).__name__)

    async def finish(self) -> None:
        """Wait for answers to buttons that are on their way."""
        if self._answers:
            await asyncio.wait(self._answers, timeout=5)


def _incoming(about: Incoming | Pressing) -> Incoming:
    return about.incoming if isinstance(about, Pressing) else about


class Poller:
    """Long polling. The offset moves on only when everything before it is committed."""

    def __init__(self, bot: Bot, receiver: Receiver) -> None:
        self.bot = bot
        self.receiver = receiver
        self._offset = 0
        self.failing = False

    async def run(self, stop: asyncio.Event) -> None:
        """Poll until `stop` is set; what was fetched by then is handled."""
        wait = 1.0
        while not stop.is_set():
            try:
                updates = await self._fetch(stop)
                await self._take_all(updates)
                wait, self.failing = 1.0, False
            except Unhandled:
                self.failing = True
                await _pause(stop, wait)
                wait = min(wait * 2, _LONGEST_WAIT)
            except Conflict:
                self.failing = True
                log.error("Another program polls with the same token, or a webhook is set. Only one may; trying again")
                await _pause(stop, _LONGEST_WAIT)
            except RetryAfter as problem:
                seconds = problem.retry_after
                await _pause(stop, seconds if isinstance(seconds, int) else seconds.total_seconds())
            except InvalidToken:
                self.failing = True
                log.critical("The token is no longer accepted; trying again")
                await _pause(stop, _LONGEST_WAIT)
            except (NetworkError, TelegramError) as problem:
                self.failing = True
                log.warning("Telegram cannot be reached (%s); trying again", type(problem).__name__)
                await _pause(stop, wait)
                wait = min(wait * 2, _LONGEST_WAIT)
        await self._confirm()

    async def _fetch(self, stop: asyncio.Event) -> tuple[Update, ...]:
        fetching = asyncio.create_task(
            self.bot.get_updates(
                offset=self._offset,
                timeout=_POLL_SECONDS,
                limit=_MOST_AT_ONCE,
                allowed_updates=ALLOWED,
                read_timeout=_POLL_SECONDS + 10,
            )
        )
        stopping = asyncio.create_task(stop.wait())
        await asyncio.wait((fetching, stopping), return_when=asyncio.FIRST_COMPLETED)
        stopping.cancel()
        if not fetching.done():
            fetching.cancel()
            return ()
        return fetching.result()

    async def _take_all(self, updates: tuple[Update, ...]) -> None:
        chats: dict[int | None, list[Update]] = defaultdict(list)
        for update in updates:
            chats[update.effective_chat.id if update.effective_chat is not None else None].append(update)

        async def one_chat(of_chat: list[Update]) -> None:
            for update in of_chat:
                await self.receiver.take(update)

        results = await asyncio.gather(*(one_chat(each) for each in chats.values()), return_exceptions=True)
        for result in results:
            if isinstance(result, BaseException):
                raise result
        if updates:
            self._offset = updates[-1].update_id + 1

    async def _confirm(self) -> None:
        """Tell Telegram what was taken, so that it is not sent again. It would do no harm."""
        if not self._offset:
            return
        try:
            await self.bot.get_updates(offset=self._offset, timeout=0, limit=1, allowed_updates=ALLOWED)
        except TelegramError as problem:
            log.info("The last updates could not be confirmed (%s)", type(problem).__name__)


async def _pause(stop: asyncio.Event, seconds: float) -> None:
    try:
        await asyncio.wait_for(stop.wait(), seconds)
    except TimeoutError:
        return


class WebhookHandler(RequestHandler):
    """Takes one update by POST. Anybody without the secret gets nothing."""

    def initialize(self, receiver: Receiver, bot: Bot, secret: str) -> None:
        """What tornado hands in."""
        self.receiver = receiver
        self.bot = bot
        self.secret = secret

    async def post(self) -> None:
        """Handle it, and only then say that it arrived; while the database fails Telegram sends it again."""
        given = self.request.headers.get("X-Telegram-Bot-Api-Secret-Token", "")
        if not hmac.compare_digest(given.encode(), self.secret.encode()):
            self.set_status(403)
            return
        try:
            update = Update.de_json(json.loads(self.request.body), self.bot)
        except (ValueError, KeyError, TypeError, AttributeError):
            self.set_status(400)
            return
        try:
            await self.receiver.take(update)
        except Unhandled:
            self.set_status(503)
