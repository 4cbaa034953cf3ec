"""Files from their descriptions, and the command that writes them."""

from __future__ import annotations

import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.commands.digest import digest, safe_name
from bot.digest import SpecError, digest_messages, prepare, render
from storage.tables import Clinician
from tests.digest.conftest import Demo


def spec(what: str, demo: Demo) -> dict[str, Any]:
    given: dict[str, Any] = {"what": what, "until": str(demo.until)}
    if what == "digest_pdf":
        return given | {"clinician_id": 1, "patient_ids": demo.ids[:1]}
    return given | {"patient_id": demo.ids[0]}


@pytest.mark.parametrize(
    ("what", "name", "media", "begins"),
    [
        ("progress_chart", "progress-2026-03-29.png", "image/png", b"\x89PNG\r\n\x1a\n"),
        ("patient_chart", "chart-2026-03-29.png", "image/png", b"\x89PNG\r\n\x1a\n"),
        ("digest_pdf", "digest-2026-03-29.pdf", "application/pdf", b"%PDF-1."),
    ],
)
def test_each_description_becomes_its_file(demo: Demo, what: str, name: str, media: str, begins: bytes) -> None:
    with demo.database.session() as session:
        found = render(session, spec(what, demo), demo.now)
        prepared = prepare(session, spec(what, demo), demo.now)
    assert (found[0], found[2]) == (name, media)
    assert found[1].startswith(begins)
    assert prepared.draw() == found[1], "drawn after the transaction, it is the same file"
    assert len(found[1]) < 1_000_000, "a chat takes it at once"


@pytest.mark.parametrize(
    "bad",
    [
        {},
        {"what": "poem", "patient_id": 1, "until": "2026-03-29"},
        {"what": "patient_chart", "until": "2026-03-29"},
        {"what": "patient_chart", "patient_id": 1, "until": "soon"},
        {"what": "patient_chart", "patient_id": 999_999, "until": "2026-03-29"},
        {"what": "digest_pdf", "clinician_id": 1, "patient_ids": None, "until": "2026-03-29"},
    ],
)
def test_a_description_that_says_nothing_is_refused(demo: Demo, bad: dict[str, Any]) -> None:
    with demo.database.session() as session, pytest.raises(SpecError):
        prepare(session, bad, demo.now)


def test_the_messages_are_of_the_patients_given(demo: Demo) -> None:
    with demo.database.session() as session:
        clinician = session.get(Clinician, 1)
        assert clinician is not None
        (text,) = digest_messages(session, demo.ids[:2], clinician, demo.until, demo.now)
    assert "2 patients" in text
    assert "Wren" in text
    assert "Tarn" not in text


def test_drawing_is_not_imported_before_something_is_drawn() -> None:
    code = (
        "import sys, bot.digest, bot.digest.wording, bot.commands.digest\n"
        "sys.exit(any(each.split('.')[0] == 'matplotlib' for each in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# -- the command


class Heard:
    """What the command says."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.complained: list[str] = []

    def run(self, caseload: Demo, out: Path, **options: Any) -> int:
        given: dict[str, Any] = {
            "clinician": None,
            "until": None,
            "database_url": caseload.url,
            "demo": False,
            "now": caseload.now,
        }
        return digest(out=out, say=self.said.append, complain=self.complained.append, **(given | options))


def test_the_command_writes_pdf_message_and_charts(demo: Demo, tmp_path: Path) -> None:
    heard = Heard()
    assert heard.run(demo, tmp_path / "new" / "folder") == 0
    names = sorted(each.name for each in (tmp_path / "new" / "folder").iterdir())
    assert len(names) == 2 + 2 * 5
    assert names[:3] == ["clinician-1-digest.pdf", "clinician-1-digest.txt", "clinician-1-patient-1-Wren-chart.png"]
    assert sorted(Path(each).name for each in heard.said) == names
    text = (tmp_path / "new" / "folder" / "clinician-1-digest.txt").read_text(encoding="utf-8")
    assert text.startswith("Week Mon 23 Mar to Sun 29 Mar 2026: 5 patients"), (
        "yesterday is the last day if none is given"
    )
    modes = {each.stat().st_mode & 0o777 for each in (tmp_path / "new" / "folder").iterdir()}
    assert modes == {0o600}, "nobody else on the machine reads what patients said"
    assert heard.complained == []


def test_an_earlier_week_can_be_asked_for(demo: Demo, tmp_path: Path) -> None:
    assert Heard().run(demo, tmp_path, until="2026-02-01", clinician="dr v") == 0
    text = (tmp_path / "clinician-1-digest.txt").read_text(encoding="utf-8")
    assert text.startswith("Week Mon 26 Jan to Sun 1 Feb 2026")
    assert "week 4" in text


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"clinician": "Dr Nobody"}, 'There is no clinician called "Dr Nobody". Known: Dr Vale.'),
        ({"until": "yesterday"}, '--until was "yesterday"; expected a date such as 2026-03-29.'),
        ({"until": "2031-01-01"}, "still to come"),
        (
            {"database_url": "sqlite:////nowhere/at/all.sqlite3"},
            "There is no database at sqlite:////nowhere/at/all.sqlite3",
        ),
        ({"database_url": "nonsense"}, "HEEL_CHECKIN_DATABASE_URL"),
        ({"demo": True}, "leave --database out"),
        ({"demo": True, "database_url": None, "until": "2020-01-01"}, "has the days from 2026-01-05 to 2026-03-29"),
    ],
)
def test_a_mistake_is_told_and_writes_nothing(demo: Demo, tmp_path: Path, options: dict[str, Any], told: str) -> None:
    heard = Heard()
    assert heard.run(demo, tmp_path / "out", **options) == 1
    assert told in heard.complained[0]
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())


def test_a_file_is_no_folder(demo: Demo, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    heard = Heard()
    assert heard.run(demo, tmp_path / "file") == 1
    assert "is a file" in heard.complained[0]


@pytest.mark.parametrize(
    ("alias", "name"),
    [
        ("Wren", "Wren"),
        ("../../etc/passwd", "etc-passwd"),
        ("Zoë Müller", "Zoe-Muller"),
        ("日本", ""),
        ("a" * 99, "a" * 30),
        ("NUL:\\x", "NUL-x"),
        (".hidden", "hidden"),
    ],
)
def test_an_alias_becomes_a_safe_name(alias: str, name: str) -> None:
    assert safe_name(alias) == name


def test_a_short_demo_can_be_seen(tmp_path: Path, demo: Demo) -> None:
    """`--demo` plays the invented caseload by itself, here its first week only."""
    heard = Heard()
    assert heard.run(demo, tmp_path, demo=True, database_url=None, until="2026-01-11") == 0
    text = (tmp_path / "clinician-1-digest.txt").read_text(encoding="utf-8")
    assert "Week Mon 5 Jan to Sun 11 Jan 2026: 5 patients" in text
    assert (demo.until - timedelta(days=77)).isoformat() == "2026-01-11"
