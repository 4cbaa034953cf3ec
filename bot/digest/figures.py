"""One patient's week in figures (rule 9): pure functions of a history."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from bot.digest.values import Day, Flag, History
from bot.program import ladder
from bot.program.outcome import Change, Standing, Trend, change, is_worsening, standing, trend, week_of
from bot.program.reasons import Notice, Reason
from bot.program.rounding import median_half_up
from bot.program.terms import Activity, Cause, Decision, Phase, Variable
from bot.program.values import DayDecision, Doses

_WEEK = 7


class Why(StrEnum):
    """Why a dose changed."""

    PROGRESS = "progress"
    FLARE = "flare"
    PAINFUL = "painful doses"
    GAP = "gap"
    AFTER_INFLAMMATORY = "after constant pain"
    CLINICIAN = "clinician"


RULE_OF_WHY: dict[Why, str] = {
    Why.PROGRESS: "6",
    Why.FLARE: "4.4",
    Why.PAINFUL: "5.8",
    Why.GAP: "5.6",
    Why.AFTER_INFLAMMATORY: "5.7",
    Why.CLINICIAN: "5.1",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Scores:
    """First-step pain over some days."""

    median: int | None
    """0-10, halves up; None without an answered morning."""
    mornings: int
    """Answered mornings with a score."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DoseChange:
    """A dose in force that changed."""

    day: date
    variable: Variable
    before: str
    after: str
    up: bool
    why: Why


