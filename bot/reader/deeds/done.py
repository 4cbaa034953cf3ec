"""The records: what was done, with amounts added up."""

from __future__ import annotations

from bot.program.terms import About, Activity, Exercise
from bot.reader.deeds.mentions import Deeds, Mention, in_the_past
from bot.reader.members import EVENING, MORNING, STAIRS, STANDING, TODAY, TOE_HOLD, WALKING, YESTERDAY
from bot.reader.quantities import Quantity
from bot.reader.reading import ActivityDone, ExerciseDone
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_LIGHT_BESIDE_LONE_AMOUNT = listed["deeds", "light_beside_lone_amount"]
_MAY_BE_A_WALK = listed["deeds", "may_be_a_walk"]
_STILL_GOING_ON = listed["deeds", "still_going_on"]
_NO_WALK = listed["deeds", "rules_out_a_walk"]
_VERBS_OF_SKIPPING = listed["deeds", "verbs_of_skipping"]
_BEFORE_AN_OBJECT = listed["deeds", "before_an_object"]
_WAYS_OF_GOING = listed["deeds", "ways_of_going"]
_HOW_THE_FOOT_WAS = listed["deeds", "how_the_foot_was"]
_WAYS_OF_MOVING = listed["deeds", "ways_of_moving"]

_LONG_CLAUSE = 40
_LONGEST_LONE_WALK = 240
"""Minutes without a name are walking; nobody with a sore heel walks five hours, but many work or travel as long."""
_ACTIVITIES = {str(each): each for each in Activity}
_EXERCISES = {str(each): each for each in Exercise}


def exercises_done(deeds: Deeds) -> tuple[list[ExerciseDone], list[Exercise]]:
    """The programme's exercises that were done, in the order of the reply, and those said not to be."""
    if not deeds.mentions:
        return [], []
    parts: dict[str, list[Quantity]] = {}
    about: dict[str, About] = {}
    denied: list[Exercise] = []
    for each in deeds.mentions:
        if each.group != "exercise":
            continue
        if each.denied and not each.amounts:
            denied.append(_EXERCISES[each.kind])
            continue
        if each.ignored:
            continue
        parts.setdefault(each.kind, []).extend(each.amounts)
        about.setdefault(each.kind, deeds.reply.day_at(each.first))
        deeds.reply.note("exercises", each.first, each.last)
        for amount in each.amounts:
            deeds.reply.note("exercises", amount.first, amount.last)
    done = [exercise_record(_EXERCISES[kind], amounts, about[kind]) for kind, amounts in parts.items()]
    return done, [each for each in denied if each not in parts]


def activities_done(deeds: Deeds) -> tuple[list[ActivityDone], list[Activity]]:
    """The activities that were done with their amounts, and those said not to be."""
    reply = deeds.reply
    if not deeds.mentions and not reply.amounts:
        return [], []
    parts: dict[str, list[Quantity]] = {}
    about: dict[str, About] = {}
    denied: list[Activity] = []
    for each in deeds.mentions:
        if each.group != "activity":
            continue
        if not each.amounts and reply.asked is MORNING and not told_in_the_morning(deeds, each):
            each.ignored = True
        if each.denied or each.ignored:
            if each.denied:
                denied.append(_ACTIVITIES[each.kind])
            continue
        parts.setdefault(each.kind, []).extend(each.amounts)
        about.setdefault(each.kind, reply.day_at(each.first))
        reply.note("activities", each.first, each.last)
        for amount in each.amounts:
            reply.note("activities", amount.first, amount.last)
    both_of(deeds, parts)
    amounts_left_over(deeds, parts, about, denied)
    done = [activity_record(_ACTIVITIES[kind], amounts, about[kind]) for kind, amounts in parts.items()]
    return done, [each for each in dict.fromkeys(denied) if each not in parts] if denied else []


