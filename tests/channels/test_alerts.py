"""Warning signs reach somebody: at once, hourly by day until seen, the colleague after four hours."""

from __future__ import annotations

import pytest

from tests.channels.running import Person, Running, active, new_clinician

SIGN = "I have chest pain and I am short of breath"


@pytest.fixture
def vale(service: Running) -> Person:
    """A clinician."""
    return new_clinician(service, 1, "Dr Vale")


@pytest.fixture
def rowan(service: Running, vale: Person) -> Person:
    """Her patient, on the second day at noon."""
    person = active(service, vale, 2, "Rowan")
    service.go_to(service.at(1, "12:00"))
    person.new()
    return person


def test_an_alert_comes_at_once_with_the_patients_words_and_what_they_were_told(
    service: Running, vale: Person, rowan: Person
) -> None:
    told = rowan.says(SIGN)
    assert "emergency number" in told
    alert = vale.new()
    assert len(alert) == 1
    assert SIGN in alert[0].text
    assert "Seen" in {label for row in alert[0].buttons for label in row}


def test_an_alert_is_repeated_hourly_by_day_until_seen_is_pressed(
    service: Running, vale: Person, rowan: Person
) -> None:
    service.go_to(service.at(1, "19:58"))
    rowan.says(SIGN)
    vale.new()
    heard = {}
    for clock in ("20:57", "21:02", "21:59", "22:05", "23:59"):
        service.go_to(service.at(1, clock))
        heard[clock] = vale.text().count("NOT YET SEEN")
    service.go_to(service.at(2, "06:58"))
    heard["06:58"] = vale.text().count("NOT YET SEEN")
    service.go_to(service.at(2, "07:02"))
    heard["07:02"] = vale.text().count("NOT YET SEEN")
    assert heard == {"20:57": 0, "21:02": 1, "21:59": 1, "22:05": 0, "23:59": 0, "06:58": 0, "07:02": 1}
    assert "Rowan" in vale.presses("Seen")
    service.go_to(service.at(2, "21:00"))
    assert "NOT YET SEEN" not in vale.text()


def test_after_four_hours_the_colleague_is_told_and_may_see_it(service: Running, vale: Person, rowan: Person) -> None:
    ash = new_clinician(service, 3, "Dr Ash")
    vale.says("/share Rowan with Dr Ash")
    ash.new()
    rowan.says(SIGN)
    service.go_on(hours=3, minutes=50)
    assert ash.text() == ""
    service.go_on(minutes=20)
    heard = ash.text()
    assert "Dr Vale" in heard
    assert SIGN in heard
    assert "Rowan" in ash.presses("Seen")
    vale.new()
    service.go_on(hours=3)
    assert "NOT YET SEEN" not in vale.text() + ash.text()


def test_where_nobody_else_is_set_the_clinician_is_told_so(service: Running, vale: Person, rowan: Person) -> None:
    rowan.says(SIGN)
    service.go_on(hours=4, minutes=5)
    assert "No colleague is set for Rowan" in vale.text()


def test_an_alert_survives_a_restart(service: Running, vale: Person, rowan: Person) -> None:
    rowan.says(SIGN)
    vale.new()
    service.restart()
    service.go_on(hours=1, minutes=1)
    assert "NOT YET SEEN" in vale.text()


def test_an_old_seen_button_does_no_harm(service: Running, vale: Person, rowan: Person) -> None:
    rowan.says(SIGN)
    alert = vale.question()
    assert "Rowan" in vale.presses("Seen", alert)
    assert "no alert" in vale.presses("Seen", alert)
