"""How long pain took to ease."""

from __future__ import annotations

from bisect import bisect_left

from bot.program.terms import Asked
from bot.reader.deeds.mentions import Deeds
from bot.reader.quantities import Quantity
from bot.reader.vocabulary import listed


def is_settling(deeds: Deeds, amount: Quantity) -> bool:
    reply = deeds.reply
    first, last = reply.sentence_spans[reply.sentence[amount.first]]
    nxt = bisect_left(deeds.firsts, amount.last)
    if (
        nxt < len(deeds.mentions)
        and deeds.mentions[nxt].first - amount.last <= 2
        and deeds.mentions[nxt].group != "not_loading"
        and set(reply.said(amount.last, deeds.mentions[nxt].first)) <= {"of", "a", "slow", "gentle"}
    ):
        return False
    linking_before = listed("deeds", "between_settled_and_amount")
    for found in reversed(reply.within("cue settled", max(first, amount.first - 14), amount.first)):
        between = reply.said(found.last, amount.first)
        guess = listed("deeds", "guessing_words")
        if between[:1] == [","] and (reply.asked is Asked.MORNING or len(between) > 1) and set(between) <= guess:
            return True
        if (
            "," in between
            and reply.asked is Asked.MORNING
            and between[-1] == ","
            and len(between) <= 12
            and not deeds.mention_between(found.last, amount.first)
        ):
            return True
        if set(between) <= linking_before or (
            len(between) <= 4 and deeds.nothing_else_between(found.last, amount.first)
        ):
            return True
    linking_after = listed("deeds", "between_amount_and_settled")
    for found in reply.within("cue settled", amount.last, min(last, amount.last + 9)):
        between = reply.said(amount.last, found.first)
        if (
            between[-3:-1] == ["and", "it"]
            and between[-1] in {"had", "has", "was"}
            and not deeds.beside_last(amount)
            and not deeds.mention_between(amount.last, found.first)
        ):
            return True
        if (
            between
            and not set(between) <= linking_after
            and not (len(between) <= 5 and deeds.nothing_else_between(amount.last, found.first))
        ):
            continue
        if ("," in between or "and" in between or "then" in between) and deeds.beside_last(amount):
            continue
        return True
    if reply.said(amount.last, amount.last + 5) == [".", "that", "is", "how", "long"]:
        return True
    if reply.asked is Asked.MORNING and reply.said(amount.first - 3, amount.first) == ["for", "the", "first"]:
        return True
    took = reply.text(amount.first - 1) in {"took", "takes", "taking"} or (
        reply.text(amount.first - 2) in {"took", "takes", "taking"}
        and reply.text(amount.first - 1) in listed("deeds", "between_took_and_amount")
    )
    return (
        took
        and reply.asked is Asked.MORNING
        and not any(
            first <= each.first < amount.first and not each.denied for each in deeds.last_mentions(amount.first)
        )
    )


def settled_in_number(deeds: Deeds, amount: Quantity) -> bool:
    """ "calmed down in 20": minutes without their unit."""
    reply = deeds.reply
    ahead = reply.said(amount.last, amount.last + 5)
    if (
        ahead[:1] == ["more"]
        and {"before", "until", "till"} & set(ahead)
        and reply.within("cue settled", amount.last, amount.last + 6)
    ):
        return True
    if reply.text(amount.first - 1) not in {"in", "within", "after"} or reply.text(amount.last) not in listed(
        "deeds", "after_settled_in_number"
    ):
        return False
    settled = reply.within("cue settled", max(0, amount.first - 5), amount.first)
    return bool(settled) and amount.first - settled[-1].last <= 2
