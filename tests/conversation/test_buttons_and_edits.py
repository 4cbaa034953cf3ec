"""Buttons, edited messages, and messages that are no words: none is ever taken for an answer to another question."""

from __future__ import annotations

import pytest
from sqlmodel import select

from bot.program.terms import PlanDone
from bot.program.values import Evening, Morning
from storage import records
from storage.database import Database, open_database
from storage.tables import IncomingMessage
from tests.conversation.room import START, Room

EMERGENCY = "I have chest pain and I can't breathe"


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


@pytest.fixture
def room_on_both(database: Database) -> Room:
    return Room(database)


def _morning(room: Room, day: int = 1) -> Morning:
    with room.database.session() as session:
        return records.morning_of(session, room.patient_id, START.replace(day=START.day + day - 1))


def _evening(room: Room, day: int = 1) -> Evening:
    with room.database.session() as session:
        return records.evening_of(session, room.patient_id, START.replace(day=START.day + day - 1))


def _over(room: Room) -> bool:
    return room.pressed is not None and "over" in room.pressed.note and room.pressed.label is None and room.last == []


# -- buttons


def test_days_by_buttons_only(room_on_both: Room) -> None:
    """The pattern at rest is carried over for two mornings (rule 2.2), then it is asked for."""
    room = room_on_both
    for day in (1, 2):
        assert "Walk 5" in room.press(day, "07:10", "5")
        assert room.pressed is not None
        assert room.pressed.label == "5"
        room.press(day, "19:40", "all done")
        assert "all for today" in room.press(day, "19:41", "3")
        assert (_morning(room, day).first_step_pain, _evening(room, day).worst_pain) == (5, 3)
        assert _evening(room, day).plan_done is PlanDone.ALL
    assert "all the time" in room.press(3, "07:10", "5")
    assert "Walk 5" in room.press(3, "07:11", "comes and goes")
    assert str(_morning(room, 3).rest_pattern) == "intermittent"


def test_the_mornings_button_in_the_evening_is_never_the_worst_pain(room: Room) -> None:
    room.press(1, "19:40", "5")
    assert _over(room), "the evening's question came after it"
    assert (_morning(room), _evening(room)) == (Morning(), Evening())


def test_the_mornings_button_after_the_evening_was_told_early_is_not_the_worst_pain(room: Room) -> None:
    room.say(1, "18:00", "walked 5 min, did the raises")
    room.press(1, "18:01", "8", among=0)
    assert _over(room)
    assert _evening(room).worst_pain is None
    assert _morning(room).first_step_pain is None


def test_the_mornings_button_before_the_evenings_question_is_the_morning(room: Room) -> None:
    room.press(1, "18:00", "5")
    assert _morning(room).first_step_pain == 5
    assert _evening(room).worst_pain is None


def test_yesterdays_button_is_over(room: Room) -> None:
    room.tick_until(room.at(1, "08:00"))
    room.press(2, "06:00", "5")
    assert _over(room)
    assert (_morning(room, 1), _morning(room, 2)) == (Morning(), Morning())


def test_the_evenings_button_counts_until_the_day_is_over_at_four(room: Room) -> None:
    room.tick_until(room.at(2, "03:50"))
    room.press(2, "04:10", "all done")
    assert _over(room), "pressed at dawn it would be taken for today"
    room.press(2, "03:55", "all done")
    assert _evening(room, 1).plan_done is PlanDone.ALL
    assert _evening(room, 2) == Evening()


def test_a_button_pressed_twice_counts_once(room: Room) -> None:
    room.press(1, "07:10", "5")
    room.press(1, "07:10", "5", among=0)
    assert _over(room)
    room.press(1, "07:11", "8", among=0)
    assert _over(room), "another button of the same keyboard"
    assert _morning(room).first_step_pain == 5


