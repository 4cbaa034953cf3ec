"""All that a clinician reads in a digest and its charts, and that a patient reads in the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from bot.digest import marks
from bot.digest.attention import Found, Line, Need
from bot.digest.figures import RULE_OF_WHY, DoseChange, Figures, FlareOn, Scores, Why, figures_of
from bot.digest.outlook import Outlook, Suppose
from bot.digest.values import Action, Day, Flag, History
from bot.program.outcome import Change, Trend, week_of
from bot.program.reasons import RULE_OF, Notice, Reason
from bot.program.terms import Activity, Cause, Decision, Phase, RedFlag, RestPattern, Urgency, Variable
from bot.program.values import DayDecision, Plan

LONGEST_ALIAS = 40
LONGEST_QUOTE = 160
_ELLIPSIS = "…"
_LAST_FLAGS = 3

# -- one word or a few for each value

PHASE: dict[Phase, str] = {each: mark.word for each, mark in marks.PHASE.items()}
DECISION: dict[Decision, str] = {each: mark.word for each, mark in marks.DECISION.items()}
CAUSE: dict[Cause, str] = {
    Cause.INCREASE: "the last increase",
    Cause.OVERDONE: "walk overdone",
    Cause.OTHER: "load outside the plan",
    Cause.UNKNOWN: "cause unknown",
}
URGENCY: dict[Urgency, str] = {
    Urgency.EMERGENCY: "EMERGENCY",
    Urgency.SAME_DAY: "same day",
    Urgency.SOON: "soon",
}
FLAG: dict[RedFlag, str] = {
    RedFlag.CHEST_OR_BREATHING: "chest pain or breathing",
    RedFlag.BLADDER_BOWEL_SADDLE: "bladder, bowel or saddle",
    RedFlag.SELF_HARM: "thoughts of self-harm",
    RedFlag.CLOT_SIGNS: "signs of a clot",
    RedFlag.INFECTION_SIGNS: "signs of infection",
    RedFlag.SUDDEN_POP: "sudden pop",
    RedFlag.CANNOT_BEAR_WEIGHT: "cannot bear weight",
    RedFlag.NEW_INJURY: "new injury",
    RedFlag.CIRCULATION_SIGNS: "circulation",
    RedFlag.SKIN_BREAKDOWN: "open skin",
    RedFlag.NERVE_SIGNS: "nerve signs",
    RedFlag.NIGHT_PAIN: "night pain",
    RedFlag.SYSTEMIC_SIGNS: "generally unwell",
    RedFlag.JOINT_SIGNS: "other joints",
    RedFlag.SEVERE_PAIN: "severe pain",
}
NOTICE: dict[Notice, str] = {
    Notice.NOTHING_TO_LOWER: "a flare found no dose left to lower (rule 4.6)",
    Notice.IRRITABLE: "second flare within 13 days: irritable for 28 days (rule 4.8)",
    Notice.RELEASE: "loading starts again after 7 unsettled rest days (rule 5.4)",
    Notice.LONG_GAP_RETURN: "back after 56 days or more without a dose (rule 5.6)",
    Notice.PAINFUL_DOSES: "worst pain over 5 on three evenings: walking lowered (rule 5.8)",
    Notice.HIGH_REFERENCE: "no morning at 5 or below in the last 14 answered (rule 6)",
    Notice.LONG_INFLAMMATORY: "more than 7 days in the inflammatory phase (rule 9)",
    Notice.NO_PROGRESS: "28 days without an increase, below target (rule 9)",
    Notice.SILENCE: "no answer for 3 mornings: only the question is sent (rule 5.5)",
}
REASON: dict[Reason, str] = {
    Reason.RED_FLAG: "a red flag is open",
    Reason.CLINICIAN_STOPPED: "all loading stopped by the clinician",
    Reason.CONSTANT_PAIN: "pain at rest is constant",
    Reason.PHASE_BY_HAND: "phase set by hand",
    Reason.PHASE_KEPT: "no answer, phase kept",
    Reason.FLARE: "flare",
    Reason.FLARE_CONSTANT: "flare: pain at rest became constant",
    Reason.FLARE_RISE: "flare: first steps 2 or more over the reference",
    Reason.FLARE_NOT_SETTLED: "flare: evening over 5 and not settled by morning",
    Reason.CAUSE_INCREASE: "laid to the last increase",
    Reason.CAUSE_OVERDONE: "laid to an overdone walk",
    Reason.CAUSE_OTHER: "laid to load outside the plan",
    Reason.CAUSE_UNKNOWN: "cause not known",
    Reason.THIRD_FLARE: "third flare in 14 days",
    Reason.IRRITABLE: "irritable",
    Reason.REST_GOES_ON: "not settled yet, rest goes on",
    Reason.SETTLED: "morning settled",
    Reason.RELEASED: "released after a week of rest",
    Reason.NOT_SETTLED: "morning not settled yet",
    Reason.NO_ANSWER: "no answer",
    Reason.SILENCE: "no answer for 3 mornings or more",
    Reason.GAP: "doses lowered after a gap",
    Reason.AFTER_INFLAMMATORY: "raises held back after constant pain",
    Reason.PAINFUL_DOSES: "evenings over 5 with the walk done",
    Reason.NEW_DOSE: "new dose by the clinician",
    Reason.WALK_UP: "walking goes up",
    Reason.RAISES_UP: "heel raises go up",
    Reason.PAUSED: "paused by the clinician",
    Reason.CHANGED_LATELY: "a dose changed lately",
    Reason.RESUMED_LATELY: "resumed lately",
    Reason.FLARE_LATELY: "flare lately",
    Reason.RELEASED_LATELY: "released in the last 14 days",
    Reason.FEW_ANSWERS: "too few mornings answered",
    Reason.PAINFUL_EVENING: "an evening over 5",
    Reason.NOT_TOLERATED: "dose not tolerated on enough days",
    Reason.MORNING_HIGH: "this morning over the reference",
    Reason.MORNINGS_HIGH: "last mornings over the reference",
    Reason.WEEK_RISING: "pain rising from week to week",
    Reason.WALKING_BARRED: "walking barred, reference over 5",
    Reason.RAISES_BARRED: "too soon for the next heel-raise step",
    Reason.AT_TARGET: "at target",
}
WHY: dict[Why, str] = {
    Why.PROGRESS: "progress",
    Why.FLARE: "flare",
    Why.PAINFUL: "painful doses",
    Why.GAP: "gap",
    Why.AFTER_INFLAMMATORY: "after constant pain",
    Why.CLINICIAN: "set by clinician",
}
REST: dict[RestPattern, str] = {
    RestPattern.CONSTANT: "constant",
    RestPattern.INTERMITTENT: "comes, goes",
    RestPattern.NONE: "none",
}
VARIABLE: dict[Variable, str] = {Variable.WALKING: "walking", Variable.RAISES: "raises"}
ACTIVITY: dict[Activity, str] = {each: str(each) for each in Activity} | {Activity.OTHER: "other activity"}


def shown_alias(alias: str) -> str:
    """The alias on one line, cut where it is very long."""
    flat = " ".join(alias.split()) or "(no name)"
    return flat if len(flat) <= LONGEST_ALIAS else flat[: LONGEST_ALIAS - 1].rstrip() + _ELLIPSIS


def quote(words: str) -> str:
    """A patient's own words on one line, cut where they are very long."""
    flat = " ".join(words.split())
    return flat if len(flat) <= LONGEST_QUOTE else flat[: LONGEST_QUOTE - 1].rstrip() + _ELLIPSIS


