"""Play and chat from outside: a process of its own, piped input, the contract's values."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bot.commands.play import demo_files
from tests.commands.test_commands import DAY, HEAD

# The contract of `play --json`: keys in order, and the values that a key may have.
KEYS = (
    "patient", "date", "week", "phase", "decision", "reasons", "walk_minutes", "heel_raises", "flare", "load",
    "usual_load", "red_flags", "prompts_sent", "answers",
)  # fmt: skip
PHASES = {"inflammatory", "reparative", "remodelling"}
DECISIONS = {"stop", "unload", "rest", "resume", "hold", "progress"}
CAUSES = {"increase", "overdone", "other", "unknown"}
STEPS = {"seated both", "seated one", "standing both", "up both down one", "standing one", "one on towel", "hops"}


def _process(*arguments: str, text: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "bot", *arguments], input=text, capture_output=True, text=True, timeout=60, check=False
    )


def _days(path: Path) -> list[dict[str, object]]:
    done = _process("play", "--json", str(path))
    assert (done.returncode, done.stderr) == (0, "")
    return [json.loads(line) for line in done.stdout.splitlines()]


def _file(folder: Path, text: str, name: str = "a.chat") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("path", demo_files()[4:7], ids=lambda path: path.stem)
def test_every_day_of_a_demo_conversation_keeps_to_the_contract(path: Path) -> None:
    days = _days(path)
    assert days
    assert [day["date"] for day in days] == sorted({str(day["date"]) for day in days})
    for day in days:
        assert tuple(day) == KEYS
        assert day["phase"] in PHASES
        assert day["decision"] in DECISIONS
        raises, flare = day["heel_raises"], day["flare"]
        assert isinstance(raises, dict)
        assert list(raises) == ["step", "sets", "reps"]
        assert raises["step"] in STEPS
        if flare is not None:
            assert isinstance(flare, dict)
            assert list(flare) == ["cause", "candidates"]
            assert flare["cause"] in CAUSES
        if day["red_flags"]:
            assert (day["decision"], day["walk_minutes"], raises["sets"], raises["reps"]) == ("stop", 0, 0, 0)


def test_days_of_silence_are_in_the_json_too(tmp_path: Path) -> None:
    days = _days(_file(tmp_path, HEAD + DAY + "2026-03-05\n"))
    assert [day["date"] for day in days] == ["2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05"]
    assert [day["answers"] for day in days] == [1, 0, 0, 0]
    assert [day["load"] for day in days] == [None] * 4
    # Rule of the brief: one nudge after 2 hours without an answer and never at night (19:00 + 2 h is before 21:30).
    assert all(0 < int(str(day["prompts_sent"])) <= 4 for day in days[1:])


def test_the_worst_of_several_files_is_the_exit_status_and_all_are_played(tmp_path: Path) -> None:
    good = _file(tmp_path, HEAD + DAY, "good.chat")
    missed = _file(tmp_path, HEAD + DAY + "  07:10 bot~ no such words\n", "missed.chat")
    broken = _file(tmp_path, "nonsense\n", "broken.chat")
    assert _process("play", str(good), str(missed)).returncode == 1
    done = _process("play", str(broken), str(missed), str(good))
    assert done.returncode == 2
    assert "broken.chat:1:" in done.stderr
    assert "missed.chat:16" in done.stderr
    assert "no such words" in done.stderr


def test_a_file_that_is_no_text_cannot_be_read(tmp_path: Path) -> None:
    path = tmp_path / "binary.chat"
    path.write_bytes(b"\xff\xfe\x00\x81")
    done = _process("play", str(path))
    assert done.returncode == 2
    assert "binary.chat" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_contracts_own_example_plays(tmp_path: Path) -> None:
    """The example of the contract: 7 after a 5 that was walked as planned is a flare, laid to the increase."""
    text = HEAD + (
        "2026-03-02\n"
        "  07:10 patient: 5, comes and goes\n"
        "  07:10 bot~ reparative          # the replies to that line contain this, case apart\n"
        "  19:30 patient: walked 5 minutes, all done, worst 3\n"
        "2026-03-03\n"
        "  07:05 patient: 7 and it still comes and goes\n"
        "  07:05 bot~ rest\n"
        "  07:05 bot!~ walk 5             # and do not contain this\n"
        "  20:00 clinician: /pause Rowan until 2026-03-10\n"
    )
    first, second = _days(_file(tmp_path, text))
    assert (first["decision"], first["load"], first["usual_load"]) == ("hold", 5.0, None)
    assert (second["decision"], second["walk_minutes"]) == ("rest", 0)
    assert second["flare"] == {"cause": "increase", "candidates": []}
    assert (second["usual_load"], second["prompts_sent"], second["answers"]) == (5.0, 2, 1)


def test_plain_output_has_no_colour_codes(tmp_path: Path) -> None:
    done = _process("play", str(_file(tmp_path, HEAD + DAY)))
    assert done.returncode == 0
    assert "5, comes and goes" in done.stdout
    assert "\x1b" not in done.stdout


def _chat(*lines: str) -> str:
    text = "".join(f"{line}\n" for line in lines)
    done = _process("chat", "--ready", "--start", "2026-03-01 18:00", "--timezone", "Europe/Lisbon", text=text)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_chat_ends_quietly_with_its_input() -> None:
    assert ".next" in _chat()


def test_a_fortnight_in_chat_as_patient_and_clinician() -> None:
    lines: list[str] = []
    for _ in range(14):
        lines += [".morning", "4, on and off", ".evening", "all done, worst 2"]
    shown = _chat(*lines, ".dr /caseload", ".dr /pause Rowan for 3 days", ".who", ".quit")
    assert "Rowan: week 2" in shown
    assert "Walk 6 minutes" in shown  # a rise within the fortnight
    assert "Rowan is paused" in shown
    assert "15 March 2026" in shown


def test_a_red_flag_in_chat_shows_the_alert_too() -> None:
    shown = _chat(".morning", "my calf is swollen and hot", ".dr /clear Rowan", ".quit")
    assert "urgent care" in shown
    assert "WARNING" in shown.upper()


def test_a_share_and_a_cover_can_be_tried_in_chat() -> None:
    shown = _chat(
        ".oak /caseload", ".dr /share Rowan with Dr Oak", ".oak /caseload", ".dr /cover Dr Oak for 2 days", ".next",
        "my calf is swollen and hot", ".oak /seen", ".quit",
    )  # fmt: skip
    assert "You have no patients yet" in shown
    assert "Rowan (Dr Vale): day 1 is 2026-03-02" in shown
    assert "bot to Dr Oak" in shown
    assert shown.count("WARNING SIGN (same day)") == 2, "the clinician and the one who covers"
    assert "you have seen the alert about Rowan (Dr Vale)" in shown


def test_a_digest_of_nobody_does_not_come_in_chat() -> None:
    """The clock passes Monday 08:00 of the colleague, who has no patients; the clinician's own comes."""
    shown = _chat(".morning", ".at 09:00", ".quit")
    assert "bot to clinician" in shown
    assert "bot to Dr Oak" not in shown


def test_no_line_of_chat_ends_in_a_traceback_or_moves_the_clock_by_mistake() -> None:
    wrong = (".at 25:00", ".at noon", ".at", ".days", ".days x", ".days -3", ".dr", "", "   ", ".", "\U0001f9b6")
    shown = _chat(*wrong, ".who", ".quit")
    assert shown.count("Say it like .at 21:15 or .days 3") == 5
    assert "1 March 2026, 18:00" in shown.replace("01 March", "1 March")


def test_chat_moves_on_by_two_hundred_days_at_most() -> None:
    assert "17 September 2026" in _chat(".days 99999999999999", ".who", ".quit")
