"""The server itself, through python-telegram-bot and real HTTP."""

from __future__ import annotations

import asyncio
import io
import json
import socket
import time
import urllib.error
import urllib.request
from collections.abc import Awaitable, Callable, Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

import pytest
from PIL import Image
from telegram import Bot, BotCommand, BotCommandScopeChat, InlineKeyboardButton, InlineKeyboardMarkup, ReplyParameters
from telegram.error import BadRequest, Conflict, Forbidden, InvalidToken, NetworkError, RetryAfter, TelegramError
from telegram.ext import AIORateLimiter, Application, MessageHandler, filters

from tests.telegram_server import Pressed, RateLimits, Said, SentMessage, ServerProcess, TelegramServer
from tests.telegram_server.control import Control
from tests.telegram_server.errors import ApiError
from tests.telegram_server.html import read_html
from tests.telegram_server.rates import RateWatch

PATIENT = 1001


@pytest.fixture(params=["thread", "process"])
def either(request: pytest.FixtureRequest) -> Iterator[Control]:
    """A server in a thread and one in a process of its own."""
    with TelegramServer() if request.param == "thread" else ServerProcess() as server:
        yield server


@pytest.fixture
def server() -> Iterator[TelegramServer]:
    with TelegramServer() as running:
        yield running


def with_bot(server: Control, work: Callable[[Bot], Awaitable[Any]], token: str | None = None) -> Any:
    """Run `work` with a bot that talks to the server."""

    async def run() -> Any:
        async with Bot(token or server.token, base_url=server.base_url) as bot:
            return await work(bot)

    return asyncio.run(run())


def send(server: Control, text: str = "hello", chat_id: int = PATIENT, **more: Any) -> SentMessage:
    """Let a bot send, and look at what arrived."""
    with_bot(server, lambda bot: bot.send_message(chat_id, text, **more))
    return server.last_to(chat_id)


def refused(server: Control, work: Callable[[Bot], Awaitable[Any]], kind: type[TelegramError]) -> str:
    """The words of the refusal."""
    with pytest.raises(kind) as caught:
        with_bot(server, work)
    return str(caught.value)


def keyboard(*rows: list[tuple[str, str]]) -> InlineKeyboardMarkup:
    return InlineKeyboardMarkup(
        [[InlineKeyboardButton(text, callback_data=data) for text, data in row] for row in rows]
    )


def picture(width: int = 30, height: int = 20) -> bytes:
    made = io.BytesIO()
    Image.new("L", (width, height)).save(made, "PNG")
    return made.getvalue()


# ---- sending ----


def test_a_message_arrives_with_text_and_buttons(either: Control) -> None:
    either.user(PATIENT).starts()
    message = send(
        either, "<b>How</b> was it &lt;today&gt;?", parse_mode="HTML", reply_markup=keyboard([("0", "a"), ("1", "b")])
    )
    assert (message.text, message.source) == ("How was it <today>?", "<b>How</b> was it &lt;today&gt;?")
    assert message.entities == ({"type": "bold", "offset": 0, "length": 3},)
    assert message.buttons == (("0", "1"),)
    assert message.button("1").data == "b"
    assert (message.kind, message.answered, message.edited) == ("text", True, False)


def test_a_document_and_a_photo_arrive_byte_for_byte(either: Control) -> None:
    either.user(PATIENT).starts()
    image = picture()

    async def work(bot: Bot) -> None:
        sent = await bot.send_document(PATIENT, b"%PDF-1.7 \x00\xff\r\n--", filename="week.pdf", caption="The week")
        assert sent.document is not None and sent.document.file_size == 15
        shown = await bot.send_photo(PATIENT, image, caption="<i>Chart</i>", parse_mode="HTML")
        assert (shown.photo[0].width, shown.photo[0].height) == (30, 20)

    with_bot(either, work)
    document, photo = either.sent_to(PATIENT)
    assert (document.kind, document.data, document.file_name) == ("document", b"%PDF-1.7 \x00\xff\r\n--", "week.pdf")
    assert (document.text, photo.text) == ("The week", "Chart")
    assert (photo.kind, photo.data) == ("photo", image)