def short_date(day: date) -> str:
    """29 Mar."""
    return f"{day.day} {day:%b}"


def week_day(day: date) -> str:
    """Sun 29 Mar."""
    return f"{day:%a} {day.day} {day:%b}"


def long_date(day: date) -> str:
    """29 March 2026."""
    return f"{day.day} {day:%B %Y}"


def _many(count: int, one: str, more: str | None = None) -> str:
    return f"{count} {one if count == 1 else more or one + 's'}"


def _joined(parts: Iterable[str], separator: str = ", ") -> str:
    return separator.join(each for each in parts if each)


# -- who needs attention, and why


def need(found: Found) -> str:
    """A need in a few words, with its rule."""
    return f"{_need(found)} ({rule(found.rule)})"


def rule(numbers: str) -> str:
    """The number of a rule, or of several."""
    return f"rules {numbers}" if "," in numbers else f"rule {numbers}"


def _need(found: Found) -> str:
    count = found.count
    if found.flags:
        signs = ", ".join(dict.fromkeys(FLAG[each.code] for each in found.flags))
        since = f" since {week_day(found.day)}" if found.day else ""
        return f"open red flag, {URGENCY[found.flags[0].urgency]}: {signs}{since}"
    if found.need is Need.LOADING_STOPPED:
        return "all loading is stopped until you allow it"
    if found.need is Need.LONG_CONSTANT_PAIN:
        return f"inflammatory phase for {_many(count or 0, 'day')}, usual is 3 to 7"
    if found.need is Need.SILENCE:
        since = f", last on {week_day(found.day)}" if found.day else ""
        return f"no morning answer for {_many(count or 0, 'day')}{since}"
    on = f" on {week_day(found.day)}" if found.day else ""
    if found.need is Need.SECOND_FLARE:
        return f"second flare within 14 days{on}: irritable"
    if found.need is Need.NOTHING_TO_LOWER:
        return f"flare, and no dose left to lower{on}"
    if found.need is Need.PAINFUL_DOSES:
        return f"evenings over 5 with the walk done, walking lowered{on}"
    if found.need is Need.HIGH_REFERENCE:
        return "no morning at 5 or below in the last 14 answered"
    if found.need is Need.RELEASE:
        return f"mornings did not settle in a week of rest, loading starts again{on}"
    if found.need is Need.LONG_GAP_RETURN:
        return f"back after 56 days or more without a dose{on}"
    if found.need is Need.NO_PROGRESS:
        missing = "; missing: " + ", ".join(REASON[each] for each in found.missing) if found.missing else ""
        return f"{_many(count or 0, 'day')} without an increase{missing}"
    if found.need is Need.RE_EVALUATE:
        return f"week {count}, still symptomatic without an important change: re-evaluate"
    if found.need is Need.REVIEW:
        return f"week {count} without an important change: review"
    return "the week is 2 or more over the best week so far"


