"""What was only wanted, beside what was done: "target was 3x12 but managed 2x12", "supposed to walk 30, did 20"."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace

from bot.reader.deeds.mentions import Deeds, Mention
from bot.reader.members import HEEL_RAISE, STAIRS
from bot.reader.quantities import MEASURES, Quantity
from bot.reader.vocabulary import listed

_ADDS_TO_IT = listed["deeds", "adds_to_what_was_done"]
_BEFORE_THE_WANTED = listed["deeds", "before_the_wanted"]
_BEFORE_A_SCORE = listed["deeds", "before_a_score_beside_the_wanted"]
_DONE_BEHIND = listed["deeds", "done_behind_an_amount"]
_SAYS_DONE = listed["deeds", "says_done"]

_REACH = 8
_NEXT_TO = 2
_FAR = 14
_STOPS = frozenset({".", ";", "?"})
_COUNTED = MEASURES | {"sets", "hold", "reps", "setcount", "number"}
_OF_RAISES = frozenset({"sets", "reps", "setcount"})
_SURELY_NO_SCORE = 10
_FAR_MORE = 4


def set_wanted_aside(deeds: Deeds) -> None:
    """Leave out amounts that were only wanted, where the reply says beside them how much was done."""
    reply = deeds.reply
    if len(reply.amounts) < 2:
        return
    for phrase in reply.found("scope wants"):
        wanted = _wanted(deeds, phrase.last)
        if wanted:
            _beside_done(deeds, phrase.first, wanted, reply.amounts[wanted[-1]].last)
    for phrase in reply.found("scope wanted"):
        index = bisect_left(reply.amounts, phrase.first, key=lambda each: each.first) - 1
        if (
            index >= 0
            and phrase.first - reply.amounts[index].last <= _NEXT_TO
            and reply.amounts[index].kind in _COUNTED
        ):
            _beside_done(deeds, reply.amounts[index].first, [index], phrase.last)


def _wanted(deeds: Deeds, start: int) -> list[int]:
    """The places of the amounts behind a word of wanting, up to where the reply turns to what was done."""
    reply, found, at = deeds.reply, list[int](), start
    if reply.text(start) == ",":
        return found  # "short of my target, 10 min only"
    for index in range(bisect_left(reply.amounts, start, key=lambda each: each.first), len(reply.amounts)):
        amount = reply.amounts[index]
        if amount.first - at > _REACH:
            break
        between = reply.said(at, amount.first)
        if not _SAYS_DONE.isdisjoint(between) or _STOPS & set(between):
            break
        if amount.kind not in _COUNTED or (found and "," in between and "and" not in between):
            break
        found.append(index)
        at = amount.last
    return found


def _beside_done(deeds: Deeds, start: int, wanted: list[int], end: int) -> None:
    """Leave out each wanted amount for which one that was done stands behind `end`, or before `start`."""
    reply = deeds.reply
    last = end
    done: list[int] = []
    for index in range(wanted[-1] + 1, min(wanted[-1] + 4, len(reply.amounts))):
        amount = reply.amounts[index]
        between = reply.said(last, amount.first)
        while _STOPS & set(between):
            between = between[1:]
        if amount.first - last > _FAR or reply.sentence[amount.first] - reply.sentence[end - 1] > 1:
            break
        told = not _SAYS_DONE.isdisjoint(between) or reply.text(amount.last) in _DONE_BEHIND
        if not done and (not told or not _ADDS_TO_IT.isdisjoint(between)):
            break
        done.append(index)
        last = amount.last
    for index in wanted:
        for place in done:
            if place not in reply.used and _same_measure(deeds, start, index, place):
                _only_done(deeds, start, index, place)
                break
        else:
            _done_before(deeds, start, index)


def _same_measure(deeds: Deeds, start: int, index: int, place: int) -> bool:
    """Whether the second amount is of the same as the first, and not of a deed of its own."""
    reply = deeds.reply
    one, other = reply.amounts[index], reply.amounts[place]
    named = _named(deeds, start, other.first)
    own = _named(deeds, other.first, other.last + 4)
    if own is not None and {",", ".", "but"} & set(reply.said(other.last, own.first)):
        own = None
    if own is not None and named is not None and own.kind != named.kind:
        return False
    if other.kind == "number" and other.first < other.last and reply.text(other.first - 1) in _BEFORE_A_SCORE:
        return False
    if one.kind == "number" == other.kind:
        return named is not None and (one.value > _SURELY_NO_SCORE or other.value > _SURELY_NO_SCORE)
    if "number" in {one.kind, other.kind}:
        if other.kind == "number":
            return one.kind in MEASURES | {"reps"} and other.value <= 2 * one.value and 5 * other.value >= one.value
        return other.kind in MEASURES | {"reps"} and one.value >= other.value
    if {one.kind, other.kind} <= _OF_RAISES:
        return other.kind != "reps" or one.kind == "reps" or other.value > one.value
    return one.kind == other.kind


def _named(deeds: Deeds, first: int, last: int) -> Mention | None:
    return next(iter(_all_named(deeds, first, last)), None)


def _all_named(deeds: Deeds, first: int, last: int) -> list[Mention]:
    at = slice(bisect_left(deeds.firsts, first), bisect_left(deeds.firsts, last))
    return [each for each in deeds.mentions[at] if each.group != "not_loading"]


def _only_done(deeds: Deeds, start: int, index: int, place: int) -> None:
    """The wanted amount goes; the deed that it names was done, as much as the other amount says."""
    reply = deeds.reply
    one, other = reply.amounts[index], reply.amounts[place]
    reply.used.add(index)
    for each in _all_named(deeds, start, other.first):
        each.denied = each.ignored = False
    if other.kind == "setcount" and one.kind == "sets":
        reply.amounts[place] = replace(other, kind="sets", value=one.value)
    elif other.kind == "number":
        reply.amounts[place] = _with_kind_of(deeds, one, other, _named(deeds, start, other.first))


def _with_kind_of(deeds: Deeds, one: Quantity, other: Quantity, named: Mention | None) -> Quantity:
    units = deeds.reply.words.units
    factor = next((units[each][1] for each in reversed(deeds.reply.said(one.first, one.last)) if each in units), 1.0)
    if other.value * factor > _FAR_MORE * one.value:
        factor = 1.0  # "planned half an hour, turned back after 10"
    if one.kind != "number":
        return replace(other, kind=one.kind, value=other.value * (factor if one.kind in MEASURES else 1.0))
    if named is None:
        return other
    if named.group == "exercise":
        return replace(other, kind="reps") if named.kind == HEEL_RAISE else other
    return replace(other, kind="count" if named.kind == STAIRS else "minutes")


def _done_before(deeds: Deeds, start: int, index: int) -> None:
    """ "walk 20 mins (target 30)", "did 2x10, told 3x12"."""
    reply = deeds.reply
    one = reply.amounts[index]
    before = next(
        (
            place
            for place in range(index - 1, max(-1, index - 4), -1)
            if place not in reply.used and reply.amounts[place].last <= start
        ),
        None,
    )
    if before is None:
        return
    other = reply.amounts[before]
    between = reply.said(other.last, start)
    same = one.kind == other.kind != "number" or {one.kind, other.kind} <= _OF_RAISES
    bare = one.kind == "number" and one.value > _SURELY_NO_SCORE and other.kind in MEASURES | {"reps"}
    if (
        (same or bare)
        and len(between) <= _REACH
        and not _STOPS & set(between)
        and set(between[-1:]) <= _BEFORE_THE_WANTED
        and not _named(deeds, one.last, one.last + 2)
        and (_named(deeds, start, one.first) is None)
    ):
        reply.used.add(index)
