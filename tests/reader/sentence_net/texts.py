"""Labelled texts, the word vectors, and variations of the texts."""

from __future__ import annotations

import json
import random
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from bot.reader import second_net
from tests.reader.learn_weights import labelled

VOCABULARY = Path(second_net.__file__).parent / "vocabulary"
SEED = 7
VARIATIONS = 170_000
IN_FRAMES = 3_500
LONGEST = 300
"""Characters of a variation."""
NEAR, NEAREST = 0.55, 12
"""How alike two words must be (cosine) to stand for each other, and how many of the nearest do."""
FREQUENT = 250
"""The most frequent words are not exchanged: their neighbours turn the meaning ("no", "yes")."""
_CUT = re.compile(r"(?<=[.,;!?])\s+|\s+(?:and|but|so|then)\s+")
_PARTS = re.compile(r"[A-Za-z']+|[^A-Za-z']+")
_SELF = re.compile(r"\b(i|i'm|im|i've|ive|i'd|me|my|mine|we|us)\b", re.IGNORECASE)
_DENIES = re.compile(r"\b(no|not|never|nothing|but|cannot|without|nor|hardly|barely)\b|n't", re.IGNORECASE)
_CLAUSE_END = re.compile(r"[,.;!?]\s")

Vectors = Mapping[str, np.ndarray]


def replies(without: Iterable[str]) -> dict[str, set[str]]:
    """Every labelled text with its signs."""
    return labelled(without)


def vectors(path: Path) -> dict[str, np.ndarray]:
    """The word vectors, the most frequent words first, as their file has them."""
    stored = json.loads(path.read_text(encoding="utf-8"))["vectors"]
    return {word: np.array(numbers[:100], dtype=np.float32) for word, numbers in stored.items()}


def listed_words(name: str) -> set[str]:
    """The words of a word list of the reader."""
    lines = (VOCABULARY / name).read_text(encoding="utf-8").splitlines()
    return {each.strip() for each in lines if each and not each.startswith("#")}


def neighbours(known: Vectors, own: set[str]) -> dict[str, list[str]]:
    """For each word that may be exchanged its nearest words; `own`: the words of the labelled texts."""
    common = listed_words("common_words.txt") | listed_words("spoken_words.txt")
    rank = {word: number for number, word in enumerate(known)}
    words = [each for each in known if each.isalpha() and each.isascii() and (each in own or each in common)]
    matrix = np.stack([known[each] for each in words])
    matrix /= np.linalg.norm(matrix, axis=1, keepdims=True) + 1e-9
    found: dict[str, list[str]] = {}
    for start in range(0, len(words), 1_000):
        for offset, row in enumerate(matrix[start : start + 1_000] @ matrix.T):
            number = start + offset
            nearest = np.argpartition(-row, NEAREST + 1)[: NEAREST + 1]
            near = [words[each] for each in nearest if each != number and row[each] > NEAR]
            if near and rank[words[number]] > FREQUENT:
                found[words[number]] = near
    return found


def word_classes() -> list[list[str]]:
    """The plain words and phrases of each class of `signs.toml`."""
    data = tomllib.loads((VOCABULARY / "signs.toml").read_text(encoding="utf-8"))["classes"]
    plain = [
        [each for each in words if each.isascii() and not re.search(r"[|\[\]*_@]", each)] for words in data.values()
    ]
    return [each for each in plain if len(each) >= 4]


