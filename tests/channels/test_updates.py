"""What an update of Telegram is about. https://core.telegram.org/bots/api#message"""

from __future__ import annotations

from typing import Any

import pytest
from telegram import Update

from bot.channels.telegram.updates import Pressing, understood
from bot.conversation.values import Incoming

_CHAT = {"id": 2, "type": "private", "first_name": "R"}
_FROM = {"id": 2, "is_bot": False, "first_name": "R"}
_PHOTO = {"photo": [{"file_id": "a", "file_unique_id": "b", "width": 90, "height": 90}]}
_VOICE = {"voice": {"file_id": "a", "file_unique_id": "b", "duration": 3}}
_PLACE = {"location": {"latitude": 1.0, "longitude": 2.0, "live_period": 900}}
_FORWARDED = {"forward_origin": {"type": "hidden_user", "date": 1_772_000_000, "sender_user_name": "Somebody"}}


def _update(edited: bool = False, **content: Any) -> Update:
    message = {"message_id": 9, "date": 1_772_000_000, "chat": _CHAT, "from": _FROM} | content
    if edited:
        message["edit_date"] = 1_772_000_060
    found = Update.de_json({"update_id": 7, "edited_message" if edited else "message": message}, None)
    assert found is not None
    return found


@pytest.mark.parametrize(
    "content, kind",
    [
        ({"text": "4"}, "text"),
        ({"text": "4"} | _FORWARDED, "forwarded"),
        (_PHOTO | {"caption": "4"}, "photo"),
        (_PHOTO | {"caption": "4"} | _FORWARDED, "forwarded"),
        (_PHOTO | _FORWARDED, "photo"),
        (_VOICE | {"caption": "4"} | _FORWARDED, "forwarded"),
        (_VOICE, "voice"),
    ],
)
def test_words_count_as_whose_they_are_before_what_they_stand_under(content: dict[str, Any], kind: str) -> None:
    about = understood(_update(**content))
    assert isinstance(about, Incoming)
    assert about.kind == kind
    assert about.text == content.get("text", content.get("caption", ""))


def test_words_below_a_picture_can_be_corrected() -> None:
    about = understood(_update(edited=True, **_PHOTO, caption="5"))
    assert isinstance(about, Incoming)
    assert (about.kind, about.text, about.source_id) == ("edit", "5", "9")


@pytest.mark.parametrize("content", [_PHOTO, _PLACE])
def test_a_change_without_words_says_nothing(content: dict[str, Any]) -> None:
    """A place that moves on is an edited message every few seconds (https://core.telegram.org/bots/api#location)."""
    assert understood(_update(edited=True, **content)) is None


@pytest.mark.parametrize("data", ["99999999999:0", "2147483648:0", "x:0", "1:", "", "1:99999"])
def test_a_button_that_is_not_ours_is_one_of_no_message(data: str) -> None:
    query = {
        "id": "q",
        "from": _FROM,
        "chat_instance": "c",
        "data": data,
        "message": {"message_id": 9, "date": 1_772_000_000, "chat": _CHAT, "text": "?"},
    }
    about = understood(Update.de_json({"update_id": 7, "callback_query": query}, None) or pytest.fail("no update"))
    assert isinstance(about, Pressing)
    assert about.incoming.button == (0, 0)
