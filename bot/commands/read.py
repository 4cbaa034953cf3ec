"""`heel-checkin read`: patients' replies to structured records, a JSON object a line in and out, in the same order."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TextIO

import typer

from bot.program.flags import URGENCY_OF
from bot.program.terms import Asked, RedFlag, Urgency
from bot.reader import Reading, read, to_contract


class ReplyError(ValueError):
    """A line of input that is no reply: what was expected and what was found."""


def parsed(line: str) -> tuple[Any, Asked, str]:
    """Identity, open prompt and text of an input line. Raises `ReplyError`."""
    try:
        reply = json.loads(line)
    except (ValueError, RecursionError) as problem:
        raise ReplyError(f"expected a JSON object, found no JSON ({problem})") from None
    if not isinstance(reply, dict) or not isinstance(reply.get("text"), str):
        raise ReplyError('expected an object with "id", "asked" and "text", the text a string')
    asked = reply.get("asked", "any")
    if asked not in set(Asked):
        raise ReplyError(f'"asked" must be one of {", ".join(Asked)}, not {asked!r}')
    return reply.get("id"), Asked(asked), reply["text"]


def explained(reading: Reading) -> dict[str, list[str]]:
    """For each field the words it came from."""
    words: dict[str, list[str]] = {}
    for each in reading.evidence:
        words.setdefault(each.field, []).append(each.words)
    for flag in reading.flags:
        words.setdefault(f"red_flags.{flag.code}", []).append(flag.words + ("" if flag.certain else " (unsure)"))
    return words


def read_lines(lines: Iterable[str], out: TextIO, errors: TextIO, *, explain: bool) -> int:
    """Read every line. Returns the exit status: 1 if any line could not be read; its place in the output says so."""
    status = 0
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            identity, asked, text = parsed(line)
        except ReplyError as problem:
            errors.write(f"line {number}: {problem}\n")
            out.write(json.dumps({"id": None, "error": str(problem)}) + "\n")
            status = 1
            continue
        reading = read(text, asked)
        record = {"id": identity, **to_contract(reading)}
        if explain:
            record["explain"] = explained(reading)
        out.write(json.dumps(record, ensure_ascii=False) + "\n")
    return status


def _amounts(entry: dict[str, Any]) -> dict[str, Any]:
    return {
        key: round(value, 1) if isinstance(value, float) else value for key, value in entry.items() if value is not None
    }


def score(path: Path, say: Any) -> None:
    """Print how readings compare with a file of labelled replies ("gold"), and each miss."""
    right: Counter[str] = Counter()
    of: Counter[str] = Counter()
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line.strip():
            continue
        labelled = json.loads(line)
        gold, asked = labelled["gold"], labelled["asked"]
        got = to_contract(read(labelled["text"], Asked(asked)))
        misses: list[str] = []
        wanted, found = set(gold["red_flags"]), set(got["red_flags"])
        of["flags recalled"] += len(wanted)
        right["flags recalled"] += len(wanted & found)
        if wanted != found:
            misses.append(f"red_flags {sorted(found)} for {sorted(wanted)}")
        if wanted and not found and any(URGENCY_OF[RedFlag(each)] is not Urgency.SOON for each in wanted):
            misses.append("URGENT LINE WITHOUT ANY FLAG")
        if not wanted:
            of["flag-free lines left free"] += 1
            right["flag-free lines left free"] += not found
        if "about" in gold:
            for field in ("first_step_pain", "worst_pain", "rest_pattern", "settle_minutes", "plan_done", "about"):
                of[field] += 1
                right[field] += got[field] == gold[field]
                if got[field] != gold[field]:
                    misses.append(f"{field} {got[field]!r} for {gold[field]!r}")
            for field, kind in (("activities", "activity"), ("exercises", "exercise")):
                mine = {each[kind]: _amounts(each) for each in got[field]}
                theirs = {each[kind]: _amounts(each) for each in gold[field]}
                of["kinds (F1)"] += len(mine) + len(theirs)
                right["kinds (F1)"] += 2 * len(mine.keys() & theirs.keys())
                for name in mine.keys() & theirs.keys():
                    of["amounts"] += 1
                    right["amounts"] += mine[name] == theirs[name]
                if mine != theirs:
                    misses.append(f"{field} {list(mine.values())} for {list(theirs.values())}")
            of[f"whole line, {asked}"] += 1
            right[f"whole line, {asked}"] += not misses
        if misses:
            say(f"{labelled.get('id')}: {labelled['text']}\n    " + "; ".join(misses))
    for name, count in of.items():
        say(f"{name:28} {right[name]:5}/{count:<5} {right[name] / count:.3f}" if count else name)


def read_command(*, explain: bool = False, score_file: Path | None = None) -> None:
    """Run the command on standard input and output, and leave with its status."""
    if score_file is not None:
        score(score_file, typer.echo)
        raise typer.Exit(0)
    raise typer.Exit(read_lines(sys.stdin, sys.stdout, sys.stderr, explain=explain))