# -- figures in words


def change(found: Change | None) -> str:
    """How much better or worse, and whether it is important."""
    if found is None:
        return ""
    points = found.points
    if points == 0:
        return "same"
    return f"{abs(points)} {'better' if points < 0 else 'worse'}, {'important' if found.important else 'not important'}"


def _median(found: Scores) -> str:
    if found.median is None:
        return "no answer"
    few = f" ({_many(found.mornings, 'morning')})" if found.mornings < 4 else ""
    return f"{found.median}{few}"


def first_steps(history: History, figures: Figures) -> str:
    """First-step pain this week, last week and at the start."""
    parts = [f"First steps {_median(figures.this_week)}"]
    if figures.last_week.median is not None:
        told = change(figures.against_last)
        parts.append(f"last week {figures.last_week.median}" + (f" ({told})" if told else ""))
    if figures.against_start is not None:
        parts.append(f"start {figures.against_start.first} ({change(figures.against_start)})")
    elif history.enrolled_pain is not None:
        parts.append(f"enrolment {history.enrolled_pain} (too early to compare)" if _early(history) else
                     f"enrolment {history.enrolled_pain}")  # fmt: skip
    return "; ".join(parts)


def _early(history: History) -> bool:
    return len(history.days) < 14


def trend(found: Trend | None) -> str:
    """The slope with its interval, and what it says."""
    if found is None:
        return "Trend of the last 28 days: too few answered mornings for one."
    if found.low == found.high == 0:
        says = "level"
    elif found.high < 0:
        says = "falling"
    elif found.low > 0:
        says = "rising"
    else:
        says = "no clear direction"
    return (
        f"Trend of the last 28 days: {says}, {_signed(found.slope)} points a week "
        f"(95 % interval {_signed(found.low)} to {_signed(found.high)}; Theil-Sen, {_many(found.mornings, 'morning')})."
    )


def _signed(value: float) -> str:
    """One decimal with its sign, never "-0.0"."""
    rounded = round(value, 1)
    return f"{rounded:+.1f}" if rounded else "0.0"


def adherence(figures: Figures) -> str:
    """Check-ins answered of those sent; loading days done of those planned (rule 9)."""
    answered = figures.mornings_answered + figures.evenings_answered
    asked = figures.mornings_asked + figures.evenings_asked
    told = [f"answered {answered} of {asked}" if asked else "no check-ins sent"]
    if figures.loading_planned:
        told.append(f"plan done {figures.loading_done} of {_many(figures.loading_planned, 'day')}")
    elif figures.week is not None:
        told.append("no loading days")
    return ", ".join(told)


