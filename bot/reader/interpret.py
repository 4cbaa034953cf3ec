"""From a message to a reading, step by step: take it apart, find deeds, scores, rest and plan, and put them together."""

from __future__ import annotations

from dataclasses import replace

from bot.program.protocol import DEFAULT
from bot.program.terms import About, Activity, Asked, RedFlag, RestPattern
from bot.reader.deeds import activities_done, exercises_done, find_deeds
from bot.reader.members import EVENING, MORNING, NO_PAIN, NONE_OF_IT, TODAY, YESTERDAY
from bot.reader.reading import ActivityDone, FlagFinding, Reading
from bot.reader.reply import Reply, prepared
from bot.reader.scores import find_scores, first_and_worst, plan_done, rest_pattern
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFTER_NONE = listed["interpret", "after_none"]
_BEFORE_YESTERDAY_COMPARED = listed["interpret", "before_yesterday_compared"]
_GOES_ON_OF_NO_PAIN = listed["interpret", "goes_on_of_no_pain"]
_JOINS_TWO_ANSWERS = listed["interpret", "joins_two_answers"]
_LAST_WORD_NONE = listed["interpret", "last_word_none"]
_NAMES_OF_QUESTIONS = listed["interpret", "names_of_questions"]
_NARROWS_NO_PAIN = listed["interpret", "narrows_no_pain"]
_NARROWS_ONLY_WITH_REST = listed["interpret", "narrows_only_with_rest"]
_PLACES_OF_REST = listed["interpret", "places_of_rest"]
_STILL_THE_WHOLE = listed["interpret", "still_the_whole"]
_WEAKENS_NO_PAIN = listed["interpret", "weakens_no_pain"]

_ORDER = {activity: place for place, activity in enumerate(Activity)}
_ENDS_AN_ANSWER = frozenset({"", ".", ";", ","})
_FAR_FOR_FIRST_STEPS = 8
_SHORT_ANSWERS = 8
_PICTURES = frozenset({".", ",", ";"})


def _place(done: ActivityDone) -> int:
    return _ORDER[done.activity]


def _severe(first: int | None, worst: int | None) -> tuple[FlagFinding, ...]:
    score = max(first or 0, worst or 0)
    if score < DEFAULT.severe_pain:
        return ()
    return (FlagFinding(code=RedFlag.SEVERE_PAIN, score=score, words=f"{score} of 10"),)


def _list_numbers(reply: Reply) -> None:
    """ "1. 4  2. none": the numbers of a list are no amounts."""
    row = reply.row
    if len(row) < 5 or row[0].text != "1" or row[1].text not in {".", ","} or not row[1].glued:
        return
    wanted = 1
    numbered: list[int] = []
    for index, amount in enumerate(reply.amounts):
        at = amount.first
        marked = amount.last - at == 1 and reply.text(at + 1) in {".", ","} and row[at + 1].glued
        opens = at == 0 or not row[at].glued
        if amount.kind == "number" and amount.value == wanted and marked and opens:
            numbered.append(index)
            wanted += 1
    if len(numbered) > 1:
        reply.used.update(numbered)


def _is_nothing(reply: Reply) -> bool:
    """Whether the whole message says no more than "none"."""
    nothing = reply.found("cue nothing")
    if not nothing:
        return False
    first = next((at for at, each in enumerate(reply.row) if each.kind is not Kind.MARK), -1)
    if all(each.first != first for each in nothing):
        return False
    said = sum(each.kind is not Kind.MARK for each in reply.row)
    if said > 5 or any(each.kind is Kind.MARK and each.text not in _PICTURES for each in reply.row):
        return False
    return any(each.first == first and each.last - first == said for each in nothing)


def _answers_both(reply: Reply) -> bool:
    """ "4 and none", "0 & 0!": a score and what is left at rest, as a sentence of their own at the beginning."""
    if not reply.amounts:
        return False
    at = reply.amounts[0].last
    if reply.amounts[0].first != 0 or reply.text(at) not in _JOINS_TWO_ANSWERS:
        return False
    return reply.text(at + 1) in _LAST_WORD_NONE and reply.text(at + 2) in _ENDS_AN_ANSWER


