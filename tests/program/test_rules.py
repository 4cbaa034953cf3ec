"""The numbered rules, each on both sides of its boundary, straight on the engine; the rule's number beside each.

Published sources stand beside the values they belong to; "common practice, no source" and "our choice" mark the rest.
Whole stories by hand are in test_worked_examples.py, figures against outside libraries in test_published.py.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bot.program import ladder
from bot.program.decide import decide, is_answered
from bot.program.load import evening_facts
from bot.program.protocol import DEFAULT
from bot.program.reasons import Notice, Reason
from bot.program.reports import merged_evening, merged_morning
from bot.program.terms import (
    Activity,
    Cause,
    Decision,
    Phase,
    PlanDone,
    PriorActivity,
    RedFlag,
    RestPattern,
    Step,
    Variable,
)
from bot.program.values import DoseOrder, Doses, Evening, Morning, PainfulEvening, PhaseOrder, State, Today
from tests.program.builders import (
    CONSTANT,
    NO_REST_PAIN,
    NOTHING_SAID,
    RAISES,
    SILENCE,
    SOMETIMES,
    amount,
    decided,
    dose,
    enrolment,
    evening,
    morning,
    past,
    plan,
    silent,
    state,
    story,
)

# --- 2.2 morning


@pytest.mark.parametrize(
    ("f", "r", "stated_days_ago", "answered"),
    [
        (3, None, 1, True),
        (3, None, 2, True),  # carried for two mornings
        (3, None, 3, False),  # and no longer
        (3, NO_REST_PAIN, 3, True),
        (None, NO_REST_PAIN, 1, False),  # no f
        (None, CONSTANT, 1, True),  # constant pain alone is an answer
        (None, None, 1, False),
        (0, None, 1, True),  # no pain is an answer, not a missing one
    ],
)
def test_2_2_a_morning_is_answered_by_f_with_a_pattern_or_by_constant_pain(
    f: int | None, r: RestPattern | None, stated_days_ago: int, answered: bool
) -> None:
    given = state(stated_pattern_day=30 - stated_days_ago)
    assert is_answered(given, Morning(first_step_pain=f, rest_pattern=r), DEFAULT) is answered


def test_2_2_a_later_answer_replaces_what_it_speaks_of_and_nothing_else() -> None:
    merged = merged_morning(morning(6, CONSTANT), Morning(first_step_pain=0))
    assert (merged.first_step_pain, merged.rest_pattern) == (0, CONSTANT)


# --- 2.3 evening


@pytest.mark.parametrize(
    ("said", "walked"),
    [
        (evening(walked=7.5), 7.5),
        (evening(done=None, others=(amount(steps=1250),)), 12.5),  # 100 steps a minute: Tudor-Locke et al. 2005
        (evening(done=None, others=(amount(km=2),)), 24),  # 12 minutes a km: our choice
        (evening(done=PlanDone.ALL), 10),
        (evening(done=PlanDone.ALL, others=(amount(),)), 10),
        (evening(done=PlanDone.SOME), 0),  # no guess
        (evening(done=None, others=(amount(),)), 0),
        (evening(done=PlanDone.ALL, walked=0), 0),
    ],
)
def test_2_3_walked_is_what_was_said_else_the_plan_if_all_was_done_else_nothing(said: Evening, walked: float) -> None:
    assert evening_facts(said, plan(), plan(), DEFAULT).walked == walked


@pytest.mark.parametrize(
    ("walked", "dose_in_plan", "done", "overdone"),
    [
        (7.9, 10, False, False),
        (8, 10, True, False),  # 80 %
        (24, 20, True, False),  # exactly 1.2 times
        (24.1, 20, True, True),
        (7, 5, True, False),  # exactly 2 minutes more
        (7.1, 5, True, True),
        (30, 0, False, False),  # no walking dose: neither
    ],
)
def test_2_3_walking_is_done_at_four_fifths_and_overdone_over_a_fifth_and_two_minutes_more(
    walked: float, dose_in_plan: int, done: bool, overdone: bool
) -> None:
    facts = evening_facts(evening(walked=walked), plan(dose_in_plan), plan(dose_in_plan), DEFAULT)
    assert (facts.walk_done, facts.overdone) == (done, overdone)


@pytest.mark.parametrize(("run", "overdone"), [(0.95, False), (1.0, True), (None, False)])
def test_2_3_running_counts_for_overdone_by_its_force_and_a_guess_does_not(run: float | None, overdone: bool) -> None:
    # 2.1: peak force 2.5 against 1.2 body weights, Keller et al. 1996, Clin Biomech 11:253-259. 10 + 2.1 is over 12.
    said = evening(walked=10, others=(amount(Activity.RUNNING, minutes=run),))
    assert evening_facts(said, plan(), plan(), DEFAULT).overdone is overdone


@pytest.mark.parametrize(
    ("named", "done", "raises_done"),
    [
        ((2, 6), None, False),  # 12 of 16, 75 %
        ((2, 7), None, True),  # 14 of 16
        ((None, 12), None, False),  # sets missing: one
        ((None, 13), None, True),
        ((None, None), None, True),  # both missing: as planned
        ((2, None), None, True),
        (None, PlanDone.ALL, True),
        (None, PlanDone.SOME, False),
        ((0, 0), PlanDone.ALL, False),  # what is named goes before "all"
    ],
)
def test_2_3_raises_are_done_at_four_fifths_or_when_all_was_done(
    named: tuple[int | None, int | None] | None, done: PlanDone | None, raises_done: bool
) -> None:
    assert evening_facts(evening(done=done, raises=named), plan(), plan(), DEFAULT).raises_done is raises_done


def test_2_3_a_day_without_raises_in_its_plan_is_not_done_for_raises() -> None:
    without = plan(raises=None)
    assert not evening_facts(evening(raises=(3, 12)), without, without, DEFAULT).raises_done


@pytest.mark.parametrize(
    ("said", "some_walking", "some_raises"),
    [
        (evening(done=PlanDone.SOME), True, True),
        (evening(done=PlanDone.NONE), False, False),
        (evening(done=PlanDone.SOME, walked=0), False, True),  # "some, but no walk"
        (evening(done=PlanDone.SOME, raises=(0, 0)), True, False),
        (evening(done=None, others=(amount(),)), True, False),  # no amount is not nothing
        (evening(done=None, others=(amount(Activity.RUNNING, minutes=20),)), False, False),
    ],
)
def test_2_3_some_of_the_plan_is_a_part_of_both_unless_one_is_named(
    said: Evening, some_walking: bool, some_raises: bool
) -> None:
    facts = evening_facts(said, plan(), plan(), DEFAULT)
    assert (facts.some_walking, facts.some_raises) == (some_walking, some_raises)


def test_2_3_the_later_reply_replaces_the_same_kind_and_adds_new_kinds() -> None:
    both = merged_evening(
        evening(w=3, walked=5, others=(amount(Activity.GARDENING, minutes=10),)), evening(w=6, done=None, walked=8)
    )
    assert (both.worst_pain, both.plan_done) == (6, PlanDone.ALL)
    assert {each.activity: each.minutes for each in both.activities} == {Activity.WALKING: 8, Activity.GARDENING: 10}


def test_2_3_one_kind_named_twice_in_a_reply_is_the_same_for_every_rule() -> None:
    twice = evening(done=None, others=(amount(minutes=5), amount(minutes=20)))
    facts = evening_facts(merged_evening(Evening(), twice), plan(), plan(), DEFAULT)
    assert facts.walked == facts.loads[0].load == 20  # type: ignore[index]


# --- 2.4 when


def test_2_4_before_the_first_answer_the_plan_is_what_hold_would_give() -> None:
    shown = silent()
    assert (shown.decision, shown.plan, shown.answered) == (Decision.HOLD, plan(), False)


@pytest.mark.parametrize("f", [2, 4, 8])
def test_2_4_a_flag_undoes_the_increase_and_the_flare_of_its_day(f: int) -> None:
    assert decided(f=f).decision in (Decision.PROGRESS, Decision.REST)
    stopped = decided(f=f, open_flags=(RedFlag.NERVE_SIGNS,), shown=plan())
    assert (stopped.decision, stopped.flare, stopped.doses) == (Decision.STOP, None, state().doses)
    assert not stopped.plan.has_dose
    assert stopped.shown == plan()  # what "all" means this evening


def test_2_4_the_clinicians_stop_keeps_the_lower_dose_of_a_flare() -> None:
    # Only a flag undoes it; the lower dose is the careful one.
    given = state(past=past(every={"worst_pain": 6}))
    stopped = decided(given, f=4, loading_stopped=True)
    assert (stopped.decision, stopped.doses.walk) == (Decision.STOP, 6)
    assert stopped.flare is not None


def test_2_4_a_day_is_decided_from_its_own_state_only() -> None:
    with pytest.raises(ValueError, match="day 30"):
        decide(state(), Today(day=31), DEFAULT)


# --- 3 phases


@pytest.mark.parametrize(
    ("changes", "f", "r", "phase"),
    [
        ({}, 2, SOMETIMES, Phase.REMODELLING),
        # Common practice, no source: one position free of pain rules the inflammatory phase out.
        ({}, 9, SOMETIMES, Phase.REPARATIVE),
        ({}, 9, CONSTANT, Phase.INFLAMMATORY),
        ({}, None, CONSTANT, Phase.INFLAMMATORY),
        ({"last_inflammatory_day": 9}, 2, SOMETIMES, Phase.REMODELLING),  # 21 days: value from memory
        ({"last_inflammatory_day": 10}, 2, SOMETIMES, Phase.REPARATIVE),
        ({"flares": ((16, Cause.OTHER),)}, 2, SOMETIMES, Phase.REMODELLING),  # 14 days: our choice
        ({"flares": ((17, Cause.OTHER),)}, 2, SOMETIMES, Phase.REPARATIVE),
        ({"answered_pains": (2,) * 6}, 2, SOMETIMES, Phase.REMODELLING),
        ({"answered_pains": (2,) * 5}, 2, SOMETIMES, Phase.REPARATIVE),  # seven mornings there must be
        ({"answered_pains": (3, 3, 3, 2, 2, 2)}, 2, SOMETIMES, Phase.REMODELLING),
        ({"answered_pains": (3, 3, 3, 3, 2, 2)}, 2, SOMETIMES, Phase.REPARATIVE),
        ({"doses": Doses(walk=10, raises=dose(Step.SEATED_ONE, 3, 12))}, 2, SOMETIMES, Phase.REPARATIVE),
    ],
)
def test_3_the_phase(changes: dict, f: int | None, r: RestPattern, phase: Phase) -> None:
    assert decided(state(**changes), f=f, r=r).phase is phase


@pytest.mark.parametrize(("day", "phase"), [(21, Phase.REPARATIVE), (22, Phase.REMODELLING)])
def test_3_remodelling_begins_21_days_after_day_1(day: int, phase: Phase) -> None:
    assert decided(state(day=day)).phase is phase


@pytest.mark.parametrize("phase", list(Phase))
def test_3_a_morning_not_answered_keeps_the_phase_of_the_day_before(phase: Phase) -> None:
    assert silent(state(phase=phase)).phase is phase


def test_3_a_phase_set_by_hand_holds_until_constant_pain() -> None:
    order = PhaseOrder(number=1, phase=Phase.REPARATIVE)
    assert decided(phase_order=order).phase is Phase.REPARATIVE
    ended = decided(r=CONSTANT, phase_order=order)
    assert (ended.phase, ended.phase_order_ended) == (Phase.INFLAMMATORY, 1)
    assert decided(state(phase_order_ended=1), phase_order=order).phase is Phase.REMODELLING


# --- 4.1, 4.2 reference


def test_4_1_mornings_of_rest_and_stop_are_no_reference_mornings_and_an_unexplained_flare_is_one() -> None:
    def after(f: int, **today: object) -> tuple[int, ...]:
        return story((morning(5), evening(done=PlanDone.NONE)), (morning(f), NOTHING_SAID, today)).state.reference_pains

    assert after(5) == (5, 5)
    assert after(7) == (5, 7)  # a flare of cause unknown
    assert after(5, open_flags=(RedFlag.NERVE_SIGNS,)) == (5,)
    assert story((morning(5), evening()), (morning(7), NOTHING_SAID)).state.reference_pains == (5,)  # cause increase
    assert story((SILENCE, NOTHING_SAID)).state.reference_pains == ()


@pytest.mark.parametrize(
    ("first", "pains", "reference"),
    [
        (3, (3, 3), 5),  # fewer than three: the enrolment's 5
        (6, (6, 6), 6),
        (9, (9, 9), 6),  # at most one over it
        (9, (7, 8, 8), 8),
        (3, (1, 2, 2, 3), 2),
        (3, (1, 2, 3, 3), 3),  # 2.5, halves up
    ],
)
def test_4_2_the_reference_is_the_enrolments_until_there_are_three_mornings(
    first: int, pains: tuple[int, ...], reference: int
) -> None:
    given = state(
        reference_pains=pains, first_answered_pain=first, past=past(every={"reference": None}), enrolment=enrolment()
    )
    assert decided(given).reference == reference


@pytest.mark.parametrize(("lowest_on", "reference"), [(2, 3), (1, 5)])
def test_4_2_the_reference_is_at_most_one_over_the_lowest_of_28_days(lowest_on: int, reference: int) -> None:
    days = tuple(replace(each, reference=2 if each.day == lowest_on else 5) for each in past(every={}))
    oldest = replace(days[0], day=1, reference=2 if lowest_on == 1 else 5)
    assert decided(state(past=(oldest, *days), reference_pains=(5,) * 14)).reference == reference


# --- 4.3 flare


@pytest.mark.parametrize(
    ("reference", "f", "w", "flare"),
    [
        (2, 3, 5, False),
        (2, 4, 5, True),  # 2 points: Farrar et al. 2001, Pain 94:149-158
        (0, 2, 5, False),  # at least 3
        (1, 3, 5, True),
        (0, 3, 5, True),
        # Over 5 and not settled by the morning. Pain-monitoring model: Thomeé 1997, Phys Ther 77:1690-1703;
        # Silbernagel et al. 2007, Am J Sports Med 35:897-906.
        (2, 3, 6, True),
        (2, 2, 6, False),
        (2, 3, None, False),
    ],
)
def test_4_3_a_flare_is_two_points_over_the_reference_or_a_painful_evening_not_settled(
    reference: int, f: int, w: int | None, flare: bool
) -> None:
    given = state(reference_pains=(reference,) * 14, past=past(every={"reference": reference}, d29={"worst_pain": w}))
    assert (decided(given, f=f).flare is not None) is flare


@pytest.mark.parametrize(("before", "flare"), [(SOMETIMES, True), (NO_REST_PAIN, True), (CONSTANT, False)])
def test_4_3_constant_pain_is_a_flare_where_it_was_not_constant_before(before: RestPattern, flare: bool) -> None:
    assert (decided(state(stated_pattern=before), f=2, r=CONSTANT).flare is not None) is flare


@pytest.mark.parametrize(
    ("changes", "today"),
    [
        ({"any_answered": False}, {}),
        ({"resting": True, "off": True}, {}),
        ({}, {"open_flags": (RedFlag.NIGHT_PAIN,)}),
    ],
)
def test_4_3_no_flare_on_the_first_morning_in_a_rest_or_with_an_open_flag(changes: dict, today: dict) -> None:
    assert decided(f=8).flare is not None
    assert decided(state(**changes), f=8, **today).flare is None


# --- 4.4 cause

_NOT_TOLERATED = {"worst_pain": None}


@pytest.mark.parametrize(
    ("yesterday", "proven", "cause", "walk"),
    [
        ({"overdone": True}, True, Cause.OVERDONE, 10),  # back to the proven dose, here the one in force
        ({"overdone": True, "walked": 15.0}, False, Cause.OVERDONE, 6),
        ({"plan": plan(walk=0)}, False, Cause.UNKNOWN, 10),  # nothing planned
        ({"some_walking": False, "walked": 0.0}, False, Cause.UNKNOWN, 10),  # reported, and nothing done
        ({"some_walking": False, "walked": 0.0, "reported": False}, False, Cause.INCREASE, 6),
        ({}, True, Cause.OTHER, 10),
        ({}, False, Cause.INCREASE, 6),
        ({"walked": 5.0}, False, Cause.INCREASE, 3),  # 5 not tolerated, next try 3: common practice, no source
    ],
)
def test_4_4_the_cause_is_the_first_row_that_holds(yesterday: dict, proven: bool, cause: Cause, walk: int) -> None:
    given = state(past=past(every={} if proven else _NOT_TOLERATED, d29=yesterday))
    found = decided(given, f=5)
    assert found.flare is not None
    assert (found.flare.cause, found.doses.walk) == (cause, walk)


@pytest.mark.parametrize(("days", "cause"), [(3, Cause.INCREASE), (4, Cause.OTHER)])
def test_4_4_four_tolerated_days_and_then_a_flare_is_laid_to_something_else(days: int, cause: Cause) -> None:
    # Common practice, no source.
    tolerated = {f"d{day}": {"worst_pain": 5} for day in range(10, 10 + days)}
    given = state(past=past(every=_NOT_TOLERATED, **tolerated))
    assert decided(given, f=5).flare.cause is cause  # type: ignore[union-attr]


@pytest.mark.parametrize(("step", "days", "cause"), [
    (Step.STANDING_BOTH, 3, Cause.INCREASE), (Step.STANDING_BOTH, 4, Cause.OTHER),
    (Step.STANDING_ONE, 1, Cause.INCREASE), (Step.STANDING_ONE, 2, Cause.OTHER),
])  # fmt: skip
def test_4_4_raises_are_proven_by_four_days_or_two_of_every_second_day_else_they_go_back_one(
    step: Step, days: int, cause: Cause
) -> None:
    raises = dose(step, 3, 8)
    every = {"plan": plan(raises=raises), "worst_pain": None}
    tolerated = {f"d{day}": {**every, "worst_pain": 3} for day in range(10, 10 + days)}
    given = state(doses=Doses(walk=10, raises=raises), last_up=Variable.RAISES, past=past(every=every, **tolerated))
    found = decided(given, f=5)
    assert found.flare.cause is cause  # type: ignore[union-attr]
    assert found.doses == Doses(walk=10, raises=raises if cause is Cause.OTHER else dose(step, 2, 8))


@pytest.mark.parametrize(("gap", "walk"), [(6, 10), (7, 6)])
def test_4_4_walking_goes_back_again_once_a_gap_has_set_raises_back(gap: int, walk: int) -> None:
    # On either side raises are one dose lower, by the flare or by the gap, and not by both.
    raises = dose(Step.STANDING_BOTH, 3, 10)
    before = Doses(walk=10, raises=raises)
    given = state(
        doses=before,
        gap=gap,
        last_up=Variable.RAISES,
        past=past(every={"plan": plan(raises=raises), "reported": False, "worst_pain": None}),
    )
    assert decided(given, f=5).doses == Doses(walk=walk, raises=dose(Step.STANDING_BOTH, 3, 8))


@pytest.mark.parametrize(("first", "cause"), [(3, Cause.OTHER), (2, Cause.INCREASE)])
def test_4_4_what_is_proven_is_looked_for_in_the_last_28_days(first: int, cause: Cause) -> None:
    tolerated = {f"d{day}": {"worst_pain": 5} for day in range(first, first + 4)}
    given = state(past=past(every=_NOT_TOLERATED, **tolerated))
    assert decided(given, f=5).flare.cause is cause  # type: ignore[union-attr]


# --- 4.5, 4.6, 4.8


@pytest.mark.parametrize(
    ("flares", "walk"),
    [
        (((17, Cause.UNKNOWN), (20, Cause.UNKNOWN)), 6),  # the third in the last 14 days
        (((16, Cause.UNKNOWN), (20, Cause.UNKNOWN)), 10),
        (((17, Cause.OTHER), (20, Cause.UNKNOWN)), 10),  # cause other does not count
        (((20, Cause.UNKNOWN),), 10),
    ],
)
def test_4_5_the_third_flare_in_14_days_lowers_walking_proven_or_not(flares: tuple, walk: int) -> None:
    given = state(flares=flares, past=past(d29={"some_walking": False, "walked": 0.0}))
    found = decided(given, f=5)
    assert found.flare.cause is Cause.UNKNOWN  # type: ignore[union-attr]
    assert found.doses.walk == walk


@pytest.mark.parametrize(
    ("walk", "floor", "after", "told"), [(4, 3, 3, False), (3, 3, 3, True), (2, 2, 2, True), (5, 3, 3, False)]
)
def test_4_6_walking_goes_no_lower_than_three_minutes_or_the_clinicians_own(
    walk: int, floor: int, after: int, told: bool
) -> None:
    given = state(
        doses=Doses(walk=walk, raises=RAISES),
        walk_floor=floor,
        past=past(every={**_NOT_TOLERATED, "plan": plan(walk), "walked": float(walk)}),
    )
    found = decided(given, f=5)
    assert (found.doses.walk, Notice.NOTHING_TO_LOWER in found.notices) == (after, told)


def test_4_6_raises_go_no_lower_than_the_first_dose() -> None:
    given = state(doses=Doses(walk=10, raises=ladder.LOWEST), last_up=Variable.RAISES, past=past(every=_NOT_TOLERATED))
    found = decided(given, f=5)
    assert (found.doses.raises, found.notices) == (ladder.LOWEST, (Notice.NOTHING_TO_LOWER,))


@pytest.mark.parametrize(
    ("flares", "irritable"),
    [
        (((1, Cause.UNKNOWN), (14, Cause.UNKNOWN)), True),  # 13 days apart
        (((1, Cause.UNKNOWN), (15, Cause.UNKNOWN)), False),
        (((1, Cause.UNKNOWN), (2, Cause.INCREASE)), True),  # 28 days after the second
        (((0, Cause.UNKNOWN), (1, Cause.INCREASE)), False),
        (((10, Cause.UNKNOWN), (14, Cause.OTHER)), False),
    ],
)
def test_4_8_irritable_is_two_flares_at_most_13_days_apart_for_28_days(flares: tuple, irritable: bool) -> None:
    assert decided(state(flares=flares)).irritable is irritable


# --- 5 and 5.1


def test_5_the_first_row_of_the_table_that_holds_decides() -> None:
    flag = {"open_flags": (RedFlag.NERVE_SIGNS,)}
    assert decided(r=CONSTANT, **flag).decision is Decision.STOP  # before unload
    assert decided(loading_stopped=True).decision is Decision.STOP
    assert decided(f=8, r=CONSTANT).decision is Decision.UNLOAD  # before the flare's rest
    assert decided(f=8).decision is Decision.REST
    assert decided(state(off=True)).decision is Decision.RESUME  # before progress
    assert decided().decision is Decision.PROGRESS
    assert decided(state(walk_changed_day=29)).decision is Decision.HOLD


@pytest.mark.parametrize("today", [{"open_flags": (RedFlag.NERVE_SIGNS,)}, {"loading_stopped": True}])
def test_5_1_a_pause_blocks_increases_only(today: dict) -> None:
    held = decided(paused=True)
    assert (held.decision, held.plan) == (Decision.HOLD, plan())
    assert Reason.PAUSED in held.reasons
    assert decided(paused=True, f=8).decision is Decision.REST
    assert decided(state(off=True), paused=True).decision is Decision.RESUME
    assert decided(paused=True, **today).decision is Decision.STOP


@pytest.mark.parametrize("walk", [4, 10, 45])
def test_5_1_a_clinicians_dose_is_given_as_it_stands_up_or_down_and_counts_as_a_change(walk: int) -> None:
    order = DoseOrder(number=1, walk=walk, raises=dose(Step.STANDING_ONE, 3, 8))
    given = decided(dose_order=order)
    assert (given.decision, given.doses, given.order_given) == (
        Decision.HOLD,
        Doses(walk=walk, raises=dose(Step.STANDING_ONE, 3, 8)),
        1,
    )
    assert given.walk_changed
    assert decided(state(order_given=1), dose_order=order).doses.walk == 12  # given once only


@pytest.mark.parametrize(
    ("changes", "today"),
    [({}, {"open_flags": (RedFlag.NERVE_SIGNS,)}), ({}, {"f": 8}), ({}, {"r": CONSTANT}), ({"off": True}, {"f": 4})],
)
def test_5_1_a_clinicians_dose_waits_for_a_day_that_has_a_dose(changes: dict, today: dict) -> None:
    given = decided(state(**changes), dose_order=DoseOrder(number=1, walk=20), **today)
    assert (given.order_given, given.plan.has_dose) == (None, False)


def test_5_1_a_clinicians_dose_ends_a_gap_where_it_is_placed_and_where_it_is_given() -> None:
    order = DoseOrder(number=1, walk=20)
    flag = {"open_flags": (RedFlag.NERVE_SIGNS,), "dose_order": order}
    stopped = [(morning(5), NOTHING_SAID, flag)] * 9
    told = story(
        (morning(5), evening()),
        (morning(5), NOTHING_SAID, {**flag, "order_placed": order}),
        *stopped,
        (morning(5), NOTHING_SAID, {"dose_order": order}),
        *[(morning(5), NOTHING_SAID, {"dose_order": order})] * 7,
    )
    assert told.walks[10:] == [10, *[20] * 7, 12]  # as it stands; then a gap of its own


# --- 5.2, 5.3 settled


@pytest.mark.parametrize(
    ("reference", "f", "irritable", "settled"),
    [
        (5, 6, False, True),
        (5, 7, False, False),
        (0, 2, False, True),
        (0, 3, False, False),
        (5, 5, True, True),
        (5, 6, True, False),
        (0, 2, True, True),
    ],
)
def test_5_2_settled_is_two_or_one_over_the_reference_or_the_reference_itself_if_irritable(
    reference: int, f: int, irritable: bool, settled: bool
) -> None:
    given = state(
        off=True,
        resting=True,
        reference_pains=(reference,) * 14,
        past=past(every={"reference": reference}),
        flares=((20, Cause.UNKNOWN), (25, Cause.UNKNOWN)) if irritable else (),
    )
    assert decided(given, f=f).decision is (Decision.RESUME if settled else Decision.REST)


@pytest.mark.parametrize(
    ("mornings_before", "reference", "f", "settled"),
    [(1, 5, 5, True), (0, 5, 5, False), (1, 5, 6, False), (1, 8, 7, True), (1, 8, 8, False), (1, 2, 2, True)],
)
def test_5_2_after_constant_pain_the_second_morning_at_five_or_one_under_the_reference(
    mornings_before: int, reference: int, f: int, settled: bool
) -> None:
    given = state(
        off=True,
        resting=True,
        inflammatory_since_resume=True,
        answered_since_constant=mornings_before,
        reference_pains=(reference,) * 14,
        past=past(every={"reference": reference}),
    )
    assert decided(given, f=f).settled is settled


def test_5_3_a_rest_goes_on_over_a_stop_and_silence_until_it_is_settled() -> None:
    flag = {"open_flags": (RedFlag.NERVE_SIGNS,)}
    told = story(
        (morning(5), evening()),
        (morning(8), NOTHING_SAID),
        (morning(8), NOTHING_SAID, flag),
        (SILENCE, NOTHING_SAID),
        (morning(8), NOTHING_SAID),
        (morning(5), NOTHING_SAID),
    )
    assert told.kinds == ["hold", "rest", "stop", "rest", "rest", "resume"]


# --- 5.4, 5.5


@pytest.mark.parametrize(
    ("rests", "answered", "f", "r", "released"),
    [
        (7, 3, 8, SOMETIMES, True),
        (6, 3, 8, SOMETIMES, False),
        (7, 2, 8, SOMETIMES, False),
        (7, 3, 9, SOMETIMES, False),  # over the highest of the last three
        (7, 3, 8, CONSTANT, False),
    ],
)
def test_5_4_after_seven_rests_a_morning_no_worse_than_the_last_three_is_settled(
    rests: int, answered: int, f: int, r: RestPattern, released: bool
) -> None:
    given = state(
        off=True, resting=True, rest_run=rests, rest_run_answered=answered, rest_run_pains=(7, 8, 7)[:answered],
        answered_pains=(2, 2, 7, 8, 7),
    )  # fmt: skip
    found = decided(given, f=f, r=r)
    assert found.released is released
    assert (found.decision is Decision.RESUME) is released
    assert (Notice.RELEASE in found.notices) is released


@pytest.mark.parametrize(("days_ago", "decision"), [(13, Decision.HOLD), (14, Decision.PROGRESS)])
def test_5_4_nothing_goes_up_for_14_days_after_a_release(days_ago: int, decision: Decision) -> None:
    assert decided(state(last_release_day=30 - days_ago)).decision is decision


@pytest.mark.parametrize("least", [3, 7])
def test_5_4_the_reference_starts_anew_from_three_mornings_however_many_a_patient_needs_at_first(least: int) -> None:
    given = state(reference_pains=(8, 8, 8), last_release_day=29, past=past(every={"reference": None}))
    assert decided(given, protocol=DEFAULT.changed(reference_least=least)).reference == 8


@pytest.mark.parametrize(("run", "walk"), [(0, 10), (1, 10), (2, 0), (9, 0)])
def test_5_5_from_the_third_silent_morning_on_doses_are_off_and_only_the_question_is_sent(run: int, walk: int) -> None:
    found = silent(state(silent_run=run))
    assert (found.decision, found.plan.walk, found.doses.walk) == (Decision.HOLD, walk, 10)
    assert found.only_question is found.off is (walk == 0)


# --- 5.6 to 5.8


@pytest.mark.parametrize(
    ("gap", "walk", "raises"),
    [
        (6, 20, dose(Step.STANDING_ONE, 3, 8)),
        (7, 12, dose(Step.STANDING_ONE, 2, 8)),
        (20, 12, dose(Step.STANDING_ONE, 2, 8)),
        (21, 8, dose(Step.UP_BOTH_DOWN_ONE, 2, 8)),
        (55, 8, dose(Step.UP_BOTH_DOWN_ONE, 2, 8)),
        (56, 5, ladder.LOWEST),
    ],
)
def test_5_6_a_long_gap_takes_the_doses_down_in_three_steps(gap: int, walk: int, raises: ladder.RaiseDose) -> None:
    # Our choice: no source for these numbers.
    before = Doses(walk=20, raises=dose(Step.STANDING_ONE, 3, 8))
    given = state(doses=before, gap=gap, enrolment=enrolment(doses=Doses(walk=5, raises=ladder.LOWEST)))
    for found in (decided(given, paused=True), silent(given), decided(given, open_flags=(RedFlag.NERVE_SIGNS,))):
        assert found.doses == Doses(walk=walk, raises=raises)
    assert (Notice.LONG_GAP_RETURN in decided(given).notices) is (gap >= 56)


def test_5_6_what_a_flare_has_lowered_further_stands_and_is_not_multiplied() -> None:
    lowered = state(doses=Doses(walk=4, raises=RAISES), gap=7, doses_before_gap=Doses(walk=20, raises=RAISES))
    assert decided(lowered).doses.walk == 4
    flared = state(
        doses=Doses(walk=10, raises=RAISES),
        gap=9,
        past=past(every={"reported": False, "worst_pain": None, "walked": 0.0}),
    )
    assert decided(flared, f=6).doses.walk == 6  # 0.6 of 10, and not 0.6 of 0.6


@pytest.mark.parametrize(
    ("said", "lowered"),
    [
        (NOTHING_SAID, True),
        (evening(done=PlanDone.NONE), True),
        (evening(done=None, others=(amount(Activity.RUNNING, minutes=20),)), True),  # running alone is no dose
        (evening(done=PlanDone.SOME), False),
        (evening(done=None, raises=(1, 8)), False),
    ],
)
def test_5_6_a_gap_is_days_without_walking_or_raises(said: Evening, lowered: bool) -> None:
    told = story(*[(morning(5), said)] * 7, (morning(5), said))
    assert told.walks[6:] == [10, 6 if lowered else 10]


@pytest.mark.parametrize(
    ("raises", "after"),
    [
        (dose(Step.STANDING_ONE), dose(Step.STANDING_BOTH)),
        (dose(Step.STANDING_BOTH, 3, 8), dose(Step.STANDING_BOTH)),
        (dose(Step.STANDING_BOTH), dose(Step.STANDING_BOTH)),
        (dose(Step.SEATED_ONE, 3, 12), dose(Step.SEATED_ONE, 3, 12)),
    ],
)
def test_5_7_after_constant_pain_raises_come_back_no_higher_than_standing_on_both(
    raises: ladder.RaiseDose, after: ladder.RaiseDose
) -> None:
    given = state(doses=Doses(walk=10, raises=raises), off=True, resting=True, inflammatory_since_resume=True)
    found = decided(given)
    assert (found.decision, found.doses.raises) == (Decision.RESUME, after)


def _evenings(*pains: int, first: int = 27, done: bool = True) -> tuple[PainfulEvening, ...]:
    return tuple(PainfulEvening(day=first + n, worst_pain=w, walk_done=done) for n, w in enumerate(pains))


@pytest.mark.parametrize(
    ("changes", "walk"),
    [
        ({"evenings": _evenings(6, 6, 6)}, 8),
        ({"evenings": _evenings(6, 5, 6)}, 10),  # up to 5 is allowed: pain-monitoring model, as in 4.3
        ({"evenings": _evenings(6, 6, first=28)}, 10),
        ({"evenings": _evenings(6, 6, 6, done=False)}, 10),
        ({"evenings": _evenings(6, 6, 6), "walk_changed_day": 27}, 8),
        ({"evenings": _evenings(6, 6, 6), "walk_changed_day": 28}, 10),
    ],
)
def test_5_8_three_painful_evenings_of_walking_lower_it_by_a_fifth(changes: dict, walk: int) -> None:
    given = state(past=past(d29={"worst_pain": 6}), **changes)  # so that nothing goes up
    found = decided(given)
    assert (found.decision, found.doses.walk) == (Decision.HOLD, walk)
    assert (Notice.PAINFUL_DOSES in found.notices) is (walk == 8)


@pytest.mark.parametrize(("walk", "after"), [(10, 8), (5, 4), (4, 3), (3, 3)])
def test_5_8_it_goes_down_by_at_least_one_and_never_under_three(walk: int, after: int) -> None:
    assert decided(state(doses=Doses(walk=walk, raises=RAISES), evenings=_evenings(6, 6, 6))).doses.walk == after


@pytest.mark.parametrize(("told", "again"), [(None, True), (23, True), (24, False)])
def test_5_8_the_clinician_is_told_at_most_once_in_seven_days(told: int | None, again: bool) -> None:
    found = decided(state(evenings=_evenings(6, 6, 6), painful_told_day=told))
    assert (Notice.PAINFUL_DOSES in found.notices) is again


# --- 6 progress


def _very(given: State) -> State:
    return replace(given, enrolment=enrolment(prior_activity=PriorActivity.VERY))


@pytest.mark.parametrize(
    ("name", "ready", "waiting", "reason"),
    [
        # Common practice, no source: increases no closer than 4 days.
        ("change", state(walk_changed_day=26), state(walk_changed_day=27), Reason.CHANGED_LATELY),
        ("change of raises", state(raises_changed_day=26), state(raises_changed_day=27), Reason.CHANGED_LATELY),
        ("resume", state(last_resume_day=26), state(last_resume_day=27), Reason.RESUMED_LATELY),
        (
            "flare",
            state(flares=((23, Cause.OTHER),)),
            state(flares=((24, Cause.OTHER),)),  # 7 days for 14 days after a flare: our choice
            Reason.FLARE_LATELY,
        ),
        ("very active", _very(state(walk_changed_day=23)), _very(state(walk_changed_day=24)), Reason.CHANGED_LATELY),
        (
            "irritable",
            state(flares=((14, Cause.UNKNOWN), (15, Cause.UNKNOWN)), walk_changed_day=23),
            state(flares=((14, Cause.UNKNOWN), (15, Cause.UNKNOWN)), walk_changed_day=24),
            Reason.CHANGED_LATELY,
        ),
        (
            "answers",  # 3 of 4 mornings, today's with them, are 75 %
            state(past=past(d28={"answered": False})),
            state(past=past(d28={"answered": False}, d27={"answered": False})),
            Reason.FEW_ANSWERS,
        ),
        (
            "worst pain",  # pain-monitoring model
            state(past=past(d26={"worst_pain": 5})),
            state(past=past(d26={"worst_pain": 6})),
            Reason.PAINFUL_EVENING,
        ),
        ("worst pain before the window", state(past=past(d25={"worst_pain": 9})), None, Reason.PAINFUL_EVENING),
        (
            "tolerated",
            state(past=past(d28={"walk_done": False, "raises_done": False})),
            state(past=past(d28={"walk_done": False, "raises_done": False}, d29={"walk_done": False, "raises_done": False})),
            Reason.NOT_TOLERATED,
        ),
        (
            "last three mornings",
            state(answered_pains=(2,) * 13 + (3,)),
            state(answered_pains=(2,) * 12 + (3, 3)),
            Reason.MORNINGS_HIGH,
        ),
        (
            "week to week",  # pain-monitoring model: may not rise
            state(answered_pains=(1,) * 7 + (2,) * 6),
            state(answered_pains=(0,) * 7 + (2,) * 6),
            Reason.WEEK_RISING,
        ),
        ("thirteen mornings", state(answered_pains=(0,) * 6 + (2,) * 6), None, Reason.WEEK_RISING),
    ],
)  # fmt: skip
def test_6_nothing_goes_up_unless_all_conditions_hold(
    name: str, ready: State, waiting: State | None, reason: Reason
) -> None:
    went = decided(ready)
    assert (went.decision, went.doses.walk) == (Decision.PROGRESS, 12), name
    if waiting is not None:
        held = decided(waiting)
        assert (held.decision, held.doses) == (Decision.HOLD, waiting.doses), name
        assert reason in held.reasons


def test_6_today_may_be_one_over_the_reference_and_not_two() -> None:
    assert decided(state(reference_pains=(0,) * 14, past=past(every={"reference": 0}), answered_pains=(0,) * 14),
                   f=1).decision is Decision.PROGRESS  # fmt: skip
    held = decided(state(reference_pains=(0,) * 14, past=past(every={"reference": 0}), answered_pains=(0,) * 14), f=2)
    assert (held.decision, held.flare) == (Decision.HOLD, None)
    assert Reason.MORNING_HIGH in held.reasons


@pytest.mark.parametrize(("reference", "changed", "goes_up"), [(3, 26, True), (4, 26, False), (4, 23, True)])
def test_6_a_reference_of_four_or_more_makes_the_interval_seven(reference: int, changed: int, goes_up: bool) -> None:
    given = state(
        reference_pains=(reference,) * 14,
        answered_pains=(reference,) * 14,
        past=past(every={"reference": reference}),
        walk_changed_day=changed,
    )
    assert (decided(given, f=reference).decision is Decision.PROGRESS) is goes_up


@pytest.mark.parametrize(
    ("last", "changes", "up"),
    [
        (None, {}, Variable.WALKING),  # walking at the start
        (Variable.WALKING, {}, Variable.RAISES),
        (Variable.RAISES, {}, Variable.WALKING),
        (Variable.RAISES, {"doses": Doses(walk=30, raises=RAISES)}, Variable.RAISES),  # at its end: the other
        (None, {"past": past(every={"walk_done": False})}, Variable.RAISES),  # not tolerated: the other
        (Variable.WALKING, {"past": past(every={"raises_done": False})}, Variable.WALKING),
    ],
)
def test_6_one_variable_goes_up_in_turn(last: Variable | None, changes: dict, up: Variable) -> None:
    # One at a time: common practice, no source.
    given = state(last_progressed=last, **changes)
    found = decided(given)
    assert found.progressed is up
    assert (found.doses.walk != given.doses.walk) is (up is Variable.WALKING)
    assert (found.doses.raises != given.doses.raises) is (up is Variable.RAISES)


def test_6_both_at_their_end_is_at_target() -> None:
    found = decided(state(doses=Doses(walk=30, raises=dose(Step.ONE_ON_TOWEL, 5, 8))))
    assert (found.decision, found.reasons) == (Decision.HOLD, (Reason.AT_TARGET,))


@pytest.mark.parametrize(
    ("day", "last_inflammatory", "up"), [(22, None, True), (21, None, False), (30, 9, True), (30, 10, False)]
)
def test_6_standing_on_one_foot_waits_for_21_days(day: int, last_inflammatory: int | None, up: bool) -> None:
    raises = dose(Step.UP_BOTH_DOWN_ONE, 3, 12)
    given = state(day=day, doses=Doses(walk=30, raises=raises), last_inflammatory_day=last_inflammatory, past=past(day))
    assert (decided(given).progressed is Variable.RAISES) is up


@pytest.mark.parametrize(
    ("reference", "raises", "up"),
    [
        (5, dose(Step.SEATED_ONE, 3, 12), Variable.WALKING),
        (6, dose(Step.SEATED_ONE, 3, 10), Variable.RAISES),  # walking barred
        (6, dose(Step.SEATED_ONE, 3, 12), None),  # raises beyond "seated one" barred too
    ],
)
def test_6_over_five_walking_is_barred_and_raises_beyond_seated_on_one(
    reference: int, raises: ladder.RaiseDose, up: Variable | None
) -> None:
    given = state(
        doses=Doses(walk=10, raises=raises),
        reference_pains=(reference,) * 14,
        answered_pains=(reference,) * 14,
        past=past(every={"reference": reference}),
    )
    found = decided(given, f=reference)
    assert found.progressed is up
    assert (Notice.HIGH_REFERENCE in found.notices) is (reference > 5)


# --- 7 raises


@pytest.mark.parametrize(("changed", "up"), [(16, True), (17, False)])
def test_7_each_towel_dose_is_kept_for_two_weeks(changed: int, up: bool) -> None:
    # Rathleff et al. 2015, Scand J Med Sci Sports 25:e292-e300.
    given = state(doses=Doses(walk=30, raises=dose(Step.ONE_ON_TOWEL, 3, 12)), raises_changed_day=changed)
    assert decided(given).doses.raises == dose(Step.ONE_ON_TOWEL, *((4, 10) if up else (3, 12)))


@pytest.mark.parametrize(("anchor", "has"), [(29, False), (28, True), (27, False), (26, True)])
def test_7_raises_of_every_second_day_are_counted_from_the_day_they_changed(anchor: int, has: bool) -> None:
    given = state(doses=Doses(walk=10, raises=dose(Step.STANDING_ONE)), raises_anchor=anchor)
    assert decided(given, paused=True).plan.has_raises is has
    assert decided(state(), paused=True).plan.has_raises  # daily steps every day


def test_7_the_day_of_a_resume_has_raises() -> None:
    given = state(doses=Doses(walk=10, raises=dose(Step.STANDING_ONE)), raises_anchor=29, off=True)
    found = decided(given)
    assert (found.decision, found.plan.has_raises, found.raises_anchor) == (Decision.RESUME, True, 30)


# --- a patient's own thresholds


@pytest.mark.parametrize(("days", "cause"), [(56, Cause.OTHER), (28, Cause.INCREASE)])
def test_a_longer_look_back_for_one_patient_sees_the_older_days(days: int, cause: Cause) -> None:
    protocol = DEFAULT.changed(proven_window=days)
    told = story(
        *[(morning(5), evening(), {"paused": True})] * 5,
        *[(morning(5), evening(done=PlanDone.SOME), {"paused": True})] * 34,
        (morning(7), NOTHING_SAID),
        protocol=protocol,
    )
    assert told.decisions[-1].flare.cause is cause  # type: ignore[union-attr]


def test_a_longer_memory_of_flares_for_one_patient_is_kept() -> None:
    protocol = DEFAULT.changed(irritable_days=84)
    bad = ((morning(5), evening(done=PlanDone.NONE)), (morning(7), NOTHING_SAID), (morning(5), evening()))
    told = story(*bad, *bad[1:], *[(morning(5), evening(done=PlanDone.SOME))] * 80, protocol=protocol)
    assert [each.irritable for each in told.decisions] == [False] * 3 + [True] * 82


# --- 9 what the clinician is told


@pytest.mark.parametrize(("run", "told"), [(6, False), (7, True), (8, False)])
def test_9_inflammatory_for_more_than_seven_days_is_told_once(run: int, told: bool) -> None:
    # Usually 3-7 days: common practice, no source.
    given = state(phase=Phase.INFLAMMATORY, inflammatory_run=run, stated_pattern=CONSTANT)
    assert (Notice.LONG_INFLAMMATORY in decided(given, r=CONSTANT).notices) is told


@pytest.mark.parametrize(("run", "told"), [(1, False), (2, True), (3, False)])
def test_9_silence_of_three_days_is_told_once(run: int, told: bool) -> None:
    assert (Notice.SILENCE in silent(state(silent_run=run)).notices) is told


@pytest.mark.parametrize(("last", "told"), [(3, False), (2, True)])
def test_9_28_days_without_progress_below_the_target_are_told(last: int, told: bool) -> None:
    assert (Notice.NO_PROGRESS in decided(state(last_progress_day=last), paused=True).notices) is told
    at_target = state(last_progress_day=last, doses=Doses(walk=30, raises=RAISES))
    assert Notice.NO_PROGRESS not in decided(at_target, paused=True).notices


@pytest.mark.parametrize(
    ("pains", "told_on", "told"),
    [((6,) * 13, None, True), ((6,) * 12, None, False), ((5,) + (6,) * 12, None, False),
     ((6,) * 13, 23, True), ((6,) * 13, 24, False)],
)  # fmt: skip
def test_6_fourteen_mornings_over_five_go_to_the_clinician_at_most_once_a_week(
    pains: tuple[int, ...], told_on: int | None, told: bool
) -> None:
    given = state(
        answered_pains=pains,
        reference_pains=(6,) * 14,
        past=past(every={"reference": 6}),
        high_reference_told_day=told_on,
    )
    assert (Notice.HIGH_REFERENCE in decided(given, f=6).notices) is told
