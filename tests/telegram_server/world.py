"""What Telegram knows: people, messages, updates that wait for the bot. One lock guards it all.

Public methods are the operations of the control side; they take and return what JSON can carry (and bytes).
"""

from __future__ import annotations

import base64
import itertools
import json
import re
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from typing import Any

from tests.telegram_server.errors import ApiError, bad_request, conflict, fault, forbidden, too_many_requests
from tests.telegram_server.faults import Fault, Faults
from tests.telegram_server.rates import RateLimits, RateWatch

BOT_ID = 424242
DEFAULT_TOKEN = f"{BOT_ID}:LOCAL-TEST-SERVER-NOT-A-REAL-TOKEN-"
BOT = {
    "id": BOT_ID,
    "is_bot": True,
    "first_name": "Heel check-in",
    "username": "heel_checkin_test_bot",
    "can_join_groups": False,
    "can_read_all_group_messages": False,
    "supports_inline_queries": False,
}
_COMMAND = re.compile(r"/[A-Za-z0-9_]{1,32}(?:@\w+)?(?!\S)")
_SENDS = frozenset({"sendmessage", "sendphoto", "senddocument"})


@dataclass(slots=True)
class Chat:
    """A private chat with one person. Its number is the person's."""

    user: dict[str, Any]
    started: bool = False
    refuses: str | None = None

    def as_json(self) -> dict[str, Any]:
        """The `Chat` of the Bot API."""
        kept: dict[str, Any] = {
            key: self.user[key] for key in ("id", "first_name", "last_name", "username") if key in self.user
        }
        return {**kept, "type": "private"}


@dataclass(slots=True)
class Message:
    """A message of the bot, as it stands now."""

    message_id: int
    chat_id: int
    kind: str
    date: int
    at: float
    source: str
    text: str
    entities: list[dict[str, Any]]
    parse_mode: str | None
    markup: dict[str, Any] | None
    data: bytes | None = None
    file_name: str | None = None
    size: tuple[int, int] | None = None
    answered: bool = True
    deleted: bool = False
    edit_date: int | None = None
    earlier: list[dict[str, Any]] = field(default_factory=list)


@dataclass(slots=True)
class Update:
    """Something that happened and the bot is to hear of."""

    update_id: int
    chat_id: int
    kind: str
    payload: dict[str, Any]
    again: bool = False
    deliveries: int = 0

    def as_json(self) -> dict[str, Any]:
        """The `Update` of the Bot API."""
        return {"update_id": self.update_id, self.kind: self.payload}


