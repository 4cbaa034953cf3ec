"""Enrolment in the chat: wrong answers are asked again, refusal and warning signs are respected."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from bot.conversation.enrolling import EnrolmentDialogue
from bot.conversation.replies import Replies
from storage import people
from storage.database import open_database
from storage.tables import Patient
from tests.conversation.room import Room

TO_TIMES = ("yes", "no", "right", "yes")
ALL = (*TO_TIMES, "7:30 and 20:15", "6", "comes and goes", "moderately")


class NewRoom(Room):
    """A patient who has just been invited."""

    def __init__(self, **columns: Any) -> None:
        nothing = dict.fromkeys(
            ("start", "prior_activity", "enrolled_first_step_pain", "enrolled_rest_pattern", "start_walk",
             "start_step", "start_sets", "start_reps")
        )  # fmt: skip
        super().__init__(open_database("sqlite://"), **(nothing | {"status": "enrolling"} | columns))
        now = self.at(1, "10:00")
        with self.database.session() as session:
            patient = people.patient_by_id(session, self.patient_id)
            EnrolmentDialogue(session, patient, Replies(session, now), now).begin()
        ((_, self.first_words),) = self.deliver(now)

    def answer(self, *texts: str) -> str:
        """Give the answers one after the other; the last reply."""
        return [self.say(1, f"10:{10 + self.updates}", text) for text in texts][-1]

    @property
    def patient(self) -> Patient:
        with self.database.session() as session:
            return people.patient_by_id(session, self.patient_id)


@pytest.fixture
def room() -> NewRoom:
    return NewRoom()


def test_from_the_first_words_to_the_first_plan(room: NewRoom) -> None:
    assert "emergency" in room.first_words
    done = room.answer(*ALL)
    patient = room.patient
    assert patient.status == "active"
    assert patient.start == date(2026, 3, 3)  # rule 2.1: day 1 is the first full day
    assert (patient.foot, patient.morning_time, patient.evening_time) == ("right", "07:30", "20:15")
    assert (patient.enrolled_first_step_pain, patient.enrolled_rest_pattern) == (6, "intermittent")
    assert patient.prior_activity == "moderately"
    assert patient.start_walk == 5
    assert "3 March 2026" in done
    assert room.tick_until(room.at(2, "07:29")) == []
    assert "Walk 5 minutes" in room.tick_until(room.at(2, "07:31"))[0][1]


def test_the_clinicians_starting_dose_is_kept() -> None:
    room = NewRoom(start_walk=9, start_step="standing both", start_sets=3, start_reps=6)
    assert "9" in room.answer(*ALL)
    patient = room.patient
    assert (patient.start_walk, patient.start_step, patient.start_sets, patient.start_reps) == (
        9,
        "standing both",
        3,
        6,
    )


@pytest.mark.parametrize(
    ("before", "wrong"),
    [
        ((), "perhaps"),
        ((), "no idea what that means"),
        (("yes",), "what is this for"),
        (("yes", "no"), "the other one"),
        (("yes", "no"), "not the left, the right"),
        (("yes", "no", "left"), "Atlantis"),
        (("yes", "no", "left"), "../../etc/passwd"),
        (TO_TIMES, "whenever"),
        (TO_TIMES, "8"),
        (TO_TIMES, "03:00 and 23:30"),
        ((*TO_TIMES, "ok"), "quite a lot"),
        ((*TO_TIMES, "ok", "5"), "who knows"),
        ((*TO_TIMES, "ok", "5", "comes and goes"), "every Tuesday"),
    ],
)
def test_a_wrong_answer_is_asked_again_and_the_right_one_still_taken(
    room: NewRoom, before: tuple[str, ...], wrong: str
) -> None:
    if before:
        room.answer(*before)
    assert room.answer(wrong)
    assert room.patient.status == "enrolling"
    room.answer(*ALL[len(before) :])
    assert room.patient.status == "active"
    assert not room.patient.loading_stopped


def test_a_refusal_ends_it_and_nothing_is_sent_any_more(room: NewRoom) -> None:
    assert room.answer("no")
    assert room.patient.status == "left"
    assert "personal invitation only" in room.answer("4, comes and goes"), "a stranger again"
    assert room.tick_until(room.at(9, "12:00")) == []


@pytest.mark.parametrize("answer", ["yes", "my calf is swollen and hot", "no, but my foot is numb"])
def test_a_warning_sign_reaches_the_clinician_and_nothing_is_loaded_until_allowed(room: NewRoom, answer: str) -> None:
    reply = room.answer("yes", answer)
    assert "no exercises" in reply
    assert answer in room.sent_to("clinician")
    room.answer(*ALL[1:])
    assert room.patient.status == "active"
    assert "Walk 5" not in room.say(2, "07:40", "4, comes and goes")
    if room.open_flags():
        room.say(2, "11:59", "/clear Rowan", who="clinician")
    room.say(2, "12:00", "/allow Rowan", who="clinician")
    assert "Walk 5 minutes" in room.say(3, "07:40", "4, comes and goes")


@pytest.mark.parametrize(
    "answer", ["don't know", "not sure", "maybe", "just some burning", "I think so", "no idea", "a bit numb"]
)
def test_doubt_and_a_hint_count_as_a_yes_to_the_list(room: NewRoom, answer: str) -> None:
    """The list itself says so: "If you are not sure, say yes"."""
    assert "no exercises" in room.answer("yes", answer)
    assert answer in room.sent_to("clinician")
    assert room.patient.loading_stopped


def test_after_a_yes_the_explanation_reaches_the_clinician_and_opens_its_flag(room: NewRoom) -> None:
    assert "Which sign is it?" in room.answer("yes", "yes")
    assert "Which foot" in room.answer("my calf is swollen and hot")
    assert room.open_flags() == ["clot_signs"]
    assert "my calf is swollen and hot" in room.sent_to("clinician")
    assert "/clear Rowan" in room.sent_to("clinician")
    reply = room.answer("right", "yes", "ok", "4", "comes and goes", "moderately")
    assert room.patient.status == "active"
    assert "no exercises yet" in reply
    assert "clot_signs" in room.say(1, "12:00", "/caseload", who="clinician")
    assert "clot_signs" in room.say(1, "12:01", "/clear Rowan", who="clinician")
    assert room.open_flags() == []


def test_an_explanation_that_names_no_known_sign_is_passed_on_and_nothing_is_loaded(room: NewRoom) -> None:
    room.answer("yes", "yes")
    assert "passed that on to Dr Vale" in room.answer("the doctor saw something on the picture")
    assert "the doctor saw something on the picture" in room.sent_to("clinician")
    room.answer("right", "yes", "ok", "4", "comes and goes", "moderately")
    assert "Walk 5" not in room.say(2, "07:40", "4, comes and goes")


@pytest.mark.parametrize("pain", ["9", "10", "11"])
def test_the_first_pain_of_9_or_10_is_a_warning_sign_and_gives_no_walk(room: NewRoom, pain: str) -> None:
    """Rule 10: in any answer, to any question."""
    reply = room.answer(*TO_TIMES, "ok", pain)
    assert "Contact Dr Vale" in reply
    assert "lie, with your weight off" in reply, "the answer is taken, and the next question asked"
    assert room.open_flags() == ["severe_pain"]
    assert "severe_pain" in room.sent_to("clinician")
    done = room.answer("comes and goes", "moderately")
    assert room.patient.enrolled_first_step_pain == min(int(pain), 10)  # reader's contract: more than 10 is 10
    assert "no exercises yet" in done
    assert "walking for" not in done
    assert all("Walk 5" not in text for _, text in room.tick_until(room.at(2, "07:30")))


def test_a_possible_sign_in_an_answer_is_asked_about_and_the_open_question_waits(room: NewRoom) -> None:
    room.answer(*TO_TIMES, "ok")
    assert "yes or no" in room.answer("5 but the foot feels odd")
    assert "first steps" in room.answer("no")
    assert room.open_flags() == []
    assert not room.patient.loading_stopped
    assert "yes or no" in room.answer("5 but the foot feels odd")
    assert "Contact Dr Vale" in room.answer("yes")
    assert room.open_flags() == ["nerve_signs"]
    assert room.patient.status == "enrolling"


def test_a_no_to_a_possible_sign_is_not_a_no_to_taking_part(room: NewRoom) -> None:
    assert "yes or no" in room.answer("the foot feels odd")
    room.answer("no")
    assert room.patient.status == "enrolling"
    assert "some signs" in room.answer("yes")


@pytest.mark.parametrize("known", range(2, 8))
def test_a_warning_sign_counts_at_every_question(room: NewRoom, known: int) -> None:
    room.answer(*ALL[:known])
    assert "emergency number" in room.answer("I have chest pain and can't breathe")
    assert "chest pain" in room.sent_to("clinician")
    assert room.patient.loading_stopped


@pytest.mark.parametrize(
    ("said", "kept"),
    [("very", "very"), ("I ran a lot", "very"), ("moderately", "moderately"), ("a little", "a little"),
     ("not very active", "a little"), ("not a lot", "a little"), ("hardly at all", "a little"),
     ("very little", "a little"), ("hardly active, a lot less", "a little"), ("wasn't really a runner", "a little"),
     ("I ran daily", "very")],
)  # fmt: skip
def test_how_active_before(room: NewRoom, said: str, kept: str) -> None:
    room.answer(*ALL[:-1], said)
    assert room.patient.prior_activity == kept


@pytest.mark.parametrize("said", ["a little or very", "some weeks a lot, some weeks little", "moderately to very"])
def test_a_mixed_answer_on_activity_is_asked_back(room: NewRoom, said: str) -> None:
    assert "choose one" in room.answer(*ALL[:-1], said)
    assert room.patient.prior_activity is None
    assert room.patient.status == "enrolling"
