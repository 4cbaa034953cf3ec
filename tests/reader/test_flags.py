"""Warning signs: recall and false alarms over lines written from how people talk (`flag_lines*.jsonl`).

All of these lines have been built on: they guard what was reached. What the reader does on lines it has never seen is in
DEVELOPERS.md, "How well the reader reads".
"""

from __future__ import annotations

import json
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.program.flags import URGENCY_OF
from bot.program.terms import Asked, RedFlag, Urgency
from bot.reader.flags import _vocabulary, find_flags, listed_in
from bot.reader.second_net import features, log_odds
from bot.reader.sign_spelling import spelt
from bot.reader.triggers import WORD, needs_of
from bot.reader.verdict import Facts, Verdict, anything_open, verdict

VOCABULARY = Path(find_flags.__code__.co_filename).parent / "vocabulary"

LINES: list[dict[str, Any]] = [
    json.loads(line)
    for file in (
        "flag_lines.jsonl",
        "flag_lines_more.jsonl",
        "flag_lines_third.jsonl",
        "flag_lines_fourth.jsonl",
        "flag_lines_fifth.jsonl",
        "flag_lines_sixth.jsonl",
    )
    for line in (Path(__file__).parent / file).read_text(encoding="utf-8").splitlines()
]
URGENT = {
    "chest_or_breathing",
    "bladder_bowel_saddle",
    "self_harm",
    "clot_signs",
    "infection_signs",
    "sudden_pop",
    "cannot_bear_weight",
    "new_injury",
    "circulation_signs",
    "skin_breakdown",
}
"""Emergency and same-day codes (reader's contract, "Red flags")."""


def _sure(text: str, asked: str = "any") -> set[str]:
    return {each.code.value for each in find_flags(text, Asked(asked)) if each.certain}


def _by_words(line: dict[str, Any]) -> bool:
    # Scores of 9 and 10 are read where scores are read.
    return not line["text"].strip().isdigit()


def test_recall_by_line_and_code_is_at_least_97_percent() -> None:
    asked = [(line, code) for line in LINES if _by_words(line) for code in line["red_flags"]]
    missed = [(line["text"], code) for line, code in asked if code not in _sure(line["text"], line["asked"])]
    assert len(asked) > 150
    assert len(missed) <= 0.03 * len(asked), missed


def test_no_urgent_line_goes_without_any_flag() -> None:
    urgent = [line for line in LINES if URGENT & set(line["red_flags"])]
    assert len(urgent) > 100
    assert [line["text"] for line in urgent if not find_flags(line["text"], Asked(line["asked"]))] == []


def test_at_most_3_percent_of_flag_free_lines_raise_one_and_few_ask() -> None:
    free = [line for line in LINES if not line["red_flags"]]
    raised = [line["text"] for line in free if _sure(line["text"], line["asked"])]
    asked = [line["text"] for line in free if find_flags(line["text"], Asked(line["asked"]))]
    assert len(free) > 90
    assert len(raised) <= 0.03 * len(free), raised
    # These lines were written to look like signs; of plain replies far fewer ask.
    assert len(asked) <= 0.08 * len(free), asked


@pytest.mark.parametrize("code", list(RedFlag))
def test_every_code_has_lines_and_most_are_found(code: RedFlag) -> None:
    lines = [line for line in LINES if code in line["red_flags"] and _by_words(line)]
    found = [line for line in lines if code in _sure(line["text"], line["asked"])]
    assert len(lines) >= 7
    assert len(lines) - len(found) <= max(1, 0.03 * len(lines))


@pytest.mark.parametrize(
    ("present", "set_aside"),
    [
        ("my calf is swollen", "my calf is not swollen"),
        ("my toes went numb", "my toes never went numb"),
        ("my foot has gone blue", "my husband's foot has gone blue"),
        ("I fell on the stairs", "I fell on the stairs in 2012, long healed"),
        ("I have a fever", "what if I have a fever"),
        ("my foot is numb", "no fever, swelling or numbness"),
        ("not only sore but my toes are numb", "not numb, not tingling"),
        ("the wife says my foot is grey", "the wife has a grey foot"),
    ],
)
def test_scope_puts_aside_what_is_not_the_patients_own_present(present: str, set_aside: str) -> None:
    assert _sure(present)
    assert not find_flags(set_aside, Asked.ANY)


