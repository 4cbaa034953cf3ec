"""Invented histories without a database: the real rules, run day by day on a row of scores."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from bot.digest.values import Day, Flag, History
from bot.program.advance import advance
from bot.program.decide import decide
from bot.program.flags import URGENCY_OF
from bot.program.ladder import RaiseDose
from bot.program.load import evening_facts
from bot.program.protocol import DEFAULT
from bot.program.terms import Activity, PlanDone, PriorActivity, RedFlag, RestPattern, Step
from bot.program.values import ActivityAmount, Doses, Enrolment, Evening, Morning, RaisesReported, Today, start

START = date(2026, 1, 5)


def walked(minutes: float, worst: int | None = 3, raises: bool = True) -> Evening:
    """An evening with a walk of so many minutes, and the raises as planned."""
    return Evening(
        worst_pain=worst,
        activities=(ActivityAmount(activity=Activity.WALKING, minutes=minutes),),
        raises=RaisesReported() if raises else None,
    )


def all_done(worst: int | None = 3) -> Evening:
    """An evening with the whole plan done."""
    return Evening(worst_pain=worst, plan_done=PlanDone.ALL)


def lived(
    scores: str,
    *,
    alias: str = "Rowan",
    enrolled: int | None = 5,
    walk: int = 5,
    step: Step = Step.SEATED_BOTH,
    evenings: Mapping[int, Evening] | None = None,
    constant: range = range(0),
    flags: Mapping[RedFlag, tuple[int, int | None]] | None = None,
    prior: PriorActivity = PriorActivity.MODERATELY,
    **columns: Any,
) -> History:
    """A history: a digit a day, "." for no answer ("a" is 10). Evenings are "all done" unless given.

    `flags`: code to the days on which it opened and was cleared.
    """
    days: list[Day] = []
    doses = Doses(walk=walk, raises=RaiseDose(step=step, sets=2, reps=8))
    enrolment = Enrolment(
        first_step_pain=enrolled if enrolled is not None else 5,
        rest_pattern=RestPattern.INTERMITTENT,
        prior_activity=prior,
        doses=doses,
    )
    state = start(enrolment, walk_floor=DEFAULT.walk_floor)
    opened = flags or {}
    for number, score in enumerate(scores.replace(" ", ""), 1):
        pain = None if score == "." else 10 if score == "a" else int(score)
        pattern = RestPattern.CONSTANT if number in constant else RestPattern.INTERMITTENT
        morning = Morning() if pain is None else Morning(first_step_pain=pain, rest_pattern=pattern)
        open_now = tuple(
            code for code, (first, last) in opened.items() if first <= number and (last is None or number < last)
        )
        decision = decide(state, Today(day=number, morning=morning, open_flags=open_now), DEFAULT)
        evening = (evenings or {}).get(number, Evening() if pain is None else all_done())
        facts = evening_facts(evening, decision.plan, decision.shown, DEFAULT)
        days.append(
            Day(
                date=START + timedelta(days=number - 1),
                number=number,
                given_pain=pain,
                answered=decision.answered,
                pain=decision.first_step_pain,
                rest_pattern=decision.rest_pattern,
                reported=evening.reported,
                worst_pain=evening.worst_pain,
                walked=facts.walked if evening.reported else None,
                walk_done=facts.walk_done,
                raises_done=facts.raises_done,
                decision=decision,
            )
        )
        state = advance(state, decision, evening, DEFAULT)
    last = START + timedelta(days=len(days) - 1)
    open_at_end = tuple(code for code, (_, cleared) in opened.items() if cleared is None)
    given: dict[str, Any] = {
        "patient_id": 1,
        "alias": alias,
        "foot": "right",
        "status": "active",
        "until": last if days else START,
        "start": START if days else None,
        "enrolled_pain": enrolled,
        "enrolled_doses": doses,
        "protocol": DEFAULT,
        "days": tuple(days),
        "flags": tuple(
            Flag(
                code=code,
                urgency=URGENCY_OF[code],
                score=None,
                words="as it was said",
                opened=START + timedelta(days=first - 1),
                cleared=None if cleared is None else START + timedelta(days=cleared - 1),
                cleared_by=None if cleared is None else "Dr Vale",
                note=None,
            )
            for code, (first, cleared) in opened.items()
        ),
        "actions": (),
        "sent": frozenset(
            (last - timedelta(days=back), slot) for back in range(min(7, len(days))) for slot in ("morning", "evening")
        ),
        "paused_until": None,
        "loading_stopped": False,
        "quiet": None,
        "next_state": state if days else None,
        "next_day": Today(day=state.day, open_flags=open_at_end) if days else None,
    }
    return History(**(given | columns))
