"""The service: receives, ticks and delivers until it is told to stop."""

from __future__ import annotations

import asyncio
import json
import logging
import os
import re
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from sqlalchemy.exc import SQLAlchemyError
from telegram.error import BadRequest, InvalidToken, TelegramError
from telegram.ext import AIORateLimiter, ExtBot
from telegram.request import HTTPXRequest
from tornado.httpserver import HTTPServer
from tornado.web import Application, RequestHandler

from bot.channels.delivery import Delivery, kind_of
from bot.channels.metrics import Metrics
from bot.channels.telegram.receiving import ALLOWED, Poller, Receiver, WebhookHandler
from bot.channels.telegram.sending import TelegramSender
from bot.conversation.service import Conversation
from scheduler.ticker import Ticker
from storage import messages
from storage.database import Database

log = logging.getLogger(__name__)
_TICK_SECONDS = 10.0
_DRAIN_SECONDS = 5.0
_TICK_BATCH = 100
_FORGET_EVERY = timedelta(hours=1)
_Pages = list[tuple[str, type[RequestHandler], dict[str, object]]]
_STALE_TICK = timedelta(minutes=3)
_THREADS = 8
"""Turns and looks at the outbox at once; each holds one of the database's ten connections."""


class TokenRefused(Exception):
    """Telegram does not know the token."""


