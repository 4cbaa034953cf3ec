"""The test's side: people who write and press, what they got, and the faults that are ordered."""

from __future__ import annotations

import asyncio
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from tests.telegram_server.methods import MAX_TEXT
from tests.telegram_server.rates import Violation

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Button:
    """A button: of a keyboard below a message (with data or a link), or of the keyboard that types for the person."""

    text: str
    data: str | None = None
    url: str | None = None


@dataclass(frozen=True, kw_only=True)
class SentMessage:
    """A message of the bot as it looked when it was asked for."""

    message_id: int
    chat_id: int
    kind: str
    """text, photo or document"""
    text: str
    """As the person reads it; the caption of a photo or document."""
    source: str
    """As the bot sent it, with its HTML."""
    parse_mode: str | None
    entities: tuple[dict[str, Any], ...]
    keyboard: tuple[tuple[Button, ...], ...]
    typing_keyboard: bool
    """The buttons type their text, instead of being pressed."""
    data: bytes | None = field(repr=False)
    file_name: str | None
    date: int
    at: float
    """Seconds of the server's monotonic clock."""
    answered: bool
    """False: the connection was closed on the bot before it heard that the message was accepted."""
    edited: bool
    earlier: tuple[dict[str, Any], ...] = field(repr=False)
    """Texts and markups before the edits, oldest first."""
    deleted: bool

    @property
    def buttons(self) -> tuple[tuple[str, ...], ...]:
        """The texts of the buttons, row by row."""
        return tuple(tuple(button.text for button in row) for row in self.keyboard)

    def button(self, text: str) -> Button:
        """The button with this text."""
        for row in self.keyboard:
            for button in row:
                if button.text == text:
                    return button
        raise AssertionError(f"no button {text!r} below {self.text!r}, only {self.buttons}")


@dataclass(frozen=True, kw_only=True)
class Said:
    """A message of a person."""

    update_id: int
    message_id: int


@dataclass(frozen=True, kw_only=True)
class Pressed:
    """A button that was pressed."""

    update_id: int
    callback_id: str


@dataclass(frozen=True, kw_only=True)
class Call:
    """A request of the bot. `code` is the HTTP status; 0: the connection was closed on it."""

    method: str
    """In small letters."""
    chat_id: int | None
    at: float
    code: int


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """A request that the server refused on its own account, not because a test ordered it."""

    method: str
    chat_id: int | None
    code: int
    description: str
    at: float


