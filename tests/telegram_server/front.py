"""HTTP: requests of the bot at /bot<token>/<method>, of the control side at /control/<operation>."""

from __future__ import annotations

import asyncio
import contextlib
import functools
import json
import re
from typing import Any
from urllib.parse import unquote

from tornado.http1connection import HTTP1Connection
from tornado.httputil import HTTPHeaders, HTTPServerRequest, ResponseStartLine
from tornado.iostream import StreamClosedError

from tests.telegram_server.errors import ApiError, bad_request, conflict
from tests.telegram_server.faults import Fault
from tests.telegram_server.methods import Parameters, Upload, call
from tests.telegram_server.webhook import WebhookPusher
from tests.telegram_server.world import Ordered, World, decode, encode

_TOKEN = re.compile(r"\d+:[A-Za-z0-9_-]{20,}")
_LONGEST_POLL = 50
"""Seconds. Common practice, no source."""


class Front:
    """Answers requests. All of it runs in one event loop; tests reach the world from other threads through its lock."""

    def __init__(self, world: World, webhook_retry: float) -> None:
        self.world = world
        self._loop = asyncio.get_running_loop()
        self._pusher = WebhookPusher(world, webhook_retry)
        self._poll: asyncio.Future[str] | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        world.on_update = self._tell_loop

    async def close(self) -> None:
        """Let go of whoever waits."""
        self.world.on_update = lambda: None
        self._end_poll("closed")
        for task in self._tasks:
            task.cancel()
        await self._pusher.close()

    def _tell_loop(self) -> None:
        with contextlib.suppress(RuntimeError):  # the loop was closed while a test still talks
            self._loop.call_soon_threadsafe(self._updated)

    def _updated(self) -> None:
        self._end_poll("updated")
        self._pusher.pump()

    def _end_poll(self, why: str) -> None:
        if self._poll is not None:
            _end(self._poll, why)

    def __call__(self, request: HTTPServerRequest) -> None:
        """A request came in."""
        parts = request.path.split("/", 2)
        if len(parts) == 3 and parts[1].startswith("bot"):
            self._api(request, unquote(parts[1][3:]), parts[2].lower())
        elif len(parts) == 3 and parts[1] == "control" and request.method == "POST":
            self._control(request, parts[2])
        else:
            _refuse(request, ApiError(404, "Not Found"))

    def _control(self, request: HTTPServerRequest, operation: str) -> None:
        try:
            if operation.startswith("_"):
                raise AttributeError(operation)
            result = getattr(self.world, operation)(**decode(request.body or b"{}"))
        except Exception as error:  # told to the test, which is on the other side
            _answer(request, 400, encode({"error": type(error).__name__, "message": str(error)}))
        else:
            _answer(request, 200, encode({"result": result}))

    def _api(self, request: HTTPServerRequest, token: str, method: str) -> None:
        if token != self.world.token:
            _refuse(request, ApiError(401, "Unauthorized") if _TOKEN.fullmatch(token) else ApiError(404, "Not Found"))
            return
        chat_id: int | None = None
        try:
            given = _parameters(request)
            chat_id = given.chat_id()
            met = self.world.begin(method, chat_id)
            if met is not None and met.action == "answer":
                self.world.note(method, chat_id, met.status)
                _answer(request, met.status, b"<html><body>upstream unavailable</body></html>", "text/html")
            elif met is not None and met.action == "drop_before":
                self.world.note(method, chat_id, 0)
                _drop(request)
            elif method == "getupdates":
                self._later(self._get_updates(request, given, met))
            else:
                self._carry_out(request, method, given, chat_id, met)
        except Ordered as ordered:
            self.world.note(method, chat_id, ordered.error.code)
            _refuse(request, ordered.error)
        except ApiError as error:
            self.world.note(method, chat_id, error.code, error.description)
            _refuse(request, error)

    def _carry_out(
        self, request: HTTPServerRequest, method: str, given: Parameters, chat_id: int | None, met: Fault | None
    ) -> None:
        result = call(self.world, method, given)
        if met is None:
            self.world.note(method, chat_id, 200)
            _answer(request, 200, _ok(result))
            return
        if met.action == "drop_after":
            self._mark_unanswered(result)
            self.world.note(method, chat_id, 0)
            _drop(request)
        else:
            self._later(self._answer_late(request, method, chat_id, result, met.seconds))

    def _mark_unanswered(self, result: Any) -> None:
        with self.world.lock:
            message = self.world.messages.get(result["message_id"]) if isinstance(result, dict) else None
            if message is not None:
                message.answered = False

    async def _answer_late(
        self, request: HTTPServerRequest, method: str, chat_id: int | None, result: Any, seconds: float
    ) -> None:
        await asyncio.sleep(seconds)
        self.world.note(method, chat_id, 200)
        _answer(request, 200, _ok(result))

    def _later(self, work: Any) -> None:
        task = self._loop.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _get_updates(self, request: HTTPServerRequest, given: Parameters, met: Fault | None) -> None:
        """https://core.telegram.org/bots/api#getupdates: an offset confirms; the wait ends with the first update."""
        world = self.world
        try:
            world.check_polling()
            self._end_poll("other")
            world.allow_updates(given.structure("allowed_updates", "allowed_updates"))
            world.confirm_below(given.integer("offset"))
            limit = min(max(given.integer("limit", 100), 1), 100)
            deadline = self._loop.time() + min(max(given.integer("timeout"), 0), _LONGEST_POLL)
            gone = False
            while not (found := world.next_updates(limit)):
                left = deadline - self._loop.time()
                if left <= 0 or gone:
                    break
                self._poll = waiting = self._loop.create_future()
                _connection(request).set_close_callback(functools.partial(_end, waiting, "gone"))
                world.set_polling(True)
                why = await _outcome(waiting, left)
                if self._poll is waiting:
                    world.set_polling(False)
                if why == "other":
                    raise conflict(
                        "terminated by other getUpdates request; make sure that only one bot instance is running"
                    )
                gone = why in ("gone", "closed")
                world.check_polling()
            if gone:
                return
            if met is not None and met.action == "drop_after":
                world.note("getupdates", None, 0)
                _drop(request)
                return
            if met is not None:
                await asyncio.sleep(met.seconds)
            world.note("getupdates", None, 200)
            _answer(request, 200, _ok(found))
        except ApiError as error:
            world.note("getupdates", None, error.code, error.description)
            _refuse(request, error)