def test_text_of_4096_characters_passes_and_one_more_is_refused(server: TelegramServer) -> None:
    """https://core.telegram.org/bots/api#sendmessage: 1-4096 characters after entities parsing."""
    server.user(PATIENT).starts()
    assert len(send(server, f"<b>{'a' * 4096}</b>", parse_mode="HTML").text) == 4096
    assert refused(server, lambda bot: bot.send_message(PATIENT, "a" * 4097), BadRequest) == "Message is too long"
    assert [each.description for each in server.refusals()] == ["Bad Request: message is too long"]


@pytest.mark.parametrize(
    ("work", "kind", "words"),
    [
        (lambda bot: bot.send_message(PATIENT, " \n "), BadRequest, "Message text is empty"),
        (lambda bot: bot.send_message(PATIENT, "<i> </i>", parse_mode="HTML"), BadRequest, "Message text is empty"),
        (lambda bot: bot.send_message(999, "x"), BadRequest, "Chat not found"),
        (lambda bot: bot.send_message("@somebody", "x"), BadRequest, "Chat not found"),
        (lambda bot: bot.send_message(1002, "x"), Forbidden, "Forbidden: bot can't initiate conversation with a user"),
        (
            lambda bot: bot.send_message(PATIENT, "x", reply_markup=keyboard([("1", "ä" * 33)])),
            BadRequest,
            "Button_data_invalid",
        ),
        (
            lambda bot: bot.send_message(PATIENT, "x", reply_markup=keyboard([("", "a")])),
            BadRequest,
            "Can't parse inline keyboard button",
        ),
        (
            lambda bot: bot.send_message(PATIENT, "x", reply_markup=keyboard([(str(i), "a") for i in range(101)])),
            BadRequest,
            "Reply markup is too long",
        ),
        (
            lambda bot: bot.send_message(PATIENT, "x", reply_parameters=ReplyParameters(77)),
            BadRequest,
            "Message to be replied not found",
        ),
        (
            lambda bot: bot.send_document(PATIENT, b"x", caption="a" * 1025),
            BadRequest,
            "Message caption is too long",
        ),
        (lambda bot: bot.send_document(PATIENT, b""), BadRequest, "File must be non-empty"),
        (lambda bot: bot.send_photo(PATIENT, b"no picture"), BadRequest, "Image_process_failed"),
        (lambda bot: bot.send_photo(PATIENT, picture(420, 20)), BadRequest, "Photo_invalid_dimensions"),
        (lambda bot: bot.edit_message_text("x", PATIENT, 12345), BadRequest, "Message to edit not found"),
        (lambda bot: bot.edit_message_text("x", PATIENT, 1), BadRequest, "Message can't be edited"),
        (lambda bot: bot.answer_callback_query("12"), BadRequest, "Query is too old"),
        (lambda bot: bot.set_my_commands([BotCommand("Plan", "x")]), BadRequest, "Bot_command_invalid"),
        (lambda bot: bot.set_my_commands([BotCommand("plan", "")]), BadRequest, "Bot_command_description_invalid"),
        (
            lambda bot: bot.set_my_commands([BotCommand("plan", "x")], scope=BotCommandScopeChat(999)),
            BadRequest,
            "Chat not found",
        ),
        (lambda bot: bot.send_chat_action(PATIENT, "dancing"), BadRequest, "Wrong parameter action in request"),
        (lambda bot: bot.set_webhook("ftp://here"), BadRequest, "Bad webhook"),
        (lambda bot: bot.set_webhook("https://here", secret_token="ä"), BadRequest, "Secret token contains"),
        (lambda bot: bot.do_api_request("makeCoffee"), TelegramError, "not found"),
    ],
)
def test_what_telegram_refuses_is_refused(
    server: TelegramServer, work: Callable[[Bot], Awaitable[Any]], kind: type[TelegramError], words: str
) -> None:
    server.user(PATIENT).starts()
    server.user(1002)
    assert words.lower() in refused(server, work, kind).lower()
    assert server.sent() == []


def test_limits_are_met_exactly(server: TelegramServer) -> None:
    """64 bytes of button data, 1,024 of a caption, 200 of an answer to a button: all pass."""
    patient = server.user(PATIENT)
    patient.starts()
    message = send(server, reply_markup=keyboard([("ok", "ä" * 32)]))
    with_bot(server, lambda bot: bot.send_document(PATIENT, b"x", caption="a" * 1024))
    pressed = patient.presses(message, "ok")
    assert isinstance(pressed, Pressed)
    with_bot(server, lambda bot: bot.answer_callback_query(pressed.callback_id, "a" * 200))
    assert server.refusals() == []


