"""What a network and Telegram do to a service for months. https://core.telegram.org/bots/api#making-requests"""

from __future__ import annotations

import logging
from collections import Counter
from datetime import datetime, timedelta

import pytest

from bot.conversation.values import Incoming, Pressed
from bot.conversation.wording import service as words
from tests.channels.running import MovingClock, Person, Running, active, new_clinician, running
from tests.telegram_server import TelegramServer


@pytest.fixture
def vale(service: Running) -> Person:
    """A clinician."""
    return new_clinician(service, 1, "Dr Vale")


@pytest.fixture
def rowan(service: Running, vale: Person) -> Person:
    """Her patient, on the second day at noon."""
    person = active(service, vale, 2, "Rowan")
    service.go_to(service.at(1, "12:00"))
    person.new()
    return person


def reports(service: Running) -> int:
    """How many reports were recorded."""
    return int(
        service.rows.one("SELECT (SELECT count(*) FROM morning_reports) + (SELECT count(*) FROM evening_reports)")
    )


def test_an_update_that_comes_again_changes_nothing(service: Running, server: TelegramServer, rowan: Person) -> None:
    assert "first steps 3" in rowan.says("first steps 3, comes and goes")
    assert rowan.said is not None
    for _ in range(3):
        server.redeliver(rowan.said)
        service.settle()
    assert server.deliveries(rowan.said) == 4
    assert rowan.text() == ""
    assert reports(service) == 1


def test_a_button_pressed_once_that_comes_again_counts_once(
    service: Running, server: TelegramServer, rowan: Person
) -> None:
    rowan.presses("3")
    assert rowan.pressed is not None
    server.redeliver(rowan.pressed)
    service.settle()
    assert server.deliveries(rowan.pressed) == 2
    assert rowan.text() == ""
    assert reports(service) == 1


def test_a_429_is_waited_out_as_long_as_it_asks(service: Running, server: TelegramServer, rowan: Person) -> None:
    server.fail_next("sendMessage", status=429, retry_after=7, chat_id=2)
    began = service.clock()
    assert "first steps 3" in rowan.says("first steps 3, comes and goes")
    codes = [each.code for each in server.calls("sendMessage") if each.chat_id == 2][-2:]
    assert codes == [429, 200]
    waited = service.clock() - began
    assert timedelta(seconds=7) <= waited < timedelta(minutes=2), waited


def test_a_429_in_one_chat_does_not_hold_up_another(
    service: Running, server: TelegramServer, vale: Person, rowan: Person
) -> None:
    briar = active(service, vale, 3, "Briar")
    server.fail_next("sendMessage", status=429, retry_after=600, chat_id=2)
    before = server.count_sent(2)
    rowan.user.says("first steps 3, comes and goes")
    briar.user.says("first steps 5, comes and goes")
    server.wait_for(lambda: "first steps 5" in server.text_to(3))
    assert server.count_sent(2) == before
    service.clock.move(timedelta(seconds=601))
    service.settle()
    assert "first steps 3" in rowan.text()


def test_a_server_fault_is_tried_again_with_growing_pauses(
    service: Running, server: TelegramServer, rowan: Person
) -> None:
    status = 502
    server.fail_next("sendMessage", status=status, chat_id=2, times=3, html=True)
    began = service.clock()
    assert "first steps 3" in rowan.says("first steps 3, comes and goes")
    assert [each.code for each in server.calls("sendMessage") if each.chat_id == 2][-4:] == [status] * 3 + [200]
    # 1, 2 and 4 seconds: each pause is twice the one before.
    assert timedelta(seconds=7) <= service.clock() - began < timedelta(minutes=2)


def test_a_connection_that_breaks_before_acceptance_sends_once(
    service: Running, server: TelegramServer, rowan: Person
) -> None:
    server.drop_before_accepting("sendMessage", chat_id=2)
    assert "first steps 3" in rowan.says("first steps 3, comes and goes")
    assert Counter(each.text for each in rowan.user.received()).most_common(1)[0][1] == 1


def test_a_connection_that_breaks_after_acceptance_sends_twice_at_most(
    service: Running, server: TelegramServer, rowan: Person
) -> None:
    server.drop_after_accepting("sendMessage", chat_id=2)
    got = rowan.says("first steps 3, comes and goes")
    assert got.count("first steps 3") == 2, "the Bot API has no key against it: once more is the price of none lost"
    assert rowan.says("thanks").count("You are welcome") == 1
    assert reports(service) == 1


def test_polling_goes_on_after_faults_and_loses_nothing(
    service: Running, server: TelegramServer, rowan: Person
) -> None:
    server.fail_next("getUpdates", status=502, html=True)
    rowan.user.says("first steps 3, comes and goes")
    server.wait_for(lambda: "first steps 3" in server.text_to(2))
    service.settle()
    server.drop_before_accepting("getUpdates")
    rowan.user.says("thanks")
    server.wait_for(lambda: "You are welcome" in server.text_to(2))
    service.settle()
    assert reports(service) == 1


