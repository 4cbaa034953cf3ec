"""Logs hold no text, names or tokens, whatever is thrown at them."""

from __future__ import annotations

import ast
import asyncio
import io
import json
import logging
import sqlite3
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import httpx
import pytest
import telegram
from telegram.error import InvalidToken
from telegram.request import HTTPXRequest

from bot import logs
from bot.program.terms import Decision
from storage import people
from storage.database import Database, DatabaseError

TOKEN = "123456789:AAHdqTcvCH1vGWJxfSeofSAs0K5PALDsaw1"
SECRET = "webhook-secret-0123456789"
NAME, WORDS = "Rowan", "my calf is hot and swollen"


@pytest.fixture
def stream() -> Iterator[io.StringIO]:
    root = logging.getLogger()
    before = (list(root.handlers), root.level, logging.raiseExceptions, sys.excepthook, threading.excepthook)
    names = ("bot", "scheduler", "storage", "__main__")
    levels = [logging.getLogger(name).level for name in names]
    out = io.StringIO()
    logs.set_up("debug", "json", secrets=(TOKEN, SECRET), stream=out)
    yield out
    root.handlers[:], level, logging.raiseExceptions, sys.excepthook, threading.excepthook = before
    root.setLevel(level)
    for name, each in zip(names, levels, strict=True):
        logging.getLogger(name).setLevel(each)


def _lines(stream: io.StringIO) -> list[dict[str, object]]:
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_an_event_is_a_line_of_json_with_its_fields(stream: io.StringIO) -> None:
    logging.getLogger("bot.channels.telegram").info(
        "sent %d", 3, extra={"patient": 12, "kind": "prompt", "seconds": 0.25, "status": Decision.HOLD}
    )
    (line,) = _lines(stream)
    at = datetime.fromisoformat(str(line.pop("at")))
    assert at.tzinfo == UTC
    assert line == {
        "level": "info",
        "logger": "bot.channels.telegram",
        "event": "sent 3",
        "patient": 12,
        "kind": "prompt",
        "status": "hold",
        "seconds": 0.25,
    }


def test_text_for_people_is_one_line_too() -> None:
    record = logging.makeLogRecord(
        {"name": "bot.x", "levelname": "INFO", "msg": "a\nb %s", "args": (date(2026, 3, 2),), "created": 0.0}
    )
    record.address, record.error = "127.0.0.1:80", "a b"
    assert logs.EventFormatter("text").format(record) == (
        '1970-01-01T00:00:00.000Z info    bot.x: a b 2026-03-02 error="a b" address=127.0.0.1:80'
    )


def test_words_and_names_are_left_out(stream: io.StringIO) -> None:
    log = logging.getLogger("bot.conversation")
    log.info("heard %s from %s", WORDS, NAME)
    log.info("heard %d", WORDS)
    log.info("heard %(text)s", {"text": WORDS})
    log.info("heard", extra={"text": WORDS, "alias": NAME, "patient": NAME, "incoming": WORDS})
    log.info("heard", extra={"count": [WORDS], "kind": {"a": NAME}})
    logging.getLogger("telegram.ext.Application").warning("update %s", {"text": WORDS})
    logging.getLogger("asyncio").error(f"Task exception was never retrieved\nfuture: <Task exception={WORDS!r}>")
    logging.getLogger("apscheduler").error("Job raised", extra={"kind": NAME})
    assert NAME not in stream.getvalue()
    assert WORDS not in stream.getvalue()
    assert [line["event"] for line in _lines(stream)] == [
        "heard … from …",
        "heard %d",
        "heard %(text)s",
        "heard",
        "heard",
        "update %s",
        "Task exception was never retrieved",
        "Job raised",
    ]


def test_names_of_exceptions_are_told(stream: io.StringIO) -> None:
    log = logging.getLogger("bot")
    log.warning("refused: %s, %s, %s", "TimedOut", "bad request", NAME)
    log.warning("%s %s", Decision.HOLD, "OperationalError")
    assert [line["event"] for line in _lines(stream)] == ["refused: TimedOut, bad request, …", "… OperationalError"]


def test_tokens_and_secrets_are_hidden_wherever_they_stand(stream: io.StringIO) -> None:
    log = logging.getLogger("bot.channels")
    log.warning(f"POST https://api.telegram.org/bot{TOKEN}/getMe")
    log.warning("x", extra={"error": f"at {TOKEN}", "address": SECRET})
    # A token that was not told beforehand is known by its form.
    log.warning("https://api.telegram.org/bot987654321:BBHdqTcvCH1vGWJxfSeofSAs0K5PALDsaw2/getMe")
    logging.getLogger("httpx").warning(f"HTTP Request: POST https://api.telegram.org/bot{TOKEN}/getUpdates")
    for part in (TOKEN, TOKEN.partition(":")[2], "BBHdqTcv", SECRET):
        assert part not in stream.getvalue()
    assert len(_lines(stream)) == 4


def test_an_exception_tells_its_kind_and_place_but_not_its_words(stream: io.StringIO) -> None:
    try:
        try:
            raise ValueError(f"{NAME} said {WORDS}")
        except ValueError as problem:
            raise InvalidToken(f"The token `{TOKEN}` was rejected by the server.") from problem
    except InvalidToken:
        logging.getLogger("bot").exception("failed")
        logging.getLogger("telegram.ext").exception("No error handlers are registered, logging exception.")
    lines = _lines(stream)
    assert [str(each).partition(" at ")[0] for each in lines[0]["exception"]] == [  # type: ignore[attr-defined]
        "telegram.error.InvalidToken",
        "builtins.ValueError",
    ]
    assert "operation/test_logs.py:" in str(lines[0]["exception"])
    for part in (NAME, WORDS, TOKEN):
        assert part not in stream.getvalue()