@pytest.mark.parametrize(
    ("source", "why"),
    [
        ("5 < 6", 'Unsupported start tag "" at byte offset 2'),
        ("<p>x</p>", 'Unsupported start tag "p" at byte offset 0'),
        ("ä<br>", 'Unsupported start tag "br" at byte offset 2'),
        ("<b>x", 'Can\'t find end tag corresponding to start tag "b"'),
        ("<b", "Unclosed start tag at byte offset 0"),
        ("<b>x</i>", 'Unmatched end tag at byte offset 4, expected "</b>", found "</i>"'),
        ("x</b>", "Unexpected end tag at byte offset 1"),
        ("<b>x</b", "Unclosed end tag at byte offset 4"),
        ("<span>x</span>", 'Tag "span" must have class "tg-spoiler" at byte offset 0'),
        ('<a ="x">y</a>', 'Empty attribute name in the tag "a" at byte offset 0'),
    ],
)
def test_html_that_cannot_be_parsed(source: str, why: str) -> None:
    """By parse_html() of https://github.com/tdlib/td/blob/master/td/telegram/MessageEntity.cpp"""
    with pytest.raises(ApiError) as caught:
        read_html(source)
    assert caught.value.description == f"Bad Request: can't parse entities: {why}"


@pytest.mark.parametrize(
    ("source", "plain", "kinds"),
    [
        ("a &amp; b &lt;c&gt; &quot;d&quot;", 'a & b <c> "d"', []),
        ("&nbsp; AT&T &#65;&#x42;", "&nbsp; AT&T AB", []),
        ("&lt 3", "< 3", []),
        ("3 > 2", "3 > 2", []),
        ("<B>x</b><b></b>", "x", ["bold"]),
        ("\U0001f600<u>x</u>", "\U0001f600x", ["underline"]),
        ('<a href="https://example.org/?a=1&amp;b">x</a>', "x", ["text_link"]),
        ("<pre>a\n b</pre><blockquote expandable>q</blockquote>", "a\n bq", ["pre", "blockquote"]),
    ],
)
def test_html_that_is_fine(source: str, plain: str, kinds: list[str]) -> None:
    text, entities = read_html(source)
    assert (text, [each["type"] for each in entities]) == (plain, kinds)


def test_offsets_count_utf16_units() -> None:
    """https://core.telegram.org/api/entities: a character outside the basic plane counts two."""
    assert read_html("\U0001f600<u>x</u>")[1] == [{"type": "underline", "offset": 2, "length": 1}]


def test_bad_html_is_refused_over_http(server: TelegramServer) -> None:
    server.user(PATIENT).starts()
    # The library writes all but the first letter small.
    words = refused(server, lambda bot: bot.send_message(PATIENT, "pain <3 today", parse_mode="HTML"), BadRequest)
    assert words == 'Can\'t parse entities: unsupported start tag "3" at byte offset 5'


def test_an_unknown_and_a_malformed_token(server: TelegramServer) -> None:
    """401 and 404, as python-telegram-bot's BaseRequest expects them."""
    for token, status in ((f"99:{'A' * 35}", 401), ("not-a-token", 404)):
        with pytest.raises(urllib.error.HTTPError) as caught:
            urllib.request.urlopen(f"{server.base_url}{token}/getMe")
        answer = json.loads(caught.value.read())
        assert (caught.value.code, answer["ok"], answer["error_code"]) == (status, False, status)
        with pytest.raises(InvalidToken):
            with_bot(server, lambda bot: bot.get_me(), token)


# ---- editing and buttons ----


def test_an_edit_is_seen_and_the_same_once_more_is_refused(server: TelegramServer) -> None:
    server.user(PATIENT).starts()
    message = send(server, "How was it?", reply_markup=keyboard([("4", "four")]))

    async def edit(bot: Bot) -> None:
        await bot.edit_message_text("How was it? <b>4</b>", PATIENT, message.message_id, parse_mode="HTML")

    with_bot(server, edit)
    now = server.last_to(PATIENT)
    assert (now.text, now.buttons, now.edited) == ("How was it? 4", (), True)
    assert now.earlier[0]["text"] == "How was it?"
    assert refused(server, edit, BadRequest).startswith("Message is not modified")


