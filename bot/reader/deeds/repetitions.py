"""Goes of an exercise that stand one after the other."""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise

from bot.reader.deeds.mentions import Deeds, Mention, replace_kind
from bot.reader.quantities import Quantity
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_BETWEEN_EXERCISE_AND_GOES = listed["deeds", "between_exercise_and_goes"]
_GOES_ONE_BY_ONE = listed["deeds", "goes_one_by_one"]
_PARTS_OF_THE_DAY = listed["deeds", "parts_of_the_day"]
_TIMES_BETWEEN_GOES_OR_BETWEEN_FURTHER_GOES = listed["deeds", "times_between_goes", "between_further_goes"]
_TIMES_BETWEEN_GOES_OR_TIME_BEFORE_A_GO = listed["deeds", "times_between_goes", "time_before_a_go"]
_TIMES_OF_DAY = _PARTS_OF_THE_DAY | listed["deeds", "times_named_by_a_deed"]
_TIMES_OF_A_GO = _TIMES_BETWEEN_GOES_OR_TIME_BEFORE_A_GO | _TIMES_OF_DAY
_HOW_A_GO_WENT = listed["deeds", "how_a_go_went"]
_NAMES_THE_LAST_GO = listed["deeds", "names_the_last_go"]
_WITH_THE_LAST_GO = listed["deeds", "names_the_last_go", "with_the_last_go"]
_RESTS_BETWEEN_GOES = listed["deeds", "rests_between_goes"]
_WORDS_AROUND_A_TIME = listed["deeds", "words_around_a_time"]
_BEFORE_A_TIME_OF_DAY = listed["quantities", "before_a_time_of_day"]
_OF_PAIN = listed["deeds", "words_of_the_heel"]
_ENDS_A_TIME = frozenset({",", ".", ";"})
_AGAIN = listed["deeds", "once_more"]
_LONGEST_REST = 12
_MOST_GOES = 6
_THREE = 3
_RIGHT_BEHIND = ([","], ["and"], ["then"], [",", "then"], [",", "and"], ["and", "then"], ["plus"])
_FAR_FOR_A_TIME = 6
_FEWEST_IN_A_GO = 3
_FEWEST_BEHIND_A_PLACE = 5
_LONGEST_PLACE = 7
_SURELY_NO_SCORE = 10


def goes_follow(deeds: Deeds, index: int) -> bool:
    """Whether more numbers of the same size follow: "10, 10, 8"."""
    amounts = deeds.reply.amounts
    if index + 1 >= len(amounts) or amounts[index].value < 6:
        return False
    nxt = amounts[index + 1]
    if nxt.kind == "times" and nxt.first - amounts[index].last <= 1:
        return True
    gap = deeds.reply.said(amounts[index].last, nxt.first)
    another = gap[-1:] == ["another"] and len(gap) <= 4 and set(gap) <= _GOES_ONE_BY_ONE | {"another"}
    another = another or _rested_between(gap, amounts[index], nxt)
    return nxt.kind == "number" and nxt.value >= 6 and (len(gap) <= 2 or another)


def thrice_the_same(deeds: Deeds, index: int) -> bool:
    """ "raises at the sink, ten and ten and ten": three goes alike, one right behind the other."""
    goes = deeds.reply.amounts[index : index + _THREE]
    return (
        len(goes) == _THREE
        and goes[0].value >= _FEWEST_BEHIND_A_PLACE
        and all(each.kind in {"number", "reps"} and each.value == goes[0].value for each in goes)
        and all(deeds.reply.said(one.last, other.first) in _RIGHT_BEHIND for one, other in pairwise(goes))
    )


def same_again_follows(deeds: Deeds, index: int) -> bool:
    """ "raises, ten, then rested and did another ten"."""
    amounts = deeds.reply.amounts
    if index + 1 >= len(amounts) or amounts[index + 1].kind not in {"number", "reps"}:
        return False
    return _rested_between(
        deeds.reply.said(amounts[index].last, amounts[index + 1].first), amounts[index], amounts[index + 1]
    )


def _rested_between(gap: list[str], one: Quantity, other: Quantity) -> bool:
    """ "ten, then rested and did another ten": the same again, with nothing but a rest between."""
    again = one.value == other.value >= _FEWEST_BEHIND_A_PLACE and not _AGAIN.isdisjoint(gap[-1:])
    return again and len(gap) <= _LONGEST_REST and _RESTS_BETWEEN_GOES.issuperset(gap)


