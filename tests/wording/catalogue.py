"""Every text that a patient can read, in its variants, by name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from itertools import product

from bot.conversation.wording import asking, clinic, clinician, days, enrolment, files, flags, prompts, service
from bot.conversation.wording.understood import understood
from bot.program.ladder import RaiseDose, first_of
from bot.program.protocol import DEFAULT
from bot.program.reasons import Notice, Reason
from bot.program.terms import (
    About,
    Activity,
    Cause,
    Decision,
    Exercise,
    Phase,
    PlanDone,
    RedFlag,
    RestPattern,
    Step,
    Variable,
)
from bot.program.values import DayDecision, Doses, Flare, Plan
from bot.reader.reading import ActivityDone, ExerciseDone, Reading

CLINICIANS = ("Dr Vale", "your clinician")
GIVES_DOSE = (Decision.RESUME, Decision.PROGRESS, Decision.HOLD)


def a_decision(
    decision: Decision = Decision.HOLD,
    *,
    phase: Phase | None = None,
    walk: int = 5,
    raises: RaiseDose | None = None,
    reasons: tuple[Reason, ...] = (),
    cause: Cause | None = None,
    candidates: tuple[Activity, ...] = (),
    off: bool | None = None,
    raises_today: bool = True,
    day: int = 10,
    pain: int | None = 4,
    released: bool = False,
) -> DayDecision:
    """A day's decision as the rules could give it."""
    off = decision not in GIVES_DOSE if off is None else off
    raises = raises or first_of(Step.SEATED_BOTH)
    if phase is None:
        phase = Phase.INFLAMMATORY if decision is Decision.UNLOAD else Phase.REPARATIVE
    shown = raises_today and not off
    plan = Plan(
        walk=0 if off else walk,
        step=raises.step,
        sets=raises.sets if shown else 0,
        reps=raises.reps if shown else 0,
    )
    return DayDecision(
        day=day,
        phase=phase,
        decision=decision,
        reasons=reasons,
        notices=(),
        plan=plan,
        shown=plan,
        doses=Doses(walk=walk, raises=raises),
        walk_without_gap=walk,
        answered=True,
        first_step_pain=pain,
        rest_pattern=RestPattern.CONSTANT if phase is Phase.INFLAMMATORY else RestPattern.INTERMITTENT,
        stated_pattern=None,
        settled=decision is Decision.RESUME,
        released=released,
        reference=4,
        reference_counts=True,
        flare=None if cause is None else Flare(cause=cause, candidates=candidates),
        irritable=Reason.IRRITABLE in reasons,
        off=off,
        walk_changed=False,
        raises_changed=False,
        raises_anchor=1,
        last_up=Variable.WALKING,
        progressed=None,
        order_given=None,
        phase_order_ended=None,
        only_question=False,
    )


def guide(
    decision: DayDecision,
    *,
    before: DayDecision | None = None,
    worst: int | None = 3,
    week: int = 2,
    foot: str = "right",
    who: str = "Dr Vale",
) -> str:
    """The guidance of a decision."""
    return days.guidance(
        decision, before=before, yesterday_worst=worst, week=week, foot=foot, protocol=DEFAULT, clinician=who
    )


