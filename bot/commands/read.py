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
    """For each field the words it came from; for each warning sign also why it is sure or not."""
    words: dict[str, list[str]] = {}
    for each in reading.evidence:
        words.setdefault(each.field, []).append(each.words)
    for flag in reading.flags:
        words.setdefault(f"red_flags.{flag.code}", []).append(f"{flag.words} [{flag.why or 'sure: a pain score'}]")
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


_FIELDS = ("first_step_pain", "worst_pain", "rest_pattern", "settle_minutes", "plan_done", "about")


def _amounts(entry: dict[str, Any]) -> dict[str, Any]:
    return {
        key: round(value, 1) if isinstance(value, float) else value for key, value in entry.items() if value is not None
    }


class Tally:
    """How many were right of how many, measure by measure, over all replies and by the prompt that was open."""

    def __init__(self) -> None:
        self.right: Counter[str] = Counter()
        self.of: Counter[str] = Counter()

    def count(self, measure: str, asked: str, right: int, of: int = 1) -> None:
        """Count under the measure and under the measure for that prompt."""
        for name in (measure, f"{measure}, {asked}"):
            self.right[name] += right
            self.of[name] += of

    def share(self, measure: str) -> float | None:
        """The share that was right, or `None` where nothing was to be found."""
        return self.right[measure] / self.of[measure] if self.of[measure] else None

    def add(self, labelled: dict[str, Any]) -> list[str]:
        """Read one labelled reply and count it. Returns what was missed, in words."""
        gold, asked = labelled["gold"], str(labelled["asked"])
        got = to_contract(read(labelled["text"], Asked(asked)))
        misses = self._flags(set(gold["red_flags"]), set(got["red_flags"]), asked)
        if "about" not in gold:
            return misses
        for field in _FIELDS:
            self.count(field, asked, got[field] == gold[field])
            if got[field] != gold[field]:
                misses.append(f"{field} {got[field]!r} for {gold[field]!r}")
        for field, kind in (("activities", "activity"), ("exercises", "exercise")):
            mine = {each[kind]: _amounts(each) for each in got[field]}
            theirs = {each[kind]: _amounts(each) for each in gold[field]}
            both = mine.keys() & theirs.keys()
            self.count("kinds (F1)", asked, 2 * len(both), len(mine) + len(theirs))
            for name in both:
                self.count("amounts", asked, mine[name] == theirs[name])
            if mine != theirs:
                misses.append(f"{field} {list(mine.values())} for {list(theirs.values())}")
        self.count("whole line", asked, not misses)
        return misses

    def _flags(self, wanted: set[str], found: set[str], asked: str) -> list[str]:
        misses = [f"red_flags {sorted(found)} for {sorted(wanted)}"] if wanted != found else []
        if wanted:
            self.count("flags recalled", asked, len(wanted & found), len(wanted))
            if any(URGENCY_OF[RedFlag(each)] is not Urgency.SOON for each in wanted):
                self.count("urgent lines with any flag", asked, bool(found))
                if not found:
                    misses.append("URGENT LINE WITHOUT ANY FLAG")
        else:
            self.count("flag-free lines left free", asked, not found)
        return misses


def score(path: Path, say: Any) -> None:
    """Print each miss of a file of labelled replies ("gold"), then the measures: over all, and by the prompt that was open."""
    tally = Tally()
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.strip():
            labelled = json.loads(line)
            misses = tally.add(labelled)
            if misses:
                say(f"{labelled.get('id')}: {labelled['text']}\n    " + "; ".join(misses))
    over_all = [name for name in tally.of if "," not in name]
    for name in (*over_all, *sorted(name for name in tally.of if "," in name)):
        share = tally.share(name)
        if share is not None:
            say(f"{name:36} {tally.right[name]:5}/{tally.of[name]:<5} {share:.3f}")


def read_command(*, explain: bool = False, score_file: Path | None = None) -> None:
    """Run the command on standard input and output, and leave with its status."""
    if score_file is not None:
        score(score_file, typer.echo)
        raise typer.Exit(0)
    raise typer.Exit(read_lines(sys.stdin, sys.stdout, sys.stderr, explain=explain))
