"""Words to reading: what a patient's reply says, as a structured record. Pure: text in, reading out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from bot.program.terms import Asked
from bot.reader.flags import flags_in
from bot.reader.interpret import interpreted
from bot.reader.limits import holdable, of_one_day
from bot.reader.normalise import plain_characters
from bot.reader.reading import Reading


def read(text: str, asked: Asked) -> Reading:
    """What the reply says. Never raises, on any text. `asked` is the prompt that is open."""
    plain = plain_characters(text)
    reading = holdable(interpreted(plain, asked))
    by_words = flags_in(plain, asked)
    if not by_words:
        return reading
    codes = {each.code for each in by_words}
    return replace(reading, flags=(*by_words, *(each for each in reading.flags if each.code not in codes)))


def _plain(value: float | None) -> float | int | None:
    if value is None:
        return None
    return int(value) if float(value).is_integer() else round(value, 6)


def to_contract(reading: Reading) -> dict[str, Any]:
    """Exactly the fields of the reader's contract."""
    return {
        "first_step_pain": reading.first_step_pain,
        "rest_pattern": None if reading.rest_pattern is None else str(reading.rest_pattern),
        "worst_pain": reading.worst_pain,
        "settle_minutes": _plain(reading.settle_minutes),
        "activities": [
            {
                "activity": str(each.activity),
                "minutes": _plain(each.minutes),
                "count": _plain(each.count),
                "steps": each.steps,
                "km": _plain(each.km),
            }
            for each in reading.activities
        ],
        "exercises": [
            {"exercise": str(each.exercise), "sets": each.sets, "reps": each.reps, "seconds": each.seconds}
            for each in reading.exercises
        ],
        "plan_done": None if reading.plan_done is None else str(reading.plan_done),
        "red_flags": [str(code) for code in reading.red_flags],
        "about": str(reading.about),
    }


__all__ = ["Reading", "of_one_day", "read", "to_contract"]
