"""What a score is of: the first steps, the worst, rest, another day, another thing."""

from __future__ import annotations

from bot.reader.members import EVENING, MORNING
from bot.reader.phrases import Found
from bot.reader.quantities import Quantity
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_ADDRESSES = listed["scores", "addresses"]
_BEFORE_DAY_COMPARED = listed["scores", "before_day_compared"]
_BEFORE_WORST_YESTERDAY = listed["scores", "before_worst_yesterday"]
_BETWEEN_SCORE_AND_PART = listed["scores", "between_score_and_part"]
_BREAKS_DAY_FROM_SCORE = listed["scores", "breaks_day_from_score"]
_BREAKS_REST_FROM_SCORE = listed["scores", "breaks_rest_from_score"]
_BREAKS_SCORE_FROM_DAY = listed["scores", "breaks_score_from_day"]
_COMPARES_WITH_A_DAY = listed["scores", "compares_with_a_day"]
_DEEDS_OF_THAT_DAY = listed["scores", "deeds_of_that_day"]
_ENDS_ROLE_BEHIND = listed["scores", "ends_role_behind"]
_LINK_OR_BETWEEN_EASED_AND_SCORE = listed["scores", "link", "between_eased_and_score"]
_LINKS_DAY_TO_SCORE = listed["scores", "links_day_to_score"]
_NOT_ABOUT_PAIN = listed["scores", "not_about_pain"]
_OTHER_PLACES = listed["scores", "other_places"]
_PARTS_THAT_ARE_MEANT = listed["scores", "parts_that_are_meant"]
_PERSONS_WITH_OTHERS = listed["scores", "persons_with_others"]
_BEFORE_A_TIME = listed["scores", "before_a_time"]
_PLACES_AND_OCCASIONS = listed["scores", "places_and_occasions"]
_WHERE_ONE_IS = listed["scores", "where_one_is"]
_RISES_TO = listed["scores", "rises_to"]
_TAKES_BACK_FOR_A_DAY = listed["scores", "takes_back_for_a_day"]
_WHAT_MAY_COME = listed["scores", "what_may_come"]
_WOULD_DO = listed["scores", "would_do"]
_BETWEEN_PART_AND_SCORE = listed["scores", "link", "between_person_and_score"] - {"heel", "foot", "pain"}

_AFTER_A_THING_OF_A_PLACE = listed["scores", "after_a_thing_of_a_place"]
_COUNTED_DAYS = listed["scores", "counted_days"]
_COUNTED_SINCE = listed["scores", "counted_since"]
_DAYS_OF_THE_WEEK = listed["scores", "days_of_the_week"]
_EXPECTS_WORSE = listed["scores", "expects_worse"]

_ENDS_BEFORE_THAT = (["before", "that"], *(["before", "that", end] for end in (".", ",", ";")))
_GAP_OF_TIMES = 3
_LEADS_TO_TIME = listed["scores", "leads_to_another_time"]
_NO_WORSE = listed["scores", "no_worse"]
_GOES_ON_TO_ANOTHER = listed["scores", "goes_on_to_another"]
_CONDITIONS = listed["scores", "opens_what_may_come"]
NEAR = 7
_BEFORE = (
    ("first", "score first", 12),
    ("worst", "score worst", NEAR + 2),
    ("rest", "score rest", NEAR),
    ("eased", "score eased", 5),
)
"""Roles, the phrases that tell them, and how far before the number these may stand."""
_BEHIND = (("first", "score first"), ("worst", "score worst"), ("rest", "score rest"))


