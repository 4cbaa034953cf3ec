"""Which durations, distances, steps and flights belong to which activity."""

from __future__ import annotations

from bisect import bisect_left

from bot.reader.deeds.mentions import Deeds, Mention
from bot.reader.members import HEEL_RAISE, HILLS, HOUSEWORK, MORNING, RUNNING, STAIRS, STANDING, TOE_HOLD, WALKING
from bot.reader.quantities import MEASURES, Quantity
from bot.reader.reply import Reply
from bot.reader.vocabulary import listed

_AFTER_NUMBER_OF_A_SECOND_LEG = listed["deeds", "after_number_of_a_second_leg"]
_BEGINS_A_STATEMENT = listed["deeds", "begins_a_statement"]
_BEFORE_A_PLACE = listed["deeds", "before_a_place"]
_OPENS_A_PLACE = listed["deeds", "opens_a_place"]
_BETWEEN_ACTIVITY_AND_AMOUNT = listed["deeds", "between_activity_and_amount"]
_BETWEEN_AMOUNT_AND_ACTIVITY = listed["deeds", "between_amount_and_activity"]
_ENDS_A_WALK = listed["deeds", "ends_a_walk"]
_EVENTS_AFTER_A_TIME = listed["deeds", "events_after_a_time"]
_OF_THE_BODY = listed["deeds", "of_the_body"]
_OF_NOW = listed["deeds", "of_now"]
_PARTS_OF_THE_DAY = listed["deeds", "parts_of_the_day"]
_PREPOSITIONS_OF_TIME = listed["deeds", "prepositions_of_time"]
_QUIT_BEFORE_AMOUNT = listed["deeds", "quit_before_amount"]
_SURELY_A_SECOND_LEG = listed["deeds", "surely_a_second_leg"]
_UP_FROM = listed["deeds", "up_from"]
_WAYS_HOME = listed["quantities", "ways_home"]
_UP_A_HILL = listed["deeds", "up_a_hill"]
_ON_THE_WAY = listed["deeds", "on_the_way"]
_WAY_BACK_GAP = listed["deeds", "way_back_gap"]

_IN_HOURS = 60
_LONGEST_NAME = 4
_MORE = listed["deeds", "says_more_of_it"]
_OPENS_A_RIDE = frozenset({"on", "in"})
_FLOORS = listed["deeds", "floors"]
_FAR = 12
_SURELY_NO_SCORE = 10


def _timed_up_a_hill(reply: Reply, before: Mention, after: Mention, gap: list[str]) -> bool:
    """ "walked 2 hours up Pendle", "ran 40 min over the hill": the way is timed, the hill is where it went."""
    timed = after.kind == HILLS and before.kind in {WALKING, RUNNING} and not before.denied and not before.amounts
    return timed and not _ON_THE_WAY.isdisjoint([reply.text(after.first), *gap[:1]])


