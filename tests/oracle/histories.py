"""Random histories for comparing the rules engine with the reference: realistic ones and hostile ones.

`random_programme(rng, days)` makes one programme. It runs the reference along, so that it can aim at the
edges (exactly 80 % of the dose, one over the reference, 1.2 times the dose and 2 minutes more).
`python -m tests.oracle.histories` prints how often each rule, decision and cause comes up.
"""

from __future__ import annotations

import random
from collections import Counter
from typing import Any

from .reference import EVERY_SECOND_DAY, FACTORS, LADDER, STEPS, Reference

FLAGS = [
    "chest_or_breathing",
    "clot_signs",
    "infection_signs",
    "new_injury",
    "nerve_signs",
    "night_pain",
    "severe_pain",
    "severe_pain",
    "severe_pain",
    "skin_breakdown",
]

# What each kind of patient is like; chances are for a day, or for its morning or evening where that is meant.
PLAIN: dict[str, Any] = {
    "answers": 0.95,  # a morning is answered
    "reports": 0.92,  # an evening is reported
    "worse": 0.04,  # a morning 2 or more over the reference
    "constant": 0.0,  # an episode of constant pain begins
    "painful": 0.02,  # worst pain over 5
    "over": 0.03,  # walking is overdone
    "under": 0.04,  # a part or nothing is done
    "under_as": ("some", "some", "none", None),
    "extra": 0.15,  # other loading
    "quiet": 0.0,  # a silence begins
    "quiet_days": (1, 12),
    "flag": 0.0,
    "stop": 0.0,
    "pause": 0.0,
    "correct": 0.0,
    "late": 0.0,
    "drift": -0.03,  # change of first-step pain a day
    "enrolled": (0, 22),  # where on the ladder the patient starts
    "worse_by": (2, 2, 2, 3, 1, 4),
    "answering": 0.3,  # a bad morning after an overdone or hard day or an increase
    "walks": (2, 3, 3, 4, 5, 5, 6, 8, 10, 12, 15, 20, 25, 30),
}
STEADY: dict[str, Any] = {
    "answers": 1.0,
    "reports": 1.0,
    "worse": 0.0,
    "painful": 0.0,
    "over": 0.0,
    "under": 0.0,
    "answering": 0.0,
}
PROFILES: dict[str, dict[str, Any]] = {
    "improver": STEADY,
    "late improver": {**STEADY, "worse": 0.002, "enrolled": (14, 21)},
    "ordinary": {},
    "ordinary, corrects": {"correct": 0.15, "late": 0.1, "flag": 0.01, "pause": 0.01},
    "flarer": {"worse": 0.18, "drift": 0.0},
    "boom and bust": {"over": 0.25, "under": 0.15, "extra": 0.6, "answering": 0.5, "walks": (5, 8, 12, 20)},
    "constant episodes": {"constant": 0.03, "worse": 0.05, "drift": 0.01},
    "constant late": {"constant": 0.015, "worse": 0.01, "enrolled": (9, 20), "answers": 1.0},
    "painful evenings": {"painful": 0.3, "worse": 0.04, "drift": 0.0},
    "very painful doses": {"painful": 0.75, "answering": 0.0, "drift": 0.0, "under": 0.0},
    "silences": {"quiet": 0.06, "worse": 0.08},
    "long silences": {"quiet": 0.035, "quiet_days": (5, 70), "worse": 0.1, "constant": 0.01},
    "gone for months": {"quiet": 0.03, "quiet_days": (50, 75), "worse": 0.05},
    "does nothing": {
        "under": 0.7,
        "under_as": ("none",),
        "extra": 0.1,
        "worse": 0.4,
        "answers": 1.0,
        "walks": (8, 12, 20),
    },
    "overdoes early": {
        "over": 0.6,
        "answering": 0.5,
        "painful": 0.2,
        "quiet": 0.03,
        "walks": (8, 12, 15, 20, 25),
    },
    "mornings only": {"reports": 0.03, "worse": 0.12},
    "flags": {"flag": 0.08, "worse": 0.08, "constant": 0.01, "correct": 0.1, "stop": 0.02},
    "stopped and paused": {"stop": 0.03, "pause": 0.04, "worse": 0.08, "correct": 0.1},
    "never settles": {"worse": 0.98, "worse_by": (2, 2, 3, 4), "answers": 0.85},
    "high pain": {"worse": 0.05, "drift": 0.03, "painful": 0.1},
    "raises do it": {"worse": 0.03, "drift": -0.02, "enrolled": (12, 22), "answers": 1.0, "reports": 1.0},
    "all at once": {
        "answers": 0.8,
        "reports": 0.75,
        "worse": 0.12,
        "constant": 0.02,
        "painful": 0.15,
        "over": 0.12,
        "under": 0.2,
        "extra": 0.5,
        "quiet": 0.03,
        "quiet_days": (1, 30),
        "flag": 0.03,
        "stop": 0.01,
        "pause": 0.02,
        "correct": 0.15,
        "late": 0.12,
        "drift": 0.0,
    },
}


