"""How pain is at rest."""

from __future__ import annotations

from bisect import bisect_left

from bot.program.terms import RestPattern
from bot.reader.members import CONSTANT, INTERMITTENT, MORNING, NO_PAIN
from bot.reader.phrases import Found
from bot.reader.reply import Reply
from bot.reader.vocabulary import listed

_AFTER_FREE = listed["scores", "after_free"]
_AFTER_REST_OF = listed["scores", "after_rest_of"]
_BETWEEN_TIME_AND_PLACE = listed["scores", "between_time_and_place"]
_COMES_AND_GOES_OF_OTHERS = listed["scores", "comes_and_goes_of_others"]
_CONSTANT_OF_OTHER_THINGS = listed["scores", "constant_of_other_things"]
_FREEDOM_IN_ONE_WORD = listed["scores", "freedom_in_one_word"]
_GAP_STOPS = listed["scores", "gap_stops"]
_GAP_WORDS = listed["scores", "gap_words"]
_GOOD_NIGHTS = listed["scores", "good_nights"]
_HURTS_OF_OTHER_THINGS = listed["scores", "hurts_of_other_things"]
_OTHER_THAN_PAIN = listed["scores", "other_than_pain"]
_PLACES_THAT_MAY_STAND_FIRST = listed["scores", "places_that_may_stand_first"]
_QUALITIES_OF_THE_NIGHT = listed["scores", "qualities_of_the_night"]
_TWINGE_WORDS = listed["scores", "twinge_words"]
_WORDS_OF_DENIAL = listed["scores", "words_of_denial"]
_WORDS_OF_NOT_AT_ALL = listed["scores", "words_of_not_at_all"]
_WORDS_OF_PAIN = listed["scores", "words_of_pain"]
_WORDS_OF_SLEEP = listed["scores", "words_of_sleep"]

_LABELS = tuple((pattern, f"rest {pattern}") for pattern in (NO_PAIN, INTERMITTENT, CONSTANT))


def rest_pattern(reply: Reply) -> tuple[RestPattern | None, bool]:
    """The pattern at rest that is said, and whether it was said of rest itself; denial turns "constant" into "intermittent"."""
    found: list[tuple[int, RestPattern, int, int]] = []
    for pattern, label in _LABELS:
        for each in reply.phrases.get(label, ()):
            kind = with_scope(reply, each, pattern)
            if kind is not None:
                found.append((each.first, kind, each.first, each.last))
    free = free_at_rest(reply)
    if free is not None:
        found.append((free[0], NO_PAIN, *free))
    if not found:
        return None, False
    kinds = {each[1] for each in found}
    chosen: RestPattern
    if free is not None and CONSTANT not in kinds:
        chosen = NO_PAIN
        if INTERMITTENT in kinds and twinge(reply, found):
            chosen = INTERMITTENT
    elif CONSTANT in kinds and INTERMITTENT in kinds:
        chosen = max(found)[1]
    elif NO_PAIN in kinds and INTERMITTENT not in kinds:
        chosen = NO_PAIN
    elif CONSTANT in kinds:
        chosen = CONSTANT
    else:
        chosen = INTERMITTENT
    for _, kind, first, last in found:
        if kind is chosen:
            reply.note("rest_pattern", first, last)
    return chosen, free is not None


def twinge(reply: Reply, found: list[tuple[int, RestPattern, int, int]]) -> bool:
    """Whether the intermittent part speaks of rest too ("fine lying down mostly, an odd twinge")."""
    return any(kind is INTERMITTENT and _TWINGE_WORDS & set(reply.said(first, last)) for _, kind, first, last in found)


def with_scope(reply: Reply, each: Found, pattern: RestPattern) -> RestPattern | None:
    before = reply.said(max(0, each.first - 5), each.first)
    near = before[-2:]
    if pattern is CONSTANT:
        timed = reply.amounts_within(max(0, each.first - 3), each.first)
        if timed and timed[-1].kind == "minutes" and timed[-1].last == each.first:
            return None  # "2 hours continuous"
        if near[-1:] and near[-1] in _HURTS_OF_OTHER_THINGS:
            return None
        if near[-1:] in (["she"], ["he"], ["they"], ["who"], ["kids"], ["dog"]):
            return None
        if _WORDS_OF_NOT_AT_ALL & set(near) or near[-1:] == ["no"]:
            return INTERMITTENT
        if _OTHER_THAN_PAIN & set(before) and not _WORDS_OF_PAIN & set(before + reply.said(each.first, each.last)):
            return None
        if reply.text(each.last) in _CONSTANT_OF_OTHER_THINGS or {"if", "when"} & set(near):
            return None
        if reply.text(each.first) == "not" and reply.text(each.first - 1) in {"do", "does"} and "if" in before:
            return None
    if (
        pattern is INTERMITTENT
        and (_WORDS_OF_DENIAL & set(near))
        and not {"but", "only"} & set(near)
        and reply.text(each.first) != "not"
    ):
        return None
    if (
        pattern is INTERMITTENT
        and reply.amounts_within(max(0, each.first - 3), each.first)
        and reply.amounts_within(max(0, each.first - 3), each.first)[-1].kind == "minutes"
        and reply.amounts_within(max(0, each.first - 3), each.first)[-1].last == each.first
    ):
        return None  # "danced two hours on and off"
    if pattern is INTERMITTENT and _COMES_AND_GOES_OF_OTHERS & set(before):
        return None
    if (
        pattern is NO_PAIN
        and reply.asked is not MORNING
        and each.last - each.first <= 3
        and "rest" not in reply.said(each.first, each.last)
    ):
        return None
    return pattern


