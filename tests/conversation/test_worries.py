"""What is new or worrying, what nobody can read, and several possible signs: none of it is lost, and no plan jumps it."""

from __future__ import annotations

import pytest

from storage import records
from storage.database import open_database
from tests.conversation.room import START, Room

FIRST_STEPS = "first steps hurt this morning"


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


def _buttons(room: Room) -> list[str]:
    return room.keyboards("patient")[-1][1]


# -- "Is anything new or worrying?"


@pytest.mark.parametrize(
    "text", ["4 comes and goes yes", "4, comes and goes, yes", "yes I am worried", "yes", "I am worried"]
)
def test_a_yes_to_the_mornings_last_question_is_asked_about_before_any_plan(room: Room, text: str) -> None:
    reply = room.say(1, "07:10", text)
    assert "What is it?" in reply
    assert "Walk 5" not in reply
    assert "Walk 5" not in room.say(1, "07:11", "plan")
    assert "What is it?" in room.say(1, "07:12", "yes")
    reply = room.say(1, "07:13", "the left shoe rubs")
    assert "passed that on to Dr Vale" in reply
    assert "the left shoe rubs" in room.sent_to("clinician")
    assert ("Walk 5 minutes" in reply) == text.startswith("4")
    assert (FIRST_STEPS in reply) != text.startswith("4")


def test_what_worries_told_in_the_same_message_is_passed_on_with_the_plan(room: Room) -> None:
    reply = room.say(1, "07:10", "4, comes and goes and yes, my landlord wants to know about the stairs")
    assert "passed that on to Dr Vale" in reply
    assert "landlord" in room.sent_to("clinician")
    assert "Walk 5 minutes" in reply


def test_a_no_after_all_brings_the_plan_and_nothing_to_the_clinician(room: Room) -> None:
    room.say(1, "07:10", "4, comes and goes, yes")
    reply = room.say(1, "07:11", "no")
    assert "nothing new then" in reply
    assert "Walk 5 minutes" in reply
    assert room.sent_to("clinician") == ""


def test_nothing_new_as_a_message_of_its_own_is_understood(room: Room) -> None:
    room.say(1, "07:10", "4, comes and goes")
    assert "nothing new then" in room.say(1, "07:12", "nothing new")
    assert room.sent_to("clinician") == ""


def test_nothing_new_denies_no_sign_that_is_asked_about(room: Room) -> None:
    assert "?" in room.say(1, "07:10", "4, comes and goes, my foot feels a bit odd")
    assert "nothing new then" not in room.say(1, "07:11", "nothing new")


def test_a_sign_in_the_answer_opens_its_flag(room: Room) -> None:
    room.say(1, "07:10", "4, comes and goes, yes")
    assert "urgent care today" in room.say(1, "07:11", "my calf is swollen and hot")
    assert room.open_flags() == ["clot_signs"]


@pytest.mark.parametrize(
    "text",
    ["4, comes and goes, no", "5 comes and goes no", "4, yes it comes and goes", "yes, it comes and goes, 4",
     "4, comes and goes, nothing worrying", "4, on and off, not worried"],
)  # fmt: skip
def test_a_no_and_a_yes_to_another_question_bring_the_plan(room: Room, text: str) -> None:
    assert "Walk 5 minutes" in room.say(1, "07:10", text)


def test_a_yes_that_is_not_explained_is_asked_about_the_next_morning_without_a_plan(room: Room) -> None:
    room.say(1, "07:10", "4, comes and goes, yes")
    prompts = [text for _, text in room.tick_until(room.at(2, "07:01"))]
    assert all("Walk 5" not in text for text in prompts)
    assert "What is it?" in prompts[-1]
    assert FIRST_STEPS in room.say(2, "07:05", "it was only the weather")


def test_a_yes_to_what_else_was_different_asks_what_and_no_to_it_ends_it(room: Room) -> None:
    room.say(1, "07:10", "3, on and off")
    assert "other shoes" in room.say(2, "07:10", "7, on and off")
    assert "name it" in room.say(2, "07:11", "yes")
    assert "kept that" in room.say(2, "07:12", "new shoes")
    assert room.sent_to("clinician") == ""


# -- what nobody can read


@pytest.mark.parametrize(
    "text", ["should I see a doctor?", "can I take ibuprofen", "I'd like to speak to Dr Vale", "OMG it is so bad"]
)
def test_a_question_distress_and_a_wish_for_a_person_can_be_passed_on(room: Room, text: str) -> None:
    room.say(1, "07:10", "4, on and off")
    reply = room.say(1, "12:00", text)
    assert "Shall I pass it on to Dr Vale?" in reply
    assert "emergency number" in reply
    assert _buttons(room) == ["yes", "no"]
    assert "passed that on to Dr Vale" in room.press(1, "12:01", "yes")
    assert text in room.sent_to("clinician")


