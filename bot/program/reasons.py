"""Why a day was decided as it was: stable codes, each traceable to a rule's number."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """Codes as stored and printed. `RULE_OF` gives the rule of each."""

    RED_FLAG = "red_flag"
    CLINICIAN_STOPPED = "clinician_stopped"
    CONSTANT_PAIN = "constant_pain"
    PHASE_BY_HAND = "phase_by_hand"
    PHASE_KEPT = "phase_kept"
    FLARE = "flare"
    FLARE_CONSTANT = "flare_constant"
    FLARE_RISE = "flare_rise"
    FLARE_NOT_SETTLED = "flare_not_settled"
    CAUSE_INCREASE = "cause_increase"
    CAUSE_OVERDONE = "cause_overdone"
    CAUSE_OTHER = "cause_other"
    CAUSE_UNKNOWN = "cause_unknown"
    THIRD_FLARE = "third_flare"
    IRRITABLE = "irritable"
    REST_GOES_ON = "rest_goes_on"
    SETTLED = "settled"
    RELEASED = "released"
    NOT_SETTLED = "not_settled"
    NO_ANSWER = "no_answer"
    SILENCE = "silence"
    GAP = "gap"
    AFTER_INFLAMMATORY = "after_inflammatory"
    PAINFUL_DOSES = "painful_doses"
    NEW_DOSE = "new_dose"
    WALK_UP = "walk_up"
    RAISES_UP = "raises_up"
    PAUSED = "paused"
    CHANGED_LATELY = "changed_lately"
    RESUMED_LATELY = "resumed_lately"
    FLARE_LATELY = "flare_lately"
    RELEASED_LATELY = "released_lately"
    FEW_ANSWERS = "few_answers"
    PAINFUL_EVENING = "painful_evening"
    NOT_TOLERATED = "not_tolerated"
    MORNING_HIGH = "morning_high"
    MORNINGS_HIGH = "mornings_high"
    WEEK_RISING = "week_rising"
    WALKING_BARRED = "walking_barred"
    RAISES_BARRED = "raises_barred"
    AT_TARGET = "at_target"


RULE_OF: dict[Reason, str] = {
    Reason.RED_FLAG: "5, 10",
    Reason.CLINICIAN_STOPPED: "5",
    Reason.CONSTANT_PAIN: "3",
    Reason.PHASE_BY_HAND: "3",
    Reason.PHASE_KEPT: "3",
    Reason.FLARE: "4.3",
    Reason.FLARE_CONSTANT: "4.3",
    Reason.FLARE_RISE: "4.3",
    Reason.FLARE_NOT_SETTLED: "4.3",
    Reason.CAUSE_INCREASE: "4.4",
    Reason.CAUSE_OVERDONE: "4.4",
    Reason.CAUSE_OTHER: "4.4",
    Reason.CAUSE_UNKNOWN: "4.4",
    Reason.THIRD_FLARE: "4.5",
    Reason.IRRITABLE: "4.8",
    Reason.REST_GOES_ON: "5.3",
    Reason.SETTLED: "5.2",
    Reason.RELEASED: "5.4",
    Reason.NOT_SETTLED: "5.2",
    Reason.NO_ANSWER: "2.2, 5.5",
    Reason.SILENCE: "5.5",
    Reason.GAP: "5.6",
    Reason.AFTER_INFLAMMATORY: "5.7",
    Reason.PAINFUL_DOSES: "5.8",
    Reason.NEW_DOSE: "5.1",
    Reason.WALK_UP: "6",
    Reason.RAISES_UP: "6",
    Reason.PAUSED: "5.1",
    Reason.CHANGED_LATELY: "6",
    Reason.RESUMED_LATELY: "6",
    Reason.FLARE_LATELY: "6",
    Reason.RELEASED_LATELY: "5.4, 6",
    Reason.FEW_ANSWERS: "6",
    Reason.PAINFUL_EVENING: "6",
    Reason.NOT_TOLERATED: "2.3, 6",
    Reason.MORNING_HIGH: "6",
    Reason.MORNINGS_HIGH: "6",
    Reason.WEEK_RISING: "6",
    Reason.WALKING_BARRED: "6",
    Reason.RAISES_BARRED: "6, 7",
    Reason.AT_TARGET: "6",
}


class Notice(StrEnum):
    """What the clinician is told because of a day's decision (rule 9, last point)."""

    NOTHING_TO_LOWER = "nothing_to_lower"
    IRRITABLE = "irritable"
    RELEASE = "release"
    LONG_GAP_RETURN = "long_gap_return"
    PAINFUL_DOSES = "painful_doses"
    HIGH_REFERENCE = "high_reference"
    LONG_INFLAMMATORY = "long_inflammatory"
    NO_PROGRESS = "no_progress"
    SILENCE = "silence"
