"""What people do with a chat: edits, voice notes, pictures, forwards, very long texts, old keyboards."""

from __future__ import annotations

import pytest

from bot.conversation.wording import service as words
from tests.channels.running import Person, Running, active, enrol, new_clinician, token_in
from tests.telegram_server import TelegramServer

LIMIT = 4096
"""Characters of a message: https://core.telegram.org/bots/api#sendmessage"""


@pytest.fixture
def vale(service: Running) -> Person:
    """A clinician."""
    return new_clinician(service, 1, "Dr Vale")


@pytest.fixture
def rowan(service: Running, vale: Person) -> Person:
    """Her patient, on the second day with the morning's keyboard in hand."""
    person = active(service, vale, 2, "Rowan")
    service.go_to(service.at(1, "07:05"))
    vale.new()
    return person


def pains(service: Running) -> list[int]:
    """The first-step pains that count, oldest first."""
    return [row[0] for row in service.rows.all(
        "SELECT first_step_pain FROM morning_reports WHERE withdrawn_at IS NULL AND first_step_pain IS NOT NULL ORDER BY id"
    )]  # fmt: skip


def test_an_edited_answer_is_a_correction(service: Running, rowan: Person) -> None:
    rowan.says("7, comes and goes")
    assert pains(service) == [7]
    assert "first steps 2" in rowan.edits("2, comes and goes")
    assert pains(service) == [2]
    rowan.edits("3, comes and goes")
    assert pains(service) == [3]


def test_an_edit_can_bring_a_warning_sign(service: Running, vale: Person, rowan: Person) -> None:
    rowan.says("2, comes and goes")
    rowan.edits("2, comes and goes. I have chest pain")
    assert "Rowan" in vale.text()
    assert service.rows.one("SELECT count(*) FROM red_flags WHERE cleared_at IS NULL") == 1


def test_what_is_no_text_gets_a_kind_and_useful_answer(service: Running, rowan: Person) -> None:
    rowan.new()
    for act in ("voice", "photo", "sticker", "document", "location"):
        getattr(rowan.user, f"sends_{act}")()
        service.settle()
        assert rowan.text() == f"{words.cannot_read(act)}\n{words.cannot_read_urgent()}"
        assert service.rows.one("SELECT kind FROM incoming_messages ORDER BY id DESC LIMIT 1") == act


def test_the_words_below_a_photo_are_read(service: Running, vale: Person, rowan: Person) -> None:
    rowan.new()
    rowan.user.sends_photo("first steps 6, comes and goes")
    service.settle()
    heard = rowan.text()
    assert words.cannot_read("photo") in heard
    assert "first steps 6" in heard
    rowan.user.sends_photo("the wound is open and there is pus, I have a fever")
    service.settle()
    assert "Rowan" in vale.text()


def test_a_forwarded_message_is_nobodys_answer(service: Running, rowan: Person) -> None:
    rowan.new()
    rowan.user.forwards("first steps 6, all the time")
    service.settle()
    assert rowan.text() == words.forwarded()
    assert pains(service) == []


def test_a_message_of_the_longest_kind_is_kept_whole_and_answered(service: Running, rowan: Person) -> None:
    text = ("first steps 4, comes and goes. " + "It was a long day and nothing much happened. " * 120)[:LIMIT]
    assert len(text) == LIMIT
    assert "first steps 4" in rowan.says(text)
    assert service.rows.one("SELECT max(length(text)) FROM incoming_messages") == LIMIT


def test_a_very_long_message_with_a_warning_sign_at_its_end_reaches_the_clinician(
    service: Running, server: TelegramServer, vale: Person, rowan: Person
) -> None:
    sign = " I have chest pain and cannot breathe."
    rowan.says("The day was fine and long. " * 150 + sign)
    alert = "\n".join(each.text for each in vale.new())
    assert "Rowan" in alert
    assert "chest pain" in alert
    assert all(len(each.text) <= LIMIT for each in server.sent())
    assert not server.refusals()


def test_emoji_count_twice_and_are_still_cut_to_fit(
    service: Running, server: TelegramServer, vale: Person, rowan: Person
) -> None:
    # The Bot API counts UTF-16 code units: https://core.telegram.org/api/entities#entity-length
    rowan.says("message " + "\N{FOOT}" * 4000)
    assert "\N{FOOT}" in vale.text()
    assert not server.refusals()


