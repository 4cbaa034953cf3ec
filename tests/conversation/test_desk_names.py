"""Whom a clinician's words mean: nobody is acted on by a guess, and a colleague's patient is told from an own one."""

from __future__ import annotations

import pytest

from storage import shares
from storage.database import open_database
from tests.conversation.room import Room

CHANGES = (
    "/pause {} for 7 days", "/stop {}", "/dose {} walk 60", "/phase {} inflammatory", "/target {} 90", "/interval {} 7",
    "/note {} private", "/message {} hello", "/end {}", "/undo {}", "/clear {}",
)  # fmt: skip


@pytest.fixture
def room() -> Room:
    """Dr Vale with Rowan, Roan Hill, Robin; Dr Hill with a Rowan of their own and with Hazel."""
    room = Room(open_database("sqlite://"))
    hill = room.add_clinician("Dr Hill", "hill")
    room.add_patient("Roan Hill", "roan")
    room.add_patient("Robin", "robin")
    room.add_patient("Rowan", "hills rowan", hill)
    room.add_patient("Hazel", "hazel", hill)
    return room


def _nothing_changed(room: Room) -> bool:
    return not any(room.actions(each) for each in range(1, 6)) and not any(
        room.sent_to(each) for each in ("patient", "roan", "robin", "hills rowan", "hazel")
    )


@pytest.mark.parametrize(
    ("name", "offered"),
    [
        ("Row", ["Yes, Rowan"]),
        ("rown", ["Yes, Rowan"]),
        ("Ro", ["Roan Hill", "Robin", "Rowan"]),
        ("Roan", ["Yes, Roan Hill"]),
        ("Roan Hil", ["Yes, Roan Hill"]),
        ("Zed", []),
        ("Hazel", []),
        ("R0wan", ["Yes, Rowan"]),
    ],
)
def test_what_is_not_a_whole_name_changes_nothing_and_is_asked_back(room: Room, name: str, offered: list[str]) -> None:
    for command in CHANGES:
        reply = room.say(1, "12:00", command.format(name), "clinician")
        assert "Nothing was changed" in reply, command
        assert _nothing_changed(room), command
        keyboards = room.keyboards("clinician")
        assert (keyboards[-1][1] if keyboards else []) == offered, command
        assert "Hazel" not in reply.replace('called "Hazel"', ""), "what is another's is not named"


def test_the_offered_button_says_the_whole_command_again(room: Room) -> None:
    room.say(1, "12:00", "/pause Rown for 7 days", "clinician")
    assert "paused to the end of Sunday, 2026-03-08" in room.press(1, "12:01", "Yes, Rowan", "clinician")
    assert room.get().paused_until is not None


@pytest.mark.parametrize(
    ("said", "argument"),
    [
        ("/note Rowan slept badly", "slept badly"),
        ("/note  rowan   slept badly", "slept badly"),
        ("/note ROWAN, slept badly", "slept badly"),
        ("/note Rowan: slept badly", "slept badly"),
        ("/note Rowan\nslept\nbadly", "slept\nbadly"),
        ("/NOTE@some_bot Rowan slept badly", "slept badly"),
    ],
)
def test_how_a_name_may_be_written(room: Room, said: str, argument: str) -> None:
    room.say(1, "12:00", said, "clinician")
    assert [(each.kind, each.details.get("text")) for each in room.actions()] == [("note", argument)]


def test_a_name_may_have_letters_that_change_their_number_with_their_case(room: Room) -> None:
    number = room.add_patient("Groß", "gross")
    room.say(1, "12:00", "/note GROSS tall shoes", "clinician")
    assert [each.details.get("text") for each in room.actions(number)] == ["tall shoes"]


def test_an_alias_that_a_shared_patient_has_too_is_asked_back_and_both_can_be_named(room: Room) -> None:
    room.say(1, "11:00", "/share Rowan with Dr Vale", "hill")
    for command in CHANGES:
        reply = room.say(1, "12:00", command.format("Rowan"), "clinician")
        assert "Rowan (mine)" in reply, command
        assert "Rowan (Dr Hill)" in reply, command
    assert [each.kind for each in room.actions(1)] == []
    assert [each.kind for each in room.actions(4)] == ["share"]
    room.say(1, "12:01", "/note Rowan (mine) one", "clinician")
    room.say(1, "12:02", "/note rowan (dr hill) two", "clinician")
    assert [each.details.get("text") for each in room.actions(1)] == ["one"]
    assert [each.details.get("text") for each in room.actions(4)][1:] == ["two"]


def test_seen_about_one_of_two_of_the_same_name_leaves_the_other_alert(room: Room) -> None:
    room.say(1, "11:00", "/cover Dr Vale for 7 days", "hill")
    room.say(1, "11:10", "my calf is swollen and hot", "hills rowan")
    room.say(1, "11:11", "my calf is swollen and hot", "patient")
    assert "more than one" in room.say(1, "11:12", "/seen Rowan", "clinician")
    assert "Rowan (Dr Hill)" in room.press(1, "11:13", "Rowan (Dr Hill)", "clinician")
    assert "Rowan (mine)" in room.say(1, "11:14", "/seen", "clinician")
    assert "no alert" in room.say(1, "11:15", "/seen", "clinician")


def test_the_buttons_of_a_colleagues_alert_mean_that_patient(room: Room) -> None:
    room.say(1, "11:00", "/cover Dr Vale for 7 days", "hill")
    room.say(1, "11:10", "my calf is swollen and hot", "hills rowan")
    assert "Rowan (Dr Hill)" in room.press(1, "11:12", "Seen", "clinician")
    assert [each.kind for each in room.actions(4)] == ["seen"]


@pytest.mark.parametrize(
    ("status", "word"), [("ended", "has ended"), ("left", "has left"), ("invited", "has not joined")]
)
@pytest.mark.parametrize(
    "command",
    ["/pause {} for 7 days", "/resume {}", "/stop {}", "/allow {}", "/dose {} walk 9", "/phase {} reparative",
     "/target {} 40", "/interval {} 5", "/end {}"],
)  # fmt: skip
def test_who_has_no_programme_going_on_gets_no_orders(room: Room, status: str, word: str, command: str) -> None:
    room.set(status=status, **({"address": None} if status != "ended" else {}))
    reply = room.say(12, "12:00", command.format("Rowan"), "clinician")
    assert word in reply
    assert "Nothing was changed" in reply
    assert _nothing_changed(room)


@pytest.mark.parametrize("status", ["ended", "left", "invited", "active"])
@pytest.mark.parametrize(
    "command", ["/patient Rowan", "/week Rowan", "/log Rowan", "/note Rowan a word", "/chart Rowan"]
)
def test_what_can_always_be_looked_at(room: Room, status: str, command: str) -> None:
    room.set(status=status, **({"address": None} if status != "ended" else {}))
    assert "Rowan" in room.say(3, "12:00", command, "clinician")


def test_a_current_patient_is_meant_before_one_who_left(room: Room) -> None:
    left = room.add_patient("Robin", None, status="left")
    room.say(1, "12:00", "/note Robin here", "clinician")
    assert not room.actions(left)


def test_every_patient_seen_has_a_name_of_their_own(room: Room) -> None:
    room.add_patient("Robin", None, status="left")
    room.say(1, "11:00", "/share all with Dr Vale", "hill")
    from bot.conversation.names import names_for

    with room.database.session() as session:
        seen = shares.caseload(session, 1, room.at(1, "12:00"), shares.ALL)
        names = list(names_for(session, 1, seen).values())
    assert len(names) == 6
    assert len({each.casefold() for each in names}) == 6
