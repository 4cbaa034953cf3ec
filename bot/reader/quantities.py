"""Amounts in a row of tokens: durations, distances, steps, flights, sets and repetitions, holds, plain numbers and scores.

Two levels. `_Items` reads one amount at each place: a number with its unit, or a word that multiplies ("twice", "each way").
`_joined` puts neighbours together: ranges, corrections, "3 x 10", "twice for ten minutes", "an hour and 20".
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from bot.reader.tokens import Kind, Token, Tokens
from bot.reader.vocabulary import Vocabulary, listed

MEASURES = frozenset({"minutes", "seconds", "km", "steps", "count"})
_CLOCK_HOURS = 12
_FAR = 4
"""Tokens that may stand between two parts of one amount."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount from token `first` up to `last`.

    Kinds: minutes, seconds, km, steps, count (flights), sets (`sets` of `value`), hold (`sets` of `value` seconds), setcount,
    reps, times, number, score (said to be out of ten), clock, none (a number that is no amount of the reader's).
    """

    kind: str
    first: int
    last: int
    value: float = 0.0
    sets: int = 1
    each: bool = False
    """Said of one time of several ("10 min a go")."""
    total: bool = False
    """Said to be all of it ("20 min altogether")."""
    doubtful: bool = False
    """Perhaps a time of day or a name: a score only where there is no other."""
    tagged: bool = False
    """Corrected or from-to: surely the number that is meant."""
    parts: tuple[float, ...] = ()
    """The amounts it was multiplied or added up from."""


class _Items:
    """The first level."""

    def __init__(self, tokens: list[Token], words: Vocabulary) -> None:
        self.tokens = tokens
        self.words = words
        self.size = len(tokens)

    def text(self, at: int) -> str:
        return self.tokens[at].text if 0 <= at < self.size else ""

    def value(self, at: int) -> float | None:
        if 0 <= at < self.size and self.tokens[at].kind is Kind.NUMBER:
            return self.tokens[at].value
        return None

    def unit(self, at: int) -> tuple[str, float] | None:
        return (
            self.words.units.get(self.text(at))
            if 0 <= at < self.size and self.tokens[at].kind is not Kind.NUMBER
            else None
        )

    def read(self) -> list[Quantity]:
        found: list[Quantity] = []
        at = 0
        while at < self.size:
            token = self.tokens[at]
            made: Quantity | None = None
            if token.kind is Kind.NUMBER:
                made = self.other(at) or self.measured(at, found)
            elif token.text in listed("quantities", "read") and self.counted(at):
                made = self.counted(at)
            elif token.text in self.words.amount_starts:
                made = self.in_words(at)
            if made is None:
                at += 1
            else:
                found.append(made)
                at = max(made.last, at + 1)
        return found

    def counted(self, at: int) -> Quantity | None:
        """ "sets: 3, reps: 12": the number stands behind its unit."""
        number = at + 1 + (self.text(at + 1) in {":", "of"} and self.text(at + 1) == ":")
        value = self.value(number)
        if (
            value is None
            or (self.unit(number + 1) is not None and self.text(number + 2) != ":")
            or self.text(number + 1) in {"x", "/", "by"}
            or not float(value).is_integer()
        ):
            return None
        if number == at + 1 and (
            self.text(at) == "each" or self.text(number + 1) not in {"", ",", ";", "reps", "and", "."}
        ):
            return None
        if self.text(at) in {"set", "rep"} and number == at + 1:
            return None
        if self.text(at) in {"sets", "set"}:
            return Quantity("setcount", at, number + 1, value, sets=int(value))
        return Quantity("reps", at, number + 1, value)

    # -- numbers that are something else

    def other(self, at: int) -> Quantity | None:
        token, words = self.tokens[at], self.words
        before, after = self.text(at - 1), self.text(at + 1)
        value = token.value
        none = Quantity("none", at, at + 1, value)
        glued_before = token.glued
        glued_after = at + 1 < self.size and self.tokens[at + 1].glued
        if before in {"£", "$", "€", "#", "-"} and before != "-":
            return none
        if glued_after and after in {"st", "nd", "rd", "th"}:
            return replace(none, last=at + 2)
        if (
            glued_after
            and after == "s"
            and (before in {"the", "my", "in", "'"} or value >= 50)
            and value % 10 == 0
            and value <= 90
        ):
            return replace(none, last=at + 2)
        clock = self.clock(at)
        if clock is not None:
            return clock
        if after in words.months and not token.by_words:
            return replace(none, last=at + 2)
        if before in words.months and value <= 31 and before not in {"march", "may"}:
            return none
        in_a_row = self.text(at - 1) in listed("quantities", "other") and 5 <= value <= 50
        if in_a_row and self.text(at + 1) == "/" and self.text(at + 3) == "/" and self.value(at + 4) is not None:
            return Quantity("number", at, at + 1, value)
        if (
            self.text(at + 1) == "/"
            and self.text(at + 3) == "/"
            and self.value(at + 2) is not None
            and self.value(at + 4) is not None
        ):
            return replace(none, last=at + 5)
        if 1900 <= value <= 2099 and not token.by_words and "," not in token.raw and after not in words.units:
            return none
        if after == "a" and self.text(at + 2) == "side":
            return replace(none, last=at + 3)
        if (after == "/" or after == "-") and glued_after and self.value(at + 2) == 7 and value == 24:
            return replace(none, last=at + 3)
        if after in words.other_units and not (after in listed("quantities", "other_2") and not glued_after):
            if after == "ish":
                return None
            if after == "day" and self.text(at + 2) in {"walk", "walks"}:
                return None
            return replace(none, last=at + 2)
        if before in {"under", "over", "u"} and glued_after and after in {"s", "'"}:
            return replace(none, last=at + 2)
        if (
            glued_before
            and self.tokens[at - 1].kind is Kind.WORD
            and token.start - self.tokens[at - 1].start == 1
            and before not in {"plus", "and", "at"}
            and before[0] not in listed("quantities", "other_3")
        ):
            return replace(none, last=at + 1 + (glued_after and after == "s"))
        if (
            before in words.number_names
            and self.unit(at + 1) is None
            and not self.scored(at)
            and not (before == "bed" and value <= 10)
        ):
            if (before == "under" and value < 11) or (
                before in {"day", "week", "month", "night"} and self.text(at - 2) in listed("quantities", "other_4")
            ):
                return None
            opens = at < 2 or self.tokens[at - 2].kind is Kind.MARK
            if before in {"number", "no."} and value <= 10 and (opens or after in {"", ".", ",", ";", "today", "for"}):
                return Quantity("number", at, at + 1, value, doubtful=True)
            return none
        if (
            before == "am"
            and self.text(at - 2) == "i"
            and value > 10
            and self.unit(at + 1) is None
            and after not in {"/", "out", "reps", "raises"}
        ):
            return none
        if before in listed("quantities", "other_5") and after == "-" and self.value(at + 2) is not None:
            return replace(none, last=at + 3)
        if (
            after == "-"
            and self.value(at + 2) is not None
            and self.text(at - 1) in {"them", "us", "him", "her"}
            and self.unit(at + 3) is None
        ):
            return replace(none, last=at + 3)
        if after == "-" and self.value(at + 2) == 0 and value > 0:
            return replace(none, last=at + 3)
        return None

    def scored(self, at: int) -> bool:
        return (self.text(at + 1) in {"/", "of", "on"} and self.value(at + 2) == 10) or (
            self.text(at + 1) in {"out", "outta", "outa"} and 10 in (self.value(at + 2), self.value(at + 3))
        )

    def clock(self, at: int) -> Quantity | None:
        """A time of day; its value is minutes after midnight or noon."""
        token, words = self.tokens[at], self.words
        before, after = self.text(at - 1), self.text(at + 1)
        value = token.value
        if value >= 24:
            return None
        whole = float(value).is_integer() and "." not in token.raw
        minutes = self.value(at + 2) if after == ":" and at + 1 < self.size and self.tokens[at + 1].glued else None
        if minutes is not None and self.tokens[at + 2].glued and len(self.tokens[at + 2].raw) == 2 and minutes < 60:
            unit = self.unit(at + 3)
            if unit == ("minutes", 60):
                return Quantity("minutes", at, at + 4, value * 60 + minutes)
            if self.text(at + 3) == ":" and self.value(at + 4) is not None:
                return Quantity("minutes", at, at + 5, value * 60 + minutes)
            last = at + 3 + (self.text(at + 3) in {"am", "pm", "ish"})
            return Quantity("clock", at, last, value * 60 + minutes)
        if after in listed("quantities", "clock") and not (
            after == "am" and not self.tokens[at + 1].glued and self.text(at + 2) == "i"
        ):
            hour, part = int(value), round((value % 1) * 100)
            if after == "am" and not self.tokens[at + 1].glued and self.text(at + 2) in listed("quantities", "clock_2"):
                return None
            return Quantity("clock", at, at + 2, hour * 60 + part)
        if (
            before in {"past", "to"}
            and self.text(at - 2) in {"half", "quarter", "5", "10", "20", "25"}
            and whole
            and value <= _CLOCK_HOURS
            and self.unit(at + 1) is None
            and before != "-"
        ):
            return Quantity("clock", at, at + 1, value * 60)
        two_places = (
            "." in token.raw
            and len(token.raw.partition(".")[2]) == 2
            and int(token.raw.partition(".")[2]) < 60
            and value < 24
        )
        if two_places and not token.by_words and self.unit(at + 1) is None and not self.scored(at):
            return Quantity("clock", at, at + 1, int(value) * 60 + int(token.raw.partition(".")[2]))
        second = self.value(at + 1)
        if (
            whole
            and value <= _CLOCK_HOURS
            and second is not None
            and 10 <= second < 60
            and second % 5 == 0
            and (before in words.clock_before or before in {"bus", "train"})
            and self.unit(at + 2) is None
        ):
            return Quantity("clock", at, at + 2, value * 60 + second)
        if (
            before == "at"
            and not whole
            and value <= 10
            and self.unit(at + 1) is None
            and not self.scored(at)
            and self.text(at - 2) not in words.not_when
            and not token.by_words
        ):
            return Quantity("number", at, at + 1, value, doubtful=True)
        if not whole or value > _CLOCK_HOURS or self.unit(at + 1) is not None or self.scored(at) or after in {"x", "/"}:
            return None
        if (
            before in words.clock_only
            and before != "past"
            and not (before == "til" and self.text(at - 2) in {"it", "was"})
        ):
            return Quantity("clock", at, at + 1, value * 60)
        counted = self.text(at - 2) in words.units or self.value(at - 2) is not None
        if before == "at" and self.value(at - 2) is not None and self.unit(at + 1) is None:
            return Quantity("number", at, at + 1, value, doubtful=True)
        if before in {"at", "by", "before"} and not (before == "by" and counted) and self.says_when(at - 1):
            if self.text(at - 2) in words.clock_verbs or before != "at" or value > 10:
                return Quantity("clock", at, at + 1, value * 60)
            return Quantity("number", at, at + 1, value, doubtful=True)
        if before in {"around", "about"} and self.text(at - 2) in words.clock_verbs - listed("quantities", "clock_3"):
            return Quantity("clock", at, at + 1, value * 60)
        if before == "half" and self.unit(at + 1) is None and self.text(at - 2) in listed("quantities", "clock_4"):
            return Quantity("clock", at - 1, at + 1, value * 60 + 30)
        # "from 2 til 4", "9-5"
        if before == "from" and self.text(at + 1) in {"till", "til", "until"}:
            return Quantity("clock", at, at + 1, value * 60)
        if before == "from" and self.text(at + 1) in {"to", "-"} and self.text(at + 2) == "half":
            return Quantity("clock", at, at + 1, value * 60)
        if after == "-" and self.value(at + 2) is not None and value == 9 and self.value(at + 2) == 5:
            return Quantity("none", at, at + 3)
        return None

    def says_when(self, at: int) -> bool:
        """Whether "at"/"by" before a number tells the time: after a word of coming and going, not of pain."""
        before = self.text(at - 1)
        if self.text(at) == "before":
            return True
        if before in self.words.not_when:
            return False
        return before in self.words.clock_verbs or (at > 0 and self.tokens[at - 1].kind is Kind.WORD)

    # -- numbers with units

    def measured(self, at: int, found: list[Quantity]) -> Quantity:
        token = self.tokens[at]
        value = token.value
        if self.scored(at):
            last = at + 3
            if self.text(at + 1) in {"out", "outta", "outa"}:
                last = at + 3 if self.value(at + 2) == 10 else at + 4
            return Quantity("score", at, last, value)
        if (
            self.text(at + 1) in {"over", "in"}
            and self.value(at + 2) == 10
            and self.unit(at + 3) is None
            and value <= 10
        ):
            return Quantity("score", at, at + 3, value)
        after = at + 1
        if (
            self.text(after) == "/"
            and self.value(after + 1) == value
            and value != 10
            and value >= 2
            and "/" not in {self.text(after + 2), self.text(at - 1)}
        ):
            # "walk 20/20", "3/3 sets": all of what was asked.
            unit = self.unit(after + 2)
            made = self.with_unit(after + 1, after + 2, unit) if unit is not None else None
            return replace(made, first=at) if made is not None else Quantity("number", at, after + 2, value)
        # "3,5 km"
        if (
            self.text(after) == ","
            and self.tokens[after].glued
            and self.value(after + 1) is not None
            and self.tokens[after + 1].glued
        ):
            unit = self.unit(after + 2)
            if unit is not None and unit[0] == "km" and len(self.tokens[after + 1].raw) <= 2:
                return Quantity("km", at, after + 3, float(f"{token.raw}.{self.tokens[after + 1].raw}") * unit[1])
        # "1/2 hour", "3/4 of an hour"
        if (
            self.text(after) == "/"
            and self.value(after + 1) in {2.0, 3.0, 4.0}
            and value < (self.value(after + 1) or 0)
        ):
            last = after + 2
            while self.text(last) in {"of", "a", "an"}:
                last += 1
            unit = self.unit(last)
            if unit is not None and unit[0] in {"minutes", "km", "seconds"}:
                return Quantity(unit[0], at, last + 1, value / (self.value(after + 1) or 1) * unit[1])
        # "3 quarters of an hour", "two thirds of a mile"
        bottom = self.words.fractions.get(self.text(after))
        if bottom is not None and value < bottom:
            last = after + 1
            while self.text(last) in {"of", "a", "an"}:
                last += 1
            unit = self.unit(last)
            if unit is not None and unit[0] in {"minutes", "km"}:
                return Quantity(unit[0], at, last + 1, value / bottom * unit[1])
        while self.text(after) in listed("quantities", "measured") and self.text(after) != "or":
            after += 1
        if self.text(after) == "or" and self.text(after + 1) == "so" and self.unit(after + 2) is not None:
            after += 2
        if self.text(after) == "half" and self.unit(after + 1) == ("minutes", 60):  # "2 half hours"
            return Quantity("minutes", at, after + 2, value * 30)
        unit = self.unit(after)
        if unit is not None:
            made = self.with_unit(at, after, unit)
            if made is not None:
                return made
        text = self.text(after)
        if text == "m":
            if self.text(after + 1) in {"steps", "paces"}:
                return Quantity("steps", at, after + 2, round(value * 1_000_000))
            return self.with_m(at, after)
        if text == "'" and self.tokens[after].glued:
            return Quantity("minutes", at, after + 1, value)
        if (
            text == '"'
            and self.tokens[after].glued
            and self.text(at - 1) not in {'"'}
            and not any(t.text == '"' for t in self.tokens[max(0, at - 6) : at])
        ):
            return Quantity("seconds", at, after + 1, value)
        return Quantity("number", at, at + 1 + (self.text(at + 1) == "ish"), value)

    def with_m(self, at: int, after: int) -> Quantity:
        value = self.tokens[at].value
        metres = value >= 100 or self.text(at - 1) in {"swam", "swim"} or self.text(after + 1) in {"sprint", "away"}
        if self.text(after + 1) == "and" and self.unit(after + 3) == ("km", 0.00001):
            metres = True
        return Quantity("km", at, after + 1, value / 1000) if metres else Quantity("minutes", at, after + 1, value)

    def with_unit(self, at: int, after: int, unit: tuple[str, float]) -> Quantity | None:
        kind, factor = unit
        if self.text(after + 1) == ":" and self.value(after + 2) is not None:
            return None  # "sets: 3 reps: 10": a label of the next number
        value = self.tokens[at].value
        text, last = self.text(after), after + 1
        glued = self.tokens[after].glued
        if text in {"k", "ks"} and self.text(last) in {"steps", "step", "paces"}:
            return Quantity("steps", at, last + 1, round(value * 1000))
        if text == "k" and value >= 100 and glued:
            return Quantity("number", at, last, value * 1000)
        if text in {"foot", "feet"} and value < 20 and text == "foot":
            return None
        if text in {"our", "ours"} and not (value <= 12 and self.text(last) in listed("quantities", "with_unit")):
            return None
        if text == "s" and not glued:
            return None
        if text == "second" and (
            (value == 1 and self.text(last) not in {"", ".", ","})
            or self.text(last) in listed("quantities", "with_unit_2")
        ):
            return None
        if kind == "steps":
            walked = self.text(at - 1) in {"walked", "walk", "walking"}
            if value < 15 and text in {"step", "steps"} and not walked:
                return Quantity("none", at, last, value)
            return Quantity("steps", at, last, value)
        if kind == "times":
            if text == "time" and value != 1:
                return None
            # "15 times": raises; "3 times up and down"
            return Quantity("times", at, last, value)
        if kind == "sets":
            if text in {"round", "go"} and value != 1:
                return None
            if text in {"lot", "lots"} and value > 12:
                return None
            if text == "sets" and self.text(last) == "of" and self.text(last + 1) == "stairs":
                return Quantity("count", at, last + 2, value)
            if self.text(last) == "of":
                return Quantity("setcount", at, last, value, sets=int(value))
            return Quantity("setcount", at, last, value, sets=int(value))
        if kind == "reps":
            return Quantity("reps", at, last, value)
        if kind == "count":
            if self.text(last) == "of" and self.text(last + 1) in {"stairs", "steps", "stair"}:
                last += 2
            return Quantity("count", at, last, value)
        amount = Quantity(kind, at, last, value * factor)
        return self.with_smaller(amount, factor)

    def with_smaller(self, amount: Quantity, factor: float) -> Quantity:
        """What follows a unit and belongs to it: "and a half", "20 minutes" after hours, metres after kilometres."""
        last = amount.last
        if self.text(last) in {"and", "n", "an"} or (self.text(last) == "," and self.unit(last + 2) is not None):
            joined = last + 1
            skip = joined + (self.text(joined) in {"a", "an", "another"})
            if self.text(skip) == "half" and self.unit(skip + 1) is None and self.text(last) != ",":
                return replace(amount, last=skip + 1, value=amount.value + 0.5 * factor)
            if self.text(skip) == "quarter" and self.text(last) != ",":
                return replace(amount, last=skip + 1, value=amount.value + 0.25 * factor)
            if self.value(joined) == 3 and self.text(joined + 1) == "quarters" and self.unit(joined + 2) is None:
                return replace(amount, last=joined + 2, value=amount.value + 0.75 * factor)
            if self.text(skip) == "bit" and skip > joined:
                return replace(amount, last=skip + 1)
        else:
            joined = last
        value = self.value(joined)
        if value is None:
            return amount
        unit = self.unit(joined + 1)
        comma = self.text(last) == ","
        same = unit is not None and unit[0] == amount.kind
        seconds = unit is not None and unit[0] == "seconds" and amount.kind == "minutes"
        if (same and unit is not None and unit[1] < factor) or seconds:
            ends = self.text(joined + 2) in listed("quantities", "with_smaller") or not comma
            if ends and unit is not None:
                more = value / 60 if seconds else value * unit[1]
                return self.with_smaller(
                    replace(amount, last=joined + 2, value=amount.value + more), 0.0 if seconds else unit[1]
                )
            return amount
        if amount.kind == "km" and unit is not None and self.text(joined + 1) == "m" and not comma:
            return replace(amount, last=joined + 2, value=amount.value + value / 1000)
        if self.text(joined + 1) == "m" and factor == 60 and value < 60:
            return replace(amount, last=joined + 2, value=amount.value + value)
        if factor == 60 and not comma and unit is None and 10 <= value < 60 and float(value).is_integer():
            following = self.text(joined + 1)
            exact = joined == last and self.tokens[joined].glued
            if exact or (following not in listed("quantities", "with_smaller_2") and self.value(joined + 1) is None):
                return replace(amount, last=joined + 1, value=amount.value + value)
        return amount

    # -- amounts without a number: "half an hour", "an hour", "twice"

    def in_words(self, at: int) -> Quantity | None:
        text = self.text(at)
        if text in {"twice", "once", "thrice", "double"}:
            if text == "once" and self.text(at + 1) in listed("quantities", "in_words"):
                return None
            if text == "double":
                return None
            if self.text(at + 1) in {"as", "the"} or (
                self.text(at + 1) == "a" and self.text(at + 2) == "day" and text == "once"
            ):
                return None
            return Quantity("times", at, at + 1, {"once": 1.0, "twice": 2.0}.get(text, 3.0))
        if text in listed("quantities", "in_words_2"):
            way = self.text(at + 1)
            if way in {"way", "ways", "direction"} and text != "a" and text != "every":
                return Quantity("ways", at, at + 2, 2.0)
            if text == "each" and way in listed("quantities", "in_words_3"):
                return Quantity("each", at, at + 1 + (way in {"time", "go", "walk", "one"}))
            if (
                text in {"a", "per", "every"}
                and way in listed("quantities", "in_words_4")
                and self.text(at - 1) != "had"
            ):
                before = self.text(at - 1)
                if before in self.words.units or self.text(at - 2) in self.words.units:
                    return Quantity("each", at, at + 2)
            if text == "apiece":
                return Quantity("each", at, at + 1)
            if text in listed("quantities", "in_words_5"):
                return None
        if text in {"altogether", "total"} or (
            text == "all" and self.text(at + 1) in {"in", "told"} and self.text(at + 2) in {"", ".", ",", ";", "all"}
        ):
            return Quantity("total", at, at + 1)
        if text == "there" and self.text(at + 1) == "and" and self.text(at + 2) == "back":
            return Quantity("return", at, at + 3)
        if (
            text in {"morning", "am"}
            and self.text(at + 1) in {"and", "n"}
            and self.text(at + 2) in {"night", "evening", "pm"}
        ):
            return Quantity("times", at, at + 3, 2.0)
        if text in {"few", "several"}:
            last = at + 1
            while self.text(last) in self.words.multiples:
                last += 1
            if self.unit(last) is not None:
                return Quantity("none", at, last + 1)
            return None
        if text in {"hour", "hours"}:
            if (self.text(at + 1) == "and" and self.text(at + 2) in {"a", "half", "quarter"}) or (
                self.text(at + 1) == "and" and self.value(at + 2) is not None
            ):
                made = self.with_smaller(Quantity("minutes", at, at + 1, 60.0), 60.0)
                return made if made.last > at + 1 else None
            return None
        if text == "half":
            return self.half(at, at + 1)
        if text == "quarter":
            return self.quarter(at, at + 1)
        # "a", "an", "the", "another", "whole" ...
        last = at + 1
        while last < at + 4 and self.text(last) in listed("quantities", "in_words_6"):
            if self.text(last) == "half":
                return self.half(at, last + 1)
            if self.text(last) == "quarter":
                return self.quarter(at, last + 1)
            last += 1
        unit = self.unit(last)
        if unit is None:
            return None
        kind, factor = unit
        name = self.text(last)
        if kind in {"minutes", "km"} and name in listed("quantities", "in_words_7"):
            if text == "the" and name not in {"hour", "mile"} and self.text(at - 1) not in {"within", "inside"}:
                return None
            if self.text(last + 1) in {"later", "ago", "early", "late"} or (
                name in {"minute", "min"}
                and self.text(at - 1) in {"in", "wait", "at", "for"}
                and last == at + 1
                and self.text(at - 1) != "for"
            ):
                return Quantity("none", at, last + 1)
            if self.text(last + 1) == "or" and self.value(last + 2) == 2:
                unit2 = self.unit(last + 3)
                if unit2 is not None and unit2[0] == kind:
                    return Quantity(kind, at, last + 4, 2 * unit2[1])
                return Quantity(kind, at, last + 3, 2 * factor)
            if self.text(last + 1) == "or" and self.text(last + 2) in {"two", "so"}:
                return Quantity(kind, at, last + 3, (2 if self.text(last + 2) == "two" else 1) * factor)
            return self.with_smaller(Quantity(kind, at, last + 1, factor), factor)
        if kind == "count" and text in {"a", "an", "single", "another"} and name == "flight":
            end = last + 1
            if self.text(end) == "of":
                end += 2
            return Quantity("count", at, end, 1.0)
        if kind == "sets" and text in {"a", "another"} and name == "set":
            return Quantity("setcount", at, last + 1, 1.0, sets=1)
        return None

    def half(self, at: int, last: int) -> Quantity | None:
        """ "half an hour", "half hour", "half a mile"; `last` is behind "half"."""
        while self.text(last) in {"a", "an", "of", "the"}:
            last += 1
        unit = self.unit(last)
        if (
            unit is not None
            and unit[0] in {"minutes", "km", "seconds"}
            and self.text(last) not in listed("quantities", "half")
        ):
            return Quantity(unit[0], at, last + 1, 0.5 * unit[1])
        if self.text(last) == "day":
            return Quantity("none", at, last + 1)
        return None

    def quarter(self, at: int, last: int) -> Quantity | None:
        while self.text(last) in {"a", "an", "of", "the"}:
            last += 1
        unit = self.unit(last)
        if unit is not None and unit[0] in {"minutes", "km"}:
            return Quantity(unit[0], at, last + 1, 0.25 * unit[1])
        return None


class _Joiner:
    """The second level: neighbours that make one amount. One pass from left to right over a stack."""

    def __init__(self, items: list[Quantity], tokens: list[Token], words: Vocabulary) -> None:
        self.items = items
        self.tokens = tokens
        self.words = words

    def gap(self, one: Quantity, other: Quantity) -> list[str]:
        if other.first - one.last > 8:
            return ["", "", "", "", "", "", "", "", ""]
        return [self.tokens[at].text for at in range(one.last, other.first)]

    def joined(self) -> list[Quantity]:
        stack: list[Quantity] = []
        for item in self.items:
            stack.append(item)
            while len(stack) > 1:
                both = self.both(stack[-2], stack[-1], stack[-3] if len(stack) > 2 else None)
                if both is None:
                    break
                stack[-2:] = [both]
        return stack

    def both(self, one: Quantity, other: Quantity, earlier: Quantity | None) -> Quantity | None:
        if (
            other.first - one.last > 8
            or one.kind == "none"
            or (one.kind == "clock" and other.kind not in {"clock", "number"})
        ):
            return None
        gap = self.gap(one, other)
        said = " ".join(gap)
        return (
            self.corrected(one, other, gap)
            or self.clocks(one, other, said)
            or self.listed(one, other, said)
            or self.ranged(one, other, said)
            or self.multiplied(one, other, gap, said)
            or self.in_sets(one, other, gap, said)
            or self.marked(one, other, gap)
        )

    def wide(self, one: Quantity, other: Quantity, **changes: object) -> Quantity:
        return replace(other, first=one.first, last=max(one.last, other.last), **changes)  # type: ignore[arg-type]

    def corrected(self, one: Quantity, other: Quantity, gap: list[str]) -> Quantity | None:
        kinds = {"number", "score", "minutes", "km", "steps", "count", "sets", "reps", "hold", "seconds", "setcount"}
        if one.kind not in kinds or other.kind not in kinds or not gap:
            return None
        plain = [each for each in gap if each not in {",", ".", "-", ";", "?", "("}]
        if one.kind == "sets" and other.kind == "number":
            plain = [each for each in plain if each not in {"raises", "heel", "calf", "reps"}]
            if plain and all(each in self.words.corrects_opens | listed("quantities", "corrected") for each in plain):
                return replace(one, last=other.last, value=other.value)
        alike = one.kind == other.kind or {one.kind, other.kind} <= {"number", "score"}
        mixed = "number" in {one.kind, other.kind} and not {one.kind, other.kind} & {"sets", "hold"}
        if not (alike or mixed) or not plain:
            return None
        if plain == ["not"] and len(gap) <= 2:
            # "20 not 30 minutes": the unit may stand behind the second.
            factor = 1.0
            if other.kind != one.kind and one.kind == "number" and other.kind in MEASURES:
                factor = self.factor(other)
            kind = other.kind if one.kind == "number" and other.kind in MEASURES else one.kind
            return replace(one, last=other.last, kind=kind, value=one.value * factor, tagged=True)
        wrote = {each.text for each in self.tokens[max(0, one.first - 3) : one.first]} & listed(
            "quantities", "corrected_2"
        )
        if (
            wrote
            and alike
            and set(plain) <= listed("quantities", "corrected_3")
            and {"but", "meant", "should"} & set(plain)
        ):
            return self.wide(one, other, tagged=True)
        if (
            plain in (["turned", "into"], ["became"], ["turned", "in", "to"])
            and one.kind in MEASURES
            and other.kind in {"number", one.kind}
        ):
            value = other.value * (self.factor(one) if other.kind == "number" else 1.0)
            return replace(one, last=other.last, value=value)
        if plain == ["but"] and self.tokens[max(0, one.first - 1)].text == "not":
            return self.wide(one, other, tagged=True)
        if len(plain) > 7 or not all(each in self.words.corrects for each in plain):
            return None
        opens = [each for each in plain if each in self.words.corrects_opens]
        if not opens or plain == ["or"] or (plain[0] == "was" and "no" not in plain):
            return None
        if other.kind == "number" and one.kind in MEASURES:
            if one.kind == "minutes" and "." in gap:
                return None
            return replace(one, last=other.last, value=other.value * self.factor(one), tagged=True)
        return self.wide(one, other, tagged=True)

    def factor(self, measure: Quantity) -> float:
        for at in range(measure.last - 1, measure.first - 1, -1):
            unit = self.words.units.get(self.tokens[at].text)
            if unit is not None and self.tokens[at].kind is Kind.WORD:
                return unit[1]
        return 1.0

    def clocks(self, one: Quantity, other: Quantity, said: str) -> Quantity | None:
        """From one time of day to another is a duration: "from 2 til 4"."""
        at_work = one.first > 1 and self.tokens[one.first - 2].text in listed("quantities", "at_work")
        small = one.kind == other.kind == "number" and max(one.value, other.value) <= _CLOCK_HOURS
        if at_work and small and self.from_before(one) and said in {"to", "-"}:
            one = replace(one, kind="clock", value=one.value * 60)  # "on my feet from 8 to 4"
        if (
            one.kind == "number"
            and other.kind == "clock"
            and said in listed("quantities", "clocks")
            and one.value <= 12
        ):
            one = replace(one, kind="clock", value=one.value * 60)
        if one.kind != "clock" or other.kind not in {"clock", "number"} or said not in listed("quantities", "clocks_2"):
            return None
        if other.kind == "number" and (
            other.value > 12 or (said not in {"till", "til", "until"} and not self.from_before(one))
        ):
            return None
        if said == "and" and not (one.first and self.tokens[one.first - 1].text == "between"):
            return None
        end = other.value * 60 if other.kind == "number" else other.value
        minutes = end - one.value
        if minutes <= 0:
            minutes += 12 * 60
        return Quantity("minutes", one.first, other.last, minutes) if 0 < minutes <= 14 * 60 else None

    def from_before(self, one: Quantity) -> bool:
        return one.first > 0 and self.tokens[one.first - 1].text == "from"

    def is_hour(self, one: Quantity) -> bool:
        return self.tokens[one.last - 1].text == "h" and one.last - one.first == 2

    def listed(self, one: Quantity, other: Quantity, said: str) -> Quantity | None:
        """ "12 and 15 minutes" of two walks add up; "about twenty, twenty five minutes" is a range."""
        if (
            said == "plus"
            and one.kind == "number"
            and one.value >= 3
            and other.kind in {"number", "minutes"}
            and self.factor(other) == 1
        ):
            return self.wide(one, other, value=one.value + other.value, parts=(one.value, other.value))
        if one.kind != "number" or other.kind != "minutes" or one.value < 5 or not one.first:
            return None
        before = self.tokens[one.first - 1].text
        if said == "and" and before in listed("quantities", "listed") and self.factor(other) == 1 and not other.parts:
            return self.wide(one, other, value=one.value + other.value, parts=(one.value, other.value))
        if (
            said in {",", ""}
            and before in listed("quantities", "listed_2")
            and 0 < other.value - one.value <= one.value
        ):
            return self.wide(one, other)
        return None

    def ranged(self, one: Quantity, other: Quantity, said: str) -> Quantity | None:
        before = self.tokens[one.first - 1].text if one.first else ""
        between = before in {"between", "somewhere", "from"} or (
            one.first > 1 and self.tokens[one.first - 2].text in {"between", "from"}
        )
        is_from = before == "from" or (
            one.first > 1 and self.tokens[one.first - 2].text == "from" and before in {"a", "an", "about"}
        )
        linked = said in self.words.range_between or (between and said in listed("quantities", "ranged"))
        if (
            (
                is_from
                and other.first - one.last <= 6
                and (
                    said.endswith((" down to", " to", " to a", " to an", " down to a", " to about"))
                    or said in {"to an"}
                )
                and not {",", ".", ";"} & set(said.split())
            )
            or (is_from and said in listed("quantities", "ranged_2"))
            or (
                said in {"down to", "down to a", "up to a", "down to about"}
                and before in listed("quantities", "ranged_3")
            )
        ):
            linked = True
        if not linked:
            return None
        if one.kind == "number" and other.kind in {"number", "score"}:
            if other.tagged and one.value > other.value:
                return None
            if said == "/" and (one.value > 10 or (other.value < 10 and one.value > other.value)):
                return None
            if said in {"a", "nearly", "almost", ", nearly"} and not 0 < other.value - one.value <= 1:
                return None
            if said in {"-", "to", "or"} and other.value - one.value > 30 and one.value <= 10:
                return None
            if is_from or "down" in said:
                return self.wide(one, other, tagged=True)
            return self.wide(one, other, value=max(one.value, other.value))
        if one.kind == "number" and (other.kind in MEASURES or other.kind == "reps"):
            factor = self.factor(other) if other.kind in MEASURES else 1.0
            if one.value * factor > other.value and not is_from and said not in {"-", "or", "to"}:
                return None
            if is_from and "down" in said:
                return self.wide(one, other)
            return self.wide(one, other, value=max(one.value * factor, other.value))
        if (
            one.kind == "number"
            and other.kind in {"sets", "hold", "setcount"}
            and said in {"-", "to", "or"}
            and other.kind == "setcount"
        ):
            return self.wide(one, other, sets=max(int(one.value), other.sets))
        if (
            is_from
            and one.kind == other.kind == "minutes"
            and self.is_hour(one)
            and self.is_hour(other)
            and said in listed("quantities", "ranged_4")
            and other.value > one.value
        ):
            return self.wide(one, other, value=other.value - one.value)  # "from 18h to 19h"
        if one.kind == other.kind and one.kind in MEASURES and said not in {"/", "a", "nearly"}:
            return self.wide(one, other, value=max(one.value, other.value))
        # "10 min or 12", "from 10 min to 15"
        number_behind = one.kind in MEASURES and other.kind == "number" and said in listed("quantities", "ranged_5")
        if number_behind and (is_from or said != "to"):
            value = other.value * self.factor(one)
            if value < 3 * one.value:
                return self.wide(one, replace(one, last=other.last), value=max(one.value, value))
        return None

    def multiplied(self, one: Quantity, other: Quantity, gap: list[str], said: str) -> Quantity | None:
        # "10 min each way", "4 flights, twice", "10 min x 2"
        if (
            one.kind in MEASURES
            and other.kind == "ways"
            and self.tokens[other.first].text == "both"
            and other.last < len(self.tokens)
            and self.tokens[other.last].text in listed("quantities", "multiplied")
        ):
            return replace(one, last=other.last)
        if (
            one.kind in MEASURES
            and other.kind == "ways"
            and all(each in listed("quantities", "multiplied_2") for each in gap)
        ):
            return replace(one, last=other.last, value=2 * one.value, parts=(*one.parts, one.value))
        if (
            one.kind == "ways"
            and other.kind in {"minutes", "km", "steps"}
            and said in {"", ",", "about", "is", "was", ":"}
        ):
            return self.wide(one, other, value=2 * other.value, parts=(other.value,))
        repeated = one.kind in MEASURES and other.kind == "times" and other.value <= 12 and not one.parts
        if repeated and said in listed("quantities", "multiplied_3"):
            if one.kind == "seconds":
                return Quantity("hold", one.first, other.last, one.value, int(other.value))
            if other.value == 1:
                return replace(one, last=other.last)
            return replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))
        if one.kind in MEASURES and other.kind == "number" and said in {"x", ", x", "times"} and other.value <= 12:
            if one.kind == "seconds":
                return Quantity("hold", one.first, other.last, one.value, int(other.value))
            return replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))
        if (
            one.kind in {"seconds"}
            and other.kind in {"reps", "setcount"}
            and said in listed("quantities", "multiplied_4")
        ):
            return Quantity("hold", one.first, other.last, one.value, int(other.value) or other.sets)
        if (
            one.kind == "setcount"
            and other.kind in MEASURES
            and other.kind != "seconds"
            and said in listed("quantities", "multiplied_5")
            and (said != "," or other.each)
        ):
            return self.wide(one, other, value=one.sets * other.value, parts=(other.value,))
        if one.kind == "times" and one.value <= 30 and other.kind in MEASURES:
            close = said in listed("quantities", "multiplied_6")
            if other.kind == "seconds" and (close or said == ","):
                return Quantity("hold", one.first, other.last, other.value, int(one.value))
            if close or (other.each and len(gap) <= 6):
                return self.wide(one, other, value=one.value * other.value, parts=(other.value,), each=False)
            if (
                other.parts and other.kind == "minutes" and said == "," and len(other.parts) == 1
            ):  # "back twice, 8 mins each way"
                return self.wide(one, other, value=one.value * other.value, parts=(other.value,))
        if (
            one.kind == "number"
            and 2 <= one.value <= 12
            and other.each
            and other.kind in {"minutes", "km"}
            and 1 <= len(gap) <= 4
            and not {".", "and", "x"} & set(gap)
        ):
            return self.wide(
                one, other, value=one.value * other.value, parts=(other.value,), each=False
            )  # "5 lessons, 50 mins each"
        # "2 x 10 min", "2 15 min walks"
        if one.kind in MEASURES and other.kind == "number" and gap[-1:] == ["x"] and len(gap) == 2 and other.value <= 6:
            return replace(one, last=other.last, value=one.value * other.value, parts=(one.value,))  # "10 min walk x 3"
        if (
            one.kind == "number"
            and one.value <= 12
            and float(one.value).is_integer()
            and other.kind in MEASURES
            and other.kind != "count"
        ):
            if said in listed("quantities", "multiplied_7"):
                if other.kind == "seconds":
                    return Quantity("hold", one.first, other.last, other.value, int(one.value))
                return self.wide(one, other, value=one.value * other.value, parts=(other.value,))
            following = self.tokens[other.last].text if other.last < len(self.tokens) else ""
            if (
                said in listed("quantities", "multiplied_8")
                and one.value <= 6
                and following in listed("quantities", "multiplied_9")
            ):
                if other.kind == "seconds":
                    return Quantity("hold", one.first, other.last, other.value, int(one.value))
                return self.wide(one, other, value=one.value * other.value, parts=(other.value,))
        return None

    def in_sets(self, one: Quantity, other: Quantity, gap: list[str], said: str) -> Quantity | None:
        sets: float
        reps: float
        if one.kind == "setcount" and other.kind == "seconds" and said in listed("quantities", "in_sets"):
            return Quantity("hold", one.first, other.last, other.value, one.sets)
        if (
            one.kind in {"number", "reps"}
            and other.kind == "seconds"
            and said in listed("quantities", "in_sets_2")
            and one.value <= 30
        ):
            return Quantity("hold", one.first, other.last, other.value, int(one.value))
        if one.kind == "number" and other.kind in {"number", "reps"} and said in listed("quantities", "in_sets_3"):
            sets, reps = one.value, other.value
            if said in {"x", "by"} and one.last - one.first == 1 and "." in self.tokens[one.first].raw:
                return None
        elif one.kind == "setcount" and other.kind in {"number", "reps"} and self.links_sets(gap, other):
            sets, reps = one.sets, other.value
        elif (
            one.kind == "times"
            and other.kind in {"number", "reps"}
            and said in {"", "of", "x", "by"}
            and (other.value >= 2)
        ):
            sets, reps = one.value, other.value
        elif one.kind in {"number", "reps"} and other.kind == "setcount" and said in listed("quantities", "in_sets_4"):
            if (
                one.kind == "number"
                and said in {"", ",", "for"}
                and not (one.value >= 5 and one.last - one.first == 1 and said == "for")
            ):
                return None
            sets, reps = other.sets, one.value
            if said.endswith(("in", "into", "over")):
                return self.parted(one, other)
        elif (
            one.kind in {"number", "reps"}
            and other.kind in {"setcount", "times"}
            and len(gap) <= 4
            and gap
            and gap[-1] in {"in", "into", "over"}
        ):
            return self.parted(one, other)
        elif (one.kind == "reps" and other.kind == "times" and said in {"", ",", "x"}) or (
            one.kind == "reps" and other.kind == "number" and said in {"x", "by"}
        ):
            sets, reps = other.value, one.value
        elif one.kind == "sets" and other.kind in {"setcount", "reps"} and not gap:
            return replace(one, last=other.last)
        else:
            return None
        if not (1 <= sets <= 100 and 1 <= reps <= 500 and float(sets).is_integer() and float(reps).is_integer()):
            return None
        # "12 x 3": nobody does twelve sets of three.
        if one.kind in {"number", "times"} and sets >= 6 and reps <= 5:
            sets, reps = reps, sets
        return Quantity("sets", one.first, other.last, reps, int(sets))

    def links_sets(self, gap: list[str], other: Quantity) -> bool:
        after = [each.text for each in self.tokens[other.last : other.last + 2]]
        # "two goes 10 then 8": the goes are counted one by one.
        self_followed = (
            other.kind == "number"
            and after[:1] in (["then"], ["and"])
            and other.last + 1 < len(self.tokens)
            and self.tokens[other.last + 1].kind is Kind.NUMBER
        )
        if not gap:
            return not self_followed
        allowed = listed("quantities", "links_sets_allowed")
        if gap[-1] in {"of", "x", "by"} or other.kind == "reps":
            return len(gap) <= _FAR and all(each in allowed for each in gap)
        return gap in ([","], [":"], ["at"], ["-"]) and other.kind == "reps"

    @staticmethod
    def parted(one: Quantity, other: Quantity) -> Quantity | None:
        """ "30 in three goes" is three sets of ten; what does not go in is one set of all."""
        parts = other.sets if other.kind == "setcount" else int(other.value)
        if parts < 1 or not float(one.value).is_integer():
            return None
        if one.value % parts:
            return Quantity("sets", one.first, other.last, one.value, 1)
        return Quantity("sets", one.first, other.last, one.value // parts, parts)

    def marked(self, one: Quantity, other: Quantity, gap: list[str]) -> Quantity | None:
        if one.kind in MEASURES | {"sets", "hold", "reps", "number"} and other.kind == "each" and len(gap) <= 1:
            return replace(one, last=other.last, each=True)
        if one.kind in MEASURES and other.kind == "total" and len(gap) <= 3 and not set(gap) & {".", ";"}:
            return replace(one, last=other.last, total=True)
        if one.kind == "total" and other.kind in MEASURES and len(gap) <= 2 and not set(gap) & {".", ";"}:
            return self.wide(one, other, total=True)
        if one.kind in MEASURES and other.kind == "return" and len(gap) <= 1:
            return replace(one, last=other.last)
        # "15 of 30 raises", "12 of the 20 minutes": what was done is the first.
        if (
            (
                one.kind == "number"
                and other.kind in {"number"} | MEASURES
                and gap
                in (
                    ["of"],
                    ["out", "of"],
                    ["/"],
                    ["of", "the"],
                    ["out", "of", "the"],
                    ["instead", "of"],
                    ["rather", "than"],
                )
            )
            and other.value > one.value
            and not (other.kind == "number" and other.value == 10)
        ):
            factor = self.factor(other) if other.kind in MEASURES else 1.0
            return Quantity(other.kind, one.first, other.last, one.value * factor)
        if (
            one.kind == other.kind
            and one.kind in MEASURES
            and gap in (["instead", "of"], ["rather", "than"], ["not"], ["out", "of"], ["of", "the"], ["of", "my"])
        ):
            return replace(one, last=other.last)
        if (
            one.kind in MEASURES
            and other.kind == "number"
            and gap
            in (
                ["instead", "of"],
                ["rather", "than"],
                ["out", "of"],
                ["instead", "of", "the"],
                ["rather", "than", "the"],
                ["of", "the"],
            )
        ):
            return replace(one, last=other.last)
        return None


def quantities(tokens: Tokens, words: Vocabulary) -> list[Quantity]:
    """Every amount of the reply in order; they do not overlap. Linear in the number of tokens."""
    items = _Items(tokens.all, words).read()
    return _Joiner(items, tokens.all, words).joined()
