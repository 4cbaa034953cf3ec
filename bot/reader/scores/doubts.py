"""Numbers that look like scores of now and are not: denied, expected, somebody else's, of days gone by."""

from __future__ import annotations

from itertools import pairwise

from bot.reader.members import MORNING
from bot.reader.quantities import Quantity
from bot.reader.reply import Reply
from bot.reader.scores.score import Score
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_ASKS = listed["scores", "asks"]
_BETWEEN_DENIAL_AND_SCORE = listed["scores", "between_denial_and_score"]
_BREAKS_PERSON_FROM_SCORE = listed["scores", "breaks_person_from_score"]
_BETWEEN_COMPARED = listed["scores", "between_compared"]
_COMPARED_WITH = listed["scores", "compared_with"]
_PAST_ONLY_WITH_MORE = listed["scores", "past_only_with_more"]
_EXPECTS = listed["scores", "expects"]
_SCALE_TALK = listed["scores", "scale_talk"]
_TAKES_BACK_WHAT_WAS_PUT = listed["scores", "takes_back_what_was_put"]
_VERBS_OF_PERSONS = listed["scores", "verbs_of_persons"]
_WROTE_FIRST = listed["scores", "wrote_first"]

_MAY_EXPECT = _EXPECTS | _WROTE_FIRST | listed["scores", "may_expect"]
_MAY_COMPARE = {"from"} | {each.partition(" ")[0] for each in _COMPARED_WITH}
_DENIES = listed["scores", "denies_a_number"]
_PARTS_FROM_TODAY = listed["scores", "parts_from_today"]
_STOPS = frozenset({",", ";", ".", "?"})
_SCALES = tuple([low, link, "10"] for low in ("0", "1") for link in ("-", "to"))
_NEAR = 6
_FAR = 16


def doubtful(reply: Reply, amount: Quantity, first: int, last: int) -> bool:
    """Whether a number is a score only where there is no other. `first` and `last` bound its sentence."""
    start, end = amount.first, amount.last
    before = reply.said(max(first, start - 9), start)
    return (
        denied(before)
        or (amount.value == 10 and reply.said(start, end) in _SCALES)
        or (not _MAY_EXPECT.isdisjoint(before) and expected(before, reply.said(end, min(last, end + 6))))
        or asked_about(reply, start, end, first, last)
        or of_somebody_else(reply, start, first)
    )


def denied(before: list[str]) -> bool:
    """ "not a 10, more a 6", "not 10, say 7", "would not call it a 9"."""
    at = len(before) - 1
    while at >= 0 and before[at] in _BETWEEN_DENIAL_AND_SCORE:
        at -= 1
    return at >= 0 and before[at] in _DENIES and before[at] != "no"


def expected(before: list[str], after: list[str]) -> bool:
    """ "thought it would be a 9", "normally 7", "was going to say 5", "typed 2 but I was being brave"."""
    near = before[-7:]
    for at in range(len(near) - 1, -1, -1):
        if near[at] in _STOPS or near[at][0].isdigit():
            near = near[at + 1 :]
            break
    said = set(near)
    if said & _EXPECTS or ("going" in said and "say" in said) or ("would" in said and "have" in said):
        return True
    return bool(said & _WROTE_FIRST and _TAKES_BACK_WHAT_WAS_PUT & set(after[:2]))


def asked_about(reply: Reply, start: int, end: int, first: int, last: int) -> bool:
    """ "at what score do I ring, 9?", "is 10 good or bad", "10 is the worst, right?"."""
    opens = reply.text(first) in _ASKS
    if opens and reply.text(last - 1) == "?":
        return True
    if end >= last or reply.text(end) != "is":
        return False
    scale = not _SCALE_TALK.isdisjoint(reply.said(end + 1, min(last, end + 3)))
    return scale and "?" in reply.said(end, min(last, end + 6))


def of_somebody_else(reply: Reply, start: int, first: int) -> bool:
    """ "for her it is 7", "some bloke gave it a 7", "my daughter who is 9"."""
    phrases = reply.phrases
    if ("scope others" not in phrases and "score persons" not in phrases) or "cue proxy" in phrases:
        return False
    low = max(first, start - _FAR)
    near = [*reply.within("scope others", low, start), *reply.within("score persons", low, start)]
    if not near:
        return False
    person = max(near, key=lambda each: each.last)
    gap = reply.said(person.last, start)
    if reply.text(person.first) == "you":
        return False
    numbers = [at for at, each in enumerate(gap) if each[0].isdigit()]
    if numbers:
        if ":" not in gap[: numbers[0]]:
            return False
        gap = [each for each in gap if each != ","]  # "my sisters: 7, 8 and 2"
    if "for" in reply.said(person.first - 1, person.last) and gap[:1] == ["it"]:
        gap = gap[1:]
    if gap[:1] and gap[0] in _VERBS_OF_PERSONS and gap[1:2] == ["it"]:
        del gap[1]  # "my boss reckons it is an 8"
    if "and" in gap[2:-1] and gap[gap.index("and") + 1] in _VERBS_OF_PERSONS:
        gap.remove("and")  # "my sister had the injection and went from 9 to 1"
    return not _BREAKS_PERSON_FROM_SCORE & set(gap)


