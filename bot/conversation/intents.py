"""Which of a few things a message says to the bot itself; the vocabulary is data beside this file."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from bot.program.terms import PriorActivity

_PARTS = frozenset(
    {"yes_first", "no_first", "denies", "in_doubt", "worried", "no_worry", "check_in_words", "question_first"}
    | {"distress", "person", "unsure", "sign_words", "correcting", "of_the_plan"}
    | {"times_fit", "after_a_sure_yes", "before_no_answer"}
)
"""Lists of words inside a message; the others are whole messages."""
_FEWEST_WORDS_OF_A_STORY = 2
_EDGES = " .!?,;:)(\"'…\n\t"


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files("bot.conversation").joinpath("intents.toml").read_text(encoding="utf-8"))


@cache
def _vocabulary() -> dict[str, frozenset[str]]:
    return {name: frozenset(phrases) for name, phrases in _data().items() if isinstance(phrases, list)}


def words_of(name: str) -> frozenset[str]:
    """The words or phrases of a list."""
    return _vocabulary()[name]


def levels_of_activity(text: str) -> list[PriorActivity]:
    """How active somebody says to have been before the pain; more than one where the words are mixed."""
    of_each = _data()["active_before"]
    said = " ".join(_words_in(plain(text)))
    for pattern in of_each["says_little"]:
        said = re.sub(rf"\b(?:{pattern})\b", "little", said)
    return [level for level in PriorActivity if any(re.search(rf"\b{hint}", said) for hint in of_each[level])]


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


def last_yes_or_no(text: str) -> bool | None:
    """The yes or no at the end of a longer answer ("5, comes and goes, no"), or None."""
    said = plain(text)
    *before, last = said.split(" ")
    words = _vocabulary()
    if not before or before[-1].strip(_EDGES) in words["before_no_answer"]:
        return None
    return True if last in words["yes_first"] or last == "y" else False if last in words["no_first"] else None


def is_bare_no(text: str) -> bool:
    """Whether it is "no" and no more: a denial, and never a score of 0."""
    return plain(text) in _vocabulary()["no_first"] | {"n"}


def _words_in(said: str) -> list[str]:
    return re.findall(r"[\w']+", said)


def _has(name: str, said: str) -> bool:
    """Whether one of the phrases of a list stands in it, as whole words."""
    padded = f" {' '.join(_words_in(said))} "
    return any(f" {each.strip()} " in padded for each in _vocabulary()[name])


def has_words_of(name: str, text: str) -> bool:
    """Whether one of the phrases of the list `name` stands in the text, as whole words."""
    return _has(name, plain(text))


def says_worried(text: str) -> bool:
    """Whether it says by itself that something is new or worrying ("I am worried", not "nothing new")."""
    words = _words_in(plain(text))
    vocabulary = _vocabulary()
    for phrase in vocabulary["worried"]:
        parts = _words_in(phrase)
        for at in range(len(words) - len(parts) + 1):
            before = words[max(0, at - 3) : at]
            if words[at : at + len(parts)] == parts and vocabulary["no_worry"].isdisjoint(before):
                return True
    return False


def tells_more(text: str) -> bool:
    """Whether it holds words beyond those of a check-in: a story, and not only numbers and a pattern."""
    others = [
        each for each in _words_in(plain(text)) if not each.isdigit() and each not in _vocabulary()["check_in_words"]
    ]
    return len(others) >= _FEWEST_WORDS_OF_A_STORY or any(len(each) > 4 for each in others)


def wants_a_person(text: str) -> bool:
    """Whether words that were not understood ask something, sound like distress, or ask for a person."""
    said = plain(text)
    first = _words_in(said)[:1]
    return (
        text.rstrip().endswith("?")
        or bool(first and first[0] in _vocabulary()["question_first"] and len(said.split()) > 1)
        or _has("distress", said)
        or _has("person", said)
    )
