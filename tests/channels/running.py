"""The real service beside a Bot API server on this machine, with a clock that the test moves, and the people who write.

A test says something as a person and lets the service come to rest; what the person then has is compared. Nothing is
faked but Telegram itself and the clock.
"""

from __future__ import annotations

import asyncio
import re
import socket
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import psycopg
from sqlalchemy import make_url

from bot.channels.telegram.service import Options, Service
from bot.conversation.prompting import schedule_next
from storage import invitations, people
from storage.database import Database, open_database
from tests.telegram_server import Pressed, Said, SentMessage, TelegramServer, User
from tests.telegram_server.control import Control

ZONE = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2026, 3, 2, 10, 0, tzinfo=ZONE).astimezone(UTC)
"""Where most tests begin: a Monday, 10:00 on the clinic's clock."""
_LINK = re.compile(r"https://t\.me/\w+\?start=([A-Za-z0-9_-]+)")
_PACE = timedelta(seconds=1.1)
_LOOK = 0.012
"""True seconds that the delivery is given to look, before the clock moves on by a message's pace."""


class MovingClock:
    """Runs with the true time, and jumps forward where a test moves it."""

    def __init__(self, now: datetime = MONDAY) -> None:
        self._from = now
        self._begun = time.monotonic()

    def __call__(self) -> datetime:
        return self._from + timedelta(seconds=time.monotonic() - self._begun)

    def move(self, by: timedelta) -> None:
        """Jump forward."""
        self._from += by

    def move_to(self, at: datetime) -> None:
        """Jump to an instant that is not over yet."""
        if at > (now := self()):
            self.move(at - now)

    def local(self, zone: ZoneInfo = ZONE) -> datetime:
        """What it shows in a time zone."""
        return self().astimezone(zone)


class Rows:
    """Reads the database beside the service, without a lock."""

    def __init__(self, url: str) -> None:
        self._url = make_url(url)
        if self._url.drivername.startswith("sqlite"):
            self._lite = sqlite3.connect(str(self._url.database), check_same_thread=False, isolation_level=None)
            self._post = None
        else:
            plain = self._url.set(drivername="postgresql").render_as_string(hide_password=False)
            self._post = psycopg.connect(plain, autocommit=True)

    def all(self, sql: str) -> list[tuple[Any, ...]]:
        """All rows."""
        if self._post is not None:
            return list(self._post.execute(sql.encode()))
        return list(self._lite.execute(sql))

    def one(self, sql: str) -> Any:
        """The first column of the first row."""
        return self.all(sql)[0][0]

    def close(self) -> None:
        """Close the connection."""
        (self._post or self._lite).close()