def test_a_keyboard_is_taken_away(server: TelegramServer) -> None:
    server.user(PATIENT).starts()
    message = send(server, reply_markup=keyboard([("4", "four")]))

    async def edit(bot: Bot) -> None:
        await bot.edit_message_reply_markup(PATIENT, message.message_id, reply_markup=None)

    with_bot(server, edit)
    assert server.last_to(PATIENT).buttons == ()
    assert refused(server, edit, BadRequest).startswith("Message is not modified")


def test_a_button_is_pressed_answered_and_too_old(either: Control) -> None:
    patient = either.user(PATIENT)
    patient.starts()
    message = send(either, reply_markup=keyboard([("4", "four")]))
    pressed = patient.presses(message, "4")
    assert isinstance(pressed, Pressed)

    async def work(bot: Bot) -> None:
        update = (await bot.get_updates(offset=-1))[0]
        assert update.update_id == pressed.update_id
        query = update.callback_query
        assert query is not None and query.message is not None
        assert (query.data, query.message.message_id, query.from_user.id) == ("four", message.message_id, PATIENT)
        await query.answer("noted")

    with_bot(either, work)
    assert either.answers_to(pressed) == [{"text": "noted", "show_alert": False}]
    either.expire_buttons()
    words = refused(either, lambda bot: bot.answer_callback_query(pressed.callback_id), BadRequest)
    assert words == "Query is too old and response timeout expired or query id is invalid"
    with pytest.raises(AssertionError, match="no button '5'"):
        patient.presses(message, "5")


def test_commands_are_shown_by_chat_before_the_default(server: TelegramServer) -> None:
    """https://core.telegram.org/bots/api#determining-list-of-commands"""
    server.user(PATIENT).starts()
    scope = BotCommandScopeChat(PATIENT)

    async def work(bot: Bot) -> None:
        await bot.set_my_commands([BotCommand("help", "What I can do")])
        await bot.set_my_commands([BotCommand("plan", "Today's plan")], scope=scope)

    with_bot(server, work)
    assert server.commands() == {"help": "What I can do"}
    assert server.commands(PATIENT) == {"plan": "Today's plan"}
    with_bot(server, lambda bot: bot.delete_my_commands(scope=scope))
    assert server.commands(PATIENT) == {"help": "What I can do"}


# ---- updates ----


def test_updates_wait_until_they_are_confirmed(either: Control) -> None:
    patient = either.user(PATIENT)
    first, second = patient.says("4"), patient.says("none")

    async def fetch(bot: Bot, offset: int | None) -> list[int]:
        return [each.update_id for each in await bot.get_updates(offset=offset)]

    assert with_bot(either, lambda bot: fetch(bot, None)) == [first.update_id, second.update_id]
    assert with_bot(either, lambda bot: fetch(bot, second.update_id)) == [second.update_id]
    assert either.unconfirmed() == [second.update_id]
    assert (either.deliveries(first), either.deliveries(second)) == (1, 2)
    assert with_bot(either, lambda bot: fetch(bot, second.update_id + 1)) == []
    assert either.unconfirmed() == []


def test_a_poll_ends_with_the_first_update(server: TelegramServer) -> None:
    patient = server.user(PATIENT)

    async def work(bot: Bot) -> float:
        began = time.monotonic()
        poll = asyncio.create_task(bot.get_updates(timeout=20))
        await server.wait_for_async(server.is_polling)
        assert not poll.done()
        await asyncio.to_thread(patient.says, "4")
        found = await poll
        assert [each.message.text for each in found if each.message] == ["4"]
        return time.monotonic() - began

    assert with_bot(server, work) < 5


def test_a_poll_without_updates_ends_empty_in_time(server: TelegramServer) -> None:
    async def work(bot: Bot) -> float:
        began = time.monotonic()
        assert await bot.get_updates(timeout=1) == ()
        return time.monotonic() - began

    assert 0.9 < with_bot(server, work) < 5