def told_in_the_morning(deeds: Deeds, each: Mention) -> bool:
    """Whether a deed without an amount is told as done, in the morning's reply.

    Nothing much has been done today by then: "then I stood", "sat on the stairs", "a bike saddle" are no load of the day.
    """
    reply = deeds.reply
    if reply.day_at(each.first) is YESTERDAY:
        return True
    opens = each.kind in _WAYS_OF_GOING and each.first == reply.sentence_spans[reply.sentence[each.first]][0]
    opens = opens and "into" not in reply.said(each.last, each.last + 3)  # "Walked down to the studio since"
    own = opens or bool({"i", "we"} & set(reply.said(each.first - 2, each.first)))
    return own and each.kind != STANDING and in_the_past(reply.text(each.first))


def both_of(deeds: Deeds, parts: dict[str, list[Quantity]]) -> None:
    """ "20 mins before lunch, 25 mins after dinner, both walking": the amounts before belong to it too."""
    reply = deeds.reply
    for each in deeds.mentions[:40]:
        if each.kind in parts and each.group == "activity" and reply.text(each.first - 1) in {"both", "all"}:
            first = reply.sentence_spans[reply.sentence[each.first]][0]
            for index, amount in enumerate(reply.amounts[:60]):
                if amount.kind == "minutes" and index not in reply.used and first <= amount.first < each.first:
                    reply.used.add(index)
                    parts[each.kind].append(amount)


def amounts_left_over(
    deeds: Deeds, parts: dict[str, list[Quantity]], about: dict[str, About], denied: list[Activity]
) -> None:
    """Steps without a name are walking; in the evening so are minutes and distances that stand by themselves."""
    reply = deeds.reply
    walking = str(WALKING)
    for index, amount in enumerate(reply.amounts):
        if index in reply.used or amount.kind not in {"steps", "minutes", "km"}:
            continue
        if amount.kind == "steps":
            if reply.asked is MORNING and parts and walking not in parts and reply.day_at(amount.first) is TODAY:
                continue
        elif (
            (amount.kind == "km" and amount.value < 0.02)
            or reply.asked is not EVENING
            or WALKING in denied
            or amount.doubtful
            or (amount.kind == "minutes" and amount.value > _LONGEST_LONE_WALK)
            or not stands_alone(deeds, amount)
            or (walking in parts and any(q.kind == amount.kind for q in parts[walking]))
        ):
            continue
        reply.used.add(index)
        moved = [kind for kind in parts if kind in _WAYS_OF_MOVING]
        if amount.kind == "km" and len(moved) == 1 and not any(q.kind == "km" for q in parts[moved[0]]):
            parts[moved[0]].append(amount)  # "Parkrun back on. 5k"
            continue
        parts.setdefault(walking, []).append(amount)
        about.setdefault(walking, reply.day_at(amount.first))
        reply.note("activities", amount.first, amount.last)