def activity_of(deeds: Deeds, amount: Quantity, index: int) -> Mention | None:
    reply = deeds.reply
    here = bisect_left(deeds.firsts, amount.first)
    inside = deeds.mentions[here] if here < len(deeds.mentions) and deeds.mentions[here].first < amount.last else None
    if inside is not None and inside.group == "activity" and not inside.denied:
        return inside
    before = deeds.mentions[here - 1] if here else None
    if before is not None and before.last > amount.first:
        if before.group == "activity" and not before.denied and amount.kind == "minutes":
            return before  # "played 90 minutes", "took four rounds, each five minutes"
        before = deeds.mentions[here - 2] if here > 1 else None
    nxt = bisect_left(deeds.firsts, amount.last)
    after = deeds.mentions[nxt] if nxt < len(deeds.mentions) else None
    if amount.kind == "seconds":
        return exercise_held(deeds, amount, before, after, index)
    if amount.kind == "count":
        return stairs_of(deeds, amount, before, after)
    if before is not None and before.group == "not_loading":
        before = where_it_was_done(deeds, here - 1) or _gone_on_with(deeds, here - 1, amount) or before
    if before is not None and before.kind == HILLS and here > 1:
        before = _walk_up_it(deeds, deeds.mentions[here - 2], before) or before
    sentence = reply.sentence[amount.first]
    gap_before = (
        reply.said(before.last, amount.first) if before is not None and amount.first - before.last <= 40 else [" "]
    )
    gap_after = reply.said(amount.last, after.first) if after is not None and after.first - amount.last <= 40 else [" "]
    same_before = before is not None and reply.sentence[before.last - 1] == sentence
    same_after = after is not None and reply.sentence[after.first] == sentence
    close_before = same_before and _BETWEEN_ACTIVITY_AND_AMOUNT.issuperset(gap_before) and "," not in gap_before
    close_after = same_after and len(gap_after) <= 5 and _BETWEEN_AMOUNT_AND_ACTIVITY.issuperset(gap_after)
    if after is not None and after.group == "exercise":
        close_after = False
        if amount.kind == "minutes" and after.kind == TOE_HOLD and not gap_after and amount.value <= 5:
            return minutes_held(deeds, amount, after, index)
    if (
        before is not None
        and before.group == "exercise"
        and not (before.kind == TOE_HOLD and amount.kind == "minutes" and amount.value <= 5)
        and not (amount.kind == "minutes" and gap_before in (["for"], ["for", "about"], ["for", "a"]))
    ):
        before = deeds.earlier_without_amount(here - 1, sentence)
        same_before = before is not None
        close_before = False
        gap_before = reply.said(before.last, amount.first) if before is not None else [" "]
    elif before is not None and before.group == "exercise" and close_before:
        return minutes_held(deeds, amount, before, index)
    if close_after and close_before and after is not None and before is not None:
        if after.group == "not_loading":
            return before
        if _timed_up_a_hill(reply, before, after, gap_after):
            return before
        if not gap_after and has_amount_after(deeds, after, nxt):
            return before
        if gap_after[:2] in (["of", "my"], ["of", "the"], ["of", "a"]) and gap_before:
            return before
        if {"for", ":", "about"} & set(gap_before) and gap_after and gap_after[0] not in {"of"}:
            return before
        if "and" in gap_after:
            return before
        return after
    if close_after and not ("and" in gap_after and same_before):
        return after
    if close_before:
        return before
    if same_before and before is not None:
        clause_after = same_after and after is not None and reply.clause[after.first] == reply.clause[amount.first]
        clause_before = reply.clause[before.last - 1] == reply.clause[amount.first]
        if (
            clause_after
            and not clause_before
            and after is not None
            and after.first - amount.last <= 6
            and after.group != "exercise"
        ):
            return after
        if before.denied and {"but", "only"} & set(gap_before) and _QUIT_BEFORE_AMOUNT & set(gap_before):
            before.denied = False  # "was going to walk 40 but quit at 20 min"
            return before
        if before.denied or before.group == "not_loading":
            earlier = deeds.earlier_done(here - 1, sentence)
            if "," in gap_before or reply.text(amount.first - 1) in self_starting(gap_before):
                return (
                    earlier
                    if before.denied and earlier is not None
                    else (after if same_after and after is not None and after.group == "activity" else None)
                    if before.denied
                    else before
                )
            return before
        return before
    if same_after and after is not None and after.group != "exercise":
        if after.first - amount.last <= 8 and ("," not in gap_after or len(gap_after) <= 2) and not after.denied:
            return after
        if set(gap_after) & {","} and after.first - amount.last > 3:
            return None
        return after if not after.denied else None
    # "Cleaned the house. Took 2 hours." The sentence before has a deed without such an amount.
    if (
        before is not None
        and before.group == "activity"
        and not before.denied
        and not before.ignored
        and sentence - reply.sentence[before.last - 1] == 1
        and not _of_the_body(deeds, amount)
    ):
        if not any(each.kind == amount.kind for each in before.amounts[-4:]):
            return before
        if set(reply.said(max(amount.first - 2, 0), amount.first)) & {"another", "then", "more"} or reply.text(
            amount.last
        ) in {"more", "again"}:
            return before
    return None


def _of_the_body(deeds: Deeds, amount: Quantity) -> bool:
    """ "Swept the hall. The toes were grey, maybe one hour": how long the foot was so, not the deed before."""
    reply = deeds.reply
    first = reply.sentence_spans[reply.sentence[amount.first]][0]
    before = reply.said(max(first, amount.first - _FAR), amount.first)
    stood_on = {"feet", "foot"} if "on" in before else set()  # "on my feet an hour"
    return not _OF_THE_BODY.isdisjoint(set(before) - stood_on)


def _walk_up_it(deeds: Deeds, walk: Mention, hill: Mention) -> Mention | None:
    """ "walked up Box Hill 40 min": the walk took the time, the hill is named beside it."""
    gap = deeds.reply.said(walk.last, hill.first)
    up_it = walk.kind in {WALKING, RUNNING} and gap[:1] and gap[0] in _UP_A_HILL and len(gap) <= _LONGEST_NAME
    if not up_it or {",", "and", "then", "."} & set(gap) or walk.amounts or walk.denied or walk.ignored:
        return None
    return walk


