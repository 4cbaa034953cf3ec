"""What a patient can do beside the check-ins: message, times, progress, own data, leaving, erasing."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import select

from storage import records
from storage.database import Database, open_database
from storage.tables import ClinicianAction, IncomingMessage, MorningReport, OutgoingMessage, Patient
from tests.conversation.room import START, Room


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


@pytest.fixture
def room_on_both(database: Database) -> Room:
    return Room(database)


def _attachments(room: Room) -> list[dict[str, Any]]:
    with room.database.session() as session:
        rows = session.exec(select(OutgoingMessage.attachment).where(OutgoingMessage.address == "patient")).all()
    return [each for each in rows if each]


# -- a message to the clinician


@pytest.mark.parametrize(
    "said", ["message I am away next week", "/message I am away next week", "Message: I am away next week"]
)
def test_a_message_is_passed_on_and_can_be_answered(room: Room, said: str) -> None:
    assert "passed that on to Dr Vale" in room.say(1, "12:00", said)
    told = room.sent_to("clinician")
    assert "I am away next week" in told
    assert "/message Rowan" in told
    assert "sent to rowan" in room.say(1, "12:10", "/message Rowan enjoy it", "clinician").casefold()
    assert "Dr Vale" in room.sent_to("patient")
    assert "enjoy it" in room.sent_to("patient")


def test_an_empty_message_says_how(room: Room) -> None:
    assert "like this" in room.say(1, "12:00", "message")
    assert room.sent_to("clinician") == ""


def test_a_long_message_is_passed_on_within_the_limit(room: Room) -> None:
    room.say(1, "12:00", "message " + "word " * 800)
    assert max(len(text) for who, text in room.last if who == "clinician") < 4096


def test_a_warning_sign_in_a_message_counts_and_the_clinician_gets_both(room: Room) -> None:
    reply = room.say(1, "12:00", "message please tell the doctor my calf is swollen and hot")
    assert "urgent care today" in reply
    assert "may take some days" not in reply
    assert room.open_flags() == ["clot_signs"]
    told = room.sent_to("clinician")
    assert "WARNING SIGN" in told
    assert "writes to you" in told


def test_a_possible_sign_in_a_message_is_asked_about_and_the_message_passed_on(room: Room) -> None:
    reply = room.say(1, "12:00", "message the foot feels odd")
    assert "passed that on" in reply
    assert "yes or no" in reply


def test_a_message_while_a_sign_is_unclear_is_passed_on_and_the_question_stays(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    waiting = {"flag_question": [{"code": "nerve_signs", "words": "odd", "score": None}]}
    room.set(dialogue=room.get().dialogue | waiting)
    reply = room.say(1, "07:11", "message please call me")
    assert "passed that on" in reply
    assert "yes or no" in reply
    assert "please call me" in room.sent_to("clinician")
    assert "Walk 5" in room.say(1, "07:12", "no")


# -- times


@pytest.mark.parametrize(
    ("said", "morning", "evening"),
    [
        ("times 06:30 20:15", "06:30", "20:15"),
        ("/times 6:30 and 8:15pm", "06:30", "20:15"),
        ("time 7 21", "07:00", "21:00"),
    ],
)
def test_times_are_set_and_hold_from_then_on(room: Room, said: str, morning: str, evening: str) -> None:
    reply = room.say(1, "12:00", said)
    assert morning in reply
    assert evening in reply
    assert (room.get().morning_time, room.get().evening_time) == (morning, evening)
    assert room.get().next_due_at == room.at(1, evening)


@pytest.mark.parametrize("said", ["times", "times 03:00 20:00", "times 07:00 23:30", "times 07:00", "/times"])
def test_times_that_cannot_be_kept_say_what_can(room: Room, said: str) -> None:
    reply = room.say(1, "12:00", said)
    assert "07:00 and at 19:30 now" in reply
    assert "05:00 to 11:30" in reply
    assert (room.get().morning_time, room.get().evening_time) == ("07:00", "19:30")


# -- progress and own data


def test_progress_is_a_picture_once_there_is_something_to_show(room: Room) -> None:
    assert "nothing to show yet" in room.say(1, "12:00", "progress")
    for day in range(1, 4):
        room.say(day, "07:10", "4, on and off")
    assert "Dr Vale" in room.say(3, "12:00", "how am i doing")
    assert _attachments(room) == [{"what": "progress_chart", "patient_id": 1, "until": "2026-03-04"}]


@pytest.mark.parametrize("said", ["export", "my data", "/export"])
def test_own_data_is_sent_and_logged(room: Room, said: str) -> None:
    room.say(1, "07:10", "4, on and off")
    assert "all that I keep about you" in room.say(1, "12:00", said)
    assert _attachments(room) == [{"what": "export", "patient_id": 1}]
    assert [(each.kind, each.clinician_id) for each in room.actions()] == [("export", None)]
    assert "took a copy of their data" in room.say(1, "12:01", "/log Rowan", "clinician")


def test_the_file_of_own_data_can_be_drawn(room: Room) -> None:
    from bot.channels.attachments import draw

    room.say(1, "07:10", "4, on and off")
    room.say(1, "12:00", "my data")
    (file,) = draw(room.database, _attachments(room)[0], room.at(1, "12:00"))
    assert file.content[:2] == b"PK"


# -- leaving


def test_leaving_is_asked_about_told_and_final(room_on_both: Room) -> None:
    room = room_on_both
    assert "yes or no" in room.say(1, "12:00", "leave")
    assert room.get().status == "active"
    assert "You have left" in room.say(1, "12:01", "yes")
    assert "Rowan has left" in room.sent_to("clinician")
    left = room.get()
    assert (left.status, left.address, left.next_due_at) == ("left", None, None)
    assert room.tick_until(room.at(5, "12:00")) == []
    assert "personal invitation" in room.say(5, "12:00", "4, on and off")
    with room.database.session() as session:
        assert session.exec(select(MorningReport)).all() == []
    assert "has left" in room.say(5, "12:01", "/patient Rowan", "clinician")
    assert "the patient left" in room.say(5, "12:02", "/log Rowan", "clinician")


@pytest.mark.parametrize("said", ["no", "No, I stay", "nope"])
def test_a_no_changes_nothing(room: Room, said: str) -> None:
    for wish in ("leave", "erase my data"):
        room.say(1, "12:00", wish)
        room.say(1, "12:01", said)
        assert room.get().status == "active"
    assert "Noted" in room.say(1, "12:02", "4, on and off")


@pytest.mark.parametrize(
    "said",
    ["4, on and off", "hm", "perhaps", "yes, all done, worst 3", "yes but my foot hurts", "plan", "thanks", "ok"],
)
def test_anything_but_a_plain_yes_changes_nothing(room: Room, said: str) -> None:
    for wish in ("leave", "erase"):
        room.say(1, "12:00", wish)
        room.say(1, "12:01", said)
        assert room.get().status == "active"
        room.say(1, "12:02", "yes")
        assert room.get().status == "active", "and the question is over after it"


def test_the_words_instead_of_a_yes_are_still_a_check_in(room: Room) -> None:
    room.say(1, "07:05", "erase")
    assert "Noted: first steps 4" in room.say(1, "07:10", "4, on and off")


def test_a_yes_hours_later_does_not_erase(room: Room) -> None:
    """The evening's "yes" may answer something else."""
    room.say(1, "12:00", "erase")
    assert "too long ago" in room.say(1, "19:35", "yes")
    assert room.get().status == "active"
    assert "too long ago" not in room.say(1, "19:36", "yes")


