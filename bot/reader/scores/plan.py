"""How much of the plan was done, where the reply says so as a whole."""

from __future__ import annotations

from bot.program.terms import About, PlanDone
from bot.reader.members import ALL_OF_IT, EVENING, MORNING, NONE_OF_IT, SOME_OF_IT, TODAY
from bot.reader.phrases import Found
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFFIRMS_THE_PLAN = listed["scores", "affirms_the_plan"]
_AFTER_ANY_OF_ONE_KIND = listed["scores", "after_any_of_one_kind"]
_AFTER_THE_WHOLE = listed["scores", "after_the_whole"]
_AFTER_ANYTHING_ELSE = listed["scores", "after_anything_else"]
_AFTER_EVERYTHING_HURTS = listed["scores", "after_everything_hurts"]
_AFTER_HALF_ALONE = listed["scores", "after_half_alone"]
_AFTER_NEARLY_ALL = listed["scores", "after_nearly_all"]
_AFTER_NOTHING_OF_SIGNS = listed["scores", "after_nothing_of_signs"]
_AUXILIARIES = listed["scores", "auxiliaries"]
_DEEDS_OF_THE_PLAN = listed["scores", "deeds_of_the_plan"]
_DENIES_ALL = listed["scores", "denies_all"]
_DID_NOTHING_FOR_THE_PAIN = listed["scores", "did_nothing_for_the_pain"]
_ENDS_A_WHOLE = listed["scores", "ends_a_whole"]
_GOES_ON = listed["scores", "goes_on"]
_HALF_NEEDS_A_PLAN_WORD = listed["scores", "half_needs_a_plan_word"]
_LOOSE_WHOLES = listed["scores", "loose_wholes"]
_NOT_OF_THE_PLAN = listed["scores", "not_of_the_plan"]
_OF_ONE_EXERCISE = listed["scores", "of_one_exercise"]
_NUMBERED = listed["scores", "numbered_parts_of_a_plan"]
_SAYS_ALL_WAS_DONE = listed["scores", "says_all_was_done"]
_OPENS_A_WHOLE = listed["scores", "opens_a_whole"]
_OPENS_PLAN_QUESTION = listed["scores", "opens_plan_question"]
_OTHER_LISTS = listed["scores", "other_lists"]
_PAIN_BEFORE_EVERYTHING = listed["scores", "pain_before_everything"]
_PLAN_NOT_YET = listed["scores", "plan_not_yet"]
_PLAN_WORDS = listed["scores", "plan_words"]
_PLAN_WORDS_BEFORE = listed["scores", "plan_words_before"]
_SKIPPING = listed["deeds", "verbs_of_skipping"]
_TELLS_OF_THE_PLAN = listed["scores", "tells_of_the_plan"]
_VERBS_BEFORE_ALL_DAY = listed["scores", "verbs_before_all_day"]
_WHAT_IS_DONE = listed["scores", "what_is_done"]
_WAYS_OF_A_WALK = listed["scores", "ways_of_a_walk"]

_OPENS_A_TIME = listed["scores", "opens_a_time"]
_LISTS = listed["scores", "lists_of_anything"]
_PRONOUNS = listed["scores", "pronouns_of_what_is_done"]
_SHORT_QUESTION = 4
_UNTIL = frozenset({"till", "til", "until"})
_OF_THE_PLAN = _DEEDS_OF_THE_PLAN | _PLAN_WORDS
_GOOD_BUT_NO_DEED = listed["scores", "good_but_no_deed"]
_LABELS = tuple((kind, f"plan {kind}") for kind in (SOME_OF_IT, NONE_OF_IT, ALL_OF_IT))


def plan_done(reply: Reply) -> tuple[PlanDone | None, About, bool]:
    """How much of the plan was done, the day it speaks of, and whether "rested" alone says so."""
    for kind, label in _LABELS:
        for each in reply.phrases.get(label, ()):
            if not within_longer(reply, each) and plan_meant(reply, each, kind):
                reply.note("plan_done", each.first, each.last)
                words = reply.said(each.first, each.last)
                return kind, reply.day_at(each.first), "rested" in words or "rest" in words or "lazy" in words
    alone = said_alone(reply)
    if alone is not None:
        reply.note("plan_done", 0, len(reply.row))
    return alone, TODAY, False


def said_alone(reply: Reply) -> PlanDone | None:
    """ "done", "all", "everything 4" as a whole evening's reply."""
    if reply.asked is not EVENING or len(reply.row) > 8 or len(reply.amounts) > 1:
        return None
    said = [each.text for each in reply.row if each.kind is Kind.WORD]
    for words in (said, [each for each in said if each not in reply.words.plan_fillers]):
        kind = reply.words.plan_alone.get(" ".join(words))
        if kind is not None:
            return kind
    return None


