"""The day's guidance: all parts are there, every kind of day has its own words."""

from __future__ import annotations

import pytest

from bot.conversation.wording import days
from bot.conversation.wording.days import plan_lines
from bot.conversation.wording.understood import ACTIVITY
from bot.program.ladder import RaiseDose, first_of
from bot.program.protocol import DEFAULT
from bot.program.reasons import Reason
from bot.program.terms import Activity, Cause, Decision, Phase, Step
from tests.wording.catalogue import a_decision, guide


def test_every_phase_decision_cause_and_step_has_its_own_words() -> None:
    assert set(days.PHASE) == set(Phase)
    assert set(days.HEADLINE) == set(days.WATCH) == set(Decision)
    assert set(days.CAUSE) == set(Cause)
    assert set(days.STEP) == set(Step)
    heads = [head for each in days.HEADLINE.values() for head in each]
    for texts in (heads, [*days.CAUSE.values()], [*days.STEP.values()], [*days.PHASE.values()]):
        assert len(set(texts)) == len(texts)


@pytest.mark.parametrize("phase", Phase)
@pytest.mark.parametrize("same", [False, True])
def test_the_phases_own_term_stands_once_and_no_other(phase: Phase, same: bool) -> None:
    kind = Decision.UNLOAD if phase is Phase.INFLAMMATORY else Decision.HOLD
    text = guide(a_decision(kind, phase=phase), before=a_decision(kind, phase=phase) if same else None).casefold()
    assert {str(each): text.count(str(each)) for each in Phase} == {str(e): int(e is phase) for e in Phase}


@pytest.mark.parametrize("decision", [Decision.HOLD, Decision.PROGRESS, Decision.RESUME])
@pytest.mark.parametrize("minutes", [1, 3, 5, 30])
def test_a_day_with_doses_gives_them_in_numbers(decision: Decision, minutes: int) -> None:
    text = guide(a_decision(decision, walk=minutes)).casefold()
    assert f"walk {minutes} minute" in text
    assert "heel raises: seated both, 2 sets of 8" in text
    assert "toe hold" in text
    assert "3x20 s" in text
    assert "50-100 times" in text


@pytest.mark.parametrize("decision", [Decision.STOP, Decision.UNLOAD, Decision.REST])
@pytest.mark.parametrize("cause", [None, *Cause])
def test_a_day_without_doses_names_none_as_a_plan(decision: Decision, cause: Cause | None) -> None:
    before = a_decision(walk=5, raises=first_of(Step.SEATED_ONE))
    text = guide(a_decision(decision, walk=3, cause=cause), before=before).casefold()
    assert "walk 5" not in text
    assert "walk 3" not in text
    assert "toe hold" not in text
    assert "heel raises: " not in text


def test_a_stop_day_has_no_exercise_at_all_not_even_unloaded_ones() -> None:
    decision = a_decision(Decision.STOP, reasons=(Reason.RED_FLAG,))
    assert "50-100" not in plan_lines(decision.plan, decision, DEFAULT)
    assert "no exercises" in plan_lines(decision.plan, decision, DEFAULT)
    assert "Dr Vale" in guide(decision)


def test_a_rest_day_says_rest_and_other_days_do_not() -> None:
    for decision in Decision:
        assert ("rest" in guide(a_decision(decision)).casefold()) == (decision is Decision.REST)


def test_an_unload_day_says_what_rule_5_asks() -> None:
    """Keep weight off, crutches: ask; no stretching, no massage, no pushing on (common practice, no source)."""
    text = guide(a_decision(Decision.UNLOAD)).casefold()
    for words in ("keep weight off", "crutches", "no stretching", "no massage", "no pushing on"):
        assert words in text


@pytest.mark.parametrize("cause", Cause)
def test_a_flare_without_candidates_asks_what_else_there_was(cause: Cause) -> None:
    text = guide(a_decision(Decision.REST, cause=cause))
    assert days.CAUSE[cause] in text
    for words in ("Stairs", "carrying", "gardening", "long standing", "other shoes?"):
        assert words in text


@pytest.mark.parametrize("activity", Activity)
def test_a_flare_names_its_candidates_and_does_not_ask(activity: Activity) -> None:
    text = guide(a_decision(Decision.REST, cause=Cause.OTHER, candidates=(activity,)))
    assert f"more than usual of this: {ACTIVITY[activity]}." in text
    assert "other shoes?" not in text


def test_what_a_flare_lowered_is_said_with_both_numbers() -> None:
    text = guide(a_decision(Decision.REST, walk=3, cause=Cause.INCREASE), before=a_decision(walk=5))
    assert "from 5 to 3 minutes" in text
    lowered = RaiseDose(step=Step.SEATED_BOTH, sets=3, reps=12)
    back = guide(
        a_decision(Decision.REST, raises=lowered, cause=Cause.INCREASE),
        before=a_decision(raises=first_of(Step.SEATED_ONE)),
    )
    assert "go back to seated both, 3 sets of 12" in back


def test_the_towel_step_is_that_of_rathleff_2015() -> None:
    """Rathleff et al. 2015, Scand J Med Sci Sports 25:e292-e300: every second day, 3 s up, 2 s hold, 3 s down, 12 RM."""
    text = guide(a_decision(raises=first_of(Step.ONE_ON_TOWEL)))
    assert "one on towel, 3 sets of 12. Every second day." in text
    assert "on one foot (right), toes on a rolled towel" in text
    assert "3 s up, 2 s hold, 3 s down" in text
    assert "books in a backpack so that just 12 go in a set" in text