def test_the_next_days_yes_does_not_erase(room: Room) -> None:
    room.say(1, "23:50", "erase")
    room.say(2, "07:05", "yes")
    assert room.get().status == "active"


# -- erasing


@pytest.mark.parametrize("sure", ["yes", "Yes please", "yes, delete everything", "yes i am sure"])
def test_a_plain_yes_erases_and_tells_both(room: Room, sure: str) -> None:
    room.say(1, "07:10", "6, on and off. gardening tired me")
    assert "cannot be undone" in room.say(1, "12:00", "delete all my data")
    assert "is deleted" in room.say(1, "12:01", sure)
    assert "erased" in room.sent_to("clinician")
    with room.database.session() as session:
        for table in (Patient, MorningReport, ClinicianAction):
            assert session.exec(select(table)).all() == []
        assert not [each for each in session.exec(select(IncomingMessage)) if "gardening" in each.text]
    assert "personal invitation" in room.send(1, "12:10", "hello")


def test_two_patients_who_erase_at_the_same_instant_are_both_told(room: Room) -> None:
    room.add_patient("Briar", "briar")
    for who in ("patient", "briar"):
        room.send(1, "12:00", "erase", who)
    assert "is deleted" in room.send(1, "12:01", "yes", "patient")
    assert "is deleted" in room.send(1, "12:01", "yes", "briar")


