"""The first level: one amount at each place."""

from __future__ import annotations

from bot.reader.quantities.in_words import amount_in_words
from bot.reader.quantities.other_numbers import other_number
from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.row import Row
from bot.reader.quantities.units import measured
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed


def items(row: Row) -> list[Quantity]:
    """Every amount that begins with a number or a word of its own, in order."""
    found: list[Quantity] = []
    before_number, starts = listed["quantities", "units_before_number"], row.words.amount_starts
    at, number = 0, Kind.NUMBER
    while at < row.size:
        token = row.tokens[at]
        made: Quantity | None = None
        if token.kind is number:
            made = other_number(row, at) or measured(row, at)
        elif token.text in before_number and counted_behind(row, at):
            made = counted_behind(row, at)
        elif token.text in starts:
            made = amount_in_words(row, at)
        if made is None:
            at += 1
        else:
            found.append(made)
            at = max(made.last, at + 1)
    return found


def counted_behind(row: Row, at: int) -> Quantity | None:
    """ "sets: 3, reps: 12": the number stands behind its unit."""
    if row.text(at) == "steps":
        number = at + 1 + (row.text(at + 1) in listed["quantities", "between_steps_and_number"])
        value = row.value(number)
        counted = value is not None and value >= 100 and row.unit(number + 1) is None
        return Quantity("steps", at, number + 1, value or 0.0) if counted else None
    number = at + 1 + (row.text(at + 1) in {":", "of"} and row.text(at + 1) == ":")
    value = row.value(number)
    if (
        value is None
        or (row.unit(number + 1) is not None and row.text(number + 2) != ":")
        or row.text(number + 1) in {"x", "/", "by"}
        or not float(value).is_integer()
    ):
        return None
    if number == at + 1 and (row.text(at) == "each" or row.text(number + 1) not in {"", ",", ";", "reps", "and", "."}):
        return None
    if row.text(at) in {"set", "rep"} and number == at + 1:
        return None
    if row.text(at) in {"sets", "set"}:
        return Quantity("setcount", at, number + 1, value, sets=int(value))
    return Quantity("reps", at, number + 1, value)