def test_doubtful_words_are_found_but_not_sure() -> None:
    (finding,) = find_flags("my foot feels a bit odd", Asked.EVENING)
    assert finding.code is RedFlag.NERVE_SIGNS
    assert not finding.certain
    assert finding.words in "my foot feels a bit odd"


@pytest.mark.parametrize(
    "text",
    [
        # Two classes in one clause, in either order, with words between and slips of spelling.
        "the calf on my bad side has got really very swollen",
        "swollen, and hot too, is my left calf",
        "my caalf is swolen",
        "mycalf is swollen",
        # The part of the sentence before.
        "My left calf. Swollen and hot.",
        # An excuse that is itself denied is none.
        "my calf is sore out of nowhere, not from the raises",
        # The sign is in another clause than the denial.
        "no fever, but my calf is swollen",
        "nothing hurts, calf is swollen though",
    ],
)
def test_a_frame_of_words_is_found_however_it_is_said(text: str) -> None:
    assert "clot_signs" in _sure(text)


@pytest.mark.parametrize(
    "text",
    [
        "my calf, and the weather is far too hot for walking",
        "the calf is not at all swollen",
        "my calf hurts from the raises",
        "googled swollen calves, I do not have it",
        "my lad's calf is swollen",
        "I hope my calf never gets swollen",
        "my calf was swollen years ago, fine since",
    ],
)
def test_a_frame_is_put_aside_where_it_is_denied_excused_or_not_the_patients(text: str) -> None:
    assert "clot_signs" not in _sure(text)


@pytest.mark.parametrize(
    ("text", "severe"),
    [
        ("pain 9", True),
        ("pain was a nine out of ten", True),
        ("it got to a 9 on the stairs", True),
        ("9.5/10", True),
        ("nine at rest, pain 9 lying down", True),
        ("pain 8", False),
        ("it was 9 min, pain 3", False),
        ("pain used to be 9, now 3", False),
        ("9 minutes", False),
        ("10 out of 10 for the weather, pain 3", False),
        ("walked 10, pain 3", False),
        ("pain 3 after 10 raises", False),
    ],
)
def test_a_pain_score_of_nine_or_more_is_severe_wherever_it_is_said(text: str, severe: bool) -> None:
    # Reader's contract: "9 or more counts as severe_pain, with or without the word; 8 does not".
    assert ("severe_pain" in _sure(text, "evening")) is severe


def test_each_finding_says_why_it_is_sure_or_not() -> None:
    (sure,) = find_flags("my calf is swollen", Asked.ANY)
    assert sure.why == "sure: calf + swollen ~9 unless clot_ok"
    assert sure.words == "calf is swollen"
    (unsure,) = find_flags("my foot feels a bit odd", Asked.ANY)
    assert unsure.why.startswith("unsure: ")


def test_the_filter_by_words_never_hides_a_phrase() -> None:
    """Every pattern over every line: whatever matches is among those that the filter lets through."""
    triggers = _vocabulary().phrases
    matched = 0
    for line in LINES[::3]:
        text = spelt(line["text"].lower())[0]
        present = set(triggers.present(set(WORD.findall(text))))
        for number in range(len(triggers.patterns)):
            if triggers.compiled(number).search(text):
                matched += 1
                assert number in present, (line["text"], triggers.patterns[number])
    assert matched > 200


@pytest.mark.parametrize(
    ("pattern", "needs"),
    [
        (r"lost control of", [{"lost"}, {"control"}, {"of"}]),
        (r"(?:lost|losing) (?:my )?(?:bladder|bowels?)", [{"lost", "losing"}, {"bladder", "bowel"}]),
        (r"colou?r", [{"colo"}]),
        (r"(?:\w+ ){0,3}numb(?= foot)", [{"numb"}]),
        (r"foot[- ]?drop", [{"foot"}]),
        (r"wet(?:ting)? bed|soil\w+ bed", [{"wet", "soil"}]),
        (r"(?:\w+)?ness", []),
    ],
)
def test_needs_of_a_pattern(pattern: str, needs: list[set[str]]) -> None:
    assert {*needs_of(pattern)} == {*map(frozenset, needs)}


