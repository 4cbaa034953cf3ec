"""Invitations let in who was meant, once; strangers learn nothing; a token is nowhere in the database once it is out."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from sqlalchemy import text as sql
from sqlmodel import select

from bot.conversation import joining
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming
from storage import invitations
from storage.database import Database, open_database
from storage.tables import Clinician, IncomingMessage, Invitation, Patient
from tests.conversation.room import START, Room

LINK = "https://t.me/some_bot?start={}"
ANSWERS = ("yes", "no", "right", "yes", "ok", "4", "comes and goes", "moderately")


@pytest.fixture
def room() -> Room:
    return _room(open_database("sqlite://"))


@pytest.fixture
def room_on_both(database: Database) -> Room:
    return _room(database)


def _room(database: Database) -> Room:
    room = Room(database)
    room.conversation = Conversation(database, invitation_link=LINK.format)
    return room


def _invite(room: Room, day: int = 1, clock: str = "10:00", words: str = "Briar") -> str:
    """The token of a new invitation."""
    reply = room.say(day, clock, f"/invite {words}", "clinician")
    found = re.search(r"start=([\w-]+)", reply)
    assert found, reply
    return found[1]


def _open(room: Room, token: str, who: str = "briar", day: int = 1, clock: str = "10:30") -> str:
    return room.say(day, clock, f"/start {token}", who)


def _named(room: Room, alias: str) -> list[Patient]:
    with room.database.session() as session:
        return list(session.exec(select(Patient).where(Patient.alias == alias)))


def _everywhere(room: Room) -> str:
    """All that is in the database, every table and column."""
    with room.database.session() as session:
        names = Patient.metadata.tables
        return "\n".join(
            str(row) for name in names for row in session.connection().execute(sql(f"SELECT * FROM {name}"))
        )


def test_an_invitation_lets_in_once_and_the_clinician_is_told(room_on_both: Room) -> None:
    room = room_on_both
    token = _invite(room)
    assert "yes or no" in _open(room, token)
    for number, each in enumerate(ANSWERS):
        room.say(1, f"10:{31 + number}", each, "briar")
    assert "Briar has joined" in room.sent_to("clinician")
    assert "2026-03-03" in room.sent_to("clinician")
    assert [(each.status, each.address) for each in _named(room, "Briar")] == [("active", "briar")]
    heard = _open(room, token, "somebody else", clock="11:00")
    assert "personal invitation" in heard
    assert "joined already" in _open(room, token, "briar", clock="11:01")


@pytest.mark.parametrize(("after", "lets_in"), [(timedelta(days=7, minutes=-1), True), (timedelta(days=7), False)])
def test_an_invitation_ends_after_seven_days(room: Room, after: timedelta, lets_in: bool) -> None:
    token = _invite(room)
    now = room.at(1, "10:00") + after
    room.conversation.handle(
        Incoming(channel="test", update_id="late", address="briar", text=f"/start {token}", sent_at=now), now
    )
    heard = "\n".join(text for address, text in room.deliver(now) if address == "briar")
    assert ("check-in bot" in heard) == lets_in
    assert ("personal invitation" in heard) != lets_in


def test_a_new_invitation_ends_the_one_before(room: Room) -> None:
    first, second = _invite(room), _invite(room, clock="10:05")
    assert "personal invitation" in _open(room, first, "a")
    assert "check-in bot" in _open(room, second, "b")
    assert len(_named(room, "Briar")) == 1


def test_an_invitation_taken_back_lets_nobody_in(room: Room) -> None:
    token = _invite(room)
    assert "no longer works" in room.say(1, "10:01", "/undo Briar", "clinician")
    assert "personal invitation" in _open(room, token)
    assert "Briar" not in room.say(1, "11:00", "/caseload", "clinician")
    assert "check-in bot" in _open(room, _invite(room, clock="11:01"), clock="11:02"), "and can be made anew"


def test_an_invitation_that_was_opened_is_not_taken_back_by_undo(room: Room) -> None:
    _open(room, _invite(room))
    assert "nothing to take back" in room.say(1, "11:00", "/undo Briar", "clinician")


def test_refused_consent_is_told_and_a_new_invitation_opens_the_door_again(room: Room) -> None:
    _open(room, _invite(room))
    assert "not write to you again" in room.say(1, "10:31", "no", "briar")
    assert "did not agree" in room.sent_to("clinician")
    assert "personal invitation" in room.say(1, "10:32", "hello?", "briar")
    assert "check-in bot" in _open(room, _invite(room, clock="11:00"), clock="11:01")
    assert len(_named(room, "Briar")) == 1


def test_who_left_comes_back_to_the_same_programme(room_on_both: Room) -> None:
    room = room_on_both
    room.say(1, "07:10", "6, on and off")
    room.say(1, "08:00", "leave")
    room.say(1, "08:01", "yes")
    assert room.get().address is None
    assert "goes on with it" in room.say(1, "09:00", "/invite Rowan walk 20", "clinician"), "a start has no meaning now"
    token = _invite(room, words="rowan")
    assert "own programme" in room.sent_to("clinician")
    _open(room, token, "new phone")
    room.say(1, "10:31", "yes", "new phone")
    assert "Welcome back" in room.say(1, "10:32", "no", "new phone")
    assert "Rowan is back" in room.sent_to("clinician")
    back = room.get()
    assert (back.status, back.address, back.start, back.enrolled_first_step_pain) == ("active", "new phone", START, 4)
    assert len(_named(room, "Rowan")) == 1
    assert "Noted: first steps 6" in room.say(2, "07:10", "6, comes and goes", "new phone")


def test_somebody_whose_programme_ended_can_begin_another_in_the_same_chat(room: Room) -> None:
    room.say(1, "10:00", "/end Rowan", "clinician")
    assert "programme has ended" in room.say(1, "10:01", "/invite Rowan", "clinician"), "the name is taken"
    token = _invite(room, clock="10:02", words="Rowan 2")
    assert "check-in bot" in _open(room, token, "patient")
    assert [each.address for each in _named(room, "Rowan 2")] == ["patient"]
    assert room.get().address is None
    assert "cannot be taken back" in room.say(1, "11:00", "/undo Rowan", "clinician")


def test_a_token_that_does_not_work_leaves_an_ended_patient_their_chat(room: Room) -> None:
    room.say(1, "10:00", "/end Rowan", "clinician")
    _open(room, "A" * 22, "patient")
    assert room.get().address == "patient"


@pytest.mark.parametrize(
    "said",
    [
        "/start {}",
        "/start@some_bot {}",
        "/start {} hello",
        LINK,
        "Dr Vale sent me this: " + LINK + " ok?",
        "/Start {}",
        "/START@Some_Bot {}",
        "{}",
        " {}\n",
    ],
)
def test_the_token_is_in_no_table_in_clear_once_it_is_out(room: Room, said: str) -> None:
    token = _invite(room)
    assert token not in _everywhere(room)
    room.say(1, "10:30", said.format(token), "briar")
    assert token not in _everywhere(room)
    assert "check-in bot" in room.sent_to("briar"), "a link that is pasted opens the door as well"


@pytest.mark.parametrize("who", ["stranger", "patient", "clinician"])
@pytest.mark.parametrize("kind", ["text", "edit", "forwarded", "photo"])
def test_a_token_in_a_sentence_is_taken_out_and_still_works(room: Room, who: str, kind: str) -> None:
    token = _invite(room)
    room.send(1, "10:30", f"is this the code: {token}?", who, kind=kind)
    assert token not in _everywhere(room)
    assert "is this the code: (invitation)?" in _everywhere(room), "the rest is kept"
    assert "check-in bot" in _open(room, token, clock="10:31")


def test_a_sentence_with_a_token_counts_for_what_it_says(room: Room) -> None:
    token = _invite(room)
    assert "urgent care" in room.say(1, "10:30", f"{token} my calf is swollen and hot")
    assert "my calf is swollen" in room.sent_to("clinician")
    assert token not in _everywhere(room)


def test_a_message_that_met_a_fault_is_kept_without_its_token(room: Room) -> None:
    token = _invite(room)
    now = room.at(1, "10:30")
    room.conversation.keep(
        Incoming(channel="test", update_id="k", address="patient", text=f"here: {token}", sent_at=now), now
    )
    assert token not in _everywhere(room)


def test_words_that_only_look_like_a_token_are_left(room: Room) -> None:
    said = "counterrevolutionaries" + " and " + invitations.new_token()
    assert len(said.split()[0]) == 22
    room.say(1, "10:30", said, "stranger")
    assert said in _everywhere(room)


def test_a_wrong_token_is_not_kept_either(room: Room) -> None:
    token = invitations.new_token()
    for kind in ("text", "edit", "forwarded", "photo"):
        room.send(1, "10:30", f"/start {token}", "stranger", kind=kind)
    assert token not in _everywhere(room)


@pytest.mark.parametrize("how", ["refused", "chat gone", "too late"])
def test_a_link_that_never_arrived_does_not_stay_in_clear(room: Room, how: str) -> None:
    from storage import messages

    now = room.at(1, "10:00")
    room.conversation.handle(
        Incoming(channel="test", update_id="i", address="clinician", text="/invite Briar", sent_at=now), now
    )
    with room.database.session() as session:
        rows = [each for each in messages.undelivered(session, now, 10) if each.secret]
        assert len(rows) == 1
        found = re.search(r"start=([\w-]+)", rows[0].text)
        assert found
        if how == "refused":
            messages.mark_refused(session, rows[0].id or 0, now, "bad request")
        elif how == "chat gone":
            messages.refuse_chat(session, "test", "clinician", now)
        else:
            messages.drop_stale(session, now + timedelta(days=4))
    assert found[1] not in _everywhere(room)


def test_a_token_is_128_bits_and_kept_as_a_hash_only() -> None:
    tokens = {invitations.new_token() for _ in range(200)}
    assert len(tokens) == 200
    assert all(len(each) == 22 for each in tokens), "22 characters of base64 hold 128 bits"


# -- strangers


def test_a_stranger_hears_one_sentence_at_most_three_times_an_hour(room: Room) -> None:
    heard = [room.say(1, f"10:{minute:02}", text, "stranger") for minute, text in enumerate(
        ("hello", "/caseload", "/start", "I have chest pain", "/start " + "A" * 22, "let me in")
    )]  # fmt: skip
    assert len(set(heard[:3])) == 1
    assert "personal invitation" in heard[0]
    assert heard[3:] == ["", "", ""]
    assert room.say(1, "11:30", "hello", "stranger") == heard[0], "an hour later it is said again"
    assert room.say(1, "10:07", "hello", "another stranger") == heard[0], "others are counted for themselves"


def test_what_a_stranger_hears_points_to_help_in_need(room: Room) -> None:
    assert "not an emergency service" in room.say(1, "10:00", "my calf is swollen", "stranger")


def test_guesses_are_limited_and_chatting_is_no_guess(room: Room) -> None:
    token = _invite(room)
    for minute in range(5):
        _open(room, "B" * 22, "guesser", clock=f"10:3{minute}")
    assert "check-in bot" not in _open(room, token, "guesser", clock="10:40")
    for minute in range(6):
        room.say(1, f"10:3{minute}", "hello", "chatter")
    assert "check-in bot" in _open(room, token, "chatter", clock="10:41")


def test_a_guesser_may_try_again_after_an_hour(room: Room) -> None:
    token = _invite(room)
    for minute in range(6):
        _open(room, "B" * 22, "guesser", clock=f"10:3{minute}")
    assert "check-in bot" in _open(room, token, "guesser", clock="11:36")


def test_a_strangers_button_is_over(room: Room) -> None:
    room.say(1, "07:05", "hello")
    room.say(1, "07:06", "leave")
    room.press(1, "07:07", "yes")
    with room.database.session() as session:
        before = len(session.exec(select(IncomingMessage)).all())
    room.press(1, "07:10", "4")
    assert room.pressed is not None
    assert room.pressed.label is None, "nothing is shown as answered"
    assert room.last == []
    with room.database.session() as session:
        assert len(session.exec(select(IncomingMessage)).all()) == before + 1


# -- who has joined opens an invitation


def test_a_clinician_does_not_use_up_a_patients_invitation(room: Room) -> None:
    token = _invite(room)
    assert "still works" in _open(room, token, "clinician")
    assert "check-in bot" in _open(room, token, "briar")


def test_a_patient_does_not_use_up_a_clinicians_invitation(room: Room) -> None:
    ash = room.add_clinician("Dr Ash", None)
    token = invitations.new_token()
    with room.database.session() as session:
        invitations.invite(session, token, role="clinician", now=room.at(1, "09:00"), clinician_id=ash)
    assert "joined already" in _open(room, token, "patient")
    assert "Welcome, Dr Ash" in _open(room, token, "ash")
    with room.database.session() as session:
        row = session.get(Clinician, ash)
        assert row is not None
        assert row.address == "ash"
        assert row.next_digest_at is not None
    assert "personal invitation" in _open(room, token, "a third")
    assert "no patients yet" in room.say(1, "12:00", "/caseload", "ash")


def test_a_clinician_with_a_new_phone_keeps_the_caseload(room: Room) -> None:
    token = invitations.new_token()
    with room.database.session() as session:
        invitations.invite(session, token, role="clinician", now=room.at(1, "09:00"), clinician_id=1)
    _open(room, token, "new phone")
    assert "Rowan" in room.say(1, "12:00", "/caseload", "new phone")
    assert "personal invitation" in room.say(1, "12:01", "/caseload", "clinician"), "the old one is a stranger"


def test_what_waits_for_a_lost_account_goes_to_the_new_one(room: Room) -> None:
    """An alert that could not be sent yet must not go to whoever holds the old phone."""
    token = invitations.new_token()
    now = room.at(1, "10:00")
    with room.database.session() as session:
        invitations.invite(session, token, role="clinician", now=now, clinician_id=1)
    room.conversation.handle(
        Incoming(channel="test", update_id="a", address="patient", text="my calf is swollen and hot", sent_at=now), now
    )
    room.send(1, "10:05", f"/start {token}", "new phone")
    assert "WARNING SIGN" in room.sent_to("new phone")
    assert "WARNING SIGN" not in room.sent_to("clinician")
    assert "another account" in room.sent_to("clinician"), "and the old one hears that it is over"
    room.send(1, "10:06", "my foot is numb")
    assert room.sent_to("clinician") == ""
    assert "numb" in room.sent_to("new phone")


def test_the_operator_can_invite_a_clinician_again(room: Room) -> None:
    from bot.commands.serve import _store_clinician_invitation as store

    now = room.at(1, "10:00")
    token = invitations.new_token()
    with room.database.session() as session:
        assert "--again" in store(session, "Dr Vale", None, token, now)
        assert "no clinician called Dr Who" in store(session, "Dr Who", None, token, now, again=True)
        assert store(session, "dr vale", None, token, now, again=True) == ""
        assert store(session, "Dr Oak", None, invitations.new_token(), now) == ""
    assert "Welcome, Dr Vale" in _open(room, token, "new phone")
    with room.database.session() as session:
        found = {each.name: (each.address, each.timezone) for each in session.exec(select(Clinician))}
    assert found == {"Dr Vale": ("new phone", "Europe/Lisbon"), "Dr Oak": (None, "UTC")}, "the zone stays"


# -- what can be given with an invitation


def test_a_start_is_set_with_the_invitation(room: Room) -> None:
    _invite(room, words="Briar walk 8 target 45 raises Standing both 3x8")
    assert "walking 8 min, target 45 min, heel raises standing both 3x8" in room.sent_to("clinician")
    (briar,) = _named(room, "Briar")
    assert (briar.start_walk, briar.walk_target) == (8, 45)
    assert (briar.start_step, briar.start_sets, briar.start_reps) == ("standing both", 3, 8)


@pytest.mark.parametrize(
    "words",
    ["", "   ", "A" * 25, "all", "Off", "bad/name", "Briar walk 999", "Briar target 2", "Briar raises headstand 2x8",
     "Briar target 30 walk lots", "Rowan", "rowan", "<b>"],
)  # fmt: skip
def test_a_bad_invitation_makes_nobody(room: Room, words: str) -> None:
    reply = room.say(1, "10:00", f"/invite {words}", "clinician")
    assert "Nobody was invited" in reply
    with room.database.session() as session:
        assert len(session.exec(select(Patient)).all()) == 1
        assert session.exec(select(Invitation)).all() == []


def test_a_colleagues_patient_is_not_invited_over(room: Room) -> None:
    hill = room.add_clinician("Dr Hill", "hill")
    room.add_patient("Hazel", None, hill, status="invited", start=None)
    room.say(1, "09:00", "/share all with Dr Vale", "hill")
    assert "Nobody was invited" in room.say(1, "10:00", "/invite Hazel", "clinician")


def test_a_new_patient_speaks_the_clinicians_time_until_asked(room: Room) -> None:
    _invite(room)
    assert [each.timezone for each in _named(room, "Briar")] == ["Europe/Lisbon"]


def test_a_redelivered_start_changes_nothing(room: Room) -> None:
    token = _invite(room)
    first = room.send(1, "10:30", f"/start {token}", "briar", update_id="same")
    assert first
    assert room.send(1, "10:30", f"/start {token}", "briar", update_id="same") == ""
    assert len(_named(room, "Briar")) == 1


def test_the_limits_are_the_ones_said_here() -> None:
    assert (3, 5, timedelta(hours=1)) == (joining._MOST_ANSWERS, joining._MOST_TRIES, joining._WITHIN)
    assert timedelta(days=7) == invitations.VALID_FOR
