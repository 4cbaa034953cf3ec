"""How pain is at rest."""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise

from bot.program.terms import RestPattern
from bot.reader.members import CONSTANT, INTERMITTENT, MORNING, NO_PAIN
from bot.reader.phrases import Found
from bot.reader.reply import Reply
from bot.reader.vocabulary import listed

_AFTER_EVERY_OTHER = listed["scores", "after_every_other"]
_AFTER_FREE = listed["scores", "after_free"]
_AFTER_REST_OF = listed["scores", "after_rest_of"]
_BETWEEN_HURT_AND_PLACE = listed["scores", "between_hurt_and_place"]
_BETWEEN_TIME_AND_PLACE = listed["scores", "between_time_and_place"]
_COMES_AND_GOES_OF_OTHERS = listed["scores", "comes_and_goes_of_others"]
_CONSTANT_OF_OTHER_THINGS = listed["scores", "constant_of_other_things"]
_FREEDOM_IN_ONE_WORD = listed["scores", "freedom_in_one_word"]
_GAP_STOPS = listed["scores", "gap_stops"]
_GAP_WORDS = listed["scores", "gap_words"]
_GOOD_NIGHTS = listed["scores", "good_nights"]
_LONG_GOINGS_ON = listed["scores", "long_goings_on"]
_HURTS_OF_OTHER_THINGS = listed["scores", "hurts_of_other_things"]
_NIGHTS = listed["scores", "nights"]
_NOT_A_PLACE_ALONE = listed["scores", "not_a_place_alone"]
_NOT_A_PLACE_BEFORE = listed["scores", "not_a_place_before"]
_NOT_THE_HEEL = listed["scores", "not_the_heel"]
_OPENS_A_PLACE = listed["scores", "opens_a_place"]
_OTHER_THAN_PAIN = listed["scores", "other_than_pain"]
_PARTS_OF_THE_HEEL = listed["scores", "parts_of_the_heel"]
_PLACES_THAT_MAY_STAND_FIRST = listed["scores", "places_that_may_stand_first"]
_QUALITIES_OF_THE_NIGHT = listed["scores", "qualities_of_the_night"]
_RELISHED = listed["scores", "relished"]
_RIGHT_BEHIND_A_DENIAL = listed["scores", "right_behind_a_denial"]
_SUBJECTS_OF_PAIN = listed["scores", "subjects_of_pain"]
_THINKS_AND_DOES = listed["scores", "thinks_and_does"]
_TWINGE_WORDS = listed["scores", "twinge_words"]
_VERBS_BEFORE_ALL_DAY = listed["scores", "verbs_before_all_day"]
_WHAT_DOES_NOT_STOP = listed["scores", "what_does_not_stop"]
_WORDS_OF_DENIAL = listed["scores", "words_of_denial"]
_WORDS_OF_NOT_AT_ALL = listed["scores", "words_of_not_at_all"]
_WORDS_OF_PAIN = listed["scores", "words_of_pain"]
_WORDS_OF_SLEEP = listed["scores", "words_of_sleep"]

_HOWEVER = listed["scores", "however"]
"""Words that a denial before them only strengthens: "not whichever way I turn it"."""
_OPENS_UNCEASING = listed["scores", "opens_unceasing"]
_AFTER_ON_AND_OFF_A_TIME = listed["scores", "after_on_and_off_a_time"]
_AFTER_NEVER_OFF = listed["scores", "after_never_off"]
_AFTER_NO_POSITION = listed["scores", "after_no_position"]
_AUXILIARIES_OF_PAIN = frozenset({"is", "has", "was", "does"})
_ON_AND_OFF = listed["scores", "on_and_off"]
_THINKS_ONLY = listed["scores", "thinks_only"]
_BETWEEN_POSTURES = listed["scores", "between_postures"]
_COMES_ON = listed["scores", "comes_on"]
_FREE_AFTER_POSTURES = listed["scores", "free_after_postures"]
_PEACE_FROM_OTHERS = listed["scores", "peace_from_others"]
_SOFTENS_PAIN = listed["scores", "softens_pain"]
_WANTS_PAIN_BESIDE = listed["scores", "wants_pain_beside"]
_POSTURES = {word: group for group in ("sits", "lies", "loads") for word in listed["scores", group]}
"""How the body is held, each word with the kind of posture that it is of."""
_FAR_BEFORE_A_PLACE = 14
_FAR_BETWEEN_POSTURES = 8
_LABELS = tuple((pattern, f"rest {pattern}") for pattern in (NO_PAIN, INTERMITTENT, CONSTANT))


