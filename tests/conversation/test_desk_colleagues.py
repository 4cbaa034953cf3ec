"""Two clinicians see nothing of each other's patients; a share and a cover open what they say, for as long as they say."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlmodel import select

from bot.conversation.desk.commands import OF_A_PATIENT
from storage import shares
from storage.database import open_database
from storage.tables import OutgoingMessage, Patient
from tests.conversation.room import Room
from tests.load.counting import statements


@pytest.fixture
def room() -> Room:
    """Dr Vale (Lisbon) with Rowan; Dr Hill (Auckland) with Hazel; Dr Ash with nobody."""
    room = Room(open_database("sqlite://"))
    hill = room.add_clinician("Dr Hill", "hill", "Pacific/Auckland")
    room.add_clinician("Dr Ash", "ash")
    room.add_patient("Hazel", "hazel", hill)
    return room


def _sees(room: Room, who: str, day: int = 1, clock: str = "12:00") -> str:
    return room.say(day, clock, "/caseload", who)


def _everything_about(room: Room, who: str, name: str) -> str:
    heard = []
    for command in OF_A_PATIENT:
        more = {"/pause": "for 7 days", "/dose": "walk 60", "/phase": "inflammatory", "/target": "90", "/interval": "7",
                "/note": "x", "/message": "x", "/zone": "Paris"}.get(command, "")  # fmt: skip
        heard.append(room.say(1, "12:00", f"{command} {name} {more}".strip(), who))
    heard += [room.say(1, "12:01", f"/seen {name}", who), room.say(1, "12:02", "/seen", who)]
    heard += [room.say(1, "12:03", f"/share {name} with Dr Ash", who), room.say(1, "12:04", f"/unshare {name}", who)]
    return "\n".join(heard)


def test_nothing_of_a_colleagues_patient_is_seen_or_touched(room: Room) -> None:
    room.say(1, "09:00", "8, all the time. my calf is swollen and hot", "hazel")
    before = room.get(2).model_dump()
    heard = _everything_about(room, "clinician", "Hazel")
    for told in ("calf", "clot", "stop;", "8 /", "unload"):
        assert told not in heard
    assert room.get(2).model_dump() == before
    assert room.actions(2) == []
    assert "Hazel" not in _sees(room, "clinician")
    with room.database.session() as session:
        texts = session.exec(select(OutgoingMessage.text).where(OutgoingMessage.address == "clinician")).all()
        charts = session.exec(select(OutgoingMessage.attachment).where(OutgoingMessage.address == "clinician")).all()
    assert all("Hazel" not in each.replace('called "Hazel', "") for each in texts)
    assert not any(each and each.get("patient_id") == 2 for each in charts)
    assert "Hazel" in room.say(1, "13:00", "/seen", "hill"), "the own alert still waits for its own clinician"


def test_the_digest_has_the_own_patients_only(room: Room) -> None:
    for day in (1, 2):
        room.say(day, "07:10", "4, on and off")
        room.say(day, "07:11", "4, on and off", "hazel")
    text = room.say(3, "08:00", "/digest", "clinician")
    assert "Rowan" in text
    assert "Hazel" not in text
    with room.database.session() as session:
        wanted = session.exec(select(OutgoingMessage.attachment).where(OutgoingMessage.address == "clinician")).all()
    assert [each["patient_ids"] for each in wanted if each] == [[1]]
    room.say(3, "08:01", "/share all with Dr Vale", "hill")
    assert "Hazel" in room.say(3, "08:02", "/digest", "clinician")


def test_the_buttons_of_another_chat_do_nothing(room: Room) -> None:
    room.say(1, "09:00", "my calf is swollen and hot", "hazel")
    room.press(1, "09:01", "Seen", "hill", by="clinician")
    assert room.last == []
    assert room.pressed is not None
    assert "over" in room.pressed.note
    room.press(1, "09:02", "Hazel", "hill", by="patient")
    assert room.last == []
    assert "Hazel" in room.press(1, "09:03", "Seen", "hill")


def test_a_share_of_one_opens_that_one_and_is_told_and_ended(room: Room) -> None:
    room.add_patient("Briar", "briar")
    assert "Dr Hill now sees Rowan" in room.say(1, "10:00", "/share Rowan with Dr Hill", "clinician")
    assert "Dr Vale has shared Rowan with you" in room.sent_to("hill")
    seen = _sees(room, "hill")
    assert "Rowan (Dr Vale)" in seen
    assert "Briar" not in seen
    assert "paused" in room.say(1, "12:10", "/pause Rowan for 3 days", "hill")
    assert "Dr Hill" in room.sent_to("patient"), "the patient hears who did it"
    assert "Dr Hill" in room.say(1, "12:11", "/log Rowan", "clinician")
    assert "Dr Hill" in room.say(1, "12:12", "/undo Rowan", "clinician"), "whose order was taken back"
    assert "Dr Vale has taken back" in room.sent_to("hill")
    assert "no longer shared with Dr Hill" in room.say(1, "12:13", "/unshare Rowan", "clinician")
    assert "no longer shares Rowan" in room.sent_to("hill")
    assert "Rowan" not in _sees(room, "hill", 1, "12:20")
    room.say(1, "12:21", "/stop Rowan", "hill")
    assert not room.get().loading_stopped


@pytest.mark.parametrize("what", ["Rowan", "Rowan (Dr Vale)", "all"])
def test_a_colleague_cannot_share_on(room: Room, what: str) -> None:
    room.say(1, "10:00", "/share Rowan with Dr Hill", "clinician")
    reply = room.say(1, "10:01", f"/share {what} with Dr Ash", "hill")
    if what != "all":
        assert "own clinician" in reply
    assert "Rowan" not in _sees(room, "ash")
    room.say(1, "10:03", "/cover Dr Ash for 3 days", "hill")
    assert "Rowan" not in _sees(room, "ash", 1, "12:01")


def test_what_is_shared_as_a_whole_is_not_ended_for_one(room: Room) -> None:
    room.say(1, "10:00", "/share all with Dr Hill", "clinician")
    reply = room.say(1, "10:01", "/unshare Rowan", "clinician")
    assert "still seen by Dr Hill" in reply
    assert "/unshare all" in reply
    assert "Rowan" in _sees(room, "hill")
    room.say(1, "12:01", "/unshare all", "clinician")
    assert "Rowan" not in _sees(room, "hill", 1, "12:02")


def test_unshare_all_ends_what_was_shared_by_name_too(room: Room) -> None:
    room.say(1, "10:00", "/share Rowan with Dr Hill", "clinician")
    room.say(1, "10:01", "/share all with Dr Ash", "clinician")
    reply = room.say(1, "10:02", "/unshare all", "clinician")
    assert "Dr Hill" in reply
    assert "Dr Ash" in reply
    assert "Rowan" not in _sees(room, "hill") + _sees(room, "ash")


def test_unshare_with_one_colleague_leaves_the_other(room: Room) -> None:
    room.say(1, "10:00", "/share Rowan with Dr Hill", "clinician")
    room.say(1, "10:01", "/share Rowan with Dr Ash", "clinician")
    room.say(1, "10:02", "/unshare Rowan WITH dr ash", "clinician")
    assert "Rowan" in _sees(room, "hill")
    assert "Rowan" not in _sees(room, "ash")


def test_a_cover_ends_with_its_day_on_the_clock_of_the_one_who_set_it(room: Room) -> None:
    """Dr Vale's Wednesday ends at 00:00 in Lisbon, when it is Thursday afternoon in Auckland."""
    reply = room.say(1, "10:00", "/cover Dr Hill until 2026-03-04", "clinician")
    assert "2026-03-04" in reply
    assert "2026-03-04" in room.sent_to("hill")
    assert "Rowan" in _sees(room, "hill", 3, "23:59")
    assert "Rowan" not in _sees(room, "hill", 4, "00:01")
    assert "no patient" in room.say(4, "00:02", "/stop Rowan", "hill")