class Running:
    """The service in a thread of its own, with its own event loop."""

    def __init__(self, server: Control, url: str, clock: MovingClock, **options: Any) -> None:
        self.server = server
        self.url = url
        self.clock = clock
        self.rows = Rows(url)
        # The tick is called by the test, at the very instant it means.
        given = {"token": server.token, "api": server.url, "tick_seconds": 3600.0, "messages_per_second": 200.0}
        self.options = Options(**(given | options))
        self.failure: BaseException | None = None
        self._moved = 0.0
        self.at_rest: list[Callable[[], None]] = []
        """Called whenever the service has come to rest."""

    def start(self) -> Running:
        """Start it, and wait until it serves."""
        self.database: Database = open_database(self.url)
        self.service = Service(self.database, self.options, self.clock)
        self._started = threading.Event()
        self._thread = threading.Thread(target=self._run, name="service", daemon=True)
        self._thread.start()
        self._started.wait(20)
        if self.failure is not None:
            raise self.failure
        return self

    def _run(self) -> None:
        async def serve() -> None:
            self._loop = asyncio.get_running_loop()
            self._stop = asyncio.Event()
            serving = asyncio.create_task(self.service.run(self._stop))
            ready = asyncio.create_task(self.service.ready.wait())
            await asyncio.wait((serving, ready), return_when=asyncio.FIRST_COMPLETED)
            ready.cancel()
            if not serving.done():
                self._started.set()
            await serving

        try:
            asyncio.run(serve())
        except BaseException as problem:  # told to the test
            self.failure = problem
        finally:
            self._started.set()

    def stop(self) -> None:
        """Stop it as SIGTERM does."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
            self._thread.join(30)
            assert not self._thread.is_alive(), "the service did not stop"
        self.database.close()

    def restart(self) -> None:
        """Stop it, and start another on the same database."""
        self.stop()
        self.start()

    def tick(self) -> None:
        """What the ticker does, now."""
        self.service.tick(self._loop)

    def wake(self) -> None:
        """Let the delivery look at once."""
        self._loop.call_soon_threadsafe(self.service.delivery.wake.set)

    def waiting(self) -> int:
        """What the outbox still holds."""
        return int(self.rows.one("SELECT count(*) FROM outgoing_messages WHERE sent_at IS NULL AND refused_at IS NULL"))

    def taken_in(self) -> bool:
        """Whether every update is handled and confirmed."""
        polls = self.options.receives and self.options.webhook_url is None
        return not self.server.unconfirmed() and (not polls or self.server.is_polling())

    def settle(self, timeout: float = 15.0) -> None:
        """Wait until everything said is handled and everything queued is sent. The clock runs on as far as that needs."""

        def quiet() -> bool:
            if self.failure is not None:
                raise self.failure
            if not self.taken_in():
                return False
            busy = self.service.delivery._in_flight or self.service.receiver._answers
            if self.waiting():
                if not busy and time.monotonic() > self._moved + _LOOK:
                    self.clock.move(_PACE)
                    self.wake()
                    self._moved = time.monotonic()
                return False
            return not busy

        until = time.monotonic() + timeout
        while not quiet():
            if time.monotonic() > until:
                # Tells what the server saw last.
                self.server.wait_for(quiet, 0.1)
            self.server._wait_for_change(0.004)
        for look in self.at_rest:
            look()

    def go_to(self, at: datetime) -> None:
        """Let time pass: every prompt, alert and digest on the way comes at its own minute."""
        while True:
            due = self._next_due()
            if due is None or due > at:
                break
            self.clock.move_to(due)
            self.tick()
            self.settle()
        self.clock.move_to(at)
        self.tick()
        self.settle()

    def go_on(self, **delta: float) -> None:
        """Let a timedelta pass."""
        self.go_to(self.clock() + timedelta(**delta))

    def at(self, days: int, clock: str, zone: ZoneInfo = ZONE) -> datetime:
        """The instant of a clock, so many days after the first Monday."""
        hours, minutes = clock.split(":")
        return datetime(2026, 3, 2, int(hours), int(minutes), tzinfo=zone) + timedelta(days=days)

    def _next_due(self) -> datetime | None:
        found = [
            self.rows.one(sql)
            for sql in (
                "SELECT min(next_due_at) FROM patients WHERE status = 'active'",
                "SELECT min(next_digest_at) FROM clinicians WHERE unreachable_at IS NULL",
                "SELECT min(next_at) FROM alerts WHERE seen_at IS NULL",
            )
        ]
        instants = [datetime.fromisoformat(each) if isinstance(each, str) else each for each in found if each]
        return min((each.replace(tzinfo=each.tzinfo or UTC) for each in instants), default=None)


@contextmanager
def running(server: Control, url: str, clock: MovingClock | None = None, **options: Any) -> Iterator[Running]:
    """The service until the end of the block."""
    service = Running(server, url, clock or MovingClock(), **options).start()
    try:
        yield service
        assert service.failure is None, service.failure
    finally:
        service.stop()
        service.rows.close()


class Person:
    """Somebody with a chat. What they do is settled before it returns; it gives what they then got."""

    def __init__(self, service: Running, chat_id: int) -> None:
        self.service = service
        self.chat_id = chat_id
        self.user: User = service.server.user(chat_id)
        self._seen = 0
        self.said: Said | None = None
        """The last message they wrote."""
        self.pressed: Pressed | None = None
        """The last button they pressed."""

    def new(self) -> list[SentMessage]:
        """What came since the last look."""
        found = [each for each in self.user.received() if each.message_id > self._seen]
        self._seen = max([self._seen, *(each.message_id for each in found)])
        return found

    def text(self) -> str:
        """The texts that came since the last look."""
        return "\n".join(each.text for each in self.new())

    def _then(self) -> str:
        self.service.settle()
        return self.text()

    def says(self, text: str) -> str:
        """Write."""
        self.said = self.user.says(text, at=self.service.clock())
        return self._then()

    def edits(self, text: str) -> str:
        """Change what was written last."""
        assert self.said is not None
        self.user.edits(self.said, text, at=self.service.clock())
        return self._then()

    def opens(self, token: str) -> str:
        """Open an invitation's link."""
        return self.says(f"/start {token}")

    def last(self) -> SentMessage:
        """The latest message they have."""
        return self.service.server.last_to(self.chat_id)

    def question(self) -> SentMessage:
        """The latest message with buttons."""
        return next(each for each in reversed(self.user.received()) if each.buttons)

    def presses(self, label: str, message: SentMessage | None = None) -> str:
        """Press a button, of the latest keyboard if no other is given."""
        pressed = self.user.presses(message or self.question(), label)
        assert isinstance(pressed, Pressed)
        self.pressed = pressed
        return self._then()

    def notice(self) -> str:
        """What popped up after the last press."""
        assert self.pressed is not None
        return "\n".join(each["text"] or "" for each in self.service.server.answers_to(self.pressed))


