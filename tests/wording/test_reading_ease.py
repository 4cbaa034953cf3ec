"""Every patient message reads at US grade 8 or easier (patient material at 6th-8th grade: common health-literacy guidance).

The score is Flesch-Kincaid by `textstat`, not our own count.
"""

from __future__ import annotations

import inspect
import re

import pytest
import textstat

from bot.conversation.wording import asking, clinic, clinician, enrolment, flags, prompts, service
from tests.wording.catalogue import patient_texts

TEXTS = patient_texts()


def test_the_catalogue_is_not_empty() -> None:
    assert len(TEXTS) > 500
    assert len({text for _, text in TEXTS}) > 300


@pytest.mark.parametrize("text", sorted({text for _, text in TEXTS}))
def test_a_patient_message_reads_at_grade_8_or_easier(text: str) -> None:
    assert textstat.flesch_kincaid_grade(text) <= 8


def test_hard_words_would_be_caught() -> None:
    """The check can fail: the score of a text as no patient should get it."""
    hard = "Discontinue loading activities immediately, considering your persistently elevated symptomatology."
    assert textstat.flesch_kincaid_grade(hard) > 8


@pytest.mark.parametrize(("name", "text"), TEXTS, ids=[name for name, _ in TEXTS])
def test_a_patient_message_is_plain_short_and_promises_nothing(name: str, text: str) -> None:
    assert text == text.strip()
    assert text
    assert not re.search(r"[*_`<>{}#|]|None", text), "no markup, no hole in a template"
    assert max(map(len, text.splitlines())) <= 240, "a line fits on a phone's screen"
    assert len(text) <= 1500
    promised = r"\b(guarantee|will heal|will be fine|cured?|healed|for sure|will get better|pain-free)\b"
    assert not re.search(promised, text, re.IGNORECASE)
    named = r"\b(plantar fasciitis|fasciitis|fracture|thrombosis|tendinopathy|(?<!do )you have an? (?!new))"
    assert not re.search(named, text, re.IGNORECASE), "the bot never diagnoses"


def _said_to_patients() -> set[str]:
    """Every public function of the wording that makes a text for patients."""
    not_theirs = {"clinician_alert", "signs_alert", "invitation_here", "week_of", "day_text"}
    whole = [asking, enrolment, flags, prompts, service]
    found = {
        name
        for module in whole
        for name, each in vars(module).items()
        if inspect.isfunction(each) and each.__module__ == module.__name__ and not name.startswith("_")
    }
    found |= {name for module in (clinic, clinician) for name in vars(module) if name.startswith("tell_")}
    return found - not_theirs


def test_every_text_for_patients_is_in_the_catalogue() -> None:
    named = {name.split()[0] for name, _ in TEXTS}
    assert len(_said_to_patients()) > 60
    assert _said_to_patients() - named == set()
