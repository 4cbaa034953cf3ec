"""The words that every floor shares: activities, exercises, rest pain patterns, red flags, phases, decisions.

All are string enums, so that a value reads the same in code, in JSON and in a table.
"""

from __future__ import annotations

from enum import StrEnum


class RestPattern(StrEnum):
    """Pain at rest, with the foot unloaded."""

    CONSTANT = "constant"
    """No position without it, all the time awake."""
    INTERMITTENT = "intermittent"
    """Comes and goes, or only with loading, or some position is free of it."""
    NONE = "none"
    """No pain at rest."""


class PlanDone(StrEnum):
    """How much of the day's plan was done, where the patient says so as a whole."""

    ALL = "all"
    SOME = "some"
    NONE = "none"


class About(StrEnum):
    """The day that a reply speaks of."""

    TODAY = "today"
    YESTERDAY = "yesterday"


class Asked(StrEnum):
    """The prompt that is open when a reply arrives."""

    MORNING = "morning"
    EVENING = "evening"
    ANY = "any"


class Activity(StrEnum):
    """Loading of the foot outside the exercises, in the order in which ties are broken (rule 4.7)."""

    WALKING = "walking"
    RUNNING = "running"
    STANDING = "standing"
    STAIRS = "stairs"
    HILLS = "hills"
    CARRYING = "carrying"
    GARDENING = "gardening"
    HOUSEWORK = "housework"
    DANCING = "dancing"
    SPORT = "sport"
    JUMPING = "jumping"
    CYCLING = "cycling"
    SWIMMING = "swimming"
    DRIVING = "driving"
    OTHER = "other"


class Exercise(StrEnum):
    """The programme's exercises."""

    HEEL_RAISE = "heel_raise"
    TOE_HOLD = "toe_hold"
    ANKLE_PUMP = "ankle_pump"


class Urgency(StrEnum):
    """How fast a red flag has to be seen by somebody (rule 10), most urgent first."""

    EMERGENCY = "emergency"
    SAME_DAY = "same_day"
    SOON = "soon"


class RedFlag(StrEnum):
    """Warning signs (rule 10)."""

    CHEST_OR_BREATHING = "chest_or_breathing"
    BLADDER_BOWEL_SADDLE = "bladder_bowel_saddle"
    SELF_HARM = "self_harm"
    CLOT_SIGNS = "clot_signs"
    INFECTION_SIGNS = "infection_signs"
    SUDDEN_POP = "sudden_pop"
    CANNOT_BEAR_WEIGHT = "cannot_bear_weight"
    NEW_INJURY = "new_injury"
    CIRCULATION_SIGNS = "circulation_signs"
    SKIN_BREAKDOWN = "skin_breakdown"
    NERVE_SIGNS = "nerve_signs"
    NIGHT_PAIN = "night_pain"
    SYSTEMIC_SIGNS = "systemic_signs"
    JOINT_SIGNS = "joint_signs"
    SEVERE_PAIN = "severe_pain"


class Phase(StrEnum):
    """Where the tissue stands (rule 3)."""

    INFLAMMATORY = "inflammatory"
    REPARATIVE = "reparative"
    REMODELLING = "remodelling"


class Decision(StrEnum):
    """What the day is for (rule 5), in the order of the decision table."""

    STOP = "stop"
    UNLOAD = "unload"
    REST = "rest"
    RESUME = "resume"
    PROGRESS = "progress"
    HOLD = "hold"


class Cause(StrEnum):
    """What a flare is laid to (rule 4.4)."""

    INCREASE = "increase"
    OVERDONE = "overdone"
    OTHER = "other"
    UNKNOWN = "unknown"


class Variable(StrEnum):
    """What can go up: one of them at a time (rule 6)."""

    WALKING = "walking"
    RAISES = "raises"


class PriorActivity(StrEnum):
    """How active the patient was before the heel pain."""

    A_LITTLE = "a little"
    MODERATELY = "moderately"
    VERY = "very"


class Step(StrEnum):
    """Heel-raise steps, in order (rule 7)."""

    SEATED_BOTH = "seated both"
    SEATED_ONE = "seated one"
    STANDING_BOTH = "standing both"
    UP_BOTH_DOWN_ONE = "up both down one"
    STANDING_ONE = "standing one"
    ONE_ON_TOWEL = "one on towel"
    HOPS = "hops"
