"""What a reply was understood to say.

Nothing said and "none" said are different: a field that the reply does not speak of is `None` (or empty),
while `RestPattern.NONE`, a score of 0 and `PlanDone.NONE` are answers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from bot.program.terms import About, Activity, Exercise, PlanDone, RedFlag, RestPattern


@dataclass(frozen=True, kw_only=True, slots=True)
class ActivityDone:
    """One kind of loading outside the exercises. Amounts that were not said are `None`."""

    activity: Activity
    minutes: float | None = None
    count: float | None = None
    """Flights or trips, stairs only."""
    steps: int | None = None
    km: float | None = None
    about: About = About.TODAY
    """The day this activity was done, which may differ from the reply's own (today's score, yesterday's walk)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ExerciseDone:
    """One exercise of the programme. Amounts that were not said are `None`."""

    exercise: Exercise
    sets: int | None = None
    reps: int | None = None
    seconds: int | None = None
    about: About = About.TODAY


@dataclass(frozen=True, kw_only=True, slots=True)
class FlagFinding:
    """A red flag that the reply speaks of, with how sure the reader is and the words it rests on."""

    code: RedFlag
    certain: bool = True
    """False: the conversation asks one plain yes/no question before it acts on it."""
    words: str = ""
    """The patient's own words, as typed."""
    score: int | None = None
    """For `severe_pain` raised by a number alone: that number; `None` where words raised it."""
    why: str = ""
    """Why it is sure or not: the kinds of words that stand together ("sure: calf + swollen")."""


class Evidence(NamedTuple):
    """For one field of the reading: the words of the reply that it came from. A tuple, since many are made for each reply."""

    field: str
    words: str
    start: int
    end: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """A reply as a structured record: the public fields of the reader's contract, and what the chat needs beside them."""

    first_step_pain: int | None = None
    worst_pain: int | None = None
    rest_pattern: RestPattern | None = None
    settle_minutes: float | None = None
    activities: tuple[ActivityDone, ...] = ()
    exercises: tuple[ExerciseDone, ...] = ()
    plan_done: PlanDone | None = None
    plan_about: About = About.TODAY
    """The day that `plan_done` speaks of."""
    worst_pain_about: About = About.TODAY
    flags: tuple[FlagFinding, ...] = ()
    about: About = About.TODAY

    not_done: tuple[Activity | Exercise, ...] = ()
    """Kinds that the reply says were not done ("no walk today"): an answer, although no entry."""
    correction: bool = False
    """The reply says that it corrects an earlier one ("sorry, I meant 3")."""
    bare_number: float | None = None
    """A lone number that no open prompt gives a meaning to (asked = any): it has to be asked back."""
    evidence: tuple[Evidence, ...] = ()

    @property
    def red_flags(self) -> tuple[RedFlag, ...]:
        """The codes that are sure, sorted by their text. An unsure one is asked about first."""
        return tuple(sorted({flag.code for flag in self.flags if flag.certain}))

    @property
    def says_nothing(self) -> bool:
        """True where nothing for a record was found."""
        return (
            self.first_step_pain is None
            and self.worst_pain is None
            and self.rest_pattern is None
            and self.settle_minutes is None
            and not self.activities
            and not self.exercises
            and self.plan_done is None
            and not self.flags
            and not self.not_done
        )