def timed(reply: Reply, place: Found) -> bool:
    """ "after 20 minutes on the sofa it was gone": how long it took, not how rest is."""
    before = reply.amounts_within(max(0, place.first - 7), place.first)
    return bool(
        before
        and before[-1].kind == "minutes"
        and set(reply.said(before[-1].last, place.first)) <= _BETWEEN_TIME_AND_PLACE
    )


def free_at_rest(reply: Reply) -> tuple[int, int] | None:
    """A place of rest and a word of no pain near each other in one sentence: "nothing when I sit", "lying down it is fine"."""
    if "place places" not in reply.phrases or "place free" not in reply.phrases:
        return None
    places, frees = reply.phrases["place places"], reply.phrases["place free"]
    firsts = [each.first for each in frees]
    inside = {at for q in reply.amounts if q.last - q.first > 1 for at in range(q.first, min(q.last, q.first + 20))}
    for place in places:
        if place.first in inside or timed(reply, place) or reply.text(place.first - 1) == "last":
            continue
        if (
            place.last - place.first == 1
            and reply.text(place.first) in {"night", "otherwise", "reading"}
            and reply.asked is not MORNING
        ):
            continue
        if (
            reply.text(place.first) in {"rest"}
            and reply.text(place.last) in _AFTER_REST_OF
            and reply.text(place.last) == "of"
        ):
            continue
        at = bisect_left(firsts, place.first - 9)
        while at < len(frees) and frees[at].first <= place.last + 8:
            free = frees[at]
            at += 1
            if free.first < place.last and place.first < free.last:
                # "no pain lying down": the longest of both overlap only where one phrase holds the other.
                continue
            if reply.sentence[free.first] != reply.sentence[place.first]:
                continue
            one, other = (free, place) if free.last <= place.first else (place, free)
            gap = reply.said(one.last, other.first)
            if joins(reply, gap, one is place, free, place):
                return one.first, other.last
    return None


def joins(reply: Reply, gap: list[str], place_first: bool, free: Found, place: Found) -> bool:
    known = len(gap) <= 10 and set(gap) <= _GAP_WORDS
    if not known and not (len(gap) <= 5 and not set(gap) & _GAP_STOPS and not any(each[0].isdigit() for each in gap)):
        return False
    if "," in gap and not place_first and "when" not in gap and "at" not in gap and len(gap) > 2:
        return False
    word = reply.text(free.first)
    before = reply.text(free.first - 1)
    if free.last - free.first == 1 and reply.text(free.first - 2) in {"not", "never", "cannot"} and before == "get":
        return False  # "couldn't get comfy all night"
    if before in {"never", "less"} or (before == "not" and free.last - free.first == 1):
        return False
    if word in _FREEDOM_IN_ONE_WORD and free.last - free.first == 1:
        following = reply.text(free.last)
        if word == "no" and following not in {"", ".", ",", ";", "pain"}:
            return False
        if word == "no" and following == "," and gap[-1:] == [","]:
            return False  # "spilled it in bed, no, that was me"
        if word in {"0", "zero", "nil"} and following in {"/", "out", "min"} and not place_first:
            return True
        if not place_first and word in _QUALITIES_OF_THE_NIGHT and "," in gap:
            return False
        if word == "good" and following in _GOOD_NIGHTS:
            return False
    if free.last - free.first == 1 and reply.text(free.last) not in _AFTER_FREE and free.last != place.first:
        return False
    place_words = reply.said(place.first, place.last)
    if set(place_words) & _WORDS_OF_SLEEP and not {"pain", "hurt", "ache"} & set(reply.said(free.first, free.last)):
        return False
    return not (
        place_first
        and gap[:1] == [","]
        and "when" not in place_words
        and not _PLACES_THAT_MAY_STAND_FIRST & set(place_words)
    )