def test_what_a_database_complains_of_is_not_written(stream: io.StringIO, database: Database) -> None:
    with database.session() as session:
        people.add_patient(session, alias=NAME, channel="t", address=WORDS, created_at=datetime(2026, 3, 2, tzinfo=UTC))
    try:
        with database.session() as session:
            people.add_patient(
                session, alias=NAME, channel="t", address=WORDS, created_at=datetime(2026, 3, 2, tzinfo=UTC)
            )
    except Exception as problem:
        assert WORDS in str(problem), "otherwise this test looks at nothing"
        logging.getLogger("bot").exception("failed")
    else:
        pytest.fail("a second patient of that address was taken")
    (line,) = _lines(stream)
    assert "IntegrityError" in str(line["exception"])
    assert NAME not in stream.getvalue()
    assert WORDS not in stream.getvalue()


def test_our_own_errors_and_a_full_disk_keep_their_words(stream: io.StringIO) -> None:
    for problem in (
        DatabaseError("The database cannot be reached."),
        sqlite3.OperationalError("database or disk is full"),
        OSError(28, "No space left on device", f"/home/{NAME}"),
    ):
        logging.getLogger("bot").error("failed", exc_info=problem)
    told = stream.getvalue()
    assert "The database cannot be reached." in told
    assert "database or disk is full" in told
    assert "No space left on device" in told
    assert NAME not in told


def test_the_chat_library_at_work_leaks_nothing_even_at_debug(stream: io.StringIO) -> None:
    """A real request through python-telegram-bot and httpx, to an address where nobody answers."""

    async def ask() -> None:
        async with telegram.Bot(
            TOKEN, base_url="http://127.0.0.1:9/bot", request=HTTPXRequest(connect_timeout=1)
        ) as bot:
            await bot.send_message(1, WORDS)

    # Otherwise these would speak: httpx at INFO and telegram at DEBUG, with the token and with the text.
    for name in ("httpx", "httpcore", "telegram"):
        logging.getLogger(name).setLevel(logging.DEBUG)
    try:
        logging.getLogger("httpx").info("HTTP Request: %s %s", "POST", httpx.URL(f"http://127.0.0.1/bot{TOKEN}/getMe"))
        with pytest.raises(telegram.error.NetworkError):
            asyncio.run(ask())
        logging.getLogger("bot").warning("ended")
    finally:
        for name in ("httpx", "httpcore", "telegram"):
            logging.getLogger(name).setLevel(logging.NOTSET)
    assert [line["event"] for line in _lines(stream)] == ["ended"]


def test_uncaught_exceptions_are_logged_without_their_words(
    stream: io.StringIO, capfd: pytest.CaptureFixture[str]
) -> None:
    try:
        raise RuntimeError(WORDS)
    except RuntimeError as problem:
        sys.excepthook(type(problem), problem, problem.__traceback__)

    def fails() -> None:
        raise LookupError(WORDS)

    thread = threading.Thread(target=fails)
    thread.start()
    thread.join()
    sys.excepthook(KeyboardInterrupt, KeyboardInterrupt(), None)
    assert [line["level"] for line in _lines(stream)] == ["critical", "critical"]
    assert "LookupError" in stream.getvalue()
    assert WORDS not in stream.getvalue()
    assert WORDS not in capfd.readouterr().err


def test_a_record_that_cannot_be_written_is_not_printed(stream: io.StringIO, capfd: pytest.CaptureFixture[str]) -> None:
    class Odd:
        def __str__(self) -> str:
            raise RuntimeError(WORDS)

    logging.getLogger("bot").warning(Odd())
    assert capfd.readouterr().err == ""


def test_levels(stream: io.StringIO) -> None:
    logs.set_up("warning", "text", stream=stream)
    logging.getLogger("bot.a").info("not this")
    logging.getLogger("bot.a").warning("this")
    logging.getLogger("storage.b").error("and this")
    logging.getLogger("apscheduler").info("not this")
    told = stream.getvalue().splitlines()
    assert [line.partition(": ")[2] for line in told] == ["this", "and this"]


def test_every_line_of_one_event_stays_one_line(stream: io.StringIO) -> None:
    logging.getLogger("bot").warning("a\r\nb\x1b[31m\u2028c", extra={"error": "x\ny"})
    assert len(stream.getvalue().splitlines()) == 1
    (line,) = _lines(stream)
    assert line["error"] == "x y"


_LEVELS = {"debug", "info", "warning", "error", "exception", "critical", "log"}


def _sentences(source: str) -> list[tuple[int, ast.expr | None]]:
    return [
        (node.lineno, node.args[1 if node.func.attr == "log" else 0] if node.args else None)
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in _LEVELS
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id in {"log", "logger", "logging"}
    ]


def test_the_code_logs_constant_sentences_only() -> None:
    """A sentence that is put together would carry its parts past the formatter."""
    root = Path(logs.__file__).parents[1]
    found, wrong = 0, []
    for folder in ("bot", "scheduler", "storage"):
        for path in (root / folder).rglob("*.py"):
            for line, sentence in _sentences(path.read_text(encoding="utf-8")):
                found += 1
                if not (isinstance(sentence, ast.Constant) and isinstance(sentence.value, str)):
                    wrong.append(f"{path.relative_to(root)}:{line}")
    assert found >= 1
    assert wrong == []
    assert [type(each).__name__ for _, each in _sentences('log.info(f"{a}")\nlogger.error("b" + c)')] == [
        "JoinedStr",
        "BinOp",
    ]