def where_it_was_done(deeds: Deeds, index: int) -> Mention | None:
    """ "line dancing at the church hall, 50 minutes": the deed that a place right behind it is the place of."""
    if not index:
        return None
    deed, place = deeds.mentions[index - 1], deeds.mentions[index]
    gap = deeds.reply.said(deed.last, place.first)
    if deed.kind == STANDING and not gap and deeds.reply.text(place.first) in _OPENS_A_RIDE:
        return deed  # "stood on the train 50 min"
    at_a_place = deed.group == "activity" and gap[:1] and gap[0] in _OPENS_A_PLACE and _BEFORE_A_PLACE.issuperset(gap)
    return deed if at_a_place else None


def _gone_on_with(deeds: Deeds, index: int, amount: Quantity) -> Mention | None:
    """ "walked half an hour, sat, then half an hour again": more of what was done before the rest."""
    reply = deeds.reply
    rest = deeds.mentions[index]
    between = set(reply.said(rest.last, amount.first))
    more = reply.text(amount.last) in _MORE or not _MORE.isdisjoint(between)
    if not more or not between & ({"then"} if rest.amounts else {"then", "and", ","}):
        return None
    deed = deeds.earlier_done(index - 1, reply.sentence[amount.first]) if index else None
    return deed if deed is not None and any(q.kind == amount.kind for q in deed.amounts) else None


def has_amount_after(deeds: Deeds, after: Mention, index: int) -> bool:
    upper = deeds.mentions[index + 1].first if index + 1 < len(deeds.mentions) else len(deeds.reply.row)
    amounts = deeds.reply.amounts
    at = bisect_left(amounts, after.last, key=lambda q: q.first)
    return (
        at < len(amounts)
        and amounts[at].last <= upper
        and amounts[at].kind in MEASURES
        and _BETWEEN_ACTIVITY_AND_AMOUNT.issuperset(deeds.reply.said(after.last, amounts[at].first))
    )


def stairs_of(deeds: Deeds, amount: Quantity, before: Mention | None, after: Mention | None) -> Mention | None:
    reply = deeds.reply
    floors = not _FLOORS.isdisjoint(reply.said(amount.first, amount.last))
    if floors and any(each is not None and each.kind == HOUSEWORK for each in (before, after)):
        return None  # "hoovered two floors and the stairs"
    amount_up = reply.text(amount.last) in {"up", "down"} and not floors  # not "I live 3 floors up"
    flights = amount_up or any(
        each in {"flight", "flights", "storeys"} for each in reply.said(amount.first, amount.last)
    )
    for each in (after, before):
        if each is not None and each.kind == STAIRS and reply.sentence[each.first] == reply.sentence[amount.first]:
            return each
    if not flights:
        return None
    made = Mention("activity", STAIRS, amount.first, amount.last)
    deeds.insert(made)
    return made


def steps_alone(deeds: Deeds, amount: Quantity, index: int) -> bool:
    """Steps belong to a walk or a run of the same sentence, or are a walk by themselves."""
    reply = deeds.reply
    here = bisect_left(deeds.firsts, amount.first)
    near = [
        each
        for each in deeds.mentions[max(0, here - 2) : here + 2]
        if reply.sentence[each.first] == reply.sentence[amount.first] and each.group == "activity" and not each.denied
    ]
    fitting = [each for each in near if each.kind in {WALKING, RUNNING, HILLS} and not each.ignored]
    if fitting:
        return False
    reply.used.add(index)
    made = Mention("activity", WALKING, amount.first, amount.last)
    made.amounts.append(amount)
    inside = deeds.mentions[here] if here < len(deeds.mentions) and deeds.mentions[here].first < amount.last else None
    if inside is not None and inside.kind == WALKING:
        inside.amounts.append(amount)
    else:
        deeds.insert(made)
    return True


def says_when(deeds: Deeds, amount: Quantity) -> bool:
    """ "an hour later", "5 minutes late": says when, not how long."""
    reply = deeds.reply
    after = reply.text(amount.last)
    if after in {"ago", "early", "late"} or (after == "earlier" and not deeds.beside_last(amount)):
        return True
    if after == "later":
        return True
    if (
        amount.value == 1
        and reply.text(amount.first) in {"1", "one"}
        and "next" in reply.said(amount.last, amount.last + 6)
    ):
        return True  # "boiling one minute, freezing the next"
    if reply.text(amount.last) == "in" and reply.text(amount.last + 1) == "seat":
        return True  # "11 hours in seat 32B"
    if reply.text(amount.first - 1) in {"every"}:
        return True
    return (
        amount.kind == "minutes"
        and after in {"after", "before", "into"}
        and reply.text(amount.last + 1) in _EVENTS_AFTER_A_TIME
        and reply.text(amount.last + 1) != "a"
        and not deeds.beside_last(amount)
    )