class User:
    """A person with a private chat."""

    def __init__(self, server: Control, chat_id: int) -> None:
        self.server = server
        self.chat_id = chat_id

    def says(self, text: str, *, at: datetime | None = None) -> Said:
        """Write. Apps cut what is longer than a message, see `pastes`."""
        if not 1 <= len(text) <= MAX_TEXT:
            raise ValueError(f"a message has 1 to {MAX_TEXT} characters, this one {len(text)}")
        return self.sends(at=at, text=text)

    def starts(self, payload: str = "", *, at: datetime | None = None) -> Said:
        """Press Start, as after opening a link to the bot with or without a payload."""
        return self.says(f"/start {payload}".strip(), at=at)

    def pastes(self, text: str, *, at: datetime | None = None) -> list[Said]:
        """Write something of any length; it goes out as several messages, as apps do it."""
        return [self.says(text[i : i + MAX_TEXT], at=at) for i in range(0, len(text), MAX_TEXT)]

    def replies(self, message: SentMessage, text: str, *, at: datetime | None = None) -> Said:
        """Write with a message of the bot quoted."""
        quoted = {
            "message_id": message.message_id,
            "date": message.date,
            "chat": {"id": self.chat_id, "type": "private", "first_name": "P"},
            "text": message.text,
        }
        return self.sends(at=at, text=text, reply_to_message=quoted)

    def forwards(self, text: str, *, by: str = "Somebody", at: datetime | None = None) -> Said:
        """Forward somebody else's message."""
        origin = {"type": "hidden_user", "sender_user_name": by, "date": int(self.server.now()) - 3600}
        return self.sends(at=at, text=text, forward_origin=origin)

    def sends_voice(self, *, caption: str | None = None, at: datetime | None = None) -> Said:
        """Send a voice note."""
        voice = {**_file("voice"), "duration": 4, "mime_type": "audio/ogg"}
        return self.sends(at=at, voice=voice, **_caption(caption))

    def sends_photo(self, caption: str | None = None, *, at: datetime | None = None) -> Said:
        """Send a photo, with words below it or none."""
        photo = [{**_file("photo"), "width": 640, "height": 480}]
        return self.sends(at=at, photo=photo, **_caption(caption))

    def sends_document(self, caption: str | None = None, *, at: datetime | None = None) -> Said:
        """Send a file."""
        return self.sends(at=at, document={**_file("document"), "file_name": "letter.pdf"}, **_caption(caption))

    def sends_sticker(self, *, emoji: str = "\U0001f44d", at: datetime | None = None) -> Said:
        """Send a sticker."""
        shape = {"type": "regular", "width": 512, "height": 512, "is_animated": False, "is_video": False}
        return self.sends(at=at, sticker={**_file("sticker"), **shape, "emoji": emoji})

    def sends_location(self, *, at: datetime | None = None) -> Said:
        """Send a place."""
        return self.sends(at=at, location={"latitude": 38.7, "longitude": -9.1})

    def sends(self, *, at: datetime | None = None, **content: Any) -> Said:
        """Send anything: the fields of the Bot API's `Message` beside sender, chat and date."""
        return Said(**self.server.ask("speak", chat_id=self.chat_id, content=content, at=_seconds(at)))

    def edits(self, said: Said, text: str, *, at: datetime | None = None) -> Said:
        """Change the words of an earlier message."""
        done = self.server.ask(
            "edit_said", chat_id=self.chat_id, message_id=said.message_id, text=text, at=_seconds(at)
        )
        return Said(**done)

    def presses(self, message: SentMessage, button: str, *, at: datetime | None = None) -> Pressed | Said:
        """Press a button as it was when `message` was asked for: an old picture of it is a press that came late."""
        if message.typing_keyboard:
            return self.says(message.button(button).text, at=at)
        data = message.button(button).data
        if data is None:
            raise AssertionError(f"{button!r} opens a link, the bot does not hear of it")
        return Pressed(**self.server.ask("press", chat_id=self.chat_id, message_id=message.message_id, data=data))

    def blocks(self) -> None:
        """Block the bot."""
        self.server.block(self.chat_id)

    def unblocks(self) -> None:
        """Let the bot write again."""
        self.server.unblock(self.chat_id)

    def received(self) -> list[SentMessage]:
        """All that the bot sent here."""
        return self.server.sent_to(self.chat_id)