def _decisions() -> Iterator[tuple[str, DayDecision]]:
    for phase, decision, day in product(Phase, Decision, (8, 9, 10)):
        if (phase is Phase.INFLAMMATORY) != (decision is Decision.UNLOAD) and decision is not Decision.STOP:
            continue
        yield f"{decision} {phase} {day}", a_decision(decision, phase=phase, day=day)
    for reason in Reason:
        yield f"hold {reason}", a_decision(reasons=(reason,))
        yield f"hold off {reason}", a_decision(reasons=(reason,), off=True)
    for reason in (Reason.WALK_UP, Reason.RAISES_UP):
        yield f"progress {reason}", a_decision(Decision.PROGRESS, reasons=(reason, Reason.IRRITABLE), walk=6)
    for reason in (Reason.RED_FLAG, Reason.CLINICIAN_STOPPED):
        yield f"stop {reason}", a_decision(Decision.STOP, reasons=(reason,))
    for reason in (Reason.PHASE_BY_HAND, Reason.CONSTANT_PAIN, Reason.PHASE_KEPT):
        yield f"unload {reason}", a_decision(Decision.UNLOAD, reasons=(reason,))
    for reason in (Reason.GAP, Reason.AFTER_INFLAMMATORY, Reason.NEW_DOSE):
        yield f"resume {reason}", a_decision(Decision.RESUME, reasons=(Reason.SETTLED, reason))
    yield "resume released", a_decision(Decision.RESUME, released=True)
    signs = (Reason.FLARE_CONSTANT, Reason.FLARE_RISE, Reason.FLARE_NOT_SETTLED)
    several = (Activity.GARDENING, Activity.STAIRS, Activity.OTHER)
    for cause, sign, found in product(Cause, signs, ((), (Activity.WALKING,), several)):
        kind = Decision.UNLOAD if sign is Reason.FLARE_CONSTANT else Decision.REST
        yield (
            f"{kind} {cause} {sign} {len(found)}",
            a_decision(kind, reasons=(Reason.FLARE, sign), cause=cause, candidates=found, walk=3),
        )
    for activity in Activity:
        yield f"rest {activity}", a_decision(Decision.REST, cause=Cause.OTHER, candidates=(activity,))
    yield (
        "rest third flare",
        a_decision(Decision.REST, reasons=(Reason.THIRD_FLARE, Reason.IRRITABLE), cause=Cause.INCREASE),
    )
    third = (Reason.THIRD_FLARE,)
    yield "rest third flare, unknown", a_decision(Decision.REST, reasons=third, cause=Cause.UNKNOWN)
    lowest = a_decision(Decision.REST, cause=Cause.INCREASE)
    yield "rest nothing to lower", replace(lowest, notices=(Notice.NOTHING_TO_LOWER,))
    for step in Step:
        yield f"step {step}", a_decision(raises=first_of(step))
        yield f"step {step}, none today", a_decision(raises=first_of(step), raises_today=False)


def _guidance() -> Iterator[tuple[str, str]]:
    earlier = a_decision(Decision.STOP, walk=9, raises=first_of(Step.STANDING_BOTH))
    for name, decision in _decisions():
        for before, foot, who in ((None, "right", "Dr Vale"), (earlier, "both", "your clinician")):
            text = guide(decision, before=before, foot=foot, who=who, week=2 if before else 30)
            yield f"guidance {name}, {foot}", text
        yield (
            f"guidance {name}, same phase",
            guide(decision, before=replace(earlier, phase=decision.phase), foot="left"),
        )
        yield f"plan {name}", days.plan_lines(decision.plan, decision, DEFAULT)


def _readings() -> Iterator[Reading]:
    for pattern in RestPattern:
        yield Reading(first_step_pain=5, rest_pattern=pattern, settle_minutes=10.0)
    for activity in Activity:
        yield Reading(activities=(ActivityDone(activity=activity, minutes=12.0),), worst_pain=3)
        yield Reading(not_done=(activity,))
    for exercise in Exercise:
        yield Reading(exercises=(ExerciseDone(exercise=exercise, sets=3, reps=10, seconds=20),))
        yield Reading(not_done=(exercise,))
    for done in PlanDone:
        yield Reading(plan_done=done, about=About.YESTERDAY)
    yield Reading(
        first_step_pain=5,
        rest_pattern=RestPattern.INTERMITTENT,
        activities=tuple(ActivityDone(activity=each, minutes=10.0, about=About.YESTERDAY) for each in Activity),
        exercises=tuple(ExerciseDone(exercise=each, sets=2, reps=8) for each in Exercise),
        plan_done=PlanDone.ALL,
        worst_pain=4,
    )