def dose_changes(changes: Sequence[DoseChange]) -> str:
    """The week's dose changes, the first and last value of each dose."""
    told: list[str] = []
    for variable in Variable:
        mine = [each for each in changes if each.variable is variable]
        if mine:
            why = ", ".join(dict.fromkeys(WHY[each.why] for each in mine))
            told.append(f"{VARIABLE[variable]} {mine[0].before} to {mine[-1].after} ({why})")
    return "; ".join(told)


def dose_change(found: DoseChange) -> str:
    """One dose change with its rule."""
    return (
        f"{week_day(found.day)}: {VARIABLE[found.variable]} {found.before} to {found.after}, "
        f"{WHY[found.why]} (rule {RULE_OF_WHY[found.why]})"
    )


def flare(found: FlareOn) -> str:
    """One flare with its likely cause and what else was unusual."""
    beside = [ACTIVITY[each] for each in found.candidates]
    also = f"; unusual the day before: {', '.join(beside)}" if beside else ""
    return f"{week_day(found.day)}, likely {CAUSE[found.cause]}{also}" if found.cause is not Cause.UNKNOWN else (
        f"{week_day(found.day)}, {CAUSE[found.cause]}{also}"
    )  # fmt: skip


def flares(found: Sequence[FlareOn]) -> str:
    """The week's flares."""
    if not found:
        return ""
    return f"{'Flare' if len(found) == 1 else 'Flares'}: " + "; ".join(flare(each) for each in found)


def flag(found: Flag, *, words: bool = False) -> str:
    """One red flag."""
    told = f"{FLAG[found.code]} ({URGENCY[found.urgency]}), opened {week_day(found.opened)}"
    if found.cleared is None:
        told += ", OPEN"
    else:
        told += f", cleared {week_day(found.cleared)}" + (f" by {found.cleared_by}" if found.cleared_by else "")
    if words and found.words:
        told += f'. Their words: "{quote(found.words)}"'
    if words and found.note:
        told += f". Note: {quote(found.note)}"
    return told


def flags(history: History, figures: Figures) -> str:
    """Flags that are open, and those of the week."""
    opened = [FLAG[each.code] for each in history.open_flags]
    cleared = [FLAG[each.code] for each in figures.flags_cleared]
    return _joined(
        [
            f"OPEN red flag: {', '.join(dict.fromkeys(opened))}" if opened else "",
            f"red flag cleared: {', '.join(dict.fromkeys(cleared))}" if cleared else "",
        ],
        "; ",
    )


def state(history: History, figures: Figures) -> str:
    """What is set for now: pause, stop, holiday, irritable."""
    told: list[str] = []
    if history.loading_stopped:
        told.append("all loading stopped")
    if history.paused_until is not None and history.paused_until > history.until:
        told.append(f"paused to {week_day(history.paused_until)}")
    if history.quiet is not None and history.quiet[1] >= history.until:
        told.append(f"holiday {short_date(history.quiet[0])} to {short_date(history.quiet[1])}")
    if figures.irritable:
        told.append("irritable")
    return ", ".join(told)


# -- the message


def head(until: date, lines: Sequence[Line]) -> str:
    """The first lines: which week, how many patients, how many need attention."""
    needing = sum(1 for line in lines if line.needs)
    open_flags = sum(len(line.history.open_flags) for line in lines)
    first = until - timedelta(days=6)
    told = f"Week {week_day(first)} to {week_day(until)} {until.year}: {_many(len(lines), 'patient')}"
    if not lines:
        return told + "."
    told += f", {needing} {'needs' if needing == 1 else 'need'} you" if needing else ", none needs you first"
    if open_flags:
        told += f", {_many(open_flags, 'open red flag')}"
    return told + "."


NEEDS_HEADING = "NEEDS YOU FIRST"
ALL_HEADING = "EVERYONE"
FOOT = "Figures of the patients' own answers; the rules' numbers are those of the programme. Details are in the PDF."


def needs_line(place: int, line: Line) -> str:
    """One patient who needs attention, and why."""
    return f"{place}. {shown_alias(line.history.alias)}: " + "; ".join(need(each) for each in line.needs)


