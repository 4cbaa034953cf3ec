"""The day's guidance: what kind of day it is, the plan in numbers, the reason from the patient's own answers.

On a day without doses no dose is named in the words of a plan ("walk 5"), so that it cannot be taken for one.
"""

from __future__ import annotations

from bot.conversation.wording.asking import ask_candidates
from bot.conversation.wording.prompts import week_of
from bot.conversation.wording.understood import activities_listed
from bot.program.ladder import TEMPO_SECONDS, is_daily
from bot.program.protocol import Protocol
from bot.program.reasons import Notice, Reason
from bot.program.terms import Cause, Decision, Phase, RestPattern, Step
from bot.program.values import DayDecision, Plan

PHASE: dict[Phase, tuple[str, str]] = {
    Phase.INFLAMMATORY: ("the calming phase (inflammatory)", "In it the heel needs less load, and time."),
    Phase.REPARATIVE: (
        "the mending phase (reparative)",
        "The heel is not strong yet, even on days when it hurts less.",
    ),
    Phase.REMODELLING: ("the strength phase (remodelling)", "The heel can learn to take more, in small steps."),
}
"""Each phase by name, with its own term, and what it means."""

HEADLINE: dict[Decision, tuple[str, ...]] = {
    Decision.STOP: ("Today all exercises stop.",),
    Decision.UNLOAD: ("Today the foot needs a break from load.",),
    Decision.REST: ("Today is a rest day.",),
    Decision.RESUME: ("You can start again today.", "Today we start again."),
    Decision.PROGRESS: ("Today we take one small step up.",),
    Decision.HOLD: ("Today we keep things as they are.", "Today we stay at this level.", "A steady day today."),
}

CAUSE: dict[Cause, str] = {
    Cause.INCREASE: "The dose was likely a bit much for now.",
    Cause.OVERDONE: "Yesterday's walk was longer than the plan. That was likely too much for now.",
    Cause.OTHER: "The plan is likely not the reason.",
    Cause.UNKNOWN: "I cannot see from your answers what set it off.",
}

HOLD_BECAUSE: tuple[tuple[Reason, str], ...] = (
    (Reason.PAINFUL_DOSES, "Your last walks hurt more than 5 of 10. So today's walk is shorter."),
    (Reason.NOT_SETTLED, "Your mornings have not calmed enough to start again, so there are no doses today."),
    (Reason.SILENCE, "I have not had a full morning answer for some days, so there are no doses until I do."),
    (Reason.NO_ANSWER, "I do not have your full morning answer, so nothing goes up."),
    (Reason.PAUSED, "Your clinician has set a pause, so nothing goes up."),
    (Reason.MORNING_HIGH, "This morning was above your usual, so nothing goes up."),
    (Reason.MORNINGS_HIGH, "Some of the last mornings were above your usual, so nothing goes up."),
    (Reason.WEEK_RISING, "This week's mornings were worse than last week's, so nothing goes up."),
    (Reason.PAINFUL_EVENING, "Pain went over 5 on one of the last evenings, so nothing goes up."),
    (Reason.NOT_TOLERATED, "I need a few more days with the plan done and a calm next day, so nothing goes up."),
    (Reason.FEW_ANSWERS, "I need a few more of your morning answers before anything goes up."),
    (Reason.FLARE_LATELY, "The last flare was only days ago. The heel needs more calm days first."),
    (Reason.RESUMED_LATELY, "You started again only days ago. The heel needs more days at this level."),
    (Reason.RELEASED_LATELY, "You started again not long ago. Nothing goes up for two weeks after that."),
    (Reason.CHANGED_LATELY, "The plan is new, or changed only days ago. The heel needs more days to get used to it."),
    (Reason.AT_TARGET, "You are at your target. Well done. Now we keep it up."),
    (Reason.WALKING_BARRED, "Your usual mornings are still above 5 of 10, so the walk does not go up."),
    (Reason.RAISES_BARRED, "It is too soon for a harder heel raise."),
)
"""Why nothing goes up, the first that holds."""

ADDED_BECAUSE: tuple[tuple[Reason, str], ...] = (
    (Reason.THIRD_FLARE, "That makes three flares in two weeks, so the walk goes down a good step."),
    (Reason.GAP, "There were some days with no exercises, so the doses are lower than before."),
    (Reason.AFTER_INFLAMMATORY, "After pain that did not let up, the heel raises start at an easier step."),
    (Reason.NEW_DOSE, "This is the new dose that your clinician set."),
    (Reason.IRRITABLE, "Your heel flared twice of late, so steps up come more slowly."),
)
"""What is said beside it."""
_OF_DOSES = frozenset({Reason.GAP, Reason.AFTER_INFLAMMATORY, Reason.NEW_DOSE})

