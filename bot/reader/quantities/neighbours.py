"""What stands between two amounts."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.quantities.quantity import Quantity
from bot.reader.tokens import Kind, Tokens
from bot.reader.vocabulary import Vocabulary


class Neighbours:
    """The tokens between the amounts that are put together."""

    def __init__(self, tokens: Tokens, words: Vocabulary) -> None:
        self.tokens = tokens.all
        self.words = words
        self.texts = tokens.texts
        self.text = tokens.around.__getitem__

    def gap(self, one: Quantity, other: Quantity) -> list[str]:
        return self.texts[one.last : other.first]

    def wide(self, one: Quantity, other: Quantity, **changes: object) -> Quantity:
        return replace(other, first=one.first, last=max(one.last, other.last), **changes)  # type: ignore[arg-type]

    def factor(self, measure: Quantity) -> float:
        for at in range(measure.last - 1, measure.first - 1, -1):
            unit = self.words.units.get(self.tokens[at].text)
            if unit is not None and self.tokens[at].kind is Kind.WORD:
                return unit[1]
        return 1.0

    def from_before(self, one: Quantity) -> bool:
        return one.first > 0 and self.tokens[one.first - 1].text == "from"

    def is_hour(self, one: Quantity) -> bool:
        return self.tokens[one.last - 1].text == "h" and one.last - one.first == 2
