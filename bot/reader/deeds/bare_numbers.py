"""Numbers without a unit beside something done: minutes, repetitions, flights, or left for the scores."""

from __future__ import annotations

from bisect import bisect_left

from bot.reader.deeds.activity_amounts import another_leg
from bot.reader.deeds.mentions import Deeds, Mention, in_the_past, replace_kind
from bot.reader.deeds.repetitions import (
    earlier_goes,
    further_goes,
    goes_at_times,
    goes_before_times,
    goes_follow,
    same_again_follows,
    thrice_the_same,
)
from bot.reader.members import EVENING, MORNING, RUNNING, STAIRS, WALKING
from bot.reader.quantities import Quantity
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFTER_NUMBER_EACH_SIDE = listed["deeds", "after_number_each_side"]
_AS_PRESCRIBED = listed["deeds", "as_prescribed"]
_BETWEEN_ACTIVITY_AND_AMOUNT_OR_BETWEEN_ACTIVITY_AND_NUMBER = listed[
    "deeds", "between_activity_and_amount", "between_activity_and_number"
]
_BETWEEN_AMOUNT_AND_ACTIVITY = listed["deeds", "between_amount_and_activity"]
_BETWEEN_EXERCISE_AND_NUMBER = listed["deeds", "between_exercise_and_number"]
_BETWEEN_WALK_AND_MORE = listed["deeds", "between_walk_and_more"]
_CUT_DOWN_BEFORE_DEED = listed["deeds", "cut_down_before_deed"]
_GOES_ON_WITH_MORE = listed["deeds", "goes_on_with_more"]
_GOES_ONE_BY_ONE = listed["deeds", "goes_one_by_one"]
_ENDS_OWN_NUMBER = listed["deeds", "ends_own_number"]
_SAYS_WHAT_OTHERS_DO = listed["deeds", "says_what_others_do"]
_GOES_ON_AFTER_A_BARE_TIME = listed["deeds", "goes_on_after_a_bare_time"]
_STOPS_A_WALK = listed["deeds", "stops_a_walk"]
_OPENS_A_PLACE = listed["deeds", "opens_where_it_was"]
_DONE_FOR_SO_MANY_PEOPLE = listed["deeds", "done_for_so_many_people"]
_ONE_MORE = listed["deeds", "names_the_last_go"] | {"another", "extra", "other"}
_OWN_NUMBER = listed["deeds", "own_number"]
_QUIT_BEFORE_AMOUNT = listed["deeds", "quit_before_amount"]
_SAYS_WHEN_BEFORE_DEED = listed["deeds", "says_when_before_deed"]
_WAYS_OF_GOING = listed["deeds", "ways_of_going"]
_WORDS_OF_THEM = listed["deeds", "words_of_them"]
_WORDS_OF_YES = listed["deeds", "words_of_yes"]

_SAYS_DID = listed["deeds", "says_did"]
_SUCH_AND_SO = listed["deeds", "such_and_so"]
_WAYS_AND_ENDS = listed["deeds", "such_and_so", "ends_own_number"] | {"way", "ways"}

_LONGEST_PLACE = 7
_LONGEST_ON_IT = 120
_ON_IT = (["on", "the"], ["on", "a"], ["on", "my"], ["of"])
_BEFORE_SO_LONG_ON_IT = listed["deeds", "ends_own_number", "own_number", "goes_one_by_one"]
_FEWEST_RAISES = 5
_SURELY_NO_SCORE = 10


