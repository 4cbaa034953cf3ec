"""Amounts without a number: "half an hour", "an hour", "twice", "each way"."""

from __future__ import annotations

from collections.abc import Callable

from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.row import Row
from bot.reader.quantities.units import with_smaller
from bot.reader.vocabulary import listed

_AFTER_EACH = listed["quantities", "after_each"]
_AFTER_ONCE_AS_A_CONJUNCTION = listed["quantities", "after_once_as_a_conjunction"]
_AFTER_SAME = listed["quantities", "after_same"]
_BETWEEN_ARTICLE_AND_HALF = listed["quantities", "between_article_and_half"]
_BETWEEN_ARTICLE_AND_UNIT = listed["quantities", "between_article_and_unit"]
_DEGREES_OF_SAME = listed["quantities", "degrees_of_same"]
_DISTRIBUTIVE_WORDS = listed["quantities", "distributive_words"]
_EACH_OF_WHAT = listed["quantities", "each_of_what"]
_EACH_IS = listed["quantities", "each_is"]
_OTHERS_OF_SEVERAL = listed["quantities", "others_of_several"]
_EASED_IN = listed["quantities", "eased_in"]
_GOES_ON_WITH = listed["quantities", "goes_on_with"]
_LATER_IN_THE_DAY = listed["quantities", "later_in_the_day"]
_MIDDAY = listed["quantities", "midday"]
_NOT_EASED = listed["quantities", "not_eased"]
_NOT_THE_UNIT_OF_HALF = listed["quantities", "not_the_unit_of_half"]
_ONE_OF_SEVERAL = listed["quantities", "one_of_several"]
_RAISES = listed["quantities", "words_of_raises"] - {"heel", "calf"}
_SAYS_WHEN = listed["quantities", "says_when"]
_UNITS_OF_ONE = listed["quantities", "units_of_one"]
_WORDS_OF_TIMES = listed["quantities", "words_of_times"]
_AGAIN_AFTER = frozenset({"again", "then", "once", "more", "another"})
_NO_TIME_BEFORE = frozenset({".", ",", ";", "i", "it", "pain", "heel"})
_EASES_WITHIN = 6
_FAR_FOR_AFTER = 6
_OF_TWO = frozenset({"each", "both"})
_NEAR_EACH = 12
_SOON = 8


def amount_in_words(row: Row, at: int) -> Quantity | None:
    return _READERS.get(row.texts[at], _of_one)(row, at)


def _times(row: Row, at: int) -> Quantity | None:
    """ "once", "twice"."""
    text, after = row.around[at], row.around[at + 1]
    if text == "double" or after in {"as", "the"}:
        return None
    if text == "once" and (after in _AFTER_ONCE_AS_A_CONJUNCTION or (after == "a" and row.around[at + 2] == "day")):
        return None
    return Quantity("times", at, at + 1, {"once": 1.0, "twice": 2.0}.get(text, 3.0))


def _distributive(row: Row, at: int) -> Quantity | None:
    """ "each way", "10 min each", "every time"."""
    text, way = row.around[at], row.around[at + 1]
    if text == "apiece":
        return Quantity("each", at, at + 1)
    if way in {"way", "ways", "direction"} and text != "every":
        return Quantity("ways", at, at + 2, 2.0)
    if text == "both" and way in {"times", "goes", "walks"}:
        before = row.text(at - 1)
        return (
            Quantity("each", at, at + 2) if before in row.words.units or row.text(at - 2) in row.words.units else None
        )
    if text == "each":
        named = at + 1 + (way in _EACH_OF_WHAT)
        last = each_is(row, named)
        if way in _AFTER_EACH or last > named or row.value(named) is not None:
            return Quantity("each", at, last)
    return _of_several(row, at) if text in {"per", "every"} else None


def each_is(row: Row, last: int) -> int:
    """Behind "each round", where "is" or "about" leads on to how much it is: "each round is five minutes"."""
    at = last
    while row.around[at] in _EACH_IS:
        at += 1
    return at if row.value(at) is not None or row.around[at] in {"a", "an", "half"} else last