def role_of(reply: Reply, amount: Quantity, first: int, last: int) -> str:
    start, end = amount.first, amount.last
    if of_another_day(reply, start, end, first, last):
        if (
            reply.asked is MORNING
            and reply.text(start - 1) in _BEFORE_WORST_YESTERDAY
            and (_RISES_TO | {"worst"}) & set(reply.said(start - 3, start))
            and reply.within("cue yesterday", max(first, start - 6), end + 4)
        ):
            return "worst"
        return "past"
    after_if = reply.said(max(first, start - 7), start)
    conditional = not _CONDITIONS.isdisjoint(after_if)
    if (
        conditional
        and "if" in after_if
        and "," not in after_if[-5:]
        and (
            not {"this", "mine", "then"} & set(after_if[after_if.index("if") :])
            and "honest" not in after_if
            and not {"honest", "anything"} & set(reply.said(end, end + 6))
        )
    ):
        return "other"
    if conditional and may_come(after_if):
        return "other"
    if of_another_thing(reply, start, end, first):
        return "other"
    places = _roles_before(reply, start, first)
    best = max(places) if places else None
    if best is not None and best[2] == "eased":
        best = max((each for each in places if each[2] == "worst"), default=best)
    behind = role_behind(reply, end, last)
    if best is None or (best[2] == "eased" and behind is not None and behind[0] == "first"):
        return behind[0] if behind is not None else "plain"
    if behind is not None and behind[1] == 0 and start - best[0] >= 2 and behind[0] != best[2] and best[2] != "eased":
        return behind[0]
    if (
        behind is not None
        and behind[0] == "worst"
        and best[2] == "first"
        and behind[1] <= 3
        and any(each[0].isdigit() or each == "," for each in reply.said(best[0], start))
    ):
        return "worst"
    return best[2]


def may_come(before: list[str]) -> bool:
    """ "in case it reaches 9", "should it hit a 10", "I would ring at a 9"."""
    for at, word in enumerate(before):
        if word == "case":
            opens = before[at - 1 : at] == ["in"]
        elif word == "should":
            opens = before[at + 1 : at + 2] != [] and before[at + 1] in _WHAT_MAY_COME
        elif word == "would":
            opens = (
                before[at + 1 : at + 2] != []
                and before[at + 1] in _WOULD_DO
                and "at" in before[-2:]
                and "it" not in before[at + 2 : at + 3]
            )
        elif word == "unless":
            opens = before[at + 1 : at + 2] != [] and before[at + 1] in _WHAT_MAY_COME
        else:
            continue
        if opens and not {",", ".", "but", ":", "-", ";"} & set(before[at:]):
            return True
    return False


def _roles_before(reply: Reply, start: int, first: int) -> list[tuple[int, int, str]]:
    """The words before a number that may say what it is of: where each ends, its length, and the role."""
    places: list[tuple[int, int, str]] = []
    for role, label, reach in _BEFORE:
        if label not in reply.phrases:
            continue
        for found in reply.within(label, max(first, start - reach), start):
            gap = reply.said(found.last, start)
            if role == "worst" and reply.text(found.first) == "worse" and reply.text(found.first - 1) in _NO_WORSE:
                continue  # "no worse, a three"
            if role == "worst" and _expected_worse(reply, found):
                continue  # "was expecting worse than this 3"
            if role == "first" and gap[:1] and gap[0] in _GOES_ON_TO_ANOTHER and _said_already(reply, found.first):
                continue  # "3 first thing, 5 now"
            if role == "eased":
                parted = not _LINK_OR_BETWEEN_EASED_AND_SCORE.issuperset(gap)
            else:
                listed_before = role == "first" and reply.asked is EVENING and "," in gap
                parted = broken(gap, role) or (listed_before and any(each.isdigit() for each in gap))
            if not parted:
                places.append((found.last, found.last - found.first, role))
    return places


def _expected_worse(reply: Reply, found: Found) -> bool:
    return (
        reply.text(found.first) == "worse"
        and reply.text(found.last) == "than"
        and not _EXPECTS_WORSE.isdisjoint(reply.said(found.first - 3, found.first))
    )


def counted_since(reply: Reply, start: int, first: int) -> bool:
    """ "days since last flare: 9": a count of days, not a score."""
    if start == first or reply.text(start - 1) not in {":", "="}:
        return False
    return any(
        reply.text(at) in _COUNTED_DAYS and reply.text(at + 1) in _COUNTED_SINCE
        for at in range(max(first, start - 8), start - 1)
    )


def _said_already(reply: Reply, at: int) -> bool:
    """Whether a number stands right before the words at a place, so that they speak of it."""
    at -= reply.text(at - 1) in _BEFORE_A_TIME
    return at > 0 and reply.row[at - 1].kind is Kind.NUMBER


def broken(gap: list[str], role: str) -> bool:
    """Whether what stands between parts the words from the number."""
    if any(each.isdigit() for each in gap) and role != "first":
        return True
    if role == "rest":
        return bool(_BREAKS_REST_FROM_SCORE & set(gap))
    if role == "worst":
        return len(gap) > NEAR or ("," in gap and len(gap) > 3)
    return bool({"but", "then"} & set(gap)) or sum(each.isdigit() for each in gap) > 1


