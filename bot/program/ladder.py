"""The heel-raise ladder (rule 7): seated to standing to one foot on a rolled towel, and how often each step is done.

The towel step is the protocol of Rathleff et al. 2015, Scand J Med Sci Sports 25:e292-e300 [P]: every second day,
3 s up, 2 s hold, 3 s down, at 12, then 10, then 8 repetitions maximum. The steps before it are common practice, no
source; the 2x8 to 3x12 doses are a choice of this project's.
"""

from __future__ import annotations

from dataclasses import dataclass

from bot.program.terms import Step

TEMPO_SECONDS = (3, 2, 3)
"""Up, hold, down: Rathleff et al. 2015 [P]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RaiseDose:
    """A step of the ladder with its sets and repetitions."""

    step: Step
    sets: int
    reps: int

    @property
    def repetitions(self) -> int:
        """Repetitions in all: sets times repetitions."""
        return self.sets * self.reps

    def __str__(self) -> str:
        return f"{self.step} {self.sets}x{self.reps}"


_ORDER = tuple(Step)
_COMMON = ((2, 8), (3, 8), (3, 10), (3, 12))
_TOWEL = ((3, 12), (4, 10), (5, 8))
_HOPS = ((3, 10),)

_DOSES: dict[Step, tuple[tuple[int, int], ...]] = {
    **dict.fromkeys(_ORDER, _COMMON),
    Step.ONE_ON_TOWEL: _TOWEL,
    Step.HOPS: _HOPS,
}
LADDER: tuple[RaiseDose, ...] = tuple(
    RaiseDose(step=step, sets=sets, reps=reps) for step in _ORDER for sets, reps in _DOSES[step]
)
LOWEST = LADDER[0]
_ALTERNATE = frozenset({Step.UP_BOTH_DOWN_ONE, Step.STANDING_ONE, Step.ONE_ON_TOWEL})


def rank(dose: RaiseDose) -> tuple[int, int, int]:
    """The dose's place: a higher rank is a greater demand. Doses off the ladder have a place too."""
    return (_ORDER.index(dose.step), dose.repetitions, dose.sets)


def reaches(dose: RaiseDose, step: Step) -> bool:
    """Whether the dose is at `step` or further."""
    return _ORDER.index(dose.step) >= _ORDER.index(step)


def first_of(step: Step) -> RaiseDose:
    """The first dose of a step."""
    sets, reps = _DOSES[step][0]
    return RaiseDose(step=step, sets=sets, reps=reps)


def step_before(step: Step) -> Step:
    """The step before, or the first step itself."""
    return _ORDER[max(0, _ORDER.index(step) - 1)]


def higher(dose: RaiseDose) -> RaiseDose | None:
    """The next dose up, or None at the end. Hops are reached on the clinician's word only, so the towel step is the end."""
    return next(
        (up for up in LADDER if rank(up) > rank(dose) and up.step is not Step.HOPS and dose.step is not Step.HOPS),
        None,
    )


def lower(dose: RaiseDose) -> RaiseDose:
    """One dose back: from the first dose of a step to the last of the step before; never below the lowest."""
    return next((down for down in reversed(LADDER) if rank(down) < rank(dose)), LOWEST)


def lesser(one: RaiseDose, other: RaiseDose) -> RaiseDose:
    """The lesser of two doses."""
    return one if rank(one) <= rank(other) else other


def is_daily(step: Step) -> bool:
    """Whether the step is done every day."""
    return step not in _ALTERNATE and step is not Step.HOPS


def falls_on(step: Step, days_since_anchor: int) -> bool:
    """Whether raises are in the plan so many days after the day on which they changed or were resumed.

    Every second calendar day, done or not; hops twice a week (that day and the third after it).
    """
    if step is Step.HOPS:
        return days_since_anchor % 7 in (0, 3)
    return step not in _ALTERNATE or days_since_anchor % 2 == 0
