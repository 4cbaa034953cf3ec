"""What a patient may say and when, beside the main path: warning signs in doubt, words that look like others."""

from __future__ import annotations

import pytest

from bot.conversation.intents import yes_or_no
from bot.program.terms import Decision
from storage import people, records
from storage.database import Database, open_database
from tests.conversation.room import START, Room

ODD = "4, on and off. the foot feels odd"


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


@pytest.fixture
def room_on_both(database: Database) -> Room:
    return Room(database)


@pytest.mark.parametrize("text", ["no", "No.", "nope", "no, it was only the new sock", "no it's not", "no thanks"])
def test_what_denies(text: str) -> None:
    assert yes_or_no(text) is False


@pytest.mark.parametrize(
    "text",
    ["no idea", "no, not sure", "no feeling in it", "no change", "no longer", "no but it tingles", "no, i don't know",
     "maybe", "not really", ""],
)  # fmt: skip
def test_what_begins_with_no_but_denies_nothing(text: str) -> None:
    assert yes_or_no(text) is None


@pytest.mark.parametrize("text", ["yes", "Yes!", "yeah, a bit", "yes but only a little"])
def test_what_affirms(text: str) -> None:
    assert yes_or_no(text) is True


@pytest.mark.parametrize("answer", ["no idea", "no feeling in it", "no, it is numb", "hm", "plan", "thanks"])
def test_no_plan_and_no_denial_from_an_answer_that_is_neither(room: Room, answer: str) -> None:
    assert "yes or no" in room.say(1, "07:10", ODD)
    reply = room.say(1, "07:11", answer)
    assert "Walk 5" not in reply
    assert room.open_flags() or "yes or no" in reply


def test_a_morning_prompt_shows_no_plan_while_a_sign_is_unclear(room: Room) -> None:
    room.say(1, "20:00", "all done, 3, the foot feels odd")
    assert room.sent_to("patient").endswith("yes or no.")
    prompts = [text for _, text in room.tick_until(room.at(2, "07:01"))]
    assert prompts
    assert all("Walk 5" not in text for text in prompts)
    assert "yes or no" in prompts[-1]
    assert "yes or no" in room.say(2, "07:05", "4, on and off")
    assert "Walk 5 minutes" in room.say(2, "07:06", "no")


def test_other_facts_in_the_answer_are_kept_while_the_question_stands(room_on_both: Room) -> None:
    room = room_on_both
    room.say(1, "07:10", "the foot feels odd")
    assert "yes or no" in room.say(1, "07:11", "first steps 6, comes and goes")
    with room.database.session() as session:
        assert records.morning_of(session, room.patient_id, START).first_step_pain == 6
    assert "Walk" in room.say(1, "07:12", "no")


@pytest.mark.parametrize(("day", "clock"), [(1, "03:59"), (1, "04:00"), (1, "12:00"), (1, "23:59"), (2, "03:30")])
def test_a_red_flag_counts_at_any_hour_and_in_a_pause(room_on_both: Room, day: int, clock: str) -> None:
    room = room_on_both
    with room.database.session() as session:
        people.patient_by_id(session, room.patient_id).paused_until = START.replace(day=20)
    reply = room.say(day, clock, "I have chest pain and can't breathe")
    assert "emergency number" in reply
    assert "WARNING" in room.sent_to("clinician").upper() or "chest" in room.sent_to("clinician")
    assert room.open_flags() == ["chest_or_breathing"]
    decided = room.decision(1)
    assert decided is not None
    assert decided.decision is Decision.STOP
    assert not decided.plan.has_dose


def test_a_flag_told_twice_alerts_once(room: Room) -> None:
    room.say(1, "07:10", "my foot is numb")
    assert room.sent_to("clinician")
    assert "No exercises" in room.say(1, "07:20", "my foot is numb")
    assert room.sent_to("clinician") == ""
    assert room.open_flags() == ["nerve_signs"]


def test_a_missing_rest_pattern_or_score_is_asked_back_once_only(room: Room) -> None:
    question = "first steps hurt this morning"
    room.tick_until(room.at(1, "07:01"))
    assert question in room.say(1, "07:10", "comes and goes")
    assert question not in room.say(1, "07:11", "it comes and goes")
    assert "Walk 5 minutes" in room.say(1, "07:12", "4")


def test_a_question_about_the_plan_changes_nothing(room: Room) -> None:
    before = room.say(1, "07:02", "what should I do today?")
    assert "Walk 5 minutes" in before
    assert room.decision(1) is None
    room.say(1, "07:10", "4, on and off")
    decided = room.decision(1)
    assert "Walk 5 minutes" in room.say(1, "07:11", "plan")
    assert room.decision(1) == decided


def test_undo_without_anything_told_says_so(room: Room) -> None:
    assert "nothing that I can take back" in room.say(1, "07:10", "undo")


