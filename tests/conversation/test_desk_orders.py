"""Each order: confirmed in a sentence, logged, told to the patient with who and until when, and taken back."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest

from bot.conversation.desk.commands import GENERAL, OF_A_PATIENT
from bot.conversation.desk.periods import end_of_period
from bot.conversation.wording import clinic, clinician
from bot.program.terms import Decision
from storage.database import Database, open_database
from storage.tables import Clinician
from tests.conversation.room import Room

WHO = "Dr Vale"
DOSE = ("dose_order_walk", "dose_order_step", "dose_order_sets", "dose_order_reps")
ORDERS: list[tuple[str, str, dict[str, Any], str, str, str]] = [
    # command, kind, columns after it, in the confirmation, told to the patient, told when it is taken back
    ("/pause Rowan for 7 days", "pause", {"paused_until": date(2026, 3, 8)}, "2026-03-08", "8 March 2026", "ended the pause"),
    ("/pause Rowan Until 2026-03-20.", "pause", {"paused_until": date(2026, 3, 20)}, "2026-03-20", "20 March 2026",
     "ended the pause"),
    ("/stop Rowan", "stop", {"loading_stopped": True}, "/allow Rowan", "stopped all exercises", "taken back the stop"),
    ("/dose Rowan walk 12", "dose", {"dose_order_walk": 12}, "12 min", "12 min", "taken back the new dose"),
    ("/dose Rowan walk 12 min", "dose", {"dose_order_walk": 12}, "12 min", "12 min", "taken back the new dose"),
    ("/dose Rowan raises Standing Both 3x10", "dose", {"dose_order_step": "standing both", "dose_order_sets": 3},
     "standing both 3x10", "standing both 3x10", "taken back the new dose"),
    ("/phase Rowan inflammatory", "phase", {"phase_by_hand": "inflammatory"}, "inflammatory", "calming", "taken back the phase"),
    ("/target Rowan 40", "target", {"walk_target": 40}, "40 minutes", "40 minutes", "taken back the new walking target"),
    ("/target Rowan 40 min", "target", {"walk_target": 40}, "40 minutes", "40 minutes", "taken back the new walking target"),
    ("/interval Rowan 6 days", "interval", {"interval": 6}, "6 days", "6 days", "taken back the new time"),
    ("/zone Rowan Europe/Paris", "zone", {"timezone": "Europe/Paris"}, "Europe/Paris", "Europe/Paris", "taken back the new time"),
    ("/end Rowan", "end", {"status": "ended"}, "has ended", "ended your programme", "goes on"),
]  # fmt: skip
IDS = [each[0] for each in ORDERS]


@pytest.fixture
def room() -> Room:
    return Room(open_database("sqlite://"))


def _doctor(room: Room, text: str, day: int = 1, clock: str = "12:00") -> str:
    return room.say(day, clock, text, "clinician")


@pytest.mark.parametrize(("command", "kind", "columns", "confirmed", "told", "taken_back"), ORDERS, ids=IDS)
def test_an_order_is_done_confirmed_logged_told_and_taken_back(
    room: Room, command: str, kind: str, columns: dict[str, Any], confirmed: str, told: str, taken_back: str
) -> None:
    room.say(1, "07:10", "4, on and off")
    before = room.get()
    reply = _doctor(room, command)
    assert confirmed in reply
    assert told in room.sent_to("patient")
    assert WHO in room.sent_to("patient")
    assert {name: getattr(room.get(), name) for name in columns} == columns
    assert [(each.kind, each.clinician_id) for each in room.actions()] == [(kind, 1)]
    undone = _doctor(room, "/undo Rowan", clock="12:01")
    assert clinic.UNDONE[kind] in undone
    assert taken_back in room.sent_to("patient")
    assert WHO in room.sent_to("patient")
    after = room.get()
    assert {name: getattr(after, name) for name in columns} == {name: getattr(before, name) for name in columns}
    assert [each.kind for each in room.actions()] == [kind, "undo"]
    assert room.actions()[0].undone_at is not None
    log = _doctor(room, "/log Rowan", clock="12:02")
    assert "(taken back)" in log
    assert f"took back: {clinic.UNDONE[kind]}" in log
    assert "nothing to take back" in _doctor(room, "/undo Rowan", clock="12:03")


MONDAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("said", "until"),
    [
        ("until 2026-03-20", "2026-03-20"), ("2026-03-20", "2026-03-20"), ("Until 2026-03-20.", "2026-03-20"),
        ("for 7 days", "2026-03-08"), ("for 1 day", "2026-03-02"), ("7 days", "2026-03-08"), ("for a week", "2026-03-08"),
        ("a week", "2026-03-08"), ("for 2 weeks", "2026-03-15"), ("for two weeks", "2026-03-15"),
        ("today", "2026-03-02"), ("tomorrow", "2026-03-03"), ("until tomorrow", "2026-03-03"),
        ("until friday", "2026-03-06"), ("until Fri.", "2026-03-06"), ("till Sunday", "2026-03-08"),
        ("until monday", "2026-03-09"),  # said on a Monday
        ("until 5 june", "2026-06-05"), ("5 June 2026", "2026-06-05"), ("until the 5th of June", "2026-06-05"),
        ("until June 5", "2026-06-05"), ("until June 5th, 2026", "2026-06-05"), ("until 5. June", "2026-06-05"),
        ("until 5.6.2026", "2026-06-05"), ("5.6.", "2026-06-05"), ("until 1 March", "2027-03-01"),
        ("until 2 March", "2026-03-02"), ("until 3 sept", "2026-09-03"), ("until 2027-03-03", "2027-03-03"),
        # not clear, over, or too far ahead
        ("", None), ("soon", None), ("until 5/6", None), ("until next friday", None), ("for 0 days", None),
        ("until 30 February", None), ("until 2026-02-30", None), ("until 2026-03-01", None), ("until 2027-03-04", None),
        ("for 367 days", "2027-03-03"), ("for 368 days", None), ("for 999 weeks", None), ("until 5.13.2026", None),
        ("until 9999-12-31", None), ("until 0000-01-01", None), ("until 29 February", None), ("for some days", None),
    ],
)  # fmt: skip
def test_a_period_in_words(said: str, until: str | None) -> None:
    found = end_of_period(said, MONDAY)
    assert (None if found is None else found.isoformat()) == until


@pytest.mark.parametrize("weekday", range(7))
def test_a_weekday_is_the_next_of_that_name(weekday: int) -> None:
    for said in ("until wednesday", "wed"):
        found = end_of_period(said, MONDAY + timedelta(days=weekday))
        assert found is not None
        assert found.weekday() == 2
        assert 1 <= (found - MONDAY).days - weekday <= 7


def test_a_pause_and_a_cover_in_words(room: Room) -> None:
    room.add_clinician("Dr Hill", "hill")
    assert "Friday, 2026-03-06" in _doctor(room, "/pause Rowan until friday")
    assert room.get().paused_until == date(2026, 3, 6)
    assert "Sunday, 2026-03-15" in _doctor(room, "/cover Dr Hill for 2 weeks", clock="12:01")
    assert "othing was changed" in _doctor(room, "/cover Dr Hill until someday", clock="12:02")


def test_the_inflammatory_phase_set_by_hand_unloads_today_and_undo_loads_again(room_on_both: Room) -> None:
    room = room_on_both
    assert "Walk 5" in room.say(1, "07:10", "4, on and off")
    before = room.decision(1)
    assert "no doses, today neither" in _doctor(room, "/phase Rowan inflammatory")
    told = room.sent_to("patient")
    assert "today too" in told
    assert "all the time" not in told, "constant pain brings no load back"
    decided = room.decision(1)
    assert decided is not None
    assert (decided.decision, decided.plan.walk, decided.plan.has_raises) == (Decision.UNLOAD, 0, False)
    assert "Walk 5" not in room.say(1, "12:01", "plan")
    _doctor(room, "/undo Rowan", clock="12:02")
    after = room.decision(1)
    assert before is not None
    assert after is not None
    assert (after.decision, after.plan) == (before.decision, before.plan)
    assert "Walk 5" in room.say(1, "12:03", "plan")


def test_before_the_morning_answer_the_phase_set_by_hand_holds_for_today_too(room: Room) -> None:
    _doctor(room, "/phase Rowan inflammatory", clock="06:00")
    assert "Walk 5" not in room.say(1, "06:01", "plan")
    assert "Walk 5" not in room.say(1, "07:10", "4, on and off")


@pytest.mark.parametrize("wanted", ["reparative", "remodelling"])
def test_another_phase_set_by_hand_leaves_today_as_it_is(room: Room, wanted: str) -> None:
    room.say(1, "07:10", "4, constant")
    before = room.decision(1)
    _doctor(room, f"/phase Rowan {wanted}")
    assert "Today's plan stays" in room.sent_to("patient")
    assert room.decision(1) == before


def test_the_table_has_every_kind_that_can_be_taken_back() -> None:
    apart = {"resume", "allow", "clear", "note"}  # they need something before them: tests of their own below
    assert {each[1] for each in ORDERS} | apart == set(clinic.UNDONE)


def test_a_stop_on_the_wrong_patient_taken_back_leaves_the_day_as_it_was(room_on_both: Room) -> None:
    room = room_on_both
    room.say(1, "07:10", "4, on and off")
    first = room.decision(1)
    _doctor(room, "/stop Rowan")
    stopped = room.decision(1)
    assert stopped is not None
    assert stopped.decision is Decision.STOP
    _doctor(room, "/undo Rowan", clock="12:01")
    after = room.decision(1)
    assert first is not None
    assert after is not None
    assert (after.decision, after.plan) == (first.decision, first.plan)
    assert "Walk 5" in room.say(1, "12:02", "plan")
    room.say(1, "20:00", "all done, 2")
    assert "Walk 5" in room.say(2, "07:10", "4, on and off")


@pytest.fixture
def room_on_both(database: Database) -> Room:
    return Room(database)


def test_a_stop_before_the_morning_answer_taken_back_still_waits_for_that_answer(room: Room) -> None:
    _doctor(room, "/stop Rowan", clock="06:00")
    _doctor(room, "/undo Rowan", clock="06:01")
    prompts = [text for _, text in room.tick_until(room.at(1, "07:30"))]
    assert len(prompts) == 1
    assert "Walk 5 minutes" in room.say(1, "07:40", "4, on and off")


def test_a_stop_of_yesterday_taken_back_is_an_allow(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    _doctor(room, "/stop Rowan")
    room.say(2, "07:10", "4, on and off")
    _doctor(room, "/undo Rowan", 2)
    assert "next morning answer" in room.sent_to("patient")
    assert "Walk 5" not in room.say(2, "12:05", "plan")
    assert "Walk 5" in room.say(3, "07:10", "4, on and off")


def test_a_stop_taken_back_does_not_open_what_a_flag_keeps_shut(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    _doctor(room, "/stop Rowan")
    room.say(1, "13:00", "my calf is swollen and hot")
    _doctor(room, "/undo Rowan", clock="14:00")
    assert "Walk 5" not in room.sent_to("patient") + room.say(1, "14:01", "plan")
    decided = room.decision(1)
    assert decided is not None
    assert decided.decision is Decision.STOP


def test_an_allow_taken_back_stops_again_and_says_so(room: Room) -> None:
    _doctor(room, "/stop Rowan", clock="06:00")
    _doctor(room, "/allow Rowan", clock="06:01")
    assert WHO in room.sent_to("patient")
    reply = _doctor(room, "/undo Rowan", clock="06:02")
    assert "stopped again" in reply
    assert "stopped all exercises" in room.sent_to("patient")
    assert room.get().loading_stopped
    assert "Walk 5" not in room.say(1, "07:10", "4, on and off")


def test_a_resume_taken_back_is_a_pause_with_its_date(room: Room) -> None:
    _doctor(room, "/pause Rowan for 7 days")
    _doctor(room, "/resume Rowan", clock="12:01")
    _doctor(room, "/undo Rowan", clock="12:02")
    assert room.get().paused_until == date(2026, 3, 8)
    assert "8 March 2026" in room.sent_to("patient")


def test_a_clearing_taken_back_opens_the_same_flags_and_stops_the_day(room_on_both: Room) -> None:
    room = room_on_both
    room.say(1, "07:10", "4, on and off. my foot is numb")
    assert room.open_flags() == ["nerve_signs"]
    assert "nerve_signs" in _doctor(room, "/clear Rowan a pinched nerve, not new")
    room.say(2, "07:10", "4, on and off")
    _doctor(room, "/undo Rowan", 2, "09:00")
    assert room.open_flags() == ["nerve_signs"]
    assert "no exercises" in room.sent_to("patient")
    decided = room.decision(2)
    assert decided is not None
    assert decided.decision is Decision.STOP
    assert "Walk 5" not in room.say(2, "09:10", "plan")


def test_a_code_that_was_opened_anew_is_not_open_twice_after_the_clearing_is_taken_back(room: Room) -> None:
    room.say(1, "07:10", "4, on and off. my foot is numb")
    _doctor(room, "/clear Rowan")
    room.say(1, "13:00", "my foot is numb again")
    _doctor(room, "/undo Rowan", clock="14:00")
    assert room.open_flags() == ["nerve_signs"]
    _doctor(room, "/clear Rowan", clock="15:00")
    assert room.open_flags() == []


def test_a_note_is_taken_back_and_the_patient_hears_of_neither(room: Room) -> None:
    _doctor(room, "/note Rowan seems low")
    assert room.sent_to("patient") == ""
    assert "the note" in _doctor(room, "/undo Rowan", clock="12:01")
    assert room.sent_to("patient") == ""


def test_an_ended_programme_taken_up_again_prompts_again(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    _doctor(room, "/end Rowan")
    assert room.tick_until(room.at(3, "12:00")) == []
    _doctor(room, "/undo Rowan", 3)
    assert any("Good evening" in text for _, text in room.tick_until(room.at(3, "20:00")))
    assert "Noted" in room.say(3, "20:01", "all done, 2")


def test_a_dose_in_force_cannot_be_taken_back_and_that_is_said(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    _doctor(room, "/dose Rowan walk 8")
    assert "Walk 8" in room.say(2, "07:10", "4, on and off")
    reply = _doctor(room, "/undo Rowan", 2)
    assert "in force" in reply
    assert "Nothing was changed" in reply
    assert room.sent_to("patient") == ""
    assert "Walk 8" in room.say(3, "07:10", "4, on and off")


def test_a_dose_taken_back_in_time_is_never_given(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    _doctor(room, "/dose Rowan walk 8")
    _doctor(room, "/dose Rowan raises standing both 2x8", clock="12:01")
    _doctor(room, "/undo Rowan", clock="12:02")
    assert (room.get().dose_order_walk, room.get().dose_order_step) == (8, None)
    guidance = room.say(2, "07:10", "4, on and off")
    assert "Walk 8" in guidance
    decided = room.decision(2)
    assert decided is not None
    assert str(decided.plan.step) == "seated both"


def test_both_parts_of_a_dose_hold_together(room: Room) -> None:
    _doctor(room, "/dose Rowan walk 8", clock="05:00")
    _doctor(room, "/dose Rowan raises standing both 3x8", clock="05:01")
    room.say(1, "07:10", "4, on and off")
    decided = room.decision(2) or (room.say(2, "07:10", "4, on and off") and room.decision(2))
    assert decided
    assert (decided.plan.walk, str(decided.plan.step), decided.plan.sets) == (8, "standing both", 3)


def test_a_message_cannot_be_taken_back_and_what_was_before_it_can(room: Room) -> None:
    _doctor(room, "/message Rowan see you on Friday")
    assert "see you on Friday" in room.sent_to("patient")
    assert "cannot be taken back" in _doctor(room, "/undo Rowan", clock="12:01")
    _doctor(room, "/pause Rowan for 7 days", clock="12:02")
    _doctor(room, "/message Rowan rest well", clock="12:03")
    reply = _doctor(room, "/undo Rowan", clock="12:04")
    assert "the pause" in reply
    assert "message that was sent after it cannot" in reply


def test_a_pause_that_has_run_out_is_not_taken_back(room: Room) -> None:
    _doctor(room, "/pause Rowan for 2 days")
    assert "over already" in _doctor(room, "/undo Rowan", 5)
    assert room.sent_to("patient") == ""


def test_taking_back_goes_on_to_the_order_before(room: Room) -> None:
    _doctor(room, "/pause Rowan for 3 days")
    _doctor(room, "/pause Rowan for 9 days", clock="12:01")
    _doctor(room, "/undo Rowan", clock="12:02")
    assert room.get().paused_until == date(2026, 3, 4)
    assert "4 March 2026" in room.sent_to("patient"), "the pause that holds now"
    _doctor(room, "/undo Rowan", clock="12:03")
    assert room.get().paused_until is None


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("/allow Rowan", "not stopped by hand"),
        ("/resume Rowan", "not paused"),
        ("/clear Rowan", "no open red flag"),
        ("/phase Rowan auto", "no phase is set"),
        ("/pause Rowan for 0 days", "Nothing was changed"),
        ("/target Rowan 40.5", "Nothing was changed"),
        ("/target Rowan 2", "Nothing was changed"),
        ("/target Rowan 121", "Nothing was changed"),
        ("/interval Rowan 8", "Nothing was changed"),
        ("/interval Rowan soon", "Nothing was changed"),
        ("/dose Rowan 12", "Nothing was changed"),
        ("/dose Rowan walk 5 and raises", "Nothing was changed"),
        ("/zone Rowan", "Nothing was changed"),
        ("/zone Rowan Europe/Nowhere", "Nothing was changed"),
        ("/zone Europe/Nowhere", "Nothing was changed"),
        ("/zone", "Nothing was changed"),
        ("/message Rowan", "empty"),
        ("/message Rowan " + "x" * 1501, "too long"),
        ("/note Rowan", "empty"),
    ],
)
def test_what_cannot_be_done_changes_nothing_and_the_patient_hears_nothing(room: Room, command: str, said: str) -> None:
    room.tick_until(room.at(1, "12:00"))
    before = room.get().model_dump()
    assert said in _doctor(room, command)
    assert room.sent_to("patient") == ""
    assert room.actions() == []
    assert room.get().model_dump() == before


def test_an_allow_with_an_open_flag_says_that_the_flag_still_stops(room: Room) -> None:
    room.say(1, "07:10", "4, on and off. my foot is numb")
    assert "/clear Rowan" in _doctor(room, "/allow Rowan")
    _doctor(room, "/stop Rowan", clock="12:01")
    assert "red flag is still open" in _doctor(room, "/allow Rowan", clock="12:02")
    assert "no exercises" in room.sent_to("patient")
    assert "load the foot again" not in room.sent_to("patient")


def test_a_clear_under_a_stop_does_not_say_that_it_goes_on(room: Room) -> None:
    room.say(1, "07:10", "4, on and off. my foot is numb")
    _doctor(room, "/stop Rowan")
    assert "/allow Rowan" in _doctor(room, "/clear Rowan", clock="12:01")
    assert "still stopped" in room.sent_to("patient")


@pytest.mark.parametrize("gone", ["blocked", "never joined"])
def test_a_patient_who_cannot_be_told_is_named_so(room: Room, gone: str) -> None:
    if gone == "blocked":
        room.conversation.gone("test", "patient", room.at(1, "08:00"))
        room.deliver(room.at(1, "08:00"))
    else:
        room.set(address=None)
    assert "NOT told" in _doctor(room, "/stop Rowan")
    assert room.get().loading_stopped
    reply = _doctor(room, "/message Rowan hello", clock="12:01")
    assert "Not sent" in reply
    assert [each.kind for each in room.actions() if each.clinician_id] == ["stop"]


def test_words_that_are_no_command_are_passed_on_to_nobody_and_that_is_said(room: Room) -> None:
    reply = _doctor(room, "tell Rowan to rest")
    assert "passed on to nobody" in reply
    assert "/message NAME TEXT" in reply
    assert room.sent_to("patient") == ""


@pytest.mark.parametrize("kind", ["edit", "forwarded", "voice", "sticker"])
def test_only_a_new_message_in_own_words_acts(room: Room, kind: str) -> None:
    reply = room.send(1, "12:00", "/stop Rowan" if kind in {"edit", "forwarded"} else "", "clinician", kind=kind)
    assert reply
    assert not room.get().loading_stopped


def test_enrolment_after_a_warning_sign_waits_for_allow(room: Room) -> None:
    room.set(status="enrolling", start=None, loading_stopped=True, dialogue={"enrolling": "signs"})
    assert "may start" in _doctor(room, "/allow Rowan")
    assert "you can start" in room.sent_to("patient")
    assert not room.get().loading_stopped
    _doctor(room, "/undo Rowan", clock="12:01")
    assert room.get().loading_stopped


@pytest.mark.parametrize("sign", ["yes", "my foot is numb"])
def test_a_stop_that_a_sign_at_enrolment_needs_is_not_lifted_by_undo(room: Room, sign: str) -> None:
    """The sign comes after the stop: the stop is no longer the clinician's alone."""
    room.set(status="enrolling", start=None, dialogue={"enrolling": "signs"})
    _doctor(room, "/stop Rowan")
    room.send(1, "12:01", sign)
    reply = _doctor(room, "/undo Rowan", clock="12:02")
    assert "the stop stays" in reply
    assert "Nothing was changed" in reply
    assert room.sent_to("patient") == ""
    assert room.get().loading_stopped
    assert not [each for each in room.actions() if each.undone_at is not None]
    _doctor(room, "/clear Rowan", clock="12:03")
    _doctor(room, "/allow Rowan", clock="12:04")
    assert not room.get().loading_stopped


