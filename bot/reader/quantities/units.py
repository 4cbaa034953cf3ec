"""A number with its unit, and what belongs to it: "and a half", "1h20", "3/4 of an hour"."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.row import Row
from bot.reader.vocabulary import listed

_AFTER_OUR_FOR_HOUR = listed["quantities", "after_our_for_hour"]
_AFTER_SECOND_AS_ORDINAL = listed["quantities", "after_second_as_ordinal"]
_AFTER_SMALLER_UNIT = listed["quantities", "after_smaller_unit"]
_AFTER_TIMES = listed["quantities", "after_times"]
_COUNTS_ONLY_STEPS = listed["quantities", "counts_only_steps"]
_STEP_COUNTERS = listed["quantities", "step_counters"]
_BETWEEN_NUMBER_AND_UNIT = listed["quantities", "between_number_and_unit"]
_NOT_MINUTES_OF_AN_HOUR = listed["quantities", "not_minutes_of_an_hour"]

_DONE_WITH_A_FOOT = listed["quantities", "done_with_a_foot"]
_BEFORE_AN_AGE_GROUP = listed["quantities", "before_an_age_group"]

_SETS_NAMED_BY_SIZE = {
    "fives": 5.0,
    "sixes": 6.0,
    "eights": 8.0,
    "tens": 10.0,
    "twelves": 12.0,
    "fifteens": 15.0,
    "twenties": 20.0,
    "thirties": 30.0,
}
_MOST_SETS = 9
_FEWEST_STEPS = 1000
_MOST_TIMES_UNINFLECTED = 12
_AFTER_MEASURED = _BETWEEN_NUMBER_AND_UNIT | {
    *("/", "of", "on", "out", "outta", "outa", "over", "in"),
    *(",", "or", "half", "m", "'", '"'),
}
"""Behind a number: only before one of these more than a unit is looked for."""


def measured(row: Row, at: int) -> Quantity:
    after = row.around[at + 1]
    if after in _AFTER_MEASURED or after in row.words.fractions:
        return _measured(row, at)
    unit = row.unit(at + 1)
    made: Quantity | None = with_unit(row, at, at + 1, unit) if unit is not None else None
    if made is None and after in _SETS_NAMED_BY_SIZE:
        made = _sets_by_size(row, at, after)
    value = row.tokens[at].value
    if unit is None and value >= _FEWEST_STEPS and not _STEP_COUNTERS.isdisjoint(row.texts[max(0, at - 4) : at]):
        return Quantity("steps", at, at + 1, value)  # "the pedometer says 6,312"
    return made or Quantity("number", at, at + 1 + (after == "ish"), value)


def _sets_by_size(row: Row, at: int, size: str) -> Quantity | None:
    """ "three tens", "two fifteens": so many sets of so many."""
    sets = row.tokens[at].value
    if not (1 <= sets <= _MOST_SETS and float(sets).is_integer()):
        return None
    return Quantity("sets", at, at + 2, _SETS_NAMED_BY_SIZE[size], int(sets))


def _measured(row: Row, at: int) -> Quantity:
    around = row.around
    token = row.tokens[at]
    value = token.value
    if row.scored(at):
        last = at + 3
        if around[at + 1] in {"out", "outta", "outa"}:
            last = at + 3 if row.value(at + 2) == 10 else at + 4
        return Quantity("score", at, last, value)
    if around[at + 1] in {"over", "in"} and row.value(at + 2) == 10 and row.unit(at + 3) is None and value <= 10:
        return Quantity("score", at, at + 3, value)
    after = at + 1
    if (
        around[after] == "/"
        and row.value(after + 1) == value
        and value != 10
        and value >= 2
        and "/" not in {around[after + 2], around[at - 1]}
    ):
        # "walk 20/20", "3/3 sets": all of what was asked.
        unit = row.unit(after + 2)
        made = with_unit(row, after + 1, after + 2, unit) if unit is not None else None
        return replace(made, first=at) if made is not None else Quantity("number", at, after + 2, value)
    # "3,5 km"
    if (
        around[after] == ","
        and row.tokens[after].glued
        and row.value(after + 1) is not None
        and row.tokens[after + 1].glued
        and token.raw.isdecimal()
        and row.tokens[after + 1].raw.isdecimal()
    ):
        unit = row.unit(after + 2)
        if unit is not None and unit[0] == "km" and len(row.tokens[after + 1].raw) <= 2:
            return Quantity("km", at, after + 3, float(f"{token.raw}.{row.tokens[after + 1].raw}") * unit[1])
    # "1/2 hour", "3/4 of an hour"
    if around[after] == "/" and row.value(after + 1) in {2.0, 3.0, 4.0} and value < (row.value(after + 1) or 0):
        last = after + 2
        while around[last] in {"of", "a", "an"}:
            last += 1
        unit = row.unit(last)
        if unit is not None and unit[0] in {"minutes", "km", "seconds"}:
            return Quantity(unit[0], at, last + 1, value / (row.value(after + 1) or 1) * unit[1])
    # "3 quarters of an hour", "two thirds of a mile"
    bottom = row.words.fractions.get(around[after])
    if bottom is not None and value < bottom:
        last = after + 1
        while around[last] in {"of", "a", "an"}:
            last += 1
        unit = row.unit(last)
        if unit is not None and unit[0] in {"minutes", "km"}:
            return Quantity(unit[0], at, last + 1, value / bottom * unit[1])
    while around[after] in _BETWEEN_NUMBER_AND_UNIT and around[after] != "or":
        after += 1
    if around[after] == "or" and around[after + 1] == "so" and row.unit(after + 2) is not None:
        after += 2
    if around[after] == "half" and row.unit(after + 1) == ("minutes", 60):  # "2 half hours"
        return Quantity("minutes", at, after + 2, value * 30)
    unit = row.unit(after)
    if unit is not None:
        made = with_unit(row, at, after, unit)
        if made is not None:
            return made
    text = around[after]
    if text == "m":
        if around[after + 1] in {"steps", "paces"}:
            return Quantity("steps", at, after + 2, round(value * 1_000_000))
        return with_m(row, at, after)
    if text == "'" and row.tokens[after].glued:
        return Quantity("minutes", at, after + 1, value)
    if (
        text == '"'
        and row.tokens[after].glued
        and around[at - 1] not in {'"'}
        and not any(t.text == '"' for t in row.tokens[max(0, at - 6) : at])
    ):
        return Quantity("seconds", at, after + 1, value)
    return Quantity("number", at, at + 1 + (around[at + 1] == "ish"), value)


def with_m(row: Row, at: int, after: int) -> Quantity:
    value = row.tokens[at].value
    metres = value >= 100 or row.text(at - 1) in {"swam", "swim"} or row.text(after + 1) in {"sprint", "away"}
    if row.text(after + 1) == "and" and row.unit(after + 3) == ("km", 0.00001):
        metres = True
    return Quantity("km", at, after + 1, value / 1000) if metres else Quantity("minutes", at, after + 1, value)


def with_unit(row: Row, at: int, after: int, unit: tuple[str, float]) -> Quantity | None:
    around = row.around
    kind, factor = unit
    if around[after + 1] == ":" and row.value(after + 2) is not None:
        return None  # "sets: 3 reps: 10": a label of the next number
    value = row.tokens[at].value
    text, last = around[after], after + 1
    glued = row.tokens[after].glued
    if text in {"k", "ks"} and around[last] in {"steps", "step", "paces"}:
        return Quantity("steps", at, last + 1, round(value * 1000))
    if text == "k" and glued and around[at - 1] in {"says", "said", "count"} and around[at - 2] in _COUNTS_ONLY_STEPS:
        return Quantity("steps", at, last, round(value * 1000))  # "step counter says 16k"
    if text == "k" and value >= 100 and glued:
        return Quantity("number", at, last, value * 1000)
    if text in {"foot", "feet"} and value < 20 and text == "foot":
        return None
    if text in {"our", "ours"} and not (value <= 12 and around[last] in _AFTER_OUR_FOR_HOUR):
        return None
    if text == "s" and glued and around[at - 1] in _BEFORE_AN_AGE_GROUP:
        return None  # "the year 2s", "the under 11s"
    if text == "s" and not glued and around[at - 1] != "x" and around[last] not in {"", ".", ",", ";", "x", "each"}:
        return None
    if text == "foot" and around[last] in _DONE_WITH_A_FOOT:
        return None  # "20 foot pumps"
    if text == "second" and (
        (value == 1 and around[last] not in {"", ".", ","}) or around[last] in _AFTER_SECOND_AS_ORDINAL
    ):
        return None
    if kind == "steps":
        walked = around[at - 1] in {"walked", "walk", "walking"}
        if value < 15 and text in {"step", "steps"} and not walked:
            return Quantity("none", at, last, value)
        return Quantity("steps", at, last, value)
    if kind == "times":
        if text == "time" and value != 1 and not (value <= _MOST_TIMES_UNINFLECTED and around[last] in _AFTER_TIMES):
            return None  # "6 time" is 6 times in second-language English, "3 time 10" is read with the next
        # "15 times": raises; "3 times up and down"
        return Quantity("times", at, last, value)
    if kind == "sets":
        if text in {"round", "go"} and value != 1:
            return None
        if text in {"lot", "lots"} and value > 12:
            return None
        if text == "sets" and around[last] == "of" and around[last + 1] == "stairs":
            return Quantity("count", at, last + 2, value)
        if around[last] == "of":
            return Quantity("setcount", at, last, value, sets=int(value))
        return Quantity("setcount", at, last, value, sets=int(value))
    if kind == "reps":
        return Quantity("reps", at, last, value)
    if kind == "count":
        if around[last] == "of" and around[last + 1] in {"stairs", "steps", "stair"}:
            last += 2
        return Quantity("count", at, last, value)
    amount = Quantity(kind, at, last, value * factor)
    return with_smaller(row, amount, factor)


def _written_as_a_fraction(row: Row, at: int) -> float:
    """ "3/4" behind "an hour and"; nothing where it has a unit of its own or is no such fraction."""
    top, bottom = row.value(at), row.value(at + 2)
    if top is None or bottom not in {2.0, 3.0, 4.0} or row.text(at + 1) != "/" or row.unit(at + 3) is not None:
        return 0.0
    return top / bottom if top < bottom else 0.0


def with_smaller(row: Row, amount: Quantity, factor: float) -> Quantity:
    """What follows a unit and belongs to it: "and a half", "20 minutes" after hours, metres after kilometres."""
    last = amount.last
    if row.text(last) in {"and", "n", "an"} or (row.text(last) == "," and row.unit(last + 2) is not None):
        joined = last + 1
        skip = joined + (row.text(joined) in {"a", "an", "another"})
        if row.text(skip) == "half" and row.unit(skip + 1) is None and row.text(last) != ",":
            return replace(amount, last=skip + 1, value=amount.value + 0.5 * factor)
        if row.text(skip) == "quarter" and row.text(last) != ",":
            return replace(amount, last=skip + 1, value=amount.value + 0.25 * factor)
        if row.value(joined) == 3 and row.text(joined + 1) == "quarters" and row.unit(joined + 2) is None:
            return replace(amount, last=joined + 2, value=amount.value + 0.75 * factor)
        part = _written_as_a_fraction(row, joined)
        if part and row.text(last) != ",":
            return replace(amount, last=joined + 3, value=amount.value + part * factor)
        if row.text(skip) == "bit" and skip > joined:
            return replace(amount, last=skip + 1)
    else:
        joined = last
    value = row.value(joined)
    if value is None:
        return amount
    unit = row.unit(joined + 1)
    comma = row.text(last) == ","
    same = unit is not None and unit[0] == amount.kind
    seconds = unit is not None and unit[0] == "seconds" and amount.kind == "minutes"
    if (same and unit is not None and unit[1] < factor) or seconds:
        ends = row.text(joined + 2) in _AFTER_SMALLER_UNIT or not comma
        if ends and unit is not None:
            more = value / 60 if seconds else value * unit[1]
            return with_smaller(
                row, replace(amount, last=joined + 2, value=amount.value + more), 0.0 if seconds else unit[1]
            )
        return amount
    if amount.kind == "km" and unit is not None and row.text(joined + 1) == "m" and not comma:
        return replace(amount, last=joined + 2, value=amount.value + value / 1000)
    if row.text(joined + 1) == "m" and factor == 60 and value < 60:
        return replace(amount, last=joined + 2, value=amount.value + value)
    if factor == 60 and not comma and unit is None and 10 <= value < 60 and float(value).is_integer():
        following = row.text(joined + 1)
        exact = joined == last and row.tokens[joined].glued
        if following == "of" and joined > last and row.text(joined + 2).endswith("ing"):
            following = ""  # "an hour and twenty of walking"
        if exact or (following not in _NOT_MINUTES_OF_AN_HOUR and row.value(joined + 1) is None):
            return replace(amount, last=joined + 1, value=amount.value + value)
    return amount
