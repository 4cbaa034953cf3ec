"""Numbers that are no amounts: times of day, dates, prices, ages, house numbers, results of games."""

from __future__ import annotations

from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.row import Row
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFTER_I_AM = listed["quantities", "after_i_am"]
_AGES_OF = listed["quantities", "ages_of"]
_BEFORE_AGES = listed["quantities", "before_ages"]
_BEFORE_A_ROUGH_AGE = listed["quantities", "before_a_rough_age"]
_BEFORE_DOSE_IN_A_ROW = listed["quantities", "before_dose_in_a_row"]
_BEFORE_HALF_PAST = listed["quantities", "before_half_past"]
_BEFORE_OFFICE_HOURS = listed["quantities", "before_office_hours"]
_BEFORE_PAST_OR_TO = listed["quantities", "before_past_or_to"]
_BREAKS_PROGRAMME = listed["quantities", "breaks_programme"]
_CLOCK_MARKS = listed["quantities", "clock_marks"]
_COUNTED_AS_A_WHOLE = listed["quantities", "counted_as_a_whole"]
_DUE_FOR = listed["quantities", "due_for"]
_ENDS_DUE_FOR = listed["quantities", "ends_due_for"]
_GAME_VERBS = listed["quantities", "game_verbs"]
_GOES_ON_AFTER_BY = listed["quantities", "goes_on_after_by"]
_BETWEEN_READING_AND_NUMBER = listed["quantities", "between_reading_and_number"]
_HEALTH_READINGS = listed["quantities", "health_readings"]
_LETTERS_BEFORE_NUMBER = listed["quantities", "letters_before_number"]
_NOT_A_CLOCK_VERB = listed["quantities", "not_a_clock_verb"]
_NO_AGE = listed["quantities", "no_age"]
_NO_AGE_AFTER_I_AM = listed["quantities", "no_age_after_i_am"]
_OPENS_BY = listed["quantities", "opens_by"]
_OPPONENTS = listed["quantities", "opponents"]
_ORDINAL_ENDINGS = listed["quantities", "ordinal_endings"]
_OTHER_UNITS_ONLY_GLUED = listed["quantities", "other_units_only_glued"]
_PARTS_OF_A_PLAN = listed["quantities", "parts_of_a_plan"]
_BEFORE_A_ROUGH_TIME = listed["quantities", "before_a_rough_time"]
_PROGRAMMES = listed["quantities", "programmes"]
_SHIFTS = listed["quantities", "shifts"]

CLOCK_HOURS = 12
_SHORTEST_SHIFT = 3
_MOST_GAMES = 7
_BEFORE_AGE_OR_HOUR = _SHIFTS | _BEFORE_A_ROUGH_AGE | _BEFORE_A_ROUGH_TIME
_BEFORE_A_READING = _HEALTH_READINGS | _BETWEEN_READING_AND_NUMBER
_FIRST_YEAR = 1900
_FAR_FOR_A_READING = 5


_MONEY = frozenset({"£", "$", "€", "#"})
_BEFORE_A_TIME = frozenset({"past", "to", "bus", "train", "at", "by", "before", "around", "about", "half", "from"})
_AFTER_A_TIME = _CLOCK_MARKS | {":", "-"}
_BEFORE_OTHER = _MONEY | {"am", "of", "from", "under", "over", "u"}
_AFTER_OTHER = _ORDINAL_ENDINGS | {"s", "/", "-", "a", "to", "'"}
"""Words beside numbers that are no amounts: only where one of these stands there need it be looked at more closely."""
_BEFORE_ANY = _BEFORE_OTHER | _BEFORE_A_TIME | _BEFORE_AGE_OR_HOUR
_AFTER_ANY = _AFTER_OTHER | _AFTER_A_TIME


def other_number(row: Row, at: int) -> Quantity | None:
    token, words, value = row.tokens[at], row.words, row.tokens[at].value
    before, after = row.around[at - 1], row.around[at + 1]
    if before in _BEFORE_A_READING and of_a_reading(row, at):
        return Quantity("none", at, at + 1, value)
    if not (
        before in _BEFORE_ANY
        or before in words.before_numbers
        or after in _AFTER_ANY
        or after in words.after_numbers
        or token.glued
        or value >= _FIRST_YEAR
        or "." in token.raw
    ):
        return None
    if (
        token.glued
        or value >= _FIRST_YEAR
        or before in _BEFORE_OTHER
        or after in _AFTER_OTHER
        or before in words.number_names
        or after in words.other_units
        or before in words.months
        or after in words.months
    ):
        other = _other_number(row, at)
    else:
        other = time_of_day(row, at)
    if value <= CLOCK_HOURS and (other is None or other.doubtful) and before in _BEFORE_AGE_OR_HOUR:
        return age_or_hour(row, at) or other
    return other


