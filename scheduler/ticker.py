"""A steady tick (APScheduler). What it calls is handed in; due times live in the database, so a lost tick loses nothing."""

from __future__ import annotations

from collections.abc import Callable

from apscheduler.schedulers.background import BackgroundScheduler


class Ticker:
    """Calls `callback` every `seconds`, one call at a time."""

    def __init__(self, callback: Callable[[], object], seconds: float = 20.0) -> None:
        self._scheduler = BackgroundScheduler(timezone="UTC")
        # Without a grace time a tick that is more than a second late would be dropped.
        self._scheduler.add_job(
            callback, "interval", seconds=seconds, coalesce=True, max_instances=1, misfire_grace_time=3600
        )

    def start(self) -> None:
        """Begin to tick."""
        self._scheduler.start()

    def stop(self) -> None:
        """Let the running call finish, and stop. Nothing happens where it was not started."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=True)
