"""A patient's own data: the copy arrives, and erasing leaves nothing."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile

import pytest

from tests.channels.running import Person, Running, active, enrol, new_clinician

WORDS = ("zebrafinch", "first steps 3")


@pytest.fixture
def vale(service: Running) -> Person:
    """A clinician."""
    return new_clinician(service, 1, "Dr Vale")


def test_the_copy_of_ones_data_arrives_as_a_zip(service: Running, vale: Person) -> None:
    rowan = active(service, vale, 2, "Rowan")
    service.go_to(service.at(1, "07:05"))
    rowan.says("first steps 3, comes and goes. zebrafinch")
    rowan.new()
    rowan.says("/export")
    files = [each for each in rowan.user.received() if each.kind == "document"]
    assert len(files) == 1
    with zipfile.ZipFile(io.BytesIO(files[0].data or b"")) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        held = "\n".join(archive.read(name).decode("utf-8") for name in names)
        for name in names:
            if name.endswith(".json"):
                json.loads(archive.read(name))
    assert {name.rpartition(".")[2] for name in names} >= {"json", "csv"}
    assert "zebrafinch" in held
    assert "Dr Ash" not in held


def test_the_progress_chart_arrives_as_a_picture(service: Running, vale: Person) -> None:
    rowan = active(service, vale, 2, "Rowan")
    for day in range(1, 5):
        service.go_to(service.at(day, "07:05"))
        rowan.says(f"{7 - day}, comes and goes")
    rowan.says("/progress")
    picture = rowan.last()
    assert picture.kind == "photo"
    assert (picture.data or b"")[:8] == b"\x89PNG\r\n\x1a\n"
    vale.says("/chart Rowan")
    assert vale.last().kind == "photo"


def test_erasing_leaves_nothing_of_a_patient_and_tells_the_clinician(service: Running, vale: Person) -> None:
    rowan = enrol(service, vale, 987654321, "Zebrafinch")
    service.go_to(service.at(1, "07:05"))
    rowan.says("first steps 3, comes and goes")
    rowan.says("message zebrafinch is my secret word")
    vale.says("/note Zebrafinch likes zebrafinches")
    vale.says("/caseload")
    rowan.says("/erase")
    assert "deleted" in rowan.presses("yes")
    assert "Zebrafinch has left and had all their data erased" in vale.text()
    service.stop()
    path = service.database.engine.url.database
    assert path is not None
    with sqlite3.connect(path) as connection:
        tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        left = {
            table: row
            for table in tables
            for row in map(str, connection.execute(f'SELECT * FROM "{table}"'))
            if "zebrafinch" in row.casefold() or "987654321" in row
        }
        assert left == {}
        assert connection.execute("SELECT count(*) FROM erasures").fetchone() == (1,)
    service.start()
    service.go_to(service.at(3, "12:00"))
    assert rowan.text() == "", "nothing more is sent"
    assert "Zebrafinch" not in vale.says("/caseload")


def test_leaving_keeps_the_record_and_a_new_invitation_lets_them_come_back(service: Running, vale: Person) -> None:
    rowan = active(service, vale, 2, "Rowan")
    rowan.says("/leave")
    assert "You have left" in rowan.presses("yes")
    assert "Rowan has left" in vale.text()
    service.go_to(service.at(2, "20:00"))
    assert rowan.text() == ""
    assert "personal invitation" in rowan.says("hello again")
