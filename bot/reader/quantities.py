"""Amounts in normalised text: durations, distances, steps, sets and repetitions, scores; and numbers that are none of these."""

from __future__ import annotations

import re
from dataclasses import dataclass

from bot.reader.vocabulary import vocabulary

_N = r"(\d{1,6}(?:\.\d{1,3})?)"
_RANGE = rf"{_N}(?:\s?(?:-|to|or|and|maybe)\s?(?:maybe )?{_N})?"
MILE_KM = 1.609344


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount with its place. Kinds: minutes, km, steps, sets, hold, count, score, number, none."""

    kind: str
    start: int
    end: int
    value: float = 0.0
    sets: int = 1
    tagged: bool = False


def _high(one: str, other: str | None) -> float:
    return max(float(one), float(other)) if other else float(one)


def _minutes(m: re.Match[str]) -> Quantity:
    factor = 60.0 if m["u"] == "hour" else 1.0
    return Quantity("minutes", m.start(), m.end(), _high(m[1], m[2]) * factor)


def _sec(m: re.Match[str]) -> Quantity:
    return Quantity("seconds", m.start(), m.end(), _high(m[1], m[2]))


def _twice(m: re.Match[str]) -> Quantity:
    times = {"twice": 2.0, "3 times": 3.0}.get(m["t"], 2.0)
    return Quantity("minutes", m.start(), m.end(), float(m["v"]) * times * (60.0 if m["u"] == "hour" else 1.0))


_RULES: tuple[tuple[re.Pattern[str], object], ...] = (
    # Not amounts at all: money, ages, years, ordinals, tablets, temperatures, dates, bus numbers.
    (
        re.compile(
            r"[£$€]\s?\d[\d.,]*|\b\d[\d.,]*\s?(?:pounds?|quid|euros?|dollars?|p|kg|kilos?|stone|lbs?|mg|ml|%|degrees|°c?)(?!\w)"
        ),
        "none",
    ),
    (re.compile(r"\b\d{1,3}\s?(?:years?|yrs?|yo|weeks?|days?|months?|nights?)\b(?:\s+(?:old|ago))?"), "none"),
    (re.compile(r"\b\d{1,2}[- ]a[- ]side\b"), "none"),
    (re.compile(r"\b(?:19|20)\d\d\b(?!\s*steps?)"), "none"),
    (re.compile(r"\b\d{1,4}(?:st|nd|rd|th|s)\b"), "none"),
    (re.compile(r"\bi'?a?m \d{2}\b(?!\s*(?:min|/))"), "none"),
    (re.compile(r"\b(?:under|over)-?\d{1,2}'?s\b"), "none"),
    (
        re.compile(
            r"\b\d{1,2}-\d{1,2}(?= (?:win|loss|defeat|up|down|at half))|(?:lost|won|lose|win|beat \w+|drew) \d{1,2}-\d{1,2}"
        ),
        "none",
    ),
    # Clock times.
    (
        re.compile(
            r"\b(?:(?:half|quarter) (?:past|to) \d{1,2}|\d{1,2} o'?clock|\d{1,2}(?:[:.]\d\d)?\s?(?:am|pm)\b|\d{1,2}:\d\d)"
        ),
        "none",
    ),
    (re.compile(r"\b(?:the )?\d{1,2}\.\d\d (?:bus|train|tram|ferry)"), "none"),
    (
        re.compile(
            r"\b(?:from|between) \d{1,2} (?:to|til|till|until|and) \d{1,2}\b(?!\s*(?:min|hour|km|/|sec))(?= (?:at work|shift))"
        ),
        "none",
    ),
    (
        re.compile(
            r"\b(?:woke(?: me)?(?: up)?|up|came|awake|bed|home|call(?:ed)?|finished|started) (?:at|by|about|around) \d{1,2}\b(?!\s*(?:/|min|hour))"
        ),
        "none",
    ),
    (
        re.compile(
            r"\b(?:row|bus|number|no\.|page|room|platform|gate|route|episode|chapter|floor) (?:number )?\d{1,4}\b"
        ),
        "none",
    ),
    # "7.15" and "bus at 8": two places after the point, or "at" after a word that says nothing of pain.
    (re.compile(r"\b\d{1,2}\.[0-5]\d\b(?!\s*(?:km|k\b|mile|metre|m\b|hour|min|/|out of|of 10))"), "none"),
    (
        re.compile(
            r"\b(?!(?:pain|heel|foot|still|steady|worst|level|it|its|is|was|sitting|sits|about|stuck|stays?|stayed|around|"
            r"now|peak(?:ed)?|max(?:ed)?|hurt(?:s|ing)?|score[ds]?|rated?|rest|best|ended|end)\b)[a-z']+ (?:at|by) \d{1,2}\b"
            r"(?!\s*(?:/|out of|of 10|min|hour|km|k\b|mile|x\b|steps))"
        ),
        "none",
    ),
    # Steps of a step counter.
    (re.compile(rf"\b{_N}\s?k steps?\b"), lambda m: Quantity("steps", m.start(), m.end(), round(float(m[1]) * 1000))),
    (
        re.compile(rf"\b{_N} steps?\b(?! up)"),
        lambda m: Quantity("steps", m.start(), m.end(), float(m[1])) if float(m[1]) >= 100 else None,
    ),
    (
        re.compile(r"\b(\d) ?x ?(\d{1,3}) min\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), float(m[1]) * float(m[2])),
    ),
    (
        re.compile(r"\b(\d{1,3}) min (?:each|either|both) ways?\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), 2 * float(m[1])),
    ),
    # Sets and repetitions, holds.
    (
        re.compile(
            r"\b(\d{1,3})\s?(?:x|by|\*|times|sets? of|lots? of|rounds? of|goes of|sets? x)\s?(\d{1,3})\s?(?:s|sec)\b"
        ),
        lambda m: Quantity("hold", m.start(), m.end(), float(m[2]), int(m[1])),
    ),
    (
        re.compile(
            r"(?<!worst )(?<!pain )\b(\d{1,3})\s?(?:x|by|\*|sets? of|lots? of|rounds? of|goes of|sets? x)\s?(\d{1,3})\b(?!\s?(?:min|hour))"
        ),
        lambda m: Quantity("sets", m.start(), m.end(), float(m[2]), int(m[1])),
    ),
    (
        re.compile(r"\b(\d{1,3}) (?:\w+ ){0,3}in (\d{1,2}) (?:equal )?(?:goes|sets|lots|rounds)\b"),
        lambda m: (
            Quantity("sets", m.start(), m.end(), float(m[1]) / int(m[2]), int(m[2]))
            if int(m[2]) and int(m[1]) % int(m[2]) == 0
            else None
        ),
    ),
    (
        re.compile(r"\b(\d{1,2}) (?:sets?|lots|rounds|goes)\b"),
        lambda m: Quantity("setcount", m.start(), m.end(), 0.0, int(m[1])),
    ),
    (
        re.compile(r"\b(\d{1,3}) (?:reps|repetitions|repeats)\b"),
        lambda m: Quantity("sets", m.start(), m.end(), float(m[1]), 1),
    ),
    # Durations.
    (re.compile(r"\b(?P<t>twice|2 times|3 times)(?: for| x)? (?P<v>\d{1,3}) (?P<u>min|hour)"), _twice),
    (
        re.compile(r"\b(\d{1,2}) hour (?:and )?(\d{1,2})(?: min\b)?(?! ?(?:x|/|sets|reps|heel|raises|out))"),
        lambda m: Quantity("minutes", m.start(), m.end(), float(m[1]) * 60 + float(m[2])),
    ),
    (
        re.compile(r"\b(\d{1,2})h(\d{2})\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), float(m[1]) * 60 + float(m[2])),
    ),
    (
        re.compile(r"\b(?:an?|1) hour and a half\b|\b1\.5 hour\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), 90.0),
    ),
    (re.compile(r"\b(?:an?|1) hour and (?:a )?quarter\b"), lambda m: Quantity("minutes", m.start(), m.end(), 75.0)),
    (
        re.compile(r"\b(?:an?|1) (?:hour) and (\d{1,2})(?: min)?\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), 60 + float(m[1])),
    ),
    (
        re.compile(r"\b(?:3 quarters of an hour|0\.75 (?:of an )?hour)\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), 45.0),
    ),
    (
        re.compile(r"\b(?:half an hour|a half hour|half hour|0\.5 (?:an )?hour|half a hour)\b"),
        lambda m: Quantity("minutes", m.start(), m.end(), 30.0),
    ),
    (re.compile(r"\b(?:a )?quarter (?:of an |of a )?hour\b"), lambda m: Quantity("minutes", m.start(), m.end(), 15.0)),
    (re.compile(r"\b(?:a|1) min and a half\b|\b1\.5 min\b"), lambda m: Quantity("minutes", m.start(), m.end(), 1.5)),
    (re.compile(r"\bhalf a min\b"), lambda m: Quantity("minutes", m.start(), m.end(), 0.5)),
    (re.compile(rf"\b{_RANGE}\s?(?P<u>min|hour)s?\b"), _minutes),
    (re.compile(r"\b(?:an|a whole|a full|a good|the) hour\b"), lambda m: Quantity("minutes", m.start(), m.end(), 60.0)),
    (re.compile(rf"\b{_RANGE}\s?sec\b"), _sec),
    (re.compile(r"\b(\d{1,3})\s?'(?=\s|$|,|\.)"), lambda m: Quantity("minutes", m.start(), m.end(), float(m[1]))),
    (re.compile(r"\b(?:a|1) min\b"), lambda m: Quantity("minutes", m.start(), m.end(), 1.0)),
    # Distances.
    (re.compile(rf"\b{_RANGE}\s?mile"), lambda m: Quantity("km", m.start(), m.end(), _high(m[1], m[2]) * MILE_KM)),
    (re.compile(r"\b(?:a|the) mile and a half\b"), lambda m: Quantity("km", m.start(), m.end(), 1.5 * MILE_KM)),
    (re.compile(r"\bhalf a mile\b|\bhalf mile\b"), lambda m: Quantity("km", m.start(), m.end(), 0.5 * MILE_KM)),
    (re.compile(r"\b(?:a|an|the) mile\b"), lambda m: Quantity("km", m.start(), m.end(), MILE_KM)),
    (re.compile(rf"\b{_RANGE}\s?(?:km|k)\b"), lambda m: Quantity("km", m.start(), m.end(), _high(m[1], m[2]))),
    (
        re.compile(rf"\b{_RANGE}\s?(?:metre|m)\b"),
        lambda m: Quantity("km", m.start(), m.end(), _high(m[1], m[2]) / 1000),
    ),
    (
        re.compile(r"\b(\d{1,2}) (?:flights?|trips?|times (?:up|down)|sets of stairs)\b"),
        lambda m: Quantity("count", m.start(), m.end(), float(m[1])),
    ),
    (re.compile(r"\ba flight of stairs\b"), lambda m: Quantity("count", m.start(), m.end(), 1.0)),
    # Scores that say that they are.
    (
        re.compile(rf"\bbetween (?:a |an )?{_N} and (?:a |an )?{_N}\b(?!\s?(?:min|hour|km|mile))"),
        lambda m: Quantity("number", m.start(), m.end(), _high(m[1], m[2])),
    ),
    (
        re.compile(rf"\b{_RANGE}\s?(?:/\s?10|out of 10|of 10|over 10|in 10)\b"),
        lambda m: Quantity("score", m.start(), m.end(), _high(m[1], m[2]), tagged=True),
    ),
    (
        re.compile(
            rf"\b{_N}\s?(?:,|\.{{2,}}|-)?\s?(?:no|wait|sorry|actually|i mean|make that|no wait)[\s,.]+(?:wait |sorry |actually |i mean |make (?:that|it) |more like |it's |a )*{_N}\b(?!\s?(?:min|hour|km|mile|x|steps))"
        ),
        lambda m: Quantity("number", m.start(), m.end(), float(m[2]), tagged=True),
    ),
    (
        re.compile(rf"\bfrom (?:a |an )?{_N} (?:down )?to (?:a |an )?{_N}\b"),
        lambda m: Quantity("number", m.start(), m.end(), float(m[2]), tagged=True),
    ),
    (
        re.compile(rf"\b{_N}\s?(?:-|/|to|or|or maybe|maybe|possibly|perhaps)\s?(?:a |an )?{_N}\b(?![.:]\d)"),
        lambda m: Quantity("number", m.start(), m.end(), _high(m[1], m[2])),
    ),
    (re.compile(rf"\b{_N}(?=ish\b|\b)"), lambda m: Quantity("number", m.start(), m.end(), float(m[1]))),
)


def quantities(text: str) -> list[Quantity]:
    """Every amount of the text in order; places do not overlap, the earlier rule wins."""
    taken = bytearray(len(text) + 1)
    found: list[Quantity] = []
    for pattern, make in _RULES:
        for match in pattern.finditer(text):
            start, end = match.span()
            if any(taken[start:end]):
                continue
            quantity = Quantity("none", start, end) if make == "none" else make(match)  # type: ignore[operator]
            if quantity is None:
                continue
            taken[start:end] = b"\x01" * (end - start)
            found.append(quantity)
    return sorted(found, key=lambda each: each.start)


def is_score(text: str, quantity: Quantity) -> bool:
    """Whether a plain number can be a pain score, by what stands around it."""
    if quantity.kind == "score":
        return True
    if quantity.kind != "number" or quantity.value > 10:
        return False
    if quantity.tagged:
        return True
    if re.match(r"\s*of (?:my|the|them|those|these|our|us|mine)\b", text[quantity.end : quantity.end + 12]):
        return False
    words = vocabulary()
    after = re.match(r"\s*([\w']+)", text[quantity.end : quantity.end + 24])
    gap = text[quantity.end : quantity.end + 1]
    if after is None or gap in set(".,;:!?)") or not gap:
        return True
    if after[1].isdigit():
        return True
    return after[1] in words.score_filler