def role_behind(reply: Reply, end: int, last: int) -> tuple[str, int] | None:
    phrases = reply.phrases
    if "score first" not in phrases and "score worst" not in phrases and "score rest" not in phrases:
        return None
    stop = min(last, end + 7)
    for at in range(end, stop):
        if reply.text(at) in _ENDS_ROLE_BEHIND or reply.row[at].kind is Kind.NUMBER:
            stop = at
            break
        if reply.text(at) == "and" and at > end:
            stop = at
            break
    best: tuple[int, str] | None = None
    for role, label in _BEHIND:
        if label not in phrases:
            continue
        for found in reply.within(label, end, min(last, stop + 3)):
            if role == "rest" and reply.text(end) == "and":
                continue  # "3 and it is resting nicely"
            if found.first < stop and (best is None or found.first < best[0]):
                best = (found.first, role)
    return (best[1], best[0] - end) if best is not None else None


def of_another_day(reply: Reply, start: int, end: int, first: int, last: int) -> bool:
    """A score of another day: "was a 6 yesterday", "7 last week", "6... no, that was yesterday"."""
    if "score past" not in reply.phrases and "yesterday" not in reply.said(end, end + 9):
        return False
    for found in reply.within("score past", end, min(last, end + 7)):
        gap = reply.said(end, found.first)
        if set(gap) & _BREAKS_SCORE_FROM_DAY or any(each.isdigit() for each in gap):
            continue
        if "same" in reply.said(max(first, start - 3), start) or set(gap) & _COMPARES_WITH_A_DAY:
            continue
        if reply.text(found.first) == "once":
            continue
        if reply.said(found.first, found.last + 1) in _ENDS_BEFORE_THAT and _the_only_number(reply, start):
            continue  # "up for the cat, heel a 3 before that"
        if "(" in gap and _number_behind(reply, found.last):
            continue  # "3 (yesterday 4)"
        if reply.asked is not MORNING and "yesterday" in reply.said(found.first, found.last):
            continue
        if reply.text(found.first) in {"last"} and found.last - found.first == 1:
            continue
        return True
    for found in reply.within("score past", max(first, start - 9), start):
        gap = reply.said(found.last, start)
        if {",", ":", "and"} & set(gap) or set(gap) & _BREAKS_DAY_FROM_SCORE or any(each.isdigit() for each in gap):
            continue
        if reply.text(found.first) in {"last", "once"} and found.last - found.first == 1:
            continue
        before = reply.text(found.first - 1)
        if before in _BEFORE_DAY_COMPARED and not set(gap) & {"which", "when"}:
            continue
        day = reply.said(found.first, found.last)
        if reply.asked is not MORNING and "yesterday" in day:
            continue
        if _DEEDS_OF_THAT_DAY & set(gap) or len(gap) > 6:
            continue
        return bool(_LINKS_DAY_TO_SCORE & set(gap)) or not gap
    # "5ish. Wait, that was Sunday's. 3."
    for found in reply.within("score past", end, min(len(reply.row), end + 9)):
        said = reply.said(found.first - 2, found.first)
        if said != ["that", "was"] and not (said == ["that", "is"] and reply.text(found.first) in _DAYS_OF_THE_WEEK):
            continue
        if not any(each[0].isdigit() for each in reply.said(end, found.first)):
            return True
    # "6... no hang on that was yesterday. 4."
    tail = reply.said(end, min(len(reply.row), end + 9))
    return bool(
        "yesterday" in tail
        and {"was"} & set(tail)
        and _TAKES_BACK_FOR_A_DAY & set(tail[: tail.index("yesterday")])
        and not any(each.isdigit() for each in tail[: tail.index("yesterday")])
    )


def on_another_scale(reply: Reply, start: int, end: int) -> bool:
    """ "our scale goes to 5, there it is a 2", "a 2 on the old scale": not where words of the scale asked for stand nearer."""
    one, _ = reply.sentence_spans[max(0, reply.sentence[start] - 1)]
    told = [*reply.within("score another_scale", one, end)]
    if told:
        _, last = reply.sentence_spans[reply.sentence[start]]
        behind = reply.within("score your_scale", end, min(last, end + 4))
        yours = [each for each in behind if "," not in reply.said(end, each.first)]
        return not yours and not reply.within("score your_scale", told[-1].first, start)
    return not reply.within("score your_scale", one, start) and any(
        not any(each[0].isdigit() or each == "," for each in reply.said(end, found.first))
        for found in reply.within("score another_scale", end, end + 8)
    )