@pytest.mark.parametrize("orders", [("/clear Rowan", "/allow Rowan"), ("/allow Rowan", "/clear Rowan")])
def test_at_enrolment_a_flag_and_its_stop_are_both_ended_before_the_patient_may_start(
    room: Room, orders: tuple[str, str]
) -> None:
    room.set(status="enrolling", start=None, dialogue={"enrolling": "signs"})
    room.send(1, "11:00", "my foot is numb")
    first = _doctor(room, orders[0])
    assert orders[1] in first, "the other one is still needed, and named"
    assert "can start" not in room.sent_to("patient")
    assert "may start" in _doctor(room, orders[1], clock="12:01")
    assert "you can start" in room.sent_to("patient")


@pytest.mark.parametrize(
    ("command", "column", "value"),
    [("/target Rowan 40", "walk_target", 50), ("/pause Rowan for 3 days", "paused_until", date(2026, 3, 30)),
     ("/phase Rowan inflammatory", "phase_by_hand", None), ("/interval Rowan 6", "interval", 7)],
)  # fmt: skip
def test_what_was_changed_since_is_not_taken_back(room: Room, command: str, column: str, value: object) -> None:
    _doctor(room, command)
    room.set(**{column: value})
    reply = _doctor(room, "/undo Rowan", clock="12:01")
    assert "changed again since" in reply
    assert "Nothing was changed" in reply
    assert getattr(room.get(), column) == value
    assert room.sent_to("patient") == ""