def test_a_cover_set_in_auckland_ends_on_aucklands_clock(room: Room) -> None:
    room.say(1, "10:00", "/cover Dr Vale until 2026-03-03", "hill")
    last = datetime(2026, 3, 3, 10, 59, tzinfo=UTC)  # 23:59 in Auckland (UTC+13 until April)
    with room.database.session() as session:
        seen = [each.alias for each in shares.caseload(session, 1, last)]
        after = [each.alias for each in shares.caseload(session, 1, last.replace(hour=11, minute=1))]
    assert seen == ["Hazel", "Rowan"]
    assert after == ["Rowan"]


def test_a_cover_and_a_share_for_good_do_not_end_each_other(room: Room) -> None:
    room.say(1, "10:00", "/share all with Dr Hill", "clinician")
    room.say(1, "10:01", "/cover Dr Hill for 2 days", "clinician")
    assert "Rowan" in _sees(room, "hill", 5), "the share for good outlives the holiday"
    room.say(5, "12:01", "/cover Dr Ash for 9 days", "clinician")
    assert "Dr Ash" in room.say(5, "12:02", "/cover off", "clinician")
    assert "Rowan" not in _sees(room, "ash", 5, "12:03")
    assert "Rowan" in _sees(room, "hill", 5, "12:04")
    assert "Nobody covers" in room.say(5, "12:05", "/cover off", "clinician")