def one_is(row: Row, at: int) -> Quantity | None:
    """ "one round is five minutes": each of them."""
    if row.around[at + 1] not in _EACH_OF_WHAT or row.around[at + 2] not in _EACH_IS:
        return None
    last = each_is(row, at + 2)
    if last == at + 2 or not _OTHERS_OF_SEVERAL.isdisjoint(row.texts[last : last + _SOON]):
        return None
    return Quantity("each", at, last)


def _of_several(row: Row, at: int) -> Quantity | None:
    """ "10 min a go"."""
    before = row.text(at - 1)
    if row.around[at + 1] in _ONE_OF_SEVERAL and before != "had":
        units = row.words.units
        # "10 min a go", "12 a time"; "36 raises, 12 at a time"
        named = row.around[at + 1] == "set" and before in _RAISES
        counted = row.value(at - 1 - (before == "at" or named)) is not None  # "12 raises a set"
        if counted or before in units or row.text(at - 2) in units:
            return Quantity("each", at, at + 2)
    return None


def _a(row: Row, at: int) -> Quantity | None:
    return _of_several(row, at) or _of_one(row, at)


def _same(row: Row, at: int) -> Quantity | None:
    start = at - 1
    while row.text(start) in _DEGREES_OF_SAME:
        start -= 1
    after = row.around[at + 1]
    if row.text(start) in _GOES_ON_WITH and after in _AFTER_SAME:
        return Quantity("again", at, at + 1 + (after == "again"))
    return None


def _before(row: Row, at: int) -> Quantity | None:
    """ "before school and after, 40 min each time": twice, where each of the two is spoken of."""
    link = next((each for each in range(at + 2, at + _FAR_FOR_AFTER) if row.around[each] in {"and", "&", "then"}), None)
    if link is None or _NO_TIME_BEFORE & set(row.texts[at + 1 : link]):
        return None
    after = link + 1
    while row.around[after] in _AGAIN_AFTER:
        after += 1
    each_time = row.texts[max(0, at - _NEAR_EACH) : at] + row.texts[after : after + _NEAR_EACH]
    measured = any(row.units.get(word, ("", 0.0))[0] in {"minutes", "km"} for word in each_time)
    if row.around[after] != "after" or not measured or _OF_TWO.isdisjoint(each_time):
        return None
    return Quantity("times", at, after + 1, 2.0)


def _total(row: Row, at: int) -> Quantity | None:
    return Quantity("total", at, at + 1)


def _all(row: Row, at: int) -> Quantity | None:
    if row.around[at + 1] in {"in", "told"} and row.around[at + 2] in {"", ".", ",", ";", "all"}:
        return Quantity("total", at, at + 1)
    return _of_one(row, at)


def _there(row: Row, at: int) -> Quantity | None:
    if row.around[at + 1] == "and" and row.around[at + 2] == "back":
        return Quantity("return", at, at + 3)
    return _of_one(row, at)


def _morning(row: Row, at: int) -> Quantity | None:
    if row.around[at + 1] in {",", "and"} and row.around[at + 2] in _MIDDAY:
        after = at + 3 + (row.around[at + 3] == ",")
        if row.around[after] in {"and", "n", "&"} and row.around[after + 1] in {"night", "evening"}:
            return Quantity("times", at, after + 2, 3.0)
    unparted = row.around[at + 1] in _MIDDAY and row.around[at + 2] in {"and", "n", "&"}
    if unparted and row.around[at + 3] in {"night", "evening"}:
        return Quantity("times", at, at + 4, 3.0)  # "morning noon and night"
    if row.around[at + 1] in {"and", "n"} and row.around[at + 2] in _LATER_IN_THE_DAY:
        return Quantity("times", at, at + 3, 2.0)
    return _of_one(row, at)


def _few(row: Row, at: int) -> Quantity | None:
    last = at + 1
    while row.text(last) in row.words.multiples:
        last += 1
    return Quantity("none", at, last + 1) if row.unit(last) is not None else None


def _hour(row: Row, at: int) -> Quantity | None:
    if row.around[at + 1] == "and" and (
        row.around[at + 2] in {"a", "half", "quarter"} or row.value(at + 2) is not None
    ):
        made = with_smaller(row, Quantity("minutes", at, at + 1, 60.0), 60.0)
        return made if made.last > at + 1 else None
    return None


