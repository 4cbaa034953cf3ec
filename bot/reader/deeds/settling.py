"""How long pain took to ease."""

from __future__ import annotations

from bisect import bisect_left

from bot.reader.deeds.mentions import Deeds
from bot.reader.members import MORNING
from bot.reader.quantities import Quantity
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFTER_SETTLED_IN_NUMBER = listed["deeds", "after_settled_in_number"]
_BEFORE_A_GENTLE_WALK = listed["deeds", "before_a_gentle_walk"]
_BETWEEN_AMOUNT_AND_SETTLED = listed["deeds", "between_amount_and_settled"]
_BETWEEN_AMOUNT_AND_UNTIL = listed["deeds", "between_amount_and_until"]
_BETWEEN_SETTLED_AND_AMOUNT = listed["deeds", "between_settled_and_amount"]
_BETWEEN_TOOK_AND_AMOUNT = listed["deeds", "between_took_and_amount"]
_GUESSING_WORDS = listed["deeds", "guessing_words"]
_NOISES_OF_OTHERS = listed["deeds", "noises_of_others"]
_OPENS_RELIEF = listed["deeds", "opens_relief"]
_PAIN_BEGINS = listed["deeds", "pain_begins"]
_PAINED_AT_FIRST = listed["deeds", "pained_at_first"]
_REST_AFTER_RELIEF = listed["deeds", "rest_after_relief"]
_STIFF_GOING = listed["deeds", "stiff_going"]
_SUBJECTS_OF_RELIEF = listed["deeds", "subjects_of_relief"]
_WAYS_OF_RESTING = listed["deeds", "ways_of_resting"]
_WITHIN_A_TIME = listed["deeds", "within_a_time"]
_WORDS_OF_NEEDING_TIME = listed["deeds", "words_of_needing_time"]
_WORDS_OF_TAKING_TIME = listed["deeds", "words_of_taking_time"]
_WORDS_OF_UNTIL = listed["deeds", "words_of_until"]
_BEFORE_TIME_ALONE = _GUESSING_WORDS - {",", "it"}

_AFTER_A_TIME_BY_ITSELF = listed["deeds", "after_a_time_by_itself"]
_GETS_UP = listed["deeds", "gets_up"]
_OTHER_PARTS = listed["deeds", "other_parts_of_the_body"]
_SLOW_OF_OTHER_THINGS = listed["deeds", "slow_of_other_things"]
_AFTER_A_TIME_ALONE = listed["deeds", "after_a_time_alone"]

_ROUGHLY = _GUESSING_WORDS - {",", "it", "took", "i", "a"}
_LONGEST_BEFORE_UNTIL = 8
_LONGEST_ALONE = 120
"""Minutes by themselves beyond which something else is meant: sleep, a journey."""


def is_settling(deeds: Deeds, amount: Quantity) -> bool:
    """Whether a duration is the time that pain took to ease, not one of something done."""
    if _of_next_deed(deeds, amount):
        return False
    if not _NOISES_OF_OTHERS.isdisjoint(deeds.reply.said(amount.first - 3, amount.first)):
        return False  # "the dog barked half an hour till it shut up"
    first, last = deeds.reply.sentence_spans[deeds.reply.sentence[amount.first]]
    if _of_another_part(deeds, amount, first):
        return False
    return (
        _after_relief(deeds, amount, first)
        or _before_relief(deeds, amount, last)
        or _until_relief(deeds, amount, last)
        or _beside_freedom(deeds, amount, first, last)
        or _told(deeds, amount, first)
    )


def _of_another_part(deeds: Deeds, amount: Quantity, first: int) -> bool:
    """ "back takes an hour to unlock", "the bus took 20 minutes"."""
    reply = deeds.reply
    if _WORDS_OF_TAKING_TIME.isdisjoint(reply.said(amount.first - 4, amount.first)):
        return False
    for at in range(max(first + 1, amount.first - 4), amount.first):
        if reply.text(at) in _WORDS_OF_TAKING_TIME and reply.text(at - 1) in _OTHER_PARTS | _SLOW_OF_OTHER_THINGS:
            return True
    return False


def _of_next_deed(deeds: Deeds, amount: Quantity) -> bool:
    """ "10 min of gentle walking"."""
    nxt = bisect_left(deeds.firsts, amount.last)
    return (
        nxt < len(deeds.mentions)
        and deeds.mentions[nxt].first - amount.last <= 2
        and deeds.mentions[nxt].group != "not_loading"
        and _BEFORE_A_GENTLE_WALK.issuperset(deeds.reply.said(amount.last, deeds.mentions[nxt].first))
    )