def test_a_second_poll_ends_the_first(server: TelegramServer) -> None:
    async def work(bot: Bot) -> None:
        first = asyncio.create_task(bot.get_updates(timeout=20))
        await server.wait_for_async(server.is_polling)
        async with Bot(server.token, base_url=server.base_url) as other:
            await other.get_updates(timeout=0)
        with pytest.raises(Conflict, match="terminated by other getUpdates request"):
            await first

    with_bot(server, work)


def test_a_poller_that_dies_takes_no_update_along(either: Control) -> None:
    host, port = either.url.removeprefix("http://").split(":")
    dying = socket.create_connection((host, int(port)))
    dying.sendall(f"GET /bot{either.token}/getUpdates?timeout=50 HTTP/1.1\r\nHost: x\r\n\r\n".encode())
    either.wait_for(either.is_polling)
    dying.close()
    either.wait_for(lambda: not either.is_polling())
    said = either.user(PATIENT).says("4")
    assert [each.update_id for each in with_bot(either, lambda bot: bot.get_updates())] == [said.update_id]
    assert either.refusals() == []


def test_only_the_kinds_asked_for_are_kept(server: TelegramServer) -> None:
    """https://core.telegram.org/bots/api#getupdates, allowed_updates: from the next update on."""
    patient = server.user(PATIENT)

    async def work(bot: Bot) -> list[int]:
        await bot.get_updates(allowed_updates=["callback_query"])
        await asyncio.to_thread(patient.says, "4")
        return [each.update_id for each in await bot.get_updates()]

    assert with_bot(server, work) == []


def test_the_process_ends_with_its_input_and_on_a_signal() -> None:
    with ServerProcess() as server:
        process = server.process
    assert process.returncode == 0
    with ServerProcess() as server:
        server.process.terminate()
        assert server.process.wait(10) == 0


def test_what_people_send_is_what_the_library_reads(server: TelegramServer) -> None:
    patient = server.user(PATIENT, first_name="Rowan")
    sent_at = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
    patient.starts("abc_-123", at=sent_at)
    said = patient.says("4 this morning")
    patient.edits(said, "5 this morning")
    patient.sends_voice()
    patient.sends_photo("look")
    patient.sends_sticker()
    patient.sends_document()
    patient.sends_location()
    patient.forwards("walk more", by="An aunt")
    pieces = patient.pastes("x" * 5000)
    updates = with_bot(server, lambda bot: bot.get_updates())
    start, text, edited, voice, photo, sticker, document, location, forwarded, long, rest = (
        each.effective_message for each in updates
    )
    assert (start.text, start.date, start.entities[0].type) == ("/start abc_-123", sent_at, "bot_command")
    assert (start.from_user.first_name, start.chat.type) == ("Rowan", "private")
    assert (edited.text, edited.message_id) == ("5 this morning", text.message_id)
    assert updates[2].edited_message is not None and edited.edit_date is not None
    assert voice.voice.duration == 4
    assert (photo.photo[0].width, photo.caption) == (640, "look")
    assert (sticker.sticker.emoji, document.document.file_name) == ("\U0001f44d", "letter.pdf")
    assert location.location is not None
    assert forwarded.forward_origin.sender_user_name == "An aunt"
    assert (len(long.text), len(rest.text), len(pieces)) == (4096, 904, 2)
    with pytest.raises(ValueError, match="4096"):
        patient.says("x" * 4097)


def test_an_update_is_delivered_again_on_request(server: TelegramServer) -> None:
    patient = server.user(PATIENT)
    said = patient.says("4")

    async def work(bot: Bot) -> list[int]:
        seen = [each.update_id for each in await bot.get_updates()]
        await bot.get_updates(offset=seen[-1] + 1)
        await asyncio.to_thread(server.redeliver, said)
        seen += [each.update_id for each in await bot.get_updates(offset=seen[-1] + 1)]
        await bot.get_updates(offset=seen[-1] + 1)
        return seen

    assert with_bot(server, work) == [said.update_id, said.update_id]
    assert server.deliveries(said) == 2
    assert server.unconfirmed() == []