@dataclass(frozen=True, kw_only=True, slots=True)
class FlareOn:
    """A flare with what it is laid to (4.4) and what else was unusual the day before (4.7)."""

    day: date
    cause: Cause
    candidates: tuple[Activity, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Figures:
    """The week that ends with the history's last day, and what it is held against."""

    week: int | None
    """Week of the programme (2.1); None before it starts."""
    phase: Phase | None
    last: DayDecision | None
    """The last decision."""
    this_week: Scores
    last_week: Scores
    first_week: Scores
    against_last: Change | None
    against_start: Change | None
    """None while this week still overlaps with the first."""
    trend: Trend | None
    standing: Standing | None
    worsening: bool
    mornings_answered: int
    mornings_asked: int
    evenings_answered: int
    evenings_asked: int
    loading_done: int
    loading_planned: int
    walks_done: int
    walks_planned: int
    raises_done: int
    raises_planned: int
    decisions: dict[Decision, int]
    dose_changes: tuple[DoseChange, ...]
    flares: tuple[FlareOn, ...]
    flags_opened: tuple[Flag, ...]
    flags_cleared: tuple[Flag, ...]
    notices: tuple[tuple[date, Notice], ...]
    silent_days: int
    """Days in a row up to the last without an answered morning, a holiday that was asked for left out."""
    last_answer: date | None
    inflammatory_days: int
    """Days in a row up to the last in the inflammatory phase."""
    irritable: bool
    days_since_progress: int | None
    missing: tuple[tuple[Reason, int], ...]
    """What was missing for an increase in the last 28 days, and on how many of them, most often first."""


_MISSING = frozenset(
    {
        Reason.NO_ANSWER,
        Reason.SILENCE,
        Reason.FEW_ANSWERS,
        Reason.PAINFUL_EVENING,
        Reason.PAINFUL_DOSES,
        Reason.NOT_TOLERATED,
        Reason.MORNING_HIGH,
        Reason.MORNINGS_HIGH,
        Reason.WEEK_RISING,
        Reason.NOT_SETTLED,
        Reason.FLARE_LATELY,
        Reason.RELEASED_LATELY,
        Reason.WALKING_BARRED,
        Reason.PAUSED,
        Reason.RED_FLAG,
        Reason.CLINICIAN_STOPPED,
        Reason.CONSTANT_PAIN,
        Reason.REST_GOES_ON,
    }
)


def scores(days: Sequence[Day]) -> Scores:
    """The median first-step pain of the answered mornings among the days."""
    pains = [day.pain for day in days if day.pain is not None]
    return Scores(median=median_half_up(pains) if pains else None, mornings=len(pains))


def _pains(days: Sequence[Day]) -> list[int]:
    return [day.pain for day in days if day.pain is not None]


def programme_weeks(days: Sequence[Day]) -> tuple[tuple[int, Scores], ...]:
    """The median of each week of the programme that has begun."""
    weeks = range(1, week_of(days[-1].number) + 1) if days else ()
    return tuple((week, scores([day for day in days if week_of(day.number) == week])) for week in weeks)


def figures_of(history: History) -> Figures:
    """The figures of the last 7 days of a history."""
    days, protocol = history.days, history.protocol
    this, before = days[-_WEEK:], days[-2 * _WEEK : -_WEEK]
    first = days[:_WEEK]
    number = days[-1].number if days else 0
    decided = [day.decision for day in days if day.decision is not None]
    last = decided[-1] if decided else None
    against_start = change(_pains(first), _pains(this), protocol) if number >= 2 * _WEEK else None
    # Weeks are counted back from the last day, so that the digest's own week is one of them.
    weekly = [scores(days[max(0, end - _WEEK) : end]).median for end in range(len(days), 0, -_WEEK)][::-1]
    week = week_of(number) if days else None
    recent = [day for day in days[-protocol.trend_days :] if day.pain is not None]
    slope = trend([day.number for day in recent], _pains(recent)) if len(recent) >= protocol.trend_mornings else None
    week_dates = {day.date for day in this}
    over = {day.date for day in this if not day.going_on}
    answered_mornings = {day.date for day in this if day.answered}
    answered_evenings = {day.date for day in this if day.reported or day.worst_pain is not None}
    planned = [day for day in this if day.decision is not None and day.decision.plan.has_dose]
    walks = [day for day in planned if day.decision is not None and day.decision.plan.walk > 0]
    raises = [day for day in planned if day.decision is not None and day.decision.plan.has_raises]
    return Figures(
        week=week,
        phase=None if last is None else last.phase,
        last=last,
        this_week=scores(this),
        last_week=scores(before),
        first_week=scores(first),
        against_last=change(_pains(before), _pains(this), protocol),
        against_start=against_start,
        trend=slope,
        standing=None if week is None else standing(week, against_start, protocol),
        worsening=is_worsening(weekly, protocol),
        mornings_answered=len(answered_mornings),
        mornings_asked=len(answered_mornings | _sent(history, "morning", over)),
        evenings_answered=len(answered_evenings),
        evenings_asked=len(answered_evenings | _sent(history, "evening", over)),
        loading_done=sum(1 for day in planned if _all_done(day)),
        loading_planned=len(planned),
        walks_done=sum(1 for day in walks if day.walk_done),
        walks_planned=len(walks),
        raises_done=sum(1 for day in raises if day.raises_done),
        raises_planned=len(raises),
        decisions=dict(Counter(day.decision.decision for day in this if day.decision is not None)),
        dose_changes=tuple(each for each in dose_changes(history) if each.day in week_dates),
        flares=tuple(each for each in flares(days) if each.day in week_dates),
        flags_opened=tuple(each for each in history.flags if this and each.opened >= this[0].date),
        flags_cleared=tuple(
            each for each in history.flags if this and each.cleared is not None and each.cleared >= this[0].date
        ),
        notices=tuple((day.date, each) for day in this if day.decision is not None for each in day.decision.notices),
        silent_days=_silent_days(history),
        last_answer=next((day.date for day in reversed(days) if day.answered), None),
        inflammatory_days=_run(days, lambda each: each.phase is Phase.INFLAMMATORY),
        irritable=last is not None and last.irritable,
        days_since_progress=_days_since_progress(days),
        missing=_missing(days[-protocol.no_progress_days :]),
    )


def _sent(history: History, slot: str, week: set[date]) -> set[date]:
    return {day for day, which in history.sent if which == slot and day in week}


def _all_done(day: Day) -> bool:
    """Each part that was planned is done (2.3)."""
    plan = None if day.decision is None else day.decision.plan
    if plan is None:
        return False
    return (day.walk_done or plan.walk == 0) and (day.raises_done or not plan.has_raises)


def _run(days: Sequence[Day], holds: Callable[[DayDecision], bool]) -> int:
    decided = [day.decision for day in days if day.decision is not None]
    count = 0
    for each in reversed(decided):
        if not holds(each):
            break
        count += 1
    return count


def _silent_days(history: History) -> int:
    count = 0
    for day in reversed(history.days):
        if day.answered:
            break
        if day.going_on:
            continue
        if history.quiet is None or not history.quiet[0] <= day.date <= history.quiet[1]:
            count += 1
    return count


def _days_since_progress(days: Sequence[Day]) -> int | None:
    if not days:
        return None
    last = next(
        (day.number for day in reversed(days) if day.decision is not None and day.decision.progressed is not None), 1
    )
    return days[-1].number - last


def _missing(days: Sequence[Day]) -> tuple[tuple[Reason, int], ...]:
    counted = Counter(
        reason for day in days if day.decision is not None for reason in day.decision.reasons if reason in _MISSING
    )
    order = list(Reason)
    return tuple(sorted(counted.items(), key=lambda item: (-item[1], order.index(item[0]))))


def flares(days: Sequence[Day]) -> tuple[FlareOn, ...]:
    """All flares of those days, oldest first."""
    return tuple(
        FlareOn(day=day.date, cause=day.decision.flare.cause, candidates=day.decision.flare.candidates)
        for day in days
        if day.decision is not None and day.decision.flare is not None
    )


def _why(decision: DayDecision, variable: Variable) -> Why:
    reasons = decision.reasons
    if Reason.NEW_DOSE in reasons:
        return Why.CLINICIAN
    if decision.progressed is variable:
        return Why.PROGRESS
    if decision.flare is not None:
        return Why.FLARE
    if Reason.AFTER_INFLAMMATORY in reasons and variable is Variable.RAISES:
        return Why.AFTER_INFLAMMATORY
    if Reason.PAINFUL_DOSES in reasons and variable is Variable.WALKING:
        return Why.PAINFUL
    return Why.GAP


def dose_changes(history: History) -> tuple[DoseChange, ...]:
    """Every change of a dose in force since enrolment, oldest first."""
    found: list[DoseChange] = []
    before: Doses | None = history.enrolled_doses
    for day in history.days:
        if day.decision is None:
            continue
        after = day.decision.doses
        if before is not None and after.walk != before.walk:
            found.append(
                DoseChange(
                    day=day.date,
                    variable=Variable.WALKING,
                    before=f"{before.walk} min",
                    after=f"{after.walk} min",
                    up=after.walk > before.walk,
                    why=_why(day.decision, Variable.WALKING),
                )
            )
        if before is not None and after.raises != before.raises:
            found.append(
                DoseChange(
                    day=day.date,
                    variable=Variable.RAISES,
                    before=str(before.raises),
                    after=str(after.raises),
                    up=ladder.rank(after.raises) > ladder.rank(before.raises),
                    why=_why(day.decision, Variable.RAISES),
                )
            )
        before = after
    return tuple(found)