class WebhookRefused(Exception):
    """Telegram does not take the webhook's address. The text is Telegram's own."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Options:
    """How the service runs; see the settings of the same names."""

    token: str
    api: str = "https://api.telegram.org"
    receives: bool = True
    webhook_url: str | None = None
    webhook_host: str = "127.0.0.1"
    webhook_port: int = 8080
    webhook_secret: str = ""
    health_host: str | None = None
    health_port: int = 0
    messages_per_second: float = 25
    spread: timedelta = timedelta(0)
    keep: timedelta | None = None
    tick_seconds: float = _TICK_SECONDS


def make_bot(token: str, api: str, per_second: float = 25) -> ExtBot[int]:
    """The bot that sends and receives, at `api` (the Bot API's base URL)."""
    # Waits come as timedelta, as they will from the library's next version on; else each one brings a warning.
    os.environ.setdefault("PTB_TIMEDELTA", "true")
    return ExtBot(
        token=token,
        base_url=f"{api.rstrip('/')}/bot",
        base_file_url=f"{api.rstrip('/')}/file/bot",
        request=HTTPXRequest(connection_pool_size=64, read_timeout=15, connect_timeout=10, pool_timeout=20),
        get_updates_request=HTTPXRequest(connection_pool_size=2, read_timeout=40, connect_timeout=10),
        # One at a time, spaced: the limiter's bucket would let two seconds' worth through at once.
        rate_limiter=AIORateLimiter(overall_max_rate=1, overall_time_period=1 / per_second, max_retries=0),
    )


class Service:
    """One process of the chat service. `clock` gives aware UTC instants."""

    def __init__(self, database: Database, options: Options, clock: Callable[[], datetime]) -> None:
        self.database = database
        self.options = options
        self.clock = clock
        self.metrics = Metrics()
        self.bot = make_bot(options.token, options.api, options.messages_per_second)
        self.conversation = Conversation(
            database,
            invitation_link=self.invitation_link,
            spread=options.spread,
            set_aside=lambda what: self.metrics.set_aside.labels(what).inc(),
        )
        self.sender = TelegramSender(self.bot, database, clock)
        self.delivery = Delivery(
            database,
            self.conversation,
            self.sender,
            clock,
            self.metrics,
            per_second=options.messages_per_second,
        )
        self.receiver = Receiver(self.conversation, self.bot, clock, self.delivery.wake.set, self.metrics)
        self.poller = Poller(self.bot, self.receiver)
        self.last_tick: datetime | None = None
        self._last_forgetting: datetime | None = None
        self.health_port: int | None = None
        self.webhook_port: int | None = None
        self.ready = asyncio.Event()
        self._servers: list[HTTPServer] = []

    def invitation_link(self, token: str) -> str:
        """The link that opens the chat with an invitation."""
        return f"https://t.me/{self.bot.username}?start={token}"

    async def run(self, stop: asyncio.Event) -> None:
        """Serve until `stop` is set. Raises `TokenRefused`, `WebhookRefused`, and `OSError` where a port is taken."""
        loop = asyncio.get_running_loop()
        loop.set_default_executor(ThreadPoolExecutor(_THREADS, "turn"))
        ticker = Ticker(lambda: self.tick(loop), self.options.tick_seconds)
        tasks: list[asyncio.Task[None]] = []
        first_tick: asyncio.Task[None] | None = None
        results: list[BaseException | None] = []
        try:
            if not await self._reach(self.bot.initialize, stop):
                return
            self._listen()
            await asyncio.to_thread(self.conversation.warm_up)
            tasks.append(asyncio.create_task(self.delivery.run(stop)))
            # At once, not only after the first interval: a service that starts again and again still gets its prompts out.
            first_tick = asyncio.create_task(asyncio.to_thread(self.tick, loop))
            ticker.start()
            if self.options.receives and not await self._reach(self._set_webhook, stop):
                return
            if self.options.receives and self.options.webhook_url is None:
                tasks.append(asyncio.create_task(self.poller.run(stop)))
            log.info("Serving")
            self.ready.set()
            stopping = asyncio.create_task(stop.wait())
            await asyncio.wait([*tasks, stopping], return_when=asyncio.FIRST_COMPLETED)
            stopping.cancel()
        finally:
            stop.set()
            for server in self._servers:
                server.stop()
            await asyncio.to_thread(ticker.stop)
            if first_tick is not None:
                await first_tick
            results.extend(await asyncio.gather(*tasks, return_exceptions=True))
            for server in self._servers:
                await server.close_all_connections()
            if tasks:
                await self.delivery.drain(_DRAIN_SECONDS)
            await self.receiver.finish()
            self.sender.close()
            await self.bot.shutdown()
        for result in results:
            if result is not None:
                raise result
        log.info("Stopped; what was accepted is finished")

    async def _reach(self, ask: Callable[[], Awaitable[object]], stop: asyncio.Event) -> bool:
        """Ask Telegram for something; while it cannot be reached, try again. False: told to stop before that."""
        wait = 1.0
        while not stop.is_set():
            try:
                await ask()
                return True
            except InvalidToken:
                raise TokenRefused from None
            except BadRequest as problem:
                raise WebhookRefused(problem.message) from None
            except TelegramError as problem:
                log.warning("Telegram cannot be reached yet (%s); trying again", type(problem).__name__)
            try:
                await asyncio.wait_for(stop.wait(), wait)
            except TimeoutError:
                wait = min(wait * 2, 30.0)
        return False

    def tick(self, loop: asyncio.AbstractEventLoop) -> None:
        """One tick, in the ticker's thread: queue what is due, batch by batch. A failure is tried again by the next one."""
        try:
            while self.conversation.tick(self.clock(), _TICK_BATCH) == _TICK_BATCH:
                loop.call_soon_threadsafe(self.delivery.wake.set)
            self._forget()
            self.last_tick = self.clock()
            self.metrics.ticks.labels("done").inc()
            loop.call_soon_threadsafe(self.delivery.wake.set)
        except Exception as problem:  # the ticker must go on, whatever happens
            self.metrics.ticks.labels("failed").inc()
            log.error("A tick failed (%s); the next one tries again", kind_of(problem))

    def _forget(self) -> None:
        now = self.clock()
        if self._last_forgetting is None or now - self._last_forgetting > _FORGET_EVERY:
            self._last_forgetting = now
            self.conversation.forget_old(now, self.options.keep)

    async def _set_webhook(self) -> None:
        if self.options.webhook_url is None:
            await self.bot.delete_webhook()
            return
        await self.bot.set_webhook(
            self.options.webhook_url,
            secret_token=self.options.webhook_secret,
            allowed_updates=ALLOWED,
            max_connections=20,
        )

    def _listen(self) -> None:
        """Open the ports that were asked for: the webhook's (with the health page on it), and a health page of its own."""
        health: _Pages = [
            (r"/health", HealthHandler, {"service": self}),
            (r"/metrics", MetricsHandler, {"service": self}),
        ]
        if self.options.receives and self.options.webhook_url is not None:
            taken: dict[str, object] = {
                "receiver": self.receiver,
                "bot": self.bot,
                "secret": self.options.webhook_secret,
            }
            path = re.escape(urlsplit(self.options.webhook_url).path or "/")
            pages: _Pages = [(path, WebhookHandler, taken), health[0]]
            self.webhook_port = self._serve(pages, self.options.webhook_port, self.options.webhook_host)
        if self.options.health_host is not None:
            self.health_port = self._serve(health, self.options.health_port, self.options.health_host)

    def _serve(self, pages: _Pages, port: int, host: str) -> int:
        from tornado.netutil import bind_sockets

        server = HTTPServer(Application(pages, log_function=lambda _: None), max_body_size=1_000_000)
        sockets = bind_sockets(port, host)
        server.add_sockets(sockets)
        self._servers.append(server)
        return int(sockets[0].getsockname()[1])

    def health(self) -> tuple[bool, dict[str, object]]:
        """Whether all is well, and the figures of it."""
        now = self.clock()
        found: dict[str, object] = {"receives": self.options.receives}
        try:
            with self.database.reading() as session:
                waiting = messages.waiting(session, now)
            self.metrics.waiting.set(waiting)
            found["waiting"] = waiting
            found["database"] = "ok"
        except SQLAlchemyError:
            found["database"] = "cannot be used"
        late = self.last_tick is None or now - self.last_tick > _STALE_TICK
        found["last_tick"] = None if self.last_tick is None else self.last_tick.isoformat()
        found["telegram"] = "failing" if self.poller.failing else "ok"
        return found["database"] == "ok" and not late and not self.poller.failing, found


class HealthHandler(RequestHandler):
    """200 where all is well, 503 where not; figures, no names."""

    def initialize(self, service: Service) -> None:
        """What tornado hands in."""
        self.service = service

    async def get(self) -> None:
        """The state in JSON."""
        well, found = await asyncio.to_thread(self.service.health)
        self.set_status(200 if well else 503)
        self.set_header("Content-Type", "application/json")
        self.write(json.dumps({"status": "ok" if well else "not well", **found}))


class MetricsHandler(RequestHandler):
    """Prometheus' page."""

    def initialize(self, service: Service) -> None:
        """What tornado hands in."""
        self.service = service

    async def get(self) -> None:
        """The figures."""
        await asyncio.to_thread(self.service.health)
        self.set_header("Content-Type", "text/plain; version=0.0.4")
        self.write(self.service.metrics.text())
