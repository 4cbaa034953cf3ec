"""Who comes first, and why."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta

import pytest

from bot.digest.attention import NEED_OF_NOTICE, NEED_OF_URGENCY, RULE_OF_NEED, Need, in_order, needs_of
from bot.digest.figures import figures_of
from bot.digest.values import History
from bot.program.reasons import Notice
from bot.program.terms import RedFlag, Urgency
from bot.program.values import Evening
from tests.digest.builders import lived, walked

FINE = "3333333 3333333 3333333"


def with_notice(notice: Notice) -> History:
    """A calm history whose last decision tells something."""
    history = lived(FINE)
    last = history.days[-1]
    assert last.decision is not None
    told = replace(last, decision=replace(last.decision, notices=(notice,)))
    return replace(history, days=(*history.days[:-1], told))


def one_of_each() -> dict[Need, History]:
    """A history whose most pressing need is each, in the order of `Need`."""
    return {
        Need.EMERGENCY_FLAG: lived(FINE, flags={RedFlag.CHEST_OR_BREATHING: (20, None)}),
        Need.SAME_DAY_FLAG: lived(FINE, flags={RedFlag.SUDDEN_POP: (20, None)}),
        Need.SOON_FLAG: lived(FINE, flags={RedFlag.NIGHT_PAIN: (20, None)}),
        Need.LOADING_STOPPED: lived(FINE, loading_stopped=True),
        Need.LONG_CONSTANT_PAIN: lived(FINE, constant=range(14, 22)),
        Need.SILENCE: lived("3333333 3333333 3333..."),
        Need.SECOND_FLARE: lived("4444444 7444444 7444444", evenings={7: walked(40, 7), 14: walked(40, 7)}),
        Need.NOTHING_TO_LOWER: with_notice(Notice.NOTHING_TO_LOWER),
        Need.PAINFUL_DOSES: with_notice(Notice.PAINFUL_DOSES),
        Need.HIGH_REFERENCE: lived("6" * 21, enrolled=6),
        Need.RELEASE: with_notice(Notice.RELEASE),
        Need.LONG_GAP_RETURN: with_notice(Notice.LONG_GAP_RETURN),
        Need.NO_PROGRESS: lived("3" * 30, evenings={day: walked(1, raises=False) for day in range(1, 31)}),
        Need.RE_EVALUATE: lived("4" * 92, walk=30),
        Need.REVIEW: lived("4" * 64, walk=30),
        Need.WORSENING: lived("5555555 2222222 3333333 4444444 4444444"),
    }


@pytest.mark.parametrize("need", list(Need))
def test_each_need_is_found_and_is_the_first_of_its_history(need: Need) -> None:
    history = one_of_each()[need]
    found = needs_of(history, figures_of(history))
    assert found
    assert found[0].need is need
    assert found[0].rule == RULE_OF_NEED[need]


def test_a_calm_history_needs_nothing() -> None:
    history = lived(FINE)
    assert needs_of(history, figures_of(history)) == ()


def test_the_order_is_that_of_the_needs_whatever_order_they_come_in() -> None:
    given = [
        replace(history, patient_id=at, alias=f"{20 - at:02d}") for at, history in enumerate(one_of_each().values())
    ]
    fine = replace(lived(FINE), patient_id=99, alias="00")
    for seed in range(5):
        mixed = [*given, fine]
        random.Random(seed).shuffle(mixed)
        assert [line.history.patient_id for line in in_order(mixed)] == [*range(len(given)), 99]


def test_among_equals_more_needs_come_first_then_more_pain_then_the_alias() -> None:
    flag = {RedFlag.SUDDEN_POP: (20, None)}
    two = lived("3333333 3333333 3333...", flags=flag, alias="D", patient_id=1)
    worse = lived("6666666 5555555 5555555", flags=flag, alias="C", patient_id=2)
    first = lived(FINE, flags=flag, alias="a", patient_id=3)
    second = lived(FINE, flags=flag, alias="B", patient_id=4)
    assert [line.history.alias for line in in_order([second, first, worse, two])] == ["D", "C", "a", "B"]


@pytest.mark.parametrize(
    ("history", "need", "found"),
    [
        (lived(FINE, constant=range(15, 22)), Need.LONG_CONSTANT_PAIN, False),
        (lived(FINE, constant=range(14, 22)), Need.LONG_CONSTANT_PAIN, True),
        (lived("3333333 33333.."), Need.SILENCE, False),
        (lived("3333333 3333..."), Need.SILENCE, True),
        (lived("4" * 56, walk=30), Need.REVIEW, False),
        (lived("4" * 57, walk=30), Need.REVIEW, True),
        (lived("4" * 84, walk=30), Need.RE_EVALUATE, False),
        (lived("4" * 85, walk=30), Need.RE_EVALUATE, True),
    ],
    ids=["7 days constant", "8 days constant", "2 silent", "3 silent", "day 56", "day 57", "day 84", "day 85"],
)
def test_boundaries_of_rule_9(history: History, need: Need, found: bool) -> None:
    assert (need in {each.need for each in needs_of(history, figures_of(history))}) is found


def test_silence_on_a_holiday_that_was_asked_for_is_no_need() -> None:
    history = lived("3333333 3333...")
    away = replace(history, quiet=(history.until - timedelta(days=2), history.until + timedelta(days=5)))
    assert needs_of(away, figures_of(away)) == ()


def test_a_cleared_flag_is_no_need() -> None:
    history = lived(FINE, flags={RedFlag.CHEST_OR_BREATHING: (16, 18)})
    assert needs_of(history, figures_of(history)) == ()


def test_a_programme_that_has_ended_needs_nothing_but_its_open_flag() -> None:
    silent = lived("3333333 .......", status="ended")
    assert needs_of(silent, figures_of(silent)) == ()
    flagged = lived(FINE, status="left", flags={RedFlag.CLOT_SIGNS: (20, None)})
    assert [each.need for each in needs_of(flagged, figures_of(flagged))] == [Need.SAME_DAY_FLAG]


def test_a_warning_sign_at_enrolment_is_a_need_before_day_1() -> None:
    """Enrolment stops all loading on a warning sign; there is no day yet."""
    history = lived("", status="enrolling", loading_stopped=True)
    assert [each.need for each in needs_of(history, figures_of(history))] == [Need.LOADING_STOPPED]


def test_an_irritable_heel_is_a_need_in_the_week_of_a_flare_only() -> None:
    flared = one_of_each()[Need.SECOND_FLARE]
    assert needs_of(flared, figures_of(flared))[0].need is Need.SECOND_FLARE
    calm = lived("4444444 7444444 7444444 4444444", evenings={7: walked(40, 7), 14: walked(40, 7)})
    found = figures_of(calm)
    assert found.irritable
    assert Need.SECOND_FLARE not in {each.need for each in needs_of(calm, found)}


def test_every_notice_and_urgency_leads_to_a_need_with_a_rule() -> None:
    assert set(NEED_OF_NOTICE) == set(Notice)
    assert set(NEED_OF_URGENCY) == set(Urgency)
    assert set(RULE_OF_NEED) == set(Need)
    assert all(RULE_OF_NEED.values())


def test_an_evening_alone_does_not_end_a_silence() -> None:
    """Silence is of mornings (rule 5.5)."""
    history = lived("3333 ...", evenings={7: Evening(worst_pain=3)})
    assert [each.need for each in needs_of(history, figures_of(history))] == [Need.SILENCE]
