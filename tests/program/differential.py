"""Replays an oracle programme through the rules engine, day by day, event by event."""

from __future__ import annotations

from typing import Any

from bot.program.advance import advance
from bot.program.decide import decide, is_answered
from bot.program.flags import opens
from bot.program.ladder import RaiseDose
from bot.program.load import activity_loads, total_load
from bot.program.protocol import DEFAULT
from bot.program.reports import merged_evening, merged_morning
from bot.program.rounding import one_decimal
from bot.program.terms import Activity, Decision, PlanDone, PriorActivity, RedFlag, RestPattern, Step
from bot.program.values import (
    ActivityAmount,
    DayDecision,
    Doses,
    Enrolment,
    Evening,
    Morning,
    RaisesReported,
    State,
    Today,
    start,
)


def _evening(event: dict[str, Any]) -> Evening:
    raises = event.get("raises")
    return Evening(
        worst_pain=event.get("w"),
        plan_done=PlanDone(event["plan_done"]) if event.get("plan_done") else None,
        activities=tuple(
            ActivityAmount(
                activity=Activity(each["activity"]),
                minutes=each.get("minutes"),
                count=each.get("count"),
                steps=each.get("steps"),
                km=each.get("km"),
            )
            for each in event.get("activities") or []
        ),
        raises=None if raises is None else RaisesReported(sets=raises.get("sets"), reps=raises.get("reps")),
    )


class Engine:
    """The engine's side of a comparison: feeds events in their order and keeps what each day came to."""

    def __init__(self, programme: dict[str, Any]) -> None:
        given = programme["enrolment"]
        self.protocol = DEFAULT.changed(walk_target=given["target"])
        enrolment = Enrolment(
            first_step_pain=given["first_steps"],
            rest_pattern=RestPattern(given["rest_pain"]),
            prior_activity=PriorActivity(given["active_before"]),
            doses=Doses(
                walk=given["walk"],
                raises=RaiseDose(step=Step(given["step"]), sets=given["sets"], reps=given["reps"]),
            ),
        )
        self.state = start(enrolment, walk_floor=self.protocol.walk_floor)
        self.previous: tuple[State, DayDecision, Evening] | None = None
        self.flags: dict[RedFlag, int | None] = {}
        self.cleared: list[tuple[int, RedFlag, int | None]] = []
        self.stopped = False
        self.paused_until: int | None = None
        self.days: list[dict[str, Any]] = []

    def _today(self, *, unflagged: bool = False, silent: bool = False) -> Today:
        shown = self.decision.shown if self.decision is not None else self.shown
        return Today(
            day=self.state.day,
            morning=Morning() if silent else self.morning,
            open_flags=() if unflagged else tuple(self.flags),
            loading_stopped=self.stopped and not unflagged,
            paused=self.paused_until is not None and self.paused_until >= self.state.day,
            shown=None if unflagged else shown,
        )

    def _stop_now(self, was_clear: bool) -> None:
        if self.decision is None and was_clear:
            self.shown = decide(self.state, self._today(unflagged=True, silent=True), self.protocol).plan
        self.decision = decide(self.state, self._today(), self.protocol)

    def _flag(self, event: dict[str, Any]) -> None:
        code, score = RedFlag(event["flag"]), event.get("score")
        if code in self.flags:
            known = self.flags[code]
            self.flags[code] = score if known is None else max(known, known if score is None else score)
            return
        if not all(
            opens(
                code,
                score=score,
                days_since_cleared=self.state.day - day,
                cleared_score=cleared_score,
                protocol=self.protocol,
            )
            for day, was, cleared_score in self.cleared
            if was is code
        ):
            return
        was_clear = not self.flags and not self.stopped
        self.flags[code] = score
        self._stop_now(was_clear)

    def _event(self, event: dict[str, Any]) -> None:
        if "morning" in event:
            said = event["morning"]
            if said["f"] is None and said["r"] is None:
                return  # nothing was said of the morning
            pattern = RestPattern(said["r"]) if said["r"] else None
            self.morning = merged_morning(self.morning, Morning(first_step_pain=said["f"], rest_pattern=pattern))
            # A stop waits for an answered morning: clearing a flag and a word in passing do not bring doses back (2.4).
            decided = self.decision is not None and self.decision.decision is not Decision.STOP
            if is_answered(self.state, self.morning, self.protocol) or decided:
                self.decision = decide(self.state, self._today(), self.protocol)
        elif "evening" in event:
            self.evening = merged_evening(self.evening, _evening(event["evening"]))
        elif "evening_yesterday" in event:
            if self.previous is not None:
                state, decision, evening = self.previous
                evening = merged_evening(evening, _evening(event["evening_yesterday"]))
                self.previous = (state, decision, evening)
                self.state = advance(state, decision, evening, self.protocol)
                loads = activity_loads(evening, decision.shown, self.protocol)
                self.days[-1]["load"] = None if loads is None else total_load(loads)
        elif "flag" in event:
            self._flag(event)
        elif "clear" in event:
            self.cleared.extend((self.state.day, code, score) for code, score in self.flags.items())
            self.flags = {}
        elif "stop_loading" in event:
            was_clear = not self.flags and not self.stopped
            self.stopped = True
            self._stop_now(was_clear)
        elif "allow_loading" in event:
            self.stopped = False
        elif "pause_until" in event:
            self.paused_until = event["pause_until"]
        elif "resume" in event:
            self.paused_until = None
        else:
            raise ValueError(f"an event of no known kind: {event}")

    def day(self, events: list[dict[str, Any]]) -> None:
        """Live through one day."""
        self.morning, self.evening = Morning(), Evening()
        self.decision: DayDecision | None = None
        self.shown = None
        for event in events:
            self._event(event)
        decision = self.decision or decide(self.state, self._today(), self.protocol)
        loads = activity_loads(self.evening, decision.shown, self.protocol)
        self.days.append(
            {
                "day": self.state.day,
                "phase": str(decision.phase),
                "decision": str(decision.decision),
                "walk": decision.plan.walk,
                "step": str(decision.plan.step),
                "sets": decision.plan.sets,
                "reps": decision.plan.reps,
                "dose_walk": decision.doses.walk,
                "dose_step": str(decision.doses.raises.step),
                "dose_sets": decision.doses.raises.sets,
                "dose_reps": decision.doses.raises.reps,
                "off": decision.off,
                "irritable": decision.irritable,
                "week": (self.state.day - 1) // 7 + 1,
                "notices": [str(each) for each in decision.notices],
                "reasons": [str(each) for each in decision.reasons],
                "red_flags": sorted(self.flags),
                "flare": None
                if decision.flare is None
                else {"cause": str(decision.flare.cause), "candidates": list(decision.flare.candidates)},
                "reference": None if decision.released else decision.reference,
                "load": None if loads is None else total_load(loads),
                "usual_load": self.state.usual.total,
            }
        )
        self.previous = (self.state, decision, self.evening)
        self.state = advance(self.state, decision, self.evening, self.protocol)