def of_a_reading(row: Row, at: int) -> bool:
    """ "blood sugar 7.2", "my sats were 97": what a device or a laboratory says of something else than pain."""
    back = at - 1
    while at - back < _FAR_FOR_A_READING and row.around[back] in _BETWEEN_READING_AND_NUMBER:
        back -= 1
    return row.around[back] in _HEALTH_READINGS and row.unit(at + 1) is None and not row.scored(at)


def age_or_hour(row: Row, at: int) -> Quantity | None:
    """ "since I was about four", "wants me in for 9", "by four I could not stand", "on the telly at 8", "late shift 2-10"."""
    around, value = row.around, row.tokens[at].value
    before, after = around[at - 1], around[at + 1]
    if not float(value).is_integer() or row.scored(at):
        return None
    if before in _SHIFTS:
        other = row.value(at + 2) if after == "-" else None
        worked = other is not None and other <= CLOCK_HOURS and (other - value) % CLOCK_HOURS > _SHORTEST_SHIFT
        return Quantity("none", at, at + 3, value) if worked and row.unit(at + 3) is None else None
    if row.unit(at + 1) is not None:
        return None
    if before == "of":
        return Quantity("none", at, at + 1, value) if around[at - 2] == "age" else None
    rough = before in _BEFORE_A_ROUGH_AGE
    verb = at - 1 - rough
    if around[verb] in {"was", "were"}:
        of_life = around[verb - 1] in _AGES_OF and around[verb - 2] in _BEFORE_AGES and after not in _NO_AGE
        return Quantity("none", at, at + 1, value) if of_life else None
    clock = Quantity("clock", at, at + 1, value * 60)
    if before == "for":
        return clock if around[at - 2] in _DUE_FOR and after in _ENDS_DUE_FOR else None
    if before == "by":
        return clock if around[at - 2] in _OPENS_BY and after in _GOES_ON_AFTER_BY else None
    if before == "at":
        for back in range(at - 2, max(-1, at - 5), -1):
            word = around[back]
            if word in _PROGRAMMES:
                return (
                    clock
                    if around[back - 1] not in _BREAKS_PROGRAMME and around[back - 2] not in _BREAKS_PROGRAMME
                    else None
                )
            if word in _BREAKS_PROGRAMME or row.tokens[back].kind is not Kind.WORD:
                return None
    return None


