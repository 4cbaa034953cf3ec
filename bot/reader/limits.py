"""What a person can have done in a day. More is a slip or a joke: the deed stands, its amount is not known."""

from __future__ import annotations

from dataclasses import replace

from bot.reader.reading import ActivityDone, ExerciseDone, Reading

MINUTES, STEPS, KM, FLIGHTS = 1440, 200_000, 300, 1000
"""A day has 1,440 minutes; the others are common sense, no source."""
SETS, REPS, SECONDS = 100, 1000, 3600
LARGEST = 10_000_000
"""No amount at all is larger, whatever is asked for: what keeps records must be able to hold it."""


def _within(value: float | None, most: float) -> bool:
    return value is None or value <= most


def _activity(each: ActivityDone, most: tuple[float, float, float, float]) -> ActivityDone:
    minutes, steps, km, flights = most
    return replace(
        each,
        minutes=each.minutes if _within(each.minutes, minutes) else None,
        steps=each.steps if _within(each.steps, steps) else None,
        km=each.km if _within(each.km, km) else None,
        count=each.count if _within(each.count, flights) else None,
    )


def _exercise(each: ExerciseDone, most: tuple[float, float, float]) -> ExerciseDone:
    sets, reps, seconds = most
    kept = _within(each.reps, reps)
    return replace(
        each,
        # "5000 raises" is one set of too many: nothing of it is known.
        sets=each.sets if _within(each.sets, sets) and (kept or each.sets != 1) else None,
        reps=each.reps if kept else None,
        seconds=each.seconds if _within(each.seconds, seconds) else None,
    )


def _bounded(
    reading: Reading, activity: tuple[float, float, float, float], exercise: tuple[float, float, float]
) -> Reading:
    return replace(
        reading,
        activities=tuple(_activity(each, activity) for each in reading.activities),
        exercises=tuple(_exercise(each, exercise) for each in reading.exercises),
        settle_minutes=reading.settle_minutes if _within(reading.settle_minutes, activity[0]) else None,
    )


def holdable(reading: Reading) -> Reading:
    """The reading without amounts so large that no record holds them ("3 billion steps")."""
    if not reading.activities and not reading.exercises and reading.settle_minutes is None:
        return reading
    amounts = [reading.settle_minutes]
    for each in reading.activities:
        amounts += (each.minutes, each.steps, each.km, each.count)
    for one in reading.exercises:
        amounts += (one.sets, one.reps, one.seconds)
    if max([each or 0 for each in amounts]) <= LARGEST:
        return reading
    return _bounded(reading, (LARGEST,) * 4, (LARGEST,) * 3)


def of_one_day(reading: Reading) -> Reading:
    """The reading without the amounts that nobody does in a day, for what is kept of a patient."""
    return _bounded(reading, (MINUTES, STEPS, KM, FLIGHTS), (SETS, REPS, SECONDS))
