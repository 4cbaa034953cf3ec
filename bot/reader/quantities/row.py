"""The tokens of a reply, as amounts are read from them."""

from __future__ import annotations

from bot.reader.tokens import Kind, Tokens
from bot.reader.vocabulary import Vocabulary


class Row:
    """The tokens of a reply, with the vocabulary to read amounts in them."""

    def __init__(self, tokens: Tokens, words: Vocabulary) -> None:
        self.tokens = tokens.all
        self.words = words
        self.units = words.units
        self.size = len(tokens.all)
        self.texts = tokens.texts
        self.numbers = tokens.numbers
        self.noted = tokens.noted
        self.around = tokens.around
        self.text = tokens.around.__getitem__

    def value(self, at: int) -> float | None:
        if 0 <= at < self.size and self.tokens[at].kind is Kind.NUMBER:
            return self.tokens[at].value
        return None

    def unit(self, at: int) -> tuple[str, float] | None:
        return self.units.get(self.around[at])

    def scored(self, at: int) -> bool:
        """Whether "out of ten" or the like stands behind the number at `at`."""
        after = self.around[at + 1]
        if after in {"/", "of", "on"}:
            return self.value(at + 2) == 10
        return after in {"out", "outta", "outa"} and 10 in (self.value(at + 2), self.value(at + 3))
