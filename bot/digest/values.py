"""The values that a digest is made of: a patient's whole history, read once, and what of it can be drawn and counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from bot.program.protocol import Protocol
from bot.program.terms import RedFlag, RestPattern, Urgency
from bot.program.values import DayDecision, Doses, State, Today


@dataclass(frozen=True, kw_only=True, slots=True)
class Day:
    """One day of a patient's programme, with a decision or (not decided yet) without."""

    date: date
    number: int
    """The day's number: day 1 is the first full day (2.1)."""
    given_pain: int | None
    """First-step pain as given, also on a morning that is not answered in full (2.2)."""
    answered: bool
    """Whether the morning is answered (2.2)."""
    pain: int | None
    """f: first-step pain of an answered morning, 0-10."""
    rest_pattern: RestPattern | None
    reported: bool
    """Whether the evening said what was done."""
    worst_pain: int | None
    walked: float | None
    """Minutes walked (2.3); None without an evening report."""
    walk_done: bool
    raises_done: bool
    decision: DayDecision | None
    """The day's last decision."""
    going_on: bool = False
    """Whether the day is not over yet: what is not answered may still be."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Flag:
    """A red flag (rule 10)."""

    code: RedFlag
    urgency: Urgency
    score: int | None
    words: str
    opened: date
    cleared: date | None
    cleared_by: str | None
    note: str | None

    @property
    def open(self) -> bool:
        """Whether nobody has cleared it."""
        return self.cleared is None


@dataclass(frozen=True, kw_only=True, slots=True)
class Action:
    """Something a clinician did for a patient; without a name the rules told something."""

    day: date
    kind: str
    details: Mapping[str, Any]
    by: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class History:
    """One patient up to the end of the day `until`."""

    patient_id: int
    alias: str
    foot: str
    status: str
    until: date
    start: date | None
    """Day 1; None while enrolling."""
    enrolled_pain: int | None
    enrolled_doses: Doses | None
    protocol: Protocol
    days: tuple[Day, ...]
    """Every day from day 1 to `until`, oldest first; none before the programme starts."""
    flags: tuple[Flag, ...]
    """All that were opened, oldest first."""
    actions: tuple[Action, ...]
    """Of the week that ends with `until`, and what came after it."""
    sent: frozenset[tuple[date, str]]
    """Check-ins sent in that week: the day, and "morning" or "evening"."""
    paused_until: date | None
    loading_stopped: bool
    quiet: tuple[date, date] | None
    next_state: State | None
    """The state with which the day after `until` starts, if it is known."""
    next_day: Today | None
    """What is known of that day without its morning."""

    @property
    def ended(self) -> bool:
        """Whether the programme has ended or the patient has left: nothing is asked any more."""
        return self.status in ("ended", "left")

    @property
    def open_flags(self) -> tuple[Flag, ...]:
        """The flags that are open."""
        return tuple(each for each in self.flags if each.open)


@dataclass(frozen=True, kw_only=True, slots=True)
class Caseload:
    """What one digest is about."""

    until: date
    as_at: datetime
    """Flags and actions are those of this instant."""
    histories: tuple[History, ...]
