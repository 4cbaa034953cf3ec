"""Amounts that are taken back and said again, and ranges: the last or the higher counts."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.quantities.neighbours import Neighbours
from bot.reader.quantities.quantity import MEASURES, Quantity
from bot.reader.vocabulary import listed

_AMOUNT_THEN_NUMBER_RANGE = listed["quantities", "amount_then_number_range"]
_BETWEEN_RANGE = listed["quantities", "between_range"]
_BETWEEN_WROTE_AND_MEANT = listed["quantities", "between_wrote_and_meant"]
_FROM_HOUR_TO_HOUR = listed["quantities", "from_hour_to_hour"]
_FROM_RANGE = listed["quantities", "from_range"]
_TAKING_BACK_SETS = listed["quantities", "taking_back_sets"]
_VERBS_OF_FALLING = listed["quantities", "verbs_of_falling"]
_WORDS_OF_RAISES = listed["quantities", "words_of_raises"]
_WROTE_BEFORE_CORRECTION = listed["quantities", "wrote_before_correction"]

_SAID_AGAIN = MEASURES | {"number", "score", "sets", "reps", "hold", "setcount"}
_FALLING_TO = frozenset({"down to", "down to a", "up to a", "down to about"})
_OPENS_CORRECTION = _BETWEEN_WROTE_AND_MEANT | {"not", "but", "turned", "became"}
_MULTIPLIES = frozenset({"x", "by", "times"})
_MARKS = frozenset({",", ".", "-", ";", "?", "("})


def _opens(near: Neighbours, gap: list[str]) -> bool:
    """Whether the first word between two amounts may begin a correction."""
    for word in gap:
        if word not in _MARKS:
            return word in near.words.corrects or word in _OPENS_CORRECTION
    return False


def corrected(near: Neighbours, one: Quantity, other: Quantity, gap: list[str]) -> Quantity | None:
    if not gap or one.kind not in _SAID_AGAIN or other.kind not in _SAID_AGAIN:
        return None
    if one.kind != "sets" and not _opens(near, gap):
        return None
    plain = [each for each in gap if each not in _MARKS]
    if one.kind == "sets" and other.kind == "number" and near.text(other.last) not in _MULTIPLIES:
        plain = [each for each in plain if each not in _WORDS_OF_RAISES]
        back = near.words.corrects | near.words.corrects_opens | _TAKING_BACK_SETS
        if set(plain) & near.words.corrects_opens and set(plain) <= back:
            return replace(one, last=other.last, value=other.value)
    if not plain or (plain[0] not in near.words.corrects and plain[0] not in _OPENS_CORRECTION):
        return None
    alike = one.kind == other.kind or {one.kind, other.kind} <= {"number", "score"}
    mixed = "number" in {one.kind, other.kind} and not {one.kind, other.kind} & {"sets", "hold"}
    if not (alike or mixed):
        return None
    if plain == ["not"] and len(gap) <= 2:
        # "20 not 30 minutes": the unit may stand behind the second.
        factor = 1.0
        if other.kind != one.kind and one.kind == "number" and other.kind in MEASURES:
            factor = near.factor(other)
        kind = other.kind if one.kind == "number" and other.kind in MEASURES else one.kind
        return replace(one, last=other.last, kind=kind, value=one.value * factor, tagged=True)
    if (
        alike
        and not {"but", "meant", "should"}.isdisjoint(plain)
        and _BETWEEN_WROTE_AND_MEANT.issuperset(plain)
        and {each.text for each in near.tokens[max(0, one.first - 3) : one.first]} & _WROTE_BEFORE_CORRECTION
    ):
        return near.wide(one, other, tagged=True)
    if (
        plain in (["turned", "into"], ["became"], ["turned", "in", "to"])
        and one.kind in MEASURES
        and other.kind in {"number", one.kind}
    ):
        value = other.value * (near.factor(one) if other.kind == "number" else 1.0)
        return replace(one, last=other.last, value=value)
    if plain == ["but"] and near.tokens[max(0, one.first - 1)].text == "not":
        return near.wide(one, other, tagged=True)
    if len(plain) > 7 or not all(each in near.words.corrects for each in plain):
        return None
    opens = [each for each in plain if each in near.words.corrects_opens]
    if not opens or plain == ["or"] or (plain[0] == "was" and "no" not in plain):
        return None
    if other.kind == "number" and one.kind in MEASURES:
        if one.kind == "minutes" and "." in gap:
            return None
        return replace(one, last=other.last, value=other.value * near.factor(one), tagged=True)
    return near.wide(one, other, tagged=True)


def ranged(near: Neighbours, one: Quantity, other: Quantity, said: str) -> Quantity | None:
    before, second = near.text(one.first - 1), near.text(one.first - 2)
    between = before in {"between", "somewhere", "from"} or second in {"between", "from"}
    if not between and said not in near.words.range_between and said not in _FALLING_TO:
        return None
    is_from = before == "from" or (second == "from" and before in {"a", "an", "about"})
    linked = said in near.words.range_between or (between and said in _BETWEEN_RANGE)
    if (
        (
            is_from
            and other.first - one.last <= 6
            and (said.endswith((" down to", " to", " to a", " to an", " down to a", " to about")) or said in {"to an"})
            and not {",", ".", ";"} & set(said.split())
        )
        or (is_from and said in _FROM_RANGE)
        or (said in _FALLING_TO and before in _VERBS_OF_FALLING)
    ):
        linked = True
    if not linked:
        return None
    if one.kind == "number" and other.kind in {"number", "score"}:
        if other.tagged and one.value > other.value:
            return None
        if said == "/" and (one.value > 10 or (other.value < 10 and one.value > other.value)):
            return None
        if said in {"a", "nearly", "almost", ", nearly"} and not 0 < other.value - one.value <= 1:
            return None
        if said in {"-", "to", "or"} and other.value - one.value > 30 and one.value <= 10:
            return None
        if is_from or "down" in said:
            return near.wide(one, other, tagged=True)
        return near.wide(one, other, value=max(one.value, other.value))
    if one.kind == "number" and (other.kind in MEASURES or other.kind == "reps"):
        factor = near.factor(other) if other.kind in MEASURES else 1.0
        if one.value * factor > other.value and not is_from and said not in {"-", "or", "to"}:
            return None
        if is_from and "down" in said:
            return near.wide(one, other)
        return near.wide(one, other, value=max(one.value * factor, other.value))
    if (
        one.kind == "number"
        and other.kind in {"sets", "hold", "setcount"}
        and said in {"-", "to", "or"}
        and other.kind == "setcount"
    ):
        return near.wide(one, other, sets=max(int(one.value), other.sets))
    if (
        is_from
        and one.kind == other.kind == "minutes"
        and near.is_hour(one)
        and near.is_hour(other)
        and said in _FROM_HOUR_TO_HOUR
        and other.value > one.value
    ):
        return near.wide(one, other, value=other.value - one.value)  # "from 18h to 19h"
    if one.kind == other.kind and one.kind in MEASURES and said not in {"/", "a", "nearly"}:
        return near.wide(one, other, value=max(one.value, other.value))
    # "10 min or 12", "from 10 min to 15"
    number_behind = one.kind in MEASURES and other.kind == "number" and said in _AMOUNT_THEN_NUMBER_RANGE
    if number_behind and (is_from or said != "to"):
        value = other.value * near.factor(one)
        if value < 3 * one.value:
            return near.wide(one, replace(one, last=other.last), value=max(one.value, value))
    return None
