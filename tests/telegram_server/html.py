"""Telegram's HTML: what it takes, what it refuses, and the plain text that is left.

The tags are https://core.telegram.org/bots/api#html-style. The refusals and the odd corners (a named entity that is
not known stays as it is, the semicolon may be missing, `</>` closes the last tag) follow parse_html() of
https://github.com/tdlib/td/blob/master/td/telegram/MessageEntity.cpp; offsets in refusals are bytes of UTF-8, as there.
"""

from __future__ import annotations

import re
from typing import Any

from tests.telegram_server.errors import ApiError, bad_request

_KINDS = {
    "b": "bold",
    "strong": "bold",
    "i": "italic",
    "em": "italic",
    "u": "underline",
    "ins": "underline",
    "s": "strikethrough",
    "strike": "strikethrough",
    "del": "strikethrough",
    "span": "spoiler",
    "tg-spoiler": "spoiler",
    "tg-emoji": "custom_emoji",
    "a": "text_link",
    "code": "code",
    "pre": "pre",
    "blockquote": "blockquote",
}
_NAMED = {"lt": "<", "gt": ">", "amp": "&", "quot": '"'}
_ENTITY = re.compile(r"&(?:#x(?P<hex>[0-9a-fA-F]{1,8})|#(?P<number>[0-9]{1,8})|(?P<name>[A-Za-z]+));?")
_TAG_NAME = re.compile(r"[^\s>]*")
_ATTRIBUTE = re.compile(r"""\s*(?P<name>[^\s=>/"']+)(?:\s*=\s*(?P<value>"[^"]*"|'[^']*'|[A-Za-z0-9.-]+))?""")


def utf16_length(text: str) -> int:
    """Length in UTF-16 code units, the unit of Telegram's offsets (https://core.telegram.org/api/entities)."""
    return len(text) + sum(1 for character in text if ord(character) > 0xFFFF)


def read_html(source: str) -> tuple[str, list[dict[str, Any]]]:
    """The plain text and its entities. Raises ApiError(400) for what Telegram cannot parse."""
    plain: list[str] = []
    entities: list[dict[str, Any]] = []
    open_tags: list[tuple[str, dict[str, str], int]] = []
    length = 0
    at = 0
    while at < len(source):
        character = source[at]
        if character == "<":
            if source.startswith("</", at):
                at = _close(source, at, open_tags, entities, length)
            else:
                at, name, attributes = _open(source, at)
                open_tags.append((name, attributes, length))
            continue
        if character == "&" and (found := _ENTITY.match(source, at)) and (meant := _character(found)) is not None:
            character, at = meant, found.end()
        else:
            at += 1
        plain.append(character)
        length += utf16_length(character)
    if open_tags:
        raise _unparsed(f'Can\'t find end tag corresponding to start tag "{open_tags[-1][0]}"')
    return "".join(plain), sorted(entities, key=lambda each: (each["offset"], -each["length"]))


def _character(found: re.Match[str]) -> str | None:
    if found["name"]:
        return _NAMED.get(found["name"])
    code = int(found["hex"], 16) if found["hex"] else int(found["number"])
    return chr(code) if 0 < code < 0x10FFFF and not 0xD800 <= code <= 0xDFFF else None


def _open(source: str, begin: int) -> tuple[int, str, dict[str, str]]:
    offset = len(source[:begin].encode())
    found = _TAG_NAME.match(source, begin + 1)
    assert found is not None
    name, at = found[0].lower(), found.end()
    if at >= len(source):
        raise _unparsed(f"Unclosed start tag at byte offset {offset}")
    if name not in _KINDS:
        raise _unparsed(f'Unsupported start tag "{name}" at byte offset {offset}')
    attributes: dict[str, str] = {}
    while True:
        while at < len(source) and source[at].isspace():
            at += 1
        if at >= len(source):
            raise _unparsed(f'Unclosed start tag "{name}" at byte offset {offset}')
        if source[at] == ">":
            break
        attribute = _ATTRIBUTE.match(source, at)
        if attribute is None:
            raise _unparsed(f'Empty attribute name in the tag "{name}" at byte offset {offset}')
        attributes[attribute["name"]] = (attribute["value"] or "").strip("\"'")
        at = attribute.end()
    if name == "span" and attributes.get("class") != "tg-spoiler":
        raise _unparsed(f'Tag "span" must have class "tg-spoiler" at byte offset {offset}')
    return at + 1, name, attributes


def _close(
    source: str,
    begin: int,
    open_tags: list[tuple[str, dict[str, str], int]],
    entities: list[dict[str, Any]],
    length: int,
) -> int:
    offset = len(source[:begin].encode())
    if not open_tags:
        raise _unparsed(f"Unexpected end tag at byte offset {offset}")
    found = _TAG_NAME.match(source, begin + 2)
    assert found is not None
    closed, at = found[0].lower(), found.end()
    while at < len(source) and source[at].isspace():
        at += 1
    if at >= len(source) or source[at] != ">":
        raise _unparsed(f"Unclosed end tag at byte offset {offset}")
    name, attributes, began = open_tags.pop()
    if closed and closed != name:
        raise _unparsed(f'Unmatched end tag at byte offset {offset}, expected "</{name}>", found "</{closed}>"')
    if length > began:
        entity: dict[str, Any] = {"type": _KINDS[name], "offset": began, "length": length - began}
        if name == "a":
            entity["url"] = attributes.get("href", "")
        entities.append(entity)
    return at + 1


def _unparsed(why: str) -> ApiError:
    return bad_request(f"can't parse entities: {why}")