def _after_relief(deeds: Deeds, amount: Quantity, first: int) -> bool:
    """ "gone within 10 minutes", "it eased off before the kettle boiled, call it three minutes"."""
    reply = deeds.reply
    guess = _GUESSING_WORDS
    for found in reversed(reply.within("cue settled", max(first, amount.first - 14), amount.first)):
        between = reply.said(found.last, amount.first)
        if between[:1] == [","] and (reply.asked is MORNING or len(between) > 1) and set(between) <= guess:
            return True
        said = list(between)
        while said and said[-1] in guess and said[-1] != ",":
            said.pop()
        guessed = len(said) < len(between) and (said[-1:] == [","] or between[-1] == "so")
        if (
            (guessed or (between[-1:] == [","] and reply.asked is MORNING))
            and len(between) <= 12
            and not deeds.mention_between(found.last, amount.first)
        ):
            return True
        if _BETWEEN_SETTLED_AND_AMOUNT.issuperset(between) or (
            len(between) <= 4 and deeds.nothing_else_between(found.last, amount.first)
        ):
            return True
        # "eased after a sit, 40 min", "took till the end of the news to pipe down, half an hour"
        took = bool(_WORDS_OF_NEEDING_TIME & set(reply.said(max(first, found.first - 10), found.last)))
        rested = bool(set(between) & _WAYS_OF_RESTING) and _REST_AFTER_RELIEF.issuperset(between)
        alone = reply.text(amount.last) in _AFTER_A_TIME_ALONE
        if between[-1:] == [","] and (took or rested) and alone:
            return len(between) <= 8
    return False


def _before_relief(deeds: Deeds, amount: Quantity, last: int) -> bool:
    """ "10 minutes to settle", "half an hour in the deck chair and it had settled"."""
    reply = deeds.reply
    for found in reply.within("cue settled", amount.last, min(last, amount.last + 11)):
        between = reply.said(amount.last, found.first)
        if (
            _new_subject(between)
            and not deeds.beside_last(amount)
            and not deeds.mention_between(amount.last, found.first)
        ):
            return True
        if (
            between
            and not _BETWEEN_AMOUNT_AND_SETTLED.issuperset(between)
            and not (
                len(between) <= (_LONGEST_BEFORE_UNTIL if reply.text(found.first) in _WORDS_OF_UNTIL else 5)
                and deeds.nothing_else_between(amount.last, found.first)
            )
        ):
            continue
        if ("," in between or "and" in between or "then" in between) and deeds.beside_last(amount):
            continue
        return True
    return False


def _new_subject(between: list[str]) -> bool:
    """Whether what stands before a word of relief ends with the pain as a new subject: "... and it had", "... before the heel"."""
    for back, word in enumerate(reversed(between)):
        if word in _OPENS_RELIEF:
            return back > 0
        if word not in _SUBJECTS_OF_RELIEF or back > 4:
            return False
    return False


def _until_relief(deeds: Deeds, amount: Quantity, last: int) -> bool:
    """ "15 mins until i could walk like a human being": whatever follows, unless it tells of pain."""
    reply = deeds.reply
    at = amount.last
    while reply.text(at) in _BETWEEN_AMOUNT_AND_UNTIL and at < amount.last + 6:
        at += 1
    if reply.text(at) not in _WORDS_OF_UNTIL or deeds.beside_last(amount):
        return False
    following = reply.said(at + 1, min(last, at + 8))
    return bool(_SUBJECTS_OF_RELIEF & set(following[:2])) and not (_PAIN_BEGINS & set(following))


def _beside_freedom(deeds: Deeds, amount: Quantity, first: int, last: int) -> bool:
    """Beside words that mean relief only with a time: "two minutes later no pain", "nothing after five minutes"."""
    reply = deeds.reply
    if "cue freed" not in reply.phrases or deeds.beside_last(amount):
        return False
    before = reply.text(amount.first - 1)
    about = before in _GUESSING_WORDS
    led = before in _WITHIN_A_TIME or (about and reply.text(amount.first - 2) in _WITHIN_A_TIME)
    if not led and reply.text(amount.last) not in {"later", "on"}:
        return False
    if reply.text(amount.last) in {"later", "on"} and any(
        found.last == amount.first for found in reply.within("cue freed", max(0, amount.first - 4), amount.first)
    ):
        return True
    for found in reply.within("cue freed", amount.last, min(last, amount.last + 7)):
        between = set(reply.said(amount.last, found.first))
        if between <= _SUBJECTS_OF_RELIEF | {"later", "on", ",", "and", "so"}:
            return True
    start = amount.first - 1 - about
    return led and any(
        start - found.last <= 1 and (start == found.last or reply.text(found.last) in {"again", "pain", "left"})
        for found in reply.within("cue freed", max(first, start - 5), start)
    )