def test_prompts_and_days_follow_the_zone_that_is_set_for_a_patient(room: Room) -> None:
    room.say(2, "07:10", "4, on and off")
    _doctor(room, "/zone Rowan New York", 2)
    assert room.get().timezone == "America/New_York"
    sent = room.pass_time(room.at(3, "13:00"))
    # 19:30 and 07:00 in New York are 00:30 and 12:00 in Lisbon (UTC-5 and UTC until 8 March 2026).
    prompts = [at for at, who, text in sent if who == "patient" and ("evening" in text or "morning" in text)]
    assert [prompts[0], prompts[-1]] == [room.at(3, "00:30"), room.at(3, "12:00")]
    assert "Noted" in room.say(3, "12:10", "4, on and off")


def test_a_zone_far_to_the_west_goes_back_a_day_without_harm(room: Room) -> None:
    """At 10:00 on day 3 in Lisbon it is the evening of day 2 in Honolulu (UTC-10)."""
    for day in (1, 2):
        room.say(day, "07:10", "4, on and off")
    room.say(3, "09:00", "4, on and off")
    assert "Honolulu" in _doctor(room, "/zone Rowan Honolulu", 3, "10:00")
    assert room.say(3, "10:05", "plan")
    assert "Noted" in room.say(3, "10:06", "all done, worst 3")
    assert "Noted" in room.say(4, "18:00", "4, on and off")