def patient_line(line: Line) -> str:
    """One patient's week."""
    history, figures = line.history, line.figures
    name = shown_alias(history.alias)
    if figures.week is None or figures.phase is None:
        return f"{name}: {_not_started(history)}" + (f". {_sentence(flags(history, figures))}" if history.flags else "")
    opening = f"{name}, week {figures.week}, {PHASE[figures.phase]}"
    if history.ended:
        opening += ", ended"
    silence = ""
    if figures.silent_days >= 2:
        silence = f"Silent for {_many(figures.silent_days, 'day')}"
    changes = dose_changes(figures.dose_changes)
    parts = [
        first_steps(history, figures),
        adherence(figures),
        f"Dose: {changes}" if changes else "",
        flares(figures.flares),
        flags(history, figures),
        silence,
        state(history, figures),
    ]
    return f"{opening}. " + " ".join(_sentence(each) for each in parts if each)


def _not_started(history: History) -> str:
    if history.start is None:
        return "enrolment not finished"
    if history.start > history.until:
        return f"starts on {week_day(history.start)}"
    return "no day decided yet"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".") if text else ""


# -- the chart

ROW_PHASE = "Phase"
ROW_FLARES = "Flares"
ROW_DAYS = "Days"
ROW_FLAGS = "Red flags"
ROW_UNANSWERED = "No answer"
ROW_RAISES = "Raises"
AXIS_PAIN = "First-step pain, 0-10"
AXIS_PAIN_SHORT = "First steps"
AXIS_WALK = "Walking, min"
AXIS_MINUTES = "min"
KEY_FIRST_STEPS = "first steps"
KEY_MEDIAN = "week's median"
KEY_PART = "half an answer"
KEY_ENROLMENT = "at enrolment"
KEY_FLARE = "day of a flare"
KEY_DOSE = "dose in force"
KEY_WALKED = "walked"
KEY_FLAG = "red flag opens"


def key_cause(words: str) -> str:
    """A flare's letter in the key."""
    return f"flare: {words}"


def chart_weeks(history: History) -> str:
    """What follows the alias in a heading."""
    return f", week {week_of(len(history.days))}" if history.days else ""


def flag_group(found: Sequence[Flag]) -> tuple[str, ...]:
    """Flags that were open together, in fewer and fewer words: the most urgent by name and the others counted, or a number."""
    urgencies = tuple(Urgency)
    # One that is open before one that is cleared, then the most urgent.
    first = min(found, key=lambda each: (not each.open, urgencies.index(each.urgency)))
    still = ", open" if first.open else ""
    if len(found) == 1:
        return FLAG[first.code] + still, FLAG[first.code]
    return f"{FLAG[first.code]} and {len(found) - 1} more{still}", f"{len(found)} flags{still}", str(len(found))


def chart_subtitle(history: History) -> str:
    """Foot and dates."""
    foot = "both feet" if history.foot == "both" else f"{history.foot} foot"
    if history.start is None or not history.days:
        return f"{foot}, to {long_date(history.until)}"
    return f"{foot}, {short_date(history.start)} to {long_date(history.until)}"


def nothing_to_draw(history: History) -> str:
    """In place of a chart."""
    return f"Nothing to draw yet: {_not_started(history)}."


# -- the patient's picture (US grade 8 or easier; no promise)

PICTURE_AXIS = "pain at first steps (0 none, 10 worst)"
PICTURE_KEY_DAY = "one day"
PICTURE_KEY_WEEK = "the middle score of a week"
PICTURE_EMPTY = "There are no scores to show yet."
_STOPPED = "Your exercises are on hold for now."
_LESS = "Your first steps hurt less than in your first week."
_MORE = "Your first steps hurt more than in your first week."
_SAME = "Your first steps hurt about as much as in your first week."
_EARLY = "These are your first steps so far. It is too early to see a change."
_NO_RECENT = "I have no scores from your last 7 days."
_NUMBERS = "The middle score was {first} then. It was {now} in your last 7 days."


def is_stopped(history: History) -> bool:
    """Whether nothing may be loaded now."""
    return bool(history.open_flags) or history.loading_stopped