def _the_only_number(reply: Reply, start: int) -> bool:
    """Whether no other number than that at a place can be a score."""
    return not any(
        each.kind in {"number", "score"} and each.value <= 10 and each.first != start for each in reply.amounts
    )


def _number_behind(reply: Reply, at: int) -> bool:
    """Whether a number stands right behind words for a day, so that these are of it."""
    end = at + 3
    while at < end and reply.text(at) in _LINKS_DAY_TO_SCORE:
        at += 1
    return at < len(reply.row) and reply.row[at].kind is Kind.NUMBER


def of_another_thing(reply: Reply, start: int, end: int, first: int) -> bool:
    """A score of another part, thing or person."""
    phrases = reply.phrases
    if (
        counted_since(reply, start, first)
        or ("score another_scale" in phrases and on_another_scale(reply, start, end))
        or ("score asks_for_a_time" in phrases and of_a_time_asked_for(reply, start, end))
    ):
        return True
    if reply.text(end) in {"for", "in"} and _for_another_thing(reply, start, end):
        return True
    if "score other_part" in phrases and (part := _of_another_part(reply, start, end, first)) is not None:
        return part
    # "my daughter is 8", "she turned 7"
    return (
        start > first
        and reply.text(start - 1) in {"is", "was", "turned", "turns", "nearly"}
        and any(
            each.first <= start - 2 < each.last for each in reply.within("scope others", max(first, start - 4), start)
        )
    )


def of_a_time_asked_for(reply: Reply, start: int, end: int) -> bool:
    """ "could you ask me at 9 instead of 8?": when the bot is to write."""
    return any(
        found.first < end <= found.last
        or (
            found.last <= start <= found.last + _GAP_OF_TIMES
            and _LEADS_TO_TIME.issuperset(reply.said(found.last, start))
        )
        for found in reply.within("score asks_for_a_time", max(0, start - 16), end + 1)
    )


def _for_another_thing(reply: Reply, start: int, end: int) -> bool:
    """ "10/10 for the weather", "2 in the heel, 10 in the eyelids"."""
    one, two = reply.text(end + 1), reply.text(end + 2)
    if reply.text(end) == "in":
        return one in {"the", "my"} and two in _OTHER_PLACES
    named = end - start > 1 and one in {"the", "my", "a"}
    return two not in _PARTS_THAT_ARE_MEANT and (named or one in _NOT_ABOUT_PAIN or two in _NOT_ABOUT_PAIN)


def _of_another_part(reply: Reply, start: int, end: int, first: int) -> bool | None:
    """Whether words for another part or person stand with the score; nothing where none stand near."""
    if "cue proxy" not in reply.phrases:
        for found in reply.within("score other_part", max(first, start - 6), start):
            if _BETWEEN_PART_AND_SCORE.issuperset(reply.said(found.last, start)):
                if reply.text(found.first) in _PLACES_AND_OCCASIONS and _WHERE_ONE_IS & set(
                    reply.said(found.first - 2, found.first)
                ):
                    continue  # "first steps at the hotel a 6"
                return (
                    reply.text(found.first - 1) not in {"with", "by", "and"}
                    or reply.text(found.first) not in _PERSONS_WITH_OTHERS
                )
    for found in reply.within("score other_part", end, end + 3):
        if (
            _BETWEEN_SCORE_AND_PART.issuperset(reply.said(end, found.first))
            and reply.text(found.first) not in {"back", "cold"}
            and not by_pain_only(reply, start)
            and not (found.first == end and _is_addressed(reply, found))
            and reply.text(found.last) not in _AFTER_A_THING_OF_A_PLACE
        ):
            return True
    for found in reply.within("score other_part", end, min(len(reply.row), end + 8)):
        if reply.said(found.first - 3, found.first - 1) == ["that", "was"] and not any(
            each[0].isdigit() for each in reply.said(end, found.first)
        ):
            return True
    return None


def _is_addressed(reply: Reply, found: Found) -> bool:
    """ "6 man.", "4 lady, fine at rest": a word for a person at the end of a clause."""
    return reply.text(found.first) in _ADDRESSES and reply.text(found.last) in {"", ".", ","}


def by_pain_only(reply: Reply, start: int) -> bool:
    return reply.text(start - 1) in {"pain", "heel", "foot"}
