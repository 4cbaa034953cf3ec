"""Of all scores of a reply the one for the first steps and the one for the worst."""

from __future__ import annotations

from bot.program.terms import RestPattern
from bot.reader.members import EVENING, MORNING, NO_PAIN, TODAY
from bot.reader.reply import Reply
from bot.reader.scores.score import Score
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_BEFORE_STATED_WORST = listed["scores", "before_stated_worst"]
_NAMES_OF_SIDES = listed["scores", "names_of_sides"]
_SAYS_WORST = tuple(listed["scores", "beginnings_of_worst"])
_STATES_A_SCORE = listed["scores", "states_a_score"]
_THE_PROPER_ONE = listed["scores", "the_proper_one"]


def first_and_worst(reply: Reply, scores: list[Score]) -> tuple[int | None, int | None, RestPattern | None, int | None]:
    """First-step pain, worst pain, a rest pattern that a score at rest gives, and a number without a meaning."""
    if not scores:
        return None, None, None, None
    rest: RestPattern | None = None
    bare: int | None = None
    live = [each for each in scores if each.role not in {"past", "other"}]
    if not live:
        # "yesterday 5" in answer to today's prompt is no score; but a lone number with a day is better than nothing in the evening.
        live = [each for each in scores if each.role == "past" and reply.asked is EVENING and len(scores) == 1]
    if not live and reply.asked is MORNING and reply.found("cue surely_of_yesterday"):
        live = [each for each in scores if each.role == "past"]
        for each in live:
            each.role = "plain"  # "for yesterday morning put 5 please"
    for each in live:
        if each.role == "rest" and each.value == 0:
            rest = NO_PAIN
    doubtful = [each for each in live if each.strength < 0]
    if doubtful and len(doubtful) < len(live):
        live = [each for each in live if each.strength >= 0 or said_of_a_side(reply, each)]
    firsts, worsts, plain, eased = _by_role(live)
    if reply.asked is MORNING:
        chosen = chosen_first(reply, firsts, plain)
        if chosen is None and not firsts and worsts and not plain and not named_worst(reply, worsts[0]):
            chosen, worsts = worsts[0], worsts[1:]
        if chosen is None and worsts:
            opening = reply.sentence_spans[reply.sentence[worsts[0].at]][0]
            if reply.within("score first", opening, worsts[0].at):
                chosen, worsts = worsts[0], worsts[1:]  # "the first time was the worst, say a 4"
        if chosen is not None and not worsts:
            worsts = [
                each
                for each in plain
                if each.value > chosen.value
                and each.strength >= 1
                and (
                    (each.at > chosen.at and (chosen.role == "first" or deed_between(reply, chosen, each)))
                    or (chosen.role == "first" and deed_before(reply, each))
                )
                and not said_of_a_side(reply, each)
            ]
        if chosen is None and eased:
            chosen = eased[-1]
        if chosen is not None and not worsts:
            worsts = [
                each for each in eased if each.at > chosen.at and each.value > chosen.value and each.strength >= 1
            ]
        worst = _highest(worsts)
        if worst is not None and chosen is not None and worst.value < chosen.value and not named_worst(reply, worst):
            worst = None  # "4 on the landing, 2 by the time I reached the kitchen"
        if worst is None and chosen is not None and reply.found("cue same_worst"):
            worst = chosen
        return noted(reply, "first_step_pain", chosen), noted(reply, "worst_pain", worst), rest, bare
    if reply.asked is EVENING:
        today = of_today(reply, live)
        if today is not live:
            live = today
            firsts, worsts, plain, eased = _by_role(live)
        candidates = [*worsts, *plain]
        if not candidates:
            least = max((each.value for each in firsts), default=-1)
            candidates = [each for each in eased if each.value > least]
        elif eased:
            most = max(each.value for each in candidates)
            if not any(each.kind == "number" and each.value > 10 for each in reply.amounts):
                candidates += [each for each in eased if each.value > most and each.strength >= 1]
        if not firsts and len(candidates) > 1 and reply.found("cue same_first"):
            told_first = [each for each in candidates if said_to_be_first(reply, each)]
            if told_first:
                firsts = told_first  # "a 5, but that was first thing. Rest of the day no more than 2"
                candidates = [each for each in candidates if each not in told_first]
        worst = chosen_worst(reply, candidates)
        first = _highest(firsts)
        if (
            worst is None
            and first is not None
            and (reply.found("cue same_worst") or any(_worst_of_the_day(reply, each) for each in firsts))
        ):
            worst = first
        if first is None and worst is not None:
            one, _ = reply.sentence_spans[reply.sentence[worst.at]]
            same = bool(reply.within("cue same_worst", one, worst.at) and reply.within("score first", one, worst.at))
            if same or reply.within("cue same_first", worst.at, len(reply.row)):
                first = worst
        if (
            worst is None
            and first is not None
            and first.strength >= 2
            and len(live) == 1
            and reply.within("score worst", 0, len(reply.row))
        ):
            worst = first
        return noted(reply, "first_step_pain", first), noted(reply, "worst_pain", worst), rest, bare
    surely = [each for each in plain if each.strength >= 2]
    if not surely and not worsts and any(label.startswith("activity") for label in reply.phrases):
        surely = [
            each for each in [*plain, *eased] if each.strength >= 0 and reply.text(each.at - 1) in _STATES_A_SCORE
        ]
    if surely:
        worsts = [*worsts, *surely]
    elif plain:
        bare = plain[-1].value
    first, worst = _highest(firsts), _highest(worsts)
    return noted(reply, "first_step_pain", first), noted(reply, "worst_pain", worst), rest, bare