def test_a_question_beside_a_check_in_can_be_passed_on_too(room: Room) -> None:
    reply = room.say(1, "07:10", "4, on and off. Can I take ibuprofen?")
    assert "Walk 5 minutes" in reply
    assert "Shall I pass it on to Dr Vale?" in reply
    room.press(1, "07:11", "yes")
    assert "ibuprofen" in room.sent_to("clinician")
    assert "pass it on" not in room.say(2, "07:10", "4, on and off. can I walk today?")


def test_the_second_unread_message_in_a_row_is_offered_with_the_first(room: Room) -> None:
    assert "did not get that" in room.say(1, "07:10", "lorem ipsum")
    assert "Shall I pass it on" in room.say(1, "07:11", "dolor sit amet")
    room.say(1, "07:12", "yes")
    assert "lorem ipsum\ndolor sit amet" in room.sent_to("clinician")


def test_a_check_in_between_two_unread_messages_begins_the_count_anew(room: Room) -> None:
    room.say(1, "07:10", "lorem ipsum")
    room.say(1, "07:11", "4, on and off")
    assert "did not get that" in room.say(1, "07:12", "dolor sit amet")


def test_no_to_the_offer_passes_nothing_on_and_a_check_in_instead_is_one(room: Room) -> None:
    room.say(1, "07:10", "can I take ibuprofen")
    assert "did not pass it on" in room.say(1, "07:11", "no")
    room.say(1, "07:12", "can I take ibuprofen")
    assert "Walk 5 minutes" in room.say(1, "07:13", "4, on and off")
    assert room.sent_to("clinician") == ""


def test_a_yes_to_an_offer_of_hours_ago_passes_nothing_on(room: Room) -> None:
    room.say(1, "12:00", "can I take ibuprofen")
    room.say(1, "19:35", "yes")
    assert room.sent_to("clinician") == ""


def test_a_sign_beside_the_yes_counts(room: Room) -> None:
    room.say(1, "12:00", "should I see a doctor?")
    room.say(1, "12:01", "yes, my calf is swollen and hot")
    assert room.open_flags() == ["clot_signs"]


def test_with_a_flag_open_what_cannot_be_read_goes_to_the_clinician_at_once(room: Room) -> None:
    room.say(1, "07:10", "my foot is numb")
    reply = room.say(1, "07:20", "dolor sit amet, lorem")
    assert "No exercises" in reply
    assert "passed your words on to Dr Vale" in reply
    assert "dolor sit amet, lorem" in room.sent_to("clinician")
    assert "No exercises" in room.say(1, "07:21", "yes")
    assert room.sent_to("clinician") == "", "a bare yes tells nobody anything"


# -- an open question about a sign


def _in_doubt(room: Room, *codes: str) -> None:
    """After a morning answer these signs are possible, and the first of them has been asked about."""
    room.say(1, "07:10", "4, on and off")
    waiting = [{"code": code, "words": "odd", "score": None} for code in codes]
    room.set(dialogue=room.get().dialogue | {"flag_question": waiting})


def test_a_second_possible_sign_is_asked_after_the_first(room: Room) -> None:
    _in_doubt(room, "nerve_signs", "new_injury")
    second = room.say(1, "07:11", "yes")
    assert room.open_flags() == ["nerve_signs"], "the yes was for the one that was asked"
    assert "Did you fall" in second
    assert "Walk 5" not in room.say(1, "07:12", "no")
    assert room.open_flags() == ["nerve_signs"]


def test_after_two_noes_the_plan_comes(room: Room) -> None:
    _in_doubt(room, "nerve_signs", "new_injury")
    reply = room.say(1, "07:11", "no")
    assert "Did you fall" in reply
    assert "Walk 5" not in reply
    assert "Walk 5 minutes" in room.say(1, "07:12", "no")
    assert room.open_flags() == []


def test_the_score_and_the_no_in_one_message_answer_both(room: Room) -> None:
    _in_doubt(room, "nerve_signs")
    reply = room.say(1, "07:11", "5 comes and goes, no")
    assert "Noted: first steps 5" in reply
    assert "Walk 5 minutes" in reply


def test_a_sign_beside_the_yes_opens_too(room: Room) -> None:
    _in_doubt(room, "nerve_signs")
    room.say(1, "07:11", "yes and my calf is swollen and hot")
    assert sorted(room.open_flags()) == ["clot_signs", "nerve_signs"]


def test_free_text_beside_the_question_reaches_the_clinician_when_the_flag_opens(room: Room) -> None:
    _in_doubt(room, "nerve_signs")
    assert "yes or no" in room.say(1, "07:11", "lorem ipsum")
    room.say(1, "07:12", "yes")
    assert "lorem ipsum" in room.sent_to("clinician")


def test_the_next_prompts_ask_only_that_with_yes_and_no_only(room: Room) -> None:
    room.set(dialogue={"flag_question": [{"code": "nerve_signs", "words": "odd", "score": None}]})
    for day, clock in ((1, "19:31"), (2, "07:01")):
        prompts = room.tick_until(room.at(day, clock))
        assert prompts[-1][1].endswith("yes or no.")
        assert _buttons(room) == ["yes", "no"]
    assert FIRST_STEPS in room.press(2, "07:05", "no")
    assert _buttons(room)[0] == "0"


