"""Who needs the clinician first, and why: an order by a pure function, each reason with the number of its rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from bot.digest.figures import Figures, figures_of
from bot.digest.values import Flag, History
from bot.program.outcome import Standing
from bot.program.reasons import Notice, Reason
from bot.program.terms import Cause, Urgency


class Need(StrEnum):
    """Why a patient needs to be looked at, most pressing first."""

    EMERGENCY_FLAG = "emergency_flag"
    SAME_DAY_FLAG = "same_day_flag"
    SOON_FLAG = "soon_flag"
    LOADING_STOPPED = "loading_stopped"
    LONG_CONSTANT_PAIN = "long_constant_pain"
    SILENCE = "silence"
    SECOND_FLARE = "second_flare"
    NOTHING_TO_LOWER = "nothing_to_lower"
    PAINFUL_DOSES = "painful_doses"
    HIGH_REFERENCE = "high_reference"
    RELEASE = "release"
    LONG_GAP_RETURN = "long_gap_return"
    NO_PROGRESS = "no_progress"
    RE_EVALUATE = "re_evaluate"
    REVIEW = "review"
    WORSENING = "worsening"


RULE_OF_NEED: dict[Need, str] = {
    Need.EMERGENCY_FLAG: "10",
    Need.SAME_DAY_FLAG: "10",
    Need.SOON_FLAG: "10",
    Need.LOADING_STOPPED: "5",
    Need.LONG_CONSTANT_PAIN: "3, 9",
    Need.SILENCE: "5.5, 9",
    Need.SECOND_FLARE: "4.8",
    Need.NOTHING_TO_LOWER: "4.6",
    Need.PAINFUL_DOSES: "5.8",
    Need.HIGH_REFERENCE: "6",
    Need.RELEASE: "5.4",
    Need.LONG_GAP_RETURN: "5.6",
    Need.NO_PROGRESS: "9",
    Need.RE_EVALUATE: "9",
    Need.REVIEW: "9",
    Need.WORSENING: "9",
}
NEED_OF_NOTICE: dict[Notice, Need] = {
    Notice.NOTHING_TO_LOWER: Need.NOTHING_TO_LOWER,
    Notice.IRRITABLE: Need.SECOND_FLARE,
    Notice.RELEASE: Need.RELEASE,
    Notice.LONG_GAP_RETURN: Need.LONG_GAP_RETURN,
    Notice.PAINFUL_DOSES: Need.PAINFUL_DOSES,
    Notice.HIGH_REFERENCE: Need.HIGH_REFERENCE,
    Notice.LONG_INFLAMMATORY: Need.LONG_CONSTANT_PAIN,
    Notice.NO_PROGRESS: Need.NO_PROGRESS,
    Notice.SILENCE: Need.SILENCE,
}
_FROM_STATE = frozenset({Notice.LONG_INFLAMMATORY, Notice.NO_PROGRESS, Notice.SILENCE})
"""Told once by the rules; here they stand for as long as they last, and no longer."""
NEED_OF_URGENCY: dict[Urgency, Need] = {
    Urgency.EMERGENCY: Need.EMERGENCY_FLAG,
    Urgency.SAME_DAY: Need.SAME_DAY_FLAG,
    Urgency.SOON: Need.SOON_FLAG,
}
_NEED_OF_STANDING = {Standing.REVIEW: Need.REVIEW, Standing.RE_EVALUATE: Need.RE_EVALUATE}
_ORDER = tuple(Need)
_TOLD_MISSING = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """A need with what it rests on; what does not belong to its kind is empty."""

    need: Need
    day: date | None = None
    count: int | None = None
    flags: tuple[Flag, ...] = ()
    missing: tuple[Reason, ...] = ()

    @property
    def rule(self) -> str:
        """The number of the rule it rests on."""
        return RULE_OF_NEED[self.need]


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A patient with figures and needs, most pressing need first."""

    history: History
    figures: Figures
    needs: tuple[Found, ...]


def needs_of(history: History, figures: Figures) -> tuple[Found, ...]:
    """Everything about a patient that the clinician has to look at, most pressing first."""
    found: list[Found] = []
    for urgency, need in NEED_OF_URGENCY.items():
        flags = tuple(each for each in history.open_flags if each.urgency is urgency)
        if flags:
            found.append(Found(need=need, flags=flags, day=min(each.opened for each in flags)))
    if history.loading_stopped:
        found.append(Found(need=Need.LOADING_STOPPED))
    if history.ended:
        # Nothing is asked any more; only what is left open counts.
        return tuple(found)
    protocol = history.protocol
    if figures.inflammatory_days > protocol.inflammatory_told_days:
        found.append(Found(need=Need.LONG_CONSTANT_PAIN, count=figures.inflammatory_days))
    if figures.silent_days >= protocol.silence_told_days:
        found.append(Found(need=Need.SILENCE, count=figures.silent_days, day=figures.last_answer))
    seen: set[Need] = set()
    for day, notice in reversed(figures.notices):
        need = NEED_OF_NOTICE[notice]
        if notice not in _FROM_STATE and need not in seen:
            seen.add(need)
            found.append(Found(need=need, day=day))
    own = [each for each in figures.flares if each.cause is not Cause.OTHER]
    if figures.irritable and own and Need.SECOND_FLARE not in seen:
        found.append(Found(need=Need.SECOND_FLARE, day=own[-1].day))
    last = figures.last
    idle = figures.days_since_progress
    below_target = last is not None and last.doses.walk < protocol.walk_target
    if below_target and idle is not None and idle >= protocol.no_progress_days:
        missing = tuple(reason for reason, _ in figures.missing[:_TOLD_MISSING])
        found.append(Found(need=Need.NO_PROGRESS, count=idle, missing=missing))
    if figures.standing is not None:
        found.append(Found(need=_NEED_OF_STANDING[figures.standing], count=figures.week))
    if figures.worsening:
        found.append(Found(need=Need.WORSENING, count=figures.this_week.median))
    return tuple(sorted(found, key=lambda each: _ORDER.index(each.need)))


def in_order(histories: Sequence[History]) -> tuple[Line, ...]:
    """The patients, the most pressing first; those who need nothing by alias.

    Among equals: more needs first, then the higher first-step pain of the week, then the alias.
    """
    lines = []
    for history in histories:
        figures = figures_of(history)
        lines.append(Line(history=history, figures=figures, needs=needs_of(history, figures)))
    return tuple(sorted(lines, key=_place))


def _place(line: Line) -> tuple[tuple[int, ...], str, int]:
    alias = line.history.alias.casefold()
    if not line.needs:
        return (len(_ORDER),), alias, line.history.patient_id
    pain = line.figures.this_week.median
    first = _ORDER.index(line.needs[0].need)
    return (first, -len(line.needs), -(pain if pain is not None else 0)), alias, line.history.patient_id
