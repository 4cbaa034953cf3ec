"""The menus beside the keyboard, within the Bot API's limits, and the labels of the buttons.

Limits: Bot API, BotCommand (command 1-32 characters of a-z, 0-9, _; description 1-256) and setMyCommands (at most 100).
"""

from __future__ import annotations

import re

import pytest

from bot.conversation.desk.commands import GENERAL, OF_A_PATIENT
from bot.conversation.intents import intent_of
from bot.conversation.own_words import message_in
from bot.conversation.prompting import DONE_BUTTONS, PAIN_BUTTONS, REST_BUTTONS
from bot.conversation.wording import asking
from bot.conversation.wording.menus import MENUS
from bot.program.terms import Asked
from bot.reader import read


@pytest.mark.parametrize("role", MENUS)
def test_a_menu_is_within_the_limits(role: str) -> None:
    names = [name for name, _ in MENUS[role]]
    assert len(names) == len(set(names)) <= 100
    for name, what in MENUS[role]:
        assert re.fullmatch(r"[a-z0-9_]{1,32}", name)
        assert 1 <= len(what) <= 256
        assert len(what) <= 45, "one line on a phone"


def test_the_clinicians_menu_has_every_command() -> None:
    assert {f"/{name}" for name, _ in MENUS["clinician"]} == {*GENERAL, *OF_A_PATIENT} - {"/start"}


def test_every_word_of_the_patients_menu_is_understood() -> None:
    apart = {"times", "message", "holiday", "zone"}
    for name, _ in MENUS["patient"]:
        assert name in apart or intent_of(f"/{name}") is not None, name
    assert message_in("/message") == ""


def test_the_patients_help_names_the_whole_menu() -> None:
    words = {"export": "my data"}
    for name, _ in MENUS["patient"]:
        if name != "help":
            assert f'"{words.get(name, name)}' in asking.help_text(), name


def test_what_stands_on_a_button_is_short_and_read_as_what_it_says() -> None:
    for row in (*PAIN_BUTTONS, *REST_BUTTONS, *DONE_BUTTONS):
        assert sum(map(len, row)) <= 30, "a row fits beside each other on a phone"
    pains = [label for row in PAIN_BUTTONS for label in row]
    assert [read(label, Asked.MORNING).first_step_pain for label in pains] == list(range(11))
    assert [read(label, Asked.EVENING).worst_pain for label in pains] == list(range(11))
    rest = [str(read(row[0], Asked.MORNING).rest_pattern) for row in REST_BUTTONS]
    assert rest == ["none", "intermittent", "constant"]
    assert [str(read(label, Asked.EVENING).plan_done) for row in DONE_BUTTONS for label in row] == [
        "all",
        "some",
        "none",
    ]