def picture_headline(history: History) -> str:
    """What the picture shows, in one or two plain sentences."""
    if is_stopped(history):
        return _STOPPED
    figures = figures_of(history)
    if not any(day.pain is not None for day in history.days):
        return PICTURE_EMPTY if not any(day.given_pain is not None for day in history.days) else _EARLY
    if figures.this_week.median is None:
        return _NO_RECENT
    found = figures.against_start
    if found is None:
        return _EARLY
    numbers = " " + _NUMBERS.format(first=found.first, now=found.now)
    if not found.important:
        return _SAME + numbers
    return (_LESS if found.points < 0 else _MORE) + numbers


def picture_caution(history: History) -> str:
    """What the picture does not say."""
    if is_stopped(history):
        return (
            "Please do no exercises until your clinician says so. If you have not yet, tell them about it. "
            "If it gets worse fast, call your local emergency number."
        )
    told = (
        "Pain can go up and down from day to day. The line over weeks counts more than one day. "
        "The picture does not show how strong your heel is, so please keep to your plan."
    )
    figures = figures_of(history)
    worse = figures.against_start is not None and figures.against_start.important and figures.against_start.points > 0
    if worse or figures.worsening:
        return told + " Please tell your clinician that it hurts more now."
    return told + " If you are not sure, ask your clinician."


# -- the PDF

PDF_TITLE = "Weekly digest"
PDF_NEEDS = "Who needs you first, and why"
PDF_ALL = "Everyone"
PDF_TABLE_NOTE = (
    "This, last, start: median first-step pain (0-10) of this week, last week and days 1 to 7. Change: this week against "
    "the start; important at 2 points or 30 % (rule 9). Answers: check-ins answered of those sent. Plan done: loading days."
)
PDF_FINE = "Nothing that the rules would tell you."
PDF_EMPTY = "No patients."
PDF_NEXT = "What the rules will do next"
PDF_REASONS = "Why the last day was decided so"
PDF_FLAGS = "Red flags and what the rules told this week"
PDF_ACTIONS = "Who did what this week"
PDF_CHANGES = "Dose changes and flares of the week"
PDF_NONE = "none."
PDF_FOOT = (
    "An aid beside the treating clinician: figures of the patient's own answers. It makes no diagnosis and no promise."
)
OVERVIEW_HEADS = (
    "Patient",
    "Week",
    "Phase",
    "This",
    "Last",
    "Start",
    "Change",
    "Answers",
    "Plan done",
    "Flares",
    "Flags",
)
WEEK_HEADS = ("Day", "First steps", "At rest", "Worst", "Walked", "Raises", "Plan", "Decision")


def pdf_heading(clinician: str, until: date) -> str:
    """The first page's heading."""
    first = until - timedelta(days=6)
    return f"{PDF_TITLE}: {clinician}, {short_date(first)} to {long_date(until)}"


def overview_place(number: int) -> str:
    """What stands at the foot of the overview's pages."""
    return "Overview" if number == 1 else f"Overview, page {number}"


def more_lines(count: int) -> str:
    """In place of lines that have no room."""
    return f"and {count} more."


def patient_subtitle(history: History, figures: Figures) -> str:
    """Below a patient's name: foot, dates, phase, enrolment, what is set for now."""
    phase = "" if figures.phase is None else PHASE[figures.phase] + " phase"
    enrolled = "" if history.enrolled_pain is None else f"enrolled at {history.enrolled_pain}"
    return _joined([chart_subtitle(history), phase, enrolled, state(history, figures)], "; ") + "."


def adherence_in_full(figures: Figures) -> str:
    """Mornings and evenings, walks and raises apart."""
    told = [
        f"Mornings answered {figures.mornings_answered} of {figures.mornings_asked}",
        f"evenings {figures.evenings_answered} of {figures.evenings_asked}",
    ]
    if figures.loading_planned:
        told.append(f"plan done on {figures.loading_done} of {_many(figures.loading_planned, 'loading day')}")
    if figures.walks_planned:
        told.append(f"walks {figures.walks_done} of {figures.walks_planned}")
    if figures.raises_planned:
        told.append(f"raises {figures.raises_done} of {figures.raises_planned}")
    days = ", ".join(f"{DECISION[each]} {figures.decisions[each]}" for each in Decision if each in figures.decisions)
    return ", ".join(told) + "." + (f" Days: {days}." if days else "")


def flare_line(found: FlareOn) -> str:
    """A flare with its rule."""
    return f"flare {flare(found)} (rules 4.3, 4.4, 4.7)"