def enrolment(rng: random.Random, kind: str, profile: dict[str, Any]) -> dict[str, Any]:
    step, sets, reps = LADDER[rng.randint(*profile["enrolled"]) if rng.random() < 0.6 else profile["enrolled"][0]]
    walk = rng.choice(profile["walks"])
    low, high = (8, 10) if kind == "high pain" else (3, 8) if kind == "never settles" else (0, 9)
    return {
        "first_steps": rng.randint(low, high),
        "rest_pain": rng.choices(["intermittent", "none", "constant"], [6, 3, 1])[0],
        "active_before": rng.choices(["a little", "moderately", "very"], [3, 3, 1])[0],
        "walk": walk,
        "target": max(walk, rng.choice([30, 30, 20, 40, 45, 60, 12])),
        "step": step,
        "sets": sets,
        "reps": reps,
    }


def amount(rng: random.Random, kind: str, minutes: float) -> dict[str, Any]:
    """An entry of about so many minutes, said in one way or another."""
    entry: dict[str, Any] = {"activity": kind, "minutes": None, "count": None, "steps": None, "km": None}
    way = rng.random()
    if way < 0.65:
        entry["minutes"] = minutes
    elif kind == "stairs" and way < 0.9:
        entry["count"] = max(1, round(minutes * 2))
    elif way < 0.78:
        entry["steps"] = max(1, round(minutes * (160 if kind == "running" else 100)))
    elif way < 0.88:
        entry["km"] = max(0.1, round(minutes / {"running": 6, "cycling": 3}.get(kind, 12), 2))
    return entry


