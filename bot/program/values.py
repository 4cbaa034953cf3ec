"""The values the rules speak of: a morning, an evening, a plan, a day's decision, and the state carried from day to day.

Days are numbered as in rule 2.1: enrolment is day 0, its first full day is day 1. All values are frozen; the
`State` is bounded, so that a day costs the same in the sixth month as in the first week.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bot.program.ladder import RaiseDose
from bot.program.reasons import Notice, Reason
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Morning:
    """What was said of a morning. `None` is "did not say"."""

    first_step_pain: int | None = None
    rest_pattern: RestPattern | None = None
    settle_minutes: float | None = None

    @property
    def silent(self) -> bool:
        """True where nothing was said of this morning."""
        return self.first_step_pain is None and self.rest_pattern is None


@dataclass(frozen=True, kw_only=True, slots=True)
class ActivityAmount:
    """One kind of loading with what was said of its amount."""

    activity: Activity
    minutes: float | None = None
    count: float | None = None
    steps: int | None = None
    km: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class RaisesReported:
    """Heel raises as the patient named them; what was not said is `None`."""

    sets: int | None = None
    reps: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Evening:
    """What was done on the feet and how bad it got."""

    worst_pain: int | None = None
    plan_done: PlanDone | None = None
    activities: tuple[ActivityAmount, ...] = ()
    raises: RaisesReported | None = None
    says_what_was_done: bool = False
    """Set where the reply says what was or was not done in a way that the other fields don't show ("no walk today")."""

    @property
    def reported(self) -> bool:
        """Whether it was said what was done. A pain score alone does not say it, and is not read as "nothing done"."""
        return bool(self.activities or self.raises or self.plan_done or self.says_what_was_done)


@dataclass(frozen=True, kw_only=True, slots=True)
class Doses:
    """The doses in force: walking minutes a day, and a heel-raise dose."""

    walk: int
    raises: RaiseDose


@dataclass(frozen=True, kw_only=True, slots=True)
class Enrolment:
    """What was known on day 0."""

    first_step_pain: int
    rest_pattern: RestPattern
    prior_activity: PriorActivity
    doses: Doses


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """The day's plan. Zero minutes or sets: none today; the step is named all the same."""

    walk: int
    step: Step
    sets: int
    reps: int

    @property
    def has_raises(self) -> bool:
        """Whether raises are in this plan."""
        return self.sets > 0

    @property
    def has_dose(self) -> bool:
        """Whether there is any dose in this plan."""
        return self.walk > 0 or self.has_raises

    @property
    def raises(self) -> RaiseDose:
        """The raises as a dose."""
        return RaiseDose(step=self.step, sets=self.sets, reps=self.reps)


@dataclass(frozen=True, kw_only=True, slots=True)
class DoseOrder:
    """A clinician's new dose (rule 5.1). Numbers of orders grow with time; `None` leaves a dose as it is."""

    number: int
    walk: int | None = None
    raises: RaiseDose | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PhaseOrder:
    """A phase set by hand (rule 3); it holds until constant pain is reported or it is lifted."""

    number: int
    phase: Phase


