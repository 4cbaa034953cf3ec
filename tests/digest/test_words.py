"""Every value has words; the patient's picture is plain, careful, and promises nothing."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from enum import StrEnum

import pytest
import textstat

from bot.digest import wording
from bot.digest.attention import Found, Need, in_order
from bot.digest.figures import Why, figures_of
from bot.digest.outlook import Suppose, outlook
from bot.digest.values import Action, History
from bot.program.outcome import Trend
from bot.program.reasons import RULE_OF, Notice, Reason
from bot.program.terms import Activity, Cause, Decision, Phase, RedFlag, RestPattern, Urgency, Variable
from tests.digest.builders import lived
from tests.digest.cases import cases

CASES = cases()


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (Phase, wording.PHASE),
        (Decision, wording.DECISION),
        (Cause, wording.CAUSE),
        (Urgency, wording.URGENCY),
        (RedFlag, wording.FLAG),
        (Notice, wording.NOTICE),
        (Reason, wording.REASON),
        (Why, wording.WHY),
        (RestPattern, wording.REST),
        (Variable, wording.VARIABLE),
        (Activity, wording.ACTIVITY),
    ],
)
def test_every_value_has_words_of_its_own(kind: type[StrEnum], words: dict[StrEnum, str]) -> None:
    assert set(words) == set(kind)
    assert all(text.strip() and "_" not in text for text in words.values())
    assert len(set(words.values())) == len(words)


@pytest.mark.parametrize("need", list(Need))
def test_every_need_is_said_with_its_rule(need: Need) -> None:
    flags = lived("555", flags={RedFlag.SUDDEN_POP: (2, None)}).flags if need.value.endswith("_flag") else ()
    told = wording.need(Found(need=need, day=date(2026, 3, 2), count=9, flags=flags, missing=(Reason.FEW_ANSWERS,)))
    assert re.search(r"\(rules? \d+(\.\d+)?(, \d+)*\)$", told)
    assert "None" not in told


def test_the_needs_have_words_of_their_own() -> None:
    assert len({wording.need(Found(need=each)) for each in Need if not each.value.endswith("_flag")}) == len(Need) - 3


@pytest.mark.parametrize("reason", list(Reason))
def test_every_reason_is_said_with_its_rule(reason: Reason) -> None:
    assert RULE_OF[reason] in wording.reason(reason)


@pytest.mark.parametrize(
    ("slope", "low", "high", "word"),
    [
        (-0.5, -0.8, -0.2, "falling"),
        (0.5, 0.2, 0.8, "rising"),
        (-0.2, -0.5, 0.1, "no clear direction"),
        (-0.2, -0.5, 0.0, "no clear direction"),
        (0.0, 0.0, 0.0, "level"),
    ],
)
def test_a_trend_says_what_its_interval_allows(slope: float, low: float, high: float, word: str) -> None:
    told = wording.trend(Trend(slope=slope, low=low, high=high, mornings=20))
    assert word in told
    assert "-0.0" not in told


def test_an_action_says_who_did_what() -> None:
    day = date(2026, 3, 2)
    assert wording.action(Action(day=day, kind="note", details={"text": "phoned"}, by="Dr Vale")) == (
        'Mon 2 Mar: Dr Vale, note "phoned"'
    )
    assert wording.action(Action(day=day, kind="dose", details={"walk": 8}, by="Dr Vale")) == (
        "Mon 2 Mar: Dr Vale, dose: walk 8"
    )
    cleared = Action(day=day, kind="clear", details={"codes": ["night_pain", "sudden_pop"], "note": ""}, by=None)
    assert wording.action(cleared) == "Mon 2 Mar: the rules, clear: codes night_pain, sudden_pop"


# -- the patient's picture


def spoken(history: History) -> list[str]:
    """What the picture says."""
    return [wording.picture_headline(history), wording.picture_caution(history)]


PICTURES = {
    **CASES,
    "better": lived("7777777 5555555 3333333"),
    "worse": lived("3333333 5555555 6666666"),
    "same": lived("4444444 4444444"),
    "stopped by the clinician": lived("5555555 5555555", loading_stopped=True),
    "half answers only": lived("." * 5),
}


@pytest.mark.parametrize("name", list(PICTURES))
def test_the_picture_reads_at_grade_8_or_easier_and_promises_nothing(name: str) -> None:
    """Flesch-Kincaid by `textstat`, as for all that patients read."""
    for text in spoken(PICTURES[name]):
        assert textstat.flesch_kincaid_grade(text) <= 8, text
        assert not re.search(r"[*_`<>{}#|]|None", text)
        assert not re.search(
            r"\b(guarantee|will heal|will be fine|cured?|healed|for sure|will get better|pain-free|fasciitis)\b", text
        )


def test_the_picture_says_what_it_shows() -> None:
    better, worse, same = (wording.picture_headline(PICTURES[each]) for each in ("better", "worse", "same"))
    assert "less than in your first week. The middle score was 7 then. It was 3" in better
    assert "more than in your first week" in worse
    assert "about as much" in same
    assert "too early" in wording.picture_headline(CASES["a day"])
    assert "no scores from your last 7 days" in wording.picture_headline(CASES["silence"])
    assert wording.picture_headline(CASES["nothing"]) == wording.PICTURE_EMPTY


def test_who_gets_worse_is_sent_to_the_clinician() -> None:
    assert "tell your clinician" in wording.picture_caution(PICTURES["worse"])
    assert "tell your clinician" not in wording.picture_caution(PICTURES["better"])


@pytest.mark.parametrize("name", ["stopped by the clinician", "all flags and a long alias", "flags all the time"])
def test_nobody_is_praised_or_told_to_keep_to_the_plan_while_loading_is_stopped(name: str) -> None:
    headline, caution = spoken(PICTURES[name])
    assert headline == "Your exercises are on hold for now."
    assert "no exercises until your clinician says so" in caution
    assert "emergency number" in caution
    assert "keep to your plan" not in caution


# -- what the rules will do next


def test_the_outlook_is_what_the_rules_then_decide() -> None:
    """Run one day further with the supposed morning, the rules give the decision that was foretold."""
    for scores in ("3333333", "5555555 5555555", "4444444 8", "3333 ...."):
        ahead = {each.suppose: each for each in outlook(lived(scores))}
        assert {Suppose.CALM, Suppose.HIGH, Suppose.CONSTANT, Suppose.SILENT} == set(ahead)
        constant = ahead.pop(Suppose.CONSTANT)
        days = len(scores.replace(" ", "")) + 1
        then = lived(f"{scores}{constant.pain}", constant=range(days, days + 1)).days[-1].decision
        assert then == constant.decision
        for each in ahead.values():
            then = lived(scores + ("." if each.pain is None else str(each.pain))).days[-1].decision
            assert then == each.decision


def test_while_pain_is_constant_the_outlook_does_not_speak_for_constant_pain() -> None:
    """Any score without constant pain rests; constant pain goes on unloading (rules 3 and 5)."""
    ahead = {each.suppose: each for each in outlook(lived("3333333 777", constant=range(8, 11)))}
    assert ahead[Suppose.ANY].decision.decision is Decision.REST
    assert "pain at rest not constant" in wording.next_step(ahead[Suppose.ANY], date(2026, 1, 15))
    assert ahead[Suppose.CONSTANT].decision.decision is Decision.UNLOAD


def test_under_an_open_flag_every_answer_leads_to_stop() -> None:
    ahead = outlook(lived("5555555", flags={RedFlag.SUDDEN_POP: (6, None)}))
    assert [each.suppose for each in ahead] == [Suppose.ANY, Suppose.SILENT]
    assert all(each.decision.decision is Decision.STOP for each in ahead)
    assert "rules 5, 10" in wording.next_step(ahead[0], date(2026, 1, 12))


def test_without_a_state_nothing_is_foretold() -> None:
    assert outlook(replace(lived("555"), next_state=None)) == ()


# -- a line of the message


@pytest.mark.parametrize("name", list(CASES))
def test_a_line_has_no_hole(name: str) -> None:
    (line,) = in_order([CASES[name]])
    told = wording.patient_line(line)
    assert "None" not in told
    assert "  " not in told
    assert "\n" not in told
    assert wording.overview_row(line)
    assert len(wording.overview_row(line)) == len(wording.OVERVIEW_HEADS)


def test_a_line_has_all_that_a_clinician_asks_for() -> None:
    history = lived("7777777 5555555 4444444", flags={RedFlag.NIGHT_PAIN: (20, None)}, alias="Fern")
    (line,) = in_order([history])
    told = wording.patient_line(line)
    assert told.startswith(
        "Fern, week 3, reparative. First steps 4; last week 5 (1 better, not important); start 7 (3 better,"
    )
    assert "Answered 14 of 14, plan done 5 of 5 days." in told
    assert "OPEN red flag: night pain." in told
    assert figures_of(history).week == 3