def rest_pattern(reply: Reply) -> tuple[RestPattern | None, bool]:
    """The pattern at rest that is said, and whether it was said of rest itself; denial turns "constant" into "intermittent"."""
    found: list[tuple[int, RestPattern, int, int]] = []
    for pattern, label in _LABELS:
        for each in reply.phrases.get(label, ()):
            kind = with_scope(reply, each, pattern)
            if kind is not None:
                found.append((each.first, kind, each.first, each.last))
    everywhere = None if found else sore_in_every_posture(reply)
    if everywhere is not None:
        found.append((everywhere[0], CONSTANT, *everywhere))
    free = free_at_rest(reply, [(each[2], each[3]) for each in found])
    if free is not None:
        found.append((free[0], NO_PAIN, *free))
        sore = sore_in_another_place(reply, free)
        if sore is not None:
            found.append((sore[0], INTERMITTENT, *sore))
            free = None
            found = [each for each in found if each[1] is not NO_PAIN]
    if not found:
        return None, False
    if len(found) > 1:
        found = without_taken_back(reply, found)
        free = free if any(each[1] is NO_PAIN for each in found) else None
    kinds = {each[1] for each in found}
    chosen: RestPattern
    if free is not None and CONSTANT not in kinds:
        chosen = NO_PAIN
        if INTERMITTENT in kinds and twinge(reply, found):
            chosen = INTERMITTENT
    elif CONSTANT in kinds and INTERMITTENT in kinds:
        chosen = max(found)[1]
        if chosen is CONSTANT and any(each[1] is INTERMITTENT and each[3] == max(found)[2] for each in found):
            chosen = INTERMITTENT  # "on and off the whole time"
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


def without_taken_back(
    reply: Reply, found: list[tuple[int, RestPattern, int, int]]
) -> list[tuple[int, RestPattern, int, int]]:
    """ "no pain resting. Tell a lie, it nips now and again": what is said before a correction goes."""
    last = max(each[2] for each in found)
    back = reply.within("cue strong_correction", min(each[3] for each in found), last)
    return [each for each in found if each[2] >= back[-1].last] if back else found


def sore_in_another_place(reply: Reply, free: tuple[int, int]) -> tuple[int, int] | None:
    """ "aches on my back, on my side it is fine": pain in one way of resting and not in another."""
    if "place hurts" not in reply.phrases:
        return None
    first, last = max(0, free[0] - 16), min(len(reply.row), free[1] + 16)
    for place in reply.within("place places", first, last):
        if place.first < free[1] and free[0] < place.last:
            continue
        words = set(reply.said(place.first, place.last))
        if words & _NOT_A_PLACE_ALONE or reply.text(place.first - 1) in _NOT_A_PLACE_BEFORE:
            continue
        for hurt in reply.within("place hurts", max(first, place.first - 6), min(last, place.last + 6)):
            if hurt.first < free[1] and free[0] < hurt.last:
                continue
            one, other = (hurt, place) if hurt.last <= place.first else (place, hurt)
            gap = reply.said(one.last, other.first)
            before = reply.said(max(0, hurt.first - 3), hurt.first)
            before += reply.said(hurt.last, hurt.last + 2)
            if _WORDS_OF_DENIAL & set(before) or "0" in before or not _BETWEEN_HURT_AND_PLACE.issuperset(gap):
                continue
            return one.first, other.last
    return None


def sore_in_every_posture(reply: Reply) -> tuple[int, int] | None:
    """ "hurts sitting, hurts lying", "same pain lying as standing": pain in two kinds of posture, one of them rest, and none without it."""
    if "place hurts" not in reply.phrases or "place places" not in reply.phrases:
        return None
    held = [(at, _POSTURES[token.text]) for at, token in enumerate(reply.row) if token.text in _POSTURES]
    for (one, first), (other, second) in pairwise(held):
        gap = reply.said(one + 1, other)
        if first == second or len(gap) > _FAR_BETWEEN_POSTURES or not _BETWEEN_POSTURES.issuperset(gap):
            continue
        before, after = reply.said(max(0, one - 5), one), reply.said(other + 1, other + 4)
        if (
            _SOFTENS_PAIN & {*before, *gap, *after}
            or _FREE_AFTER_POSTURES & set(after[:2])
            or any(each.isdigit() for each in after[:2])
        ):
            continue
        told = [at for at, word in enumerate(before) if word in _WORDS_OF_PAIN]
        led = bool(told) and _BETWEEN_POSTURES.issuperset(before[told[-1] :]) and "." not in before[told[-1] :]
        between = bool(_WORDS_OF_PAIN & set(gap))
        behind = "loads" not in {first, second} and bool(_WORDS_OF_PAIN & set(after))
        if (led and ({first, second} == {"sits", "lies"} or between)) or (between and behind) or behind:
            return max(0, one - len(before) + told[-1]) if led else one, other + 1
    return None


