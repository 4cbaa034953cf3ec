"""The ticker: it goes on after a failure, and stops only when the running call is through."""

from __future__ import annotations

import threading

from scheduler.ticker import Ticker

_LONG = 10.0
"""Seconds after which a test gives up; nothing waits so long when all is well."""


def test_a_call_that_fails_does_not_end_the_ticking() -> None:
    calls, third = [], threading.Event()

    def callback() -> None:
        calls.append(len(calls))
        if len(calls) == 3:
            third.set()
        if len(calls) == 1:
            raise RuntimeError("the database was away")

    ticker = Ticker(callback, seconds=0.02)
    ticker.start()
    came = third.wait(_LONG)
    ticker.stop()
    assert came
    after = len(calls)
    assert not threading.Event().wait(0.1)
    assert len(calls) == after


def test_stopping_waits_for_the_call_that_runs_and_calls_never_overlap() -> None:
    begun, go_on = threading.Event(), threading.Event()
    running, most, done = [], [], []

    def callback() -> None:
        running.append(1)
        most.append(len(running))
        begun.set()
        go_on.wait(_LONG)
        running.pop()
        done.append(1)

    ticker = Ticker(callback, seconds=0.02)
    ticker.start()
    assert begun.wait(_LONG)
    # Several ticks fall due while the first call still runs.
    threading.Timer(0.1, go_on.set).start()
    ticker.stop()
    assert done
    assert not running
    assert set(most) == {1}