@dataclass(frozen=True, kw_only=True, slots=True)
class Today:
    """What is known of the day that is to be decided, beside the state it starts from."""

    day: int
    morning: Morning = field(default_factory=Morning)
    open_flags: tuple[RedFlag, ...] = ()
    loading_stopped: bool = False
    paused: bool = False
    dose_order: DoseOrder | None = None
    phase_order: PhaseOrder | None = None
    shown: Plan | None = None
    """The plan shown to the patient earlier on this day, if one was (rule 2.4: "all" is that plan after a stop)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Flare:
    """A flare (rule 4.3) with what it is laid to and what else was unusual the day before (4.4, 4.7)."""

    cause: Cause
    candidates: tuple[Activity, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class DayDecision:
    """One day's decision with its reasons and all that the next day's state needs of it."""

    day: int
    phase: Phase
    decision: Decision
    reasons: tuple[Reason, ...]
    notices: tuple[Notice, ...]
    plan: Plan
    shown: Plan
    """What "all" of the plan means in this day's evening report (rule 2.4)."""
    doses: Doses
    """The doses in force after this decision, whether they are off or not."""
    walk_without_gap: int
    """Walking as it would be without the limits of a gap that goes on (5.6)."""
    answered: bool
    first_step_pain: int | None
    """f, on an answered morning."""
    rest_pattern: RestPattern | None
    """r, stated or carried, on an answered morning."""
    stated_pattern: RestPattern | None
    """The pattern that was stated this morning, answered or not."""
    settled: bool
    released: bool
    reference: int
    reference_counts: bool
    """False while the reference is the enrolment's (4.2): such a day does not count for the lowest."""
    flare: Flare | None
    irritable: bool
    off: bool
    walk_changed: bool
    raises_changed: bool
    raises_anchor: int
    """The day from which "every second day" is counted (rule 7)."""
    last_up: Variable | None
    """What went up last (4.4)."""
    progressed: Variable | None
    """What this day's progress raised, for the turn (6)."""
    order_given: int | None
    """The number of the clinician's dose order that this day gave."""
    phase_order_ended: int | None
    only_question: bool
    """From the third silent morning on only the question is sent (5.5)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PastDay:
    """One of the last 28 days, as the rules look back on it."""

    day: int
    decision: Decision
    answered: bool
    flare: Cause | None
    first_step_pain: int | None
    worst_pain: int | None
    reported: bool
    plan: Plan
    walked: float
    walk_done: bool
    raises_done: bool
    some_walking: bool
    """Walking was spoken of, if without an amount, or a part of the plan was done."""
    some_raises: bool
    overdone: bool
    reference: int | None
    """None where the reference was the enrolment's, or before a release (5.4)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ActivityLoad:
    """Load of one kind of activity, in walking-equivalent minutes."""

    activity: Activity
    load: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Usual:
    """The exponentially weighted usual load (rule 8): of the day, and of each activity."""

    total: float | None = None
    activities: tuple[ActivityLoad, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class PainfulEvening:
    """One of the last evenings on which a worst pain was given (5.8)."""

    day: int
    worst_pain: int
    walk_done: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class State:
    """All that the rules need to know at the start of a day: bounded, however long the history is."""

    day: int
    """The number of the day that starts."""
    enrolment: Enrolment
    doses: Doses
    off: bool = False
    resting: bool = False
    phase: Phase = Phase.REPARATIVE
    past: tuple[PastDay, ...] = ()
    """The last 28 days, oldest first."""
    first_answered_pain: int | None = None
    any_answered: bool = False
    answered_pains: tuple[int, ...] = ()
    """f of the last answered mornings, oldest first."""
    reference_pains: tuple[int, ...] = ()
    """f of the last reference mornings (4.1), oldest first."""
    stated_pattern: RestPattern
    stated_pattern_day: int = 0
    walk_changed_day: int = 1
    raises_changed_day: int = 1
    raises_anchor: int = 1
    walk_floor: int
    """Walking never goes below this (4.6)."""
    last_up: Variable | None = None
    last_progressed: Variable | None = None
    last_progress_day: int | None = None
    last_resume_day: int | None = None
    last_release_day: int | None = None
    last_inflammatory_day: int | None = None
    inflammatory_since_resume: bool = False
    answered_since_constant: int = 0
    inflammatory_run: int = 0
    """Days in a row of phase inflammatory, up to yesterday."""
    flares: tuple[tuple[int, Cause], ...] = ()
    """Day and cause of the flares of the last weeks, oldest first."""
    rest_run: int = 0
    """Decisions rest in a row, up to yesterday."""
    rest_run_answered: int = 0
    """Answered mornings after the first of them."""
    rest_run_pains: tuple[int, ...] = ()
    """f of the last three of those mornings."""
    silent_run: int = 0
    """Mornings in a row without an answer, up to yesterday."""
    gap: int = 0
    """Days in a row up to yesterday without a dose done (5.6)."""
    doses_before_gap: Doses
    walk_without_gap: int
    """The walking dose as it would be without the limits of the gap that goes on (5.6)."""
    return_told: bool = False
    order_given: int = 0
    phase_order_ended: int = 0
    usual: Usual = field(default_factory=Usual)
    usual_before_yesterday: Usual = field(default_factory=Usual)
    loads_yesterday: tuple[ActivityLoad, ...] | None = None
    """None without an evening report."""
    evenings: tuple[PainfulEvening, ...] = ()
    """The last three evenings that gave a worst pain."""
    painful_told_day: int | None = None
    high_reference_told_day: int | None = None

    @property
    def yesterday(self) -> PastDay | None:
        """The day before, if the programme had begun."""
        return self.past[-1] if self.past else None


def start(enrolment: Enrolment, *, walk_floor: int) -> State:
    """The state at the start of day 1.

    `walk_floor` is the protocol's least walking dose; a lower starting dose is the clinician's own (4.6).
    """
    constant = enrolment.rest_pattern is RestPattern.CONSTANT
    return State(
        day=1,
        enrolment=enrolment,
        doses=enrolment.doses,
        phase=Phase.INFLAMMATORY if constant else Phase.REPARATIVE,
        stated_pattern=enrolment.rest_pattern,
        walk_floor=min(walk_floor, enrolment.doses.walk),
        doses_before_gap=enrolment.doses,
        walk_without_gap=enrolment.doses.walk,
    )