class World:
    """Everything that a test can look at or change."""

    def __init__(self, token: str = DEFAULT_TOKEN, limits: RateLimits | None = None) -> None:
        self.token = token
        self.lock = threading.RLock()
        self.changed = threading.Condition(self.lock)
        self.chats: dict[int, Chat] = {}
        self.messages: dict[int, Message] = {}
        self.by_chat: dict[int, list[Message]] = {}
        self.heard: dict[int, dict[str, Any]] = {}
        """What people wrote, by message id."""
        self.updates: dict[int, Update] = {}
        self.pending: dict[int, Update] = {}
        self.callbacks: dict[str, dict[str, Any]] = {}
        self.command_lists: dict[tuple[str, int, str], list[dict[str, str]]] = {}
        self.webhook: dict[str, Any] = {}
        self.rates = RateWatch(limits or RateLimits())
        self.faults = Faults()
        self.polling = False
        self.on_update: Callable[[], None] = lambda: None
        self._refused: list[dict[str, Any]] = []
        self._calls: list[tuple[str, int | None, float, int]] = []
        self._message_ids = itertools.count(1)
        self._update_ids = itertools.count(700_000_001)
        self._positions = itertools.count(1)
        self._offset = 0.0
        self._allowed: list[str] = []

    # ---- clock ----

    def now(self) -> float:
        """Seconds since 1970 by this server's clock."""
        return time.time() + self._offset

    def set_time(self, at: float | None) -> None:
        """Let the server's clock show `at` now (seconds since 1970) and run on; None: the true time."""
        with self.lock:
            self._offset = 0.0 if at is None else at - time.time()

    # ---- people ----

    def add_user(self, chat_id: int, first_name: str, username: str | None, language_code: str) -> None:
        """Somebody who has not written to the bot yet. Nothing changes for one who is known."""
        with self.lock:
            if chat_id in self.chats:
                return
            user = {"id": chat_id, "is_bot": False, "first_name": first_name, "language_code": language_code}
            if username is not None:
                user["username"] = username
            self.chats[chat_id] = Chat(user)

    def speak(self, chat_id: int, content: dict[str, Any], at: float | None) -> dict[str, int]:
        """A new message of a person. `content` is what the Bot API's `Message` has beside sender, chat and date."""
        with self.changed:
            chat = self.chats[chat_id]
            if chat.refuses == "bot was blocked by the user":
                raise ValueError("this person blocked the bot; they unblock it before they write")
            chat.started = True
            message_id = next(self._message_ids)
            message = {
                "message_id": message_id,
                "from": chat.user,
                "chat": chat.as_json(),
                "date": int(self.now() if at is None else at),
                **content,
            }
            _find_commands(message)
            self.heard[message_id] = message
            return {"update_id": self._happen(chat_id, "message", message), "message_id": message_id}

    def edit_said(self, chat_id: int, message_id: int, text: str, at: float | None) -> dict[str, int]:
        """A person changes the text (or caption) of an earlier message."""
        with self.changed:
            before = self.heard[message_id]
            part = "text" if "text" in before else "caption"
            after = {**before, part: text, "edit_date": int(self.now() if at is None else at)}
            after.pop("entities", None)
            _find_commands(after)
            self.heard[message_id] = after
            return {"update_id": self._happen(chat_id, "edited_message", after), "message_id": message_id}

    def press(self, chat_id: int, message_id: int, data: str) -> dict[str, Any]:
        """A person presses a button below a message of the bot."""
        with self.changed:
            callback_id = str(4_000_000_000 + len(self.callbacks))
            self.callbacks[callback_id] = {"pressed_at": time.monotonic(), "answers": [], "expired": False}
            payload = {
                "id": callback_id,
                "from": self.chats[chat_id].user,
                "chat_instance": str(-chat_id * 7919),
                "data": data,
                "message": self.message_json(self.messages[message_id]),
            }
            return {"update_id": self._happen(chat_id, "callback_query", payload), "callback_id": callback_id}

    def block(self, chat_id: int, reason: str | None) -> None:
        """From now on messages are refused with 403 and this reason; None: they are taken again."""
        with self.changed:
            chat = self.chats[chat_id]
            was, chat.refuses = chat.refuses, reason
            blocked = "bot was blocked by the user"
            if (was == blocked) == (reason == blocked):
                return
            status = "kicked" if reason == blocked else "member"
            old: dict[str, Any] = {"user": BOT, "status": "member" if status == "kicked" else "kicked"}
            new: dict[str, Any] = {"user": BOT, "status": status}
            for member in (old, new):
                if member["status"] == "kicked":
                    member["until_date"] = 0
            payload = {
                "chat": chat.as_json(),
                "from": chat.user,
                "date": int(self.now()),
                "old_chat_member": old,
                "new_chat_member": new,
            }
            self._happen(chat_id, "my_chat_member", payload)

    # ---- updates ----

    def _happen(self, chat_id: int, kind: str, payload: dict[str, Any]) -> int:
        update = Update(next(self._update_ids), chat_id, kind, payload)
        self.updates[update.update_id] = update
        if not self._allowed or kind in self._allowed:
            self._put(update)
        return update.update_id

    def _put(self, update: Update) -> None:
        self.pending[next(self._positions)] = update
        self.changed.notify_all()
        self.on_update()

    def redeliver(self, update_id: int) -> None:
        """The same update once more, under the same number, whatever the bot confirmed."""
        with self.changed:
            first = self.updates[update_id]
            self._put(Update(first.update_id, first.chat_id, first.kind, first.payload, again=True))

    def unconfirmed(self) -> list[int]:
        """The numbers of the updates that the bot has not confirmed."""
        with self.lock:
            return sorted(update.update_id for update in self.pending.values())

    def allow_updates(self, kinds: list[str] | None) -> None:
        """What kinds the bot wants to hear of from now on; an empty list: all; None: as before."""
        if kinds is not None:
            with self.lock:
                self._allowed = kinds

    def confirm_below(self, offset: int) -> None:
        """Forget what the bot has confirmed with this offset (https://core.telegram.org/bots/api#getupdates)."""
        with self.changed:
            if offset < 0:
                for position in list(self.pending)[:offset]:
                    del self.pending[position]
            else:
                done = [key for key, each in self.pending.items() if each.update_id < offset and not each.again]
                for position in done:
                    del self.pending[position]
            self.changed.notify_all()

    def next_updates(self, limit: int) -> list[dict[str, Any]]:
        """The oldest updates that wait, at most `limit`."""
        with self.lock:
            chosen = list(itertools.islice(self.pending.values(), limit))
            for update in chosen:
                update.again = False
                self.updates[update.update_id].deliveries += 1
            return [each.as_json() for each in sorted(chosen, key=lambda each: each.update_id)]

    def confirm(self, position: int) -> None:
        """The webhook took this one."""
        with self.changed:
            if (update := self.pending.pop(position, None)) is not None:
                self.updates[update.update_id].deliveries += 1
            self.changed.notify_all()

    def is_polling(self) -> bool:
        """Whether a getUpdates waits for something to happen."""
        with self.lock:
            return self.polling

    def set_polling(self, waits: bool) -> None:
        """Said by the front."""
        with self.changed:
            self.polling = waits
            self.changed.notify_all()

    def deliveries(self, update_id: int) -> int:
        """How often an update was handed to the bot."""
        with self.lock:
            return self.updates[update_id].deliveries

    # ---- what the bot sent ----

    def chat_for_sending(self, chat_id: int) -> Chat:
        """The chat, or the refusal that the bot gets."""
        chat = self.chats.get(chat_id)
        if chat is None:
            raise bad_request("chat not found")
        if chat.refuses is not None:
            raise forbidden(chat.refuses)
        if not chat.started:
            raise forbidden("bot can't initiate conversation with a user")
        return chat

    def add_message(self, chat_id: int, **columns: Any) -> Message:
        """Record a message of the bot."""
        with self.changed:
            message = Message(
                message_id=next(self._message_ids),
                chat_id=chat_id,
                date=int(self.now()),
                at=time.monotonic(),
                **columns,
            )
            self.messages[message.message_id] = message
            self.by_chat.setdefault(chat_id, []).append(message)
            self.changed.notify_all()
            return message

    def message_json(self, message: Message) -> dict[str, Any]:
        """The `Message` of the Bot API."""
        answer: dict[str, Any] = {
            "message_id": message.message_id,
            "from": BOT,
            "chat": self.chats[message.chat_id].as_json(),
            "date": message.date,
        }
        text, entities = ("text", "entities") if message.kind == "text" else ("caption", "caption_entities")
        if message.text:
            answer[text] = message.text
        if message.entities:
            answer[entities] = message.entities
        if message.edit_date is not None:
            answer["edit_date"] = message.edit_date
        if message.markup and "inline_keyboard" in message.markup:
            answer["reply_markup"] = message.markup
        if message.data is not None:
            file = {
                "file_id": f"file-{message.message_id}",
                "file_unique_id": f"unique-{message.message_id}",
                "file_size": len(message.data),
            }
            if message.kind == "photo":
                width, height = message.size or (0, 0)
                answer["photo"] = [{**file, "width": width, "height": height}]
            else:
                answer["document"] = {**file, "file_name": message.file_name}
        return answer

    def sent(self, chat_id: int | None, after: int) -> list[dict[str, Any]]:
        """What the bot sent to a chat (None: to all), with numbers above `after`, oldest first."""
        with self.lock:
            found = self.messages.values() if chat_id is None else self.by_chat.get(chat_id, [])
            return [_seen(each) for each in found if each.message_id > after]

    def count_sent(self, chat_id: int | None) -> int:
        """How many messages the bot sent to a chat (None: to all)."""
        with self.lock:
            return len(self.messages) if chat_id is None else len(self.by_chat.get(chat_id, []))

    def callback(self, callback_id: str) -> dict[str, Any]:
        """How the bot answered a pressed button."""
        with self.lock:
            return dict(self.callbacks[callback_id])

    def expire_callbacks(self) -> None:
        """All buttons pressed so far were pressed too long ago to be answered."""
        with self.lock:
            for each in self.callbacks.values():
                each["expired"] = True

    def commands_for(self, chat_id: int | None, language_code: str) -> list[dict[str, str]]:
        """The menu that is shown, by https://core.telegram.org/bots/api#determining-list-of-commands."""
        scopes = [] if chat_id is None else [("chat", chat_id)]
        with self.lock:
            for scope, of in [*scopes, ("all_private_chats", 0), ("default", 0)]:
                for language in (language_code, ""):
                    if (found := self.command_lists.get((scope, of, language))) is not None:
                        return found
        return []

    def webhook_state(self) -> dict[str, Any]:
        """What the bot set, and how it went."""
        with self.lock:
            return dict(self.webhook)

    # ---- requests, as they come ----

    def begin(self, method: str, chat_id: int | None) -> Fault | None:
        """A request of the bot comes in. Returns the fault it meets; raises the refusal it gets before it is looked at."""
        at = time.monotonic()
        with self.lock:
            wait = self.rates.attempt(chat_id, at) if method in _SENDS and chat_id is not None else None
            met = self.faults.take(method, chat_id)
            if wait is not None:
                raise too_many_requests(wait)
            if met is not None and met.action == "answer":
                if met.status == 429 and chat_id is not None:
                    self.rates.asked_to_wait(chat_id, at, met.retry_after or 1)
                if not met.html:
                    raise Ordered(fault(met.status, met.retry_after))
            return met

    def note(self, method: str, chat_id: int | None, code: int, description: str | None = None) -> None:
        """Keep what was asked and what came of it."""
        with self.changed:
            at = time.monotonic()
            self._calls.append((method, chat_id, at, code))
            if description is not None:
                refused = {"method": method, "chat_id": chat_id, "code": code, "description": description, "at": at}
                self._refused.append(refused)
            self.changed.notify_all()

    def refusals(self) -> list[dict[str, Any]]:
        """What this server refused on its own account. Faults that a test ordered are not among them."""
        with self.lock:
            return list(self._refused)

    def calls(self, method: str | None) -> list[dict[str, Any]]:
        """The requests of the bot, in the order of their answers."""
        wanted = None if method is None else method.lower()
        with self.lock:
            return [
                {"method": name, "chat_id": chat_id, "at": at, "code": code}
                for name, chat_id, at, code in self._calls
                if wanted is None or name == wanted
            ]

    def order_fault(self, **columns: Any) -> None:
        """Queue a fault, see faults.Fault."""
        with self.lock:
            self.faults.order(Fault(**columns))

    def clear_faults(self) -> None:
        """Everything works again."""
        with self.lock:
            self.faults.clear()

    def faults_left(self) -> int:
        """How many requests are still to meet an ordered fault."""
        with self.lock:
            return self.faults.left()

    def violations(self) -> list[dict[str, Any]]:
        """Messages that came too fast."""
        with self.lock:
            return [asdict(each) for each in self.rates.violations]

    def most_in_a_second(self) -> int:
        """The most messages that came within any one second."""
        with self.lock:
            return self.rates.most_in_a_second

    def set_limits(self, **columns: Any) -> None:
        """Other limits from now on; what was noted is forgotten."""
        with self.lock:
            self.rates = RateWatch(RateLimits(**columns))

    # ---- webhook ----

    def check_polling(self) -> None:
        """Raises ApiError(409) while a webhook is set."""
        if self.webhook.get("url"):
            raise conflict(
                "can't use getUpdates method while webhook is active; use deleteWebhook to delete the webhook first"
            )

    def drop_pending(self) -> None:
        """Forget every update that waits."""
        with self.changed:
            self.pending.clear()
            self.changed.notify_all()