def tells_of_pain(reply: Reply, each: Found) -> bool:
    """Whether what never stops is the pain: by the words before, "it is never", or its own, "never a moment when it does not ache"."""
    before = reply.text(each.first - 1)
    if before in _AUXILIARIES_OF_PAIN and reply.text(each.first) == "never":
        before = reply.text(each.first - 2)
    return (
        before in _SUBJECTS_OF_PAIN
        or before.isdigit()
        or (each.last - each.first > 3 and not _WORDS_OF_PAIN.isdisjoint(reply.said(each.first, each.last)))
    )


def of_the_first_steps(reply: Reply, each: Found) -> bool:
    """ "comes on first thing then clears in ten minutes": a long phrase that has the first steps or an amount within."""
    return (
        each.last - each.first > 4
        and reply.text(each.first) in _COMES_ON
        and bool(reply.within("score first", each.first, each.last) or reply.amounts_within(each.first + 1, each.last))
    )


def on_and_off_a_thing(reply: Reply, each: Found) -> bool:
    """ "carried crates on and off the van", "humped sacks on and off"."""
    if reply.text(each.first) not in _ON_AND_OFF or reply.text(each.last - 1) not in _ON_AND_OFF:
        return False
    article = reply.text(each.last) in {"the", "a", "my", "our"}
    if article and not {reply.text(each.last + 1), reply.text(each.last + 2)} & _AFTER_ON_AND_OFF_A_TIME:
        return True
    return reply.text(each.first - 1).isalpha() and goes_on_doing(reply, each)


def beside_pain(reply: Reply, each: Found) -> bool:
    """Whether words of pain stand beside, or the phrase is a sentence or clause of its own."""
    near = {*reply.said(max(0, each.first - 5), each.last), *reply.said(each.last, each.last + 4)}
    if (
        near & _WORDS_OF_PAIN
        or near & _PARTS_OF_THE_HEEL
        or reply.within("place places", each.first - 3, each.last + 5)
    ):
        return True
    before, after = reply.text(each.first - 1), reply.text(each.last)
    return before == "it" or ((not before.isalpha() or before in {"and", "that"}) and not after.isalpha())


def of_something_else(reply: Reply, each: Found) -> bool:
    """Whether the words before speak of the chest, a calf, the bladder, and not of the heel."""
    first = reply.sentence_spans[reply.sentence[each.first]][0]
    before = reply.said(max(first, each.first - 10), each.first)
    for word in reversed(before):
        if word in _PARTS_OF_THE_HEEL and word != "pain":
            return False
        if word in _NOT_THE_HEEL:
            return True
    return False


def goes_on_doing(reply: Reply, each: Found) -> bool:
    """Whether it is a deed that goes on all the time."""
    first = max(reply.sentence_spans[reply.sentence[each.first]][0], each.first - 8)
    said = {*reply.said(first, each.last), reply.text(each.last)}
    if said & _WORDS_OF_PAIN or said & _PARTS_OF_THE_HEEL or reply.text(each.first - 1) == "it":
        return False
    return reply.text(each.first - 1) in _VERBS_BEFORE_ALL_DAY or any(
        label.startswith("activity ") and reply.within(label, first, each.first) for label in reply.phrases
    )


def twinge(reply: Reply, found: list[tuple[int, RestPattern, int, int]]) -> bool:
    """Whether the intermittent part speaks of rest too ("fine lying down mostly, an odd twinge")."""
    return any(kind is INTERMITTENT and _TWINGE_WORDS & set(reply.said(first, last)) for _, kind, first, last in found)