def further_goes(deeds: Deeds, target: Mention, index: int) -> None:
    """Further goes of the same exercise: "12 12 and 10", "15 in the morning and 15 at night", "then an extra 5"."""
    reply, amounts = deeds.reply, deeds.reply.amounts
    last = amounts[index]
    at = index + 1
    while at < len(amounts) and amounts[at].kind in {"number", "reps"} and at not in reply.used:
        each = amounts[at]
        gap = reply.said(last.last, each.first)
        own = set(reply.said(target.first, target.last)) if last.last <= target.first < each.first else set()
        final = bool(_NAMES_THE_LAST_GO & set(gap))
        between = set(gap) - own - _WITH_THE_LAST_GO if final else set(gap) - own
        if (
            (each.first - last.last > 7 and not _rested_between(gap, last, each))
            or not (
                between <= _TIMES_BETWEEN_GOES_OR_BETWEEN_FURTHER_GOES
                or _same_at_another_time(reply, last, each, own)
                or _as_many_again(reply, last, each)
                or _rested_between(gap, last, each)
                or (_one_more_go(gap) and _no_score_beside(amounts, at, last))
            )
            or deeds.mention_between(last.last, each.first, target)
            or _of_another_exercise(deeds, target, each)
            or each.value < 3
            or not float(each.value).is_integer()
        ):
            break
        if (
            gap == [","]
            and each.value <= _SURELY_NO_SCORE
            and (amounts[index].kind == "sets" or at + 1 == len(amounts))
            and not _steps_evenly(deeds, target, last, each)
        ):
            break  # "3x10, 8": the score
        if ":" in gap or "total" in gap or "makes" in gap:
            if each.value == sum(q.value for q in target.amounts[-6:] if q.kind == "reps"):
                reply.used.add(at)
            break
        extra = (
            final
            or (_one_more_go(gap) and _no_score_beside(amounts, at, last))
            or bool({"extra", "plus"} & set(gap))
            or ("another" in gap and each.value != last.value)
        )
        alike = each.value >= 6 and each.value * 2.5 >= last.value and each.value <= last.value * 2.5
        if not extra and (
            not alike
            or reply.text(each.last) in {"min", "out"}
            or (
                gap == [","]
                and each.value <= 10
                and reply.text(each.last) in {"", "."}
                and amounts[index].value > 10
                and each.value < 8
            )
        ):
            break
        reply.used.add(at)
        target.amounts.append(replace_kind(each, "extra" if extra else "reps"))
        last = each
        at += 1


def _steps_evenly(deeds: Deeds, target: Mention, last: Quantity, each: Quantity) -> bool:
    """ "10, 8, 6, pathetic": each go as much fewer as the one before, and words behind the last."""
    if len(target.amounts) < 2 or deeds.reply.text(each.last) != "," or not deeds.reply.text(each.last + 1):
        return False
    down = target.amounts[-2].value - last.value
    return down > 0 and last.value - each.value == down


def _of_another_exercise(deeds: Deeds, target: Mention, each: Quantity) -> bool:
    """ "20 ankle pumps this morning, 20 raises tonight"."""
    at = bisect_left(deeds.firsts, each.last)
    following = deeds.mentions[at] if at < len(deeds.mentions) and deeds.firsts[at] == each.last else None
    return following is not None and following.group == "exercise" and following.kind != target.kind


def _same_at_another_time(reply: Reply, last: Quantity, each: Quantity, own: set[str]) -> bool:
    """ "10 on waking, 10 at lunch": as many again, each with its time of day."""
    behind = reply.said(each.last, each.last + _FAR_FOR_A_TIME)
    when = behind[: next((at for at, word in enumerate(behind) if word in _ENDS_A_TIME), None)]
    between = set(reply.said(last.last, each.first)) - own
    return (
        each.value == last.value
        and not _TIMES_OF_DAY.isdisjoint(when)
        and not _TIMES_OF_DAY.isdisjoint(between)
        and _OF_PAIN.isdisjoint(between)
        and (between <= _TIMES_OF_A_GO | _WORDS_AROUND_A_TIME or reply.text(each.last) in _BEFORE_A_TIME_OF_DAY)
    )


def _as_many_again(reply: Reply, last: Quantity, each: Quantity) -> bool:
    """ "12 waiting for the kettle, 12 waiting for the toast": as many again, and too many for a score."""
    behind = reply.row[each.last] if each.last < len(reply.row) else None
    return (
        each.value == last.value > _SURELY_NO_SCORE
        and reply.text(each.first - 1) in {",", "and", "then", "plus"}
        and behind is not None
        and behind.kind is Kind.WORD
        and behind.text not in reply.words.units
    )


def _one_more_go(gap: list[str]) -> bool:
    """ "12 and a 7", "8, then 6, then a feeble 5"."""
    words = gap[1:] if gap[:1] == [","] and len(gap) > 1 else gap
    if words[:1] not in (["and"], ["then"]):
        return False
    after = words[1:]
    return after == ["a"] or (
        words[0] == "then" and (not after or (after[0] == "a" and after[1:] != [] and set(after[1:]) <= _HOW_A_GO_WENT))
    )


