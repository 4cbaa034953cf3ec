"""The first level: one amount at each place."""

from __future__ import annotations

from bot.reader.quantities.in_words import READ_ALWAYS, amount_in_words, one_is
from bot.reader.quantities.other_numbers import other_number
from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.row import Row
from bot.reader.quantities.units import measured
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_BETWEEN_STEPS_AND_NUMBER = listed["quantities", "between_steps_and_number"]
_UNITS_BEFORE_NUMBER = listed["quantities", "units_before_number"]
_SET_WAS = listed["quantities", "each_is"] | {"-", "only"}
_WHICH_SET = listed["quantities", "which_set"]
_WORDS_OF_RAISES = listed["quantities", "words_of_raises"] - {"heel", "calf"}
_FEWEST_IN_A_SET = 3
_MOST_IN_A_SET = 50
_READ_ALWAYS = _UNITS_BEFORE_NUMBER | READ_ALWAYS


def items(row: Row) -> list[Quantity]:
    """Every amount that begins with a number or a word of its own, in order."""
    found: list[Quantity] = []
    done = 0
    around, opens, goes_on = row.around, row.words.amount_openings, row.words.amount_goes_on
    openings = [
        at for at in row.noted if (word := around[at]) in opens and (word in _READ_ALWAYS or around[at + 1] in goes_on)
    ]
    for at in sorted(row.numbers + openings) if openings else row.numbers:
        if at >= done:
            made = _item(row, at)
            if made is not None:
                found.append(made)
                done = made.last
    return found


def _item(row: Row, at: int) -> Quantity | None:
    if row.tokens[at].kind is Kind.NUMBER:
        each = one_is(row, at) if row.tokens[at].value == 1 else None
        if row.around[at + 1] == "/" == row.around[at + 3]:
            each = _goes_with_slashes(row, at)
        return each or other_number(row, at) or measured(row, at)
    text = row.texts[at]
    made = counted_behind(row, at) if text in _UNITS_BEFORE_NUMBER else None
    if made is None and text in row.words.amount_starts:
        made = amount_in_words(row, at)
    return made


def _goes_with_slashes(row: Row, at: int) -> Quantity | None:
    """ "raises 12/12/10": goes one after the other, beside a word of raises."""
    goes = [row.value(at), row.value(at + 2), row.value(at + 4)]
    if (
        goes[0] == goes[1] == goes[2]
        or row.around[at + 5] == "/"
        or _WORDS_OF_RAISES.isdisjoint(row.texts[max(0, at - 3) : at + 7])
    ):
        return None
    parts = tuple(each for each in goes if each is not None and _FEWEST_IN_A_SET <= each <= _MOST_IN_A_SET)
    return Quantity("reps", at, at + 5, sum(parts), parts=parts) if len(parts) == len(goes) else None


def _labelled_set(row: Row, at: int) -> Quantity | None:
    """ "first set 12", "set 2: 10": the repetitions of one set."""
    first, number = at, at + 1
    if row.text(at - 1) in _WHICH_SET:
        first = at - 1
    elif row.value(at + 1) is not None:
        number = at + 2
    else:
        return None
    number += row.text(number) in _SET_WAS
    value = row.value(number)
    if value is None or value < _FEWEST_IN_A_SET or row.unit(number + 1) not in {None, ("reps", 1.0)}:
        return None
    return Quantity("reps", first, number + 1, value)


def counted_behind(row: Row, at: int) -> Quantity | None:
    """ "sets: 3, reps: 12": the number stands behind its unit."""
    labelled = _labelled_set(row, at) if row.text(at) == "set" else None
    if labelled is not None:
        return labelled
    if row.text(at) == "steps":
        number = at + 1 + (row.text(at + 1) in _BETWEEN_STEPS_AND_NUMBER)
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