def test_yesterdays_prompt_answered_today_is_kept_under_yesterday(room_on_both: Room) -> None:
    room = room_on_both
    room.say(1, "07:10", "4, on and off")
    room.say(2, "09:00", "yesterday I walked 20 minutes, worst 6")
    with room.database.session() as session:
        yesterday = records.evening_of(session, room.patient_id, START)
        today = records.evening_of(session, room.patient_id, START.replace(day=3))
    assert (yesterday.worst_pain, [each.minutes for each in yesterday.activities]) == (6, [20])
    assert (today.worst_pain, today.activities) == (None, ())


@pytest.mark.parametrize(("clock", "day"), [("03:59", 2), ("04:00", 3)])
def test_a_day_ends_at_four(room: Room, clock: str, day: int) -> None:
    """Rule 2.1: a day lasts from 04:00 to 04:00 of the patient's wall clock."""
    room.say(1, "07:10", "4, on and off")
    room.say(2, clock, "walked 12 minutes, worst 5")
    with room.database.session() as session:
        found = {
            number: records.evening_of(session, room.patient_id, START.replace(day=number)).worst_pain
            for number in (2, 3)
        }
    assert found == {day: 5, 5 - day: None}


@pytest.mark.parametrize("text", ["holiday walk, 40 minutes, worst 6", "holiday over, all done, worst 6"])
def test_a_report_that_begins_with_holiday_is_a_report(room: Room, text: str) -> None:
    room.tick_until(room.at(1, "19:31"))
    room.say(1, "19:40", text)
    with room.database.session() as session:
        assert records.evening_of(session, room.patient_id, START).worst_pain == 6


def test_a_warning_sign_in_a_wish_for_a_holiday_is_not_lost(room: Room) -> None:
    room.say(1, "12:00", "holiday 2026-03-03 2026-03-05, and my foot is numb")
    assert room.open_flags() == ["nerve_signs"]
    assert room.sent_to("clinician")
    assert room.tick_until(room.at(4, "12:00"))[1:] == []  # the evening before it at most


@pytest.mark.parametrize("dates", ["2026-03-03 2026-03-05", "2026-03-05 2026-03-03"])
def test_holiday_dates_in_either_order_then_off(room: Room, dates: str) -> None:
    reply = room.say(1, "21:50", f"/holiday {dates}")
    assert "from 3 March 2026 to 5 March 2026" in reply
    assert room.tick_until(room.at(4, "23:00")) == []
    room.say(4, "23:10", "/holiday off")
    assert len(room.tick_until(room.at(5, "07:01"))) == 1


@pytest.mark.parametrize("dates", ["", "2020-01-01 2020-01-05", "soon", "2026-02-30"])
def test_a_holiday_without_usable_dates_changes_nothing(room: Room, dates: str) -> None:
    assert "could not read those dates" in room.say(1, "12:00", f"/holiday {dates}")
    assert len(room.tick_until(room.at(1, "20:00"))) == 1


def test_one_nudge_after_two_hours_and_none_after_a_part_of_an_answer(room: Room) -> None:
    morning = room.tick_until(room.at(1, "08:59"))
    assert len(morning) == 1
    assert len(room.tick_until(room.at(1, "19:00"))) == 1
    room.tick_until(room.at(2, "07:01"))
    room.say(2, "07:10", "comes and goes")
    assert room.tick_until(room.at(2, "19:00")) == []


def test_a_late_evening_prompt_is_not_followed_by_a_nudge_at_night(room: Room) -> None:
    with room.database.session() as session:
        people.patient_by_id(session, room.patient_id).evening_time = "20:00"
    room.say(1, "07:10", "4, on and off")
    assert len(room.tick_until(room.at(2, "06:59"))) == 1


def test_a_no_to_whether_anything_is_new_is_taken_as_one() -> None:
    room = Room(open_database("sqlite://"))
    room.say(1, "07:10", "4, on and off")
    assert "nothing new" in room.say(1, "07:11", "no")
    room.say(1, "19:40", "all done")
    assert "nothing new" not in room.say(1, "19:41", "no"), "the worst pain was asked"


@pytest.mark.parametrize("words", ["walked 3000000000 steps", "walked 99999 minutes", "900000 heel raises"])
def test_what_nobody_does_in_a_day_is_asked_about_and_not_kept(words: str) -> None:
    room = Room(open_database("sqlite://"))
    room.say(1, "07:10", "4, on and off")
    assert room.say(1, "19:40", f"{words}, worst 3")
    with room.database.session() as session:
        evening = records.evening_of(session, room.patient_id, START)
    assert evening.worst_pain == 3
    assert all(each.minutes is None and each.steps is None for each in evening.activities)
    assert evening.raises is None or (evening.raises.reps or 0) <= 1000


def test_who_sounds_low_and_denies_self_harm_gets_kind_words_and_the_clinician_reads_it() -> None:
    room = Room(open_database("sqlite://"))
    room.say(1, "07:10", "4, on and off")
    assert "harming yourself" in room.say(1, "07:11", "I feel like giving up")
    reply = room.say(1, "07:12", "no")
    assert reply.startswith("Thank you for telling me")
    assert "crisis line" in reply
    assert "giving up" in room.sent_to("clinician").casefold()