def within_longer(reply: Reply, each: Found) -> bool:
    """Whether a longer phrase of the plan holds this one: "every last bit of it" is no "bit of it"."""
    return any(
        plan_meant(reply, other, kind)
        for kind, label in _LABELS
        if label in reply.phrases
        for other in reply.within(label, each.first - 12, each.last + 12)
        if other.first <= each.first and each.last <= other.last and other.last - other.first > each.last - each.first
    )


def plan_meant(reply: Reply, each: Found, kind: PlanDone) -> bool:
    before = reply.said(max(0, each.first - 3), each.first)
    after = reply.text(each.last)
    inside = reply.said(each.first, each.last)
    first, last = reply.sentence_spans[reply.sentence[each.first]]
    if reply.text(last - 1) == "?" and reply.text(first) in _OPENS_PLAN_QUESTION:
        return False
    said_before = reply.said(max(first, each.first - 4), each.first)
    for figure in reply.within("figure", max(first, each.first - 4), each.first):
        said_before = said_before[len(said_before) - (each.first - figure.last) :] if figure.last < each.first else []
    if ":" in said_before:
        said_before = said_before[len(said_before) - said_before[::-1].index(":") :]
    if not _PLAN_NOT_YET.isdisjoint(said_before) and "plan" not in inside[:1]:
        return False
    if after == "tomorrow" or before[:2] == ["not", "sure"]:
        return False
    if after == "of" and inside[-1] in _LISTS and not _names_the_plan(reply, each.last):
        return False  # "got through the list of jobs"
    if inside[-1] in _LISTS and after in {"twice", "again"} and reply.asked is not EVENING:
        return False  # "gone through the whole list twice. No fever"
    if inside[-2:] == ["the", "whole"] and after.isalpha() and after not in _AFTER_THE_WHOLE:
        return False  # "did the whole shop"
    if inside == ["full", "marks"] and after == "for":
        return False  # "full marks for effort"
    if inside[-2:] == ["of", "it"] and after in _WAYS_OF_A_WALK:
        return False  # "part of it up the hill"
    if of_what_was_asked(reply, each, first) or loose(reply, each, inside, first):
        return False
    if after == "this" and reply.text(each.last + 1) in {"week", "month"}:
        return False
    if kind is SOME_OF_IT and (
        {"100", "hundred"} & set(inside)
        or before[-1:] == ["every"]
        or (each.first and reply.text(each.first - 1) == "100")
    ):
        return False
    if kind is ALL_OF_IT and before[-1:] and before[-1] in _VERBS_BEFORE_ALL_DAY:
        return False
    if kind is ALL_OF_IT:
        if _DENIES_ALL & set(before[-2:]) or {"any", "none", "neither"} & set(before):
            return False
        if before[-1:] and before[-1] in _PAIN_BEFORE_EVERYTHING:
            return False
        if inside[:1] in (["to"], ["as"], ["like"]) and not _TELLS_OF_THE_PLAN & set(reply.said(first, last)):
            return False
        if inside == ["like", "you", "said"]:
            return False
        return not (inside[-1:] == ["everything"] and after in _AFTER_EVERYTHING_HURTS)
    if kind is NONE_OF_IT:
        if (
            before[-1:]
            and before[-1] in _NOT_OF_THE_PLAN
            and inside[:1] in (["nothing"], ["none"], ["not"], ["no"])
            and not (before[-1] == ":" and _PLAN_WORDS.union({"done"}) & set(inside))
        ):
            return False
        if inside[:1] == ["nothing"] and _SKIPPING & set(before[-1:]):
            return False  # "skipped nothing"
        if inside[:1] == ["did"] and before[-1:] and before[-1] in _DID_NOTHING_FOR_THE_PAIN:
            return False  # "the ice pack did nothing"
        if inside == ["not", "done"] and before[-1:] and before[-1] in _OF_ONE_EXERCISE:
            return False  # "raises not done"
        if inside[-1:] == ["any"] and (
            after in _AFTER_ANY_OF_ONE_KIND and reply.text(each.last + 1) not in {"it", "the", "them", "my"}
        ):
            return False
        if after == "of" and inside[0] not in _DEEDS_OF_THE_PLAN and not _names_the_plan(reply, each.last):
            return False  # "not a jot of pain"
        if (
            reply.asked is MORNING
            and _OPENS_A_TIME & {after, reply.text(each.last + 1)}
            and _OF_THE_PLAN.isdisjoint(inside)
        ):
            return False  # "diddly squat when I am lying down"
        if inside[-1] == "anything" and after in _AFTER_ANYTHING_ELSE:
            return False  # "did not do anything silly"
        if after in _UNTIL:
            return False  # "forgot the exercises till bedtime"
        if after == "for" and reply.text(each.last + 1) in _PRONOUNS:
            return False  # "did nothing for it"
        if after in _AFTER_NOTHING_OF_SIGNS or (after == "else" and "nothing" in inside):
            return False
        if inside == ["nothing", "at", "all"] or inside == ["nothing", "else"] or inside == ["not", "a", "thing"]:
            return False
        if (
            inside[:1] == ["not"]
            and inside[-1:] == ["done"]
            and reply.text(each.first - 1) in _AUXILIARIES
            and len(inside) == 2
        ):
            return _PLAN_WORDS_BEFORE & set(before) != set()
        return not ("rest" in inside and before[-1:] and before[-1] in {"the", "on", "at", "in"})
    if kind is SOME_OF_IT:
        if "but" in inside and inside[-1] in _GOES_ON:
            return False  # "plan done but extra walking"
        if inside[0] == "0" or (reply.text(each.first - 1) in _NUMBERED):
            return False  # "zero of the plan", "day 10 of the plan"
        if "apart" in inside and inside[-1] in {"me", "being"}:
            return False
        if inside[:1] == ["all"] and inside[1:2] and inside[1] in _GOOD_BUT_NO_DEED:
            return False
        if inside[:1] in (["nearly"], ["almost"]) and after not in _AFTER_NEARLY_ALL:
            return False
        if inside[:1] == ["half"] and set(inside) & {"it"} and before[-1:] in (["other"], ["first"], ["second"]):
            return False
        if inside[:2] == ["did", "some"] or inside == ["bit", "of", "it"]:
            return (after in {"", ".", ",", ";", "of", "exercises"} and after != "exercises") or (
                after == "of" and reply.text(each.last + 1) in {"it", "the", "them", "my"}
            )
        if inside[:1] in (["half"], ["only"]) or inside[:2] in (
            ["did", "half"],
            ["about", "half"],
            ["only", "half"],
            ["managed", "half"],
        ):
            return half_of_plan(reply, each, inside)
        return True
    return True