class Control(ABC):
    """What a test can do with a server, wherever that runs."""

    url: str
    """The base URL of the Bot API, without a slash at its end."""
    token: str

    @abstractmethod
    def ask(self, operation: str, **arguments: Any) -> Any:
        """Call an operation of the server's world."""

    @abstractmethod
    def _wait_for_change(self, seconds: float) -> None:
        """Return when something changed, or after `seconds`."""

    @abstractmethod
    def now(self) -> float:
        """Seconds since 1970 by the server's clock."""

    @property
    def base_url(self) -> str:
        """What python-telegram-bot calls `base_url`."""
        return f"{self.url}/bot"

    # ---- people ----

    def user(
        self, chat_id: int, *, first_name: str = "Person", username: str | None = None, language_code: str = "en"
    ) -> User:
        """A person; new if nobody has this number yet. The bot cannot write before they did."""
        self.ask("add_user", chat_id=chat_id, first_name=first_name, username=username, language_code=language_code)
        return User(self, chat_id)

    def block(self, chat_id: int, *, deactivated: bool = False) -> None:
        """The person blocks the bot, or has deleted their account (of that the bot is not told)."""
        self.ask(
            "block", chat_id=chat_id, reason="user is deactivated" if deactivated else "bot was blocked by the user"
        )

    def unblock(self, chat_id: int) -> None:
        """The person lets the bot write again."""
        self.ask("block", chat_id=chat_id, reason=None)

    # ---- what the bot did ----

    def sent_to(self, chat_id: int, *, after: int = 0) -> list[SentMessage]:
        """What the bot sent to a chat, oldest first, with message numbers above `after`."""
        return [_sent_message(each) for each in self.ask("sent", chat_id=chat_id, after=after)]

    def sent(self, *, after: int = 0) -> list[SentMessage]:
        """What the bot sent to everybody, in the order of acceptance."""
        return [_sent_message(each) for each in self.ask("sent", chat_id=None, after=after)]

    def last_to(self, chat_id: int) -> SentMessage:
        """The latest message to a chat."""
        found = self.sent_to(chat_id)
        if not found:
            raise AssertionError(f"nothing was sent to {chat_id}")
        return found[-1]

    def count_sent(self, chat_id: int | None = None) -> int:
        """How many messages the bot sent, to a chat or to everybody."""
        return int(self.ask("count_sent", chat_id=chat_id))

    def text_to(self, chat_id: int, *, after: int = 0) -> str:
        """All texts to a chat, one below the other."""
        return "\n".join(each.text for each in self.sent_to(chat_id, after=after))

    def answers_to(self, pressed: Pressed) -> list[dict[str, Any]]:
        """How the bot answered a pressed button: `text` and `show_alert` of each answer."""
        answers: list[dict[str, Any]] = self.ask("callback", callback_id=pressed.callback_id)["answers"]
        return answers

    def commands(self, chat_id: int | None = None, language_code: str = "en") -> dict[str, str]:
        """The menu that a person sees: command and description."""
        found = self.ask("commands_for", chat_id=chat_id, language_code=language_code)
        return {each["command"]: each["description"] for each in found}

    def calls(self, method: str | None = None) -> list[Call]:
        """The requests of the bot, in the order of their answers."""
        return [Call(**each) for each in self.ask("calls", method=method)]

    def refusals(self) -> list[Refusal]:
        """What was refused without being ordered: a bot that keeps to the rules leaves this empty."""
        return [Refusal(**each) for each in self.ask("refusals")]

    def violations(self) -> list[Violation]:
        """Messages that came too fast."""
        return [Violation(**each) for each in self.ask("violations")]

    def most_in_a_second(self) -> int:
        """The most messages that came within any one second."""
        return int(self.ask("most_in_a_second"))

    def set_limits(self, **columns: Any) -> None:
        """Other limits (see RateLimits) from now on; what was noted is forgotten."""
        self.ask("set_limits", **columns)

    # ---- updates ----

    def unconfirmed(self) -> list[int]:
        """The numbers of the updates that the bot has not confirmed."""
        return list(self.ask("unconfirmed"))

    def redeliver(self, update: Said | Pressed | int) -> None:
        """Hand an update over once more, under the same number."""
        self.ask("redeliver", update_id=update if isinstance(update, int) else update.update_id)

    def is_polling(self) -> bool:
        """Whether a getUpdates waits: the bot has seen all there is, and is alive."""
        return bool(self.ask("is_polling"))

    def deliveries(self, update: Said | Pressed) -> int:
        """How often an update was handed to the bot."""
        return int(self.ask("deliveries", update_id=update.update_id))

    def expire_buttons(self) -> None:
        """All buttons pressed so far were pressed too long ago to be answered."""
        self.ask("expire_callbacks")

    def webhook(self) -> dict[str, Any]:
        """What the bot set with setWebhook; empty: it polls."""
        return dict(self.ask("webhook_state"))

    # ---- faults ----

    def fail_next(
        self,
        method: str | None = None,
        *,
        status: int,
        retry_after: int | None = None,
        times: int = 1,
        chat_id: int | None = None,
        html: bool = False,
    ) -> None:
        """The next `times` requests are answered with this status and nothing is done.

        Without a method: of whatever sends to a chat. `html` answers as a proxy in front of Telegram would.
        """
        self._order("answer", method, times, chat_id, status=status, retry_after=retry_after, html=html)

    def drop_after_accepting(self, method: str | None = None, *, times: int = 1, chat_id: int | None = None) -> None:
        """The next `times` requests are carried out, and the connection is closed without an answer."""
        self._order("drop_after", method, times, chat_id)

    def drop_before_accepting(self, method: str | None = None, *, times: int = 1, chat_id: int | None = None) -> None:
        """The connection is closed on the next `times` requests, and nothing is done."""
        self._order("drop_before", method, times, chat_id)

    def answer_late(
        self, method: str | None = None, *, seconds: float, times: int = 1, chat_id: int | None = None
    ) -> None:
        """The next `times` requests are carried out at once and answered late."""
        self._order("delay", method, times, chat_id, seconds=seconds)

    def _order(self, action: str, method: str | None, times: int, chat_id: int | None, **more: Any) -> None:
        self.ask("order_fault", action=action, method=method, times=times, chat_id=chat_id, **more)

    def clear_faults(self) -> None:
        """Everything works again."""
        self.ask("clear_faults")

    def faults_left(self) -> int:
        """How many requests are still to meet an ordered fault."""
        return int(self.ask("faults_left"))

    # ---- time ----

    def set_time(self, at: datetime | None) -> None:
        """Let the server's clock (the dates of messages) show `at` now and run on; None: the true time."""
        self.ask("set_time", at=_seconds(at))

    def wait_for(self, predicate: Callable[[], T], timeout: float = 10.0) -> T:
        """Wait until `predicate()` is true and return what it gave. Raises AssertionError after `timeout` seconds.

        It blocks: a bot in the same event loop needs `wait_for_async`.
        """
        deadline = time.monotonic() + timeout
        while True:
            if found := predicate():
                return found
            left = deadline - time.monotonic()
            if left <= 0:
                raise AssertionError(self._waited_in_vain(timeout))
            self._wait_for_change(min(left, 0.05))

    async def wait_for_async(self, predicate: Callable[[], T], timeout: float = 10.0) -> T:
        """`wait_for` beside a running event loop; the predicate is called in another thread."""
        return await asyncio.to_thread(self.wait_for, predicate, timeout)

    def _waited_in_vain(self, timeout: float) -> str:
        lines = [f"  {each.chat_id}: {each.text!r}" for each in self.sent()[-5:]]
        lines += [f"  refused {each.method}: {each.description}" for each in self.refusals()[-5:]]
        lines += [f"  asked {each.method}: {each.code}" for each in self.calls()[-5:]]
        return "\n".join([f"not within {timeout} seconds; the server saw last:", *lines])


def _seconds(at: datetime | None) -> float | None:
    if at is not None and at.tzinfo is None:
        raise ValueError("a time needs its zone")
    return None if at is None else at.timestamp()


def _file(kind: str) -> dict[str, Any]:
    return {"file_id": f"user-{kind}", "file_unique_id": f"user-unique-{kind}", "file_size": 2048}


def _caption(caption: str | None) -> dict[str, str]:
    return {} if caption is None else {"caption": caption}


def _sent_message(raw: dict[str, Any]) -> SentMessage:
    columns = dict(raw)
    markup = columns.pop("markup") or {}
    return SentMessage(
        **columns
        | {
            "entities": tuple(columns["entities"]),
            "earlier": tuple(columns["earlier"]),
            "keyboard": _rows(markup.get("inline_keyboard") or markup.get("keyboard") or ()),
            "typing_keyboard": "keyboard" in markup,
        }
    )


def _rows(rows: Sequence[Sequence[Any]]) -> tuple[tuple[Button, ...], ...]:
    return tuple(
        tuple(
            Button(text=each)
            if isinstance(each, str)
            else Button(text=each["text"], data=each.get("callback_data"), url=each.get("url"))
            for each in row
        )
        for row in rows
    )