@pytest.mark.parametrize("pressed", ["yes", "no"])
def test_leaving_by_button(room: Room, pressed: str) -> None:
    room.say(1, "12:00", "leave")
    room.press(1, "12:01", pressed)
    assert (room.get().status == "left") == (pressed == "yes")


# -- outside of a programme


@pytest.mark.parametrize("step", ["consent", "signs", "zone", "first", "active"])
def test_own_data_leaving_and_erasing_work_during_enrolment(room: Room, step: str) -> None:
    room.set(status="enrolling", start=None, dialogue={"enrolling": step})
    assert "all that I keep" in room.say(1, "10:00", "my data")
    room.say(1, "10:01", "leave")
    room.say(1, "10:02", "no")
    assert room.get().dialogue["enrolling"] == step, "the open question stays open"
    room.say(1, "10:03", "erase")
    assert "is deleted" in room.say(1, "10:04", "yes")
    with room.database.session() as session:
        assert session.exec(select(Patient)).all() == []


def test_own_data_leaving_and_erasing_work_after_the_end(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "08:00", "/end Rowan", "clinician")
    assert "all that I keep" in room.say(1, "10:00", "my data")
    assert "passed that on" in room.say(1, "10:01", "message may I begin again?")
    assert "may I begin again?" in room.sent_to("clinician")
    assert "programme here is over" in room.sent_to("clinician")
    room.say(1, "10:02", "leave")
    assert "You have left" in room.say(1, "10:03", "yes")
    assert room.get().address is None


def test_after_the_end_a_check_in_is_not_taken_and_that_is_said(room: Room) -> None:
    room.say(1, "08:00", "/end Rowan", "clinician")
    reply = room.say(1, "10:00", "4, on and off")
    assert "has ended" in reply
    assert "emergency number" in reply
    with room.database.session() as session:
        assert records.morning_of(session, 1, START).silent


def test_leaving_while_a_sign_is_unclear(room: Room) -> None:
    room.say(1, "07:10", "4, on and off. the foot feels odd")
    room.say(1, "07:11", "leave")
    assert "You have left" in room.say(1, "07:12", "yes"), "the yes is for the question asked last"
    assert room.open_flags() == []


@pytest.mark.parametrize(
    "said", ["/caseload", "/stop Rowan", "/clear Rowan", "/allow Rowan", "/end Rowan", "/invite Briar"]
)
def test_a_clinicians_words_do_nothing_for_a_patient(room: Room, said: str) -> None:
    room.say(1, "07:10", "4, on and off. my foot is numb")
    before = room.get().model_dump(exclude={"dialogue", "next_due_at", "next_due_kind"})
    room.say(1, "12:00", said)
    assert room.get().model_dump(exclude={"dialogue", "next_due_at", "next_due_kind"}) == before
    assert room.open_flags() == ["nerve_signs"]
    assert not [each for each in room.actions() if each.kind != "notice"]
