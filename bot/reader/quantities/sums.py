"""Times of day that make a duration, amounts that add up, parts of a whole."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.quantities.neighbours import Neighbours
from bot.reader.quantities.other_numbers import CLOCK_HOURS
from bot.reader.quantities.quantity import MEASURES, Quantity
from bot.reader.vocabulary import listed

_ADDS_ONE_TO_ANOTHER = listed["quantities", "adds_one_to_another"]
_AFTER_MORE = listed["quantities", "after_more"]
_AT_WORK = listed["quantities", "at_work"]
_BEFORE_A_GUESS = listed["quantities", "before_a_guess"]
_BEFORE_TWO_THAT_ADD_UP = listed["quantities", "before_two_that_add_up"]
_FROM_CLOCK_TO_CLOCK = listed["quantities", "from_clock_to_clock"]
_FROM_NUMBER_TO_CLOCK = listed["quantities", "from_number_to_clock"]
_WAYS_HOME = listed["quantities", "ways_home"]

_TO = frozenset({"to", "till", "til", "until"})
_GOES = MEASURES | {"sets", "hold", "reps", "number"}


def from_to(near: Neighbours, one: Quantity, other: Quantity, said: str) -> Quantity | None:
    """From one time of day to another is a duration: "from 2 til 4"."""
    if said not in _FROM_CLOCK_TO_CLOCK and said not in _FROM_NUMBER_TO_CLOCK and said not in {"to", "-"}:
        return None
    at_work = near.text(one.first - 2) in _AT_WORK
    small = one.kind == other.kind == "number" and max(one.value, other.value) <= CLOCK_HOURS
    downwards = near.text(one.first - 1) in _AT_WORK and one.value > other.value  # "stood 9 to 5"
    if small and ((at_work and near.from_before(one) and said in {"to", "-"}) or (downwards and said in _TO)):
        one = replace(one, kind="clock", value=one.value * 60)  # "on my feet from 8 to 4"
    if one.kind == "number" and other.kind == "clock" and said in _FROM_NUMBER_TO_CLOCK and one.value <= 12:
        one = replace(one, kind="clock", value=one.value * 60)
    if one.kind != "clock" or other.kind not in {"clock", "number"} or said not in _FROM_CLOCK_TO_CLOCK:
        return None
    if other.kind == "number" and (
        other.value > 12 or (said not in {"till", "til", "until"} and not near.from_before(one) and not downwards)
    ):
        return None
    if said == "and" and not (one.first and near.tokens[one.first - 1].text == "between"):
        return None
    end = other.value * 60 if other.kind == "number" else other.value
    minutes = end - one.value
    halves = near.text(one.last - 1), near.text(other.last - 1)
    if halves in {("am", "pm"), ("pm", "am")}:
        minutes += 12 * 60
    if minutes <= 0:
        minutes += 12 * 60
    if not 0 < minutes <= 14 * 60:
        return None
    return Quantity("minutes", one.first, other.last, minutes, doubtful=True)


def added_up(near: Neighbours, one: Quantity, other: Quantity, said: str) -> Quantity | None:
    """ "12 and 15 minutes" of two walks add up; "about twenty, twenty five minutes" is a range."""
    if (
        said == "plus"
        and one.kind == "number"
        and one.value >= 3
        and other.kind in {"number", "minutes"}
        and near.factor(other) == 1
    ):
        return near.wide(one, other, value=one.value + other.value, parts=(one.value, other.value))
    if one.kind in MEASURES and other.kind == "number":
        return _another(near, one, other, said)
    if (
        one.kind == "times"
        and other.kind == "minutes"
        and len(other.parts) == one.value
        and said in {"of", ":", ",", "-"}
    ):
        return other  # "three walks of 10, 15 and 20 minutes"
    if one.kind != "number" or other.kind != "minutes" or one.value < 5 or not one.first:
        return None
    before = near.tokens[one.first - 1].text
    if (
        said in _ADDS_ONE_TO_ANOTHER
        and before in _BEFORE_TWO_THAT_ADD_UP
        and near.factor(other) == 1
        and not other.parts
    ):
        return near.wide(one, other, value=one.value + other.value, parts=(one.value, other.value))
    if said == "," and len(other.parts) > 1 and before in _BEFORE_TWO_THAT_ADD_UP and near.factor(other) == 1:
        return near.wide(one, other, value=one.value + other.value, parts=(one.value, *other.parts))
    if said in {",", ""} and before in _BEFORE_A_GUESS and 0 < other.value - one.value <= one.value:
        return near.wide(one, other)
    return None


def _another(near: Neighbours, one: Quantity, other: Quantity, said: str) -> Quantity | None:
    """ "20 minutes and then 10 more", "walked 10 min there and 12 back"."""
    following = near.text(other.last)
    if following not in _WAYS_HOME and following != "more":
        return None
    between = set(said.split())
    if between.isdisjoint({"then", "and", "plus", "another"}):
        return None
    on = following == "more" and "." not in said and near.text(other.last + 1) in _AFTER_MORE
    more = other.value * near.factor(one)
    if on or (
        one.kind in {"minutes", "km"}
        and between.isdisjoint({".", ";", "x"})
        and following in _WAYS_HOME
        and 3 * other.value * near.factor(one) >= one.value
    ):
        return replace(one, last=other.last + 1, value=one.value + more, parts=(one.value, more))
    return None


def marked(near: Neighbours, one: Quantity, other: Quantity, gap: list[str]) -> Quantity | None:
    if other.kind in {"each", "total", "return"} or one.kind in {"each", "total"}:
        return _marked_in_words(near, one, other, gap)
    if not gap or gap[0] not in {"of", "out", "/", "instead", "rather", "not"}:
        return None
    # "15 of 30 raises", "12 of the 20 minutes": what was done is the first.
    if (
        (
            one.kind == "number"
            and other.kind in {"number"} | MEASURES
            and gap
            in (
                ["of"],
                ["out", "of"],
                ["/"],
                ["of", "the"],
                ["out", "of", "the"],
                ["instead", "of"],
                ["rather", "than"],
            )
        )
        and other.value > one.value
        and not (other.kind == "number" and other.value == 10)
    ):
        factor = near.factor(other) if other.kind in MEASURES else 1.0
        return Quantity(other.kind, one.first, other.last, one.value * factor)
    of_sets = other.kind in {"sets", "setcount"} and gap in (["of"], ["out", "of"], ["of", "the"], ["of", "my"])
    if one.kind == "number" and of_sets and 1 <= one.value <= other.sets:
        changed = {"value": one.value} if other.kind == "setcount" else {}
        return near.wide(one, other, sets=int(one.value), **changed)  # "3 of my 4 sets of 10"
    if (
        one.kind == other.kind
        and one.kind in MEASURES | {"sets", "hold", "reps", "setcount"}
        and gap in (["instead", "of"], ["rather", "than"], ["not"], ["out", "of"], ["of", "the"], ["of", "my"])
    ):
        return replace(one, last=other.last)
    if (
        one.kind in MEASURES
        and other.kind == "number"
        and gap
        in (
            ["instead", "of"],
            ["rather", "than"],
            ["out", "of"],
            ["instead", "of", "the"],
            ["rather", "than", "the"],
            ["of", "the"],
        )
    ):
        return replace(one, last=other.last)
    return None


def _marked_in_words(near: Neighbours, one: Quantity, other: Quantity, gap: list[str]) -> Quantity | None:
    """ "10 min each", "20 min altogether", "in total 20 min", "10 min there and back"."""
    if one.kind in _GOES and other.kind == "each" and len(gap) <= 1:
        return replace(one, last=other.last, each=True)
    if one.kind == "each" and other.kind in {"minutes", "km", "count"} and not gap:
        return near.wide(one, other, each=True)  # "each time 10 minutes"
    if one.kind == "each" and other.kind in {"number", "reps"} and not gap and _behind_sets(near, one):
        return near.wide(one, other, each=True)  # "3 sets, each 10"
    if one.kind in MEASURES and other.kind == "total" and len(gap) <= 3 and not set(gap) & {".", ";"}:
        return replace(one, last=other.last, total=True)
    if one.kind == "total" and other.kind in MEASURES and len(gap) <= 2 and not set(gap) & {".", ";"}:
        return near.wide(one, other, total=True)
    if one.kind in MEASURES and other.kind == "return" and len(gap) <= 1:
        return replace(one, last=other.last)
    return None


def _behind_sets(near: Neighbours, each: Quantity) -> bool:
    """Whether "each" stands right behind a word for sets."""
    at = each.first - 1 - (near.text(each.first - 1) in {",", "(", ":"})
    return near.words.units.get(near.text(at), ("", 0.0))[0] == "sets"
