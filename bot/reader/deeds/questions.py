"""Questions are no reports: what they name was not done, and their amounts are nobody's."""

from __future__ import annotations

from bot.reader.deeds.mentions import Deeds
from bot.reader.quantities import MEASURES
from bot.reader.reply import Reply
from bot.reader.vocabulary import listed

_BEFORE_A_QUESTION = listed["deeds", "before_a_question"]
_ASKS_WHETHER_IT_COUNTS = listed["deeds", "asks_whether_it_counts"]
_BEFORE_AN_AMOUNT = listed["deeds", "before_an_amount_as_an_answer"]
_OPENS_A_QUESTION = listed["deeds", "opens_a_question"]
_WHAT_WAS_ASKED = listed["deeds", "what_was_asked"]


def question_sentences(reply: Reply) -> set[int]:
    """The numbers of the sentences that ask: "should I do my raises", "can I walk 20 minutes?".

    A question to oneself with its answer ("Did I walk? 25 minutes, yes") is none.
    """
    asking = {reply.sentence[each.first] for each in reply.found("cue question") if _opens(reply, each.first)}
    for number, (first, last) in enumerate(reply.sentence_spans):
        if reply.text(last - 1) != "?":
            continue
        opening = first
        while opening < last - 1 and reply.text(opening) in _BEFORE_A_QUESTION:
            opening += 1
        if reply.text(opening) in _OPENS_A_QUESTION:
            asking.add(number)
    return asking


def _opens(reply: Reply, at: int) -> bool:
    """Whether nothing but a greeting or the like stands before, in the sentence or since the last comma."""
    first = reply.sentence_spans[reply.sentence[at]][0]
    at -= 1
    while at >= first and reply.text(at) in _BEFORE_A_QUESTION:
        if reply.text(at) == ",":
            return True
        at -= 1
    return at < first


def _answered_with_an_amount(reply: Reply, sentence: int) -> bool:
    """ "Does gardening count? Two hours of it": the question names what was done."""
    if sentence + 1 >= len(reply.sentence_spans):
        return False
    first = reply.sentence_spans[sentence + 1][0]
    amount = next(iter(reply.amounts_within(first, first + 3)), None)
    if (
        amount is None
        or amount.kind not in MEASURES
        or not _BEFORE_AN_AMOUNT.issuperset(reply.said(first, amount.first))
    ):
        return False
    of_it = reply.text(amount.last) == "of" and reply.text(amount.last + 1) in _WHAT_WAS_ASKED
    return of_it or not _ASKS_WHETHER_IT_COUNTS.isdisjoint(reply.said(*reply.sentence_spans[sentence]))


def set_questions_aside(deeds: Deeds) -> None:
    """What is only asked about counts as neither done nor not done."""
    reply = deeds.reply
    if "?" not in reply.texts and "cue question" not in reply.phrases:
        return
    asking = {each for each in question_sentences(reply) if not _answered_with_an_amount(reply, each)}
    if not asking:
        return
    for each in deeds.mentions:
        if reply.sentence[each.first] in asking:
            each.ignored, each.denied = True, False
    for index, amount in enumerate(reply.amounts):
        counted = amount.kind in MEASURES or amount.kind in {"sets", "hold", "reps", "setcount", "times"}
        if reply.sentence[amount.first] in asking and (counted or amount.value > 10):
            reply.used.add(index)