class Ordered(Exception):
    """The refusal that a test ordered."""

    def __init__(self, error: ApiError) -> None:
        super().__init__(error.description)
        self.error = error


def _find_commands(message: dict[str, Any]) -> None:
    """Commands are marked by the person's own app; the bot's library goes by the mark."""
    if found := _COMMAND.match(message.get("text", "")):
        message["entities"] = [{"type": "bot_command", "offset": 0, "length": found.end()}]


def _seen(message: Message) -> dict[str, Any]:
    """A message as a test sees it."""
    return {
        "message_id": message.message_id,
        "chat_id": message.chat_id,
        "kind": message.kind,
        "text": message.text,
        "source": message.source,
        "parse_mode": message.parse_mode,
        "entities": message.entities,
        "markup": message.markup,
        "data": message.data,
        "file_name": message.file_name,
        "date": message.date,
        "at": message.at,
        "answered": message.answered,
        "deleted": message.deleted,
        "edited": bool(message.earlier),
        "earlier": list(message.earlier),
    }


def encode(value: Any) -> bytes:
    """JSON for the control side; bytes are carried as base64."""
    return json.dumps(value, default=lambda raw: {"__bytes__": base64.b64encode(raw).decode()}).encode()


def decode(raw: bytes) -> Any:
    """What `encode` made."""
    return json.loads(
        raw, object_hook=lambda each: base64.b64decode(each["__bytes__"]) if set(each) == {"__bytes__"} else each
    )
