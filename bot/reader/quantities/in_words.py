"""Amounts without a number: "half an hour", "an hour", "twice", "each way"."""

from __future__ import annotations

from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.row import Row
from bot.reader.quantities.units import with_smaller
from bot.reader.vocabulary import listed


def amount_in_words(row: Row, at: int) -> Quantity | None:
    text = row.text(at)
    if text in listed["quantities", "words_of_times"]:
        if text == "once" and row.text(at + 1) in listed["quantities", "after_once_as_a_conjunction"]:
            return None
        if text == "double":
            return None
        if row.text(at + 1) in {"as", "the"} or (
            row.text(at + 1) == "a" and row.text(at + 2) == "day" and text == "once"
        ):
            return None
        return Quantity("times", at, at + 1, {"once": 1.0, "twice": 2.0}.get(text, 3.0))
    if text in listed["quantities", "distributive_words"]:
        way = row.text(at + 1)
        if way in {"way", "ways", "direction"} and text != "a" and text != "every":
            return Quantity("ways", at, at + 2, 2.0)
        if text == "each" and way in listed["quantities", "after_each"]:
            return Quantity("each", at, at + 1 + (way in listed["quantities", "each_of_what"]))
        if (
            text in {"a", "per", "every"}
            and way in listed["quantities", "one_of_several"]
            and row.text(at - 1) != "had"
        ):
            before = row.text(at - 1)
            if before in row.words.units or row.text(at - 2) in row.words.units:
                return Quantity("each", at, at + 2)
        if text == "apiece":
            return Quantity("each", at, at + 1)
        if text in listed["quantities", "distributive_only"]:
            return None
    if text == "same":
        start = at - 1
        while row.text(start) in listed["quantities", "degrees_of_same"]:
            start -= 1
        if (
            row.text(start) in listed["quantities", "goes_on_with"]
            and row.text(at + 1) in listed["quantities", "after_same"]
        ):
            return Quantity("again", at, at + 1 + (row.text(at + 1) == "again"))
        return None
    if text in {"altogether", "total"} or (
        text == "all" and row.text(at + 1) in {"in", "told"} and row.text(at + 2) in {"", ".", ",", ";", "all"}
    ):
        return Quantity("total", at, at + 1)
    if text == "there" and row.text(at + 1) == "and" and row.text(at + 2) == "back":
        return Quantity("return", at, at + 3)
    if (
        text in {"morning", "am"}
        and row.text(at + 1) in {"and", "n"}
        and row.text(at + 2) in {"night", "evening", "pm"}
    ):
        return Quantity("times", at, at + 3, 2.0)
    if text in {"few", "several"}:
        last = at + 1
        while row.text(last) in row.words.multiples:
            last += 1
        if row.unit(last) is not None:
            return Quantity("none", at, last + 1)
        return None
    if text in {"hour", "hours"}:
        if (row.text(at + 1) == "and" and row.text(at + 2) in {"a", "half", "quarter"}) or (
            row.text(at + 1) == "and" and row.value(at + 2) is not None
        ):
            made = with_smaller(row, Quantity("minutes", at, at + 1, 60.0), 60.0)
            return made if made.last > at + 1 else None
        return None
    if text == "half":
        return half_of(row, at, at + 1)
    if text == "quarter":
        return quarter_of(row, at, at + 1)
    # "a", "an", "the", "another", "whole" ...
    last = at + 1
    while last < at + 4 and row.text(last) in listed["quantities", "between_article_and_unit"]:
        if row.text(last) == "half":
            return half_of(row, at, last + 1)
        if row.text(last) == "quarter":
            return quarter_of(row, at, last + 1)
        last += 1
    unit = row.unit(last)
    if unit is None:
        return None
    kind, factor = unit
    name = row.text(last)
    if kind in {"minutes", "km"} and name in listed["quantities", "units_of_one"]:
        first = row.text(at + 1) == "first" and row.text(at - 1) == "for"  # "3 for the first minute"
        if (
            text == "the"
            and name not in {"hour", "mile"}
            and row.text(at - 1) not in {"within", "inside"}
            and not first
        ):
            return None
        whole = with_smaller(row, Quantity(kind, at, last + 1, factor), factor)
        if whole.last > last + 1 or row.text(at - 2) in listed["quantities", "eased_in"]:
            return whole
        if row.text(last + 1) in listed["quantities", "says_when"] or (
            name in {"minute", "min"}
            and row.text(at - 1) in {"in", "wait", "at", "for"}
            and last == at + 1
            and row.text(at - 1) != "for"
        ):
            return Quantity("none", at, last + 1)
        if row.text(last + 1) == "or" and row.value(last + 2) == 2:
            unit2 = row.unit(last + 3)
            if unit2 is not None and unit2[0] == kind:
                return Quantity(kind, at, last + 4, 2 * unit2[1])
            return Quantity(kind, at, last + 3, 2 * factor)
        if row.text(last + 1) == "or" and row.text(last + 2) in {"two", "so"}:
            return Quantity(kind, at, last + 3, (2 if row.text(last + 2) == "two" else 1) * factor)
        return with_smaller(row, Quantity(kind, at, last + 1, factor), factor)
    if kind == "count" and text in {"a", "an", "single", "another"} and name == "flight":
        end = last + 1
        if row.text(end) == "of":
            end += 2
        return Quantity("count", at, end, 1.0)
    if kind == "sets" and text in {"a", "another"} and name == "set":
        return Quantity("setcount", at, last + 1, 1.0, sets=1)
    return None


def half_of(row: Row, at: int, last: int) -> Quantity | None:
    """ "half an hour", "half hour", "half a mile"; `last` is behind "half"."""
    while row.text(last) in listed["quantities", "between_article_and_half"]:
        last += 1
    unit = row.unit(last)
    if (
        unit is not None
        and unit[0] in {"minutes", "km", "seconds"}
        and row.text(last) not in listed["quantities", "not_the_unit_of_half"]
    ):
        return Quantity(unit[0], at, last + 1, 0.5 * unit[1])
    if row.text(last) == "day":
        return Quantity("none", at, last + 1)
    return None


def quarter_of(row: Row, at: int, last: int) -> Quantity | None:
    while row.text(last) in listed["quantities", "between_article_and_half"]:
        last += 1
    unit = row.unit(last)
    if unit is not None and unit[0] in {"minutes", "km"}:
        return Quantity(unit[0], at, last + 1, 0.25 * unit[1])
    return None
