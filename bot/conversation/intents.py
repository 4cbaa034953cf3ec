"""Which of a few things a message says to the bot itself; the vocabulary is data beside this file."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files

_PARTS = frozenset({"yes_first", "no_first", "denies", "in_doubt"})
"""Lists of words inside a message, used by `yes_or_no` only."""
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
    """The name of the list of whole messages that this one stands in, or None."""
    said = plain(text)
    return next((name for name, phrases in _vocabulary().items() if name not in _PARTS and said in phrases), None)


def yes_or_no(text: str) -> bool | None:
    """True, False, or None where the message is neither.

    A leading "yes" is enough. A leading "no" is not: "no idea" and "no feeling in it" deny nothing, so it must stand
    apart ("no, it was the sock") or what follows must deny as well, and must not be in doubt.
    """
    said = plain(text)
    words = _vocabulary()
    if said in words["yes"]:
        return True
    if said in words["no"]:
        return False
    first, _, rest = said.partition(" ")
    stands_apart = first.endswith((",", ".", ";", "!"))
    first = first.strip(_EDGES)
    if first in words["yes_first"] and not rest.startswith("but no"):
        return True
    following = [word.strip(_EDGES) for word in rest.split()]
    if first in words["no_first"] and len(following) <= 6 and words["in_doubt"].isdisjoint(following):
        rest = " ".join(following)
        if (
            stands_apart
            or rest in words["no"]
            or rest in words["thanks"]
            or f"{rest} ".startswith(tuple(f"{each} " for each in words["denies"]))
        ):
            return False
    return None