def test_formats_and_control_characters_arrive_as_they_are(
    service: Running, server: TelegramServer, vale: Person, rowan: Person
) -> None:
    rowan.says("message <b>bold</b> & *stars* _lines_ [link](http://x) </code>\x07\x00 end")
    heard = vale.text()
    assert "<b>bold</b> & *stars* _lines_ [link](http://x) </code>" in heard
    assert not server.refusals()


def test_a_pressed_button_counts_once_and_shows_what_was_answered(service: Running, rowan: Person) -> None:
    keyboard = rowan.question()
    assert "first steps 3" in rowan.presses("3", keyboard)
    assert rowan.notice() == "3"
    shown = next(each for each in rowan.user.received() if each.message_id == keyboard.message_id)
    assert shown.buttons == (("\N{CHECK MARK} 3",),)
    assert rowan.presses("8", keyboard) == "", "a second press of the old picture"
    assert rowan.notice() == words.old_button()
    assert pains(service) == [3]
    assert rowan.presses("\N{CHECK MARK} 3", shown) == ""
    assert pains(service) == [3]


def test_a_double_press_counts_once(service: Running, rowan: Person) -> None:
    keyboard = rowan.question()
    rowan.user.presses(keyboard, "3")
    rowan.presses("3", keyboard)
    assert pains(service) == [3]


def test_a_button_of_a_question_answered_in_words_is_over(service: Running, rowan: Person) -> None:
    keyboard = rowan.question()
    rowan.says("5, comes and goes")
    assert rowan.presses("1", keyboard) == ""
    assert rowan.notice() == words.old_button()
    assert pains(service) == [5]


def test_the_mornings_keyboard_does_no_harm_in_the_evening_nor_on_another_day(service: Running, rowan: Person) -> None:
    keyboard = rowan.question()
    service.go_to(service.at(1, "19:31"))
    rowan.new()
    assert rowan.presses("9", keyboard) == ""
    assert rowan.notice() == words.old_button()
    service.go_to(service.at(2, "07:05"))
    rowan.new()
    assert rowan.presses("9", keyboard) == ""
    assert pains(service) == []
    assert service.rows.one("SELECT count(*) FROM evening_reports") == 0


def test_forged_button_data_does_nothing(service: Running, server: TelegramServer, rowan: Person) -> None:
    keyboard = rowan.question()
    rowan.new()
    for data in (
        "",
        "nonsense",
        "999999:0",
        "1:99",
        "-1:0",
        "1:-1",
        "0" * 30 + ":1",
        "\N{ARABIC-INDIC DIGIT ONE}:0",
        "1:0:0",
    ):
        server.ask("press", chat_id=2, message_id=keyboard.message_id, data=data)
        service.settle()
        assert rowan.text() == "", data
    assert pains(service) == []


def test_an_old_press_that_telegram_no_longer_lets_us_answer_still_counts(
    service: Running, server: TelegramServer, rowan: Person
) -> None:
    server.fail_next("answerCallbackQuery", status=400, times=2)
    assert "first steps 3" in rowan.presses("3")
    assert pains(service) == [3]


def test_a_restart_in_the_middle_of_a_dialogue_loses_nothing(service: Running, vale: Person) -> None:
    briar = Person(service, 5)
    briar.opens(token_in(vale.says("/invite Briar")))
    for label in ("yes", "no"):
        briar.presses(label)
    service.restart()
    briar.presses("right")
    service.restart()
    briar.presses("yes")
    briar.says("7:00 and 19:30")
    briar.presses("4")
    service.restart()
    briar.presses("comes and goes")
    assert "3 March 2026" in briar.presses("moderately")
    assert service.rows.one("SELECT foot FROM patients WHERE alias = 'Briar'") == "right"


def test_what_is_written_while_the_service_is_down_is_answered_when_it_is_back(service: Running, rowan: Person) -> None:
    service.stop()
    rowan.user.says("4, comes and goes")
    service.start()
    service.settle()
    assert "first steps 4" in rowan.text()
    assert pains(service) == [4]


def test_enrolment_by_words_alone(service: Running, vale: Person) -> None:
    briar = Person(service, 6)
    briar.opens(token_in(vale.says("/invite Briar")))
    for text in (
        "yes I agree",
        "no, nothing like that",
        "my left one",
        "yes",
        "7.00 and 19.30",
        "about a 4",
        "it comes and goes",
    ):
        briar.says(text)
    assert "3 March 2026" in briar.says("moderately")
    assert enrol(service, vale, 7, "Hazel").chat_id == 7