def test_a_blocked_bot_is_told_and_refused(either: Control) -> None:
    patient = either.user(PATIENT)
    patient.starts()
    patient.blocks()
    assert (
        refused(either, lambda bot: bot.send_message(PATIENT, "x"), Forbidden)
        == "Forbidden: bot was blocked by the user"
    )
    update = with_bot(either, lambda bot: bot.get_updates())[-1]
    assert update.my_chat_member.new_chat_member.status == "kicked"
    patient.unblocks()
    assert send(either).text == "hello"
    either.block(PATIENT, deactivated=True)
    assert refused(either, lambda bot: bot.send_message(PATIENT, "x"), Forbidden) == "Forbidden: user is deactivated"


# ---- faults ----


def test_429_carries_its_pause_and_what_comes_too_early_is_noted(server: TelegramServer) -> None:
    server.user(PATIENT).starts()
    server.user(1002).starts()
    server.fail_next("sendMessage", status=429, retry_after=7, chat_id=PATIENT)
    send(server, chat_id=1002)
    with pytest.raises(RetryAfter) as caught:
        send(server)
    pause = caught.value.retry_after
    assert (pause if isinstance(pause, int) else pause.total_seconds()) == 7
    assert server.violations() == []
    send(server)
    (early,) = server.violations()
    assert (early.kind, early.chat_id) == ("early", PATIENT)
    assert 0 < early.count <= 7
    assert server.refusals() == []


@pytest.mark.parametrize("html", [False, True])
@pytest.mark.parametrize("status", [500, 502])
def test_a_server_error_does_nothing_and_passes(either: Control, status: int, html: bool) -> None:
    either.user(PATIENT).starts()
    either.fail_next(status=status, times=2, html=html)
    for _ in range(2):
        with pytest.raises(NetworkError):
            send(either)
    assert either.sent_to(PATIENT) == []
    assert either.faults_left() == 0
    send(either)
    assert [each.code for each in either.calls("sendMessage")] == [status, status, 200]


def test_a_connection_dropped_after_and_before_acceptance(either: Control) -> None:
    either.user(PATIENT).starts()
    either.drop_before_accepting()
    either.drop_after_accepting()
    for _ in range(2):
        with pytest.raises(NetworkError):
            send(either)
    (message,) = either.sent_to(PATIENT)
    assert (message.text, message.answered) == ("hello", False)
    assert send(either).answered


def test_a_late_answer_is_accepted_at_once(server: TelegramServer) -> None:
    server.user(PATIENT).starts()
    server.answer_late("sendMessage", seconds=60)

    async def work(bot: Bot) -> None:
        sending = asyncio.create_task(bot.send_message(PATIENT, "x"))
        await server.wait_for_async(lambda: server.count_sent() == 1)
        with pytest.raises(asyncio.TimeoutError):
            await asyncio.wait_for(sending, 0.2)

    with_bot(server, work)


# ---- rates ----


def test_more_than_the_limit_in_a_second_is_noted_and_the_limit_is_not() -> None:
    with TelegramServer(limits=RateLimits(overall=3)) as server:
        for chat_id in range(1, 5):
            server.user(chat_id).starts()

        async def burst(bot: Bot) -> None:
            await asyncio.gather(*(bot.send_message(chat_id, "x") for chat_id in range(1, 4)))
            assert server.violations() == []
            await bot.send_message(4, "x")

        with_bot(server, burst)
        assert [(each.kind, each.chat_id, each.count) for each in server.violations()] == [("overall", 4, 4)]
        assert (server.most_in_a_second(), server.count_sent()) == (4, 4)


def test_one_chat_gets_a_short_burst_and_no_more() -> None:
    with TelegramServer(limits=RateLimits(per_chat=0.01, burst=3, enforce=True, retry_after=2)) as server:
        server.user(PATIENT).starts()

        async def work(bot: Bot) -> None:
            for _ in range(3):
                await bot.send_message(PATIENT, "x")
            with pytest.raises(RetryAfter):
                await bot.send_message(PATIENT, "x")

        with_bot(server, work)
        assert [each.kind for each in server.violations()] == ["chat"]
        assert server.count_sent(PATIENT) == 3


