"""Starts `heel-checkin serve` again and again in a moment.

A process that has loaded everything waits; for each start it forks, and the child runs the command's own `serve`. So a
start takes a fraction of a second instead of some seconds, and a hundred kills fit into minutes. The child's clock can
run faster than the true one, so that leases and pauses of a minute fit into seconds; all processes agree on it.
"""

from __future__ import annotations

import dataclasses
import json
import os
import resource
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from time import time
from types import TracebackType
from typing import Any

_END_OF_LOG = "-- end of a process --"
ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, kw_only=True)
class FastClock:
    """Shows `start` at the true time `at` (seconds since 1970), and runs `rate` times as fast as that."""

    start: datetime
    at: float
    rate: float

    def __call__(self) -> datetime:
        return self.start + timedelta(seconds=(time() - self.at) * self.rate)

    def as_json(self) -> dict[str, Any]:
        """To hand it to another process."""
        return {"start": self.start.isoformat(), "at": self.at, "rate": self.rate}

    @classmethod
    def from_json(cls, given: dict[str, Any]) -> FastClock:
        """From another process."""
        return cls(start=datetime.fromisoformat(given["start"]), at=given["at"], rate=given["rate"])


class Zygote:
    """The test's side: starts, kills and waits."""

    def __init__(self) -> None:
        self.log: list[str] = []
        self.running: set[int] = set()
        self._log_read = threading.Event()

    def __enter__(self) -> Zygote:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.crash.zygote"],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        threading.Thread(target=self._read_log, daemon=True).start()
        assert self._ask(do="hello") == "ready"
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end_all()
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(10)

    def _read_log(self) -> None:
        assert self._process.stderr is not None
        for line in self._process.stderr:
            if line.startswith(_END_OF_LOG):
                self._log_read.set()
            else:
                self.log.append(line.rstrip())

    def _ask(self, **order: Any) -> Any:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(order) + "\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        if not line:
            raise RuntimeError("the waiting process is gone:\n" + "\n".join(self.log[-20:]))
        return json.loads(line)

    def start(self, settings: dict[str, str], clock: FastClock, **more: Any) -> int:
        """Start a service with these settings (names without prefix). Returns its process id."""
        pid = int(self._ask(do="start", settings=settings, clock=clock.as_json(), **more))
        self.running.add(pid)
        return pid

    def kill(self, pid: int) -> None:
        """End it as a power cut does."""
        os.kill(pid, signal.SIGKILL)
        self.wait(pid)

    def stop(self, pid: int) -> int:
        """End it as an operator does. Returns its exit status."""
        os.kill(pid, signal.SIGTERM)
        return self.wait(pid)

    def wait(self, pid: int) -> int:
        """Wait for its end, and until all that it logged is read. Returns its exit status."""
        self.running.discard(pid)
        self._log_read.clear()
        status = int(self._ask(do="wait", pid=pid))
        self._log_read.wait(10)
        return status

    def end_all(self) -> None:
        """Kill what still runs, and forget the log: for the next test."""
        for pid in tuple(self.running):
            self.kill(pid)
        self.log.clear()

    @staticmethod
    def limit_files(pid: int, longest: int | None) -> None:
        """A file that the process writes cannot grow beyond `longest` bytes (None: it can), as on a full disk."""
        _, hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (hard if longest is None else longest, hard))


def _serve(order: dict[str, Any]) -> int:
    """The child: the command's own serve, with another clock and quicker ticks."""
    from bot.commands import serve
    from storage import database

    os.environ.update({f"HEEL_CHECKIN_{name.upper()}": value for name, value in order["settings"].items()})
    serve.utc_now = FastClock.from_json(order["clock"])
    database._BUSY_MILLISECONDS = order.get("busy_milliseconds", 10_000)
    if (longest := order.get("longest_file")) is not None:
        Zygote.limit_files(os.getpid(), longest)
    options_of = serve.options_of
    serve.options_of = lambda settings: dataclasses.replace(options_of(settings), tick_seconds=0.5)
    complain: Callable[[str], None] = lambda text: print(text, file=sys.stderr, flush=True)  # noqa: E731
    return serve.serve(complain)


def main() -> None:
    """Wait for orders, one a line."""
    from bot.channels.telegram.service import Service  # noqa: F401  loads the chat library
    from bot.conversation.service import Conversation

    Conversation.warm_up()
    for name in [name for name in os.environ if name.startswith("HEEL_CHECKIN_")]:
        del os.environ[name]
    for line in sys.stdin:
        order = json.loads(line)
        answer: Any = "ready"
        if order["do"] == "start":
            answer = os.fork()
            if not answer:
                status = 1
                try:
                    # The orders and answers are the parent's.
                    null = os.open(os.devnull, os.O_RDWR)
                    os.dup2(null, 0)
                    os.dup2(null, 1)
                    status = _serve(order)
                finally:
                    sys.stderr.flush()
                    os._exit(status)
        elif order["do"] == "wait":
            answer = os.waitstatus_to_exitcode(os.waitpid(order["pid"], 0)[1])
            print(_END_OF_LOG, file=sys.stderr, flush=True)
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