def _parameters(request: HTTPServerRequest) -> Parameters:
    values: dict[str, Any] = {name: raw[-1].decode("utf-8", "replace") for name, raw in request.arguments.items()}
    if request.headers.get("Content-Type", "").startswith("application/json") and request.body:
        try:
            values.update(json.loads(request.body))
        except ValueError:
            raise bad_request("can't parse JSON in the request body") from None
    files = {name: Upload(found[-1]["filename"], found[-1]["body"]) for name, found in request.files.items()}
    return Parameters(values, files)


def _ok(result: Any) -> bytes:
    return json.dumps({"ok": True, "result": result}).encode()


def _refuse(request: HTTPServerRequest, error: ApiError) -> None:
    _answer(request, error.code, json.dumps(error.body()).encode())


def _answer(request: HTTPServerRequest, code: int, body: bytes, kind: str = "application/json") -> None:
    headers = HTTPHeaders({"Content-Type": kind, "Content-Length": str(len(body))})
    with contextlib.suppress(StreamClosedError):
        _connection(request).write_headers(ResponseStartLine("", code, ""), headers, body)
        _connection(request).finish()


def _drop(request: HTTPServerRequest) -> None:
    """Close the connection without a word."""
    _connection(request).stream.close()


def _connection(request: HTTPServerRequest) -> HTTP1Connection:
    connection = request.connection
    assert isinstance(connection, HTTP1Connection)
    return connection


async def _outcome(waiting: asyncio.Future[str], seconds: float) -> str:
    """What ended the wait; empty: the time was over."""
    done, _ = await asyncio.wait([waiting], timeout=seconds)
    return waiting.result() if done else ""


def _end(waiting: asyncio.Future[str], why: str) -> None:
    if not waiting.done():
        waiting.set_result(why)
