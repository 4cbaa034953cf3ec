"""The tokens of a reply, as amounts are read from them."""

from __future__ import annotations

from bot.reader.tokens import Kind, Token
from bot.reader.vocabulary import Vocabulary


class Row:
    """The tokens of a reply, with the vocabulary to read amounts in them."""

    def __init__(self, tokens: list[Token], words: Vocabulary) -> None:
        self.tokens = tokens
        self.words = words
        self.size = len(tokens)

    def text(self, at: int) -> str:
        return self.tokens[at].text if 0 <= at < self.size else ""

    def value(self, at: int) -> float | None:
        if 0 <= at < self.size and self.tokens[at].kind is Kind.NUMBER:
            return self.tokens[at].value
        return None

    def unit(self, at: int) -> tuple[str, float] | None:
        return (
            self.words.units.get(self.text(at))
            if 0 <= at < self.size and self.tokens[at].kind is not Kind.NUMBER
            else None
        )

    def scored(self, at: int) -> bool:
        return (self.text(at + 1) in {"/", "of", "on"} and self.value(at + 2) == 10) or (
            self.text(at + 1) in {"out", "outta", "outa"} and 10 in (self.value(at + 2), self.value(at + 3))
        )
