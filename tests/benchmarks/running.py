"""A bot in a process of its own: the service, or a bare echo bot of python-telegram-bot. Run by the benchmarks.

python -m tests.benchmarks.running serve|echo API_URL TOKEN [DATABASE_URL INSTANT PER_SECOND]
"""

from __future__ import annotations

import asyncio
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from time import monotonic

from tests.telegram_server.control import Control

_ROOT = Path(__file__).resolve().parents[2]


@contextmanager
def process(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    """The process until the end of the block; it has said that it is ready."""
    running = subprocess.Popen(
        [sys.executable, "-W", "ignore", "-m", "tests.benchmarks.running", *arguments],
        cwd=_ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert running.stdout is not None
        if running.stdout.readline().strip() != "ready":
            raise RuntimeError("the bot did not start")
        yield running
    finally:
        running.terminate()
        running.wait(30)


@contextmanager
def echo_bot(server: Control) -> Iterator[subprocess.Popen[str]]:
    """The baseline."""
    with process("echo", server.url, server.token) as running:
        yield running


@contextmanager
def service(server: Control, url: str, now: datetime, per_second: float) -> Iterator[subprocess.Popen[str]]:
    """The service, whose clock begins at `now`."""
    with process("serve", server.url, server.token, url, now.isoformat(), str(per_second)) as running:
        yield running


def memory(running: subprocess.Popen[str], what: str = "VmRSS") -> float:
    """Resident memory in MB (Linux): VmRSS now, VmHWM the most so far."""
    for line in Path(f"/proc/{running.pid}/status").read_text().splitlines():
        if line.startswith(f"{what}:"):
            return int(line.split()[1]) / 1024
    raise LookupError(what)


def _echo(api: str, token: str) -> None:
    from telegram import Update
    from telegram.ext import Application, ContextTypes, MessageHandler, filters

    async def answer(update: Update, _context: ContextTypes.DEFAULT_TYPE) -> None:
        if update.message is not None and update.message.text:
            await update.message.reply_text(update.message.text)

    async def ready(_application: object) -> None:
        print("ready", flush=True)

    application = (
        (Application.builder().token(token).base_url(f"{api}/bot").concurrent_updates(64).connection_pool_size(64))
        .post_init(ready)
        .build()
    )
    application.add_handler(MessageHandler(filters.TEXT, answer))
    application.run_polling(drop_pending_updates=False)


def _serve(api: str, token: str, url: str, begins: str, per_second: str) -> None:
    from bot.channels.telegram.service import Options, Service
    from storage.database import open_database

    begun, start = monotonic(), datetime.fromisoformat(begins)
    database = open_database(url)

    async def run() -> None:
        stop = asyncio.Event()
        asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
        options = Options(token=token, api=api, messages_per_second=float(per_second), tick_seconds=5)
        running = Service(database, options, lambda: start + timedelta(seconds=monotonic() - begun))
        serving = asyncio.create_task(running.run(stop))
        await running.ready.wait()
        print("ready", flush=True)
        await serving

    asyncio.run(run())
    database.close()


if __name__ == "__main__":
    (_serve if sys.argv[1] == "serve" else _echo)(*sys.argv[2:])