def exercise_held(
    deeds: Deeds, amount: Quantity, before: Mention | None, after: Mention | None, index: int
) -> Mention | None:
    reply = deeds.reply
    sentence = reply.sentence[amount.first]
    for each in (before, after):
        if (
            each is not None
            and each.group == "exercise"
            and not each.denied
            and reply.sentence[each.first] == sentence
            and (each is before or each.first - amount.last <= 6)
        ):
            if each.kind == HEEL_RAISE and any(m.kind == TOE_HOLD for m in deeds.mentions_around(each)):
                continue
            return each
    if before is not None and before.group == "activity" and reply.sentence[before.first] == sentence:
        reply.used.add(index)
        before.amounts.append(Quantity("minutes", amount.first, amount.last, amount.value / 60))
        return None
    if (
        after is not None
        and after.group == "activity"
        and reply.sentence[after.first] == sentence
        and _BETWEEN_AMOUNT_AND_ACTIVITY.issuperset(reply.said(amount.last, after.first))
    ):
        reply.used.add(index)
        after.amounts.append(Quantity("minutes", amount.first, amount.last, amount.value / 60))
    return None


def minutes_held(deeds: Deeds, amount: Quantity, each: Mention, index: int) -> Mention | None:
    deeds.reply.used.add(index)
    if each.kind != TOE_HOLD:
        return None  # "raises for five minutes": how long is not kept
    goes = round(amount.value / amount.parts[0]) if len(amount.parts) == 1 else 1
    kind = "hold" if goes > 1 else "seconds"
    each.amounts.append(Quantity(kind, amount.first, amount.last, amount.value * 60 / goes, goes))
    return None


def another_leg(deeds: Deeds, amount: Quantity, index: int, before: Mention, gap: list[str]) -> bool:
    """ "25 minutes there, 30 back", "10 min in the morning, 15 at night": another part of the same."""
    reply = deeds.reply
    following = reply.text(amount.last)
    parts = before.amounts[-4:]
    if not parts and following in _WAYS_HOME and not gap:
        parts = _of_the_same_before(deeds, before)
    done = [q for q in parts if q.kind in {"minutes", "km", "count"}]
    if not done or amount.first - done[-1].last > 8:
        return False
    in_hours = following in _WAYS_HOME and done[-1].value >= _IN_HOURS
    if amount.value < (3 if done[-1].kind == "minutes" and not in_hours else 1):
        return False
    if done[-1].kind == "count" and following in {"up", "down"} and reply.text(amount.last + 1) not in _UP_FROM:
        reply.used.add(index)
        before.amounts.append(Quantity("count", amount.first, amount.last, amount.value))
        return True  # "4 flights up, 4 down"
    gap_words = set(reply.said(done[-1].last, amount.first))
    gone_back = (
        bool({"back", "return", "home"} & gap_words)
        and (reply.text(amount.first - 1) != "," or amount.value > _SURELY_NO_SCORE)
        and gap_words <= _WAY_BACK_GAP
    )
    if not gone_back and following not in _AFTER_NUMBER_OF_A_SECOND_LEG:
        return False
    if reply.asked is MORNING and amount.kind == "number" and amount.value <= 10 and following in _OF_NOW:
        return False  # "danced for two hours last night, 5 this morning": the score
    when = {reply.text(amount.last + 1), reply.text(amount.last + 2)} & _PARTS_OF_THE_DAY
    small = amount.value <= 10 and not gone_back and not when and following not in _SURELY_A_SECOND_LEG
    flights = done[-1].kind == "count" and "and" in gap_words
    if small and not flights and (reply.asked is MORNING or not {"and", "then", "plus"} & gap_words):
        return False  # "walked 20 min, 5 after": more likely the score
    if not gone_back and not flights and following in _PREPOSITIONS_OF_TIME:
        then = {reply.text(amount.last + 1), reply.text(amount.last + 2)}
        if not then & _PARTS_OF_THE_DAY:
            return False
    between = reply.said(done[-1].last, amount.first)
    if _ENDS_A_WALK & set(between):
        return False
    reply.used.add(index)
    unit = next(
        (reply.words.units[each][1] for each in reply.said(done[-1].first, done[-1].last) if each in reply.words.units),
        1.0,
    )
    before.amounts.append(Quantity(done[-1].kind, amount.first, amount.last, amount.value * unit))
    return True


def _of_the_same_before(deeds: Deeds, each: Mention) -> list[Quantity]:
    """ "drove 3 hours, drove 3 back": the amounts of the mention before, where it is of the same."""
    at = bisect_left(deeds.firsts, each.first) - 1
    same = at >= 0 and (deeds.mentions[at].group, deeds.mentions[at].kind) == (each.group, each.kind)
    return deeds.mentions[at].amounts[-4:] if same else []


def self_starting(gap: list[str]) -> frozenset[str]:
    """Words that begin a new statement before an amount."""
    return frozenset(_BEGINS_A_STATEMENT)