def test_the_clinicians_own_zone_moves_the_digest(room: Room) -> None:
    room.say(1, "08:30", "4, on and off")
    assert "Europe/Paris" in _doctor(room, "/zone paris")
    with room.database.session() as session:
        row = session.get(Clinician, 1)
        assert row is not None
        assert row.timezone == "Europe/Paris"
        assert row.next_digest_at == room.at(8, "07:00"), "Monday 08:00 in Paris"
    assert room.actions() == []
    assert room.get().timezone == "Europe/Lisbon"


def test_help_has_every_command_and_fits_a_phone() -> None:
    text = clinician.help_text()
    for command in {*GENERAL, *OF_A_PATIENT} - {"/start"}:
        assert re.search(rf"{command}\b", text), command
    for named in re.findall(r"(?m)/[a-z]+", text):
        assert named in {*GENERAL, *OF_A_PATIENT}, f"{named} is not a command"
    assert len(text) < 4000, "one message"
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize(
    "line", [each for part in clinician.COMMANDS.values() for each in part], ids=lambda each: each[0]
)
def test_what_the_help_shows_can_be_written_just_so(line: tuple[str, str]) -> None:
    """Every example of the help, with its words filled in, is understood."""
    room = Room(open_database("sqlite://"))
    room.add_clinician("Dr Hill", "hill")
    command = line[0].replace("[note]", "seen today").replace("[", "").replace("]", "")
    filled = {"NAME": "Rowan", "DATE": "2026-03-20", "STEP": "seated both", "PHASE": "reparative",
              "COLLEAGUE": "Dr Hill", "TEXT": "some words"}  # fmt: skip
    if command.startswith("/invite"):
        filled["NAME"] = "Briar"
    for name, value in filled.items():
        command = re.sub(rf"\b{name}\b", value, command)
    if command.startswith("/resume"):
        _doctor(room, "/pause Rowan for 3 days", clock="11:00")
    if command.startswith(("/allow", "/undo")):
        _doctor(room, "/stop Rowan", clock="11:00")
    if command.startswith("/unshare"):
        _doctor(room, "/share Rowan with Dr Hill", clock="11:00")
    if command.startswith(("/clear", "/seen")):
        room.say(1, "11:00", "my foot is numb")
    reply = _doctor(room, command)
    assert reply
    assert not re.search(r"othing was changed|not understand|cannot be set|no patient|Write /|could not", reply), reply