def test_a_blocked_chat_is_marked_told_and_left_alone_until_the_patient_writes(
    service: Running, server: TelegramServer, vale: Person, rowan: Person
) -> None:
    server.block(2, deactivated=True)  # of a deleted account the bot is not told
    rowan.new()
    service.go_to(service.at(1, "19:30"))
    assert "Rowan cannot be reached" in vale.text()
    calls = len([each for each in server.calls("sendMessage") if each.chat_id == 2])
    service.go_to(service.at(3, "20:00"))
    vale.says("/message Rowan are you well?")
    assert len([each for each in server.calls("sendMessage") if each.chat_id == 2]) == calls, "no more tries"
    assert "CANNOT BE REACHED" in vale.says("/caseload")

    server.unblock(2)
    assert "first steps 4" in rowan.says("first steps 4, comes and goes")
    assert "Rowan can be reached again" in vale.text()
    service.go_to(service.at(4, "07:01"))
    assert "Good morning, Rowan" in rowan.text(), "prompts come again"


def test_a_patient_who_blocks_the_bot_is_told_of_at_once(service: Running, vale: Person, rowan: Person) -> None:
    rowan.user.blocks()
    service.settle()
    assert "Rowan cannot be reached" in vale.text()
    service.go_to(service.at(3, "12:00"))
    assert vale.text().count("cannot be reached") == 0, "told once"
    rowan.user.unblocks()
    service.settle()
    rowan.says("hello")
    assert "can be reached again" in vale.text()


def test_a_clinician_who_cannot_be_reached_gets_no_digest_and_is_back_when_writing(
    service: Running, server: TelegramServer, vale: Person, rowan: Person
) -> None:
    vale.user.blocks()
    service.settle()
    calls = len([each for each in server.calls() if each.chat_id == 1])
    service.go_to(service.at(7, "09:00"))
    assert len([each for each in server.calls() if each.chat_id == 1]) == calls
    vale.user.unblocks()
    assert "Rowan" in vale.says("/caseload")


def test_a_message_that_telegram_refuses_does_not_block_the_chat(
    service: Running, server: TelegramServer, rowan: Person, caplog: pytest.LogCaptureFixture
) -> None:
    server.fail_next("sendMessage", status=400, chat_id=2)
    with caplog.at_level(logging.ERROR):
        rowan.says("first steps 3, comes and goes")
    assert "refused" in caplog.text
    assert "first steps" not in caplog.text, "no text in logs"
    assert "You are welcome" in rowan.says("thanks")


def test_a_service_that_starts_before_the_network_waits_for_it(server: TelegramServer, lite_url: str) -> None:
    server.fail_next("getMe", status=502, times=1, html=True)
    with running(server, lite_url) as service:
        assert [each.code for each in server.calls("getMe")] == [502, 200]
        new_clinician(service, 1, "Dr Vale")


def test_prompts_that_an_outage_held_up_for_hours_are_not_sent_as_a_heap(server: TelegramServer, lite_url: str) -> None:
    clock = MovingClock()
    with running(server, lite_url, clock) as service:
        vale = new_clinician(service, 1, "Dr Vale")
        rowan = active(service, vale, 2, "Rowan")
        service.go_to(service.at(1, "06:00"))
        rowan.new()
        service.stop()
        clock.move_to(service.at(4, "11:30"))
        service.start()
        service.tick()
        service.settle()
        assert rowan.text() == "", "the morning prompt of 07:00 is more than 3 hours late"
        service.go_to(service.at(4, "19:31"))
        assert rowan.text().count("Good evening") == 1


def test_a_message_that_meets_a_fault_of_ours_is_kept_told_and_holds_up_nobody(
    service: Running, vale: Person, rowan: Person, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    conversation = service.service.conversation
    handle = conversation.handle

    def faulty(incoming: Incoming, now: datetime) -> Pressed | None:
        if "poison" in incoming.text:
            raise ZeroDivisionError(incoming.text)
        return handle(incoming, now)

    monkeypatch.setattr(conversation, "handle", faulty)
    briar = active(service, vale, 3, "Briar")
    rowan.user.says("poison in my words")
    briar.user.says("thanks")
    service.settle()
    assert rowan.text() == words.failed()
    assert "You are welcome" in briar.text()
    heard = vale.text()
    assert "Rowan" in heard
    assert "poison in my words" in heard
    kept = "SELECT count(*) FROM incoming_messages WHERE kind = 'failed' AND text = 'poison in my words'"
    assert service.rows.one(kept) == 1
    assert not [record for record in caplog.records if "poison" in record.getMessage()]
    assert "You are welcome" in rowan.says("thanks")
