"""The echo of what was understood of a reply, so that a patient can see and correct it."""

from __future__ import annotations

from bot.program.terms import About, Activity, Exercise, PlanDone, RestPattern
from bot.reader.reading import ActivityDone, ExerciseDone, Reading

ACTIVITY: dict[Activity, str] = {
    Activity.WALKING: "walking",
    Activity.RUNNING: "running",
    Activity.STANDING: "standing",
    Activity.STAIRS: "stairs",
    Activity.HILLS: "hills",
    Activity.CARRYING: "carrying",
    Activity.GARDENING: "gardening",
    Activity.HOUSEWORK: "housework",
    Activity.DANCING: "dancing",
    Activity.SPORT: "sport",
    Activity.JUMPING: "jumping",
    Activity.CYCLING: "cycling",
    Activity.SWIMMING: "swimming",
    Activity.DRIVING: "driving",
    Activity.OTHER: "something else on your feet",
}
_DONE: dict[Activity, str] = {
    **ACTIVITY,
    Activity.WALKING: "walked",
    Activity.RUNNING: "ran",
    Activity.STANDING: "stood",
    Activity.OTHER: "other load",
}
EXERCISE: dict[Exercise, str] = {
    Exercise.HEEL_RAISE: "heel raises",
    Exercise.TOE_HOLD: "toe hold",
    Exercise.ANKLE_PUMP: "ankle pumps",
}
REST: dict[RestPattern, str] = {
    RestPattern.CONSTANT: "pain all the time",
    RestPattern.INTERMITTENT: "pain comes and goes",
    RestPattern.NONE: "no pain with weight off",
}
PLAN_DONE: dict[PlanDone, str] = {
    PlanDone.ALL: "all of the plan done",
    PlanDone.SOME: "part of the plan done",
    PlanDone.NONE: "none of the plan done",
}


_ON_ONE_LINE = 3
"""Sentences of an echo on one line; a longer report has a line for each."""


def _listed(names: tuple[str, ...]) -> str:
    """Names as a person would list them: "a", "a and b", "a, b and c"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def activities_listed(activities: tuple[Activity, ...]) -> str:
    """The activities as a person would list them."""
    return _listed(tuple(ACTIVITY[each] for each in activities))


def _number(value: float) -> str:
    return f"{round(value, 1):g}"


def _activity(done: ActivityDone) -> str:
    amounts = [
        None if done.minutes is None else f"{_number(done.minutes)} min",
        None if done.count is None else f"{_number(done.count)} times",
        None if done.steps is None else f"{done.steps} steps",
        None if done.km is None else f"{_number(done.km)} km",
    ]
    return " ".join([_DONE[done.activity], *(each for each in amounts if each)])


def _exercise(done: ExerciseDone) -> str:
    amount = ""
    if done.sets is not None and done.reps is not None:
        amount = f" {done.sets}x{done.reps}"
    elif done.sets is not None:
        amount = f", {done.sets} sets" if done.sets != 1 else ", 1 set"
    elif done.reps is not None:
        amount = f", {done.reps} in all"
    if done.seconds is not None:
        amount += f", {done.seconds} s"
    return EXERCISE[done.exercise] + amount


def understood(reading: Reading, *, day_word: str, instead_of: int | None = None) -> str:
    """One short line that says back what was understood; "" where nothing was.

    `day_word`: the day that the reply as a whole speaks of, "today" or "yesterday". Warning signs are not echoed
    here: they have a reply of their own. `instead_of`: the score of the first steps that was told before.
    """
    whole = About.YESTERDAY if day_word == "yesterday" else About.TODAY
    morning: list[str] = []
    if reading.first_step_pain is not None:
        other = "" if instead_of in (None, reading.first_step_pain) else f" instead of {instead_of}"
        morning.append(f"first steps {reading.first_step_pain}{other}")
    if reading.rest_pattern is not None:
        morning.append(REST[reading.rest_pattern])
    if reading.settle_minutes is not None:
        morning.append(f"eased after {_number(reading.settle_minutes)} min")
    evening = [(each.about, _activity(each)) for each in reading.activities]
    evening += [(each.about, _exercise(each)) for each in reading.exercises]
    evening += [
        (whole, f"did no {ACTIVITY[each] if isinstance(each, Activity) else EXERCISE[each]}")
        for each in reading.not_done
    ]
    if reading.plan_done is not None:
        evening.append((reading.plan_about, PLAN_DONE[reading.plan_done]))
    if reading.worst_pain is not None:
        evening.append((reading.worst_pain_about, f"worst pain {reading.worst_pain}"))
    if not morning and not evening:
        return ""
    before = [text for about, text in evening if about is not whole and about is About.YESTERDAY]
    same = [text for about, text in evening if about is whole or about is not About.YESTERDAY]
    sentences = [*_sentences(morning), *(f"yesterday {each}" for each in _sentences(before)), *_sentences(same)]
    between = " " if len(sentences) <= _ON_ONE_LINE else "\n"
    tail = "".join(f"{between}{each[0].upper()}{each[1:]}." for each in sentences[1:])
    day = " for yesterday" if whole is About.YESTERDAY else ""
    return f"Noted{day}: {sentences[0]}.{tail}"


def _sentences(facts: list[str]) -> list[str]:
    """Three facts at most to a sentence: a long report stays easy to check."""
    return [", ".join(facts[at : at + 3]) for at in range(0, len(facts), 3)]
