"""Which sets, repetitions and holds belong to which exercise."""

from __future__ import annotations

from bisect import bisect_left

from bot.reader.deeds.bare_numbers import bare_number
from bot.reader.deeds.denial import asked_or_planned, only_said
from bot.reader.deeds.mentions import Deeds, Mention, replace_kind
from bot.reader.deeds.repetitions import further_goes, goes_counted
from bot.reader.members import HEEL_RAISE, MORNING, SPORT, STAIRS, TOE_HOLD
from bot.reader.quantities import Quantity
from bot.reader.vocabulary import listed

_AFTER_BARE_SETS = listed["deeds", "after_bare_sets"]
_BETWEEN_NUMBER_AND_EXERCISE = listed["deeds", "between_number_and_exercise"]
_BEFORE_HELD = frozenset({":", "-", "of", "for", "did", "("})
_SHORTEST_HOLD = 10


def assign_exercise(deeds: Deeds, amount: Quantity, index: int) -> None:
    if not deeds.mentions and amount.kind in {"number", "times"}:
        return  # nothing is named that it could belong to
    reply = deeds.reply
    here = bisect_left(deeds.firsts, amount.first)
    nxt = bisect_left(deeds.firsts, amount.last)
    sentence = reply.sentence[amount.first]
    inside = deeds.mentions[here] if here < nxt and deeds.mentions[here].group == "exercise" else None
    before = deeds.mentions[here - 1] if here and reply.sentence[deeds.mentions[here - 1].first] == sentence else None
    if before is not None and before.group == "not_loading" and reply.text(amount.last) == "more":
        # "25 raises, rested, 25 more"
        before = next(
            (each for each in deeds.mentions_backwards(here - 1, sentence) if each.group == "exercise"), before
        )
    after = (
        deeds.mentions[nxt]
        if nxt < len(deeds.mentions) and reply.sentence[deeds.mentions[nxt].first] == sentence
        else None
    )
    gap_before = (
        reply.said(before.last, amount.first) if before is not None and amount.first - before.last <= 12 else [" "]
    )
    gap_after = reply.said(amount.last, after.first) if after is not None and after.first - amount.last <= 12 else [" "]
    next_to = after is not None and after.group == "exercise" and _BETWEEN_NUMBER_AND_EXERCISE.issuperset(gap_after)
    if amount.kind == "number":
        bare_number(deeds, amount, index, before, after, gap_before, next_to)
        return
    if amount.kind == "times":
        times_done(deeds, amount, index, before, after, gap_before, gap_after, next_to)
        return
    amount = _held(amount, before, gap_before)
    target: Mention | None = inside
    if target is None and next_to:
        target = after
        fits = (
            before is not None
            and before.group == "exercise"
            and not before.amounts
            and not before.denied
            and not ({","} & set(gap_before))
            and is_hold(deeds, before) == (amount.kind == "hold")
        )
        if fits and amount_follows(deeds, after):
            target = before
    if target is None:
        for each in deeds.mentions_backwards(here - 1, sentence):
            if (
                each.group == "exercise"
                and not each.denied
                and not (each.ignored and "i" in reply.said(each.last, amount.first))
                and (is_hold(deeds, each) == (amount.kind == "hold") or amount.kind == "setcount")
            ):
                target = each
                break
    if (
        target is None
        and after is not None
        and after.group == "exercise"
        and after.first - amount.last <= 6
        and is_hold(deeds, after) == (amount.kind == "hold")
    ):
        target = after
    if target is None:
        # "Raises? Yes, 3x10": the sentence before; in a list, the lines before.
        earlier = sentence - 1
        if (
            here
            and deeds.mentions[here - 1].last <= amount.first
            and not {".", "?"} & set(reply.said(max(deeds.mentions[here - 1].last, amount.first - 12), amount.first))
        ):
            earlier = reply.sentence[deeds.mentions[here - 1].first]
        for each in deeds.mentions_backwards(here - 1, earlier):
            if (
                each.group == "exercise"
                and not each.amounts
                and not each.denied
                and is_hold(deeds, each) == (amount.kind == "hold")
            ):
                target = each
                target.ignored = target.ignored and "i" not in reply.said(each.last, amount.first)
            break
    if target is not None and not target.denied:
        reply.used.add(index)
        if amount.kind == "setcount" and goes_counted(deeds, target, index):
            return
        target.amounts.append(amount)
        if amount.kind in {"sets", "reps"}:
            further_goes(deeds, target, index)
        return
    if amount.kind == "sets" and (of_what_was_not_done(before, gap_before) or of_what_was_not_done(after, gap_after)):
        reply.used.add(index)
        return
    if amount.kind == "setcount" and reply.asked is not MORNING:
        made = Mention("exercise", HEEL_RAISE, amount.first, amount.last)
        if goes_counted(deeds, made, index):
            reply.used.add(index)
            deeds.insert(made)  # "3 sets 12, 12, 10"
            return
    if (
        reply.asked is not MORNING
        and amount.kind in {"sets", "hold", "reps", "setcount"}
        and (amount.kind != "setcount" or stands_bare(deeds, amount))
    ):
        reply.used.add(index)
        kind = TOE_HOLD if amount.kind == "hold" else HEEL_RAISE
        made = Mention("exercise", kind, amount.first, amount.last)
        made.amounts.append(amount)
        deeds.look_up_scope()
        # "my wife did her 3x12", "tomorrow I will do 3x12"
        made.ignored = only_said(deeds, made) or asked_or_planned(deeds, made)
        if amount.kind in {"sets", "reps"}:
            further_goes(deeds, made, index)
        deeds.insert(made)


