"""`serve` under load, killed at random moments and started again, until it has been killed often enough."""

from __future__ import annotations

import random
import time

from tests.channels.running import Rows
from tests.crash.counting import Count, Crowd, at_rest, begin, count, furnish
from tests.crash.zygote import Zygote
from tests.telegram_server import ServerProcess

RATE = 15.0
"""Seconds of the service's clock in one true second: a lease of 45 s is over after three."""
_PAUSE = 0.08
_LONGEST_LIFE = 1.6


def settings_for(server: ServerProcess, url: str, **more: str) -> dict[str, str]:
    """What `serve` is given."""
    return {
        "database_url": url,
        "telegram_token": server.token,
        "telegram_api": server.url,
        "messages_per_second": "28",
        "log_level": "warning",
        **more,
    }


def kill_again_and_again(zygote: Zygote, url: str, kills: int, seed: int) -> Count:
    """Run it, and count. `url`: a fresh database. Raises AssertionError where something was lost or came twice."""
    chance = random.Random(seed)
    with ServerProcess() as server:
        clock = begin(RATE)
        furnish(url, server, clock, minutes=max(2, int(kills * _LONGEST_LIFE * RATE / 60 / 2)))
        crowd = Crowd(server, chance)
        crowd.all_start()
        settings = settings_for(server, url)
        killed: list[float] = []
        for _ in range(kills):
            pid = zygote.start(settings, clock)
            until = time.monotonic() + chance.uniform(0.1, _LONGEST_LIFE)
            while (left := until - time.monotonic()) > 0:
                crowd.act()
                server._wait_for_change(min(left, _PAUSE))
            zygote.kill(pid)
            killed.append(time.monotonic())
        pid = zygote.start(settings, clock)
        rows = Rows(url)
        last = "SELECT count(*) FROM patients WHERE next_due_kind = 'morning' AND next_due_at < '2026-03-05'"
        server.wait_for(lambda: not rows.one(last) and at_rest(server, rows), 60 + kills)
        assert zygote.stop(pid) == 0, zygote.log[-5:]
        found = count(server, rows, crowd.said, killed)
        rows.close()
        assert not [line for line in zygote.log if "Traceback" in line or "could not be handled" in line], zygote.log
        return found
