"""Amounts that are worked out again further on: "20 minutes, my wife says 30 and she had the watch, so 30"."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.quantities.neighbours import Neighbours
from bot.reader.quantities.quantity import Quantity
from bot.reader.vocabulary import listed

_AFTER_A_CONCLUSION = listed["quantities", "after_a_conclusion"]
_AFTER_WHAT_THINGS_SAY = listed["quantities", "after_what_things_say"]
_BOTH_WAYS = listed["quantities", "of_both_ways"]
_BREAKS_A_CORRECTION = listed["quantities", "breaks_a_correction"]
_BY_WHAT_IS_MEASURED = listed["quantities", "by_what_is_measured"]
_CONCLUDES = listed["quantities", "concludes"]
_CONCLUDES_OPENLY = listed["quantities", "concludes_openly"]
_MEASURING_THINGS = listed["quantities", "measuring_things"]
_WHAT_THINGS_SAY = listed["quantities", "what_things_say"]
_ENDS_A_CORRECTION = tuple(tuple(each.split()) for each in listed["quantities", "ends_a_correction"])

_CORRECTED = frozenset({"minutes", "km", "steps"})
_PASSED_OVER = frozenset({"number", "total", "ways", "none", "each", "return"})
_REACH = 18
_SURELY_NO_SCORE = 10
_MOST_BETWEEN = 3
_LONGEST_ENDING = 4


def settled_on(amounts: list[Quantity], near: Neighbours) -> list[Quantity]:
    """The amounts, each that is worked out again further on with its last value."""
    kept: list[Quantity] = []
    at = 0
    while at < len(amounts):
        one, value, last = amounts[at], None, at + 1
        if one.kind in _CORRECTED and not one.total:
            value, last = _last_value(near, amounts, at)
        kept.append(one if value is None else replace(one, value=value, parts=()))
        at = last
    return kept


def _last_value(near: Neighbours, amounts: list[Quantity], at: int) -> tuple[float | None, int]:
    """The value that the amount at a place is given further on, if any, and the place of the next amount."""
    one = amounts[at]
    for place in range(at + 1, min(at + 2 + _MOST_BETWEEN, len(amounts))):
        value = _value_of(near, one, amounts[place])
        if value is None:
            if amounts[place].kind not in _PASSED_OVER:
                break
        elif _concluded(near, one, amounts[at + 1 : place], amounts[place], value):
            last = place + 1
            while last < len(amounts) and amounts[last].kind in {"total", "return"}:
                last += 1
            return value, last
    return None, at + 1


def _value_of(near: Neighbours, one: Quantity, other: Quantity) -> float | None:
    """What a later amount is as one of the same kind."""
    if other.kind == one.kind:
        return other.value
    if other.kind == "number" and other.value > _SURELY_NO_SCORE:
        return other.value * near.factor(one)
    return None


def _concluded(near: Neighbours, one: Quantity, between: list[Quantity], other: Quantity, value: float) -> bool:
    gap = near.texts[one.last : other.first]
    if len(gap) > _REACH or {".", ";", "?"} & set(gap) or not 0.25 * one.value <= value <= 4 * one.value:
        return False
    if not _BREAKS_A_CORRECTION.isdisjoint(gap):
        return False
    ending = _ending(near, other.last)
    if near.text(other.last + ending) not in _AFTER_A_CONCLUSION:
        return _by_a_watch(near, other)
    if _by_a_watch(near, other) and not between:
        return True
    back = other.first - 1
    while back > one.last and near.text(back) in _CONCLUDES_OPENLY and near.text(back) not in {",", "or"}:
        back -= 1
    if near.text(back) not in _CONCLUDES and not set(near.texts[back : other.first]) & _CONCLUDES:
        return False
    if ending and not between and near.text(back) != "so":
        return True
    return _adds_up(near, one, between, other, value)


def _ending(near: Neighbours, at: int) -> int:
    """How many words behind the second amount say that it is the one that holds."""
    ahead = tuple(near.texts[at : at + _LONGEST_ENDING])
    return max((len(each) for each in _ENDS_A_CORRECTION if ahead[: len(each)] == each), default=0)


def _adds_up(near: Neighbours, one: Quantity, between: list[Quantity], other: Quantity, value: float) -> bool:
    """Whether the last is what somebody else said, or both ways, or what is left after a part."""
    gap = near.texts[one.last : other.first]
    if value == 2 * one.value and _BOTH_WAYS & set(gap):
        return True
    factor = near.factor(one)
    for each in between:
        if each.kind == "number" and value in {
            each.value * factor,
            one.value - each.value * factor,
            one.value + each.value * factor,
        }:
            return True
        # Not "bike 20 min, walk 10 min, so 30 in all": that is the sum of two.
        if each.kind == one.kind and value in {each.value, one.value - each.value}:
            return True
    return False


def _by_a_watch(near: Neighbours, other: Quantity) -> bool:
    """ "the phone says 27", "25 according to the watch"."""
    at = other.first - 1
    while near.text(at) in _AFTER_WHAT_THINGS_SAY:
        at -= 1
    if near.text(at) in _WHAT_THINGS_SAY and near.text(at - 1) in _MEASURING_THINGS:
        return True
    if near.text(other.last) not in _BY_WHAT_IS_MEASURED:
        return False
    return not _MEASURING_THINGS.isdisjoint(near.texts[other.last + 1 : other.last + 4])