@pytest.mark.parametrize("step", Step)
@pytest.mark.parametrize(("foot", "other"), [("left", "right"), ("right", "left")])
def test_how_to_do_a_step_speaks_of_the_sore_foot_only(step: Step, foot: str, other: str) -> None:
    text = days.how_to(step, foot=foot, reps=12)
    assert other not in text.replace("all right", "")
    one_sided = {Step.SEATED_ONE, Step.UP_BOTH_DOWN_ONE, Step.STANDING_ONE, Step.ONE_ON_TOWEL}
    assert (foot in text) == (step in one_sided)


def test_a_day_off_within_every_second_day_says_so() -> None:
    text = guide(a_decision(raises=first_of(Step.STANDING_ONE), raises_today=False))
    assert "Heel raises: none today" in text
    assert "standing one" not in text


def test_the_reason_comes_from_the_patients_own_numbers() -> None:
    text = guide(a_decision(pain=6), worst=7)
    assert "First steps today: 6 of 10. Your usual so far: 4." in text
    assert "Worst pain yesterday: 7." in text
    assert "Worst pain yesterday" not in guide(a_decision(), worst=None)


@pytest.mark.parametrize(("reason", "words"), days.HOLD_BECAUSE)
def test_every_reason_for_nothing_going_up_is_said(reason: Reason, words: str) -> None:
    assert words in guide(a_decision(reasons=(reason,)))


def test_every_reason_that_progress_can_miss_has_words() -> None:
    """Section 6's conditions, each with a code."""
    missing = {
        Reason.PAUSED, Reason.CHANGED_LATELY, Reason.RESUMED_LATELY, Reason.FLARE_LATELY, Reason.RELEASED_LATELY,
        Reason.FEW_ANSWERS, Reason.PAINFUL_EVENING, Reason.NOT_TOLERATED, Reason.MORNING_HIGH, Reason.MORNINGS_HIGH,
        Reason.WEEK_RISING, Reason.WALKING_BARRED, Reason.RAISES_BARRED, Reason.AT_TARGET,
    }  # fmt: skip
    assert missing <= {reason for reason, _ in days.HOLD_BECAUSE}


def test_what_went_up_is_said() -> None:
    up = guide(a_decision(Decision.PROGRESS, walk=6, reasons=(Reason.WALK_UP,)), before=a_decision(walk=5))
    assert "The walk goes up from 5 to 6 minutes. The heel raises stay." in up
    raised = RaiseDose(step=Step.SEATED_BOTH, sets=3, reps=8)
    text = guide(a_decision(Decision.PROGRESS, raises=raised, reasons=(Reason.RAISES_UP,)))
    assert "The heel raises go up to seated both, 3 sets of 8. The walk stays." in text


def test_doses_that_are_off_on_a_hold_day_are_not_given() -> None:
    text = guide(a_decision(off=True, reasons=(Reason.NOT_SETTLED,)))
    assert "No training walk and no heel raises today" in text
    assert "walk 5" not in text.casefold()


@pytest.mark.parametrize(
    ("week", "words"), [(1, "Week 1 of about 24."), (24, "Week 24 of about 24."), (25, "Week 25.")]
)
def test_the_week_is_said(week: int, words: str) -> None:
    assert words in guide(a_decision(), week=week)


@pytest.mark.parametrize("cause", Cause)
@pytest.mark.parametrize("third", [False, True])
def test_doses_are_said_to_stay_only_where_the_flare_lowers_none(cause: Cause, third: bool) -> None:
    """Rules 4.4 and 4.5: the third flare that is not laid to something else lowers walking, whatever its cause."""
    text = guide(a_decision(Decision.REST, cause=cause, reasons=(Reason.THIRD_FLARE,) if third else ()))
    assert ("does not lower your doses" in text) == (cause in (Cause.OTHER, Cause.UNKNOWN) and not third)
    assert ("three flares in two weeks" in text) == third


def test_a_phase_set_by_hand_is_said_to_be_the_clinicians() -> None:
    text = guide(a_decision(Decision.UNLOAD, reasons=(Reason.PHASE_BY_HAND,)))
    assert "Dr Vale has set the calming phase (inflammatory)." in text
    assert "Your answers fit" not in text


def test_a_gap_is_news_on_the_day_that_it_lowers_the_doses_only() -> None:
    lowered = a_decision(walk=5, reasons=(Reason.GAP,))
    assert guide(lowered, before=a_decision(walk=9)).startswith("Today the plan is a new one.")
    assert not guide(lowered, before=a_decision(walk=5)).startswith("Today the plan is a new one.")
    assert "doses are lower than before" not in guide(a_decision(Decision.REST, reasons=(Reason.GAP,)))


def test_an_irritable_heel_is_spoken_of_when_it_begins_and_once_a_week() -> None:
    words = "flared twice of late"
    irritable = (Reason.CHANGED_LATELY, Reason.IRRITABLE)
    earlier = a_decision(reasons=irritable)
    assert words in guide(a_decision(reasons=irritable, day=10), before=a_decision())
    assert words not in guide(a_decision(reasons=irritable, day=10), before=earlier)
    assert words in guide(a_decision(reasons=irritable, day=15), before=earlier)
    assert words in guide(a_decision(Decision.REST, reasons=irritable, cause=Cause.OTHER, day=10), before=earlier)