def stands_alone(deeds: Deeds, amount: Quantity) -> bool:
    reply = deeds.reply
    first, last = amount.first, amount.last
    clause = reply.clause[amount.first]
    while first > 0 and reply.clause[first - 1] == clause and amount.last - first < _LONG_CLAUSE:
        first -= 1
    while last < len(reply.row) and reply.clause[last] == clause and last - first < _LONG_CLAUSE:
        last += 1
    if last - first >= _LONG_CLAUSE:
        return False
    light = _LIGHT_BESIDE_LONE_AMOUNT
    inside = {at for q in reply.amounts_within(first, last) for at in range(q.first, q.last)}
    rest = [
        at
        for at in range(first, last)
        if reply.row[at].kind is Kind.WORD and at not in inside and reply.text(at) not in light
    ]
    if reply.text(amount.first - 1) == "since":
        return False  # "cold since three hours"
    if reply.text(last) in _STILL_GOING_ON or reply.text(amount.last) in _STILL_GOING_ON:
        return False  # "numb for four hours now"
    opening = max(reply.sentence_spans[reply.sentence[first]][0], first - _LONG_CLAUSE // 2)
    if not _HOW_THE_FOOT_WAS.isdisjoint(reply.said(opening, amount.first)):
        return False  # "the toes were grey, maybe one hour"
    if not rest and _of_what_was_said_before(deeds, first):
        return False
    return len(rest) <= 3 and not any(
        reply.text(at) in _NO_WALK or (in_the_past(reply.text(at)) and reply.text(at) not in _MAY_BE_A_WALK)
        for at in rest
    )


def _of_what_was_said_before(deeds: Deeds, at: int) -> bool:
    """ "refereed the under twelves, 60 minutes", "fixed the roof, 2 hours": something else took the time."""
    reply = deeds.reply
    if at < 3 or reply.text(at - 1) != "," or reply.sentence[at - 1] != reply.sentence[at]:
        return False
    first = at - 1
    while first > 0 and reply.clause[first - 1] == reply.clause[at - 1] and at - first < _LONG_CLAUSE:
        first -= 1
    verb = first + (reply.text(first) in {"i", "we"})
    word = reply.text(verb)
    return (
        in_the_past(word)
        and word not in _MAY_BE_A_WALK | _VERBS_OF_SKIPPING
        and reply.text(verb + 1) in _BEFORE_AN_OBJECT
        and not deeds.mention_between(first, at)
    )


def summed(parts: list[Quantity], kind: str) -> float | None:
    total: float | None = None
    last: Quantity | None = None
    for each in parts:
        if each.kind != kind:
            continue
        if each.total:
            return next(each.value for each in reversed(parts) if each.kind == kind and each.total)
        # "20 min (2x10)": the same said twice.
        if last is None or each.value != last.value or not (each.parts or last.parts) or each.first - last.last > 3:
            total = each.value if total is None else total + each.value
            last = each
    return total


def activity_record(kind: Activity, parts: list[Quantity], about: About) -> ActivityDone:
    steps = summed(parts, "steps")
    count = summed(parts, "count") if kind is STAIRS else None
    return ActivityDone(
        activity=kind,
        minutes=summed(parts, "minutes"),
        km=summed(parts, "km"),
        steps=None if steps is None else round(steps),
        count=count,
        about=about,
    )


def exercise_record(kind: Exercise, parts: list[Quantity], about: About) -> ExerciseDone:
    """Several mentions add up: equal goes are sets, unequal ones one set of all."""
    holds = [each for each in parts if each.kind in {"hold", "seconds"}]
    if holds and (kind is TOE_HOLD or not any(each.kind in {"sets", "reps"} for each in parts)):
        setcounts = [each.sets for each in parts if each.kind == "setcount"]
        count = sum(each.sets for each in holds)
        if len(holds) == 1 and holds[0].kind == "seconds" and setcounts:
            count = setcounts[0]
        reps = [each for each in parts if each.kind == "reps"]
        if len(holds) == 1 and holds[0].kind == "seconds" and reps:
            count = int(reps[0].value)
        return ExerciseDone(exercise=kind, sets=count, seconds=int(holds[0].value), about=about)
    goes = [
        (each.sets if each.kind == "sets" else 1, int(each.value)) for each in parts if each.kind in {"sets", "reps"}
    ]
    extras = sum(int(each.value) for each in parts if each.kind == "extra")
    counts = [each.sets for each in parts if each.kind == "setcount"]
    if not goes:
        return ExerciseDone(exercise=kind, sets=sum(counts) if counts else None, about=about)
    if len(goes) > 1:
        # "30 raises, three goes of ten": the same said twice.
        in_sets = {sets * reps for sets, reps in goes if sets > 1}
        goes = [(sets, reps) for sets, reps in goes if sets > 1 or reps not in in_sets]
    if counts and len(goes) == 1 and goes[0][0] == 1 and counts[0] > 1:
        sets, reps_each = counts[0], goes[0][1]
        total = next((each for each in parts if each.kind == "reps"), None)
        # "40 raises total, 4 sets" parts the total; "12 reps, 3 sets" does not.
        if total is not None and reps_each >= 3 * sets and reps_each % sets == 0 and reps_each > 20:
            reps_each //= sets
        goes = [(sets, reps_each)]
    if extras:
        return ExerciseDone(exercise=kind, sets=1, reps=sum(sets * reps for sets, reps in goes) + extras, about=about)
    if len({reps for _, reps in goes}) == 1:
        return ExerciseDone(exercise=kind, sets=sum(sets for sets, _ in goes), reps=goes[0][1], about=about)
    return ExerciseDone(exercise=kind, sets=1, reps=sum(sets * reps for sets, reps in goes), about=about)
