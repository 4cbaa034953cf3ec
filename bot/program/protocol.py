"""Every threshold of the rules, with its bounds and its source, in one frozen object.

Marks: [P] published, source named; [C] common practice, no source; [M] value from memory, to be
checked by a clinician before use; [D] a choice of this project's.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field, fields
from typing import Any

from bot.program.terms import Activity

FARRAR = "Farrar et al. 2001, Pain 94:149-158 [P]"
PAIN_MONITORING = (
    "pain-monitoring model: Thomeé 1997, Phys Ther 77:1690-1703; "
    "Silbernagel et al. 2007, Am J Sports Med 35:897-906 [P]"
)
RATHLEFF = "Rathleff et al. 2015, Scand J Med Sci Sports 25:e292-e300 [P]"
KELLER = "Keller et al. 1996, Clin Biomech 11:253-259 [P]"
STACOFF = "Stacoff et al. 2005, Gait Posture 21:24-38 [P]"
TUDOR_LOCKE = "Tudor-Locke et al. 2005 [M]"
WILLIAMS = "Williams et al. 2017, Br J Sports Med 51:209-210 [P]"
NHS_REFERRAL = "referral after 12 weeks of self-management: common NHS guidance [P]"
OURS = "[D]"
COMMON = "common practice, no source [C]"


class ProtocolError(ValueError):
    """A threshold outside its bounds. The text says which, what was given and what is allowed."""


def _threshold(default: float, low: float, high: float, rule: str, source: str) -> Any:
    return field(default=default, metadata={"low": low, "high": high, "rule": rule, "source": source})


@dataclass(frozen=True, kw_only=True)
class Protocol:
    """The numbers of the rules. Days, minutes and points of the 0-10 pain scale unless a name says otherwise."""

    # 2 What is asked, and the words used
    carried_mornings: int = _threshold(2, 0, 3, "2.2", OURS)
    steps_a_minute: int = _threshold(100, 60, 140, "2.3", TUDOR_LOCKE)
    minutes_a_km: float = _threshold(12, 8, 25, "2.3", OURS)
    done_share: float = _threshold(0.8, 0.5, 1.0, "2.3", OURS)
    overdone_share: float = _threshold(1.2, 1.0, 2.0, "2.3", OURS)
    overdone_minutes: float = _threshold(2, 0, 10, "2.3", OURS)
    tolerated_pain: int = _threshold(5, 2, 5, "2.3, 4.3", PAIN_MONITORING)

    # 3 Phases
    remodelling_days: int = _threshold(21, 14, 84, "3", "[M]")
    remodelling_calm_days: int = _threshold(14, 7, 42, "3", OURS)
    remodelling_mornings: int = _threshold(7, 3, 14, "3", OURS)
    remodelling_pain: int = _threshold(2, 0, 4, "3", OURS)

    # 4 Reference and flare
    reference_mornings: int = _threshold(14, 7, 28, "4.2", OURS)
    reference_least: int = _threshold(3, 3, 7, "4.2", OURS)
    reference_lowest_days: int = _threshold(28, 14, 56, "4.2", OURS)
    reference_rise: int = _threshold(1, 0, 2, "4.2", OURS)
    flare_pain: int = _threshold(3, 2, 5, "4.3", OURS)
    flare_rise: int = _threshold(2, 1, 3, "4.3", FARRAR)
    proven_days: int = _threshold(4, 3, 7, "4.4", COMMON)
    proven_days_alternate: int = _threshold(2, 2, 7, "4.4", OURS)
    proven_window: int = _threshold(28, 14, 56, "4.4", OURS)
    back_share: float = _threshold(0.6, 0.3, 0.8, "4.4", "5 minutes not tolerated: next try 3 [C]")
    third_flare: int = _threshold(3, 2, 4, "4.5", OURS)
    third_flare_days: int = _threshold(14, 7, 28, "4.5", OURS)
    walk_floor: int = _threshold(3, 1, 10, "4.6", OURS)
    candidate_minutes: float = _threshold(5, 2, 30, "4.7", OURS)
    candidate_share: float = _threshold(0.25, 0.1, 1.0, "4.7", OURS)
    irritable_apart: int = _threshold(13, 7, 28, "4.8", OURS)
    irritable_days: int = _threshold(28, 14, 84, "4.8", OURS)

    # 5 Each morning's decision
    settled_pain: int = _threshold(2, 0, 3, "5.2", OURS)
    settled_rise: int = _threshold(1, 0, 1, "5.2", OURS)
    settled_after_constant: int = _threshold(5, 3, 6, "5.2", OURS)
    settled_mornings_after_constant: int = _threshold(2, 2, 5, "5.2", OURS)
    release_rests: int = _threshold(7, 5, 21, "5.4", OURS)
    release_answers: int = _threshold(3, 3, 7, "5.4", OURS)
    release_quiet_days: int = _threshold(14, 7, 28, "5.4", OURS)
    silent_holds: int = _threshold(2, 1, 3, "5.5", OURS)
    gap_days: int = _threshold(7, 5, 14, "5.6", OURS)
    gap_share: float = _threshold(0.6, 0.3, 0.8, "5.6", OURS)
    long_gap_days: int = _threshold(21, 14, 42, "5.6", OURS)
    long_gap_share: float = _threshold(0.4, 0.2, 0.6, "5.6", OURS)
    return_gap_days: int = _threshold(56, 28, 84, "5.6", OURS)
    painful_evenings: int = _threshold(3, 2, 7, "5.8", OURS)
    painful_share: float = _threshold(0.8, 0.5, 0.9, "5.8", OURS)
    painful_least: int = _threshold(1, 1, 5, "5.8", OURS)
    painful_told_days: int = _threshold(7, 1, 14, "5.8", OURS)

    # 6 Progress
    interval: int = _threshold(4, 4, 7, "6", COMMON)
    long_interval: int = _threshold(7, 4, 14, "6", OURS)
    long_interval_flare_days: int = _threshold(14, 7, 28, "6", OURS)
    long_interval_reference: int = _threshold(4, 3, 6, "6", OURS)
    answered_share: float = _threshold(0.7, 0.7, 1.0, "6", OURS)
    progress_tolerated: int = _threshold(3, 3, 7, "6", OURS)
    progress_tolerated_alternate: int = _threshold(2, 2, 7, "6", OURS)
    progress_rise: int = _threshold(1, 0, 1, "6", PAIN_MONITORING)
    progress_mornings: int = _threshold(3, 3, 7, "6", OURS)
    week_mornings: int = _threshold(7, 5, 7, "6", PAIN_MONITORING)
    week_rise: int = _threshold(1, 0, 1, "6", PAIN_MONITORING)
    walk_step_share: float = _threshold(0.2, 0.05, 0.2, "6", OURS)
    walk_step_least: int = _threshold(1, 1, 2, "6", OURS)
    walk_step_most: int = _threshold(5, 1, 5, "6", OURS)
    walk_target: int = _threshold(30, 3, 120, "6", OURS)
    walk_start: int = _threshold(5, 1, 15, "2, 6", OURS)
    late_step_days: int = _threshold(21, 14, 84, "6", OURS)
    barred_reference: int = _threshold(5, 3, 6, "6", OURS)
    barred_mornings: int = _threshold(14, 7, 28, "6", OURS)
    barred_told_days: int = _threshold(7, 1, 14, "6", OURS)

    # 7 Heel raises
    towel_days: int = _threshold(14, 14, 28, "7", RATHLEFF)
    toe_hold_sets: int = _threshold(3, 1, 5, "7", COMMON)
    toe_hold_seconds: int = _threshold(20, 5, 60, "7", COMMON)
    ankle_pumps_low: int = _threshold(50, 10, 100, "7", COMMON)
    ankle_pumps_high: int = _threshold(100, 20, 200, "7", COMMON)

    # 8 The day's load
    running_steps_a_minute: int = _threshold(160, 120, 200, "8", OURS)
    running_minutes_a_km: float = _threshold(6, 3, 10, "8", OURS)
    cycling_minutes_a_km: float = _threshold(3, 1, 6, "8", OURS)
    minutes_a_flight: float = _threshold(0.5, 0.2, 1, "8", "[M]")
    guess_minutes: float = _threshold(15, 5, 60, "8", OURS)
    guess_standing_minutes: float = _threshold(120, 30, 480, "8", OURS)
    guess_flights: float = _threshold(2, 1, 10, "8", OURS)
    usual_days: int = _threshold(7, 3, 28, "8", WILLIAMS)

    # 9 Outcome
    important_points: int = _threshold(2, 1, 3, "9", FARRAR)
    important_share: float = _threshold(0.30, 0.2, 0.5, "9", FARRAR)
    trend_days: int = _threshold(28, 14, 56, "9", OURS)
    # An interval over fewer mornings says nothing.
    trend_mornings: int = _threshold(7, 5, 28, "9", OURS)
    review_week: int = _threshold(8, 6, 12, "9", OURS)
    re_evaluate_week: int = _threshold(12, 8, 16, "9", NHS_REFERRAL)
    worsening_points: int = _threshold(2, 1, 3, "9", OURS)
    inflammatory_told_days: int = _threshold(7, 3, 14, "9", COMMON)
    no_progress_days: int = _threshold(28, 14, 56, "9", OURS)
    silence_told_days: int = _threshold(3, 1, 7, "9", OURS)

    # 10 Red flags
    # The same for everybody: the reader knows no patient.
    severe_pain: int = _threshold(9, 9, 9, "10", COMMON)
    severe_pain_quiet_days: int = _threshold(14, 0, 14, "10", OURS)

    def __post_init__(self) -> None:
        for each in fields(self):
            value, low, high = getattr(self, each.name), each.metadata["low"], each.metadata["high"]
            if not low <= value <= high:
                raise ProtocolError(
                    f"{each.name} (rule {each.metadata['rule']}) must be from {low:g} to {high:g}, not {value:g}"
                )

    def changed(self, **values: float) -> Protocol:
        """This protocol with some thresholds changed for one patient. Raises `ProtocolError` outside the bounds."""
        known = {each.name for each in fields(self)}
        for name in values:
            if name not in known:
                raise ProtocolError(f"there is no threshold called {name!r}")
        return dataclasses.replace(self, **values)  # type: ignore[arg-type]

    def differences(self) -> dict[str, float]:
        """The thresholds that differ from the defaults, as `changed` takes them."""
        return {
            each.name: getattr(self, each.name) for each in fields(self) if getattr(self, each.name) != each.default
        }


LOAD_FACTORS: dict[Activity, float] = {
    Activity.WALKING: 1.0,
    Activity.RUNNING: 2.1,  # peak vertical force 2.5 against 1.2 body weights: KELLER
    Activity.STANDING: 0.4,  # half the body weight a foot, against 1.2 [D]
    Activity.STAIRS: 1.3,  # up to 1.6 body weights on steep descent: STACOFF
    Activity.HILLS: 1.3,  # this and all below [D]
    Activity.CARRYING: 1.3,
    Activity.GARDENING: 1.0,
    Activity.HOUSEWORK: 0.7,
    Activity.DANCING: 1.8,
    Activity.SPORT: 2.0,
    Activity.JUMPING: 3.0,
    Activity.CYCLING: 0.2,
    Activity.SWIMMING: 0.0,
    Activity.DRIVING: 0.0,
    Activity.OTHER: 1.0,
}
"""Walking-equivalent minutes a minute (rule 8)."""

DEFAULT = Protocol()