def _ends_in_none(reply: Reply) -> bool:
    """ "2, none": the second answer is that of rest."""
    if _answers_both(reply):
        return True
    last = next((each.text for each in reversed(reply.row) if each.kind is not Kind.MARK), "")
    if last not in _AFTER_NONE and last not in _LAST_WORD_NONE:
        return False
    row = [each for each in reply.row if each.kind is not Kind.MARK or each.text in {",", ";", ".", "-", ":"}]
    while row and row[-1].kind is Kind.MARK:
        row.pop()
    while len(row) > 2 and row[-1].text in _AFTER_NONE:
        row.pop()
    if len(row) < 2 or row[-1].text not in _LAST_WORD_NONE:
        return False
    before = row[-2]
    if before.text in {"r", "rest", "resting"}:
        return True
    if before.kind is Kind.NUMBER and before.text == "2" and len(row) > 2 and row[-3].text in _NAMES_OF_QUESTIONS:
        return True  # "question 1 zero, question 2 zero"
    if before.kind is Kind.NUMBER:
        return row[-1].text != "0"
    if len(row) > 2 and before.text in _JOINS_TWO_ANSWERS and row[-3].kind is Kind.NUMBER:
        return len(row) <= _SHORT_ANSWERS  # "scores are four and none"
    return before.kind is Kind.MARK and len(row) <= 8 and any(each.kind is Kind.NUMBER for each in row[:-1])


def interpreted(plain: str, asked: Asked) -> Reading:
    """The reading of a normalised reply, red flags by words left out. Never raises; linear in the length of the text."""
    reply = prepared(plain, asked)
    _list_numbers(reply)
    deeds = find_deeds(reply)
    exercises, exercises_denied = exercises_done(deeds)
    activities, activities_denied = activities_done(deeds)
    settle = deeds.settle[0].value if deeds.settle else None
    plan, plan_about, by_rest = plan_done(reply)
    if plan is NONE_OF_IT and by_rest and (activities or exercises):
        plan = None  # "rested, then walked 10 min": the rest does not say that nothing was done
    rest, _ = rest_pattern(reply)
    first, worst, rest_by_score, bare = first_and_worst(reply, find_scores(reply))
    rest = rest or rest_by_score
    first, worst, rest = _nothing_said(reply, first, worst, rest)
    about = _about(reply, first, worst, bool(activities or exercises or plan))
    worst_about = about
    if worst is not None and about is TODAY and asked is MORNING and "cue yesterday" in reply.phrases:
        worst_about = _day_of_worst(reply)
    if about is YESTERDAY:
        activities = [replace(each, about=YESTERDAY) for each in activities]
        exercises = [replace(each, about=YESTERDAY) for each in exercises]
        plan_about = YESTERDAY
    elif asked is not MORNING:
        plan_about = TODAY
    return Reading(
        first_step_pain=first,
        worst_pain=worst,
        rest_pattern=rest,
        settle_minutes=settle,
        activities=tuple(sorted(activities, key=_place) if len(activities) > 1 else activities),
        exercises=tuple(exercises),
        plan_done=plan,
        plan_about=plan_about,
        worst_pain_about=worst_about,
        flags=_severe(first, worst),
        about=about,
        not_done=tuple(dict.fromkeys([*activities_denied, *exercises_denied]))
        if activities_denied or exercises_denied
        else (),
        correction=bool(reply.found("cue correction")),
        bare_number=None if bare is None else float(bare),
        evidence=tuple(reply.evidence),
    )


def _day_of_worst(reply: Reply) -> About:
    """The day that the words of the worst pain speak of."""
    note = next((each for each in reply.evidence if each.field == "worst_pain"), None)
    if note is None:
        return TODAY
    return reply.day_at(next((at for at, each in enumerate(reply.row) if each.start >= note.start), 0))


def _nothing_said(
    reply: Reply, first: int | None, worst: int | None, rest: RestPattern | None
) -> tuple[int | None, int | None, RestPattern | None]:
    """ "None", "no pain": a score of 0 where no number was given."""
    asked = reply.asked
    if _is_nothing(reply):
        zero = True
    else:
        if asked is MORNING and first is not None and rest is None and _ends_in_none(reply):
            reply.note("rest_pattern", len(reply.row) - 1, len(reply.row))
            rest = NO_PAIN
        zero = _no_pain(reply)
    if zero:
        if asked is MORNING and first is None:
            first = 0
        elif asked is EVENING and worst is None:
            worst = 0
    return first, worst, rest


