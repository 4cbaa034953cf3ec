"""Logs of events, never of people: no message text, no names, no tokens, whatever a library or an exception says.

Code logs a constant sentence and numbers, with more in `extra`: `log.info("queued", extra={"patient": 12, "count": 3})`.
Only the fields in `FIELDS` are written, and as arguments of the sentence only numbers, dates and names of exceptions. Of
another library's record the bare sentence is written, without its arguments; of an exception the kind and the place, not
the words: a database's error repeats the values that it was given, and a refused token's error the token.
"""

from __future__ import annotations

import json
import logging
import re
import sqlite3
import sys
import threading
import traceback
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from enum import Enum
from types import TracebackType
from typing import Any, Literal, TextIO

from bot.settings import SettingsError
from storage.backup import BackupError
from storage.database import DatabaseError

FIELDS = (
    "patient",
    "clinician",
    "incoming",
    "outgoing",
    "channel",
    "kind",
    "status",
    "error",
    "attempts",
    "count",
    "waiting",
    "seconds",
    "retry_after",
    "address",
    "port",
    "database",
    "version",
    "signal",
)
"""Fields of `extra` that are written. People and messages are numbers; `address` is where the service listens;
`error` is the name of a kind."""
_NUMBERED = frozenset({"patient", "clinician", "incoming", "outgoing"})
_OURS = ("bot", "scheduler", "storage", "__main__")
_TELLS_NOTHING_PRIVATE = (DatabaseError, SettingsError, BackupError, sqlite3.Error)
_KINDS = frozenset({"429", "bad request", "blocked"})
"""Why a message was not sent, in the channel's own words."""
_TOKEN = re.compile(r"\d{3,}:[A-Za-z0-9_-]{20,}")
_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")
_HIDDEN = "***"
_LEFT_OUT = "…"
_LONGEST = 300


class EventFormatter(logging.Formatter):
    """One line a record: JSON, or text for people."""

    def __init__(self, form: Literal["text", "json"] = "text", secrets: Iterable[str] = ()) -> None:
        super().__init__()
        self._form = form
        self._secrets = tuple(sorted((each for each in secrets if each), key=len, reverse=True))

    def format(self, record: logging.LogRecord) -> str:
        """The line, without a line end."""
        told: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": self._clean(_sentence(record)),
        }
        if _is_ours(record.name):
            for name in FIELDS:
                if name in record.__dict__ and (value := self._value(name, record.__dict__[name])) is not None:
                    told[name] = value
        if record.exc_info and record.exc_info[1] is not None:
            told["exception"] = [self._clean(each) for each in described(record.exc_info[1])]
        if self._form == "json":
            return json.dumps(told, ensure_ascii=False)
        head = f"{told.pop('at')} {told.pop('level'):<8}{told.pop('logger')}: {told.pop('event')}"
        exception = told.pop("exception", [])
        fields = "".join(
            f" {name}={json.dumps(value, ensure_ascii=False) if isinstance(value, str) and ' ' in value else value}"
            for name, value in told.items()
        )
        return head + fields + "".join(f" | {each}" for each in exception)

    def _value(self, name: str, value: Any) -> Any:
        if isinstance(value, Enum):
            value = value.value
        if isinstance(value, bool | int | float):
            return value
        if name in _NUMBERED or value is None:
            return None
        return self._clean(str(value)) if isinstance(value, str | date | timedelta) else None

    def _clean(self, text: str) -> str:
        for secret in self._secrets:
            text = text.replace(secret, _HIDDEN)
        text = _CONTROL.sub(" ", _TOKEN.sub(_HIDDEN, text)).strip()
        return text if len(text) <= _LONGEST else text[:_LONGEST] + _LEFT_OUT


def _is_ours(name: str) -> bool:
    return name.partition(".")[0] in _OURS


def _sentence(record: logging.LogRecord) -> str:
    sentence = str(record.msg)
    if not _is_ours(record.name):
        return sentence.partition("\n")[0].partition("<")[0]
    if not record.args:
        return sentence
    given = record.args if isinstance(record.args, tuple) else (record.args,)
    kept = tuple(each if _is_harmless(each) else _LEFT_OUT for each in given)
    try:
        return sentence % kept
    except (TypeError, ValueError):
        # A number was expected where words stood.
        return sentence


def _is_harmless(value: Any) -> bool:
    if isinstance(value, str):
        return value in _KINDS or _names_an_exception(value)
    return isinstance(value, bool | int | float | date | timedelta)


def _names_an_exception(text: str) -> bool:
    """Whether it is the name of a kind of exception, of those that are there."""
    if not text.isidentifier():
        return False
    waiting, seen = [BaseException], {BaseException}
    while waiting:
        kind = waiting.pop()
        if kind.__name__ == text:
            return True
        new = [each for each in type.__subclasses__(kind) if each not in seen]
        waiting += new
        seen.update(new)
    return False


def described(problem: BaseException) -> list[str]:
    """An exception and what it came from, the first cause last: the kind, the place, and words only where they are ours."""
    lines: list[str] = []
    seen: set[int] = set()
    current: BaseException | None = problem
    while current is not None and id(current) not in seen:
        seen.add(id(current))
        frames = traceback.extract_tb(current.__traceback__)
        place = "" if not frames else " at " + " < ".join(_place(each) for each in reversed(frames[-6:]))
        kind = type(current)
        lines.append(f"{kind.__module__}.{kind.__qualname__}{_words(current)}{place}")
        current = current.__cause__ or (None if current.__suppress_context__ else current.__context__)
    return lines


def _words(problem: BaseException) -> str:
    if isinstance(problem, _TELLS_NOTHING_PRIVATE):
        return f" ({problem})"
    if isinstance(problem, OSError) and problem.strerror:
        return f" ({problem.strerror})"
    state = getattr(problem, "sqlstate", None)
    return f" ({state})" if isinstance(state, str) else ""


def _place(frame: traceback.FrameSummary) -> str:
    parts = frame.filename.replace("\\", "/").rsplit("/", 3)[-3:]
    return f"{'/'.join(parts)}:{frame.lineno}"


def set_up(
    level: str, form: Literal["text", "json"], *, secrets: Iterable[str] = (), stream: TextIO | None = None
) -> None:
    """Log to `stream` (standard error if None) from `level` on; other libraries from warnings on only.

    `secrets`: texts that are never written, whatever they stand in. Uncaught exceptions are logged in the same way.
    """
    handler = logging.StreamHandler(stream)
    handler.setFormatter(EventFormatter(form, secrets))
    handler.addFilter(lambda record: _is_ours(record.name) or record.levelno >= logging.WARNING)
    root = logging.getLogger()
    for each in list(root.handlers):
        root.removeHandler(each)
    root.addHandler(handler)
    root.setLevel(logging.WARNING)
    for name in _OURS:
        logging.getLogger(name).setLevel(level.upper())
    # What cannot be written would be printed with its arguments.
    logging.raiseExceptions = False
    sys.excepthook = _log_uncaught
    threading.excepthook = lambda failed: _log_uncaught(
        failed.exc_type, failed.exc_value or failed.exc_type(), failed.exc_traceback
    )


def _log_uncaught(kind: type[BaseException], problem: BaseException, trace: TracebackType | None) -> None:
    if issubclass(kind, KeyboardInterrupt):
        return
    logging.getLogger("bot").critical("stopped by an error that nobody expected", exc_info=(kind, problem, trace))