def rounded(programme: dict[str, Any]) -> list[dict[str, Any]]:
    """As `replay`, with loads to one decimal, as the oracle gives them."""
    days = replay(programme)
    for day in days:
        for name in ("load", "usual_load"):
            day[name] = None if day[name] is None else one_decimal(day[name])
    return days


def replay(programme: dict[str, Any]) -> list[dict[str, Any]]:
    """One dict a day, as the engine decides."""
    engine = Engine(programme)
    for day in programme["days"]:
        engine.day(day["events"])
    return engine.days


EXACT = (
    "phase", "decision", "walk", "step", "sets", "reps", "dose_walk", "dose_step", "dose_sets", "dose_reps", "off",
    "irritable", "red_flags", "flare",
)  # fmt: skip


# Of the notices both give; a high reference is told every day by the oracle and once a week by the engine.
NOTICES = {"nothing_to_lower", "irritable", "release", "long_gap_return", "painful_doses"}


def differences(theirs: dict[str, Any], ours: dict[str, Any]) -> list[str]:
    """The names of what two accounts of a day do not agree on."""
    found = [name for name in EXACT if theirs[name] != ours[name]]
    if NOTICES & set(theirs["notices"]) != NOTICES & set(ours["notices"]):
        found.append("notices")
    if ours["reference"] is not None and theirs["reference"] != ours["reference"]:
        found.append("reference")
    for name in ("load", "usual_load"):
        one, other = theirs[name], ours[name]
        # The oracle gives one decimal; the engine's figure is not rounded yet.
        if (one is None) != (other is None) or (one is not None and other is not None and abs(one - other) > 0.051):
            found.append(name)
    return found