def _asked() -> Iterator[tuple[str, str]]:
    for name in [
        "ask_rest_pattern",
        "ask_first_step_pain",
        "ask_worst_pain",
        "ask_what_was_done",
        "ask_minutes",
        "ask_candidates",
        "ask_worry",
        "ask_worry_in_the_morning",
        "worry_over",
        "which_candidate",
        "ask_stop",
        "stopped_today",
        "overdone",
        "unclear_rest",
        "unclear_score",
        "thanks",
        "small_talk",
        "nothing_new",
        "help_text",
        "nothing_to_undo",
        "kept_for_later",
        "evening_done",
    ]:
        yield name, getattr(asking, name)()
    yield "ask_bare_number", asking.ask_bare_number(7)
    yield "not_begun", asking.not_begun("2 March 2026")
    for who in CLINICIANS:
        for name in ["worry_passed_on", "heavy_time", "offer_to_pass_on", "not_passed_on", "passed_on_beside_a_sign"]:
            yield name, getattr(asking, name)(who)
    for each_name, decision in _decisions():
        yield f"plan_stays {each_name}", asking.plan_stays(days.plan_in_short(decision))
    for slot in ("morning", "evening", "any"):
        yield f"unclear {slot}", asking.unclear(slot)
    for what in ("morning", "evening", "evening, morning"):
        yield f"undone {what}", asking.undone(what)
    for code in RedFlag:
        yield f"ask_flag {code}", asking.ask_flag(code)


def _flags() -> Iterator[tuple[str, str]]:
    for who in CLINICIANS:
        for code in RedFlag:
            yield f"flag_reply {code}", flags.flag_reply((code,), clinician=who)
            yield f"still_open {code}", flags.still_open((code,), who)
        for count in (2, 3, 15):
            yield f"flag_reply {count} codes", flags.flag_reply(tuple(RedFlag)[-count:], clinician=who)
            yield f"still_open {count} codes", flags.still_open(tuple(RedFlag)[-count:], who)
        yield "flag_cleared", flags.flag_cleared(who)


def _prompts() -> Iterator[tuple[str, str]]:
    hold = a_decision()
    for week in (1, 24, 30):
        yield f"morning_prompt {week}", prompts.morning_prompt("Rowan", None, week)
        plan = days.plan_lines(hold.plan, hold, DEFAULT)
        yield f"morning_prompt {week} plan", prompts.morning_prompt("Rowan", plan, week)
    yield "evening_prompt", prompts.evening_prompt("Rowan")
    yield "only_question", prompts.only_question("Rowan")
    for kind in ("morning", "evening"):
        yield f"nudge {kind}", prompts.nudge(kind)
    for week in (4, 8, 12, 24):
        yield f"milestone {week}", prompts.milestone(week)
    yield "holiday_set", prompts.holiday_set(date(2026, 5, 1), date(2026, 5, 10))
    yield "holiday_set one day", prompts.holiday_set(date(2026, 5, 1), date(2026, 5, 1))
    yield "holiday_ended", prompts.holiday_ended()
    yield "holiday_unclear", prompts.holiday_unclear()
    yield "holiday_too_long", prompts.holiday_too_long(60)
    for kind in ("morning", "evening"):
        yield f"only_that {kind}", prompts.only_that("Rowan", kind, asking.ask_worry_in_the_morning())