def with_scope(reply: Reply, each: Found, pattern: RestPattern) -> RestPattern | None:
    before = reply.said(max(0, each.first - 5), each.first)
    near = before[-2:]
    after = reply.text(each.last)
    if pattern is not NO_PAIN:
        if of_something_else(reply, each):
            return None
        if reply.text(each.first) == "going" and after == "about":
            return None  # "going on and on about it"
        if reply.text(each.first) in _WANTS_PAIN_BESIDE and not beside_pain(reply, each):
            return None  # "endless meetings", "stop start traffic"
    elif _NOT_THE_HEEL & set(reply.said(each.last, each.last + 3)):
        return None
    if pattern is CONSTANT:
        opening = reply.text(each.first)
        if opening in _OPENS_UNCEASING and (
            (after in _WHAT_DOES_NOT_STOP and reply.text(each.last - 1).startswith("stop"))
            or (
                after.endswith("ing")
                and after not in _WORDS_OF_PAIN
                and after not in _SUBJECTS_OF_PAIN
                and after not in _POSTURES
            )
            or not tells_of_pain(reply, each)
        ):
            return None  # "the telephone never stopped", "it does not stop me"
        if (
            reply.text(each.last - 1) == "rest"
            and opening in _OPENS_UNCEASING
            and not reply.text(each.first - 1).isalpha()
        ):
            return None  # "did not rest yet"
        if reply.text(each.last - 1) == "off" and opening == "never" and after in _AFTER_NEVER_OFF:
            return None  # "never off my feet"
        if reply.said(each.first, each.last)[:2] == ["no", "position"] and _AFTER_NO_POSITION & {
            after,
            reply.text(each.last - 1),
        }:
            return None  # "no position in the league"
        if after == "from" and reply.text(each.last + 1) in _PEACE_FROM_OTHERS:
            return None  # "no escape from the in-laws"
        if near in (["rather", "than"], ["instead", "of"]):
            return INTERMITTENT
        unstopped = opening in _OPENS_UNCEASING and reply.text(each.last - 1).startswith("stop")
        if (opening in _LONG_GOINGS_ON or unstopped) and goes_on_doing(reply, each):
            return None  # "danced non stop", "sat the whole time"
        if opening == "every" and (after in _AFTER_EVERY_OTHER or reply.text(each.first - 1) in _RELISHED):
            return None
        if opening == "all" and after == "i" and each.first == reply.sentence_spans[reply.sentence[each.first]][0]:
            return None  # "all the time I take off the sock to look"
        timed = reply.amounts_within(max(0, each.first - 3), each.first)
        if timed and timed[-1].kind == "minutes" and timed[-1].last == each.first:
            return None  # "2 hours continuous"
        if near[-1:] and near[-1] in _HURTS_OF_OTHER_THINGS:
            return None
        if near[-1:] in (["she"], ["he"], ["they"], ["who"], ["kids"], ["dog"]):
            return None
        if (_WORDS_OF_NOT_AT_ALL & set(near) or near[-1:] == ["no"]) and opening not in _HOWEVER:
            return INTERMITTENT
        of_pain = near[-1:] == ["it"] or _WORDS_OF_PAIN & set(before + reply.said(each.first, each.last))
        if _OTHER_THAN_PAIN & set(before) and not of_pain:
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
    if pattern is INTERMITTENT and (of_the_first_steps(reply, each) or on_and_off_a_thing(reply, each)):
        return None
    if pattern is INTERMITTENT and after in {"i", "you"}:
        opening = reply.text(each.first)
        thinks = _THINKS_ONLY if reply.asked is MORNING else _THINKS_AND_DOES
        if opening == "sometimes" and reply.text(each.last + 1) in thinks:
            return None
        if opening == "depends" and reply.text(each.last) == "you":
            return None
    if pattern is INTERMITTENT and reply.text(each.first) == "go" and after == "back":
        return None  # "go and come back is 8 minutes"
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
        and _BETWEEN_TIME_AND_PLACE.issuperset(reply.said(before[-1].last, place.first))
    )


