"""Who gets in: invitations that are over, used or guessed; strangers learn one sentence; groups learn nothing."""

from __future__ import annotations

import secrets
from datetime import timedelta

import pytest

from bot.conversation.wording import service as words
from tests.channels.running import Person, Running, active, invite_clinician, new_clinician, token_in
from tests.telegram_server import TelegramServer


@pytest.fixture
def vale(service: Running) -> Person:
    """A clinician."""
    return new_clinician(service, 1, "Dr Vale")


def test_an_invitation_lets_one_in_and_nobody_after(service: Running, vale: Person) -> None:
    token = token_in(vale.says("/invite Rowan"))
    rowan, other = Person(service, 2), Person(service, 3)
    assert "check-in bot" in rowan.opens(token)
    assert other.opens(token) == words.stranger()
    assert words.already_joined() in rowan.opens(token), "the same one again: nothing new, no fault"


def test_a_clinicians_invitation_is_single_use_too(service: Running, vale: Person) -> None:
    token = invite_clinician(service, "Dr Ash")
    assert "Dr Ash" in Person(service, 4).opens(token)
    assert Person(service, 5).opens(token) == words.stranger()


def test_an_invitation_is_over_after_seven_days(service: Running, vale: Person) -> None:
    early, late = token_in(vale.says("/invite Rowan")), token_in(vale.says("/invite Briar"))
    service.go_on(days=6, hours=23)
    assert "check-in bot" in Person(service, 2).opens(early)
    service.go_on(hours=1, minutes=1)
    assert Person(service, 3).opens(late) == words.stranger()


def test_a_new_invitation_ends_the_earlier_one(service: Running, vale: Person) -> None:
    first = token_in(vale.says("/invite Rowan"))
    second = token_in(vale.says("/invite Rowan"))
    assert first != second
    assert Person(service, 2).opens(first) == words.stranger()
    assert "check-in bot" in Person(service, 3).opens(second)


def test_strangers_hear_one_sentence_whatever_they_try(service: Running, vale: Person) -> None:
    used = token_in(vale.says("/invite Rowan"))
    Person(service, 2).opens(used)
    tries = [
        "/start",
        "/start " + secrets.token_urlsafe(16),
        f"/start {used}",
        "/caseload",
        "/patient Rowan",
        "hello, is Rowan a patient here?",
        "I have chest pain",
        "/start " + "A" * 64,
        "/seen",
    ]
    for number, text in enumerate(tries):
        assert Person(service, 100 + number).says(text) == words.stranger(), text


def test_what_strangers_send_instead_of_words_is_answered_the_same(service: Running, vale: Person) -> None:
    for number, act in enumerate(("sends_voice", "sends_photo", "sends_sticker", "sends_location")):
        stranger = Person(service, 200 + number)
        getattr(stranger.user, act)()
        service.settle()
        assert stranger.text() == words.stranger(), act


def test_a_flood_of_a_stranger_gets_three_answers_an_hour_and_guesses_end(service: Running, vale: Person) -> None:
    stranger = Person(service, 300)
    heard = [stranger.opens(secrets.token_urlsafe(16)) for _ in range(8)]
    assert heard == [words.stranger()] * 3 + [""] * 5
    good = token_in(vale.says("/invite Rowan"))
    assert stranger.opens(good) == "", "too many guesses: even a good one waits"
    service.go_on(hours=1, minutes=1)
    assert "check-in bot" in stranger.opens(good)


def test_no_token_stays_in_the_database(service: Running, vale: Person) -> None:
    token = token_in(vale.says("/invite Rowan"))
    Person(service, 2).opens(token)
    Person(service, 3).opens(token)
    tables = [name for (name,) in service.rows.all("SELECT name FROM sqlite_master WHERE type = 'table'")]
    assert "outgoing_messages" in tables
    held = [table for table in tables if any(token in str(row) for row in service.rows.all(f'SELECT * FROM "{table}"'))]
    assert held == []


def test_groups_are_ignored(service: Running, server: TelegramServer, vale: Person) -> None:
    rowan = active(service, vale, 2, "Rowan")
    update = {
        "message_id": 900,
        "date": int(server.now()),
        "from": {"id": 2, "is_bot": False, "first_name": "R"},
        "chat": {"id": -100, "type": "group", "title": "Heels"},
        "text": "first steps 9, all the time",
    }
    stored = service.rows.one("SELECT count(*) FROM incoming_messages")
    with server.world.changed:
        server.world._happen(-100, "message", update)
    service.settle()
    assert rowan.text() == ""
    assert service.rows.one("SELECT count(*) FROM incoming_messages") == stored
    assert not [each for each in server.calls() if each.chat_id == -100]


def test_a_patient_has_none_of_a_clinicians_words(service: Running, vale: Person) -> None:
    active(service, vale, 3, "Briar")
    rowan = active(service, vale, 2, "Rowan")
    for text in ("/caseload", "/patient Briar", "/invite Somebody", "/log Briar", "/dose Rowan walk 60", "/seen"):
        heard = rowan.says(text)
        assert "Briar" not in heard, text
        assert "https://" not in heard, text
    assert service.rows.one("SELECT count(*) FROM clinician_actions") == 0
    assert service.rows.one("SELECT count(*) FROM patients") == 2
    assert service.clock() - service.at(0, "10:00") < timedelta(minutes=5)