def test_a_pattern_is_looked_for_by_its_rarest_word() -> None:
    assert needs_of("lost the control", frozenset({"control", "the"}))[0] == {"lost"}


@pytest.mark.parametrize(
    ("text", "code", "sure"),
    [
        ("it's swollen", "infection_signs", False),
        ("hot foot", "infection_signs", False),
        ("cold foot", "circulation_signs", False),
        ("my foot is black and blue", "new_injury", False),
        ("did I tear something", "sudden_pop", False),
        ("I feel like giving up", "self_harm", False),
        ("something is off with my calf, should I go to A&E?", "clot_signs", False),
        ("my foot looks odd, never had this before", "infection_signs", False),
        ("woke up 3 times from the pain", "night_pain", True),
        ("My foot has gone a bit numb at the bottom", "nerve_signs", True),
    ],
)
def test_understatements_are_asked_back_at_least(text: str, code: str, sure: bool) -> None:
    found = {each.code.value: each.certain for each in find_flags(text, Asked.ANY)}
    assert found.get(code) is sure, found
    assert "bladder_bowel_saddle" not in found


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("my foot hurts like hell", Asked.ANY),
        ("did 3, was 9 minutes", Asked.EVENING),
        ("walk 9", Asked.EVENING),
        ("worst pain 2", Asked.EVENING),
        ("pain 4 at the first steps, none at rest", Asked.MORNING),
        ("walked 9", Asked.EVENING),
        ("was going to walk 10 but did 5, worst 3", Asked.EVENING),
        ("40 min walk. Answer: yes, 6", Asked.EVENING),
        ("I feel like giving up on the raises", Asked.ANY),
        ("cold feet in bed as usual", Asked.ANY),
        ("Ten out of ten for sleep, two out of ten for heel", Asked.MORNING),
        ("2 in the heel, 10 in the eyelids", Asked.EVENING),
        ("my mate's back is stiff every morning", Asked.ANY),
        ("incontinent for a bit after having my second but that was sorted 10 yrs ago. worst 3", Asked.ANY),
    ],
)
def test_everyday_words_are_no_signs(text: str, asked: Asked) -> None:
    assert find_flags(text, asked) == ()


def test_what_the_lists_do_not_know_is_found_by_the_weight_of_its_words_and_says_so() -> None:
    text = "my late husband is waiting and I would like to go to him with the tablets"
    findings = [each for each in find_flags(text, Asked.ANY) if each.code is RedFlag.SELF_HARM]
    assert findings, "a thought of death in no words of the lists"
    by = listed_in("foot swollen red and hot").by
    odds = dict(log_odds(features(by.tokens), by.all_classes))
    assert max(odds, key=odds.__getitem__) is RedFlag.INFECTION_SIGNS
    assert odds[RedFlag.INFECTION_SIGNS] > 0
    by = listed_in("walked 10 min heel 3").by
    assert max(odds for _, odds in log_odds(features(by.tokens), by.all_classes)) < -2


def _facts(odds: float, *, sentence: float = 0.0, **known: bool) -> Facts:
    plain = dict.fromkeys(("listed", "unsure", "set_aside", "excused", "beside", "any_set_aside", "asks"), False)
    return Facts(log_odds=odds, sentence_odds=sentence, tokens=12, **{"stands": True, **plain, **known})


def test_what_the_lists_are_sure_of_is_asked_back_until_all_else_speaks_against_it() -> None:
    for code in RedFlag:
        assert verdict(code, _facts(0, listed=True)) is Verdict.COUNTS
        assert verdict(code, _facts(-4, sentence=-2, listed=True)) is Verdict.ASKED_BACK
        doubted = verdict(code, _facts(-8, sentence=-7, listed=True, asks=True, beside=True))
        # An emergency is never dropped.
        assert (doubted is Verdict.ASKED_BACK) is (URGENCY_OF[code] is Urgency.EMERGENCY)


def test_what_the_lists_are_unsure_of_is_asked_back_at_least() -> None:
    for code in RedFlag:
        assert verdict(code, _facts(-8, sentence=-7, unsure=True, asks=True)) is Verdict.ASKED_BACK