def _no_score_beside(amounts: list[Quantity], at: int, last: Quantity) -> bool:
    """ "2x12 and a 7. Pain 4": another number is the score."""
    return 5 <= amounts[at].value <= last.value and any(
        each.kind == "score" or (each.kind == "number" and each.value <= _SURELY_NO_SCORE)
        for each in amounts[at + 1 : at + 3]
    )


def earlier_goes(deeds: Deeds, target: Mention, index: int) -> None:
    """ "12, then 14, then 10 raises": the goes before the last."""
    reply, amounts = deeds.reply, deeds.reply.amounts
    at, nxt = index - 1, amounts[index]
    while (
        at >= 0
        and amounts[at].kind == "number"
        and at not in reply.used
        and amounts[at].value >= 6
        and nxt.first - amounts[at].last <= 3
    ):
        gap = set(reply.said(amounts[at].last, nxt.first))
        if (
            (not gap and amounts[at].value != nxt.value)
            or not gap <= _GOES_ONE_BY_ONE
            or amounts[at].value > 2.5 * nxt.value
            or nxt.value > 2.5 * amounts[at].value
        ):
            return
        reply.used.add(at)
        target.amounts.insert(0, replace_kind(amounts[at], "reps"))
        nxt = amounts[at]
        at -= 1


def goes_before_times(deeds: Deeds, target: Mention, index: int) -> bool:
    """ "raises 10 after breakfast, 10 at dinner, 10 before bed": each number before its time of day, two or more alike."""
    reply, amounts = deeds.reply, deeds.reply.amounts
    gap = reply.said(target.last, amounts[index].first)
    surely = amounts[index].value >= _FEWEST_BEHIND_A_PLACE
    parted = surely and gap[-1:] == [","] and len(gap) <= _LONGEST_PLACE and _OF_PAIN.isdisjoint(gap)
    if not (parted or set(gap) <= _BETWEEN_EXERCISE_AND_GOES):
        return False
    found: list[int] = []
    for at in range(index, min(index + _MOST_GOES, len(amounts))):
        each = amounts[at]
        ending = reply.sentence_spans[reply.sentence[each.first]][1]
        until = amounts[at + 1].first if at + 1 < len(amounts) else ending
        behind = reply.said(each.last, min(until, ending, each.last + _FAR_FOR_A_TIME))
        when = behind[: next((at for at, word in enumerate(behind) if word in _ENDS_A_TIME), None)]
        if each.kind not in {"number", "reps"} or not set(when) & _TIMES_OF_DAY or not set(when) <= _TIMES_OF_A_GO:
            break
        found.append(at)
    if len(found) < 2 or len({amounts[at].value for at in found}) > 1 or amounts[index].value < _FEWEST_IN_A_GO:
        return False
    for at in found:
        reply.used.add(at)
        target.amounts.append(replace_kind(amounts[at], "reps"))
    return True


def goes_counted(deeds: Deeds, target: Mention, index: int) -> bool:
    """ "raises in two goes, 15 and 10": as many numbers follow as goes were said; each is one of them."""
    reply, amounts = deeds.reply, deeds.reply.amounts
    goes = amounts[index + 1 : index + 1 + amounts[index].sets]
    last = amounts[index].last
    own = set(reply.said(target.first, target.last))
    if len(goes) < 2 or len(goes) != amounts[index].sets:
        return False
    for each in goes:
        gap = set(reply.said(last, each.first))
        if (
            each.kind not in {"number", "reps"}
            or each.value < 3
            or not gap - own <= {",", "and", "then", "of", ":", "-", "(", "the", "my"}
        ):
            return False
        last = each.last
    at = index + len(goes)
    perhaps_a_score = goes[-1].value <= _SURELY_NO_SCORE and at + 1 >= len(amounts)
    if perhaps_a_score and reply.said(goes[-2].last, goes[-1].first) == [","]:
        return False  # "two sets, 12, 4"
    for place, each in enumerate(goes, index + 1):
        reply.used.add(place)
        target.amounts.append(replace_kind(each, "reps"))
    return True


def goes_at_times(deeds: Deeds, target: Mention, index: int) -> bool:
    """ "raises first thing 10, lunchtime 10, before tea 10": a number behind each time of day, two or more alike."""
    reply, amounts = deeds.reply, deeds.reply.amounts
    times = _TIMES_BETWEEN_GOES_OR_TIME_BEFORE_A_GO
    found: list[int] = []
    last = target.last
    for at in range(index, min(index + 6, len(amounts))):
        each = amounts[at]
        gap = reply.said(last, each.first)
        named = set(gap) & _PARTS_OF_THE_DAY or "thing" in gap
        if each.kind not in {"number", "reps"} or each.value < 5 or not named or not set(gap) <= times:
            break
        found.append(at)
        last = each.last
    if len(found) < 2 or max(amounts[at].value for at in found) > 2.5 * min(amounts[at].value for at in found):
        return False
    for at in found:
        reply.used.add(at)
        target.amounts.append(replace_kind(amounts[at], "reps"))
    return True