def bare_number(
    deeds: Deeds,
    amount: Quantity,
    index: int,
    before: Mention | None,
    after: Mention | None,
    gap_before: list[str],
    next_to: bool,
) -> None:
    reply = deeds.reply
    here = bisect_left(deeds.firsts, amount.last)
    named = deeds.mentions[here] if here < len(deeds.mentions) and deeds.firsts[here] == amount.last else None
    if (
        named is not None
        and named.group == "activity"
        and (named.kind in {WALKING, RUNNING} or in_a_list(deeds, index))
        and named.kind != STAIRS
        and amount.value >= 10
        and not named.denied
        and named.last - named.first == 1
        and reply.row[amount.first].kind is Kind.NUMBER
        and reply.text(amount.first - 1) in {"", ".", ",", ";", "and", "a"}
        and not in_the_past(reply.text(named.first))
    ):
        reply.used.add(index)
        named.amounts.append(replace_kind(amount, "minutes"))  # "25 walk 30 raise"
        return
    if (
        before is not None
        and before.group == "activity"
        and not before.denied
        and another_leg(deeds, amount, index, before, gap_before)
    ):
        return
    if before is not None and before.group == "activity" and _some_more(deeds, before, amount):
        reply.used.add(index)
        before.amounts.append(replace_kind(amount, "minutes"))
        return
    if amount.value < 1 or not float(amount.value).is_integer():
        return
    timed = deeds.reply.amounts[index - 1] if index else None
    if (
        (after is None or after.group != "exercise")
        and timed is not None
        and timed.kind == "minutes"
        and (
            (reply.text(amount.last) == "of" and amount.value >= 5)
            or (reply.text(amount.last) in {"on", "in"} and amount.value > _SURELY_NO_SCORE)
        )
    ):
        nxt = bisect_left(deeds.firsts, amount.last)
        deed = deeds.mentions[nxt] if nxt < len(deeds.mentions) else None
        if (
            deed is not None
            and deed.group == "activity"
            and _BETWEEN_AMOUNT_AND_ACTIVITY.issuperset(reply.said(amount.last, deed.first))
        ):
            reply.used.add(index)
            deed.amounts.append(replace_kind(amount, "minutes"))  # "30 mins of ironing and 20 of hoovering"
            return
    if _so_long_on_it(deeds, amount, after):
        reply.used.add(index)
        return
    if (
        next_to
        and after is not None
        and not after.denied
        and (not before or before.group != "exercise" or before.amounts or amount.last == after.first)
    ):
        if reply.text(amount.first - 1) in {"worst", "pain", "/"} and amount.value <= 10:
            return
        reply.used.add(index)
        earlier_goes(deeds, after, index)
        after.amounts.append(in_equal_parts(amount))
        further_goes(deeds, after, index)
        return
    if before is None and reply.text(amount.last) == "of" and reply.text(amount.last + 1) == "them":
        here = bisect_left(deeds.firsts, amount.first)
        earlier = next(
            (each for each in reversed(deeds.mentions[max(0, here - 3) : here]) if each.group != "not_loading"), None
        )
        if (
            earlier is not None
            and earlier.group == "exercise"
            and not earlier.amounts
            and reply.sentence[amount.first] - reply.sentence[earlier.last - 1] == 1
        ):
            before = earlier
    if amount.each and (before is None or before.group == "not_loading"):
        before = _exercise_before(deeds, amount) or before  # "30 raises over three breaks, ten at a time"
    if before is None and _told_of_oneself(deeds, amount, index):
        return
    own = {"i", "did", "managed", "made"} & set(gap_before[-4:])
    if (
        before is not None
        and before.group == "exercise"
        and "i" in own
        and len(own) > 1
        and amount.value >= 5
        and set(gap_before[gap_before.index("i") :]) <= _OWN_NUMBER
    ):
        before.amounts = [replace_kind(amount, "reps")]  # "he reckons 20 raises is plenty, I did 30"
        before.ignored = before.denied = False
        reply.used.add(index)
        return
    if before is not None and before.denied and before.group != "not_loading":
        if "but" in gap_before[-4:] and reply.text(amount.first - 1) in _QUIT_BEFORE_AMOUNT:
            # "was going to walk 10 but did 5"
            before.denied = False
            reply.used.add(index)
            before.amounts.append(replace_kind(amount, "minutes" if before.group == "activity" else "reps"))
        elif not gap_before and before.kind in _WAYS_OF_GOING:
            reply.used.add(index)
        return
    if before is None or before.denied or before.ignored:
        return
    if amount.each and _so_many_at_a_time(before, amount):
        reply.used.add(index)
        return
    if only_amount_of_a_walk(deeds, before, amount, gap_before):
        reply.used.add(index)
        if amount.value >= 5:
            before.amounts.append(replace_kind(amount, "minutes"))  # "walk 4" may be the score: asked back
        return
    if (
        before.group == "exercise"
        and not before.amounts
        and (goes_at_times(deeds, before, index) or goes_before_times(deeds, before, index))
    ):
        return
    taken = (
        {each for q in before.amounts[-4:] for each in reply.said(q.first, q.last)}
        if before.group == "exercise"
        else set()
    )
    plain = [
        each
        for each in gap_before
        if each not in _BETWEEN_EXERCISE_AND_NUMBER and not (taken and (each in taken or each == "in"))
    ]
    x = plain[-1:] == ["x"] or plain == ["times"]
    if before.group == "exercise":
        of_them = reply.text(amount.last) == "of" and reply.text(amount.last + 1) in _WORDS_OF_THEM
        other = reply.text(amount.first - 1) in {"other", "remaining"} and bool(before.amounts)
        sided = plain == [","] and reply.text(amount.last) in _AFTER_NUMBER_EACH_SIDE
        sided = sided or (len(plain) == 2 and plain[0] in {"each", "per"} and amount.value >= 5)  # "raises each leg 12"
        ends = reply.text(amount.last) in {"", ",", "."}
        apart = plain == [","] or _where_it_was(plain)
        behind_a_comma = apart and amount.value > 10 and ends and not before.amounts
        behind_a_comma |= apart and not before.amounts and thrice_the_same(deeds, index)
        more_of_them = (
            reply.text(amount.last) == "more" and bool(before.amounts) and reply.text(amount.last + 1) != "than"
        )
        parted = "of" in reply.said(amount.first, amount.last) or amount.value > 10
        reduced = sided or (amount.last - amount.first > 1 and plain == [","] and parted)
        if (
            (not plain and (amount.value > 10 or goes_follow(deeds, index)))
            or (plain == [","] and same_again_follows(deeds, index))
            or behind_a_comma
            or more_of_them
            or (x and len(plain) <= 5 and "," not in plain)
            or of_them
            or other
            or (reply.text(amount.last) == "more" and bool(before.amounts) and reply.text(amount.last + 1) != "than")
            or reduced
        ):
            if amount.value <= 10 and reply.text(amount.last) in {"/"}:
                return
            reply.used.add(index)
            before.amounts.append(in_equal_parts(amount))
            further_goes(deeds, before, index)
        return
    if before.group != "activity":
        return
    if before.kind == STAIRS and x and amount.value <= 60:
        reply.used.add(index)
        before.amounts.append(replace_kind(amount, "count"))
        return
    # "walked 10", "walk: 20", "another twelve": minutes without their unit.
    if before.kind == STAIRS or (
        any(q.kind == "minutes" for q in before.amounts[-4:]) and not {"another", "then", "and"} & set(gap_before)
    ):
        return
    allowed = _BETWEEN_ACTIVITY_AND_AMOUNT_OR_BETWEEN_ACTIVITY_AND_NUMBER - {"the"}
    if set(gap_before) & _AS_PRESCRIBED:
        allowed |= {"the", "my"}
    linking = [each for each in gap_before if each not in allowed]
    if (
        gap_before[-1:] == ["("]
        and reply.text(amount.last) == ","
        and amount.value >= 5
        and not deeds.mention_between(before.last, amount.first)
    ):
        linking = []
    following = reply.text(amount.last)
    went_so_long = before.kind in _WAYS_OF_GOING and amount.value > _SURELY_NO_SCORE
    if went_so_long and gap_before[-1:] == ["for"] and _STOPS_A_WALK.isdisjoint(gap_before):
        linking = []  # "walked the prom for 50"
    goes_on = went_so_long and not gap_before and following in _GOES_ON_AFTER_A_BARE_TIME
    if (
        following
        and reply.row[amount.last].kind is Kind.WORD
        and following not in reply.words.score_filler
        and not goes_on
    ):
        return
    if following in {"/", "%"} or amount.value > 240:
        return
    more = "another" in gap_before
    if more and not [each for each in gap_before if each not in allowed | _BETWEEN_WALK_AND_MORE]:
        linking = []
    stated = (
        amount.value >= 10
        or (":" in gap_before and not (reply.asked is MORNING and amount.value <= 10))
        or "for" in gap_before
        or (amount.value >= 5 and other_scores(deeds, index))
    )
    if gap_before == ["for"] and reply.text(before.first) in _DONE_FOR_SO_MANY_PEOPLE:
        return  # "cooked for twelve"
    if _SAYS_WHEN_BEFORE_DEED & set(reply.said(max(0, before.first - 3), before.first)) and amount.value <= 10:
        return
    if _WORDS_OF_YES & set(gap_before):
        linking = [each for each in linking if each != ","]
    if (
        linking == ["to"]
        and amount.value >= 10
        and _CUT_DOWN_BEFORE_DEED & set(reply.said(max(0, before.first - 3), before.first))
    ):
        linking = []
    if linking or not stated or {"was", "is", "it"} & set(gap_before) or ("and" in gap_before and not more):
        return
    if amount.value < 10 and ("a" in gap_before or "at" in gap_before or ("," in gap_before)):
        return
    reply.used.add(index)
    before.amounts.append(replace_kind(amount, "minutes"))