def overview_row(line: Line) -> tuple[str, ...]:
    """One patient in the overview's table."""
    history, figures = line.history, line.figures
    name = shown_alias(history.alias)
    if figures.week is None or figures.phase is None:
        return (name, "-", _not_started(history), *("-",) * 7, str(len(history.open_flags) or "-"))
    start = figures.against_start

    def score(found: Scores) -> str:
        return "-" if found.median is None else str(found.median)

    asked = figures.mornings_asked + figures.evenings_asked
    answered = figures.mornings_answered + figures.evenings_answered
    return (
        name,
        str(figures.week),
        PHASE[figures.phase],
        score(figures.this_week),
        score(figures.last_week),
        score(figures.first_week),
        "too early" if start is None and _early(history) else change(start) or "-",
        f"{answered}/{asked}",
        f"{figures.loading_done}/{figures.loading_planned}" if figures.loading_planned else "-",
        str(len(figures.flares) or "-"),
        f"{len(history.open_flags)} open" if history.open_flags else "-",
    )


def plan(found: Plan) -> str:
    """A plan in a few words."""
    if not found.has_dose:
        return "no dose"
    raises = f"{found.step} {found.sets}x{found.reps}" if found.has_raises else "no raises"
    return f"{found.walk} min; {raises}"


def week_row(day: Day) -> tuple[str, ...]:
    """One day in the week's table."""
    score = "-" if day.given_pain is None else str(day.given_pain)
    if day.given_pain is not None and not day.answered:
        score += " (half)"
    walked = "-" if day.walked is None else f"{day.walked:.0f} min"
    raises = "-"
    if day.reported and day.decision is not None and day.decision.plan.has_raises:
        raises = "done" if day.raises_done else "not done"
    decided = "not decided yet"
    if day.decision is not None:
        decided = DECISION[day.decision.decision]
        if day.decision.flare is not None:
            decided += " (flare)"
    return (
        week_day(day.date),
        score,
        "-" if day.rest_pattern is None else REST[day.rest_pattern],
        "-" if day.worst_pain is None else str(day.worst_pain),
        walked,
        raises,
        "-" if day.decision is None else plan(day.decision.plan),
        decided,
    )


def reason(found: Reason) -> str:
    """A reason with its rule."""
    return f"{REASON[found]} ({rule(RULE_OF[found])})"


def reasons(found: DayDecision) -> str:
    """A decision with its reasons."""
    told = "; ".join(reason(each) for each in found.reasons)
    return f"{DECISION[found.decision]}: {told}" if told else f"{DECISION[found.decision]} (rule 5)"


def last_decision(day: Day) -> str:
    """The last day that was decided, and why."""
    if day.decision is None:
        return ""
    return f"{week_day(day.date)}: {reasons(day.decision)}. Reference {day.decision.reference}."


def next_step(found: Outlook, next_day: date) -> str:
    """What a supposed morning would lead to."""
    decision = found.decision
    if found.suppose is Suppose.SILENT:
        opening = f"No answer on {week_day(next_day)}"
    elif found.suppose is Suppose.ANY:
        opening = f"Any first-step score on {week_day(next_day)}, pain at rest not constant"
    elif found.suppose is Suppose.CONSTANT:
        opening = "Pain at rest constant"
    elif found.suppose is Suppose.CALM:
        opening = f"First steps {found.pain} on {week_day(next_day)}, pain at rest not constant"
    else:
        opening = f"First steps {found.pain} or more"
    return f"{opening}: {reasons(decision)}. Plan: {plan(decision.plan)}."


NEXT_UNKNOWN = "The day after is not known any more: the rules keep their state for the last days only."


def notice(day: date, found: Notice) -> str:
    """What the rules told."""
    return f"{week_day(day)}: {NOTICE[found]}"


def action(found: Action) -> str:
    """One line of who did what."""
    details = found.details
    who = found.by or "the rules"
    kind = found.kind.replace("_", " ")
    if found.kind == "note":
        kind = f'note "{quote(str(details.get("text", "")))}"'
    elif details:
        shown = [
            f"{key.replace('_', ' ')} {', '.join(map(str, value)) if isinstance(value, list) else value}"
            for key, value in details.items()
            if value not in (None, "", [])
        ]
        kind = f"{kind}: {quote('; '.join(shown))}" if shown else kind
    return f"{week_day(found.day)}: {who}, {kind}"