class Patient:
    """Writes one programme while the reference runs along."""

    def __init__(self, rng: random.Random, days: int, kind: str) -> None:
        self.rng, self.days, self.kind = rng, days, kind
        self.profile = {**PLAIN, **PROFILES[kind]}
        self.enrolment = enrolment(rng, kind, self.profile)
        self.reference = Reference(self.enrolment)
        self.level = float(self.enrolment["first_steps"])
        self.constant_left = rng.randint(1, 9) if self.enrolment["rest_pain"] == "constant" else 0
        self.quiet_left = 0
        self.quiet_what = "both"
        self.strained = False
        self.good_left = 0
        self.events: list[dict[str, Any]] = []

    def chance(self, name: str) -> bool:
        return self.rng.random() < self.profile[name]

    def say(self, event: dict[str, Any]) -> None:
        self.events.append(event)
        self.reference.event(event)

    def programme(self) -> dict[str, Any]:
        days = []
        for _ in range(self.days):
            self.events = []
            self.reference.begin_day()
            self.day()
            self.reference.end_day()
            days.append({"events": self.events})
        return {"enrolment": self.enrolment, "days": days}

    def day(self) -> None:
        rng = self.rng
        self.level = min(10.0, max(0.0, self.level + self.profile["drift"] + rng.uniform(-0.15, 0.15)))
        if self.quiet_left:
            self.quiet_left -= 1
        elif self.chance("quiet"):
            self.quiet_left = rng.randint(*self.profile["quiet_days"])
            self.quiet_what = rng.choice(["both", "both", "mornings", "evenings"])
        if self.constant_left:
            self.constant_left -= 1
        elif self.chance("constant"):
            self.constant_left = rng.randint(1, 10)
        no_morning = self.quiet_left and self.quiet_what != "evenings"
        no_evening = self.quiet_left and self.quiet_what != "mornings"

        self.clinician()
        if self.chance("late"):
            self.say({"evening_yesterday": self.evening(yesterday=True)})
        if self.chance("flag") and rng.random() < 0.4:
            self.flag()
        morning = not no_morning and self.chance("answers")
        evening = not no_evening and self.chance("reports")
        if morning and rng.random() < 0.97:
            self.say({"morning": self.morning()})
        self.strained = False
        if self.chance("correct"):
            self.say({"morning": self.correction()})
        if self.chance("late") and rng.random() < 0.3:
            self.say({"evening_yesterday": self.evening(yesterday=True)})
        if self.chance("flag") and rng.random() < 0.5:
            self.flag()
        if evening:
            self.say({"evening": self.evening()})
            if rng.random() < 0.08 + self.profile["correct"] / 2:
                self.say({"evening": self.evening()})
        if self.chance("flag"):
            self.flag()
        if self.profile["flag"] and self.reference.open_flags and rng.random() < 0.25:
            self.say({"clear": True})
            if rng.random() < 0.4:
                self.say({"morning": self.morning()})
        if self.chance("correct") and rng.random() < 0.4:
            self.say({"morning": self.correction()})

    def clinician(self) -> None:
        rng = self.rng
        if self.reference.open_flags and rng.random() < 0.35:
            self.say({"clear": True})
        if self.reference.loading_stopped:
            if rng.random() < 0.3:
                self.say({"allow_loading": True})
        elif self.chance("stop"):
            if rng.random() < 0.5:
                self.say({"stop_loading": True})
            else:  # after the morning
                self.say({"morning": self.morning()})
                self.say({"stop_loading": True})
                if rng.random() < 0.4:
                    self.say({"allow_loading": True})
        if self.chance("pause"):
            self.say({"pause_until": self.reference.today + rng.randint(0, 12)})
        elif self.profile["pause"] and rng.random() < 0.03:
            self.say({"resume": True})

    def flag(self) -> None:
        code = self.rng.choice(FLAGS)
        score = self.rng.choice([None, 9, 9, 10]) if code == "severe_pain" else None
        self.say({"flag": code, "score": score})

    def morning(self) -> dict[str, Any]:
        rng = self.rng
        if self.constant_left:
            f = rng.choice([None, round(self.level) + rng.randint(0, 3), 5, 6])
            r = None if rng.random() < 0.1 and f is not None else "constant"
            return {"f": f if f is None else min(10, f), "r": r}
        reference = self.reference.reference(self.reference.today)
        went_up = self.reference.days[-2].get("went_up")
        if self.kind == "never settles" and reference >= 7 and not self.good_left:
            self.good_left = 20  # better for a while, so that it can get worse again
        self.good_left = max(0, self.good_left - 1)
        if self.good_left:
            f = rng.randint(1, 3)
        elif self.chance("worse") or ((self.strained or went_up) and self.chance("answering")):
            f = reference + rng.choice(self.profile["worse_by"])
        elif self.kind.endswith("improver"):
            f = round(self.level)
        else:
            f = rng.choice([round(self.level), reference, reference, reference - 1, reference + 1])
        r = rng.choices(["intermittent", "none", None], [5, 3, 2])[0]
        if rng.random() < 0.03:
            return {"f": None, "r": r or "none"}
        return {"f": max(0, min(10, f)), "r": r}

    def correction(self) -> dict[str, Any]:
        rng = self.rng
        return {
            "f": rng.choice([None, rng.randint(0, 9), rng.randint(0, 4)]),
            "r": rng.choices([None, "intermittent", "none", "constant"], [5, 3, 2, 0.6])[0],
        }

    def evening(self, yesterday: bool = False) -> dict[str, Any]:
        rng = self.rng
        day = self.reference.days[-2 if yesterday else -1]
        walk, raises = day.get("plan", self.reference.hold_plan_unanswered() if day["n"] else (0, None))
        w: int | None = rng.randint(0, 4) if rng.random() < 0.8 else 5
        if self.chance("painful"):
            w = rng.randint(6, 9)
        elif rng.random() < 0.06:
            w = None
        said: dict[str, Any] = {"w": w, "plan_done": "all", "activities": [], "raises": None}
        if rng.random() < 0.03:
            return {**said, "plan_done": None}  # worst pain alone, or nothing
        entries: list[dict[str, Any]] = []
        if self.chance("under"):
            said["plan_done"] = rng.choice(self.profile["under_as"])
            if said["plan_done"] != "none" and rng.random() < 0.4:
                entries.append(amount(rng, "walking", rng.choice([0.8 * walk, 0.5 * walk, 1.5, walk]) or 4.0))
            if said["plan_done"] is None or (said["plan_done"] == "some" and rng.random() < 0.4):
                said["raises"] = {
                    "sets": rng.choice([1, 2, 3, None]),
                    "reps": rng.choice([8, 10, 12, None, 6]),
                }
        elif self.chance("over"):
            self.strained = True
            minutes = rng.choice([1.2 * walk, 1.2 * walk + 0.5, walk + 2, walk + 2.5, 1.5 * walk, 2 * walk + 5])
            entries.append(amount(rng, "walking", round(minutes, 1) or 6.0))
            if rng.random() < 0.2:
                entries.append(amount(rng, "running", rng.choice([1.0, 2.5, 10.0])))
        elif rng.random() < 0.35:
            # The plan, in numbers.
            said["plan_done"] = rng.choice(["all", None])
            if walk:
                entries.append(amount(rng, "walking", rng.choice([walk, walk, 0.8 * walk, walk + 1])))
            if raises and rng.random() < 0.8:
                said["raises"] = {
                    "sets": raises[1],
                    "reps": rng.choice([raises[2], raises[2], None, raises[2] - 2]),
                }
        if self.chance("extra"):
            self.strained = self.strained or rng.random() < 0.5
            for kind in rng.sample(list(FACTORS)[1:], rng.choice([1, 1, 2, 3])):
                entries.append(amount(rng, kind, float(rng.choice([5, 10, 15, 20, 30, 45, 60, 7.5, 120]))))
        said["activities"] = entries
        if yesterday and rng.random() < 0.3:
            said["w"] = None
        return said


