"""The dialogue, on SQLite and PostgreSQL."""

from __future__ import annotations

import pytest
from sqlmodel import func, select

from bot.conversation import patient_turn
from bot.conversation.values import Incoming
from bot.program.terms import Decision, RedFlag
from bot.reader.reading import FlagFinding, Reading
from storage.database import Database
from storage.tables import IncomingMessage, MorningReport
from tests.conversation.room import Room


@pytest.fixture
def room(database: Database) -> Room:
    return Room(database)


def _count(room: Room, table: type) -> int:
    with room.database.session() as session:
        return session.exec(select(func.count()).select_from(table)).one()


def test_a_morning_answer_gets_the_plan_and_its_reason(room: Room) -> None:
    reply = room.say(1, "07:10", "4, comes and goes")
    assert "reparative" in reply
    assert "Walk 5 minutes" in reply
    decided = room.decision(1)
    assert decided is not None
    assert decided.decision is Decision.HOLD


def test_an_update_that_was_seen_before_changes_nothing(room: Room) -> None:
    room.say(1, "07:10", "4, comes and goes", update_id="7")
    assert room.say(1, "07:11", "4, comes and goes", update_id="7") == ""
    assert (_count(room, IncomingMessage), _count(room, MorningReport)) == (1, 1)


def test_a_turn_that_fails_rolls_back_whole_and_can_be_taken_again(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(text: str, asked: object) -> Reading:
        raise RuntimeError("broken on purpose")

    now = room.at(1, "07:10")
    incoming = Incoming(channel="test", update_id="1", address="patient", text="4, on and off", sent_at=now)
    with monkeypatch.context() as patched:
        patched.setattr(patient_turn, "read", broken)
        with pytest.raises(RuntimeError):
            room.conversation.handle(incoming, now)
    assert _count(room, IncomingMessage) == 0
    room.conversation.handle(incoming, now)
    assert (_count(room, IncomingMessage), _count(room, MorningReport)) == (1, 1)


def test_what_is_missing_is_asked_back_once(room: Room) -> None:
    room.tick_until(room.at(1, "19:31"))
    assert "worst pain" in room.say(1, "19:40", "walked 5 min, raises done")
    assert "worst pain of the day" not in room.say(1, "19:41", "walked 5 min")
    assert "all for today" in room.say(1, "19:42", "3")


def test_a_walk_without_its_length_is_asked_about_once(room: Room) -> None:
    room.tick_until(room.at(1, "19:31"))
    assert "how many minutes" in room.say(1, "19:40", "did my walk and the raises, 2x8, worst 3")
    assert "walked 5 min" in room.say(1, "19:41", "5")
    with room.database.session() as session:
        from storage import records
        from tests.conversation.room import START

        evening = records.evening_of(session, room.patient_id, START)
        assert (evening.worst_pain, evening.activities[0].minutes) == (3, 5)


def test_nothing_in_answer_to_what_was_done_is_not_a_pain_score(room: Room) -> None:
    room.tick_until(room.at(1, "19:31"))
    room.say(1, "19:40", "3")
    assert "none of the plan" in room.say(1, "19:41", "nothing")
    with room.database.session() as session:
        from storage import records
        from tests.conversation.room import START

        assert records.evening_of(session, room.patient_id, START).worst_pain == 3


def test_a_correction_inside_a_first_answer_is_that_answer(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "19:40", "all done, 2")
    room.say(2, "07:10", "4, make that 5, on and off")
    decided = room.decision(2)
    assert decided is not None
    assert decided.first_step_pain == 5


def test_a_score_alone_is_not_read_as_nothing_done(room: Room) -> None:
    room.tick_until(room.at(1, "19:31"))
    assert "?" in room.say(1, "19:40", "3")


def test_a_red_flag_stops_the_day_and_reaches_the_clinician_also_in_a_pause(room: Room) -> None:
    room.say(1, "07:10", "4, comes and goes")
    room.say(1, "08:00", "/pause Rowan for 5 days", who="clinician")
    reply = room.say(1, "15:00", "my calf is swollen and hot")
    assert "urgent care" in reply
    assert "my calf is swollen and hot" in room.sent_to("clinician")
    assert room.open_flags() == ["clot_signs"]
    decided = room.decision(1)
    assert decided is not None
    assert decided.decision is Decision.STOP
    assert not decided.plan.has_dose
    assert "Walk 5" not in room.say(1, "15:05", "plan")


def test_only_the_clinician_clears_a_flag_and_the_day_stays_a_stop(room: Room) -> None:
    room.say(1, "07:10", "4, on and off. foot is numb")
    room.say(1, "09:00", "/clear Rowan", who="clinician")
    assert room.open_flags() == []
    decided = room.decision(1)
    assert decided is not None
    assert decided.decision is Decision.STOP
    assert "Walk 5" not in room.say(1, "10:00", "undo") + room.say(1, "10:01", "plan")
    assert "Walk 5 minutes" in room.say(2, "07:10", "4, on and off")


def test_an_unsure_sign_gets_one_question_and_no_plan_until_it_is_answered(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bot.reader import read as real

    def unsure(text: str, asked: object) -> Reading:
        reading = real(text, asked)  # type: ignore[arg-type]
        if "odd" not in text:
            return reading
        doubt = FlagFinding(code=RedFlag.NERVE_SIGNS, certain=False, words="odd")
        return Reading(first_step_pain=reading.first_step_pain, rest_pattern=reading.rest_pattern, flags=(doubt,))

    monkeypatch.setattr(patient_turn, "read", unsure)
    reply = room.say(1, "07:10", "4, on and off, foot feels odd")
    assert "yes or no" in reply.lower()
    assert "Walk 5" not in reply
    assert "yes or no" in room.say(1, "07:11", "hm").lower()
    assert "Walk 5 minutes" in room.say(1, "07:12", "no")
    room.say(2, "07:10", "4, on and off, foot feels odd")
    assert "pause" in room.say(2, "07:11", "yes").lower()
    assert room.open_flags() == ["nerve_signs"]


def test_a_correction_replaces_and_undo_takes_back(room: Room) -> None:
    room.say(1, "07:10", "8, on and off")
    room.say(1, "07:11", "sorry, I meant 3")
    decided = room.decision(1)
    assert decided is not None
    assert decided.first_step_pain == 3
    room.say(1, "07:12", "undo")
    decided = room.decision(1)
    assert decided is not None
    assert decided.first_step_pain == 8


def test_a_second_morning_answer_replaces_the_first(room: Room) -> None:
    room.say(1, "07:10", "6, all the time")
    room.say(1, "09:00", "5, comes and goes")
    decided = room.decision(1)
    assert decided is not None
    assert (decided.first_step_pain, decided.rest_pattern) == (5, "intermittent")


def test_an_answer_after_midnight_belongs_to_the_day_before(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(2, "00:30", "all done, 3")
    room.say(2, "07:10", "4, on and off")
    with room.database.session() as session:
        from storage import records
        from tests.conversation.room import START

        assert records.evening_of(session, room.patient_id, START).worst_pain == 3


def test_yesterdays_evening_can_be_told_today(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    assert "yesterday" in room.say(2, "07:10", "yesterday I walked 20 minutes, worst 6").lower()
    decided = room.say(2, "07:12", "7, on and off")
    assert "longer than the plan" in decided


def test_prompts_stop_when_answered_and_one_nudge_comes(room: Room) -> None:
    room.say(1, "06:30", "4, on and off")
    sent = [text for _, text in room.tick_until(room.at(1, "18:00"))]
    assert sent == []
    sent = [text for _, text in room.tick_until(room.at(2, "03:00"))]
    assert len(sent) == 1  # the evening prompt at 19:30; its nudge would fall into the night
    sent = [text for _, text in room.tick_until(room.at(2, "18:00"))]
    assert len(sent) == 2  # morning prompt and one nudge


def test_after_an_outage_there_is_no_heap_of_prompts(room: Room) -> None:
    now = room.at(4, "12:30")
    for _ in range(20):
        room.conversation.tick(now)
    assert len(room.deliver(now)) == 0
    assert len(room.tick_until(room.at(4, "20:00"))) == 1


def test_from_the_third_silent_morning_only_the_question_is_sent(room: Room) -> None:
    sent = [text for _, text in room.tick_until(room.at(3, "07:05")) if "Good morning" in text]
    assert ["Walk 5" in text for text in sent] == [True, True, False]


def test_no_prompts_on_a_holiday(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "07:20", "/holiday 2026-03-03 2026-03-05")
    room.tick_until(room.at(2, "03:00"))
    assert room.tick_until(room.at(5, "03:00")) == []
    assert room.tick_until(room.at(5, "07:05")) != []


def test_strangers_learn_nothing(room: Room) -> None:
    heard = {
        room.say(1, f"07:1{number}", text, who=f"stranger {number}")
        for number, text in enumerate(
            ("/caseload", "/patient Rowan", "/start AAAAAAAAAAAAAAAAAAAAAA", "hello", "my calf is hot")
        )
    }
    assert len(heard) == 1, "one and the same sentence, whatever is tried"
    assert not any(word in next(iter(heard)) for word in ("Rowan", "Vale", "heel", "patient"))
    assert all(address.startswith("stranger") for address, _ in room.last)


def test_a_patient_cannot_use_the_clinicians_words(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "07:11", "/dose Rowan walk 60")
    assert "60" not in room.say(2, "07:10", "4, on and off")


@pytest.mark.parametrize(
    ("command", "found"),
    [
        ("/pause Rowan", "until"),
        ("/pause Rowan until 2020-01-01", "Nothing was changed"),
        ("/pause Nobody until 2026-03-10", "Nobody"),
        ("/dose Rowan walk 900", "dose"),
        ("/phase Rowan happy", "phase"),
        ("/interval Rowan 2", "4 to 7"),
        ("/what", "/caseload"),
        ("/caseload", "Rowan"),
        ("/patient rowan", "Rowan"),
        ("/note Rowan slept badly", "Rowan"),
        ("/clear Rowan", "Rowan"),
    ],
)
def test_the_clinicians_words_are_answered_in_a_sentence(room: Room, command: str, found: str) -> None:
    assert found.casefold() in room.say(1, "12:00", command, who="clinician").casefold()


def test_a_new_dose_comes_with_the_next_day_that_has_one(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "12:00", "/dose Rowan walk 8", who="clinician")
    assert "Dr Vale" in room.sent_to("patient")
    assert "Walk 8 minutes" in room.say(2, "07:10", "4, on and off")


def test_stop_and_allow(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "12:00", "/stop Rowan", who="clinician")
    assert "Walk 5" not in room.say(1, "12:01", "plan")
    room.say(1, "13:00", "/allow Rowan", who="clinician")
    assert "Walk 5" not in room.say(1, "13:01", "plan")
    assert "Walk 5 minutes" in room.say(2, "07:10", "4, on and off")