class Varied:
    """Makes variations of texts."""

    def __init__(
        self, chance: random.Random, near: Mapping[str, Sequence[str]], classes: Sequence[Sequence[str]]
    ) -> None:
        self._chance, self._near, self._classes = chance, near, classes
        self._classes_of: dict[str, list[int]] = {}
        for number, words in enumerate(classes):
            for each in words:
                self._classes_of.setdefault(each, []).append(number)

    def exchanged(self, text: str, near: float, same_class: float) -> str:
        """The text with words exchanged, each with these chances for a near one and for one of its class; a few are left out."""
        chance, parts, told = self._chance, _PARTS.findall(text), []
        at = 0
        while at < len(parts):
            if not parts[at][0].isalpha():
                told.append(parts[at])
                at += 1
                continue
            for words in (3, 2, 1):
                phrase = "".join(parts[at : at + 2 * words - 1]).lower()
                if phrase in self._classes_of and chance.random() < same_class:
                    told.append(chance.choice(self._classes[chance.choice(self._classes_of[phrase])]))
                    at += 2 * words - 1
                    break
            else:
                word = parts[at].lower()
                if word in self._near and chance.random() < near:
                    told.append(chance.choice(self._near[word]))
                elif chance.random() >= 0.02:
                    told.append(parts[at])
                at += 1
        return "".join(told)

    def variation(self, texts: Sequence[str]) -> str:
        """One more text, made of one or two of these."""
        chance = self._chance
        text, kind = chance.choice(texts), chance.random()
        if kind < 0.15:
            other = chance.choice(texts)
            if chance.random() < 0.5:
                text = " ".join([chance.choice(_CUT.split(text)), chance.choice(_CUT.split(other))])
            else:
                text += chance.choice([" ", ". ", ", "]) + other
        elif kind < 0.3:
            text = chance.choice(_CUT.split(text))
        return self.exchanged(text, chance.choice([0, 0.1, 0.2, 0.35]), chance.choice([0, 0.2, 0.5]))

    def variations(self, texts: Sequence[str], number: int) -> list[str]:
        """So many different texts, the given ones first."""
        made = dict.fromkeys(texts)
        while len(made) < number:
            text = self.variation(texts)
            if text and len(text) < LONGEST:
                made.setdefault(text)
        return [*made]


_PLACE = r"(?:foot|feet|heel|calf|leg|toes?|ankle|chest|back|knee|shin|sole|arch|big toe|hands?|eyes?|left|right|lower|other)"


@cache
def _frames() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_name("frames.toml").read_text(encoding="utf-8"))


def of_somebody_else(text: str, chance: random.Random) -> str | None:
    """The same of another person; `None` where the patient is spoken of elsewhere in it."""
    found = [*re.finditer(rf"\b[Mm]y (?={_PLACE}\b)", text)]
    if len(found) != 1 or _SELF.search(text[: found[0].start()] + text[found[0].end() :]):
        return None
    who = chance.choice(_frames()["people"])
    owner = chance.choice([f"my {who}'s ", f"the {who}'s ", "his ", "her ", "their ", f"our {who}'s "])
    return text[: found[0].start()] + owner + text[found[0].end() :]


def denied(text: str, chance: random.Random) -> str | None:
    """The same denied; `None` where it is more than one plain clause, or denies something already."""
    if _DENIES.search(text) or _CLAUSE_END.search(text):
        return None
    found = [
        (each, instead) for pattern, instead in _frames()["denials"].items() for each in re.finditer(pattern, text)
    ]
    if len(found) != 1:
        return None
    place, instead = found[0]
    return text[: place.start()] + chance.choice(instead) + text[place.end() :]


def feared(text: str, chance: random.Random) -> str | None:
    """The same as what might happen; `None` where it is no short clause of the patient's."""
    if len(text.split()) > 9 or not _SELF.search(text) or _CLAUSE_END.search(text):
        return None
    return f"{chance.choice(_frames()['fears'])} {text.rstrip('.!?')}{chance.choice(['?', ''])}"


def from_frames(kind: str, number: int, chance: random.Random) -> list[str]:
    """So many short texts of the frames of this kind, fewer where some come out alike."""
    parts = _frames()
    made = {
        chance.choice(parts[kind]).format(
            place=chance.choice(parts["places"]),
            quality=chance.choice(parts["qualities"]),
            noun=chance.choice(parts["nouns"]),
            who=chance.choice(parts["people"]),
        )
        + chance.choice(parts["tails"])
        for _ in range(number)
    }
    return sorted(made)


def without_signs(labels: Mapping[str, set[str]], chance: random.Random) -> list[str]:
    """Texts that have no sign by the way they are made: somebody else's, denied, feared."""
    short = [text for text, signs in labels.items() if signs and len(text.split()) <= 14]
    made = {
        varied
        for text in short
        for how, times in ((of_somebody_else, 5), (denied, 1), (feared, 1))
        for _ in range(times)
        if (varied := how(text, chance)) is not None
    }
    made.update(from_frames("no_sign", IN_FRAMES, chance))
    return sorted(made - labels.keys())


def signs_in_frames(chance: random.Random) -> list[str]:
    """Short plain texts, most with a sign, for the teacher to label."""
    return from_frames("sign", IN_FRAMES, chance)
