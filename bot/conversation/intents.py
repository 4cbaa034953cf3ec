"""Which of a few things a message says to the bot itself; the vocabulary is data beside this file."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files

_EDGES = " .!?,;:)(\"'…\n\t"


@cache
def _vocabulary() -> dict[str, frozenset[str]]:
    text = files("bot.conversation").joinpath("intents.toml").read_text(encoding="utf-8")
    return {name: frozenset(phrases) for name, phrases in tomllib.loads(text).items()}


def plain(text: str) -> str:
    """Lower case, one space between words, no punctuation at the ends."""
    squeezed = re.sub(r"\s+", " ", text.replace("’", "'").casefold()).strip()
    return squeezed if squeezed == "?" else squeezed.strip(_EDGES)


def intent_of(text: str) -> str | None:
    """The name of the list that the whole message stands in, or None."""
    said = plain(text)
    return next((name for name, phrases in _vocabulary().items() if said in phrases), None)


def yes_or_no(text: str) -> bool | None:
    """True, False, or None where the message is neither. A leading "yes," or "no," is enough in a short reply."""
    said = plain(text)
    words = _vocabulary()
    if said in words["yes"]:
        return True
    if said in words["no"]:
        return False
    first, _, rest = said.partition(" ")
    first = first.strip(_EDGES)
    if first in {"yes", "yeah", "yep", "aye", "yup"} and not rest.startswith("but no"):
        return True
    if first in {"no", "nope", "nah", "naw"} and "but" not in rest.split() and len(rest.split()) <= 6:
        return False
    return None
