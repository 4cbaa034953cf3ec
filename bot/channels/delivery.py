"""Delivers the outbox: takes messages for a while, sends them, notes what became of each.

The lease is in the database, so any number of processes can deliver: what one took and did not finish, another takes when
the lease is over. Only a stop between sending and noting it can send a message twice.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Protocol, TypeVar

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from bot.channels.metrics import Metrics
from bot.conversation.service import Conversation, outgoing
from bot.conversation.values import Outgoing
from storage import messages
from storage.database import Database

log = logging.getLogger(__name__)
T = TypeVar("T")

MOST_IN_FLIGHT = 40
MOST_FILES = 2
"""Messages with a file on their way at once: one is drawn while another is sent. The places of the others stay free."""
BURST = 3
"""Messages that may go at once on top of the pace, at most."""
RENEW_EVERY = 15.0
"""Seconds after which the lease (45 s) of a message that is still on its way is renewed."""
_LOOK_AGAIN = 0.2
_IDLE = 1.0
_LONGEST_WAIT = timedelta(minutes=5)
_LONGEST_NOTE_PAUSE = 5.0
_STALE_EVERY = timedelta(minutes=1)


class Result(StrEnum):
    """What became of a message."""

    SENT = "sent"
    LATER = "later"
    BLOCKED = "blocked"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Sent:
    """The result of sending. `retry_after`: seconds that the channel asked for. `source_id`: its name for the message."""

    result: Result
    source_id: str | None = None
    retry_after: float | None = None
    problem: str | None = None


class Sender(Protocol):
    """A channel that sends. It never raises for what can happen on a network."""

    async def send(self, message: Outgoing) -> Sent: ...


class Delivery:
    """Sends what waits until it is told to stop."""

    def __init__(
        self,
        database: Database,
        conversation: Conversation,
        sender: Sender,
        clock: Callable[[], datetime],
        metrics: Metrics,
        *,
        per_second: float,
    ) -> None:
        self.database = database
        self.conversation = conversation
        self.sender = sender
        self.clock = clock
        self.metrics = metrics
        self.per_second, self.burst = shares_of(per_second)
        self.wake = asyncio.Event()
        self._in_flight: set[asyncio.Task[None]] = set()
        self._sending: set[int] = set()
        self._files: set[int] = set()
        """Those of them that bring a file."""
        self._looked_for_stale: datetime | None = None
        self._stopping = False
        self._paced_out = False
        """Whether the pace, and not the outbox, was what ended the last look."""
        self._something_waits = False
        """Whether the last look saw something that nobody has taken."""

    async def run(self, stop: asyncio.Event) -> None:
        """Deliver until `stop` is set; what is on its way then is finished."""
        while not stop.is_set():
            # Cleared before looking: what is queued while we look is not slept over.
            self.wake.clear()
            taken = await self._survive(self._take)
            for message in taken or []:
                task = asyncio.create_task(self._deliver(message))
                self._in_flight.add(task)
                task.add_done_callback(self._in_flight.discard)
            if not taken:
                await self._rest(stop)
            elif len(self._in_flight) >= MOST_IN_FLIGHT:
                await asyncio.wait(self._in_flight, return_when=asyncio.FIRST_COMPLETED)
        self._stopping = True
        if self._in_flight:
            await asyncio.wait(self._in_flight)

    async def drain(self, seconds: float) -> None:
        """Send what is due now, as far as the time goes: the replies to what was accepted."""
        over = asyncio.get_running_loop().time() + seconds
        while asyncio.get_running_loop().time() < over:
            taken = await self._survive(self._take)
            if taken:
                await asyncio.gather(*(self._deliver(each) for each in taken))
            elif not self._something_waits:
                return
            else:
                await asyncio.sleep(_LOOK_AGAIN)

    async def _rest(self, stop: asyncio.Event) -> None:
        if self._paced_out:
            seconds = 1 / self.per_second
        else:
            seconds = _LOOK_AGAIN if self._in_flight or self._something_waits else _IDLE
        waiters = [asyncio.create_task(each.wait()) for each in (self.wake, stop)]
        try:
            await asyncio.wait(waiters, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for each in waiters:
                each.cancel()

    async def _survive(self, work: Callable[[], Awaitable[T]]) -> T | None:
        """A database that fails for a while is waited for."""
        try:
            return await work()
        except SQLAlchemyError as problem:
            log.error("The outbox cannot be read (%s); trying again", kind_of(problem))
            await asyncio.sleep(_IDLE)
            return None

    async def _take(self) -> list[Outgoing]:
        taken = await asyncio.to_thread(self._take_now, MOST_IN_FLIGHT - len(self._in_flight))
        # Known before the next look, which may begin before the first of their tasks does.
        self._sending.update(each.id for each in taken)
        self._files.update(each.id for each in taken if each.has_file)
        return taken

    def _take_now(self, free: int) -> list[Outgoing]:
        now = self.clock()
        with self.database.reading() as session:
            self._something_waits = messages.anything_waits(session, now)
        if not self._something_waits:
            self._paced_out = False
            return []
        with self.database.session() as session:
            if self._looked_for_stale is None or now - self._looked_for_stale > _STALE_EVERY:
                self._looked_for_stale = now
                dropped = messages.drop_stale(session, now)
                if dropped:
                    log.warning("%d messages waited too long and were dropped", dropped)
            allowed = messages.take_pace(session, now, free, per_second=self.per_second, burst=self.burst)
            self._paced_out = free > 0 and not allowed
            if not allowed:
                return []
            rows = messages.claim(session, now, allowed, most_files=MOST_FILES - len(self._files))
            # One of ours that takes longer than its lease is claimed anew by this, and not sent a second time.
            rows = [row for row in rows if row.id not in self._sending]
            messages.give_back_pace(session, allowed - len(rows))
            return [outgoing(row) for row in rows]

    async def _deliver(self, message: Outgoing) -> None:
        renewing = asyncio.create_task(self._renew(message.id))
        try:
            await self._send(message)
        finally:
            renewing.cancel()
            self._sending.discard(message.id)
            self._files.discard(message.id)

    async def _renew(self, message_id: int) -> None:
        """Drawing or a slow network may take longer than the lease; the message is still ours."""

        def renew() -> None:
            with self.database.session() as session:
                messages.renew(session, message_id, self.clock())

        while True:
            await asyncio.sleep(RENEW_EVERY)
            try:
                await asyncio.to_thread(renew)
            except SQLAlchemyError as problem:
                log.warning("Message %d: its lease was not renewed (%s)", message_id, kind_of(problem))

    async def _send(self, message: Outgoing) -> None:
        try:
            sent = await self.sender.send(message)
        except Exception as problem:  # a fault of ours must not stop the others
            log.exception("Message %d could not be sent: %s", message.id, type(problem).__name__)
            sent = Sent(Result.LATER, problem=type(problem).__name__)
        self.metrics.sent.labels(sent.result).inc()
        pause = 0.2
        while True:
            try:
                await asyncio.to_thread(self._note, message, sent)
                return
            except SQLAlchemyError as problem:
                log.error("Message %d: its fate was not noted (%s)", message.id, kind_of(problem))
                # Given up, it would be sent again when its lease is over; while we live we go on trying.
                if self._stopping and pause > 1:
                    return
                await asyncio.sleep(pause)
                pause = min(pause * 3, _LONGEST_NOTE_PAUSE)

    def _note(self, message: Outgoing, sent: Sent) -> None:
        now = self.clock()
        if sent.result is Result.SENT:
            self.conversation.delivered(message.id, now, sent.source_id)
        elif sent.result is Result.BLOCKED:
            log.info("Message %d: the chat takes no messages", message.id)
            self.conversation.blocked(message.id, now)
        elif sent.result is Result.REFUSED:
            log.error("Message %d was refused: %s", message.id, sent.problem)
            with self.database.session() as session:
                messages.mark_refused(session, message.id, now, sent.problem)
        else:
            wait = timedelta(seconds=sent.retry_after) if sent.retry_after else _backoff(message.attempts)
            log.warning("Message %d: trying again in %d s (%s)", message.id, wait.total_seconds(), sent.problem)
            with self.database.session() as session:
                messages.mark_failed(session, message.id, now, now + wait, sent.problem or "failed")


def shares_of(per_second: float) -> tuple[float, int]:
    """The steady pace and the burst that together never go over `per_second` messages in any one second."""
    burst = max(1, min(BURST, int(per_second // 2)))
    return (per_second - burst if per_second > burst else per_second / 2), burst


def kind_of(problem: Exception) -> str:
    """What failed, without a word of what was stored."""
    return type(problem.orig if isinstance(problem, DBAPIError) and problem.orig is not None else problem).__name__


def _backoff(attempts: int) -> timedelta:
    return min(timedelta(seconds=2 ** min(attempts, 10)), _LONGEST_WAIT)