def free_at_rest(reply: Reply, patterns: list[tuple[int, int]]) -> tuple[int, int] | None:
    """A place of rest and a word of no pain near each other in one sentence: "nothing when I sit", "lying down it is fine"."""
    if "place places" not in reply.phrases or "place free" not in reply.phrases:
        return None
    places, frees = reply.phrases["place places"], reply.phrases["place free"]
    firsts = [each.first for each in frees]
    inside = {at for q in reply.amounts if q.last - q.first > 1 for at in range(q.first, min(q.last, q.first + 20))}
    told = "place hurts" in reply.phrases or any(each.value > 1 or each.tagged for each in reply.amounts)
    for place in places:
        before = reply.text(place.first - 1)
        if place.first in inside or before == "last" or timed(reply, place):
            continue
        if before in _NOT_A_PLACE_BEFORE and reply.text(place.first) in _NIGHTS:
            continue
        if (
            place.last - place.first == 1
            and reply.text(place.first) in {"night", "otherwise", "reading"}
            and (reply.asked is not MORNING or (reply.text(place.first) == "otherwise" and not told))
        ):
            continue
        if (
            reply.text(place.first) in {"rest"}
            and reply.text(place.last) in _AFTER_REST_OF
            and reply.text(place.last) == "of"
        ):
            continue
        at = bisect_left(firsts, place.first - _FAR_BEFORE_A_PLACE)
        while at < len(frees) and frees[at].first <= place.last + 10:
            free = frees[at]
            at += 1
            if free.first < place.last and place.first < free.last:
                # "no pain lying down": the longest of both overlap only where one phrase holds the other.
                continue
            if any(first <= free.first and free.last <= last for first, last in patterns):
                continue  # "there and then not there while resting"
            if reply.sentence[free.first] != reply.sentence[place.first]:
                if answers_the_place(reply, place, free):
                    return place.first, free.last
                continue
            one, other = (free, place) if free.last <= place.first else (place, free)
            gap = reply.said(one.last, other.first)
            if joins(reply, gap, one is place, free, place):
                return one.first, other.last
    return None


def answers_the_place(reply: Reply, place: Found, free: Found) -> bool:
    """ "Pain at rest? None", "Lay listening. No pain.": a short sentence behind one that ends in a place of rest."""
    if free.first < place.last or free.first - place.last > 4 or reply.asked is not MORNING:
        return False
    number = reply.sentence[place.first]
    first, last = reply.sentence_spans[number]
    one, other = reply.sentence_spans[reply.sentence[free.first]]
    if one != last or free.first - one > 1 or other - free.last > 2 or last - 1 - place.last > 1:
        return False
    asks = reply.text(last - 1) == "?"
    if asks:
        return True
    said = reply.said(free.first, free.last)
    return bool(_WORDS_OF_PAIN & set(said)) and last - first <= 6 and not _WORDS_OF_SLEEP & set(reply.said(first, last))


def joins(reply: Reply, gap: list[str], place_first: bool, free: Found, place: Found) -> bool:
    known = len(gap) <= 10 and _GAP_WORDS.issuperset(gap)
    if not known:
        loose = gap[1:] if gap[:1] and gap[0] in _OPENS_A_PLACE and not place_first else gap
        proxied = {"he", "she"} if "cue proxy" in reply.phrases else set()
        if len(loose) > 5 or set(loose) & (_GAP_STOPS - proxied) or any(each[0].isdigit() for each in loose):
            return False
    if "," in gap and not place_first and "when" not in gap and "at" not in gap and len(gap) > 2:
        return False
    if gap == [","] and not place_first and reply.within("place hurts", place.last, place.last + 3):
        return False  # "it is fine, on my back it nags"
    word = reply.text(free.first)
    before = reply.text(free.first - 1)
    if reply.text(free.last - 1) == "not" and (
        place_first or not _RIGHT_BEHIND_A_DENIAL.issuperset(gap) or (not gap and word not in {"but", "and"})
    ):
        return False
    if reply.asked is not MORNING and free.last - free.first == 1 and reply.text(place.first) == "rested":
        return False  # "nothing today, rested"
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
    bare = free.last - free.first == 1 or reply.said(free.first + 1, free.last) == ["all"]  # "bugger all sleep in bed"
    if bare and reply.text(free.last) not in _AFTER_FREE and free.last != place.first:
        return False
    place_words = reply.said(place.first, place.last)
    if set(place_words) & _WORDS_OF_SLEEP and not {"pain", "hurt", "ache"} & set(reply.said(free.first, free.last)):
        return False
    return not (
        place_first
        and gap[:1] == [","]
        and "when" not in place_words
        and (
            bool(_NIGHTS & set(place_words))
            or not _OPENS_A_PLACE & {*reply.said(max(0, place.first - 4), place.first), *place_words}
        )
        and not _PLACES_THAT_MAY_STAND_FIRST & set(place_words)
    )