def _told(deeds: Deeds, amount: Quantity, first: int) -> bool:
    """The time by itself: "took 10 minutes" in the morning, "for the first 10 minutes", "10 minutes. That's how long"."""
    reply = deeds.reply
    if reply.said(amount.last, amount.last + 5) == [".", "that", "is", "how", "long"]:
        return True
    if reply.asked is not MORNING:
        return False
    start = amount.first - (2 if reply.said(amount.first - 2, amount.first) == ["the", "first"] else 0)
    first_part = start < amount.first or reply.said(amount.first, amount.first + 2) == ["the", "first"]
    said = start - 2 - (reply.text(start - 2) == ",")
    pained = said >= 0 and (reply.row[said].kind is Kind.NUMBER or reply.text(said) in _PAINED_AT_FIRST)
    if first_part and pained and reply.text(start - 1) == "for":
        return True
    if stands_by_itself(deeds, amount):
        return True
    end = amount.last
    while reply.text(end) in {"'", "worth"}:
        end += 1
    if (reply.text(end) == "of" or end > amount.last) and reply.text(end + (reply.text(end) == "of")) in _STIFF_GOING:
        return True  # "half an hour of hobbling", "ten minutes' shuffling"
    if (
        reply.text(amount.last) == "after"
        and _GETS_UP & set(reply.said(amount.last + 1, amount.last + 3))
        and "for" in reply.said(amount.first - 3, amount.first)
        and not any(first <= each.first < amount.first for each in deeds.last_mentions(amount.first))
    ):
        return True  # "like rusted hinges for a good hour after I get up"
    back = amount.first - 1
    while back > amount.first - 4 and reply.text(back) in _BETWEEN_TOOK_AND_AMOUNT:
        back -= 1
    return reply.text(back) in _WORDS_OF_TAKING_TIME and not any(
        first <= each.first < amount.first and not each.denied for each in deeds.last_mentions(amount.first)
    )


def stands_by_itself(deeds: Deeds, amount: Quantity) -> bool:
    """ "5, five minutes, fine at rest": in the morning, with a score before it and nothing done told."""
    reply = deeds.reply
    first = amount.first
    while first > 0 and reply.text(first - 1) in _BEFORE_TIME_ALONE:
        first -= 1
    return (
        first > 0
        and reply.text(first - 1) in {",", ".", ";"}
        and reply.text(amount.last) in _AFTER_A_TIME_BY_ITSELF
        and amount.value <= _LONGEST_ALONE
        and any(q.kind in {"score", "number"} and q.value <= 10 for q in reply.amounts_within(0, amount.first)[:4])
        and not any(each.group != "not_loading" for each in deeds.mentions)
        and not reply.found("cue yesterday")
    )


def settled_in_number(deeds: Deeds, amount: Quantity) -> bool:
    """ "calmed down in 20": minutes without their unit."""
    reply = deeds.reply
    if "cue settled" not in reply.phrases:
        return False
    ahead = reply.said(amount.last, amount.last + 5)
    if (
        ahead[:1] == ["more"]
        and {"before", "until", "till"} & set(ahead)
        and reply.within("cue settled", amount.last, amount.last + 6)
    ):
        return True
    bare = float(amount.value).is_integer() and any(
        found.last in {amount.first, amount.first - 1}
        for found in reply.within("cue settled", amount.first - 3, amount.first)
    )
    if (
        bare
        and reply.text(amount.first - 1) not in {".", ";", ",", "to", "at", "by", "about", "around", "till", "until"}
        and reply.text(amount.last) in {"", ".", ","}
        and any(q.kind in {"score", "number"} and q is not amount and q.value <= 10 for q in reply.amounts[:6])
    ):
        return True  # "first steps 4, eased 10"
    first = amount.first - (reply.text(amount.first - 1) in _ROUGHLY)
    if (
        reply.text(first - 1) not in {"in", "within", "after"}
        or reply.text(amount.last) not in _AFTER_SETTLED_IN_NUMBER
    ):
        return False
    settled = reply.within("cue settled", max(0, first - 5), first)
    return bool(settled) and first - settled[-1].last <= 2
