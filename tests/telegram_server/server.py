"""The server in a thread of the test's process, or in a process of its own."""

from __future__ import annotations

import asyncio
import http.client
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets

from tests.telegram_server.control import Control
from tests.telegram_server.front import Front
from tests.telegram_server.methods import MAX_FILE_BYTES
from tests.telegram_server.rates import RateLimits
from tests.telegram_server.world import DEFAULT_TOKEN, World, decode, encode

_ROOT = Path(__file__).resolve().parents[2]


async def serve(world: World, port: int, webhook_retry: float, started: Any, stop: asyncio.Event) -> None:
    """Answer on 127.0.0.1 until `stop`; `started` is called with the port."""
    front = Front(world, webhook_retry)
    sockets = bind_sockets(port, "127.0.0.1", backlog=1024)
    server = HTTPServer(front, max_buffer_size=MAX_FILE_BYTES * 2, idle_connection_timeout=3600)
    server.add_sockets(sockets)
    started(sockets[0].getsockname()[1])
    await stop.wait()
    server.stop()
    await front.close()
    await server.close_all_connections()


class TelegramServer(Control):
    """In a thread. Its own event loop, so that a bot under test may block the test's."""

    def __init__(
        self,
        *,
        token: str = DEFAULT_TOKEN,
        limits: RateLimits | None = None,
        port: int = 0,
        webhook_retry: float = 0.05,
    ) -> None:
        self.token = token
        self.world = World(token, limits)
        self._port = port
        self._webhook_retry = webhook_retry

    def __enter__(self) -> TelegramServer:
        ready = threading.Event()
        failed: list[BaseException] = []

        def started(port: int) -> None:
            self.url = f"http://127.0.0.1:{port}"
            ready.set()

        async def run() -> None:
            self._loop = asyncio.get_running_loop()
            self._stop = asyncio.Event()
            await serve(self.world, self._port, self._webhook_retry, started, self._stop)

        def thread() -> None:
            try:
                asyncio.run(run())
            except BaseException as error:  # told to the one who waits below
                failed.append(error)
                ready.set()

        self._thread = threading.Thread(target=thread, name="telegram-server", daemon=True)
        self._thread.start()
        ready.wait(10)
        if failed:
            raise failed[0]
        return self

    def __exit__(self, *exception: object) -> None:
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(10)

    def ask(self, operation: str, **arguments: Any) -> Any:
        """Straight at the world."""
        return getattr(self.world, operation)(**arguments)

    def now(self) -> float:
        """By the server's clock."""
        return self.world.now()

    def _wait_for_change(self, seconds: float) -> None:
        with self.world.changed:
            self.world.changed.wait(seconds)


class ServerProcess(Control):
    """In a process of its own: nothing of the bot's load or death touches it. It ends with the test's process."""

    def __init__(self, *, token: str = DEFAULT_TOKEN, port: int = 0, webhook_retry: float = 0.05) -> None:
        self.token = token
        command = [sys.executable, "-m", "tests.telegram_server", "--port", str(port), "--token", token]
        self._command = [*command, "--webhook-retry", str(webhook_retry), "--until-input-ends"]
        self._connections = threading.local()

    def __enter__(self) -> ServerProcess:
        self.process = subprocess.Popen(
            self._command, cwd=_ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line.strip().isdigit():
            raise RuntimeError(f"the server did not start: {line!r}")
        self._port = int(line)
        self.url = f"http://127.0.0.1:{self._port}"
        return self

    def __exit__(self, *exception: object) -> None:
        self.process.communicate(timeout=10)

    def ask(self, operation: str, **arguments: Any) -> Any:
        """Over HTTP."""
        connection: http.client.HTTPConnection | None = getattr(self._connections, "open", None)
        if connection is None:
            connection = self._connections.open = http.client.HTTPConnection("127.0.0.1", self._port, timeout=60)
        connection.request("POST", f"/control/{operation}", body=encode(arguments))
        answer = decode(connection.getresponse().read())
        if "error" in answer:
            raise RuntimeError(f"{operation}: {answer['error']}: {answer['message']}")
        return answer["result"]

    def now(self) -> float:
        """By the server's clock."""
        return float(self.ask("now"))

    def _wait_for_change(self, seconds: float) -> None:
        threading.Event().wait(min(seconds, 0.02))