def _so_long_on_it(deeds: Deeds, amount: Quantity, after: Mention | None) -> bool:
    """ "30 on the treadmill", "did 40 on the bike": minutes without their unit."""
    reply = deeds.reply
    if after is None or after.group != "activity" or after.denied or amount.value <= _SURELY_NO_SCORE:
        return False
    if after.kind not in _WAYS_OF_GOING or after.amounts or amount.value > _LONGEST_ON_IT:
        return False
    if reply.said(amount.last, after.first) not in _ON_IT or reply.text(amount.first - 1) not in _BEFORE_SO_LONG_ON_IT:
        return False
    after.amounts.append(replace_kind(amount, "minutes"))
    return True


def _exercise_before(deeds: Deeds, amount: Quantity) -> Mention | None:
    """The exercise last named in the sentence, where its repetitions are known."""
    here = bisect_left(deeds.firsts, amount.first)
    for each in deeds.mentions_backwards(here - 1, deeds.reply.sentence[amount.first]):
        if each.group != "not_loading":
            return each if each.group == "exercise" and not each.denied and each.amounts else None
    return None


def _so_many_at_a_time(before: Mention, amount: Quantity) -> bool:
    """ "36 raises, 12 at a time": sets of so many."""
    done = before.amounts[-1] if before.amounts and before.group == "exercise" else None
    if done is None or done.kind != "reps" or not 1 < amount.value < done.value or done.value % amount.value:
        return False
    sets = int(done.value // amount.value)
    before.amounts[-1] = Quantity("sets", done.first, amount.last, amount.value, sets)
    return True


def _some_more(deeds: Deeds, before: Mention, amount: Quantity) -> bool:
    """ "walked 20 min then another 20 because she would not sleep": more minutes of the same."""
    reply = deeds.reply
    last = before.amounts[-1] if before.amounts else None
    if last is None or last.kind != "minutes" or before.denied or reply.text(amount.first - 1) not in _ONE_MORE:
        return False
    if reply.said(amount.first - 2, amount.first) == ["the", "last"]:
        return False  # "walked 20 min, the last 10 uphill": a part of it
    between = set(reply.said(last.last, amount.first)).difference(reply.said(before.first, before.last))
    return between <= _GOES_ON_WITH_MORE | _ONE_MORE and reply.text(amount.last) not in {"/", "%"}


def _told_of_oneself(deeds: Deeds, amount: Quantity, index: int) -> bool:
    """ "My husband did 40 raises. I did 20", "they said ten raises. I managed eight"."""
    reply = deeds.reply
    first = reply.sentence_spans[reply.sentence[amount.first]][0]
    asked = reply.text(first - 1) == "?"
    if (
        not (reply.text(first) == "i" or (asked and reply.text(first) in _SAYS_DID))
        or amount.first - first > _LONGEST_PLACE
    ):
        return False
    opening = reply.said(first, amount.first)
    here = bisect_left(deeds.firsts, amount.first)
    if (
        not _OWN_NUMBER.issuperset(opening)
        or len(opening) < (1 if asked else 2)
        or amount.value < _FEWEST_RAISES
        or not (reply.text(amount.last) in _ENDS_OWN_NUMBER or (asked and _that_way(reply, amount.last)))
        or not here
    ):
        return False
    each = deeds.mentions[here - 1]
    if each.group != "exercise" or reply.sentence[first] - reply.sentence[each.last - 1] != 1:
        return False
    told = not _SAYS_WHAT_OTHERS_DO.isdisjoint(reply.said(*reply.sentence_spans[reply.sentence[each.first]]))
    if each.amounts and not (each.ignored or each.denied or told):
        return False
    each.amounts = [replace_kind(amount, "reps")]
    each.ignored = each.denied = False
    reply.used.add(index)
    return True


def _that_way(reply: Reply, at: int) -> bool:
    """ "Is it ok to do raises in clogs? Did 20 that way"."""
    return reply.text(at) in _SUCH_AND_SO and reply.text(at + 1) in _WAYS_AND_ENDS


def _where_it_was(between: list[str]) -> bool:
    """ "raises in the back pew, 12": a place, and a comma behind it."""
    return (
        3 <= len(between) <= _LONGEST_PLACE
        and between[0] in _OPENS_A_PLACE
        and "," not in between[:-1]
        and between[-1] == ","
        and not any(in_the_past(word) for word in between)
    )


def in_equal_parts(amount: Quantity) -> Quantity:
    """Repetitions; what was added up from equal parts is sets: "15 + 15"."""
    if len(amount.parts) > 1 and len(set(amount.parts)) == 1:
        return Quantity("sets", amount.first, amount.last, amount.parts[0], len(amount.parts))
    return replace_kind(amount, "reps")


def only_amount_of_a_walk(deeds: Deeds, before: Mention, amount: Quantity, gap_before: list[str]) -> bool:
    """ "walk 9", "walked 9" in the evening: nothing but a walk and a number right behind it, which is no score."""
    reply = deeds.reply
    return (
        reply.asked is EVENING
        and not gap_before
        and before.kind in _WAYS_OF_GOING
        and not before.amounts
        and len(reply.amounts) == 1
        and reply.text(before.first - 1) in {"", "i", "we", "just", "only", ".", ","}
        and reply.text(amount.last) in {"", "."}
    )


def in_a_list(deeds: Deeds, index: int) -> bool:
    """Whether the amount before is minutes, with a comma or "and" after what was done: "45 min spin, 15 rowing"."""
    amounts, reply = deeds.reply.amounts, deeds.reply
    before = amounts[index - 1] if index else None
    return (
        before is not None
        and before.kind == "minutes"
        and amounts[index].first - before.last <= 5
        and reply.text(amounts[index].first - 1) in _GOES_ONE_BY_ONE
    )


def other_scores(deeds: Deeds, index: int) -> bool:
    """Whether another number could be the score of the reply."""
    amounts = deeds.reply.amounts
    return any(q.kind == "score" or (q.kind == "number" and q.value <= 10) for q in amounts[index + 1 : index + 8])