def test_the_rate_watch_by_its_own_clock() -> None:
    steady = RateWatch(RateLimits(burst=2))
    for second in range(100):
        steady.attempt(1, second * 1.0)
    assert steady.violations == []
    hasty = RateWatch(RateLimits(burst=2))
    for tick in range(20):
        hasty.attempt(1, tick * 0.9)
    assert {each.kind for each in hasty.violations} == {"chat"}
    edge = RateWatch(RateLimits())
    for chat_id in range(60):
        edge.attempt(chat_id, chat_id / 30)
    assert (edge.violations, edge.most_in_a_second) == ([], 30)
    over = RateWatch(RateLimits())
    for chat_id in range(31):
        over.attempt(chat_id, chat_id / 31)
    assert [(each.kind, each.count) for each in over.violations] == [("overall", 31)]


# ---- webhook ----


class Hook:
    """A webhook that answers with the statuses it is given, then with 200."""

    def __init__(self, *statuses: int) -> None:
        self.statuses = list(statuses)
        self.got: list[tuple[str | None, dict[str, Any]]] = []
        hook = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                hook.got.append((self.headers["X-Telegram-Bot-Api-Secret-Token"], json.loads(body)))
                self.send_response(hook.statuses.pop(0) if hook.statuses else 200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *arguments: object) -> None:
                pass

        self.http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self.http.server_address[1]}/hook"
        Thread(target=self.http.serve_forever, daemon=True).start()


def test_a_webhook_gets_updates_in_order_with_the_secret_and_again_after_an_error(either: Control) -> None:
    hook = Hook(500, 403)
    patient = either.user(PATIENT)
    first = patient.says("4")
    with_bot(either, lambda bot: bot.set_webhook(hook.url, secret_token="s3cret"))
    second = patient.says("none")
    either.wait_for(lambda: either.unconfirmed() == [])
    assert [update["update_id"] for _, update in hook.got] == [first.update_id] * 3 + [second.update_id]
    assert {secret for secret, _ in hook.got} == {"s3cret"}
    info = with_bot(either, lambda bot: bot.get_webhook_info())
    assert (info.url, info.pending_update_count) == (hook.url, 0)
    assert info.last_error_message == "Wrong response from the webhook: 403 Forbidden"
    assert "active" in refused(either, lambda bot: bot.get_updates(), Conflict)
    with_bot(either, lambda bot: bot.delete_webhook())
    third = patient.says("yes")
    assert [each.update_id for each in with_bot(either, lambda bot: bot.get_updates())] == [third.update_id]
    hook.http.shutdown()


def test_a_dead_webhook_loses_nothing(server: TelegramServer) -> None:
    hook = Hook()
    hook.http.shutdown()
    hook.http.server_close()
    server.user(PATIENT).says("4")
    with_bot(server, lambda bot: bot.set_webhook(hook.url))
    server.wait_for(lambda: server.webhook().get("last_error_message") == "Connection refused")
    with_bot(server, lambda bot: bot.delete_webhook())
    assert len(with_bot(server, lambda bot: bot.get_updates())) == 1


# ---- a whole application ----


def test_an_application_of_the_library_polls_and_answers(either: Control) -> None:
    patient = either.user(PATIENT)
    said: list[Said] = []

    async def run() -> None:
        limiter = AIORateLimiter(overall_max_rate=1, overall_time_period=1 / 29)
        application = Application.builder().token(either.token).base_url(either.base_url).rate_limiter(limiter).build()

        async def echo(update: Any, context: Any) -> None:
            await update.message.reply_text(update.message.text)

        application.add_handler(MessageHandler(filters.TEXT, echo))
        async with application:
            assert application.updater is not None
            await application.start()
            await application.updater.start_polling()
            for number in range(5):
                said.append(await asyncio.to_thread(patient.says, f"message {number}"))
            await either.wait_for_async(lambda: either.count_sent(PATIENT) == 5)
            await application.updater.stop()
            await application.stop()

    asyncio.run(run())
    assert [each.text for each in either.sent_to(PATIENT)] == [f"message {number}" for number in range(5)]
    assert (either.refusals(), either.violations(), either.unconfirmed()) == ([], [], [])
    assert [either.deliveries(each) for each in said] == [1] * 5


def test_waiting_in_vain_says_what_was_seen(server: TelegramServer) -> None:
    server.user(PATIENT).starts()
    send(server, "the last words")
    with pytest.raises(AssertionError, match="the last words"):
        server.wait_for(lambda: False, timeout=0.1)