def _names_the_plan(reply: Reply, at: int) -> bool:
    """Whether "of it", "of the plan" or the like stands at a place."""
    return reply.text(at + 1) in _WHAT_IS_DONE


def of_what_was_asked(reply: Reply, each: Found, first: int) -> bool:
    """ "Should I file the hard skin? Have not touched it": "it" is what the question before was about."""
    if not first or reply.text(first - 1) != "?" or reply.text(each.last - 1) not in _PRONOUNS:
        return False
    one, last = reply.sentence_spans[reply.sentence[first] - 1]
    return (
        last - one > _SHORT_QUESTION
        and _OF_THE_PLAN.isdisjoint(reply.said(one, last))
        and not any(
            reply.within(label, one, last) for label in reply.phrases if label.startswith(("exercise ", "activity "))
        )
    )


def loose(reply: Reply, each: Found, inside: list[str], first: int) -> bool:
    """Whether a phrase that may be of anything ("the lot", "all of it", "100 %") has nothing of the plan about it."""
    if inside[-1] not in _LOOSE_WHOLES or not _OF_THE_PLAN.isdisjoint(inside):
        return False
    start = max(first, each.first - 6)
    before = reply.said(start, each.first)
    if _SAYS_ALL_WAS_DONE & set(reply.said(each.last, each.last + 2)):
        return False
    if _AFFIRMS_THE_PLAN & set(before[-3:]) or (_AFFIRMS_THE_PLAN - {"through"}) & set(
        reply.said(max(0, first - 4), start)
    ):
        return False
    alone = start == first and all(word in _OPENS_A_WHOLE or word in {"10", "/"} for word in before if word.isalpha())
    return not (alone and reply.text(each.last) in _ENDS_A_WHOLE)


def half_of_plan(reply: Reply, each: Found, inside: list[str]) -> bool:
    after = reply.text(each.last)
    if inside[-1] in {"half", "of", "the", "my"}:
        if after in _HALF_NEEDS_A_PLAN_WORD:
            following = {reply.text(each.last + step) for step in range(3)}
            return bool(_PLAN_WORDS & following) and not _OTHER_LISTS & following
        return after in _AFTER_HALF_ALONE
    return True