def free_port() -> int:
    """A port that nobody listens at."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


def token_in(text: str) -> str:
    """The token of the link in a text."""
    found = _LINK.search(text)
    assert found is not None, f"no invitation in {text!r}"
    return found[1]


def invite_clinician(service: Running, name: str, zone: str = ZONE.key) -> str:
    """What the operator's command does. Returns the token."""
    token = invitations.new_token()
    with service.database.session() as session:
        clinician = people.add_clinician(
            session, name=name, channel="telegram", address=None, timezone=zone, now=service.clock()
        )
        session.flush()
        invitations.invite(session, token, role="clinician", now=service.clock(), clinician_id=clinician.id)
    return token


def new_clinician(service: Running, chat_id: int, name: str) -> Person:
    """A clinician who has joined."""
    person = Person(service, chat_id)
    assert name in person.opens(invite_clinician(service, name))
    return person


def active(service: Running, clinician: Person, chat_id: int, alias: str, **columns: Any) -> Person:
    """A patient of the clinician whose programme began on the first Monday, without the dialogue of enrolment."""
    given = {
        "alias": alias,
        "channel": "telegram",
        "address": str(chat_id),
        "timezone": ZONE.key,
        "start": MONDAY.astimezone(ZONE).date(),
        "status": "active",
        "prior_activity": "moderately",
        "enrolled_first_step_pain": 4,
        "enrolled_rest_pattern": "intermittent",
        "start_walk": 5,
        "start_step": "seated both",
        "start_sets": 2,
        "start_reps": 8,
        "created_at": service.clock(),
    }
    with service.database.session() as session:
        owner = people.clinician_by_address(session, "telegram", str(clinician.chat_id))
        assert owner is not None
        patient = people.add_patient(session, clinician_id=owner.id, **(given | columns))
        session.flush()
        schedule_next(patient, service.clock())
    person = Person(service, chat_id)
    assert "check-in bot" in person.says("/start")
    return person


def enrol(service: Running, clinician: Person, chat_id: int, alias: str, **answers: str) -> Person:
    """A patient invited by the clinician and enrolled by buttons."""
    person = Person(service, chat_id)
    person.opens(token_in(clinician.says(f"/invite {alias}")))
    for step, label in (("consent", "yes"), ("signs", "no"), ("foot", "left"), ("zone", "yes")):
        person.presses(answers.get(step, label))
    person.says(answers.get("times", "7:00 and 19:30"))
    for step, label in (("first", "4"), ("rest", "comes and goes"), ("active", "moderately")):
        person.presses(answers.get(step, label))
    clinician.new()
    return person


__all__ = [
    "MONDAY",
    "ZONE",
    "MovingClock",
    "Person",
    "Rows",
    "Running",
    "TelegramServer",
    "active",
    "enrol",
    "free_port",
    "invite_clinician",
    "new_clinician",
    "running",
    "token_in",
]
