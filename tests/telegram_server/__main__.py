"""`python -m tests.telegram_server --port 0` prints its port and serves until it is ended."""

from __future__ import annotations

import argparse
import asyncio
import signal
import sys
import threading

from tests.telegram_server.server import serve
from tests.telegram_server.world import DEFAULT_TOKEN, World


async def _run(options: argparse.Namespace) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)
    if options.until_input_ends:

        def watch() -> None:
            sys.stdin.read()
            loop.call_soon_threadsafe(stop.set)

        threading.Thread(target=watch, daemon=True).start()

    def started(port: int) -> None:
        print(port, flush=True)

    await serve(World(options.token), options.port, options.webhook_retry, started, stop)


def main() -> None:
    """Read the options and serve."""
    parser = argparse.ArgumentParser(description="A Bot API server on this machine, for tests")
    parser.add_argument("--port", type=int, default=0, help="0: any that is free")
    parser.add_argument("--token", default=DEFAULT_TOKEN)
    parser.add_argument("--webhook-retry", type=float, default=1.0, metavar="SECONDS", help="the first pause")
    parser.add_argument("--until-input-ends", action="store_true", help="stop when standard input is closed")
    asyncio.run(_run(parser.parse_args()))


if __name__ == "__main__":
    main()
