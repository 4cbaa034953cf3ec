"""Amounts in a row of tokens: durations, distances, steps, flights, sets and repetitions, holds, plain numbers and scores.

Two levels. `items` reads one amount at each place: a number with its unit, or a word that multiplies ("twice", "each way").
`joining` puts neighbours together: ranges, corrections, "3 x 10", "twice for ten minutes", "an hour and 20".
"""

from __future__ import annotations

from bot.reader.quantities.items import items
from bot.reader.quantities.joining import joined
from bot.reader.quantities.neighbours import Neighbours
from bot.reader.quantities.products import at_each_time, both_times
from bot.reader.quantities.quantity import MEASURES, Quantity
from bot.reader.quantities.row import Row
from bot.reader.quantities.said_again import settled_on
from bot.reader.tokens import Tokens
from bot.reader.vocabulary import Vocabulary


def quantities(tokens: Tokens, words: Vocabulary) -> list[Quantity]:
    """Every amount of the reply in order; they do not overlap. Linear in the number of tokens."""
    amounts = items(Row(tokens, words))
    if not amounts:
        return amounts
    near = Neighbours(tokens, words)
    if len(amounts) > 1:
        amounts = joined(amounts, near)
    amounts = [at_each_time(near, both_times(near, each)) if each.kind in MEASURES else each for each in amounts]
    return settled_on(amounts, near) if len(amounts) > 1 else amounts


__all__ = ["MEASURES", "Quantity", "quantities"]
