"""The command line: play's exit status and JSON, read, chat, and a light start."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot.__main__ import app
from bot.commands.chat_file import ChatFileError, parse_chat, read_chat
from bot.commands.play import Player, demo_files
from bot.commands.read import read_lines

HEAD = """title: t
timezone: Europe/Lisbon
clinician: Dr Vale
patient: Rowan
foot: right
start: 2026-03-02
prompts: 07:00 19:00
first steps: 5
rest pain: intermittent
active before: moderately   # a comment
walking: 5 min
heel raises: seated both 2x8

"""
DAY = "2026-03-02\n  07:10 patient: 5, comes and goes\n"


def _run(*arguments: str, text: str | None = None) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, list(arguments), input=text)
    return result.exit_code, result.stdout, result.stderr


def _file(folder: Path, text: str) -> str:
    path = folder / "a.chat"
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("path", demo_files(), ids=lambda path: path.stem)
def test_the_demo_conversation_goes_as_its_file_expects(path: Path) -> None:
    chat = read_chat(path)
    assert any(line.who == "bot" for line in chat.lines)
    player = Player(chat)
    try:
        assert player.run() == []
        assert player.json_days()
    finally:
        player.close()


def test_there_are_at_least_ten_demo_conversations() -> None:
    assert len(demo_files()) >= 10


def test_play_ends_with_0_if_all_was_found_and_1_if_not(tmp_path: Path) -> None:
    assert _run("play", _file(tmp_path, HEAD + DAY + "  07:10 bot~ REPARATIVE\n"))[0] == 0
    status, _, errors = _run("play", _file(tmp_path, HEAD + DAY + "  07:10 bot!~ walk 5\n"))
    assert status == 1
    assert "a.chat:16" in errors
    assert "walk 5" in errors


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (HEAD.replace("Lisbon", "Atlantis") + DAY, 2),
        (HEAD.replace("first steps: 5", "first steps: 11") + DAY, 8),
        (HEAD.replace("seated both 2x8", "headstand 2x8") + DAY, 12),
        (HEAD + "2026-03-02\n  7 oclock patient: 5\n", 15),
        (HEAD + DAY + "2026-03-01\n", 16),
        (HEAD + "2026-02-30\n", 14),
        (HEAD.replace("walking: 5 min\n", "") + DAY, 14),
    ],
)
def test_play_ends_with_2_and_the_line_that_cannot_be_read(tmp_path: Path, text: str, line: int) -> None:
    status, _, errors = _run("play", _file(tmp_path, text))
    assert status == 2
    assert f"a.chat:{line}:" in errors


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    assert _run("play", str(tmp_path / "none.chat"))[0] == 2


def test_the_json_days_have_exactly_the_fields_of_the_contract(tmp_path: Path) -> None:
    text = (
        HEAD
        + DAY
        + "  19:30 patient: walked 5 minutes, all done, worst 3\n2026-03-03\n  07:05 patient: 7, comes and goes\n"
    )
    status, out, _ = _run("play", "--json", _file(tmp_path, text))
    days = [json.loads(line) for line in out.splitlines()]
    assert status == 0
    assert [day["date"] for day in days] == ["2026-03-02", "2026-03-03"]
    assert days[1].pop("reasons")
    assert days[1] == {
        "patient": "Rowan",
        "date": "2026-03-03",
        "week": 1,
        "phase": "reparative",
        "decision": "rest",
        "walk_minutes": 0,
        "heel_raises": {"step": "seated both", "sets": 0, "reps": 0},
        "flare": {"cause": "increase", "candidates": []},
        "load": None,
        "usual_load": 5.0,
        "red_flags": [],
        "prompts_sent": 2,
        "answers": 1,
    }


def test_a_flag_in_the_evening_makes_the_day_a_stop(tmp_path: Path) -> None:
    text = HEAD + DAY + "  19:30 patient: walked 5 minutes, all done, worst 3, my foot has gone numb\n"
    (day,) = [json.loads(line) for line in _run("play", "--json", _file(tmp_path, text))[1].splitlines()]
    assert (day["decision"], day["walk_minutes"], day["red_flags"], day["load"]) == ("stop", 0, ["nerve_signs"], 5.0)


def test_small_hours_belong_to_the_date_above_them() -> None:
    chat = parse_chat(Path("x"), HEAD + DAY + "  23:50 patient: walked 5\n  00:20 patient: worst 3\n")
    assert [f"{line.at:%d %H:%M}" for line in chat.lines][-2:] == ["02 23:50", "03 00:20"]


def test_what_is_no_line_of_a_conversation_raises() -> None:
    with pytest.raises(ChatFileError, match="no day"):
        parse_chat(Path("x"), HEAD)


def test_read_answers_line_by_line_and_tells_what_it_could_not_read() -> None:
    out, errors = io.StringIO(), io.StringIO()
    lines = ['{"id": "a", "asked": "morning", "text": "4"}', "no json", '{"id": "b", "asked": "noon", "text": "4"}',
             '{"id": "c", "asked": "evening", "text": "4"}']  # fmt: skip
    assert read_lines(lines, out, errors, explain=False) == 1
    records = [json.loads(line) for line in out.getvalue().splitlines()]
    assert [each["id"] for each in records] == ["a", None, None, "c"]
    assert (records[0]["first_step_pain"], records[3]["worst_pain"]) == (4, 4)
    assert "line 2" in errors.getvalue()
    assert "line 3" in errors.getvalue()


def test_read_explains_from_which_words(capsys: pytest.CaptureFixture[str]) -> None:
    out = io.StringIO()
    read_lines(['{"id": "a", "asked": "evening", "text": "walked 5 min, worst 4"}'], out, io.StringIO(), explain=True)
    assert json.loads(out.getvalue())["explain"]["worst_pain"] == ["worst 4"]


def test_the_start_of_help_loads_nothing_heavy() -> None:
    heavy = ("sqlalchemy", "telegram", "matplotlib", "pydantic")
    program = f"import sys, bot.__main__; print([m for m in {heavy} if m in sys.modules])"
    assert (
        subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip()
        == "[]"
    )


def test_a_week_in_chat_with_a_clock_that_is_moved() -> None:
    text = ".next\n4, on and off\n.evening\nall done, 2\n.dr /caseload\n.at 21:15\n.days 2\n.days many\n.what\n.who\n.quit\n"
    status, out, _ = _run("chat", "--ready", "--start", "2026-03-01 18:00", "--timezone", "Europe/Lisbon", text=text)
    assert status == 0
    assert "Walk 5 minutes" in out
    assert "Rowan: week 1" in out
    assert "There is no .what" in out


def test_chat_refuses_a_zone_that_is_none() -> None:
    assert _run("chat", "--timezone", "Atlantis")[0] == 2


def test_enrolment_in_chat_from_consent_to_the_first_plan() -> None:
    text = "maybe\nyes\nno\nthe right one\nyes\n8 and 20\n5\ncomes and goes\nmoderately\n.next\n.quit\n"
    status, out, _ = _run("chat", "--start", "2026-03-01 18:00", "--timezone", "Europe/Lisbon", text=text)
    assert status == 0
    assert "2 March 2026" in out
    assert "Walk 5 minutes" in out