def goes_on_with_times(between: list[str]) -> bool:
    """Whether words behind a time of day lead to another: "up at 1, 3 and 5", "woken at 5 instead of 7"."""
    return between in ([","], ["and"], [",", "and"], ["or"], ["not"]) or " ".join(between) in _COMPARED_WITH


def of_days_gone_by(reply: Reply, scores: list[Score]) -> list[Score]:
    """ "when this started it was a 10, nowadays 3": where a score of today stands beside it, the other is past."""
    if "score past" not in reply.phrases and "score long_past" not in reply.phrases:
        return _fallen_from(reply, scores)
    live = [each for each in scores if each.role not in {"past", "other"}]
    if len(live) < 2:
        return scores
    todays = [each for each in live if of_today(reply, each)]
    for each in live:
        if len([one for one in live if one.role != "past"]) < 2:
            break
        if each in todays:
            continue
        first, last = reply.sentence_spans[reply.sentence[each.at]]
        long_past = reply.within("score long_past", max(first, each.at - _FAR), min(last, each.last + _NEAR))
        another = each.role != "worst" or reply.asked is not MORNING
        if (long_past and not _today_between(reply, long_past[0].first, each)) or (
            todays and another and told_of_another_day(reply, each, first, last)
        ):
            each.role = "past"
    return _fallen_from(reply, scores)


def of_today(reply: Reply, score: Score) -> bool:
    """Whether "today" or "now" stands right beside a score."""
    first, last = reply.sentence_spans[reply.sentence[score.at]]
    for found in reply.within("score today", max(first, score.at - _NEAR), score.at):
        if not any(reply.row[at].kind is Kind.NUMBER for at in range(found.last, score.at)):
            return True
    return any(
        found.first - score.last <= 1 and not _PARTS_FROM_TODAY & set(reply.said(score.last, found.first))
        for found in reply.within("score today", score.last, min(last, score.last + 4))
    )


def told_of_another_day(reply: Reply, score: Score, first: int, last: int) -> bool:
    """Whether a word for another day stands in the sentence, nearer than one for today."""
    for found in reply.within("score past", max(first, score.at - 12), score.at):
        if found.last - found.first == 1 and reply.text(found.first) in _PAST_ONLY_WITH_MORE:
            continue
        if not _today_between(reply, found.first, score):
            return True
    return any(
        found.first - score.last <= 3 and not _STOPS & set(reply.said(score.last, found.first))
        for found in reply.within("score past", score.last, min(last, score.last + 7))
        if not reply.text(found.first).startswith(("last", "once")) or found.last - found.first > 1
    )


def _today_between(reply: Reply, at: int, score: Score) -> bool:
    return bool(reply.within("score today", at, score.at))


def _fallen_from(reply: Reply, scores: list[Score]) -> list[Score]:
    """ "down to a 3 from a 5", "down from last night's 6 to a 4", "2 instead of the usual 4": what it was before."""
    if _MAY_COMPARE.isdisjoint(reply.texts):
        return scores
    live = [each for each in scores if each.role not in {"past", "other"}]
    for one, other in pairwise(live):
        between = reply.said(one.last, other.at)
        if between[:1] == ["from"] and _BETWEEN_COMPARED.issuperset(between[1:]):
            if {"down", "up"} & set(reply.said(max(0, one.at - 4), one.at)):
                other.role = "past"
        elif between in (["to"], ["to", "a"], ["to", "an"], ["to", "about"]) and "from" in reply.said(
            max(0, one.at - 5), one.at
        ):
            one.role = "past"
        elif len(between) <= _NEAR and compared(between):
            other.role = "past"
    return scores


def compared(between: list[str]) -> bool:
    """Whether words between two numbers say that the second is only what the first is held against."""
    return any(
        " ".join(between[:length]) in _COMPARED_WITH and _BETWEEN_COMPARED.issuperset(between[length:])
        for length in (1, 2, 3)
    )