def _other_number(row: Row, at: int) -> Quantity | None:
    around = row.around
    token, words = row.tokens[at], row.words
    before, after = around[at - 1], around[at + 1]
    value = token.value
    none = Quantity("none", at, at + 1, value)
    glued_before = token.glued
    glued_after = at + 1 < row.size and row.tokens[at + 1].glued
    if before in _MONEY:
        return none
    if glued_after and after in _ORDINAL_ENDINGS:
        return Quantity("none", at, at + 2, value)
    if (
        glued_after
        and after == "s"
        and (before in {"the", "my", "in", "'"} or value >= 50)
        and value % 10 == 0
        and value <= 90
    ):
        return Quantity("none", at, at + 2, value)
    clock = time_of_day(row, at)
    if clock is not None:
        return clock
    if after in words.months and not token.by_words:
        return Quantity("none", at, at + 2, value)
    if before in words.months and value <= 31 and before not in {"march", "may"}:
        return none
    in_a_row = around[at - 1] in _BEFORE_DOSE_IN_A_ROW and 5 <= value <= 50
    if in_a_row and around[at + 1] == "/" and around[at + 3] == "/" and row.value(at + 4) is not None:
        return Quantity("number", at, at + 1, value)
    if (
        around[at + 1] == "/"
        and around[at + 3] == "/"
        and value == row.value(at + 2) == row.value(at + 4)
        and 5 <= value <= 50
    ):
        return Quantity("sets", at, at + 5, value, 3)  # "10/10/10 raises"
    if (
        around[at + 1] == "/"
        and around[at + 3] == "/"
        and row.value(at + 2) is not None
        and row.value(at + 4) is not None
    ):
        return Quantity("none", at, at + 5, value)
    if _FIRST_YEAR <= value <= 2099 and not token.by_words and "," not in token.raw and after not in words.units:
        return none
    if after == "a" and around[at + 2] == "side":
        return Quantity("none", at, at + 3, value)
    if (after == "/" or after == "-") and glued_after and row.value(at + 2) == 7 and value == 24:
        return Quantity("none", at, at + 3, value)
    if after in words.other_units and not (after in _OTHER_UNITS_ONLY_GLUED and not glued_after):
        if after == "ish":
            return None
        if after == "day" and around[at + 2] in {"walk", "walks"}:
            return None
        return Quantity("none", at, at + 2, value)
    if before in {"under", "over", "u"} and glued_after and after in {"s", "'"}:
        return Quantity("none", at, at + 2, value)
    if (
        glued_before
        and row.tokens[at - 1].kind is Kind.WORD
        and token.start - row.tokens[at - 1].start == 1
        and before not in {"plus", "and", "at"}
        and before[0] not in _LETTERS_BEFORE_NUMBER
    ):
        return Quantity("none", at, at + 1 + (glued_after and after == "s"), value)
    if (
        before in words.number_names
        and row.unit(at + 1) is None
        and not row.scored(at)
        and not (before == "bed" and value <= 10)
    ):
        if (before == "under" and value < 11) or (before in _PARTS_OF_A_PLAN and around[at - 2] in _COUNTED_AS_A_WHOLE):
            return None
        opens = at < 2 or row.tokens[at - 2].kind is Kind.MARK
        if before in {"number", "no."} and value <= 10 and (opens or after in {"", ".", ",", ";", "today", "for"}):
            return Quantity("number", at, at + 1, value, doubtful=True)
        return none
    if (
        before == "am"
        and around[at - 2] == "i"
        and value > 10
        and row.unit(at + 1) is None
        and after not in _NO_AGE_AFTER_I_AM
    ):
        return none
    scale = around[at - 1] in {"of", "from"} and around[at - 2] in {"scale", "rating", "ratings"}
    if (scale or (after in {"to", "-"} and around[at + 3] == "scale")) and value <= 1 and row.value(at + 2) == 10:
        return Quantity("none", at, at + 3, value)  # "on a scale of 1 to 10"
    if value == 9 and row.value(at + 2) == 5 and before in _BEFORE_OFFICE_HOURS and row.unit(at + 3) is None:
        return Quantity("none", at, at + 3, value)
    if after == "-" and value <= _MOST_GAMES and tennis(row, at):
        return Quantity("none", at, at + 3, value)
    if before in _GAME_VERBS and after == "-" and row.value(at + 2) is not None:
        return Quantity("none", at, at + 3, value)
    if after == "-" and row.value(at + 2) is not None and around[at - 1] in _OPPONENTS and row.unit(at + 3) is None:
        return Quantity("none", at, at + 3, value)
    if after == "-" and row.value(at + 2) == 0 and value > 0:
        return Quantity("none", at, at + 3, value)
    return None


def tennis(row: Row, at: int) -> bool:
    """Whether the first of a pair belongs to sets of tennis: "6-1 6-2", "6-4, 3-6, 7-5"."""
    for one, other in ((at, at + 3), (at, at + 4), (at - 3, at), (at - 4, at)):
        pairs = [(row.value(each) or 0, row.value(each + 2) or 0) for each in (one, other)]
        if (
            all(row.around[each + 1] == "-" and row.value(each + 2) is not None for each in (one, other) if each >= 0)
            and all(max(pair) in {6, _MOST_GAMES} for pair in pairs)
            and any(first > second for first, second in pairs)
            and row.unit(other + 3) is None
        ):
            return True
    return False


