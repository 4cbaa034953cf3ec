"""The programme's rules a second time: slow, plain, straight from the text, for comparison only.

Nothing here is shared with the rules engine. The whole history is kept in lists and dicts, and
every question ("is a rest going on?", "what is proven?") is answered from the history again, each
time. The numbers in the comments are the numbers of the rules. Minutes are exact fractions, so that
"halves up" and "at least 80 %" are decided without the noise of floating point.

Readings chosen where the text leaves room (the same numbers are used in comments: "reading 3"):

1.  4.3 "no flag is open": the clinician's stop of all loading is no flag, so a flare is seen on a morning
    under it (decision stop all the same) and a stop that comes after the morning leaves its lower dose.
    2.4 undoes these for a red flag only; the lower dose is the careful one.
2.  5.6 "never multiplied": while a gap of 7 or more lasts, a flare takes its 0.6 from the dose as it
    would be without this gap's limits, and the gap's limit is then applied: the lower of the two.
3.  5.6 limits are lowerings that stay after the gap; they happen at the start of the day, before the
    flare, and a red flag does not undo them ("whatever the decision"). They are changes of the dose (6,
    5.8, 7).
4.  5.6 "told at the return": once a gap, on the first answered morning in a gap of 56 or more whose plan
    has doses.
5.  4.6 floor of walking: the lower of 3 and the enrolment's dose (the clinician's own). The floor holds
    for gaps (5.6) and painful doses (5.8) as well. Nothing ever rises because of the floor.
6.  4.6 "nothing to lower": the flare should set something back, and that is at its floor already. A
    proven dose that is the dose in force is "kept", which is no such case.
7.  2.3 "some": judged for walking and raises each for itself (an amount named for one of them leaves the
    other a part done).
8.  4.8: the day of the second flare and the 28 days after it. Told on a flare without which the
    patient would not be irritable today. The two flares need not be neighbours.
9.  10: "for 14 days after clearing" = up to clearing day + 14; any clearing of the last 14 days with a
    number as high counts. The number cleared is the highest added to the open flag.
10. 2.4: a code that is open already changes nothing, and decides nothing.
11. 2.4: a correction after which the morning is not answered any more decides anew too, but never a stop:
    that waits for an answered morning.
12. 4.3 "was not before": the last pattern stated before today (the enrolment's at first).
13. 4.2 "first f answered": of the first answered morning that has an f.
14. 5.4: "those mornings" are before today; a stop breaks the row of rests. The reference that starts
    anew is used from the next day on; the day of the release itself does not count for the lowest.
15. 5.2 "the higher of 5 and the reference less 1" = max(5, reference - 1). "Since pain was last
    constant" goes back to the enrolment where only that was constant.
16. 6 "mornings of the window" = the mornings after its days, so today's is one of them.
17. 3, 6 "last 7 (3, 14) f": of answered mornings that have an f. Remodelling looks at the raises at the
    start of the day.
18. 6 high reference to the clinician: on each answered morning with reference over 5, 14 answered there
    being.
19. 5.8 applies to a hold while off as well; where walking is at its floor the day is held and told all
    the same.
20. 8: stairs: minutes, else flights x 0.5, else steps, else km, else the guess. Hills without an amount
    take the factor of walking when walking has minutes that day (the plan's, if "all" was done, too).
21. 4.7 "yesterday's planned minutes": of the day's last decision, so 0 on a day that became stop.
22. 7: day 1 is the first day of every-second-day raises. Towel doses: 14 calendar days since raises
    changed.
23. Load in the answer is of all reports known in the end (a late one counts); everything that decides
    uses what was known at the time.
24. 2.3/4.4: raises named with neither number on a day that plans none are raises reported (5.6).
25. 4.5: counts "unknown" too, so the third flare lowers walking even if it is unknown.
26. 2.4 plan shown before a decision, from the third silent morning on: none (5.5); none either while the
    phase that an unanswered morning keeps is inflammatory (enrolment with constant pain).
27. 5.8 and 6 count a lowering by 5.7 or by a gap as a change of the dose.

An enrolment at "hops" is not covered: that step is on the clinician's word only.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

Dose = tuple[str, int, int]

# 7, first table. Hops are on the clinician's word only, so they are no part of the ladder.
STEPS = ["seated both", "seated one", "standing both", "up both down one", "standing one", "one on towel"]
LADDER: list[Dose] = [
    (step, sets, reps)
    for step in STEPS
    for sets, reps in ([(3, 12), (4, 10), (5, 8)] if step == "one on towel" else [(2, 8), (3, 8), (3, 10), (3, 12)])
]
EVERY_SECOND_DAY = {"up both down one", "standing one", "one on towel"}

# 8, second table; its order breaks ties (4.7).
FACTORS = {
    "walking": "1",
    "running": "2.1",
    "standing": "0.4",
    "stairs": "1.3",
    "hills": "1.3",
    "carrying": "1.3",
    "gardening": "1",
    "housework": "0.7",
    "dancing": "1.8",
    "sport": "2",
    "jumping": "3",
    "cycling": "0.2",
    "swimming": "0",
    "driving": "0",
    "other": "1",
}


def exact(number: Any) -> Fraction:
    return Fraction(str(number))


def half_up(number: Fraction | int) -> int:
    """2.1: to the nearest whole number, halves up."""
    return (Fraction(number) + Fraction(1, 2)).__floor__()


def one_decimal(number: Fraction | None) -> float | None:
    return None if number is None else half_up(number * 10) / 10


def median(numbers: list[int]) -> int:
    """2.1: a median of an even number of values is rounded halves up too."""
    ordered = sorted(numbers)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return half_up(Fraction(ordered[middle - 1] + ordered[middle], 2))


def rank(dose: Dose) -> int:
    return LADDER.index(dose)


def back_one(dose: Dose) -> Dose:
    """7: one dose back; 4.6: never before the first."""
    return LADDER[max(0, rank(dose) - 1)]


def first_of_step_before(dose: Dose) -> Dose:
    step = STEPS[max(0, STEPS.index(dose[0]) - 1)]
    return next(each for each in LADDER if each[0] == step)


def mean_of_loads(loads: list[Fraction]) -> Fraction:
    """8: exponentially weighted, a = 2 / (7 + 1), started with the first. The list is not empty."""
    usual = loads[0]
    for load in loads[1:]:
        usual = Fraction(1, 4) * load + Fraction(3, 4) * usual
    return usual


class Reference:
    """One patient's programme, fed event by event: `begin_day`, `event`..., `end_day`."""

    def __init__(self, enrolment: dict[str, Any]) -> None:
        self.enrolment = enrolment
        self.first_raises: Dose = (enrolment["step"], enrolment["sets"], enrolment["reps"])
        self.floor = min(3, enrolment["walk"])  # 4.6, reading 5
        # Day 0 stands at index 0, so that days[d] is day d.
        self.days: list[dict[str, Any]] = [
            {
                "n": 0,
                "f": None,
                "r": enrolment["rest_pain"],
                "evening": None,
                "phase": "inflammatory" if enrolment["rest_pain"] == "constant" else "reparative",
                "decision": None,
                "flare": None,
                "walk_dose": enrolment["walk"],
                "walk_without_gap": enrolment["walk"],
                "raises_dose": self.first_raises,
                "off": False,
            }
        ]
        self.open_flags: dict[str, int | None] = {}
        self.severe_cleared: list[tuple[int, int]] = []  # day, number
        self.loading_stopped = False
        self.paused_until = 0

    # --- the day as it comes in -------------------------------------------------------------------

    def begin_day(self) -> None:
        self.days.append(
            {
                "n": len(self.days),
                "f": None,
                "r": None,
                "evening": {"w": None, "plan_done": None, "activities": {}, "raises": None},
                "decision": None,
                "shown": None,
            }
        )

    @property
    def today(self) -> int:
        return len(self.days) - 1

    def event(self, event: dict[str, Any]) -> None:
        d, day = self.today, self.days[-1]
        if "morning" in event:
            said = event["morning"]
            if said["f"] is None and said["r"] is None:
                return
            was_answered = self.answered(d)
            for key in ("f", "r"):  # 2.2: a later answer replaces what it speaks of
                if said[key] is not None:
                    day[key] = said[key]
            if self.answered(d) or (was_answered and day["decision"] != "stop"):  # 2.4, reading 11
                self.decide()
        elif "evening" in event:
            self.hear_evening(d, event["evening"])
        elif "evening_yesterday" in event:
            if d > 1:
                self.hear_evening(d - 1, event["evening_yesterday"])
        elif "flag" in event:
            self.hear_flag(event["flag"], event.get("score"))
        elif "clear" in event:
            if self.open_flags.get("severe_pain") is not None:
                self.severe_cleared.append((d, self.open_flags["severe_pain"]))
            self.open_flags = {}  # 2.4: decides nothing anew
        elif "pause_until" in event:
            self.paused_until = event["pause_until"]
        elif "resume" in event:
            self.paused_until = 0
        elif "stop_loading" in event:
            self.loading_stopped = True
            self.decide()
        elif "allow_loading" in event:
            self.loading_stopped = False
        else:
            raise ValueError(f"unknown event {event}")

    def hear_evening(self, d: int, said: dict[str, Any]) -> None:
        """2.3: of several replies the later replaces the same kind and adds new kinds."""
        evening = self.days[d]["evening"]
        for key in ("w", "plan_done", "raises"):
            if said.get(key) is not None:
                evening[key] = said[key]
        for entry in said.get("activities") or []:
            evening["activities"][entry["activity"]] = entry

    def hear_flag(self, code: str, score: int | None) -> None:
        if code in self.open_flags:  # 10: added to, not opened twice
            if score is not None:
                self.open_flags[code] = max(score, self.open_flags[code] or 0)
            return
        if code == "severe_pain" and score is not None:  # 10, last sentence; reading 9
            for cleared_on, number in self.severe_cleared:
                if self.today - cleared_on <= 14 and score <= number:
                    return
        self.open_flags[code] = score
        self.decide()  # 2.4: becomes stop as soon as a red flag opens

    def end_day(self) -> None:
        if self.days[-1]["decision"] is None:  # 2.4: else at its end
            self.decide()
        self.days[-1]["red_flags"] = sorted(self.open_flags)

    # --- 2.2 morning ------------------------------------------------------------------------------

    def pattern(self, d: int) -> str | None:
        """The rest pattern given or carried."""
        for back in (0, 1, 2):  # carried for at most 2 mornings in a row, silent ones counted
            if d - back >= 0 and self.days[d - back]["r"] is not None:
                return str(self.days[d - back]["r"])
        return None

    def answered(self, d: int) -> bool:
        if d < 1 or d > self.today:
            return False
        day = self.days[d]
        return day["r"] == "constant" or (day["f"] is not None and self.pattern(d) is not None)

    def answered_f(self, last: int) -> list[int]:
        """First-step pains of the answered mornings up to the day `last`, oldest first."""
        days = [self.days[t] for t in range(1, last + 1) if self.answered(t)]
        return [day["f"] for day in days if day["f"] is not None]

    def silent_in_a_row(self, last: int) -> int:
        count = 0
        while last - count >= 1 and not self.answered(last - count):
            count += 1
        return count

    # --- 2.3 evening ------------------------------------------------------------------------------

    def reported(self, d: int) -> bool:
        """Something was said of what was done; worst pain alone is no report."""
        evening = self.days[d]["evening"]
        return bool(evening) and bool(evening["plan_done"] or evening["activities"] or evening["raises"] is not None)

    def plan_of(self, d: int) -> tuple[int, Dose | None]:
        return self.days[d]["plan"]

    def plan_meant_by_all(self, d: int) -> tuple[int, Dose | None]:
        """2.4: on a day that became stop, "all" is the plan shown before."""
        day = self.days[d]
        return day["shown"] if day["decision"] == "stop" else day["plan"]

    def amount(self, entry: dict[str, Any]) -> Fraction | None:
        """8: minutes as said, else from steps, else from kilometres; None where it would be a guess."""
        kind = entry["activity"]
        if entry.get("minutes") is not None:
            return exact(entry["minutes"])
        if kind == "stairs" and entry.get("count") is not None:
            return exact(entry["count"]) / 2
        if entry.get("steps") is not None:
            return exact(entry["steps"]) / (160 if kind == "running" else 100)
        if entry.get("km") is not None:
            return exact(entry["km"]) * {"running": 6, "cycling": 3}.get(kind, 12)
        return None

    def walked(self, d: int) -> Fraction:
        evening = self.days[d]["evening"]
        entry = evening["activities"].get("walking")
        if entry is not None:
            said = self.amount(entry)
            if said is not None:
                return said
        if evening["plan_done"] == "all":
            return Fraction(self.plan_meant_by_all(d)[0])
        return Fraction(0)

    def some_walking(self, d: int) -> bool:
        """Walking is reported at all, also a part of it (4.4, 5.6)."""
        evening = self.days[d]["evening"]
        entry = evening["activities"].get("walking")
        if entry is not None and self.amount(entry) is None:
            return True
        if entry is None and evening["plan_done"] == "some":
            return True  # reading 7
        return self.walked(d) > 0

    def some_raises(self, d: int) -> bool:
        """Raises are reported at all, also a part of them."""
        evening = self.days[d]["evening"]
        named = evening["raises"]
        if named is not None:
            return named["sets"] != 0 and named["reps"] != 0  # reading 24
        if evening["plan_done"] == "some":
            return True
        return evening["plan_done"] == "all" and self.plan_meant_by_all(d)[1] is not None

    def walking_done(self, d: int) -> bool:
        planned = self.plan_of(d)[0]
        return planned > 0 and self.walked(d) * 100 >= planned * 80

    def raises_done(self, d: int) -> bool:
        planned = self.plan_of(d)[1]
        if planned is None:
            return False
        named = self.days[d]["evening"]["raises"]
        if named is None:
            return self.days[d]["evening"]["plan_done"] == "all"
        _, sets, reps = planned
        if named["sets"] is not None or named["reps"] is not None:
            sets = 1 if named["sets"] is None else named["sets"]
            reps = reps if named["reps"] is None else named["reps"]
        return sets * reps * 100 >= planned[1] * planned[2] * 80

    def overdone(self, d: int) -> bool:
        planned = self.plan_of(d)[0]
        run = Fraction(0)
        entry = self.days[d]["evening"]["activities"].get("running")
        if entry is not None:
            run = self.amount(entry) or Fraction(0)  # guessed amounts are left out
        total = self.walked(d) + exact("2.1") * run
        return planned > 0 and total > exact("1.2") * planned and total > planned + 2

    def tolerated(self, variable: str, t: int) -> bool:
        done = self.walking_done(t) if variable == "walking" else self.raises_done(t)
        w = self.days[t]["evening"]["w"]
        return done and w is not None and w <= 5 and self.answered(t + 1) and self.days[t + 1]["flare"] is None

    # --- 8 load -----------------------------------------------------------------------------------

    def loads(self, d: int) -> dict[str, Fraction]:
        """Load by activity of a reported day."""
        evening = self.days[d]["evening"]
        minutes: dict[str, Fraction] = {}
        unsaid_hills = False
        for kind, entry in evening["activities"].items():
            said = self.amount(entry)
            if said is not None:
                minutes[kind] = said
            elif kind == "walking" and evening["plan_done"] == "all":
                minutes[kind] = Fraction(self.plan_meant_by_all(d)[0])
            elif kind == "hills":
                unsaid_hills = True
            else:
                minutes[kind] = Fraction({"standing": 120, "stairs": 1}.get(kind, 15))  # 2 flights = 1 minute
        if "walking" not in evening["activities"] and evening["plan_done"] == "all":
            minutes["walking"] = self.walked(d)
        factors = {kind: exact(factor) for kind, factor in FACTORS.items()}
        if unsaid_hills:
            if minutes.get("walking", 0) > 0:
                factors["walking"] = exact("1.3")
            else:
                minutes["hills"] = Fraction(15)
        return {kind: minutes[kind] * factors[kind] for kind in minutes}

    def load(self, d: int) -> Fraction | None:
        return sum(self.loads(d).values(), Fraction(0)) if self.reported(d) else None

    def usual_load(self, d: int) -> Fraction | None:
        loads = [self.load(t) for t in range(1, d) if self.reported(t)]
        return mean_of_loads(loads) if loads else None

    def usual_of(self, kind: str, d: int) -> Fraction:
        loads = [self.loads(t).get(kind, Fraction(0)) for t in range(1, d) if self.reported(t)]
        return mean_of_loads(loads) if loads else Fraction(0)

    # --- what the past says -----------------------------------------------------------------------

    def last(self, d: int, **wanted: Any) -> int | None:
        """The last day before d whose record has these values."""
        for t in range(d - 1, 0, -1):
            if all(self.days[t].get(key) == value for key, value in wanted.items()):
                return t
        return None

    def last_resume(self, d: int) -> int | None:
        return self.last(d, decision="resume")

    def inflammatory_since_resume(self, d: int) -> bool:
        since = (self.last_resume(d) or 0) + 1
        return any(self.days[t]["phase"] == "inflammatory" for t in range(since, d))

    def rest_goes_on(self, d: int) -> bool:
        """5.3: from a flare or an inflammatory day to the resume."""
        since = (self.last_resume(d) or 0) + 1
        return self.inflammatory_since_resume(d) or any(self.days[t]["flare"] for t in range(since, d))

    def flares(self, d: int) -> list[tuple[int, str]]:
        """(day, cause) of the flares before d."""
        return [(t, self.days[t]["flare"]["cause"]) for t in range(1, d) if self.days[t]["flare"]]

    def irritable(self, d: int, flares: list[tuple[int, str]]) -> bool:
        """4.8, reading 8."""
        days = [t for t, cause in flares if cause != "other"]
        return any(0 < b - a <= 13 and 0 <= d - b <= 28 for a in days for b in days)

    def changed(self, key: str, t: int) -> bool:
        return bool(self.days[t][key] != self.days[t - 1][key])

    def last_change(self, key: str, d: int) -> int:
        """The last day before d on which this dose changed; day 1 counts as one (6)."""
        return max([1] + [t for t in range(1, d) if self.changed(key, t)])

    def reference(self, d: int) -> int:
        """4.2"""
        reference, _ = self.reference_and_whether_real(d)
        return reference

    def reference_and_whether_real(self, d: int) -> tuple[int, bool]:
        release = self.last(d, release=True)
        mornings = []
        oldest = 1
        if release is not None:  # 5.4: starts anew from the last 3 answered mornings
            mornings = self.answered_f(release)[-3:]
            oldest = release + 1
        for t in range(oldest, d):
            day = self.days[t]
            if self.answered(t) and day["f"] is not None:  # 4.1
                calm = day["decision"] in ("resume", "hold", "progress")
                other_flare = day["flare"] is not None and day["flare"]["cause"] in ("other", "unknown")
                if calm or other_flare:
                    mornings.append(day["f"])
        if len(mornings) < 3:
            pain = self.enrolment["first_steps"]
            first = self.answered_f(d)[:1]
            return min(max([pain, *first]), pain + 1), False
        reference = median(mornings[-14:])
        lowest = [self.days[t]["reference"] for t in range(max(oldest, d - 28), d) if self.days[t]["reference_is_real"]]
        if lowest:
            reference = min(reference, min(lowest) + 1)
        return reference, True

    # --- 5.6 gap ----------------------------------------------------------------------------------

    def gap(self, d: int) -> int:
        """Days in a row up to yesterday without a dose done."""
        count = 0
        for t in range(d - 1, 0, -1):
            walk, raises = self.plan_of(t)
            no_doses = walk == 0 and raises is None
            if not (no_doses or not (self.some_walking(t) or self.some_raises(t))):
                break
            count += 1
        return count

    def gap_limits(self, d: int) -> tuple[int, Dose] | None:
        gap = self.gap(d)
        if gap < 7:
            return None
        before = self.days[d - 1 - gap]
        share, raises = exact("0.6"), back_one(before["raises_dose"])
        if gap >= 21:
            share, raises = exact("0.4"), first_of_step_before(before["raises_dose"])
        walk = half_up(share * before["walk_dose"])
        if gap >= 56:
            walk = min(walk, self.enrolment["walk"])
            raises = min(raises, self.first_raises, key=rank)
        return max(walk, self.floor), raises

    # --- 7 every second day -----------------------------------------------------------------------

    def has_raises(self, d: int, dose: Dose, anew: bool) -> bool:
        """Whether day d has raises; `anew`: raises change today, or today is a resume."""
        if dose[0] not in EVERY_SECOND_DAY or anew:
            return True
        return (d - max(self.last_change("raises_dose", d), self.last_resume(d) or 1)) % 2 == 0

    # --- 4 flare ----------------------------------------------------------------------------------

    def is_flare(self, d: int, reference: int) -> bool:
        """4.3"""
        if not self.answered(d) or not any(self.answered(t) for t in range(1, d)):
            return False
        if self.open_flags or self.rest_goes_on(d):
            return False
        if self.pattern(d) == "constant":
            stated_before = [self.days[t]["r"] for t in range(d) if self.days[t]["r"] is not None]
            if stated_before[-1] != "constant":  # reading 12
                return True
        f = self.days[d]["f"]
        if f is None:
            return False
        if f >= 3 and f >= reference + 2:
            return True
        w = self.days[d - 1]["evening"]["w"]
        return w is not None and w > 5 and f > reference

    def candidates(self, d: int) -> list[str]:
        """4.7, of a flare on day d."""
        if not self.reported(d - 1):
            return []
        excesses = []
        for kind, load in self.loads(d - 1).items():
            base = self.usual_of(kind, d - 1)
            if kind == "walking":
                base = max(base, Fraction(self.plan_of(d - 1)[0]))
            excess = load - base
            if excess >= 5 and excess >= base / 4:
                excesses.append((-excess, list(FACTORS).index(kind), kind))
        return [kind for _, _, kind in sorted(excesses)]

    def went_up_last(self, d: int, raises_set_back_today: bool) -> str:
        """4.4: u"""
        u = "walking"
        for t in range(1, d):
            if self.days[t]["went_up"]:
                u = self.days[t]["went_up"]
            if rank(self.days[t]["raises_dose"]) < rank(self.days[t - 1]["raises_dose"]):
                u = "walking"
        return "walking" if raises_set_back_today else u

    def proven(self, variable: str, d: int) -> Any:
        """4.4: the highest dose that was tolerated, it or a higher one, often enough; else None."""
        days = [t for t in range(max(1, d - 27), d - 1) if self.tolerated(variable, t)]
        if variable == "walking":
            doses = [self.plan_of(t)[0] for t in days]
            found = [x for x in doses if sum(y >= x for y in doses) >= 4]
            return max(found, default=None)
        raises: list[Dose] = [self.plan_of(t)[1] for t in days]
        proven = [
            x for x in raises if sum(rank(y) >= rank(x) for y in raises) >= (2 if x[0] in EVERY_SECOND_DAY else 4)
        ]
        return max(proven, key=rank, default=None)

    def cause(self, d: int, u: str, walk: int, raises: Dose, candidates: list[str]) -> tuple[str, str]:
        """4.4: the first row that holds, and what goes back ("walking", "raises" or "kept")."""
        y = d - 1
        if self.overdone(y):
            return "overdone", "walking"
        planned_walk, planned_raises = self.plan_of(y)
        nothing_planned = planned_walk == 0 if u == "walking" else planned_raises is None
        nothing_done = not (self.some_walking(y) if u == "walking" else self.some_raises(y))
        if nothing_planned or (self.reported(y) and nothing_done):
            return ("other" if candidates else "unknown"), "kept"
        proven = self.proven(u, d)
        if proven is not None:
            in_force_proven = walk <= proven if u == "walking" else rank(raises) <= rank(proven)
            if in_force_proven or (u == "walking" and 0 < self.walked(y) <= proven):
                return "other", "kept"
        return "increase", u

    # --- 5 decision -------------------------------------------------------------------------------

    def settled(self, d: int, reference: int, irritable: bool) -> bool:
        """5.2"""
        f = self.days[d]["f"]
        if not self.answered(d) or self.pattern(d) == "constant" or f is None:
            return False
        if not (f <= 2 or f <= reference + (0 if irritable else 1)):
            return False
        if self.inflammatory_since_resume(d):
            constant = [t for t in range(1, d) if self.answered(t) and self.pattern(t) == "constant"]
            since = max(constant, default=0)  # reading 15
            if sum(self.answered(t) for t in range(since + 1, d + 1)) < 2:
                return False
            if f > max(5, reference - 1):
                return False
        return True

    def settled_by_long_rest(self, d: int) -> bool:
        """5.4"""
        rests = 0
        while d - 1 - rests >= 1 and self.days[d - 1 - rests]["decision"] == "rest":
            rests += 1
        mornings = [self.days[t]["f"] for t in range(d - rests + 1, d) if self.answered(t)]
        if rests < 7 or len(mornings) < 3:
            return False
        f = self.days[d]["f"]
        return self.answered(d) and self.pattern(d) != "constant" and f is not None and f <= max(mornings[-3:])

    def painful_doses(self, d: int) -> bool:
        """5.8, on an answered morning."""
        since = self.last_change("walk_dose", d)
        told = [t for t in range(1, d) if self.days[t]["evening"]["w"] is not None][-3:]
        return len(told) == 3 and all(
            t >= since and self.walking_done(t) and self.days[t]["evening"]["w"] > 5 for t in told
        )

    def interval(self, d: int, reference: int, irritable: bool, flares: list[tuple[int, str]]) -> int:
        """6"""
        recent_flare = any(t > d - 14 for t, _ in flares)
        very = self.enrolment["active_before"] == "very"
        return 7 if irritable or recent_flare or very or reference >= 4 else 4

    def days_since_inflammatory(self, d: int) -> int:
        last = self.last(d, phase="inflammatory")
        return 10**6 if last is None else d - last

    def what_goes_up(
        self, d: int, walk: int, raises: Dose, reference: int, irritable: bool, flares: list[tuple[int, str]]
    ) -> tuple[str | None, list[str]]:
        """6: the variable that goes up today, or None and what is missing."""
        interval = self.interval(d, reference, irritable, flares)
        f = self.days[d]["f"]
        if f is None or not self.answered(d):
            return None, ["6 no answer"]
        missing = []
        if d <= self.paused_until:
            missing.append("6 pause")
        # Days since. A dose that changed at the start of today (a gap) changed 0 days ago.
        yesterday = self.days[d - 1]
        changes = [self.last_change("walk_dose", d), self.last_change("raises_dose", d)]
        if walk != yesterday["walk_dose"] or raises != yesterday["raises_dose"]:
            changes.append(d)
        if d - max(changes) < interval:
            missing.append("6 dose changed")
        if self.last_resume(d) is not None and d - self.last_resume(d) < interval:
            missing.append("6 resumed")
        if any(d - t < interval for t, _ in flares):
            missing.append("6 flare")
        release = self.last(d, release=True)
        if release is not None and d - release < 14:
            missing.append("6 release")
        # The window: days d - interval to d - 1, and the mornings after each (reading 16).
        window = [t for t in range(d - interval, d) if t >= 1]
        if sum(self.answered(t + 1) for t in window) * 100 < 70 * interval:
            missing.append("6 answers")
        if any((self.days[t]["evening"]["w"] or 0) > 5 for t in window):
            missing.append("6 worst pain")
        all_f = self.answered_f(d)
        if f > reference + 1 or median(all_f[-3:]) > reference:
            missing.append("6 morning pain")
        if len(all_f) >= 14 and median(all_f[-7:]) > median(all_f[-14:-7]) + 1:
            missing.append("6 week to week")
        if missing:
            return None, missing
        # One variable at a time, in turn.
        progressed = [self.days[t]["went_up"] for t in range(1, d) if self.days[t]["went_up"]]
        turn = ["raises", "walking"] if progressed[-1:] == ["walking"] else ["walking", "raises"]
        at_end = {"walking": walk >= self.enrolment["target"], "raises": raises == LADDER[-1]}
        if all(at_end.values()):
            return None, ["6 at_target"]
        for variable in turn:
            if at_end[variable]:
                continue
            every_second = variable == "raises" and raises[0] in EVERY_SECOND_DAY
            if sum(self.tolerated(variable, t) for t in window) < (2 if every_second else 3):
                missing.append(f"6 {variable} not tolerated")
                continue
            if variable == "walking":
                barred = self.walking_barred(reference)
            else:
                barred = self.raises_barred(d, raises, reference)
            if barred:
                missing.append(f"6 {variable} barred: {barred}")
                continue
            return variable, [f"6 {variable} up", *missing]
        return None, missing

    def walking_barred(self, reference: int) -> str:
        return "reference" if reference > 5 else ""

    def raises_barred(self, d: int, raises: Dose, reference: int) -> str:
        following = LADDER[rank(raises) + 1]
        step = STEPS.index(following[0])
        if step >= STEPS.index("standing one") and (d - 1 < 21 or self.days_since_inflammatory(d) < 21):
            return "21 days"
        if reference > 5 and step > STEPS.index("seated one"):
            return "reference"
        if raises[0] == "one on towel" and d - self.last_change("raises_dose", d) < 14:
            return "14 days on towel"
        return ""

    def hold_plan_unanswered(self) -> tuple[int, Dose | None]:
        """2.4: what hold would give, before the morning is answered."""
        d = self.today
        walk, _, raises = self.start_doses(d)
        kept_off = self.days[d - 1]["off"] or self.days[d - 1]["phase"] == "inflammatory"
        if kept_off or self.silent_in_a_row(d - 1) >= 2:  # reading 26
            return 0, None
        anew = raises != self.days[d - 1]["raises_dose"]
        return walk, raises if self.has_raises(d, raises, anew) else None

    def start_doses(self, d: int) -> tuple[int, int, Dose]:
        """Walking, walking without this gap's limits (reading 2), raises."""
        before = self.days[d - 1]
        limits = self.gap_limits(d)
        if limits is None:
            return before["walk_dose"], before["walk_dose"], before["raises_dose"]
        walk = min(before["walk_dose"], limits[0])
        return walk, before["walk_without_gap"], min(before["raises_dose"], limits[1], key=rank)

    def decide(self) -> None:
        """2.4: decide today, or decide it anew, from the same start."""
        d = self.today
        day, before = self.days[d], self.days[d - 1]
        day["flare"] = None  # what an earlier decision of today found is not looked at
        answered = self.answered(d)
        reference, real = self.reference_and_whether_real(d)
        walk, walk_without_gap, raises = self.start_doses(d)
        reasons: list[str] = []
        notices: list[str] = []
        if walk != before["walk_dose"] or raises != before["raises_dose"]:
            reasons.append("5.6")

        flares = self.flares(d)
        flare = None
        goes_back = "kept"
        u = self.went_up_last(d, rank(raises) < rank(before["raises_dose"]))
        if self.is_flare(d, reference):
            candidates = self.candidates(d)
            cause, goes_back = self.cause(d, u, walk, raises, candidates)
            flare = {"cause": cause, "candidates": candidates}
            flares = [*flares, (d, cause)]
        irritable = self.irritable(d, flares)
        phase = self.phase(d, raises, flares)

        # 5: the first row that holds.
        settled = self.settled(d, reference, irritable)
        release = False
        if not settled and self.settled_by_long_rest(d):
            settled, release = True, True
        rest_goes_on = self.rest_goes_on(d)
        off = before["off"]
        went_up = None
        stopped = bool(self.open_flags) or self.loading_stopped
        anew = raises != before["raises_dose"]
        if stopped:
            decision, off, release = "stop", True, False
            reasons.append("5 stop")
        elif phase == "inflammatory":
            decision, off, release = "unload", True, False
            reasons.append("5 unload")
        elif flare or (rest_goes_on and not settled):
            decision, off, release = "rest", True, False
            reasons.append("5 flare" if flare else "5.3")
        elif off and settled:
            decision, off = "resume", False
            anew = True
            reasons.append("5.4" if release else "5.2")
            limit: Dose = ("standing both", 2, 8)
            if self.inflammatory_since_resume(d) and rank(raises) > rank(limit):  # 5.7
                raises = limit
                reasons.append("5.7")
        else:
            release = False
            decision = "hold"
            if not answered and self.silent_in_a_row(d) >= 3:  # 5.5
                off = True
                reasons.append("5.5")
            elif answered and self.painful_doses(d):  # 5.8
                lower = max(self.floor, min(half_up(exact("0.8") * walk), walk - 1))
                walk = min(walk, lower)
                walk_without_gap = min(walk_without_gap, walk)
                reasons.append("5.8")
                told = [t for t in range(1, d) if "painful_doses" in self.days[t]["notices"]]
                if not told or d - told[-1] >= 7:
                    notices.append("painful_doses")
            elif not off:
                went_up, why = self.what_goes_up(d, walk, raises, reference, irritable, flares)
                reasons += why
                if went_up:
                    decision = "progress"
                if went_up == "walking":
                    walk = min(self.enrolment["target"], walk + min(5, max(1, half_up(exact("0.2") * walk))))
                    walk_without_gap = walk
                if went_up == "raises":
                    raises = LADDER[rank(raises) + 1]
                    anew = True

        # 4.4 to 4.6: what the flare lowers. (No flare is seen while a flag is open, so this is undone then.)
        if flare:
            reasons.append(f"4.4 {flare['cause']}")
            base = Fraction(walk_without_gap)
            y = self.walked(d - 1)
            if 0 < y < base:
                base = y
            less = max(self.floor, half_up(exact("0.6") * base))
            recent = [t for t, cause in flares if cause != "other" and t > d - 14]
            third = flare["cause"] != "other" and len(recent) >= 3
            proven = self.proven("walking", d)
            if third:  # 4.5
                reasons.append("4.5")
                goes_back = "walking"
            if goes_back == "walking":
                kept = proven is not None and not third
                target = proven if kept else less
                if not kept and walk <= self.floor:
                    notices.append("nothing_to_lower")  # 4.6, reading 6
                walk, walk_without_gap = min(walk, target), min(walk_without_gap, target)
            elif goes_back == "raises":
                if rank(raises) == 0:
                    notices.append("nothing_to_lower")
                raises = back_one(raises)

        # The plan of the day.
        plan: tuple[int, Dose | None] = (0, None)
        if not off:
            plan = walk, raises if self.has_raises(d, raises, anew) else None

        if release:
            notices.append("release")
        if flare and irritable and not self.irritable(d, self.flares(d)):  # 4.8, reading 8
            notices.append("irritable")
        gap = self.gap(d)
        if answered and plan[0] > 0 and gap >= 56:  # 5.6, reading 4
            told_in_gap = any("long_gap_return" in self.days[t]["notices"] for t in range(d - gap, d))
            if not told_in_gap:
                notices.append("long_gap_return")
        if answered and reference > 5:  # 6, reading 18
            last_14 = [self.days[t]["f"] for t in range(1, d + 1) if self.answered(t)][-14:]
            if len(last_14) == 14 and not any(f is not None and f <= 5 for f in last_14):
                notices.append("high_reference")

        # 2.4: the plan shown before a stop is what "all" means.
        if decision != "stop":
            day["shown"] = plan
        elif day["decision"] is None:
            day["shown"] = self.hold_plan_unanswered()
        elif day["decision"] != "stop":
            day["shown"] = day["plan"]

        day.update(
            phase=phase,
            decision=decision,
            reasons=reasons,
            notices=sorted(notices),
            plan=plan,
            walk_dose=walk,
            walk_without_gap=walk_without_gap,
            raises_dose=raises,
            off=off,
            flare=flare,
            release=release,
            went_up=went_up,
            reference=reference,
            reference_is_real=real,
            irritable=irritable,
            gap=gap,
        )

    def phase(self, d: int, raises: Dose, flares: list[tuple[int, str]]) -> str:
        """3"""
        if not self.answered(d):
            return str(self.days[d - 1]["phase"])
        if self.pattern(d) == "constant":
            return "inflammatory"
        f = self.answered_f(d)[-7:]
        if (
            d - 1 >= 21
            and self.days_since_inflammatory(d) >= 21
            and not any(t > d - 14 for t, _ in flares)
            and len(f) == 7
            and median(f) <= 2
            and STEPS.index(raises[0]) >= STEPS.index("standing both")
        ):
            return "remodelling"
        return "reparative"

    # --- answer -----------------------------------------------------------------------------------

    def answer(self, d: int) -> dict[str, Any]:
        day = self.days[d]
        walk, raises = day["plan"]
        return {
            "day": d,
            "week": (d - 1) // 7 + 1,  # 2.1
            "phase": day["phase"],
            "decision": day["decision"],
            "reasons": day["reasons"],
            "walk": walk,
            "step": day["raises_dose"][0],
            "sets": raises[1] if raises else 0,
            "reps": raises[2] if raises else 0,
            "dose_walk": day["walk_dose"],
            "dose_step": day["raises_dose"][0],
            "dose_sets": day["raises_dose"][1],
            "dose_reps": day["raises_dose"][2],
            "off": day["off"],
            "flare": day["flare"],
            "reference": day["reference"],
            "irritable": day["irritable"],
            "load": one_decimal(self.load(d)),
            "usual_load": one_decimal(self.usual_load(d)),
            "red_flags": day["red_flags"],
            "notices": day["notices"],
        }


def run(programme: dict[str, Any]) -> list[dict[str, Any]]:
    """The answer of every day, from day 1 to the last."""
    reference = Reference(programme["enrolment"])
    for day in programme["days"]:
        reference.begin_day()
        for event in day["events"]:
            reference.event(event)
        reference.end_day()
    return [reference.answer(d) for d in range(1, len(programme["days"]) + 1)]