def random_programme(rng: random.Random, days: int, kind: str | None = None) -> dict[str, Any]:
    """One random programme of so many days; `kind` is one of PROFILES (by chance if not given)."""
    return Patient(rng, days, kind or rng.choice(list(PROFILES))).programme()


def coverage(programmes: int, seed: int = 1) -> Counter[str]:
    """How often each rule comes up over so many programmes."""
    count: Counter[str] = Counter()
    kinds = list(PROFILES)
    for number in range(programmes):
        rng = random.Random(seed * 1_000_003 + number)
        kind = kinds[number % len(kinds)]
        days = rng.choice([40, 60, 120, 200, 260]) if not kind.endswith("improver") else 320
        patient = Patient(rng, days, kind)
        patient.programme()
        count.update(count_one(patient.reference))
    return count


def count_one(reference: Reference) -> Counter[str]:
    count: Counter[str] = Counter()
    days = reference.days
    for d in range(1, len(days)):
        day, before = days[d], days[d - 1]
        count[f"decision {day['decision']}"] += 1
        count[f"phase {day['phase']}"] += 1
        count[f"phase {day['phase']} under {day['decision']}"] += 1
        count.update(f"notice {notice}" for notice in day["notices"])
        count.update(f"reason {reason}" for reason in day["reasons"])
        count[f"step {day['raises_dose'][0]}"] += 1
        if day["raises_dose"] == LADDER[-1]:
            count["towel 5x8"] += 1
        if day["flare"]:
            count[f"flare {day['flare']['cause']}"] += 1
            count[f"flare with {min(2, len(day['flare']['candidates']))} candidates"] += 1
            lowered = [key for key in ("walk_dose", "raises_dose") if day[key] != before[key]]
            count[f"flare {day['flare']['cause']} changes {' '.join(lowered) or 'nothing'}"] += 1
            if day["flare"]["cause"] == "overdone" and not lowered:
                floor = "nothing_to_lower" in day["notices"]
                count[f"flare overdone, kept: {'at the floor' if floor else 'proven'}"] += 1
            if day["decision"] != "rest":
                count[f"flare on {day['decision']}"] += 1
            if day["gap"] >= 7:
                count["flare in a gap of 7"] += 1
        if day["went_up"]:
            count[f"progress {day['went_up']}"] += 1
        if day["irritable"]:
            count["irritable"] += 1
        for limit in (7, 21, 56):
            if day["gap"] >= limit:
                count[f"gap of {limit}"] += 1
        if day["decision"] == "hold" and day["off"]:
            count["hold while off"] += 1
        if day["raises_dose"][0] in EVERY_SECOND_DAY and day["plan"][0]:
            count[f"every second day: raises {'yes' if day['plan'][1] else 'no'}"] += 1
        if day["decision"] == "stop" and day["shown"][0]:
            count["stop after a plan was shown"] += 1
        if reference.answered(d) and day["r"] is None:
            count["pattern carried"] += 1
        if day["reference_is_real"] and day["reference"] != before.get("reference"):
            count["reference moves"] += 1
    count[f"programmes that end at {STEPS[STEPS.index(days[-1]['raises_dose'][0])]}"] += 1
    return count


if __name__ == "__main__":
    for name, times in sorted(coverage(300).items()):
        print(f"{times:7}  {name}")