def test_a_button_after_the_answer_in_words_is_over(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.press(1, "07:11", "9")
    assert _over(room)
    assert _morning(room).first_step_pain == 4
    assert room.open_flags() == []


def test_a_button_after_words_that_answered_nothing_still_counts(room: Room) -> None:
    room.say(1, "07:10", "plan")
    room.press(1, "07:11", "4")
    assert _morning(room).first_step_pain == 4


def test_an_answer_in_the_evening_is_not_taken_for_what_was_asked_back_in_the_morning(room: Room) -> None:
    """The first steps were asked back at 08:00 and not answered; "3" at 20:00 answers the evening's question."""
    assert "first steps" in room.say(1, "08:00", "comes and goes").casefold()
    room.say(1, "20:00", "3")
    assert _morning(room).first_step_pain is None
    assert _evening(room).worst_pain == 3


def test_what_is_asked_back_in_the_evening_about_the_morning_is_the_morning(room: Room) -> None:
    room.tick_until(room.at(1, "19:31"))
    room.say(1, "20:00", "all done, 2")
    assert "first steps" in room.say(1, "20:05", "this morning the pain at rest came and went").casefold()
    room.say(1, "20:06", "4")
    assert (_morning(room).first_step_pain, _evening(room).worst_pain) == (4, 2)


@pytest.mark.parametrize("data", [(0, 0), (1, 99), (99999, 0)])
def test_a_button_that_never_was_does_nothing(room: Room, data: tuple[int, int]) -> None:
    room.tick_until(room.at(1, "07:05"))
    room.send(1, "07:10", kind="button", button=data)
    assert _over(room)


def test_a_button_of_another_chat_does_nothing(room: Room) -> None:
    room.add_patient("Briar", "briar")
    room.press(1, "07:10", "5", by="briar")
    assert _over(room)
    assert _morning(room).silent


def test_a_redelivered_press_changes_nothing(room: Room) -> None:
    room.tick_until(room.at(1, "07:05"))
    number, labels = room.keyboards("patient")[0]
    for _ in range(2):
        room.send(1, "07:10", kind="button", button=(number, labels.index("5")), update_id="same")
    assert room.last == []
    assert _morning(room).first_step_pain == 5


def test_yes_to_a_warning_sign_by_button_and_not_by_an_older_one(room: Room) -> None:
    room.say(1, "07:09", "leave")
    room.say(1, "07:10", "4, on and off. the foot feels odd")
    room.press(1, "07:11", "yes", among=0)
    assert _over(room), 'the "yes" of another question'
    assert room.open_flags() == []
    assert room.get().status == "active"
    assert "Contact Dr Vale" in room.press(1, "07:12", "yes")
    assert len(room.open_flags()) == 1


def test_a_nine_by_button_is_a_warning_sign(room: Room) -> None:
    assert "Contact Dr Vale" in room.press(1, "07:10", "9")
    assert room.open_flags() == ["severe_pain"]


def test_after_the_end_the_days_button_is_over(room: Room) -> None:
    room.tick_until(room.at(1, "07:05"))
    room.say(1, "08:00", "/end Rowan", "clinician")
    room.press(1, "08:10", "5")
    assert _over(room)


def test_enrolment_by_buttons_and_an_old_one_of_it(room: Room) -> None:
    room.set(status="enrolling", start=None, dialogue={"enrolling": "consent"}, enrolled_first_step_pain=None)
    room.send(1, "10:00", "hm")
    room.send(1, "10:01", "yes")
    room.press(1, "10:02", "no")
    room.press(1, "10:03", "left")
    room.press(1, "10:04", "right")
    assert _over(room)
    room.press(1, "10:05", "yes")
    room.press(1, "10:06", "ok")
    room.press(1, "10:07", "4")
    room.press(1, "10:08", "comes and goes")
    assert "start on" in room.press(1, "10:09", "a little")
    patient = room.get()
    assert (patient.status, patient.foot, patient.enrolled_first_step_pain) == ("active", "left", 4)


def test_an_offer_to_a_clinician_is_over_after_the_next_words(room: Room) -> None:
    room.say(1, "12:00", "/stop Rown", "clinician")
    room.say(1, "12:01", "/caseload", "clinician")
    room.press(1, "12:02", "Yes, Rowan", "clinician")
    assert _over(room)
    assert not room.get().loading_stopped


def test_an_offer_to_a_clinician_is_over_the_next_day(room: Room) -> None:
    room.say(1, "12:00", "/stop Rown", "clinician")
    room.press(2, "12:00", "Yes, Rowan", "clinician")
    assert _over(room)
    assert not room.get().loading_stopped


def test_a_list_to_choose_from_stays_open(room: Room) -> None:
    room.say(1, "12:00", "/caseload", "clinician")
    for clock in ("12:01", "12:02"):
        assert "week 1" in room.press(1, clock, "Rowan", "clinician")


# -- edits


def _say(room: Room, day: int, clock: str, text: str, source_id: str, who: str = "patient") -> str:
    room.tick_until(room.at(day, clock))
    return room.send(day, clock, text, who, source_id=source_id)


def test_an_edited_morning_is_corrected_and_decided_anew(room_on_both: Room) -> None:
    room = room_on_both
    _say(room, 1, "07:10", "8, on and off", "m1")
    assert "first steps 3" in room.edit(1, "07:20", "3, on and off", "m1")
    decided = room.decision(1)
    assert decided is not None
    assert decided.first_step_pain == 3
    assert "first steps 4" in room.edit(1, "07:25", "4, on and off", "m1"), "and once more"
    assert _morning(room).first_step_pain == 4


def test_an_edit_takes_back_what_the_message_no_longer_says(room: Room) -> None:
    _say(room, 1, "20:00", "walked 40 min, all done, worst 7", "e1")
    room.edit(1, "20:05", "all done, worst 3", "e1")
    assert _evening(room).activities == ()
    assert _evening(room).worst_pain == 3


def test_an_edited_morning_in_the_evening_is_still_the_morning(room: Room) -> None:
    _say(room, 1, "07:10", "8, on and off", "m1")
    room.tick_until(room.at(1, "19:45"))
    room.edit(1, "19:50", "3", "m1")
    assert _morning(room).first_step_pain == 3
    assert _evening(room).worst_pain is None


def test_yesterdays_evening_edited_today_is_yesterdays(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    _say(room, 1, "20:00", "all done, worst 2", "e1")
    room.edit(2, "06:30", "walked 30 min, worst 7", "e1")
    assert _evening(room, 1).worst_pain == 7
    assert _evening(room, 2) == Evening()
    assert "longer than the plan" in room.say(2, "07:10", "7, on and off")


def test_an_older_message_is_not_used_and_that_is_said(room: Room) -> None:
    _say(room, 1, "07:10", "4, on and off", "m1")
    assert "cannot use that any more" in room.edit(4, "12:00", "8, on and off", "m1")
    assert _morning(room, 1).first_step_pain == 4
    assert _morning(room, 4).silent


def test_an_old_message_that_was_no_report_does_not_become_one_of_today(room: Room) -> None:
    _say(room, 1, "07:10", "thanks", "m1")
    assert "cannot use that any more" in room.edit(4, "12:00", "8, on and off", "m1")
    assert _morning(room, 4).silent


def test_a_warning_sign_in_an_old_message_counts_and_the_rest_does_not(room: Room) -> None:
    _say(room, 1, "07:10", "4, on and off", "m1")
    assert "emergency number" in room.edit(4, "12:00", f"first steps 8. {EMERGENCY}", "m1")
    assert room.open_flags() == ["chest_or_breathing"]
    assert _morning(room, 4).silent


def test_an_edit_that_says_nothing_leaves_the_answer(room: Room) -> None:
    _say(room, 1, "07:10", "4, on and off", "m1")
    assert "did not get that" in room.edit(1, "07:12", "hmm well", "m1")
    assert _morning(room).first_step_pain == 4


def test_an_edit_does_not_take_a_warning_sign_away(room: Room) -> None:
    _say(room, 1, "07:10", "4, on and off. my foot is numb", "m1")
    reply = room.edit(1, "07:12", "4, on and off", "m1")
    assert room.open_flags() == ["nerve_signs"]
    assert "Walk 5" not in reply


def test_an_edit_does_not_answer_the_question_about_a_sign(room: Room) -> None:
    _say(room, 1, "07:10", "4, on and off. the foot feels odd", "m1")
    reply = room.edit(1, "07:12", "4, on and off", "m1")
    assert "Walk 5" not in reply
    assert "yes or no" in reply
    assert "Walk 5" in room.say(1, "07:13", "no")


def test_an_edit_of_a_message_of_today_that_was_no_report_is_read_now(room: Room) -> None:
    _say(room, 1, "07:10", "hm", "m1")
    assert "Noted: first steps 4" in room.edit(1, "07:12", "4, on and off", "m1")


def test_an_edit_during_enrolment_is_not_used_but_a_sign_in_it_is(room: Room) -> None:
    room.set(status="enrolling", start=None, dialogue={"enrolling": "foot"})
    _say(room, 1, "10:00", "left", "m1")
    assert "new message" in room.edit(1, "10:01", "right", "m1")
    assert room.get().foot == "left"
    assert "emergency number" in room.edit(1, "10:02", EMERGENCY, "m1")
    assert EMERGENCY in room.sent_to("clinician")


def test_a_clinicians_edit_acts_on_nobody(room: Room) -> None:
    _say(room, 1, "12:00", "/note Rowan x", "c1", "clinician")
    assert "new message" in room.edit(1, "12:01", "/stop Rowan", "c1", "clinician")
    assert not room.get().loading_stopped


# -- what is no words


@pytest.mark.parametrize("kind", ["voice", "photo", "sticker", "document", "location", "contact", "other"])
def test_what_cannot_be_read_gets_a_kind_answer_and_says_what_cannot_wait(room: Room, kind: str) -> None:
    reply = room.send(1, "07:10", kind=kind)
    assert "emergency number" in reply
    assert "I " in reply
    assert _morning(room).silent
    assert room.sent_to("clinician") == ""


@pytest.mark.parametrize("kind", ["voice", "photo", "document", "other"])
def test_a_caption_is_read(room: Room, kind: str) -> None:
    reply = room.send(1, "07:10", "4, on and off", kind=kind)
    assert "Noted: first steps 4" in reply


@pytest.mark.parametrize("status", ["active", "enrolling", "ended"])
@pytest.mark.parametrize("kind", ["voice", "photo", "sticker", "forwarded"])
def test_a_warning_sign_in_a_caption_counts_in_every_state(room: Room, kind: str, status: str) -> None:
    columns = {"start": None, "dialogue": {"enrolling": "foot"}} if status == "enrolling" else {}
    room.set(status=status, **columns)
    assert "emergency number" in room.send(1, "07:10", EMERGENCY, kind=kind)
    assert EMERGENCY in room.sent_to("clinician")


def test_a_forwarded_message_is_no_answer_and_numbers_in_it_do_not_count(room: Room) -> None:
    assert "own words" in room.send(1, "07:10", "4, on and off", kind="forwarded")
    assert "Contact Dr Vale" in room.send(1, "07:11", "first steps 7, my foot is numb", kind="forwarded")
    assert _morning(room).silent
    assert room.open_flags() == ["nerve_signs"]


def test_a_forwarded_yes_answers_nothing(room: Room) -> None:
    room.say(1, "07:05", "erase")
    assert "own words" in room.send(1, "07:06", "yes", kind="forwarded")
    assert room.get().status == "active"


def test_a_photo_while_enrolling_leaves_the_question_open(room: Room) -> None:
    room.set(status="enrolling", start=None, dialogue={"enrolling": "foot"})
    assert "cannot see pictures" in room.send(1, "10:00", kind="photo")
    assert room.get().dialogue["enrolling"] == "foot"


def test_every_message_is_stored_as_it_came(room: Room) -> None:
    for kind, text in (("text", "hm"), ("voice", ""), ("photo", "a caption"), ("forwarded", "news")):
        room.send(1, "07:10", text, kind=kind)
    with room.database.session() as session:
        assert [(each.kind, each.text) for each in session.exec(select(IncomingMessage))] == [
            ("text", "hm"), ("voice", ""), ("photo", "a caption"), ("forwarded", "news"),
        ]  # fmt: skip