def _half(row: Row, at: int) -> Quantity | None:
    return half_of(row, at, at + 1) or _half_of_the_raises(row, at)


def _half_of_the_raises(row: Row, at: int) -> Quantity | None:
    """ "half of my 36 raises"."""
    last = at + 1
    while row.text(last) in _BETWEEN_ARTICLE_AND_HALF or row.text(last) == "my":
        last += 1
    value = row.value(last)
    if value is None or last == at + 1 or value % 2 or row.text(last + 1) not in _RAISES:
        return None
    return Quantity("reps", at, last + 1, value / 2)


def _quarter(row: Row, at: int) -> Quantity | None:
    return quarter_of(row, at, at + 1)


def _of_one(row: Row, at: int) -> Quantity | None:
    """One of a unit behind "a", "an", "the", "another", "whole": "an hour", "the first minute", "a good mile"."""
    text, last = row.around[at], at + 1
    while last < at + 4 and row.around[last] in _BETWEEN_ARTICLE_AND_UNIT:
        if row.around[last] == "half":
            return half_of(row, at, last + 1)
        if row.around[last] == "quarter":
            return quarter_of(row, at, last + 1)
        last += 1
    unit = row.unit(last)
    if unit is None:
        return None
    kind, factor = unit
    name = row.text(last)
    if kind in {"minutes", "km"} and name in _UNITS_OF_ONE:
        first = row.text(at + 1) == "first" and row.text(at - 1) == "for"  # "3 for the first minute"
        if (
            text == "the"
            and name not in {"hour", "mile"}
            and row.text(at - 1) not in {"within", "inside"}
            and not first
        ):
            return None
        whole = with_smaller(row, Quantity(kind, at, last + 1, factor), factor)
        if whole.last > last + 1 or row.text(at - 2) in _EASED_IN:
            return whole
        if row.text(last + 1) == "later" and _eases_behind(row, last + 2):
            return Quantity(kind, at, last + 1, factor)
        if row.text(last + 1) in _SAYS_WHEN or (
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


def _eases_behind(row: Row, at: int) -> bool:
    """ "an hour later it had settled": a time to ease, not only a time when."""
    return not _EASED_IN.isdisjoint(row.texts[at : at + _EASES_WITHIN]) and _NOT_EASED.isdisjoint(
        row.texts[at : at + _EASES_WITHIN]
    )


_READERS: dict[str, Callable[[Row, int], Quantity | None]] = {
    **dict.fromkeys(_WORDS_OF_TIMES, _times),
    **dict.fromkeys(_DISTRIBUTIVE_WORDS, _distributive),
    "a": _a,
    "same": _same,
    "before": _before,
    "altogether": _total,
    "total": _total,
    "all": _all,
    "there": _there,
    "morning": _morning,
    "am": _morning,
    "few": _few,
    "several": _few,
    "hour": _hour,
    "hours": _hour,
    "half": _half,
    "quarter": _quarter,
}
"""What reads the amount that a word may begin; any other word may say that there is one of a unit."""

READ_ALWAYS = _READERS.keys() - {"a"}
"""An amount begins with another word ("the", "a") only before a unit or what leads to one."""


def half_of(row: Row, at: int, last: int) -> Quantity | None:
    """ "half an hour", "half hour", "half a mile"; `last` is behind "half"."""
    while row.text(last) in _BETWEEN_ARTICLE_AND_HALF:
        last += 1
    unit = row.unit(last)
    if unit is not None and unit[0] in {"minutes", "km", "seconds"} and row.text(last) not in _NOT_THE_UNIT_OF_HALF:
        return Quantity(unit[0], at, last + 1, 0.5 * unit[1])
    if row.text(last) == "day":
        return Quantity("none", at, last + 1)
    return None


def quarter_of(row: Row, at: int, last: int) -> Quantity | None:
    while row.text(last) in _BETWEEN_ARTICLE_AND_HALF:
        last += 1
    unit = row.unit(last)
    if unit is not None and unit[0] in {"minutes", "km"}:
        return Quantity(unit[0], at, last + 1, 0.25 * unit[1])
    return None