def _no_pain(reply: Reply) -> bool:
    """Whether pain as a whole is denied, not pain at rest or during one thing."""
    if "cue no_pain" not in reply.phrases:
        return False
    places = reply.found("place places")
    for each in reply.found("cue no_pain"):
        end = each.last
        while reply.text(end) in _GOES_ON_OF_NO_PAIN and end < each.last + 4:
            end += 1
        after = reply.said(end, end + 3)
        if (
            after[:1]
            and after[0] in _NARROWS_NO_PAIN
            and not (
                reply.asked is MORNING
                and after[0] in _NARROWS_ONLY_WITH_REST
                and reply.within("score first", end, end + _FAR_FOR_FIRST_STEPS)
            )
            and not (
                after[0] in _NARROWS_ONLY_WITH_REST
                and reply.asked is EVENING
                and after[1:2]
                and after[1] in _STILL_THE_WHOLE
                and not _PLACES_OF_REST & set(after)
            )
        ):
            continue
        if any(
            reply.clause[p.first] == reply.clause[each.first]
            and abs(p.first - each.first) <= 7
            and (p.last <= each.first or p.first >= each.last)
            for p in places
        ):
            continue
        before = reply.said(max(0, each.first - 2), each.first)
        if _WEAKENS_NO_PAIN & set(before):
            continue
        reply.note("first_step_pain" if reply.asked is MORNING else "worst_pain", each.first, each.last)
        return True
    return False


def _about(reply: Reply, first: int | None, worst: int | None, deeds: bool) -> About:
    """The day of the report as a whole: yesterday where no score of today and no word of today stands beside it."""
    if not reply.found("cue yesterday"):
        return TODAY
    sure = _surely_of_yesterday(reply)
    if not sure and reply.found("cue today") and not reply.found("cue not_up_yet"):
        return TODAY
    spans = [
        (each.start, each.end)
        for each in reply.evidence
        if each.field in {"activities", "exercises", "plan_done", "worst_pain", "first_step_pain"}
        and (sure or each.field != "first_step_pain")
    ]
    told = {
        reply.sentence[at]
        for at, token in enumerate(reply.row)
        if any(one <= token.start < other for one, other in spans[:40])
    }
    if sure:
        if not told or any(reply.sentence[each.first] in told for each in reply.found("cue today")):
            return TODAY
        for each in reply.found("cue yesterday")[:3]:
            reply.note("about", each.first, each.last)
        return YESTERDAY
    declared = bool(reply.found("cue report_of_yesterday"))
    if not declared and not any(reply.sentence[each.first] in told for each in reply.found("cue yesterday")):
        return TODAY
    today_score = first is not None if reply.asked is MORNING else worst is not None
    if reply.asked is MORNING and today_score:
        return TODAY
    if reply.asked is not MORNING and _compared(reply):
        return TODAY
    if not (deeds or worst is not None):
        return TODAY
    for each in reply.found("cue yesterday")[:3]:
        reply.note("about", each.first, each.last)
    return YESTERDAY


def _surely_of_yesterday(reply: Reply) -> bool:
    """ "this is for yesterday", and "that was yesterday" behind the numbers."""
    if reply.found("cue surely_of_yesterday"):
        return True
    if reply.asked is MORNING and reply.found("cue not_up_yet") and reply.found("cue report_of_yesterday"):
        return True  # "forgot to send yesterday's, it was a 5. Not been up yet today"
    behind = reply.found("cue that_was_yesterday")
    scores = [each.start for each in reply.evidence if each.field in {"first_step_pain", "worst_pain"}]
    return bool(behind and scores) and max(scores) < reply.row[behind[0].first].start


def _compared(reply: Reply) -> bool:
    """ "better than yesterday", "same as yesterday": yesterday is only compared with."""
    return all(
        reply.text(each.first - 1) in _BEFORE_YESTERDAY_COMPARED
        or (
            reply.row[each.first - 1].kind is not Kind.MARK and "from" in reply.said(max(0, each.first - 3), each.first)
        )
        for each in reply.found("cue yesterday")
    )
