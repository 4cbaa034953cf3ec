"""Amounts that multiply: "twice for ten minutes", "10 min each way", "3 x 10"."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.quantities.neighbours import Neighbours
from bot.reader.quantities.quantity import MEASURES, Quantity
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_ANYWHERE_BETWEEN_SETS_AND_REPS = listed["quantities", "anywhere_between_sets_and_reps"]
_BETWEEN_AMOUNT_AND_TIMES = listed["quantities", "between_amount_and_times"]
_BETWEEN_AMOUNT_AND_WAYS = listed["quantities", "between_amount_and_ways"]
_BETWEEN_AMOUNT_AND_TIME = listed["quantities", "between_amount_and_time"]
_BEFORE_A_TIME_OF_DAY = listed["quantities", "before_a_time_of_day"]
_TIMES_OF_DAY = listed["quantities", "times_of_day"]
_AFTER_TIMES_OF_DAY = listed["quantities", "after_times_of_day"]
_BETWEEN_NUMBER_AND_BOUTS = listed["quantities", "between_number_and_bouts"]
_BETWEEN_REPS_AND_SECONDS = listed["quantities", "between_reps_and_seconds"]
_BETWEEN_REPS_AND_SETS = listed["quantities", "between_reps_and_sets"]
_BETWEEN_SECONDS_AND_REPS = listed["quantities", "between_seconds_and_reps"]
_BETWEEN_SETS_AND_MEASURE = listed["quantities", "between_sets_and_measure"]
_BETWEEN_SETS_AND_REPS = listed["quantities", "between_sets_and_reps"]
_BETWEEN_SETS_AND_SECONDS = listed["quantities", "between_sets_and_seconds"]
_BETWEEN_TIMES_AND_MEASURE = listed["quantities", "between_times_and_measure"]
_BOUTS = listed["quantities", "bouts"]
_GOES_ONE_BY_ONE = listed["deeds", "goes_one_by_one"]
_SIGNS_OF_TIMES = listed["quantities", "signs_of_times"]
_WORDS_OF_THEM = listed["deeds", "words_of_them"]
_THINGS_PLAYED_AND_HELD = listed["quantities", "things_played_and_held"]
_TOGETHER_AFTER_BOTH = listed["quantities", "together_after_both"]

_BEFORE_SO_MANY = listed["quantities", "before_so_many"]
_OF_EACH_SIDE = listed["quantities", "of_each_side"]
_WORDS_OF_HOLDS = listed["quantities", "words_of_holds"]
_DOES_IT = listed["quantities", "does_it_over_again"]
_IT = frozenset({"it", "that", "this"})
_NOT_DONE_OVER = listed["quantities", "not_done_over_again"]
_ENDS_HOW_OFTEN = listed["quantities", "ends_how_often"]
_HAPPENED_SO_OFTEN = listed["quantities", "happened_so_often"]
_NOT_AGAIN = listed["quantities", "not_again"]
_ROUND_A_PLACE = listed["quantities", "round_a_place"]
_BREAKS_EACH = listed["quantities", "breaks_each"]
_DONE_IN_GOES = listed["quantities", "done_in_goes"]
_EACH_SET = frozenset({"each", "set", "one", "is", "was", ":", "=", "of"})
_EACH_SET_AND_LINKS = _EACH_SET | {",", "of", "and", "(", "-", "at", "about"}
_LONGEST_SHORT_WORD = 3
_EACH_OR_EVERY = listed["quantities", "each_or_every"]

FAR = 4
_MOST_TIMES = 12
_MOST_ROUNDS = 6
_FEWEST_IN_A_GO = 4
_SURELY_NO_SCORE = 10
_SETS_AND_REPS = frozenset({"number", "reps", "setcount", "times", "sets"})


def multiplied(near: Neighbours, one: Quantity, other: Quantity, gap: list[str], said: str) -> Quantity | None:
    if other.kind == "number":
        return _times_number(one, other, gap, said) or _each_of_so_many(near, one, other, gap)
    # "10 min before work and the same again after"
    if other.kind == "again" and "." not in gap:
        if one.kind in MEASURES:
            return replace(one, last=other.last, value=2 * one.value, parts=(*one.parts, one.value))
        if one.kind in {"sets", "hold"}:
            return replace(one, last=other.last, sets=2 * one.sets)
        if one.kind == "reps":
            return replace(one, kind="sets", last=other.last, sets=2)
    # "10 min each way", "4 flights, twice", "10 min x 2"
    if (
        one.kind in MEASURES
        and other.kind == "ways"
        and near.tokens[other.first].text == "both"
        and other.last < len(near.tokens)
        and near.tokens[other.last].text in _TOGETHER_AFTER_BOTH
    ):
        return replace(one, last=other.last)
    if one.kind in MEASURES and other.kind == "ways" and all(each in _BETWEEN_AMOUNT_AND_WAYS for each in gap):
        return replace(one, last=other.last, value=2 * one.value, parts=(*one.parts, one.value))
    if one.kind == "ways" and other.kind in {"minutes", "km", "steps"} and said in {"", ",", "about", "is", "was", ":"}:
        return near.wide(one, other, value=2 * other.value, parts=(other.value,))
    both_ways = len(one.parts) == 1 and near.text(one.last - 1) in {"way", "ways"} and said in {",", ""}
    over_again = other.kind == "times" and len(gap) > 1 and _done_over_again(gap)
    repeated = (
        one.kind in MEASURES
        and other.kind == "times"
        and other.value <= _MOST_TIMES
        and (not one.parts or both_ways or (over_again and len(one.parts) == 1))
    )
    if repeated and len(gap) > 2 and not _EACH_OR_EVERY.isdisjoint(gap) and set(gap[-1:]) <= _BEFORE_SO_MANY:
        # "10 minutes after every meal, so three times"
        within = set(gap[:-1]) & _BREAKS_EACH
        return None if within else replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))
    a_day = near.text(other.last) == "a" and near.text(other.last + 1) == "day"
    if repeated and said == "," and near.text(other.last) in _HAPPENED_SO_OFTEN and not a_day:
        return None  # "walked 20 min, 3 times had to stop"
    if repeated and said in _BETWEEN_AMOUNT_AND_TIMES:
        if one.kind == "seconds":
            return Quantity("hold", one.first, other.last, one.value, int(other.value))
        if other.value == 1:
            return replace(one, last=other.last)
        return replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))
    if repeated and 2 <= other.value <= _MOST_ROUNDS and over_again:
        return replace(one, last=one.last, value=one.value * other.value, parts=(one.value,))
    if repeated and 2 <= other.value <= _MOST_ROUNDS and one.kind != "seconds" and _all_of_it_again(near, other, gap):
        return replace(one, last=one.last, value=one.value * other.value, parts=(one.value,))
    if one.kind in {"seconds"} and other.kind in {"reps", "setcount"} and said in _BETWEEN_SECONDS_AND_REPS:
        return Quantity("hold", one.first, other.last, one.value, int(other.value) or other.sets)
    if (
        one.kind == "setcount"
        and other.kind in MEASURES
        and other.kind != "seconds"
        and said in _BETWEEN_SETS_AND_MEASURE
        and (said != "," or other.each)
    ):
        return near.wide(one, other, value=one.sets * other.value, parts=(other.value,))
    if one.kind == "times" and one.value <= 30 and other.kind in MEASURES:
        close = said in _BETWEEN_TIMES_AND_MEASURE
        if other.kind == "seconds" and (close or said == ","):
            return Quantity("hold", one.first, other.last, other.value, int(one.value))
        if close or (other.each and len(gap) <= 6):
            return near.wide(one, other, value=one.value * other.value, parts=(other.value,), each=False)
        if (
            other.parts and other.kind == "minutes" and said == "," and len(other.parts) == 1
        ):  # "back twice, 8 mins each way"
            return near.wide(one, other, value=one.value * other.value, parts=(other.value,))
    if (
        one.kind == "number"
        and 2 <= one.value <= 12
        and other.each
        and other.kind in {"minutes", "km"}
        and 1 <= len(gap) <= 4
        and not {".", "and", "x"} & set(gap)
    ):
        return near.wide(
            one, other, value=one.value * other.value, parts=(other.value,), each=False
        )  # "5 lessons, 50 mins each"
    if (
        one.kind == "number"
        and 2 <= one.value <= 8
        and other.kind in {"minutes", "km"}
        and len(gap) == 2
        and gap[1] == "of"
        and gap[0] in _THINGS_PLAYED_AND_HELD
    ):
        return near.wide(one, other, value=one.value * other.value, parts=(other.value,))  # "2 matches of 25 minutes"
    # "2 x 10 min", "2 15 min walks"
    if (
        one.kind == "number"
        and one.value <= 12
        and float(one.value).is_integer()
        and other.kind in MEASURES
        and other.kind != "count"
    ):
        if said in _SIGNS_OF_TIMES or (said == "x ," and other.each):
            if other.kind == "seconds":
                return Quantity("hold", one.first, other.last, other.value, int(one.value))
            return near.wide(one, other, value=one.value * other.value, parts=(other.value,))
        following = near.tokens[other.last].text if other.last < len(near.tokens) else ""
        if said in _BETWEEN_NUMBER_AND_BOUTS and one.value <= 6 and following in _BOUTS:
            if other.kind == "seconds":
                return Quantity("hold", one.first, other.last, other.value, int(one.value))
            return near.wide(one, other, value=one.value * other.value, parts=(other.value,))
    return None


def _times_number(one: Quantity, other: Quantity, gap: list[str], said: str) -> Quantity | None:
    """ "10 min x 2", "10 min walk x 3"."""
    if one.kind not in MEASURES or other.value > 12:
        return None
    if said in {"x", ", x", "times"}:
        if one.kind == "seconds":
            return Quantity("hold", one.first, other.last, one.value, int(other.value))
        return replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))
    if gap[-1:] == ["x"] and len(gap) == 2 and other.value <= 6:
        return replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))
    return None


def _done_over_again(gap: list[str]) -> bool:
    """ "20 min walking there and back and I do it twice": how often, behind "do it" and the like."""
    verb = gap[-2] in _DOES_IT and gap[-1] in _IT
    before = gap[-3] if len(gap) > 2 else ""
    return verb and before not in _NOT_DONE_OVER and _BREAKS_EACH.isdisjoint(set(gap[:-2]) - {"did", ".", "then"})


def _all_of_it_again(near: Neighbours, other: Quantity, gap: list[str]) -> bool:
    """ "8 flights with the shopping in my arms, twice", "20 minutes round the park twice": how often, at the end."""
    if near.text(other.last) not in _ENDS_HOW_OFTEN:
        return False
    if _ROUND_A_PLACE.issuperset(gap):
        return True
    return gap[-1] == "," and _NOT_AGAIN.isdisjoint(gap) and not any(word.endswith("ed") for word in gap)


def _each_of_so_many(near: Neighbours, one: Quantity, other: Quantity, gap: list[str]) -> Quantity | None:
    """ "10 min after each meal, three meals": so many of what each had its time."""
    if one.kind not in MEASURES or one.parts or not 2 <= other.value <= _MOST_TIMES or _EACH_OR_EVERY.isdisjoint(gap):
        return None
    place = next((at for at, word in enumerate(gap) if word in _EACH_OR_EVERY), None)
    if place is None or place + 1 >= len(gap) or not set(gap[place + 2 :]) <= _BEFORE_SO_MANY:
        return None
    counted = near.text(other.last)
    if counted not in {gap[place + 1] + "s", gap[place + 1] + "es", "of"}:
        return None
    return replace(one, last=other.last + 1, value=one.value * other.value, parts=(one.value,), each=False)


def both_times(near: Neighbours, one: Quantity) -> Quantity:
    """ "swam 20 minutes both times": two of them, where nothing else said so yet."""
    both = one.each and not one.parts and not one.total and near.text(one.last - 2) == "both"
    return replace(one, value=2 * one.value, parts=(one.value,), each=False) if both else one


def at_each_time(near: Neighbours, one: Quantity) -> Quantity:
    """ "10 min after breakfast, lunch and tea", "15 minutes before and after work": once at each time that is listed."""
    if one.kind not in MEASURES or one.parts or one.total or one.kind == "seconds":
        return one
    at = one.last
    while near.text(at) in _BETWEEN_AMOUNT_AND_TIME and at < one.last + FAR:
        at += 1
    if near.text(at) not in _BEFORE_A_TIME_OF_DAY:
        return one
    times = 1
    if near.text(at + 1) == "and" and near.text(at + 2) in _BEFORE_A_TIME_OF_DAY and near.text(at + 2) != near.text(at):
        times, at = 2, at + 2
    at += 1
    at += near.text(at) in {"my", "the"}
    if near.text(at) not in _TIMES_OF_DAY:
        return one
    if times == 1:
        ended = False
        while not ended and near.text(at + 1) in {",", "and", "&"}:
            following = at + 2 + (near.text(at + 2) == "and")
            ended = "and" in near.texts[at + 1 : following] or near.text(at + 1) == "&"
            following += near.text(following) in _BEFORE_A_TIME_OF_DAY
            if near.text(following) not in _TIMES_OF_DAY:
                return one
            times, at = times + 1, following
        if not ended:
            return one
    if near.text(at + 1) not in _AFTER_TIMES_OF_DAY:
        return one
    return replace(one, value=one.value * times, parts=(one.value,))


def in_sets(near: Neighbours, one: Quantity, other: Quantity, gap: list[str], said: str) -> Quantity | None:
    if one.kind not in _SETS_AND_REPS:
        return None
    sets: float
    reps: float
    if one.kind == "setcount" and other.kind == "seconds" and said in _BETWEEN_SETS_AND_SECONDS:
        return Quantity("hold", one.first, other.last, other.value, one.sets)
    if (
        one.kind in {"number", "reps"}
        and other.kind == "seconds"
        and said in _BETWEEN_REPS_AND_SECONDS
        and one.value <= 30
    ):
        return Quantity("hold", one.first, other.last, other.value, int(one.value))
    if (
        one.kind == "number"
        and other.kind == "seconds"
        and said in {"at", "of about", "lots of"}
        and one.value <= _MOST_TIMES
        and near.text(one.first - 1) in _WORDS_OF_HOLDS
    ):
        return Quantity(
            "hold", one.first, other.last, other.value, int(one.value)
        )  # "toe stretches five at 30 seconds"
    if one.kind in {"number", "reps"} and other.kind == "number" and said in _OF_EACH_SIDE:
        sets, reps = other.value, one.value  # "10 per foot x3"
    elif one.kind == "number" and other.kind in {"number", "reps"} and said in _BETWEEN_SETS_AND_REPS:
        sets, reps = one.value, other.value
        if said in {"x", "by"} and one.last - one.first == 1 and "." in near.tokens[one.first].raw:
            return None
    elif one.kind == "setcount" and other.kind in {"number", "reps"} and links_sets(near, one, other, gap):
        sets, reps = one.sets, other.value
    elif (
        one.kind == "times"
        and other.kind in {"number", "reps"}
        and (said in {"", "of", "x", "by"} or (other.each and len(gap) <= FAR and "." not in gap))
        and other.value >= 2
        and (near.text(one.last - 1) == "times" or not _opens_a_list_of_times(near, other))
    ):
        sets, reps = one.value, other.value  # "raises twice, 10 each time"
    elif _so_many_of_them(near, one, other, said):
        return Quantity("sets", one.first, other.last + 2, one.value, int(other.value))
    elif one.kind in {"number", "reps"} and other.kind == "setcount" and said in _BETWEEN_REPS_AND_SETS:
        if (
            one.kind == "number"
            and said in {"", ",", "for"}
            and not one.each
            and not (one.value >= 5 and one.last - one.first == 1 and said == "for")
        ):
            return None
        sets, reps = other.sets, one.value
        if said.endswith(("in", "into", "over")):
            return parted(one, other)
    elif (
        one.kind in {"number", "reps"}
        and other.kind in {"setcount", "times"}
        and len(gap) <= 4
        and gap
        and gap[-1] in {"in", "into", "over"}
    ):
        if one.kind == "number" and _counts_other_things(gap[0]):
            return Quantity("none", one.first, other.last, one.value)
        return parted(one, other)
    elif (one.kind == "reps" and other.kind == "times" and said in {"", ",", "x"}) or (
        one.kind == "reps" and other.kind == "number" and said in {"x", "by"}
    ):
        sets, reps = other.value, one.value
    elif one.kind == "sets" and other.kind in {"setcount", "reps"} and not gap:
        return replace(one, last=other.last)
    else:
        return None
    if not (1 <= sets <= 100 and 1 <= reps <= 500 and float(sets).is_integer() and float(reps).is_integer()):
        return None
    # "12 x 3": nobody does twelve sets of three.
    if one.kind in {"number", "times"} and sets >= 6 and reps <= 5:
        sets, reps = reps, sets
    return Quantity("sets", one.first, other.last, reps, int(sets))


def _opens_a_list_of_times(near: Neighbours, other: Quantity) -> bool:
    """ "three walks of 10, 15 and 20 minutes"."""
    at = other.last
    ending = min(len(near.tokens), at + 3 * FAR)
    while at < ending and (near.text(at) in _GOES_ONE_BY_ONE or near.tokens[at].kind is Kind.NUMBER):
        at += 1
    return at > other.last and near.words.units.get(near.text(at), ("", 0.0))[0] in {"minutes", "km"}


def _so_many_of_them(near: Neighbours, one: Quantity, other: Quantity, said: str) -> bool:
    """ "in batches of 10, three of them"."""
    sets = near.words.units.get(near.text(one.first - 2), ("", 0.0))[0] == "sets"
    return (
        one.kind == other.kind == "number"
        and said in {",", "", "and", "-"}
        and sets
        and near.text(one.first - 1) == "of"
        and near.text(other.last) == "of"
        and near.text(other.last + 1) in _WORDS_OF_THEM
        and other.value <= _MOST_TIMES
    )


def _counted_one_by_one(near: Neighbours, one: Quantity, other: Quantity) -> bool:
    """ "two goes 10 then 8", "three goes 12 10 and 8": as many numbers as goes were said; each is one of them."""
    value, at, goes = other.value, other.last, 1
    while goes < one.sets:
        apart = near.text(at) in _GOES_ONE_BY_ONE
        number = at + apart + (apart and near.text(at + 1) in _GOES_ONE_BY_ONE)
        if number >= len(near.tokens) or near.tokens[number].kind is not Kind.NUMBER:
            return False
        following = near.tokens[number].value
        another_behind = any(each.kind is Kind.NUMBER for each in near.tokens[number + 1 : number + 1 + FAR])
        perhaps_a_score = (
            near.text(at) == "," and number == at + 1 and following <= _SURELY_NO_SCORE and not another_behind
        )
        if following < _FEWEST_IN_A_GO or following * 2.5 < value or (perhaps_a_score and one.sets == goes + 1 == 2):
            return False
        value, at, goes = following, number + 1, goes + 1
    return goes > 1


def links_sets(near: Neighbours, one: Quantity, other: Quantity, gap: list[str]) -> bool:
    if not gap:
        return other.kind != "number" or not _counted_one_by_one(near, one, other)
    if "each" in gap and len(gap) <= FAR and other.value >= _FEWEST_IN_A_GO and _EACH_SET.issuperset(gap[-1:]):
        return _EACH_SET_AND_LINKS.issuperset(gap)  # "3 sets, each set 10"
    allowed = _ANYWHERE_BETWEEN_SETS_AND_REPS
    if gap[-1] in {"of", "x", "by"} or other.kind == "reps":
        return len(gap) <= FAR and all(each in allowed for each in gap)
    return gap in ([","], [":"], ["at"], ["-"]) and (other.kind == "reps" or other.each)


def _counts_other_things(word: str) -> bool:
    """ "blew out 91 candles in one go", "snapped 2 strings in one set": things that nobody raises or repeats."""
    return len(word) > _LONGEST_SHORT_WORD and word.endswith("s") and word not in _DONE_IN_GOES


def parted(one: Quantity, other: Quantity) -> Quantity | None:
    """ "30 in three goes" is three sets of ten; what does not go in is one set of all."""
    parts = other.sets if other.kind == "setcount" else int(other.value)
    if parts < 1 or not float(one.value).is_integer():
        return None
    if one.value % parts:
        return Quantity("sets", one.first, other.last, one.value, 1)
    return Quantity("sets", one.first, other.last, one.value // parts, parts)