STEP: dict[Step, str] = {
    Step.SEATED_BOTH: "Sit on a chair with both feet flat. Lift both heels slowly, then lower them slowly.",
    Step.SEATED_ONE: "Sit on a chair with the feet flat. Lift {one} slowly, then lower it slowly.",
    Step.STANDING_BOTH: "Stand and hold on to something firm. Go up on both feet slowly, then down slowly.",
    Step.UP_BOTH_DOWN_ONE: (
        "Hold on to something firm. Go up on both feet. Then shift over and go down on {foot}, slowly."
    ),
    Step.STANDING_ONE: "Stand on {foot} and hold on to something firm. Go up slowly, then down slowly.",
    Step.ONE_ON_TOWEL: (
        "Stand on one foot ({which}), toes on a rolled towel. Hold on to something firm.\n"
        "{up} s up, {hold} s hold, {down} s down. Put books in a backpack so that just {reps} go in a set, and no more."
    ),
    Step.HOPS: "Small, soft hops. Both feet first, and on one foot only when your clinician says so.",
}
_FEET = {
    "left": {"foot": "your left foot", "one": "the left heel", "which": "left"},
    "right": {"foot": "your right foot", "one": "the right heel", "which": "right"},
}
_BOTH_FEET = {
    "foot": "one foot (each side in turn)",
    "one": "one heel (each side in turn)",
    "which": "each side in turn",
}

_FIRST_DAYS = 3
_SIGNS = "Tell me at once if anything new comes up: swelling, numbness, a pop, or a foot that cannot take weight."
WATCH: dict[Decision, str] = {
    Decision.STOP: "Tell me at once if it gets worse. In an emergency, call your local emergency number.",
    Decision.UNLOAD: f"What to watch for: one position that is free of pain. That would be a good sign. {_SIGNS}",
    Decision.REST: f"What to watch for: calmer first steps tomorrow. {_SIGNS}",
    Decision.RESUME: (
        "What to watch for: pain up to 5 of 10 while you walk or do the raises is all right if it has calmed by tomorrow. "
        "If it goes over 5 while you do them, stop there."
    ),
    Decision.PROGRESS: (
        "What to watch for: tomorrow's first steps. "
        "Pain up to 5 of 10 while you walk or do the raises is all right if it has calmed by then. "
        "If it goes over 5 while you do them, stop there."
    ),
    Decision.HOLD: (
        "What to watch for: pain over 5 of 10 while you walk or do the raises, or a worse morning tomorrow. "
        "If it goes over 5 while you do them, stop there."
    ),
}


def _minutes(number: int) -> str:
    return f"{number} minute" if number == 1 else f"{number} minutes"


def how_to(step: Step, *, foot: str, reps: int) -> str:
    """How to do a step. `foot`: "left", "right" or "both"."""
    up, hold, down = TEMPO_SECONDS
    return STEP[step].format(up=up, hold=hold, down=down, reps=reps, **_FEET.get(foot, _BOTH_FEET))


def _raises_line(plan: Plan) -> str:
    sets = f"{plan.sets} set" if plan.sets == 1 else f"{plan.sets} sets"
    name = "Hops" if plan.step is Step.HOPS else "Heel raises"
    often = "" if is_daily(plan.step) else (" Twice a week." if plan.step is Step.HOPS else " Every second day.")
    return f"{name}: {plan.step}, {sets} of {plan.reps}.{often}"


def is_explained(decision: DayDecision, before: DayDecision | None) -> bool:
    """Whether the day's exercises are told in full: on the first days, once a week, at a start and with a new step."""
    return (
        decision.day <= _FIRST_DAYS
        or decision.day % 7 == 1
        or before is None
        or not before.plan.has_dose
        or before.doses.raises.step is not decision.doses.raises.step
    )


