"""A Telegram update as the conversation takes it. Only private chats: a group is nobody's home programme."""

from __future__ import annotations

from dataclasses import dataclass

from telegram import CallbackQuery, ChatMember, Message, Update
from telegram.constants import ChatType

from bot.conversation.values import Incoming

CHANNEL = "telegram"
_KINDS = (
    ("voice", "voice"),
    ("audio", "voice"),
    ("video_note", "voice"),
    ("photo", "photo"),
    ("video", "photo"),
    ("animation", "sticker"),
    ("sticker", "sticker"),
    ("document", "document"),
    ("location", "location"),
    ("venue", "location"),
    ("contact", "contact"),
)
_LONGEST = 4096
_LARGEST_ID = 2**31 - 1


@dataclass(frozen=True, slots=True)
class Pressing:
    """A pressed button: the message to be handled, and what the answer to the press needs."""

    incoming: Incoming
    query_id: str
    chat_id: int
    message_id: int | None


@dataclass(frozen=True, slots=True)
class Gone:
    """The user has blocked the bot."""

    address: str


def button_data(outgoing_id: int, index: int) -> str:
    """What a button carries (at most 64 bytes): which message of the outbox, and which of its buttons."""
    return f"{outgoing_id}:{index}"


def _button_of(data: str | None) -> tuple[int, int] | None:
    number, _, index = (data or "").partition(":")
    if not (number.isdecimal() and index.isdecimal() and len(number) < 16 and len(index) < 4):
        return None
    # Only what a message of the outbox can be called; a larger number is not ours.
    return (int(number), int(index)) if int(number) <= _LARGEST_ID else None


def _kind_of(message: Message) -> str:
    for attribute, kind in _KINDS:
        if getattr(message, attribute, None):
            return kind
    return "other"


def understood(update: Update) -> Incoming | Pressing | Gone | None:
    """What the update is about; None for what is not for us (groups, channels, kinds that were not asked for)."""
    if update.callback_query is not None:
        return _pressed(update, update.callback_query)
    if update.my_chat_member is not None:
        change = update.my_chat_member
        if change.chat.type == ChatType.PRIVATE and change.new_chat_member.status == ChatMember.BANNED:
            return Gone(address=str(change.chat.id))
        return None
    edited = update.edited_message is not None
    message = update.edited_message if edited else update.message
    if message is None or message.chat.type != ChatType.PRIVATE:
        return None
    text = message.text if message.text is not None else message.caption
    # Words beside a picture are words as any other: somebody else's where it was forwarded, a correction where edited.
    if edited and not text:
        # A picture that was changed, or a place that moves on: every step of it would be answered.
        return None
    if edited:
        kind = "edit"
    elif text and message.forward_origin is not None:
        kind = "forwarded"
    else:
        kind = "text" if message.text is not None else _kind_of(message)
    return Incoming(
        channel=CHANNEL,
        update_id=str(update.update_id),
        address=str(message.chat.id),
        text=(text or "")[:_LONGEST],
        kind=kind,
        source_id=str(message.message_id),
        sent_at=(message.edit_date if edited and message.edit_date is not None else message.date),
    )


def _pressed(update: Update, query: CallbackQuery) -> Pressing | None:
    message = query.message
    if message is None or message.chat.type != ChatType.PRIVATE or query.from_user.id != message.chat.id:
        return None
    button = _button_of(query.data)
    return Pressing(
        incoming=Incoming(
            channel=CHANNEL,
            update_id=str(update.update_id),
            address=str(message.chat.id),
            text="",
            kind="button",
            button=button if button is not None else (0, 0),
            sent_at=message.date,
        ),
        query_id=query.id,
        chat_id=message.chat.id,
        message_id=message.message_id,
    )
