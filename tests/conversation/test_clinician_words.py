"""What the clinician's words do to the days that follow."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from bot.program.terms import Decision, Phase
from storage import people, shares
from storage.database import Database, open_database
from storage.tables import ClinicianAction
from tests.conversation.room import START, Room


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


@pytest.fixture
def room_on_both(database: Database) -> Room:
    return Room(database)


def _doctor(room: Room, day: int, clock: str, text: str) -> str:
    return room.say(day, clock, text, who="clinician")


def _good_day(room: Room, day: int, pain: int = 4) -> str:
    reply = room.say(day, "07:10", f"{pain}, on and off")
    room.say(day, "20:00", "all done, worst 2")
    return reply


def _add(room: Room, *aliases: str) -> None:
    with room.database.session() as session:
        mine = people.patient_by_id(session, room.patient_id)
        for number, alias in enumerate(aliases):
            people.add_patient(
                session, alias=alias, clinician_id=mine.clinician_id, channel="test", address=f"other{number}",
                timezone=mine.timezone, start=START, status="active", prior_activity="a little",
                enrolled_first_step_pain=3, enrolled_rest_pattern="intermittent", start_walk=5,
                start_step="seated both", start_sets=2, start_reps=8, created_at=room.at(1, "04:00"),
            )  # fmt: skip


def _walks(room: Room, days: range) -> list[int]:
    found = []
    for day in days:
        decided = room.decision(day)
        assert decided is not None
        found.append(decided.plan.walk)
    return found


def test_a_pause_blocks_increases_to_the_end_of_its_date_and_keeps_the_doses(room_on_both: Room) -> None:
    free = Room(open_database("sqlite://"))
    paused = room_on_both
    _doctor(paused, 1, "05:00", f"/pause Rowan until {START + timedelta(days=8)}")
    for day in range(1, 12):
        _good_day(free, day)
        _good_day(paused, day)
    rose_free = [day for day in range(1, 12) if (d := free.decision(day)) and d.decision is Decision.PROGRESS]
    rose_paused = [day for day in range(1, 12) if (d := paused.decision(day)) and d.decision is Decision.PROGRESS]
    assert rose_free
    assert rose_free[0] <= 9
    assert rose_paused
    assert rose_paused[0] == 10  # the pause ends with day 9
    assert _walks(paused, range(1, 10)) == [5] * 9


def test_a_flare_still_lowers_the_doses_in_a_pause(room: Room) -> None:
    _doctor(room, 1, "05:00", "/pause Rowan for 30 days")
    for day in range(1, 4):
        _good_day(room, day)
    assert "rest" in room.say(4, "07:10", "8, comes and goes").lower()
    decided = room.decision(4)
    assert decided is not None
    assert decided.plan.walk == 0


def test_resume_lets_them_rise_again(room: Room) -> None:
    _doctor(room, 1, "05:00", "/pause Rowan for 30 days")
    for day in range(1, 9):
        _good_day(room, day)
    assert _walks(room, range(1, 9)) == [5] * 8
    _doctor(room, 8, "21:00", "/resume Rowan")
    assert "Dr Vale" in room.sent_to("patient")
    _good_day(room, 9)
    decided = room.decision(9)
    assert decided is not None
    assert decided.decision is Decision.PROGRESS
    assert "not paused" in _doctor(room, 9, "21:00", "/resume Rowan")


@pytest.mark.parametrize("until", ["2026-03-01", "2026-02-30", "someday", "", "for 0 days", "2030-01-01"])
def test_a_bad_date_changes_nothing(room: Room, until: str) -> None:
    assert "Nothing was changed" in _doctor(room, 1, "12:00", f"/pause Rowan {until}")
    assert room.sent_to("patient") == ""
    with room.database.session() as session:
        assert people.patient_by_id(session, room.patient_id).paused_until is None


def test_an_ambiguous_name_changes_nobody_and_names_both(room: Room) -> None:
    _add(room, "Roan Hill", "Robin")
    reply = _doctor(room, 1, "12:00", "/stop Ro")
    assert all(alias in reply for alias in ("Rowan", "Roan Hill", "Robin"))
    with room.database.session() as session:
        assert not any(each.loading_stopped for each in shares.caseload(session, 1, room.at(1, "12:00")))


def test_the_longest_alias_that_fits_is_meant(room: Room) -> None:
    _add(room, "Rowan Two")
    assert "Rowan Two" in _doctor(room, 1, "12:00", "/stop rowan two")
    with room.database.session() as session:
        assert [each.alias for each in shares.caseload(session, 1, room.at(1, "12:00")) if each.loading_stopped] == [
            "Rowan Two"
        ]


def test_another_clinicians_patient_is_unknown(room: Room) -> None:
    with room.database.session() as session:
        people.add_clinician(
            session, name="Dr Hill", channel="test", address="hill", timezone="UTC", now=room.at(1, "04:00")
        )
    for command in ("/patient Rowan", "/stop Rowan", "/caseload"):
        assert "week" not in room.say(1, "12:00", command, who="hill")
    with room.database.session() as session:
        assert not people.patient_by_id(session, room.patient_id).loading_stopped


@pytest.mark.parametrize("dose", ["walk 121", "walk -1", "walk five", "raises headstand 2x8", "raises hops 0x8", ""])
def test_a_dose_that_cannot_be_read_changes_nothing(room: Room, dose: str) -> None:
    _doctor(room, 1, "12:00", f"/dose Rowan {dose}")
    assert room.sent_to("patient") == ""
    with room.database.session() as session:
        assert people.patient_by_id(session, room.patient_id).dose_order_number in (None, 0)


def test_a_dose_waits_for_the_next_day_that_has_one(room_on_both: Room) -> None:
    room = room_on_both
    _good_day(room, 1)
    room.say(2, "07:10", "my foot is numb")
    _doctor(room, 2, "12:00", "/dose Rowan walk 8")
    assert "Walk 8" not in room.say(3, "07:10", "4, on and off")
    _doctor(room, 3, "12:00", "/clear Rowan seen today")
    assert room.open_flags() == []
    assert "Walk 8 minutes" in room.say(4, "07:10", "4, on and off")


def test_a_phase_by_hand_holds_until_it_is_lifted(room: Room) -> None:
    _doctor(room, 1, "05:00", "/phase Rowan inflammatory")
    room.say(1, "07:10", "4, on and off")
    decided = room.decision(1)
    assert decided is not None
    assert decided.phase is Phase.INFLAMMATORY
    assert not decided.plan.walk
    assert "rules" in _doctor(room, 1, "12:00", "/phase Rowan auto")


def test_what_was_done_is_logged_with_who_did_it(room: Room) -> None:
    for minute, command in enumerate(
        ("/pause Rowan for 3 days", "/resume Rowan", "/stop Rowan", "/allow Rowan", "/dose Rowan walk 6",
         "/phase Rowan reparative", "/note Rowan new shoes", "/target Rowan 40", "/interval Rowan 5")
    ):  # fmt: skip
        assert _doctor(room, 1, f"12:{10 + minute}", command)
    with room.database.session() as session:
        logged = session.exec(select(ClinicianAction).order_by(ClinicianAction.id)).all()  # type: ignore[arg-type]
        assert [each.kind for each in logged] == [
            "pause", "resume", "stop", "allow", "dose", "phase", "note", "target", "interval",
        ]  # fmt: skip
        assert {each.clinician_id for each in logged} == {1}


def test_a_note_is_not_shown_to_the_patient(room: Room) -> None:
    _doctor(room, 1, "12:00", "/note Rowan seems low")
    assert room.sent_to("patient") == ""
    assert "seems low" not in room.say(1, "12:05", "plan")
