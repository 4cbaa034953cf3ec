"""Histories that a chart, a page and a message must all stand."""

from __future__ import annotations

from bot.digest.values import History
from bot.program.terms import RedFlag
from tests.digest.builders import lived, walked

TWELVE_WEEKS = "7767677 6766656 6565556 5545545 4544544 4434343 3433333 3323323 232222. 2222122 2121121 1121111 "
LONG_ALIAS = "An alias that goes on $and$ on_and_on with {braces}, & signs 日本 😀 " + "x" * 80


def cases() -> dict[str, History]:
    """By name."""
    return {
        "four weeks": lived("7767677 6766656 8665556 5545545"),
        "twelve weeks": lived(TWELVE_WEEKS),
        "twenty-four weeks with everything": lived(
            TWELVE_WEEKS
            + "2232222 2222222 1121111 .....11 11111.1 1121111 1111101 1111111 1011111 1121111 5111121 1111111",
            constant=range(21, 33),
            flags={RedFlag.CLOT_SIGNS: (50, 55), RedFlag.NERVE_SIGNS: (57, 63), RedFlag.NIGHT_PAIN: (120, 124)},
        ),
        "many flares": lived(
            "5555555 8555855 5855855 8558558 5585585 5855855 5558558 5585585",
            evenings={day: walked(40, 7) for day in (7, 11, 16, 19, 22, 25, 28, 32, 35, 38)},
        ),
        "silence": lived("5.45545 4544.44 ....... ....443 4343343 ....... 3.33433 ......."),
        "all flags and a long alias": lived(
            "5555554 444", flags={code: (3 + at % 5, None) for at, code in enumerate(RedFlag)}, alias=LONG_ALIAS
        ),
        "flags all the time": lived(
            "5" * 84,
            flags={
                RedFlag.SEVERE_PAIN: (5, 8),
                RedFlag.NIGHT_PAIN: (10, 12),
                RedFlag.NERVE_SIGNS: (14, 16),
                RedFlag.JOINT_SIGNS: (60, 80),
                RedFlag.CHEST_OR_BREATHING: (82, None),
            },
        ),
        "a day": lived("6"),
        "no answer at all": lived("......"),
        "nothing": lived("", alias="Nobody"),
        "a year": lived(TWELVE_WEEKS * 4 + "2222222 2222222 2222222 2222222"),
    }