def test_a_no_twice_is_not_a_pain_of_0(room: Room) -> None:
    room.set(dialogue={"flag_question": [{"code": "nerve_signs", "words": "odd", "score": None}]})
    assert FIRST_STEPS in room.say(1, "07:11", "no")
    assert FIRST_STEPS in room.say(1, "07:12", "no")
    with room.database.session() as session:
        assert records.morning_of(session, room.patient_id, START).silent


# -- echoes, corrections, buttons


def test_a_misread_nine_is_seen_in_the_reply_to_the_flag(room: Room) -> None:
    reply = room.say(1, "07:10", "9, on and off")
    assert "Contact Dr Vale" in reply
    assert "Noted: first steps 9" in reply


@pytest.mark.parametrize("text", ["actually it was 7", "it was 7 not 4", "7 actually"])
def test_a_later_number_puts_the_check_in_right_and_decides_anew(room: Room, text: str) -> None:
    for day in (1, 2):
        room.say(day, "07:10", "4, on and off")
        room.say(day, "19:40", "all done, worst 3")
    room.say(3, "07:10", "4, on and off")
    reply = room.say(3, "07:20", text)
    assert "first steps 7 instead of 4" in reply
    assert "rest day" in reply


def test_a_correction_that_changes_nothing_says_only_that(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    reply = room.say(1, "07:11", "sorry, I meant 5")
    assert "first steps 5 instead of 4" in reply
    assert "The plan stays. Walk 5 minutes." in reply
    assert len(reply.splitlines()) < 5


@pytest.mark.parametrize("text", ["c", "n", "i", "no", "hm"])
def test_an_unclear_answer_on_rest_is_asked_again_with_its_buttons(room: Room, text: str) -> None:
    room.set(enrolled_rest_pattern=None)
    for day in (1, 2):
        room.tick_until(room.at(day, "19:31"))
    room.say(3, "07:10", "4")
    assert "come and go" in room.sent_to("patient")
    room.say(3, "07:11", text)
    assert _buttons(room) == ["no pain at rest", "comes and goes", "constant"]
    assert "Walk 5" in room.press(3, "07:12", "comes and goes")


def test_yesterdays_evening_told_in_the_morning_is_yesterdays(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(2, "07:10", "worst yesterday 3, all done")
    with room.database.session() as session:
        yesterday = records.evening_of(session, room.patient_id, START)
        today = records.evening_of(session, room.patient_id, START.replace(day=3))
    assert (yesterday.worst_pain, str(yesterday.plan_done)) == (3, "all")
    assert (today.worst_pain, today.plan_done) == (None, None)


def test_more_than_the_plan_is_answered_kindly_once(room: Room) -> None:
    """Rule 2.3: over 1.2 times the walk and over 2 minutes more."""
    room.say(1, "07:10", "4, on and off")
    assert "more than the plan" in room.say(1, "19:40", "walked 20 minutes, worst 3")
    assert "more than the plan" not in room.say(1, "19:41", "walked 21 minutes")
    assert "more than the plan" not in room.say(2, "19:40", "walked 7 minutes, worst 3")


# -- before day 1


def test_before_the_first_day_a_message_is_no_morning(room: Room) -> None:
    reply = room.say(0, "20:00", "5, on and off")
    assert "We start on 2 March 2026" in reply
    assert "Walk" not in reply + room.say(0, "20:01", "plan")
    with room.database.session() as session:
        assert records.morning_of(session, room.patient_id, START).silent
    assert "pass it on" in room.say(0, "20:02", "can I take ibuprofen")
    assert "Walk 5 minutes" in room.say(1, "07:10", "5, on and off")


def test_before_the_first_day_a_sign_counts(room: Room) -> None:
    room.say(0, "20:00", "my calf is swollen and hot")
    assert room.open_flags() == ["clot_signs"]
    assert room.sent_to("clinician")


# -- stop, and the zone


def test_stop_alone_asks_which(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "12:00", "Stop")
    assert "free day" in room.press(1, "12:01", "no exercises today")
    room.say(1, "12:02", "stop")
    assert "Do you want to leave?" in room.press(1, "12:03", "stop the messages")
    room.press(1, "12:04", "no")
    assert room.get().status == "active"


def test_the_patients_own_time_zone(room: Room) -> None:
    assert "Europe/Lisbon" in room.say(1, "12:00", "zone")
    assert "do not know" in room.say(1, "12:01", "zone Atlantis")
    assert "Asia/Tokyo" in room.say(1, "12:02", "zone Asia/Tokyo")
    assert room.get().timezone == "Asia/Tokyo"
    assert room.get().next_due_at == room.at(1, "22:00"), "07:00 in Tokyo"
