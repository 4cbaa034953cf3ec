"""Each amount of the reply to the deed that it belongs to."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace

from bot.reader.deeds.activity_amounts import activity_of, says_when, steps_alone
from bot.reader.deeds.exercise_amounts import assign_exercise
from bot.reader.deeds.mentions import Deeds, Mention, replace_kind, replace_total
from bot.reader.deeds.settling import is_settling, settled_in_number
from bot.reader.quantities import Quantity
from bot.reader.vocabulary import listed

_THE_AMOUNT_SO_FAR = listed["deeds", "the_amount_so_far"]
_OPENS_A_PART = (["the", "last"], ["the", "final"], ["the", "first"], ["of", "which"])


def eased_in_seconds(deeds: Deeds, amount: Quantity) -> bool:
    """ "thirty seconds and gone", where no exercise is held."""
    return (
        amount.kind == "seconds"
        and not any(label.startswith("exercise ") for label in deeds.reply.phrases)
        and is_settling(deeds, amount)
    )


def sums_up(deeds: Deeds, amount: Quantity) -> bool:
    """ "bike 20 min, walk 10 min, so 30 min in all": the sum of different deeds is none of them."""
    reply = deeds.reply
    if not amount.total and reply.text(amount.first - 1) not in _THE_AMOUNT_SO_FAR:
        return False
    before = [
        each
        for each in deeds.last_mentions(amount.first)
        if each.group == "activity" and reply.sentence[each.first] == reply.sentence[amount.first]
    ]
    if len({each.kind for each in before}) < 2:
        return False
    said = [q.value for each in before for q in each.amounts[-4:] if q.kind == amount.kind]
    return len(said) > 1 and sum(said) == amount.value


def _part_of_it(deeds: Deeds, amount: Quantity, target: Mention) -> bool:
    """ "walked for an hour, the last 10 min hurt": a part of what was said before."""
    if not target.amounts or deeds.reply.said(amount.first - 2, amount.first) not in _OPENS_A_PART:
        return False
    return any(q.kind == amount.kind and q.value >= amount.value for q in target.amounts[-2:])


def assign_amounts(deeds: Deeds) -> None:
    """Give each amount to the deed that it belongs to."""
    reply = deeds.reply
    for index, amount in enumerate(reply.amounts):
        if index in reply.used:
            continue
        if amount.kind in {"minutes", "km", "steps", "count", "seconds"}:
            if eased_in_seconds(deeds, amount):
                amount = replace_kind(amount, "minutes", 1 / 60)
            if amount.kind == "minutes" and is_settling(deeds, amount):
                reply.used.add(index)
                deeds.settle.append(amount)
                reply.note("settle_minutes", amount.first, amount.last)
                continue
            if says_when(deeds, amount):
                reply.used.add(index)
                continue
            if amount.kind == "steps" and steps_alone(deeds, amount, index):
                continue
            if amount.kind in {"minutes", "km"} and sums_up(deeds, amount):
                reply.used.add(index)
                continue
            target = activity_of(deeds, amount, index)
            if target is not None:
                reply.used.add(index)
                if _part_of_it(deeds, amount, target):
                    continue
                if reply.text(amount.first - 1) in _THE_AMOUNT_SO_FAR and any(
                    q.kind == amount.kind for q in target.amounts[-2:]
                ):
                    amount = replace_total(amount)
                elif reply.text(amount.first - 1) in _THE_AMOUNT_SO_FAR:
                    for each in deeds.mentions[
                        max(0, bisect_left(deeds.firsts, target.first) - 3) : bisect_left(deeds.firsts, target.first)
                    ]:
                        if each.kind == target.kind and reply.sentence[each.first] == reply.sentence[target.first]:
                            each.amounts = [q for q in each.amounts if q.kind != amount.kind]
                if amount.each and not amount.parts and {"back", "down"} & set(reply.said(target.last, amount.first)):
                    amount = replace(amount, value=2 * amount.value)  # "up the hill and back down, 15 min each"
                target.amounts.append(amount)
        elif amount.kind == "number" and amount.value >= 5 and settled_in_number(deeds, amount):
            reply.used.add(index)
            deeds.settle.append(amount)
            reply.note("settle_minutes", amount.first, amount.last)
        elif amount.kind in {"sets", "hold", "setcount", "reps", "times", "number"}:
            assign_exercise(deeds, amount, index)
