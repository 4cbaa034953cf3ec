"""The methods of the Bot API that the service uses, each with the limits that its page states.

https://core.telegram.org/bots/api, section "Available methods". Here nothing waits: getUpdates is in front.py.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PIL import Image, UnidentifiedImageError

from tests.telegram_server.errors import ApiError, bad_request
from tests.telegram_server.html import read_html, utf16_length
from tests.telegram_server.world import BOT, Message, World

MAX_TEXT = 4096
"""Characters of a text after its entities were read (sendMessage). Counted here in UTF-16 units, the stricter way."""
MAX_CAPTION = 1024
MAX_CALLBACK_DATA = 64
"""Bytes (InlineKeyboardButton)."""
MAX_CALLBACK_ANSWER = 200
MAX_BUTTONS = 100
"""Buttons below one message. Common practice, no source."""
MAX_PHOTO_BYTES = 10 * 1024 * 1024
MAX_FILE_BYTES = 50 * 1024 * 1024
MAX_PHOTO_SIDES = 10_000
"""Width and height together, in pixels (sendPhoto); the longer side is at most 20 times the shorter."""
_COMMAND_NAME = re.compile(r"[a-z0-9_]{1,32}")
_SECRET = re.compile(r"[A-Za-z0-9_-]{1,256}")
_NOT_SHOWN = re.compile(r"[\x00-\x09\x0b-\x1f]")


@dataclass(slots=True)
class Upload:
    """A file in a request."""

    name: str
    data: bytes


class Parameters:
    """The parameters of a request, whatever form they came in."""

    def __init__(self, values: dict[str, Any], files: dict[str, Upload]) -> None:
        self.values = values
        self.files = files

    def text(self, name: str) -> str:
        """A string; empty if it is not there."""
        value = self.values.get(name, "")
        return value if isinstance(value, str) else json.dumps(value)

    def integer(self, name: str, default: int = 0) -> int:
        """A whole number; what is none counts as not given."""
        try:
            return int(self.values.get(name, default))
        except (TypeError, ValueError):
            return default

    def flag(self, name: str) -> bool:
        """A yes or no."""
        return str(self.values.get(name, "")).lower() in ("true", "1", "yes")

    def structure(self, name: str, what: str) -> Any:
        """Something serialised in JSON; None if it is not there."""
        value = self.values.get(name)
        if not isinstance(value, str):
            return value
        if not value:
            return None
        try:
            return json.loads(value)
        except ValueError:
            raise bad_request(f"can't parse {what} JSON object") from None

    def chat_id(self) -> int | None:
        """The private chat that is meant; None: not given, or no number."""
        return self.integer("chat_id") or None

    def file(self, name: str) -> Upload | None:
        """An uploaded file."""
        value = self.text(name)
        return self.files.get(value.removeprefix("attach://") if value.startswith("attach://") else name)


def get_me(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#getme"""
    return BOT