def _held(amount: Quantity, before: Mention | None, gap: list[str]) -> Quantity:
    """ "toe holds 3 x 30": seconds, where no unit is said."""
    of_a_hold = before is not None and before.kind == TOE_HOLD and not before.amounts and set(gap) <= _BEFORE_HELD
    if amount.kind != "sets" or not of_a_hold or amount.value < _SHORTEST_HOLD:
        return amount
    return replace_kind(amount, "hold")


def of_what_was_not_done(each: Mention | None, gap: list[str]) -> bool:
    """ "supposed to do 3x12 raises but did the garden"."""
    return each is not None and each.group == "exercise" and each.denied and not gap


def amount_follows(deeds: Deeds, after: Mention | None) -> bool:
    if after is None:
        return False
    amounts = deeds.reply.amounts
    at = bisect_left(amounts, after.last, key=lambda q: q.first)
    return (
        at < len(amounts)
        and amounts[at].first - after.last <= 1
        and amounts[at].kind in {"sets", "hold", "reps", "seconds"}
    )


def stands_bare(deeds: Deeds, amount: Quantity) -> bool:
    after = deeds.reply.text(amount.last)
    index = bisect_left(deeds.firsts, amount.first) - 1
    if (
        index >= 0
        and deeds.mentions[index].kind == SPORT
        and deeds.reply.sentence[deeds.mentions[index].first] == deeds.reply.sentence[amount.first]
    ):
        return False
    return after in _AFTER_BARE_SETS and bool({"sets", "set"} & set(deeds.reply.said(amount.first, amount.last)))


def is_hold(deeds: Deeds, each: Mention) -> bool:
    return each.kind == TOE_HOLD


def times_done(
    deeds: Deeds,
    amount: Quantity,
    index: int,
    before: Mention | None,
    after: Mention | None,
    gap_before: list[str],
    gap_after: list[str],
    next_to: bool,
) -> None:
    reply = deeds.reply
    value = int(amount.value)
    near_before = (
        before is not None
        and len(gap_before) <= 6
        and (gap_before.count(",") <= 1 and (not gap_before or gap_before[0] != "," or before.amounts != []))
    )
    if before is None:
        here = bisect_left(deeds.firsts, amount.first)
        earlier = deeds.mentions[here - 1] if here else None
        if (
            earlier is not None
            and earlier.group == "exercise"
            and earlier.amounts
            and deeds.reply.sentence[amount.first] - deeds.reply.sentence[earlier.last - 1] == 1
        ):
            before, near_before = earlier, True
    for each, near in ((before, near_before), (after, after is not None and len(gap_after) <= 6)):
        if each is None or not near or each.denied:
            continue
        if each.kind == STAIRS and not any(q.kind == "count" for q in each.amounts):
            reply.used.add(index)
            each.amounts.append(replace_kind(amount, "count"))
            return
        if each.group == "exercise" and value >= 1:
            holds = [q for q in each.amounts if q.kind in {"seconds"}]
            reply.used.add(index)
            if holds:
                each.amounts.remove(holds[0])
                each.amounts.append(Quantity("hold", holds[0].first, amount.last, holds[0].value, value))
            elif 2 <= value <= 12 and [q.kind for q in each.amounts] == ["reps"]:
                each.amounts[0] = Quantity("sets", each.amounts[0].first, amount.last, each.amounts[0].value, value)
            elif value >= 4 and (not each.amounts or [q.kind for q in each.amounts] == ["setcount"]):
                each.amounts.append(replace_kind(amount, "reps"))
            return
        if each.group == "activity" and len(each.amounts) == 1 and each.amounts[0].each and value <= 12:
            done = each.amounts[0]
            each.amounts[0] = Quantity(done.kind, done.first, done.last, done.value * value)
            reply.used.add(index)
            return
