"""Conversation files (`.chat`): read into values, every problem with its line (see DEVELOPERS.md, "Played conversations")."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bot.program.ladder import RaiseDose
from bot.program.terms import PriorActivity, RestPattern, Step


class ChatFileError(Exception):
    """A conversation file that cannot be read: which line, what was expected, what was found."""

    def __init__(self, path: Path, line: int, problem: str) -> None:
        super().__init__(f"{path}:{line}: {problem}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One dated line. `who`: patient, clinician, or bot (an expectation)."""

    number: int
    at: datetime
    """Wall clock of the patient, naive on purpose: a file speaks of clocks, the zone makes them instants."""
    who: str
    text: str
    expected: bool = True
    """For `bot` lines: True for `bot~`, False for `bot!~`."""
    to: str = "patient"


@dataclass(frozen=True, kw_only=True, slots=True)
class ChatFile:
    """A conversation as its file has it."""

    path: Path
    title: str
    timezone: str
    clinician: str
    patient: str
    foot: str
    start: date
    morning: str
    evening: str
    first_steps: int
    rest_pain: RestPattern
    active_before: PriorActivity
    walking: int
    target: int | None
    raises: RaiseDose
    lines: tuple[Line, ...] = field(default=())
    last_day: date


_HEAD = (
    "title", "timezone", "clinician", "patient", "foot", "start", "prompts", "first steps", "rest pain",
    "active before", "walking", "target", "heel raises",
)  # fmt: skip
_OPTIONAL = frozenset({"title", "target", "foot", "clinician"})
_DAY = re.compile(r"^(\d{4}-\d{2}-\d{2})\s*$")
_LINE = re.compile(r"^\s+(\d{1,2}:\d{2})\s+(patient:|clinician:|bot~|bot!~|clinician~|clinician!~)\s*(.*)$")


def _without_comment(line: str) -> str:
    return re.sub(r"(^|\s)#.*$", "", line).rstrip()


def _clock(text: str) -> time | None:
    try:
        hours, minutes = text.split(":")
        return time(int(hours), int(minutes))
    except ValueError:
        return None


def parse_chat(path: Path, text: str) -> ChatFile:
    """The conversation in `text`. Raises `ChatFileError` at the first line that cannot be read."""
    head: dict[str, tuple[int, str]] = {}
    lines: list[Line] = []
    day: date | None = None
    number = 0
    for number, raw in enumerate(text.splitlines(), 1):
        line = _without_comment(raw)
        if not line.strip():
            continue
        if found := _DAY.match(line):
            try:
                following = date.fromisoformat(found[1])
            except ValueError:
                raise ChatFileError(path, number, f"{found[1]} is no date") from None
            if day is not None and following <= day:
                raise ChatFileError(path, number, f"days go forward: {following} does not come after {day}")
            day = following
            continue
        if day is None:
            key, colon, value = line.partition(":")
            if not colon or key.strip() not in _HEAD:
                raise ChatFileError(path, number, f"expected 'key: value' of the head ({', '.join(_HEAD)}) or a date")
            head[key.strip()] = (number, value.strip())
            continue
        found = _LINE.match(line)
        clock = _clock(found[1]) if found else None
        if found is None or clock is None:
            raise ChatFileError(path, number, "expected '  HH:MM patient: …', 'clinician: …', 'bot~ …' or 'bot!~ …'")
        # 00:30 under a date is the small hours after it: a day lasts from 04:00 to 04:00 (rule 2.1).
        calendar_day = day
        at = datetime.combine(calendar_day, clock)
        if lines and at < lines[-1].at:
            if clock < time(4):
                at += timedelta(days=1)
            else:
                raise ChatFileError(
                    path, number, f"times go forward: {found[1]} does not come after {lines[-1].at:%H:%M}"
                )
        mark = found[2]
        who = "bot" if "~" in mark else mark.rstrip(":")
        lines.append(
            Line(
                number=number,
                at=at,
                who=who,
                text=found[3].strip(),
                expected="!" not in mark,
                to="clinician" if mark.startswith("clinician") and "~" in mark else "patient",
            )
        )
    for key in _HEAD:
        if key not in head and key not in _OPTIONAL:
            raise ChatFileError(path, number, f"the head lacks '{key}:'")
    if day is None:
        raise ChatFileError(path, number, "there is no day in the file")
    return _with_head(path, head, tuple(lines), day)


def _with_head(path: Path, head: dict[str, tuple[int, str]], lines: tuple[Line, ...], last_day: date) -> ChatFile:
    def value(key: str, default: str = "") -> str:
        return head[key][1] if key in head else default

    def wrong(key: str, expected: str) -> ChatFileError:
        return ChatFileError(path, head[key][0], f"{key}: expected {expected}, found {value(key)!r}")

    try:
        ZoneInfo(value("timezone"))
    except (ZoneInfoNotFoundError, ValueError):
        raise wrong("timezone", "a zone such as Europe/Lisbon") from None
    try:
        start = date.fromisoformat(value("start"))
    except ValueError:
        raise wrong("start", "a date such as 2026-03-02") from None
    prompts = value("prompts").split()
    if len(prompts) != 2 or any(_clock(each) is None for each in prompts):
        raise wrong("prompts", "two times such as 07:00 19:00")
    try:
        first_steps = int(value("first steps"))
    except ValueError:
        first_steps = -1
    if not 0 <= first_steps <= 10:
        raise wrong("first steps", "a whole number from 0 to 10")
    minutes: dict[str, int | None] = {"target": None}
    for key in ("walking", "target"):
        if key in head:
            found = re.fullmatch(r"(\d+)\s*(min|minutes)?", value(key))
            if found is None:
                raise wrong(key, "minutes such as 5 min")
            minutes[key] = int(found[1])
    raises = re.fullmatch(r"(.+?)\s+(\d+)\s*[x×]\s*(\d+)", value("heel raises"))
    if raises is None or raises[1] not in set(Step):
        raise wrong("heel raises", f"a step and a dose such as 'seated both 2x8'; steps: {', '.join(Step)}")
    if value("rest pain") not in set(RestPattern):
        raise wrong("rest pain", ", ".join(RestPattern))
    if value("active before") not in set(PriorActivity):
        raise wrong("active before", ", ".join(PriorActivity))
    if last_day < start:
        raise wrong("start", "a date no later than the file's last day")
    return ChatFile(
        path=path,
        title=value("title", path.stem),
        timezone=value("timezone"),
        clinician=value("clinician", "your clinician"),
        patient=value("patient"),
        foot=value("foot", "right"),
        start=start,
        morning=f"{_clock(prompts[0]):%H:%M}",
        evening=f"{_clock(prompts[1]):%H:%M}",
        first_steps=first_steps,
        rest_pain=RestPattern(value("rest pain")),
        active_before=PriorActivity(value("active before")),
        walking=minutes["walking"] or 0,
        target=minutes["target"],
        raises=RaiseDose(step=Step(raises[1]), sets=int(raises[2]), reps=int(raises[3])),
        lines=lines,
        last_day=last_day,
    )


def read_chat(path: Path) -> ChatFile:
    """The conversation in a file. Raises `ChatFileError`; a file that is missing or no text is one too."""
    try:
        return parse_chat(path, path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as problem:
        raise ChatFileError(path, 0, f"cannot be read: {problem}") from None


def days_of(chat: ChatFile) -> Iterator[date]:
    """Every day from the start to the file's last."""
    day = chat.start
    while day <= chat.last_day:
        yield day
        day += timedelta(days=1)