@pytest.mark.parametrize(
    "command",
    ["/share", "/share Rowan", "/share Rowan with Dr Who", "/share Zed with Dr Hill", "/share Rowan with Dr Vale",
     "/cover Dr Hill", "/cover Dr Hill until 2020-01-01", "/cover Dr Hill until 2030-01-01", "/cover Dr Who for 3 days",
     "/cover Dr Hill for 0 days", "/unshare Zed", "/unshare Rowan with Dr Who", "/cover"],
)  # fmt: skip
def test_what_cannot_be_shared_opens_nothing(room: Room, command: str) -> None:
    reply = room.say(1, "10:00", command, "clinician")
    assert "othing was changed" in reply
    assert room.sent_to("hill") == ""
    assert "Rowan" not in _sees(room, "hill") + _sees(room, "ash")


def test_a_colleague_of_the_same_name_is_not_guessed(room: Room) -> None:
    room.add_clinician("Dr Hill", "hill 2")
    assert "more than one" in room.say(1, "10:00", "/share Rowan with Dr Hill", "clinician")
    assert "Rowan" not in _sees(room, "hill") + _sees(room, "hill 2")


def test_a_share_never_reaches_the_givers_colleagues_patients(room: Room) -> None:
    """What Dr Hill shares with Dr Vale is not part of what Dr Vale shares with Dr Ash."""
    room.say(1, "10:00", "/share all with Dr Vale", "hill")
    room.say(1, "10:01", "/share all with Dr Ash", "clinician")
    seen = _sees(room, "ash")
    assert "Rowan" in seen
    assert "Hazel" not in seen


def test_a_caseload_shows_each_state_in_a_line(room: Room) -> None:
    room.add_patient("Briar", None, status="invited", start=None)
    room.add_patient("Clover", "clover", status="enrolling", start=None)
    room.add_patient("Daisy", "daisy", status="ended")
    room.set(loading_stopped=True)
    text = _sees(room, "clinician")
    lines = dict(each.split(": ", 1) for each in text.splitlines())
    assert lines["Briar"] == "invited, not joined yet"
    assert "first questions" in lines["Clover"]
    assert "Daisy" not in lines
    assert "loading stopped" in lines["Rowan"]
    assert [each for _, labels in room.keyboards("clinician") for each in labels] == ["Briar", "Clover", "Rowan"]


def test_a_caseload_takes_as_many_statements_for_thirty_as_for_three() -> None:
    """Patients of every kind, with days to close: the clinician comes back after a long weekend."""

    def sent_for(patients: int) -> int:
        room = Room(open_database("sqlite://"))
        hill = room.add_clinician("Dr Hill", "hill")
        for number in range(patients):
            room.add_patient(f"Patient {number}", f"p{number}", hill if number % 3 == 0 else 1)
            room.add_patient(f"New {number}", f"n{number}", start=None, status="enrolling")
        room.send(1, "11:00", "/share all with Dr Vale", "hill")
        with statements(room.database) as sent:
            reply = room.send(4, "12:00", "/caseload", "clinician")
        assert reply.count("week 1") == patients + 1
        # A message is delivered with statements of its own, and SQLite takes each decision of a day to be closed by itself.
        return len([each for each in sent if "outgoing_messages" not in each and not each.startswith("INSERT")])

    few, many = sent_for(3), sent_for(30)
    assert few == many


def test_a_caseload_of_many_fits_and_all_have_lines(room: Room) -> None:
    with room.database.session() as session:
        mine = session.get(Patient, 1)
        assert mine is not None
        for number in range(45):
            session.add(
                Patient(alias=f"Patient {number:02}", clinician_id=1, channel="test", timezone="UTC", status="invited",
                        created_at=room.at(1, "04:00"))
            )  # fmt: skip
    text = _sees(room, "clinician")
    assert text.count("Patient ") == 45
    assert all(len(each) <= 4096 for _, each in room.last)
    assert len(room.keyboards("clinician")[-1][1]) == 30