def _enrolment() -> Iterator[tuple[str, str]]:
    for name in [
        "ask_consent",
        "no_consent",
        "ask_warning_signs",
        "please_yes_or_no",
        "ask_foot",
        "unclear_foot",
        "unclear_time_zone",
        "unclear_prompt_times",
        "ask_first_step_pain",
        "unclear_pain",
        "ask_rest_pattern",
        "unclear_rest_pattern",
        "ask_prior_activity",
        "unclear_prior_activity",
    ]:
        yield name, getattr(enrolment, name)()
    for who in CLINICIANS:
        yield "what_this_is", enrolment.what_this_is(who)
        for name in ["signs_present", "ask_which_sign", "no_doses_yet", "questions_go_on"]:
            yield name, getattr(enrolment, name)(who)
    yield "ask_time_zone", enrolment.ask_time_zone("Europe/Lisbon")
    yield "ask_prompt_times", enrolment.ask_prompt_times("07:00", "19:30")
    for who in (None, *CLINICIANS):
        yield (
            f"done {who}",
            enrolment.done(
                start=date(2026, 3, 2),
                walk=5,
                raises="seated both, 2 sets of 8",
                morning="07:00",
                evening="19:00",
                stopped_by=who,
            ),
        )
        yield f"back_again {who}", enrolment.back_again(morning="07:00", evening="19:30", stopped_by=who)


def _told() -> Iterator[tuple[str, str]]:
    for who in CLINICIANS:
        yield "tell_paused", clinician.tell_paused(who, date(2026, 3, 10))
        yield "tell_resumed", clinician.tell_resumed(who)
        yield "tell_loading_stopped", clinician.tell_loading_stopped(who)
        for flags_open in (True, False):
            yield f"tell_loading_allowed {flags_open}", clinician.tell_loading_allowed(who, flags_open=flags_open)
        yield "tell_may_start", clinician.tell_may_start(who)
        yield "tell_cleared_but_stopped", clinician.tell_cleared_but_stopped(who)
        yield "tell_dose walk", clinician.tell_dose(who, "walking", "12 min")
        yield "tell_dose raises", clinician.tell_dose(who, "heel raises", "up both down one 2x8")
        for phase in Phase:
            yield f"tell_phase {phase}", clinician.tell_phase(who, phase)
        yield "tell_phase_lifted", clinician.tell_phase_lifted(who)
        yield "tell_threshold target", clinician.tell_threshold(who, "target", 40)
        yield "tell_threshold interval", clinician.tell_threshold(who, "interval", 6)
        yield "tell_message", clinic.tell_message(who, "See you on Friday.")
        yield "tell_ended", clinic.tell_ended(who)
        yield "tell_zone", clinic.tell_zone(who, "Europe/Paris", "07:00", "19:30")
        for kind in clinic.UNDONE:
            yield f"tell_undone {kind}", clinic.tell_undone(who, kind)
        yield "tell_stop_undone", clinic.tell_stop_undone(who)
        yield "tell_open_again", clinic.tell_open_again(who)
        for enrolling in (True, False):
            yield f"tell_goes_on {enrolling}", clinic.tell_goes_on(who, enrolling=enrolling)


def _service() -> Iterator[tuple[str, str]]:
    for name in [
        "stranger",
        "old_button",
        "already_joined",
        "cannot_read_urgent",
        "forwarded",
        "edit_not_used",
        "over_beside_a_sign",
        "progress_too_early",
        "export_sent",
        "confirm_over",
        "stays",
        "erased",
        "failed",
    ]:
        yield name, getattr(service, name)()
    for kind in (*service.CANNOT_READ, "other"):
        yield f"cannot_read {kind}", service.cannot_read(kind)
    yield "not_made", files.not_made()
    yield "times_set", service.times_set("06:30", "20:15")
    yield "times_how", service.times_how("07:00", "19:30")
    yield "zone_set", service.zone_set("Europe/Paris", "07:00", "19:30")
    yield "zone_how", service.zone_how("Europe/Lisbon")
    for who in CLINICIANS:
        for name in [
            "programme_over",
            "message_passed_on",
            "message_how",
            "progress",
            "ask_leave",
            "ask_erase",
            "left",
        ]:
            yield name, getattr(service, name)(who)


def patient_texts() -> list[tuple[str, str]]:
    """All of them: (name, text)."""
    echoes = [
        (f"understood {index}", understood(reading, day_word=str(reading.about)))
        for index, reading in enumerate(_readings())
    ]
    return [*_guidance(), *_asked(), *_flags(), *_prompts(), *_enrolment(), *_told(), *_service(), *echoes]