def send_message(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#sendmessage"""
    chat_id = _chat(given)
    text, entities = _formatted(given, "text")
    _check_text(text)
    markup = _markup(given)
    world.chat_for_sending(chat_id)
    _check_reply(world, given)
    return world.message_json(
        world.add_message(
            chat_id,
            kind="text",
            source=given.text("text"),
            text=text,
            entities=entities,
            parse_mode=given.text("parse_mode") or None,
            markup=markup,
        )
    )


def send_photo(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#sendphoto"""
    chat_id = _chat(given)
    upload = _upload(given, "photo", MAX_PHOTO_BYTES)
    try:
        width, height = Image.open(io.BytesIO(upload.data)).size
    except UnidentifiedImageError:
        raise bad_request("IMAGE_PROCESS_FAILED") from None
    if width + height > MAX_PHOTO_SIDES or max(width, height) > 20 * min(width, height):
        raise bad_request("PHOTO_INVALID_DIMENSIONS")
    return _send_file(world, given, chat_id, "photo", upload, (width, height))


def send_document(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#senddocument"""
    return _send_file(world, given, _chat(given), "document", _upload(given, "document", MAX_FILE_BYTES), None)


def _send_file(
    world: World, given: Parameters, chat_id: int, kind: str, upload: Upload, size: tuple[int, int] | None
) -> dict[str, Any]:
    caption, entities = _formatted(given, "caption")
    if utf16_length(caption) > MAX_CAPTION:
        raise bad_request("message caption is too long")
    markup = _markup(given)
    world.chat_for_sending(chat_id)
    _check_reply(world, given)
    return world.message_json(
        world.add_message(
            chat_id,
            kind=kind,
            source=given.text("caption"),
            text=caption,
            entities=entities,
            parse_mode=given.text("parse_mode") or None,
            markup=markup,
            data=upload.data,
            file_name=upload.name,
            size=size,
        )
    )


def edit_message_text(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#editmessagetext"""
    text, entities = _formatted(given, "text")
    _check_text(text)
    message = _editable(world, given)
    if message.kind != "text":
        raise bad_request("there is no text in the message to edit")
    return _edit(world, message, given.text("text"), text, entities, _inline_markup(given))


def edit_message_caption(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#editmessagecaption"""
    caption, entities = _formatted(given, "caption")
    if utf16_length(caption) > MAX_CAPTION:
        raise bad_request("message caption is too long")
    message = _editable(world, given)
    if message.kind == "text":
        raise bad_request("there is no caption in the message to edit")
    return _edit(world, message, given.text("caption"), caption, entities, _inline_markup(given))


def edit_message_reply_markup(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#editmessagereplymarkup"""
    message = _editable(world, given)
    return _edit(world, message, message.source, message.text, message.entities, _inline_markup(given))


def _editable(world: World, given: Parameters) -> Message:
    world.chat_for_sending(_chat(given))
    message_id = given.integer("message_id")
    message = world.messages.get(message_id)
    if message is None or message.deleted or message.chat_id != _chat(given):
        raise bad_request("message can't be edited" if message_id in world.heard else "message to edit not found")
    if message.markup and "inline_keyboard" not in message.markup:
        raise bad_request("message can't be edited")
    return message


def _edit(
    world: World,
    message: Message,
    source: str,
    text: str,
    entities: list[dict[str, Any]],
    markup: dict[str, Any] | None,
) -> dict[str, Any]:
    if (text, entities, markup) == (message.text, message.entities, message.markup):
        raise bad_request(
            "message is not modified: specified new message content and reply markup are exactly the same as a "
            "current content and reply markup of the message"
        )
    message.earlier.append({"text": message.text, "markup": message.markup})
    message.source, message.text, message.entities, message.markup = source, text, entities, markup
    message.edit_date = int(world.now())
    return world.message_json(message)


def delete_message(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#deletemessage"""
    message = world.messages.get(given.integer("message_id"))
    if message is None or message.deleted or message.chat_id != _chat(given):
        raise bad_request("message to delete not found")
    message.deleted = True
    return True


def answer_callback_query(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#answercallbackquery"""
    text = given.text("text")
    if utf16_length(text) > MAX_CALLBACK_ANSWER:
        raise bad_request("MESSAGE_TOO_LONG")
    pressed = world.callbacks.get(given.text("callback_query_id"))
    if pressed is None or pressed["expired"]:
        raise bad_request("query is too old and response timeout expired or query ID is invalid")
    pressed["answers"].append({"text": text, "show_alert": given.flag("show_alert")})
    return True


def set_my_commands(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#setmycommands"""
    commands = given.structure("commands", "commands") or []
    if len(commands) > 100:
        raise bad_request("BOT_COMMANDS_TOO_MUCH")
    for each in commands:
        if not _COMMAND_NAME.fullmatch(str(each.get("command", "")).removeprefix("/")):
            raise bad_request("BOT_COMMAND_INVALID")
        if not 1 <= len(each.get("description", "")) <= 256:
            raise bad_request("BOT_COMMAND_DESCRIPTION_INVALID")
    world.command_lists[_scope(world, given)] = commands
    return True


def delete_my_commands(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#deletemycommands"""
    world.command_lists.pop(_scope(world, given), None)
    return True


def get_my_commands(world: World, given: Parameters) -> list[dict[str, str]]:
    """https://core.telegram.org/bots/api#getmycommands"""
    return world.command_lists.get(_scope(world, given), [])


def _scope(world: World, given: Parameters) -> tuple[str, int, str]:
    scope = given.structure("scope", "BotCommandScope") or {"type": "default"}
    kind = scope.get("type", "default")
    if kind not in ("default", "all_private_chats", "all_group_chats", "all_chat_administrators", "chat"):
        raise bad_request("can't parse BotCommandScope: unsupported type specified")
    chat_id = int(scope.get("chat_id", 0)) if kind == "chat" else 0
    if kind == "chat" and chat_id not in world.chats:
        raise bad_request("chat not found")
    return kind, chat_id, given.text("language_code")


def send_chat_action(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#sendchataction"""
    world.chat_for_sending(_chat(given))
    if given.text("action") not in ("typing", "upload_photo", "upload_document"):
        raise bad_request("wrong parameter action in request")
    return True


def get_chat(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#getchat"""
    chat = world.chats.get(_chat(given))
    if chat is None:
        raise bad_request("chat not found")
    return {**chat.as_json(), "accent_color_id": 0, "max_reaction_count": 11, "accepted_gift_types": _NO_GIFTS}


_NO_GIFTS = {
    "unlimited_gifts": False,
    "limited_gifts": False,
    "unique_gifts": False,
    "premium_subscription": False,
    "gifts_from_channels": False,
}


def set_webhook(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#setwebhook. Plain HTTP is taken, as a Bot API server of one's own does."""
    url, secret = given.text("url"), given.text("secret_token")
    if not url:
        return delete_webhook(world, given)
    if not url.startswith(("https://", "http://")):
        raise bad_request("bad webhook: An HTTPS URL must be provided for webhook")
    if secret and not _SECRET.fullmatch(secret):
        raise bad_request("secret token contains unallowed characters")
    most = given.integer("max_connections", 40)
    world.webhook = {"url": url, "secret_token": secret, "max_connections": most if 1 <= most <= 100 else 40}
    world.allow_updates(given.structure("allowed_updates", "allowed_updates"))
    if given.flag("drop_pending_updates"):
        world.drop_pending()
    world.on_update()
    return True


def delete_webhook(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#deletewebhook"""
    world.webhook = {}
    if given.flag("drop_pending_updates"):
        world.drop_pending()
    world.on_update()
    return True


def get_webhook_info(world: World, given: Parameters) -> dict[str, Any]:
    """https://core.telegram.org/bots/api#webhookinfo"""
    shown = {key: value for key, value in world.webhook.items() if key != "secret_token"}
    return {
        "url": "",
        "has_custom_certificate": False,
        "pending_update_count": len(world.pending),
        **shown,
    }


def close(world: World, given: Parameters) -> bool:
    """https://core.telegram.org/bots/api#close and #logout: nothing to do here."""
    return True


METHODS: dict[str, Callable[[World, Parameters], Any]] = {
    "getme": get_me,
    "sendmessage": send_message,
    "sendphoto": send_photo,
    "senddocument": send_document,
    "editmessagetext": edit_message_text,
    "editmessagecaption": edit_message_caption,
    "editmessagereplymarkup": edit_message_reply_markup,
    "deletemessage": delete_message,
    "answercallbackquery": answer_callback_query,
    "setmycommands": set_my_commands,
    "deletemycommands": delete_my_commands,
    "getmycommands": get_my_commands,
    "sendchataction": send_chat_action,
    "getchat": get_chat,
    "setwebhook": set_webhook,
    "deletewebhook": delete_webhook,
    "getwebhookinfo": get_webhook_info,
    "close": close,
    "logout": close,
}


def call(world: World, method: str, given: Parameters) -> Any:
    """Carry out a method, by its name in small letters. Raises ApiError."""
    found = METHODS.get(method)
    if found is None:
        raise ApiError(404, "Not Found: method not found")
    with world.changed:
        result = found(world, given)
        world.changed.notify_all()
        return result


def _chat(given: Parameters) -> int:
    if not given.text("chat_id"):
        raise bad_request("chat_id is empty")
    chat_id = given.chat_id()
    if chat_id is None:
        raise bad_request("chat not found")
    return chat_id


def _formatted(given: Parameters, name: str) -> tuple[str, list[dict[str, Any]]]:
    source = _NOT_SHOWN.sub(" ", given.text(name).replace("\r", ""))
    mode = given.text("parse_mode").lower()
    if not mode:
        text, entities = source, given.structure("entities", "entities") or []
    elif mode == "html":
        text, entities = read_html(source)
    else:  # Telegram knows Markdown too, this server does not
        raise bad_request("unsupported parse_mode")
    shift = utf16_length(text) - utf16_length(text.lstrip())
    trimmed = text.strip()
    moved = [{**each, "offset": max(0, each["offset"] - shift)} for each in entities]
    return trimmed, moved


def _check_text(text: str) -> None:
    if not text:
        raise bad_request("message text is empty")
    if utf16_length(text) > MAX_TEXT:
        raise bad_request("message is too long")


def _check_reply(world: World, given: Parameters) -> None:
    reply = given.structure("reply_parameters", "reply parameters")
    if not reply or reply.get("allow_sending_without_reply"):
        return
    if reply["message_id"] not in world.messages and reply["message_id"] not in world.heard:
        raise bad_request("message to be replied not found")


def _upload(given: Parameters, name: str, most: int) -> Upload:
    upload = given.file(name)
    if upload is None:
        raise bad_request(f"there is no {name} in the request")
    if not upload.data:
        raise bad_request("file must be non-empty")
    if len(upload.data) > most:
        raise ApiError(413, "Request Entity Too Large")
    return upload


def _inline_markup(given: Parameters) -> dict[str, Any] | None:
    markup = _markup(given)
    if markup is not None and "inline_keyboard" not in markup:
        raise bad_request("inline keyboard expected")
    return markup


def _markup(given: Parameters) -> dict[str, Any] | None:
    markup = given.structure("reply_markup", "reply keyboard markup")
    if not markup:
        return None
    if "inline_keyboard" not in markup:
        for button in _flat(markup.get("keyboard", [])):
            if not (button if isinstance(button, str) else button.get("text", "")).strip():
                raise bad_request("keyboard button text must be non-empty")
        return dict(markup)
    rows = [row for row in markup["inline_keyboard"] if row]
    buttons = _flat(rows)
    if len(buttons) > MAX_BUTTONS:
        raise bad_request("reply markup is too long")
    for button in buttons:
        if not button.get("text", "").strip():
            raise bad_request('can\'t parse inline keyboard button: Field "text" must be non-empty')
        if "callback_data" in button:
            if not 1 <= len(button["callback_data"].encode()) <= MAX_CALLBACK_DATA:
                raise bad_request("BUTTON_DATA_INVALID")
        elif not any(kind in button for kind in ("url", "web_app", "copy_text", "switch_inline_query", "login_url")):
            raise bad_request("can't parse inline keyboard button: Text buttons are unallowed in the inline keyboard")
    return {"inline_keyboard": rows} if rows else None


def _flat(rows: Any) -> list[Any]:
    return [button for row in rows for button in row]