def _plan(plan: Plan, decision: DayDecision, protocol: Protocol, how: str | None, *, full: bool) -> str:
    """The plan's lines; `how` to do the raises follows them. Not `full`: without what is known by now."""
    low, high = protocol.ankle_pumps_low, protocol.ankle_pumps_high
    pumps = (
        f"Before you stand up, move ankles and toes up and down {low}-{high} "
        "times, as far as it does not hurt. Do so in the morning and after sitting."
        if full
        else f"Ankle and toe moves before you stand up: {low}-{high}."
    )
    if decision.decision is Decision.STOP:
        return "Do no exercises today. Go on only when your clinician says so."
    if decision.decision is Decision.UNLOAD:
        return (
            "Keep weight off the foot as far as you need. Ask your clinician about crutches.\n"
            "No stretching, no massage, and no pushing on through the pain.\n"
            f"{pumps}"
        )
    if not plan.has_dose:
        if decision.decision is Decision.HOLD and not decision.off:
            return f"No set walk and no heel raises today.\n{pumps}"
        return f"No training walk and no heel raises today. Only what you must do on your feet.\n{pumps}"
    lines = [f"Walk {_minutes(plan.walk)}." if plan.walk else "No set walk today."]
    if plan.has_raises:
        lines.append(_raises_line(plan))
        if how and full:
            lines.append(how)
    elif not is_daily(plan.step):
        lines.append("Heel raises: none today. This step has free days in between.")
    else:
        lines.append("No heel raises today.")
    hold = f"{protocol.toe_hold_sets}x{protocol.toe_hold_seconds} s"
    lines.append(
        f"Toe hold: weight on the foot with the toes bent back, {hold}. It is a load, not a stretch."
        if full
        else f"Toe hold: {hold}."
    )
    lines.append(pumps)
    return "\n".join(lines)


def plan_lines(plan: Plan, decision: DayDecision, protocol: Protocol, *, foot: str | None = None) -> str:
    """The day's plan: in short for the morning prompt; with a `foot` in full, for "what is my plan today?"."""
    how = how_to(plan.step, foot=foot, reps=plan.reps) if foot is not None and plan.has_raises else None
    return _plan(plan, decision, protocol, how, full=foot is not None)


def plan_in_short(decision: DayDecision) -> str:
    """The day's plan in a line, for a reply after which it is the same as before."""
    plan = decision.plan
    if decision.decision is Decision.STOP:
        return "Do no exercises today."
    if not plan.has_dose:
        return f"{HEADLINE[decision.decision][0] if decision.off else ''} No training walk and no heel raises.".strip()
    lines = [f"Walk {_minutes(plan.walk)}." if plan.walk else "No set walk today."]
    lines.append(_raises_line(plan) if plan.has_raises else "No heel raises today.")
    return " ".join(lines)


def _phase(decision: DayDecision, clinician: str, *, news: bool) -> str:
    """The phase in plain words with its own term; shorter where nothing is new about it."""
    name, meaning = PHASE[decision.phase]
    if Reason.PHASE_BY_HAND in decision.reasons:
        return f"{clinician[:1].upper() + clinician[1:]} has set {name}. {meaning}"
    return f"Your answers fit {name}. {meaning}" if news else f"Still {name}."


def _numbers(decision: DayDecision, yesterday_worst: int | None) -> str:
    parts = []
    if decision.first_step_pain is not None:
        parts.append(f"First steps today: {decision.first_step_pain} of 10. Your usual so far: {decision.reference}.")
    if yesterday_worst is not None:
        parts.append(f"Worst pain yesterday: {yesterday_worst}.")
    return " ".join(parts)


def _flare(decision: DayDecision, before: DayDecision | None, clinician: str) -> list[str]:
    flare = decision.flare
    if flare is None:
        return []
    if Reason.FLARE_CONSTANT in decision.reasons:
        opening = "The pain now stays all the time. We call that a flare."
    elif Reason.FLARE_RISE in decision.reasons:
        opening = "This morning hurt clearly more than your usual. We call that a flare."
    else:
        opening = "Yesterday's pain went over 5, and it had not calmed by today. We call that a flare."
    lines = [f"{opening} It happens to many people on the way.", CAUSE[flare.cause]]
    if flare.cause in (Cause.OTHER, Cause.UNKNOWN) and Reason.THIRD_FLARE not in decision.reasons:
        lines.append("So this flare does not lower your doses.")
    if Notice.NOTHING_TO_LOWER in decision.notices:
        lines.append(f"Your doses are at their lowest. I will let {clinician} know.")
    if before is not None and decision.doses.walk < before.doses.walk:
        lines.append(
            f"When we start again, the walking time goes from {before.doses.walk} to {_minutes(decision.doses.walk)}."
        )
    if before is not None and decision.doses.raises != before.doses.raises:
        new = decision.doses.raises
        lines.append(f"When we start again, the heel raises go back to {new.step}, {new.sets} sets of {new.reps}.")
    if flare.candidates:
        lines.append(f"Yesterday there was more than usual of this: {activities_listed(flare.candidates)}.")
    else:
        lines.append(ask_candidates())
    return lines