def test_likely_words_count_less_where_they_are_denied() -> None:
    assert verdict(RedFlag.CLOT_SIGNS, _facts(1)) is Verdict.COUNTS
    denied = {"set_aside": True, "any_set_aside": True, "stands": False}
    assert verdict(RedFlag.CLOT_SIGNS, _facts(1, **denied)) is Verdict.NOT_NAMED
    assert verdict(RedFlag.CLOT_SIGNS, _facts(-5)) is Verdict.NOT_NAMED


def test_what_was_set_aside_is_named_only_where_other_words_speak_clearly_for_it() -> None:
    aside = {"set_aside": True, "any_set_aside": True}
    assert verdict(RedFlag.NEW_INJURY, _facts(4, **aside)) is Verdict.COUNTS
    assert verdict(RedFlag.NEW_INJURY, _facts(-1, **aside)) is Verdict.ASKED_BACK
    assert verdict(RedFlag.NEW_INJURY, _facts(4, **aside, stands=False)) is not Verdict.COUNTS
    # The heaviest words: "shivering so hard" beside a "cup", an everyday reason for a fever (world cup).
    assert "infection_signs" in _sure("I was shivering so hard in the night that the cup rattled in its saucer")


def test_the_third_voice_is_asked_only_where_something_is_open() -> None:
    clot = RedFlag.CLOT_SIGNS
    assert not anything_open({clot: 6.0}, {clot}, {clot})
    assert anything_open({clot: 1.0}, {clot}, {clot})
    assert not anything_open({clot: -6.0}, set(), set())
    assert anything_open({clot: -6.0}, set(), {clot})
    assert anything_open({clot: -1.0}, set(), set())


def test_everyday_messages_raise_no_alarm() -> None:
    """Answers, questions and small talk, written after the weights were learnt and kept from them."""
    messages = (Path(__file__).parent / "everyday_messages.txt").read_text(encoding="utf-8").splitlines()
    found = {text: find_flags(text, Asked.ANY) for text in messages}
    assert [text for text, signs in found.items() if any(each.certain for each in signs)] == []
    assert len([text for text, signs in found.items() if signs]) <= len(messages) / 20


def test_denied_words_weigh_nothing() -> None:
    assert "infection_signs" in _sure("my foot is red and hot and swollen")
    assert not find_flags("my foot is not red, hot or swollen", Asked.ANY)


def test_every_list_of_the_file_is_used() -> None:
    data = tomllib.loads((VOCABULARY / "signs.toml").read_text(encoding="utf-8"))
    frames = [each for code in RedFlag for kind in ("sure", "unsure") for each in data[code].get(kind, [])]
    used = {word for each in frames for word in each.split()}
    used |= {word for code in RedFlag for word in data[code].get("phrases_unless", "").split()}
    lists = {**data["places"], **data["classes"]}
    used |= {each[1:] for words in lists.values() for each in words if each.startswith("@")}
    assert sorted(lists.keys() - used) == []


@pytest.mark.parametrize("word", ["bothered", "numbered", "feeling", "bedding", "would", "fewer", "sweet", "swapped"])
def test_plain_words_are_not_taken_for_misspelt_signs(word: str) -> None:
    assert [each for each in find_flags(f"my foot {word} a bit", Asked.ANY) if "weight of" not in each.why] == []


@settings(max_examples=200, deadline=None)
@given(text=st.text(max_size=2_000), asked=st.sampled_from(list(Asked)))
def test_no_text_raises(text: str, asked: Asked) -> None:
    assert all(isinstance(each.code, RedFlag) for each in find_flags(text, asked))


@pytest.mark.parametrize(
    "part", ["calf foot no ", "not numb, ", "my mum's foot hurts and ", "a", "i have pain ", "if my toes "]
)
def test_time_grows_with_length_not_faster(part: str) -> None:
    def taken(length: int) -> float:
        text = (part * (length // len(part) + 1))[:length]
        # Time of this process only, so that others on the machine do not count.
        start = time.process_time()
        find_flags(text, Asked.ANY)
        return time.process_time() - start

    taken(1_000)
    short, long = min(taken(10_000) for _ in range(3)), min(taken(40_000) for _ in range(3))
    assert long < 14 * short + 0.2