def time_of_day(row: Row, at: int) -> Quantity | None:
    """A time of day; its value is minutes after midnight or noon."""
    around = row.around
    token, words = row.tokens[at], row.words
    before, after = around[at - 1], around[at + 1]
    value = token.value
    if value >= 24 or not (
        before in _BEFORE_A_TIME
        or after in _AFTER_A_TIME
        or "." in token.raw
        or before in words.clock_before
        or before in words.clock_only
    ):
        return None
    whole = float(value).is_integer() and "." not in token.raw
    minutes = row.value(at + 2) if after == ":" and at + 1 < row.size and row.tokens[at + 1].glued else None
    if minutes is not None and row.tokens[at + 2].glued and len(row.tokens[at + 2].raw) == 2 and minutes < 60:
        unit = row.unit(at + 3)
        if unit == ("minutes", 60):
            return Quantity("minutes", at, at + 4, value * 60 + minutes)
        if around[at + 3] == ":" and row.value(at + 4) is not None:
            return Quantity("minutes", at, at + 5, value * 60 + minutes)
        last = at + 3 + (around[at + 3] in {"am", "pm", "ish"})
        return Quantity("clock", at, last, value * 60 + minutes)
    if after in _CLOCK_MARKS and not (after == "am" and not row.tokens[at + 1].glued and around[at + 2] == "i"):
        hour, part = int(value), round((value % 1) * 100)
        if after == "am" and not row.tokens[at + 1].glued and around[at + 2] in _AFTER_I_AM:
            return None
        return Quantity("clock", at, at + 2, hour * 60 + part)
    if (
        before in {"past", "to"}
        and around[at - 3] not in {"from", "between"}
        and around[at - 2] in _BEFORE_PAST_OR_TO
        and whole
        and value <= CLOCK_HOURS
        and row.unit(at + 1) is None
        and before != "-"
    ):
        return Quantity("clock", at, at + 1, value * 60)
    two_places = (
        "." in token.raw
        and len(token.raw.partition(".")[2]) == 2
        and int(token.raw.partition(".")[2]) < 60
        and value < 24
    )
    if two_places and not token.by_words and row.unit(at + 1) is None and not row.scored(at):
        return Quantity("clock", at, at + 1, int(value) * 60 + int(token.raw.partition(".")[2]))
    second = row.value(at + 1)
    if (
        whole
        and value <= CLOCK_HOURS
        and second is not None
        and 10 <= second < 60
        and second % 5 == 0
        and (before in words.clock_before or before in {"bus", "train"})
        and row.unit(at + 2) is None
    ):
        return Quantity("clock", at, at + 2, value * 60 + second)
    if (
        before == "at"
        and not whole
        and value <= 10
        and row.unit(at + 1) is None
        and not row.scored(at)
        and around[at - 2] not in words.not_when
        and not token.by_words
    ):
        return Quantity("number", at, at + 1, value, doubtful=True)
    if not whole or value > CLOCK_HOURS or row.unit(at + 1) is not None or row.scored(at) or after in {"x", "/"}:
        return None
    if before in words.clock_only and before != "past" and not (before == "til" and around[at - 2] in {"it", "was"}):
        return Quantity("clock", at, at + 1, value * 60)
    if before == "at" and around[at - 2] not in words.not_when and after in {"this", "tonight", "in", "last", "sharp"}:
        day = around[at + 2] in {"morning", "afternoon", "evening", "night", "the"} or after in {"tonight", "sharp"}
        opens = at < 2 or row.tokens[at - 2].kind is Kind.MARK
        tells = opens and after == "in" and around[at + 4] not in {"", ".", ";"}  # "At 2 in the afternoon it went"
        if day and (value > 3 or tells or around[at - 2] in words.clock_verbs):
            return Quantity("clock", at, at + 1, value * 60)  # "down I went at seven this morning"
    counted = around[at - 2] in words.units or row.value(at - 2) is not None
    if before == "at" and row.value(at - 2) is not None and row.unit(at + 1) is None:
        return Quantity("number", at, at + 1, value, doubtful=True)
    if before in {"at", "by", "before"} and not (before == "by" and counted) and says_when(row, at - 1):
        if around[at - 2] in words.clock_verbs or before != "at" or value > 10:
            return Quantity("clock", at, at + 1, value * 60)
        return Quantity("number", at, at + 1, value, doubtful=True)
    if (
        before in {"around", "about"}
        and around[at - 2] in words.clock_verbs
        and around[at - 2] not in _NOT_A_CLOCK_VERB
    ):
        return Quantity("clock", at, at + 1, value * 60)
    if before == "half" and row.unit(at + 1) is None and around[at - 2] in _BEFORE_HALF_PAST:
        return Quantity("clock", at - 1, at + 1, value * 60 + 30)
    # "from 2 til 4", "9-5"
    if before == "from" and around[at + 1] in {"till", "til", "until"}:
        return Quantity("clock", at, at + 1, value * 60)
    if before == "from" and around[at + 1] in {"to", "-"} and around[at + 2] == "half":
        return Quantity("clock", at, at + 1, value * 60)
    if after == "-" and row.value(at + 2) is not None and value == 9 and row.value(at + 2) == 5:
        return Quantity("none", at, at + 3)
    return None


def says_when(row: Row, at: int) -> bool:
    """Whether "at"/"by" before a number tells the time: after a word of coming and going, not of pain."""
    before = row.text(at - 1)
    if row.text(at) == "before":
        return True
    if before in row.words.not_when:
        return False
    return before in row.words.clock_verbs or (at > 0 and row.tokens[at - 1].kind is Kind.WORD)
