"""Alerts: at once, hourly in waking hours until somebody has seen them, after four hours to the colleagues too; digests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import select

from bot.conversation import digests
from bot.conversation.alerting import waking
from bot.conversation.values import Incoming
from storage.database import open_database
from storage.tables import Alert, Clinician
from tests.conversation.room import Room

SAME_DAY = "my calf is swollen and hot"
EMERGENCY = "I have chest pain and I can't breathe"
SOON = "my foot is numb"


@pytest.fixture
def room() -> Room:
    room = Room(open_database("sqlite://"))
    room.add_clinician("Dr Hill", "hill")
    return room


def _told(room: Room, day: int, clock: str, who: str = "clinician", since: tuple[int, str] = (1, "00:00")) -> list[str]:
    """When (Lisbon's clock) somebody was sent an alert, until then."""
    zone = ZoneInfo("Europe/Lisbon")
    sent = room.pass_time(room.at(day, clock))
    return [
        f"{(at.astimezone(zone).date() - room.at(1, '12:00').date()).days + 1} {at.astimezone(zone):%H:%M}"
        for at, address, text in sent
        if address == who and "WARNING SIGN" in text and at >= room.at(*since)
    ]


@pytest.mark.parametrize("words", [SAME_DAY, EMERGENCY])
def test_an_urgent_alert_comes_at_once_and_hourly_until_it_is_seen(room: Room, words: str) -> None:
    room.say(1, "10:00", words)
    first = room.sent_to("clinician")
    assert words in first
    assert "The patient was told" in first
    assert _told(room, 1, "12:30") == ["1 11:00", "1 12:00"]
    assert "Noted" in room.press(1, "12:40", "Seen", "clinician")
    assert _told(room, 3, "12:00") == []


def test_the_repeated_alert_says_since_when(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    texts = [text for _, who, text in room.pass_time(room.at(1, "12:30")) if who == "clinician" and "NOT YET" in text]
    assert "for 1 hour (since 10:00)" in texts[0]
    assert "for 2 hours (since 10:00)" in texts[1]


@pytest.mark.parametrize("words", [SAME_DAY, EMERGENCY, 'my calf is "swollen"\nand hot, it says "ouch"'])
@pytest.mark.parametrize("status", ["active", "ended", "enrolling"])
def test_a_repeated_alert_is_short_and_has_who_what_and_the_words(room: Room, words: str, status: str) -> None:
    if status == "enrolling":
        room.set(status="enrolling", start=None, dialogue={"enrolling": "foot"})
    elif status == "ended":
        room.say(1, "09:00", "/end Rowan", "clinician")
    room.say(1, "10:00", words)
    again = [text for _, who, text in room.pass_time(room.at(1, "11:00")) if who == "clinician" and "NOT YET" in text]
    assert len(again) == 1
    assert len(again[0].splitlines()) <= 4 + words.count("\n")
    assert "Rowan" in again[0]
    assert f'"{words}"' in again[0]
    assert "breath" in again[0] if words == EMERGENCY else "calf or leg" in again[0]
    assert "The patient was told" not in again[0]
    assert "Seen" in room.keyboards("clinician")[-1][1]


def test_a_very_long_message_is_not_repeated_in_full(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY + " and it is so sore" * 60)
    (again,) = [text for _, who, text in room.pass_time(room.at(1, "11:00")) if "NOT YET" in text]
    assert len(again) < 600


def test_after_three_days_it_comes_once_a_day_and_says_so(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    sent = [(at, text) for at, who, text in room.pass_time(room.at(6, "12:00")) if "NOT YET" in text]
    assert [at for at, _ in sent if at >= room.at(3, "20:00")] == [
        room.at(3, "20:00"), room.at(3, "21:00"), room.at(4, "07:00"), room.at(4, "08:00"), room.at(4, "09:00"),
        room.at(4, "10:00"), room.at(5, "10:00"), room.at(6, "10:00"),
    ]  # fmt: skip
    daily = [text for at, text in sent if at >= room.at(4, "10:00")]
    assert all("once a day" in each for each in daily)
    assert "for 3 days (since Mon 2 Mar, 10:00)" in daily[0]
    room.press(6, "12:01", "Seen", "clinician")
    assert _told(room, 9, "12:00", since=(6, "12:02")) == []


def test_an_alert_about_somebody_who_left_ends_after_three_days(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:01", "leave")
    room.say(1, "10:02", "yes")
    assert _told(room, 9, "12:00", since=(4, "09:30")) == ["4 10:00"]
    assert "Rowan" in room.say(9, "12:01", "/seen Rowan", "clinician")


def test_an_old_button_does_not_acknowledge_a_newer_alert(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:30", EMERGENCY)
    reply = room.press(1, "10:40", "Seen", "clinician", among=0)
    assert "Noted" in reply
    assert "A NEWER alert about Rowan waits" in reply
    assert "#" not in reply, "the number is shown nowhere"
    assert _told(room, 1, "12:45") == ["1 11:30", "1 12:30"], "the emergency is repeated, the other is not"
    assert "NEWER" in room.press(1, "12:50", "Seen", "clinician", among=0), "pressed again"
    assert "NEWER" not in room.press(1, "12:55", "Seen", "clinician")
    assert _told(room, 2, "12:00", since=(1, "12:56")) == []


def test_seen_in_words_does_not_speak_of_what_came_after_them(room: Room) -> None:
    """Written before the emergency, handled after it: the connection was down."""
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:30", EMERGENCY)
    now = room.at(1, "10:40")
    room.conversation.handle(
        Incoming(channel="test", update_id="late", address="clinician", text="/seen", sent_at=room.at(1, "10:20")), now
    )
    assert "NEWER" in "".join(text for who, text in room.deliver(now) if who == "clinician")
    assert _told(room, 1, "12:45") == ["1 11:30", "1 12:30"]


def test_an_alert_number_of_somebody_elses_patient_acknowledges_nothing(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    assert "no alert" in room.say(1, "10:10", "/seen Rowan #1", "hill")
    assert "no alert" in room.say(1, "10:11", "/seen Rowan #99", "clinician")
    assert _told(room, 1, "11:10") == ["1 11:00"]


def test_a_patient_whose_name_ends_in_a_number_can_be_named(room: Room) -> None:
    room.add_patient("Rowan 1", "second")
    room.say(1, "10:00", SAME_DAY, "second")
    assert "about Rowan 1" in room.say(1, "10:10", "/seen Rowan 1", "clinician")


@pytest.mark.parametrize("order", ["/end Rowan", "/clear Rowan"])
def test_an_alert_that_an_order_marked_as_seen_waits_again_once_that_is_taken_back(room: Room, order: str) -> None:
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:01", order, "clinician")
    assert "The alert waits to be seen again" in room.say(1, "10:02", "/undo Rowan", "clinician")
    assert _told(room, 1, "12:10", since=(1, "10:03")) == ["1 11:02", "1 12:02"]


def test_an_alert_that_was_seen_before_the_end_stays_so(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:01", "/seen", "clinician")
    room.say(1, "10:02", "/end Rowan", "clinician")
    assert "waits to be seen" not in room.say(1, "10:03", "/undo Rowan", "clinician")
    assert _told(room, 1, "12:10") == []


def test_an_alert_that_can_wait_is_told_once(room: Room) -> None:
    room.say(1, "10:00", SOON)
    assert SOON in room.sent_to("clinician")
    assert _told(room, 3, "12:00") == []
    assert "Rowan" in room.say(3, "12:01", "/seen", "clinician")


def test_nothing_is_repeated_at_night_on_the_clinicians_clock(room: Room) -> None:
    room.say(1, "20:30", SAME_DAY)
    assert _told(room, 2, "08:30") == ["1 21:30", "2 07:00", "2 08:00"]


def test_an_alert_of_the_night_comes_at_once_all_the_same(room: Room) -> None:
    room.say(2, "02:00", EMERGENCY)
    assert EMERGENCY in room.sent_to("clinician")
    assert _told(room, 2, "08:30") == ["2 07:00", "2 08:00"]


def test_a_clinician_elsewhere_is_woken_by_the_first_alert_only(room: Room) -> None:
    """22:00-07:00 in Auckland is 09:00-18:00 in Lisbon in March."""
    with room.database.session() as session:
        clinician = session.get(Clinician, 1)
        assert clinician is not None
        clinician.timezone = "Pacific/Auckland"
    room.say(1, "09:30", SAME_DAY)
    assert SAME_DAY in room.sent_to("clinician")
    assert _told(room, 1, "20:30") == ["1 18:00", "1 19:00", "1 20:00"]


@pytest.mark.parametrize(
    ("clock", "expected"),
    [
        ("06:59", "07:00"),
        ("07:00", "07:00"),
        ("21:59", "21:59"),
        ("22:00", "07:00"),
        ("23:30", "07:00"),
        ("00:00", "07:00"),
    ],
)
def test_waking_hours(clock: str, expected: str) -> None:
    zone = ZoneInfo("Europe/Lisbon")
    found = waking(Room.at(3, clock), zone).astimezone(zone)
    assert f"{found:%H:%M}" == expected
    assert found >= Room.at(3, clock)


def test_waking_hours_across_the_change_to_summer_time() -> None:
    """Lisbon goes from 01:00 to 02:00 on 29 March 2026."""
    zone = ZoneInfo("Europe/Lisbon")
    found = waking(datetime(2026, 3, 28, 23, 0, tzinfo=UTC), zone)
    assert found == datetime(2026, 3, 29, 6, 0, tzinfo=UTC)


def test_after_four_hours_it_goes_to_the_colleague(room: Room) -> None:
    room.say(1, "09:00", "/share Rowan with Dr Hill", "clinician")
    room.say(1, "10:00", SAME_DAY)
    assert room.sent_to("hill") == ""
    sent = room.pass_time(room.at(1, "15:30"))
    passed_on = [(at, text) for at, who, text in sent if who == "hill"]
    assert [at for at, _ in passed_on] == [room.at(1, "14:00"), room.at(1, "15:00")]
    assert "sent to Dr Vale and not acknowledged" in passed_on[0][1]
    assert "for 4 hours" in passed_on[0][1]
    assert SAME_DAY in passed_on[0][1]
    assert "Rowan (Dr Vale)" in room.press(1, "15:40", "Seen", "hill")
    assert room.pass_time(room.at(2, "06:00"))
    assert _told(room, 2, "12:00") == _told(room, 2, "12:00", "hill") == []
    assert "Dr Hill: alert seen" in room.say(2, "12:01", "/log Rowan", "clinician")


def test_with_nobody_to_pass_it_on_to_that_is_said_once(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    sent = [text for _, who, text in room.pass_time(room.at(1, "16:30")) if who == "clinician" and "NOT YET" in text]
    assert ["No colleague is set" in each for each in sent] == [False, False, False, True, False, False]


def test_who_covers_gets_it_at_once_and_hourly(room: Room) -> None:
    room.say(1, "09:00", "/cover Dr Hill for 3 days", "clinician")
    room.say(1, "10:00", SAME_DAY)
    assert SAME_DAY in room.sent_to("hill")
    assert SAME_DAY in room.sent_to("clinician")
    assert _told(room, 1, "12:30", "hill") == ["1 11:00", "1 12:00"]


def test_after_the_cover_is_over_it_does_not(room: Room) -> None:
    room.say(1, "09:00", "/cover Dr Hill for 2 days", "clinician")
    room.say(3, "10:00", SAME_DAY)
    assert room.sent_to("hill") == ""
    assert SAME_DAY in room.sent_to("clinician")


def test_where_the_clinicians_chat_is_gone_the_colleague_gets_it_at_once(room: Room) -> None:
    room.say(1, "09:00", "/share all with Dr Hill", "clinician")
    room.conversation.gone("test", "clinician", room.at(1, "09:30"))
    room.say(1, "10:00", SAME_DAY)
    assert SAME_DAY in room.sent_to("hill")


def test_clearing_the_flag_ends_the_alert(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:30", "/clear Rowan looked at it", "clinician")
    assert _told(room, 2, "12:00") == []


def test_seen_leaves_the_flag_open_and_says_so(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    assert "/clear" in room.say(1, "10:30", "/seen Rowan", "clinician")
    assert room.open_flags() == ["clot_signs"]


def test_a_second_sign_is_a_second_alert_and_seen_ends_both(room: Room) -> None:
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:10", EMERGENCY)
    assert "emergency" in room.sent_to("clinician")
    room.press(1, "10:20", "Seen", "clinician")
    with room.database.session() as session:
        assert all(each.seen_at is not None for each in session.exec(select(Alert)))
    assert "no alert" in room.press(1, "10:21", "Seen", "clinician"), "pressed twice: harmless, and said"


@pytest.mark.parametrize(
    ("words", "advice", "code"),
    [(EMERGENCY, "emergency number now", "chest_or_breathing"), (SAME_DAY, "urgent care today", "clot_signs")],
)
def test_what_cannot_wait_is_passed_on_again_if_it_is_told_after_its_alert_was_seen(
    room: Room, words: str, advice: str, code: str
) -> None:
    room.say(1, "10:00", words)
    room.say(1, "10:01", words)
    assert room.sent_to("clinician") == "", "the first is not seen yet and is repeated anyway"
    room.say(1, "10:05", "/seen", "clinician")
    assert advice in room.say(2, "10:00", words)
    assert words in room.sent_to("clinician")
    assert _told(room, 2, "11:30", since=(2, "10:01")) == ["2 11:00"]
    assert room.open_flags() == [code]


def test_what_can_wait_is_not_passed_on_twice(room: Room) -> None:
    room.say(1, "10:00", SOON)
    room.say(1, "10:05", "/seen", "clinician")
    room.say(2, "10:00", SOON)
    assert room.sent_to("clinician") == ""


@pytest.mark.parametrize("how", ["/end Rowan", "leave"])
def test_an_alert_about_somebody_who_is_gone_can_still_be_seen(room: Room, how: str) -> None:
    room.say(1, "10:00", SAME_DAY)
    if how == "leave":
        room.say(1, "10:01", "leave")
        room.say(1, "10:02", "yes")
        assert _told(room, 1, "11:30") == ["1 11:00"]
        assert "Rowan" in room.press(1, "11:40", "Seen", "clinician")
    else:
        room.say(1, "10:01", how, "clinician")
    assert _told(room, 2, "12:00") == []


def test_an_alert_at_enrolment_is_repeated_too(room: Room) -> None:
    room.set(status="enrolling", start=None, dialogue={"enrolling": "signs"})
    assert "start no exercises" in room.say(1, "10:00", "yes")
    assert "/allow Rowan" in room.sent_to("clinician")
    assert _told(room, 1, "11:30") == ["1 11:00"]


# -- somebody whose programme has ended


@pytest.mark.parametrize(
    ("words", "advice"),
    [(EMERGENCY, "emergency number now"), (SAME_DAY, "urgent care today"), (SOON, "before the next")],
)
def test_a_warning_sign_after_the_end_is_answered_and_reaches_the_clinician(
    room: Room, words: str, advice: str
) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "08:00", "/end Rowan", "clinician")
    reply = room.say(3, "10:00", words)
    assert advice in reply
    assert "has ended" in reply
    assert words in room.sent_to("clinician")
    assert "no programme here any more" in room.sent_to("clinician")
    assert room.open_flags()
    assert "Rowan" in room.press(3, "10:05", "Seen", "clinician")
    assert _told(room, 4, "12:00") == []
    assert "cleared" in room.say(4, "12:01", "/clear Rowan seen in clinic", "clinician")
    assert room.open_flags() == []


def test_a_sign_said_again_after_it_was_seen_is_told_again(room: Room) -> None:
    room.say(1, "08:00", "/end Rowan", "clinician")
    room.say(1, "10:00", SAME_DAY)
    room.say(1, "10:01", SAME_DAY)
    assert room.sent_to("clinician") == "", "the first is not seen yet and is repeated anyway"
    room.say(1, "10:05", "/seen", "clinician")
    room.say(1, "10:10", SAME_DAY)
    assert SAME_DAY in room.sent_to("clinician")


def test_a_possible_sign_after_the_end_is_asked_about(room: Room) -> None:
    room.say(1, "08:00", "/end Rowan", "clinician")
    assert "yes or no" in room.say(1, "10:00", "the foot feels odd")
    assert room.sent_to("clinician") == ""
    assert "yes or no" in room.say(1, "10:01", "hm")
    assert "Contact Dr Vale" in room.say(1, "10:02", "yes")
    assert "Rowan" in room.sent_to("clinician")


def test_a_denied_sign_after_the_end_leads_to_nothing(room: Room) -> None:
    room.say(1, "08:00", "/end Rowan", "clinician")
    room.say(1, "10:00", "the foot feels odd")
    assert "has ended" in room.say(1, "10:01", "no")
    assert room.open_flags() == []


def test_a_programme_taken_up_again_is_stopped_by_the_sign_that_came_meanwhile(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "08:00", "/end Rowan", "clinician")
    room.say(1, "10:00", SOON)
    room.say(1, "11:00", "/undo Rowan", "clinician")
    assert "Walk 5" not in room.say(2, "07:10", "4, on and off")


# -- notices at once


def test_silence_is_told_at_once_only_if_that_is_wanted(room: Room) -> None:
    assert "digest only" in room.say(1, "06:00", "/atonce off", "clinician")
    sent = room.pass_time(room.at(4, "12:00"))
    assert not [text for _, who, text in sent if who == "clinician"]
    other = Room(open_database("sqlite://"))
    assert "silent for 3 days" in other.say(1, "06:00", "/atonce ON", "clinician")
    told = [text for _, who, text in other.pass_time(other.at(4, "12:00")) if who == "clinician"]
    assert len(told) == 1
    assert "No answer for 3 mornings" in told[0]


@pytest.mark.parametrize("words", ["/atonce", "/atonce maybe"])
def test_atonce_needs_on_or_off(room: Room, words: str) -> None:
    assert "/atonce on or /atonce off" in room.say(1, "06:00", words, "clinician")


# -- when the digest comes


def _clinician(zone: str, weekday: int = 0, clock: str = "08:00") -> Clinician:
    return Clinician(
        name="Dr Vale", channel="test", timezone=zone, digest_weekday=weekday, digest_time=clock,
        created_at=datetime(2026, 1, 1, tzinfo=UTC),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("zone", "weekday", "clock", "after", "expected"),
    [
        # Lisbon: UTC until 29 March 2026, then UTC+1, back on 25 October
        ("Europe/Lisbon", 0, "08:00", "2026-03-02T07:59", "2026-03-02T08:00"),
        ("Europe/Lisbon", 0, "08:00", "2026-03-02T08:00", "2026-03-09T08:00"),
        ("Europe/Lisbon", 0, "08:00", "2026-03-23T08:00", "2026-03-30T07:00"),
        ("Europe/Lisbon", 0, "08:00", "2026-10-19T07:00", "2026-10-26T08:00"),
        ("Europe/Lisbon", 6, "01:30", "2026-03-22T01:30", "2026-03-29T01:30"),  # 01:30 is skipped: 02:30 is shown
        ("Europe/Lisbon", 6, "01:30", "2026-10-18T00:30", "2026-10-25T00:30"),  # 01:30 comes twice: the first
        ("Pacific/Auckland", 0, "08:00", "2026-03-01T18:59", "2026-03-01T19:00"),  # UTC+13: Monday there, Sunday here
        ("America/Los_Angeles", 6, "23:00", "2026-03-02T07:00", "2026-03-09T06:00"),  # summer time from 8 March
    ],
)
def test_the_digest_is_due_on_the_clinicians_clock(
    zone: str, weekday: int, clock: str, after: str, expected: str
) -> None:
    """UTC offsets as in the IANA time zone database."""
    clinician = _clinician(zone, weekday, clock)
    digests.schedule_digest(clinician, datetime.fromisoformat(after).replace(tzinfo=UTC))
    assert clinician.next_digest_at == datetime.fromisoformat(expected).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("said", "weekday", "clock"),
    [("Friday 7:30", 4, "07:30"), ("fri 17.05", 4, "17:05"), ("MON 00:00", 0, "00:00"), ("sunday  09:00", 6, "09:00")],
)
def test_the_digests_time_is_set_in_words(room: Room, said: str, weekday: int, clock: str) -> None:
    assert clock in room.say(1, "12:00", f"/digesttime {said}", "clinician")
    with room.database.session() as session:
        clinician = session.get(Clinician, 1)
        assert clinician is not None
        assert (clinician.digest_weekday, clinician.digest_time) == (weekday, clock)
        assert clinician.next_digest_at is not None
        local = clinician.next_digest_at.astimezone(ZoneInfo(clinician.timezone))
        assert (local.weekday(), f"{local:%H:%M}") == (weekday, clock)
        assert room.at(1, "12:00") < clinician.next_digest_at <= room.at(1, "12:00") + timedelta(days=7)


@pytest.mark.parametrize("said", ["", "Monday", "08:00", "Someday 08:00", "Monday 25:00", "Monday 08:61", "t 08:00"])
def test_a_digest_time_that_is_none_changes_nothing(room: Room, said: str) -> None:
    assert "Nothing was changed" in room.say(1, "12:00", f"/digesttime {said}", "clinician")


def test_a_digest_comes_once_a_week_and_not_days_late(room: Room) -> None:
    room.say(1, "07:10", "4, on and off")
    room.say(1, "12:00", "/digesttime Tuesday 08:00", "clinician")
    sent = room.pass_time(room.at(10, "12:00"))
    assert sorted({at for at, who, _ in sent if who == "clinician"}) == [room.at(2, "08:00"), room.at(9, "08:00")]
    late = room.at(18, "21:00")  # day 16's is 37 hours late
    room.conversation.tick(late)
    assert not [text for who, text in room.deliver(late) if who == "clinician"]
    assert [at for at, who, _ in room.pass_time(room.at(23, "09:00")) if who == "clinician"][:1] == [
        room.at(23, "08:00")
    ]
