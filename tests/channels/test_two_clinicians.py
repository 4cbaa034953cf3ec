"""Two clinicians on one bot: each sees their own; a share and a cover open what they say and no more."""

from __future__ import annotations

import pytest

from tests.channels.running import Person, Running, active, new_clinician


@pytest.fixture
def clinic(service: Running) -> tuple[Person, Person, Person, Person]:
    """Dr Vale with Rowan, Dr Ash with Hazel."""
    vale, ash = new_clinician(service, 1, "Dr Vale"), new_clinician(service, 2, "Dr Ash")
    return vale, ash, active(service, vale, 11, "Rowan"), active(service, ash, 12, "Hazel")


def test_a_clinician_learns_nothing_of_anothers_patients(
    service: Running, clinic: tuple[Person, Person, Person, Person]
) -> None:
    vale, ash, rowan, hazel = clinic
    service.go_to(service.at(1, "09:00"))
    hazel.says("first steps 8, all the time. walked 45 min")
    for each in (vale, ash, rowan, hazel):
        each.new()
    for text in (
        "/caseload", "/patient Hazel", "/log Hazel", "/chart Hazel", "/week Hazel", "/pause Hazel for 7 days",
        "/stop Hazel", "/dose Hazel walk 60", "/message Hazel hello", "/undo Hazel", "/clear Hazel", "/end Hazel",
        "/share Hazel with Dr Vale", "/seen Hazel", "/digest",
    ):  # fmt: skip
        heard = vale.says(text).replace('"Hazel"', "")
        assert "Hazel" not in heard.replace("called Hazel", ""), (text, heard)
        assert "45 min" not in heard
    assert hazel.text() == ""
    assert ash.text() == ""
    assert service.rows.one("SELECT count(*) FROM clinician_actions WHERE clinician_id IS NOT NULL") == 0


def test_alerts_go_to_the_own_clinician_only(service: Running, clinic: tuple[Person, Person, Person, Person]) -> None:
    vale, ash, rowan, _ = clinic
    rowan.says("I have chest pain and I am short of breath")
    assert "Rowan" in vale.text()
    assert ash.text() == ""


def test_a_share_opens_one_patient_until_it_is_ended(
    service: Running, clinic: tuple[Person, Person, Person, Person]
) -> None:
    vale, ash, rowan, _ = clinic
    active(service, vale, 13, "Briar")
    vale.says("/share Rowan with Dr Ash")
    assert "Rowan" in ash.text()
    seen = ash.says("/caseload")
    assert "Rowan" in seen
    assert "Hazel" in seen
    assert "Briar" not in seen
    assert "paused" in ash.says("/pause Rowan for 3 days").casefold()
    assert "Dr Ash" in rowan.text(), "the patient hears who did it"
    assert "Dr Ash" in vale.says("/log Rowan")
    assert "own clinician" in ash.says("/share Rowan with Dr Vale")
    vale.says("/unshare Rowan")
    ash.new()
    assert "Rowan" not in ash.says("/caseload")
    rowan.new()
    ash.says("/stop Rowan")
    assert rowan.text() == ""


def test_a_cover_brings_alerts_too_and_is_over_on_its_day(
    service: Running, clinic: tuple[Person, Person, Person, Person]
) -> None:
    vale, ash, rowan, _ = clinic
    vale.says("/cover Dr Ash until 2026-03-04")
    assert "2026-03-04" in ash.text()
    rowan.says("I have chest pain and I am short of breath")
    assert "Rowan" in ash.text()
    assert "Rowan" in vale.text()
    assert "seen" in ash.presses("Seen").casefold()
    service.go_to(service.at(2, "23:30"))
    assert "Rowan" in ash.says("/caseload")
    service.go_to(service.at(3, "05:00"))
    assert "Rowan" not in ash.says("/caseload")


def test_a_button_of_another_chat_does_nothing(service: Running, clinic: tuple[Person, Person, Person, Person]) -> None:
    vale, ash, rowan, _ = clinic
    rowan.says("I have chest pain and I am short of breath")
    alert = next(each for each in vale.new() if "Seen" in {label for row in each.buttons for label in row})
    data = alert.button("Seen").data
    assert data is not None
    ash.says("/caseload")
    # A client of its own can send any data with any message that it has.
    service.server.ask("press", chat_id=ash.chat_id, message_id=ash.question().message_id, data=data)
    service.settle()
    assert service.rows.one("SELECT count(*) FROM alerts WHERE seen_at IS NULL") == 1
    assert ash.text() == ""