def _because(decision: DayDecision, before: DayDecision | None, clinician: str) -> list[str]:
    """The reason of the day, in sentences."""
    kind, reasons = decision.decision, decision.reasons
    lines: list[str] = []
    if kind is Decision.STOP:
        if Reason.RED_FLAG in reasons:
            lines.append(
                f"There was a warning sign. {clinician[:1].upper() + clinician[1:]} decides when you can go on."
            )
        if Reason.CLINICIAN_STOPPED in reasons or not lines:
            lines.append(f"{clinician[:1].upper() + clinician[1:]} has stopped all exercises for now.")
        return lines
    lines += _flare(decision, before, clinician)
    if kind is Decision.UNLOAD and decision.flare is None and Reason.PHASE_BY_HAND not in reasons:
        if decision.rest_pattern is RestPattern.CONSTANT:
            lines.append("Your pain is there all the time, also with the weight off.")
        else:
            lines.append("At your last answer the pain was there all the time.")
    if kind is Decision.REST and decision.flare is None:
        lines.append("The heel has not calmed enough yet. So we wait until a morning is close to your usual.")
    if kind is Decision.RESUME:
        if decision.released:
            lines.append(
                "Your mornings do not get worse, and a longer break is not likely to help. "
                "So we start with care. Nothing goes up for two weeks."
            )
        elif before is not None and before.decision is Decision.STOP:
            lines.append("The stop is over, and this morning was calm enough.")
        else:
            lines.append("This morning was calm enough.")
    if kind is Decision.PROGRESS:
        lines.append(_step_up(decision, before))
        lines.append("Your last mornings stayed calm with the plan done. Only one thing goes up at a time.")
    left_out = set() if decision.plan.has_dose else set(_OF_DOSES)
    if decision.flare is None and before is not None and before.irritable and decision.day % 7 != 1:
        # It lasts for weeks: said when it begins, at a flare and once a week, not every day.
        left_out.add(Reason.IRRITABLE)
    added = [text for reason, text in ADDED_BECAUSE if reason in reasons and reason not in left_out]
    if kind is Decision.HOLD:
        why = next((text for reason, text in HOLD_BECAUSE if reason in reasons), None)
        if why is not None or not added:
            lines.append(why or "This level fits you for now.")
    return lines + added


def _step_up(decision: DayDecision, before: DayDecision | None) -> str:
    if Reason.WALK_UP in decision.reasons:
        since = "" if before is None else f" from {before.doses.walk}"
        return f"The walk goes up{since} to {_minutes(decision.doses.walk)}. The heel raises stay."
    raises = decision.doses.raises
    return f"The heel raises go up to {raises.step}, {raises.sets} sets of {raises.reps}. The walk stays."


def guidance(
    decision: DayDecision,
    *,
    before: DayDecision | None,
    yesterday_worst: int | None,
    week: int,
    foot: str,
    protocol: Protocol,
    clinician: str,
) -> str:
    """The day's message after a morning answer.

    `before`: yesterday's decision, None on day 1. `yesterday_worst`: yesterday's worst pain, 0-10. `foot`: "left",
    "right" or "both". `clinician`: the name to be used.
    """
    headlines = HEADLINE[decision.decision]
    news = before is None or before.phase is not decision.phase or decision.day % 7 == 1
    head = headlines[decision.day % len(headlines)]
    if decision.decision is Decision.HOLD and Reason.PAINFUL_DOSES in decision.reasons:
        head = "Today the walk gets shorter."
    elif decision.released:
        head = "Today we start again, with care."
    elif decision.decision is Decision.HOLD and decision.off:
        head = "Today we wait a little longer."
    elif decision.decision is Decision.HOLD and (
        Reason.NEW_DOSE in decision.reasons
        or (Reason.GAP in decision.reasons and before is not None and before.doses != decision.doses)
    ):
        head = "Today the plan is a new one."
    plan = decision.plan
    how = how_to(plan.step, foot=foot, reps=plan.reps) if plan.has_raises else None
    because = "\n".join(filter(None, [_numbers(decision, yesterday_worst), *_because(decision, before, clinician)]))
    watch = WATCH[decision.decision]
    if decision.decision is Decision.HOLD and decision.off:
        watch = _SIGNS
    return "\n\n".join(
        [
            f"{head}\n{_phase(decision, clinician, news=news)}",
            _plan(plan, decision, protocol, how, full=is_explained(decision, before)),
            f"Why: {because}",
            f"{watch}\n{week_of(week)}",
        ]
    )