def _by_role(scores: list[Score]) -> tuple[list[Score], list[Score], list[Score], list[Score]]:
    """The scores of the first steps, the worst, plain ones, and those of pain that eased."""
    of: dict[str, list[Score]] = {"first": [], "worst": [], "plain": [], "eased": []}
    for each in scores:
        if each.role in of:
            of[each.role].append(each)
    return of["first"], of["worst"], of["plain"], of["eased"]


def _highest(scores: list[Score]) -> Score | None:
    if len(scores) < 2:
        return scores[0] if scores else None
    return max(scores, key=lambda each: each.value)


def _worst_of_the_day(reply: Reply, score: Score) -> bool:
    """Whether one word for the worst stands last before a score of the first steps."""
    worst = reply.within("score worst", max(0, score.at - 12), score.at)
    return bool(worst) and worst[-1].last - worst[-1].first == 1


def said_to_be_first(reply: Reply, score: Score) -> bool:
    """ "but that was first thing" right behind a score."""
    return any(
        "but" in reply.said(score.last, found.first + 1)
        and set(reply.said(score.last, found.first)) <= {",", "but", "-", "."}
        for found in reply.within("cue same_first", score.last, score.last + 9)
    )


def of_today(reply: Reply, scores: list[Score]) -> list[Score]:
    """ "yesterday was 5, now it's 2": where both days have a score, today's count."""
    if not (reply.found("cue yesterday") and reply.found("cue today")):
        return scores
    today = [each for each in scores if reply.day_at(each.at) is TODAY]
    return today or scores


def named_worst(reply: Reply, score: Score) -> bool:
    """Whether the words before the score say "worst" in so many words."""
    return any(
        word.startswith(_SAYS_WORST)
        for found in reply.within("score worst", max(0, score.at - 9), score.last + 7)
        for word in reply.said(found.first, found.last)
    )


def deed_between(reply: Reply, one: Score, other: Score) -> bool:
    return any(
        one.last <= found.first < other.at
        for label, all_of in reply.phrases.items()
        if label.startswith("activity ")
        for found in all_of
    )


def deed_before(reply: Reply, score: Score) -> bool:
    """Whether a deed stands before a score in its sentence."""
    first = reply.sentence_spans[reply.sentence[score.at]][0]
    return any(label.startswith("activity ") and reply.within(label, first, score.at) for label in reply.phrases)


def noted(reply: Reply, what: str, score: Score | None) -> int | None:
    if score is None:
        return None
    first = score.at
    clause, lowest = reply.clause[first], max(0, first - 3)
    while first > lowest and reply.clause[first - 1] == clause and reply.row[first - 1].kind is Kind.WORD:
        first -= 1
    reply.note(what, first, score.last)
    return score.value


def said_of_a_side(reply: Reply, score: Score) -> bool:
    sides = _NAMES_OF_SIDES
    at = score.at - 1
    while at >= max(0, score.at - 10) and reply.row[at].kind is not Kind.NUMBER:
        if reply.text(at) in sides:
            return True
        at -= 1
    return bool(sides & set(reply.said(score.last, score.last + 3)))


def chosen_first(reply: Reply, firsts: list[Score], plain: list[Score]) -> Score | None:
    pool = firsts or plain
    if not pool:
        return None
    tagged = [each for each in pool if each.tagged]
    if tagged:
        return tagged[-1]
    if len(firsts) + len(plain) < 2:
        return pool[0]
    sided = [each for each in [*firsts, *plain] if said_of_a_side(reply, each)]
    if len(sided) > 1:
        return max(sided, key=lambda each: each.value)
    if firsts:
        proper = [
            each
            for each in firsts
            if _THE_PROPER_ONE & set(reply.said(each.at - 9, each.at))
            and not any(
                other.last <= each.at and each.at - other.last < 9 and other.at > each.at - 9 for other in firsts
            )
        ]
        if proper:
            return proper[-1]  # "got up at 3 that was a 2, but the proper getting up was 5"
        best = max(each.strength for each in firsts)
        return (
            next(each for each in firsts if each.strength == best)
            if best >= 2 and firsts[0].strength == 0
            else firsts[0]
        )
    best = max(each.strength for each in plain)
    return next(each for each in plain if each.strength == best)


def chosen_worst(reply: Reply, pool: list[Score]) -> Score | None:
    if len(pool) < 2:
        return pool[0] if pool else None
    tagged = [each for each in pool if each.tagged]
    literal = [each for each in pool if each.role == "worst" and named_worst(reply, each)]
    named = literal or [each for each in pool if each.role == "worst" or each.strength >= 2]
    if tagged and not [each for each in named if not each.tagged and each.role == "worst"]:
        return tagged[-1]
    if named:
        if not literal:
            named += [each for each in pool if each.strength == 1 and reply.text(each.at - 1) in _BEFORE_STATED_WORST]
        return max(named, key=lambda each: each.value)
    alone = [each for each in pool if each.strength == 1]
    if alone:
        sided = [each for each in alone if said_of_a_side(reply, each)]
        return max(sided or alone, key=lambda each: each.value)
    sided = [each for each in pool if said_of_a_side(reply, each)]
    if len(sided) > 1:
        return max(sided, key=lambda each: each.value)
    return pool[-1]
