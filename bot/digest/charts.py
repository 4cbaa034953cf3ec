"""The charts: first-step pain by day with doses, flares, rest days, flags and phases; and the patient's own picture.

Rows that are named in words stand above each other on one axis of days, so that next to no label is needed inside.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Any, TypeVar

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import MaxNLocator

from bot.digest import marks, wording
from bot.digest.figures import programme_weeks
from bot.digest.paper import DPI, PHONE, Look, drawable, new_figure, png, shortened, width_of, wrapped, write
from bot.digest.values import Day, Flag, History
from bot.program.outcome import week_of
from bot.program.terms import Decision, Step

T = TypeVar("T")

_WEEK = 7
_LEAST_DAYS = 14
_BLOCKS = (Decision.STOP, Decision.UNLOAD, Decision.REST)
_WEEK_STEPS = (1, 2, 4, 8, 13, 26, 52)
PHONE_WIDTH, CHART_HEIGHT, PICTURE_HEIGHT = 7.2, 9.6, 8.4
"""Inches; at 150 dots an inch 1,080 pixels wide, 1,440 and 1,260 high."""


def runs(days: Sequence[Day], key: Callable[[Day], T | None]) -> list[tuple[int, int, T]]:
    """Runs of days in a row with the same key: first number, last number, key. Days without a key are left out."""
    found: list[tuple[int, int, T]] = []
    for day in days:
        value = key(day)
        if value is None:
            continue
        if found and found[-1][2] == value and found[-1][1] == day.number - 1:
            found[-1] = (found[-1][0], day.number, value)
        else:
            found.append((day.number, day.number, value))
    return found


def _dot(look: Look, pixels_a_day: float) -> float:
    """A dot's size in points: as wide as a day where days are narrow, within limits."""
    return max(look.dot * 0.55, min(look.dot, pixels_a_day / DPI * 72))


def _phase(day: Day) -> marks.Mark | None:
    return None if day.decision is None else marks.PHASE[day.decision.phase]


def _step(day: Day) -> Step | None:
    return None if day.decision is None else day.decision.doses.raises.step


def _unanswered(day: Day) -> bool:
    return not day.answered and not day.going_on


def _block(day: Day) -> Decision | None:
    return day.decision.decision if day.decision is not None and day.decision.decision in _BLOCKS else None


class _Chart:
    """One clinician's chart inside a box of a figure. All sizes are inches until they are drawn."""

    def __init__(self, figure: Figure, box: tuple[float, float, float, float], history: History, look: Look) -> None:
        self.figure = figure
        self.left, self.bottom, self.width, self.height = box
        self.history = history
        self.days = history.days
        self.look = look
        weeks = week_of(self.days[-1].number) if self.days else 1
        self.last = max(_LEAST_DAYS, weeks * _WEEK)
        self.line = look.text / 72 * 1.5
        self.margin = width_of("Rest days ", look.small) / DPI + look.text / 72 * 1.4

    def axes(self, top: float, height: float) -> Axes:
        """A row of the chart, `top` inches below the box's upper edge."""
        paper_width, paper_height = self.figure.get_size_inches()
        made = self.figure.add_axes(
            (
                (self.left + self.margin) / paper_width,
                (self.bottom + self.height - top - height) / paper_height,
                (self.width - self.margin - self.look.text / 72) / paper_width,
                height / paper_height,
            )
        )
        made.set_xlim(-0.5, self.last + 0.6)
        made.tick_params(labelsize=self.look.small, length=0)
        made.set_xticks([])
        for name in ("top", "right", "bottom", "left"):
            made.spines[name].set_linewidth(0.6)
            made.spines[name].set_color(marks.MIDDLE)
        for week in range(1, self.last // _WEEK + 1):
            made.axvline((week - 1) * _WEEK + 0.5, color=marks.LIGHT, linewidth=0.6, zorder=0)
        return made

    def pixels_a_day(self, axes: Axes) -> float:
        """How wide a day is."""
        return float(axes.get_window_extent().width) / (self.last + 1.1)

    def named(self, axes: Axes, name: str) -> None:
        """The row's name, left of it."""
        axes.set_yticks([])
        axes.set_ylim(0, 1)
        write(axes, -0.012, 0.5, name, self.look.small, right=True, transform=axes.transAxes, vertical="center")

    def label(self, axes: Axes, words: Sequence[str]) -> None:
        """The first of the words that the axis is tall enough for, along it."""
        tall = float(axes.get_window_extent().height)
        fits = [text for text in words if width_of(text, self.look.text) < tall]
        axes.set_ylabel(fits[0] if fits else "", fontsize=self.look.text)

    def block(self, axes: Axes, first: int, last: int, mark: marks.Mark, words: Sequence[str]) -> None:
        """A hatched block with the longest of the words that has room, on a plain ground so that it can be read."""
        axes.add_patch(
            Rectangle(
                (first - 0.5, 0.04), last - first + 1, 0.92,
                facecolor=mark.face, edgecolor=marks.DARK, hatch=mark.hatch, linewidth=0.7,
            )
        )  # fmt: skip
        for text in words:
            if self.has_room(text, last - first + 1, self.day_width()):
                label = write(axes, (first + last) / 2, 0.48, text, self.look.small, middle=True, vertical="center")
                label.set_linespacing(0.95)
                if mark.hatch:
                    label.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.2})
                return

    def shade(self, axes: Axes) -> None:
        """Days without doses, lightly, so that the eye finds them in every row."""
        for first, last, _ in runs(self.days, _block):
            axes.axvspan(first - 0.5, last + 0.5, color=marks.SHADE, zorder=0.1, linewidth=0)

    # -- the rows

    def draw(self) -> None:
        """All rows, the weeks below them, and the key."""
        key = self.key()
        key_lines = -(-len(key) // self.key_columns(key)) if key else 0
        strips = self.strips()
        row = self.line * 1.12
        steps_row = self.line * 1.9
        bottom = self.line * 2.4 + key_lines * self.line * 1.05 + self.line * 0.3
        gap = self.line * 0.28
        room = self.height - bottom - (len(strips) + 1) * (row + gap) - steps_row - 4 * gap
        pain_height, walk_height = room * 0.66, room * 0.34
        top = 0.0
        phase = self.axes(top, row)
        self.phases(phase)
        top += row + gap
        pain = self.axes(top, pain_height)
        self.pain(pain)
        top += pain_height + gap
        for draw in strips:
            strip = self.axes(top, row)
            draw(strip)
            top += row + gap
        walk = self.axes(top, walk_height)
        self.walking(walk)
        top += walk_height + gap
        raises = self.axes(top, steps_row)
        self.raises(raises)
        top += steps_row
        self.weeks(raises)
        self.legend(key, top + self.line * 2.4)

    def strips(self) -> list[Callable[[Axes], None]]:
        """The rows between pain and walking: only those in which something happened."""
        found: list[Callable[[Axes], None]] = [self.decisions]
        if any(day.decision is not None and day.decision.flare is not None for day in self.days):
            found.insert(0, self.flares)
        if self.history.flags:
            found.append(self.red_flags)
        if any(_unanswered(day) for day in self.days):
            found.append(self.unanswered)
        return found

    def phases(self, axes: Axes) -> None:
        self.named(axes, wording.ROW_PHASE)
        for first, last, mark in runs(self.days, _phase):
            self.block(axes, first, last, mark, (mark.word, mark.letter))

    def pain(self, axes: Axes) -> None:
        look = self.look
        dot = _dot(look, self.pixels_a_day(axes))
        axes.set_ylim(-0.6, 10.6)
        axes.set_yticks(range(0, 11, 2))
        axes.set_yticks(range(1, 10, 2), minor=True)
        axes.tick_params(which="minor", length=0)
        axes.grid(axis="y", which="both", color=marks.LIGHT, linewidth=0.5)
        axes.set_axisbelow(True)
        self.label(axes, (wording.AXIS_PAIN, wording.AXIS_PAIN_SHORT))
        self.shade(axes)
        for week, found in programme_weeks(self.days):
            if found.median is not None:
                first = (week - 1) * _WEEK + 1
                axes.plot(
                    [first - 0.4, min(first + _WEEK - 1, self.days[-1].number) + 0.4], [found.median] * 2,
                    color=marks.BAND, linewidth=look.dot * 2.1, solid_capstyle="butt", zorder=2,
                )  # fmt: skip
        whole = [day for day in self.days if day.pain is not None]
        for first, last, _ in runs(whole, lambda day: True):
            stretch = [day for day in whole if first <= day.number <= last]
            axes.plot(
                [day.number for day in stretch], [day.pain or 0 for day in stretch],
                color=marks.INK, linewidth=look.line * 0.4, zorder=3,
            )  # fmt: skip
        flared = [day for day in whole if day.decision is not None and day.decision.flare is not None]
        calm = [day for day in whole if day not in flared]
        dots: dict[str, Any] = {"linestyle": "none", "markeredgecolor": marks.INK, "zorder": 4, "clip_on": False}
        axes.plot(
            [day.number for day in calm], [day.pain or 0 for day in calm],
            marker="o", markersize=dot, markerfacecolor=marks.INK, **dots,
        )  # fmt: skip
        axes.plot(
            [day.number for day in flared], [day.pain or 0 for day in flared],
            marker="v", markersize=dot * 2, markerfacecolor=marks.INK, **dots,
        )  # fmt: skip
        part = [day for day in self.days if day.pain is None and day.given_pain is not None]
        axes.plot(
            [day.number for day in part], [day.given_pain or 0 for day in part],
            marker="o", markersize=dot, markerfacecolor=marks.PAPER, **dots,
        )  # fmt: skip
        if self.history.enrolled_pain is not None:
            axes.plot(
                [0], [self.history.enrolled_pain],
                marker="D", markersize=look.dot, markerfacecolor=marks.PAPER, **dots,
            )  # fmt: skip

    def flares(self, axes: Axes) -> None:
        self.named(axes, wording.ROW_FLARES)
        room = self.look.small / 72 * DPI * 0.95
        taken = -1000.0
        for day in self.days:
            if day.decision is None or day.decision.flare is None:
                continue
            letter = marks.CAUSE[day.decision.flare.cause].letter
            place = day.number * self.pixels_a_day(axes)
            if place - taken >= room:
                taken = place
                write(axes, day.number, 0.47, letter, self.look.small, bold=True, middle=True, vertical="center")
            else:
                axes.plot([day.number], [0.5], marker="v", color=marks.INK, markersize=self.look.dot * 0.6)

    def decisions(self, axes: Axes) -> None:
        self.named(axes, wording.ROW_DAYS)
        for first, last, _ in runs(self.days, lambda day: None if day.decision is None else True):
            axes.plot(
                [first - 0.5, last + 0.5], [0.5, 0.5], color=marks.MIDDLE, linewidth=self.look.line * 0.5, zorder=1
            )
        for first, last, decision in runs(self.days, _block):
            mark = marks.DECISION[decision]
            self.block(axes, first, last, mark, (mark.word, mark.letter))
        for decision in (Decision.PROGRESS, Decision.RESUME):
            marked = [day for day in self.days if day.decision is not None and day.decision.decision is decision]
            axes.plot(
                [day.number for day in marked], [0.5] * len(marked),
                marker=marks.DECISION[decision].marker, linestyle="none", color=marks.INK,
                markersize=self.look.dot * 1.15, zorder=3,
            )  # fmt: skip

    def red_flags(self, axes: Axes) -> None:
        self.named(axes, wording.ROW_FLAGS)
        size, end = self.look.small, self.days[-1].number + 0.5
        step = self.pixels_a_day(axes)
        space = size / step
        free_from = 0.0
        groups = self.flag_groups(end)
        for at, (first, last, flags) in enumerate(groups):
            axes.plot([first, last], [0.5, 0.5], color=marks.INK, linewidth=self.look.line * 2, zorder=2)
            opened = sorted({self.number_of(each) for each in flags})
            axes.plot(
                opened, [0.5] * len(opened),
                marker="D", linestyle="none", color=marks.INK, markersize=self.look.dot * 1.25, zorder=3,
            )  # fmt: skip
            following = groups[at + 1][0] if at + 1 < len(groups) else self.last + 0.6
            taken = last + space
            for words in wording.flag_group(flags):
                width = width_of(words, size) / step + space
                if last + space + width <= following - space:
                    write(axes, last + space, 0.47, words, size, vertical="center")
                    taken = last + space + width
                    break
                if first - space - width >= free_from:
                    write(axes, first - 1.2 * space, 0.47, words, size, right=True, vertical="center")
                    break
            free_from = taken

    def number_of(self, flag: Flag) -> int:
        """The day on which a flag opened, by number; before day 1 it counts as day 1."""
        start = self.history.start
        return 1 if start is None else max(1, (flag.opened - start).days + 1)

    def flag_groups(self, end: float) -> list[tuple[float, float, list[Flag]]]:
        """Flags that were open together, as one stretch of days."""
        found: list[tuple[float, float, list[Flag]]] = []
        for flag in sorted(self.history.flags, key=self.number_of):
            first: float = min(self.number_of(flag), end)
            days = None if flag.cleared is None else (flag.cleared - flag.opened).days
            last: float = end if days is None else min(end, first + days)
            if found and first <= found[-1][1]:
                begun, until, group = found[-1]
                found[-1] = (begun, max(until, last), [*group, flag])
            else:
                found.append((first, last, [flag]))
        return found

    def unanswered(self, axes: Axes) -> None:
        self.named(axes, wording.ROW_UNANSWERED)
        for first, last, _ in runs(self.days, lambda day: _unanswered(day) or None):
            axes.add_patch(
                Rectangle(
                    (first - 0.5, 0.25),
                    last - first + 1,
                    0.5,
                    facecolor=marks.DARK,
                    edgecolor=marks.DARK,
                    linewidth=0.4,
                )
            )

    def walking(self, axes: Axes) -> None:
        look = self.look
        self.shade(axes)
        decided = [day for day in self.days if day.decision is not None]
        doses = [day.decision.doses.walk for day in decided if day.decision is not None]
        walked = [(day.number, day.walked) for day in self.days if day.walked]
        most = max([5, *doses])
        top = max(most * 1.35, min(max((minutes for _, minutes in walked), default=0) * 1.15, most * 2.2))
        axes.bar(
            [number for number, _ in walked], [min(minutes, top) for _, minutes in walked],
            width=0.8, color=marks.MIDDLE, linewidth=0, zorder=2,
        )  # fmt: skip
        for first, last, _ in runs(decided, lambda day: True):
            stretch = [day for day in decided if first <= day.number <= last]
            places = [day.number - 0.5 for day in stretch] + [last + 0.5]
            values = [day.decision.doses.walk for day in stretch if day.decision is not None]
            axes.plot(
                places, [*values, values[-1]], color=marks.INK, linewidth=look.line, drawstyle="steps-post", zorder=3
            )
        axes.set_ylim(0, top)
        taken = -1000.0
        for number, minutes in walked:
            if minutes <= top:
                continue
            text = f"{minutes:.0f}"
            width = width_of(text, look.small)
            place = number * self.pixels_a_day(axes)
            if place - taken > width * 1.3:
                taken = place
                label = write(axes, number, top * 0.97, text, look.small, middle=True, vertical="top")
                label.set_bbox({"facecolor": "white", "edgecolor": marks.DARK, "pad": 1.0, "linewidth": 0.5})
                label.set_zorder(5)
        self.label(axes, (wording.AXIS_WALK, wording.AXIS_MINUTES))
        axes.yaxis.set_major_locator(MaxNLocator(nbins=4, integer=True))

    def raises(self, axes: Axes) -> None:
        self.named(axes, wording.ROW_RAISES)
        for first, last, step in runs(self.days, _step):
            words, number = marks.STEP[step]
            self.block(axes, first, last, marks.Mark(word=words), (words, number))

    def weeks(self, axes: Axes) -> None:
        """The weeks' numbers and dates below the lowest row, as many as have room."""
        size = self.look.small
        step_pixels = self.pixels_a_day(axes) * _WEEK
        widest = max(width_of(text, size) for text in ("week 24", "28 Mar")) + size * 0.9
        every = next((each for each in _WEEK_STEPS if each * step_pixels >= widest), _WEEK_STEPS[-1])
        for week in range(1, self.last // _WEEK + 1, every):
            number = (week - 1) * _WEEK + 1
            text = f"week {week}"
            if self.history.start is not None:
                text += "\n" + wording.short_date(self.history.start + timedelta(days=number - 1))
            place = axes.transAxes.inverted().transform(axes.transData.transform((number - 0.5, 0)))[0]
            if place + width_of(text, size) / axes.get_window_extent().width > 1.02:
                continue
            # In points below the axis, whatever the row's height.
            axes.annotate(
                text, (place, 0), xycoords="axes fraction", xytext=(0, -size * 0.35), textcoords="offset points",
                fontsize=size, fontfamily="DejaVu Sans", ha="left", va="top", linespacing=1.05,
            )  # fmt: skip

    # -- the key

    def key(self) -> list[tuple[object, str]]:
        """A mark and its words for all that is in this chart."""
        look = self.look
        found: list[tuple[object, str]] = []

        def point(marker: str, words: str, *, filled: bool = True, scale: float = 1.0) -> None:
            found.append(
                (
                    Line2D(
                        [], [], linestyle="none", marker=marker, markersize=look.dot * scale,
                        markerfacecolor=marks.INK if filled else marks.PAPER, markeredgecolor=marks.INK,
                    ),
                    words,
                )
            )  # fmt: skip

        def line(words: str, *, color: str, width: float) -> None:
            found.append((Line2D([], [], color=color, linewidth=width, solid_capstyle="butt"), words))

        point("o", wording.KEY_FIRST_STEPS)
        if any(day.pain is not None for day in self.days):
            line(wording.KEY_MEDIAN, color=marks.BAND, width=look.dot * 1.6)
        if any(day.pain is None and day.given_pain is not None for day in self.days):
            point("o", wording.KEY_PART, filled=False)
        if self.history.enrolled_pain is not None:
            point("D", wording.KEY_ENROLMENT, filled=False)
        causes = {day.decision.flare.cause for day in self.days if day.decision is not None and day.decision.flare}
        if causes:
            point("v", wording.KEY_FLARE, scale=1.5)
        if self.days:
            line(wording.KEY_DOSE, color=marks.INK, width=look.line)
            found.append((Patch(facecolor=marks.MIDDLE, linewidth=0), wording.KEY_WALKED))
        seen = {day.decision.decision for day in self.days if day.decision is not None}
        for decision, mark in marks.DECISION.items():
            if decision not in seen:
                continue
            if decision in _BLOCKS:
                patch = Patch(facecolor=mark.face, edgecolor=marks.DARK, hatch=mark.hatch, linewidth=0.7)
                found.append((patch, f"{mark.word} ({mark.letter})"))
            elif decision is Decision.HOLD:
                line(mark.word, color=marks.MIDDLE, width=look.line * 0.5)
            else:
                point(mark.marker, mark.word, scale=1.15)
        if self.history.flags:
            point("D", wording.KEY_FLAG, scale=1.25)
        for cause, mark in marks.CAUSE.items():
            if cause in causes:
                found.append((mark.letter, wording.key_cause(mark.word)))
        width = self.day_width()
        for mark in marks.PHASE.values():
            if any(each is mark and not self.has_room(mark.word, last - first + 1, width)
                   for first, last, each in runs(self.days, _phase)):  # fmt: skip
                patch = Patch(facecolor=mark.face, edgecolor=marks.DARK, hatch=mark.hatch, linewidth=0.7)
                found.append((patch, mark.word))
        for step, (words, number) in marks.STEP.items():
            if any(each is step and not self.has_room(words, last - first + 1, width)
                   for first, last, each in runs(self.days, _step)):  # fmt: skip
                found.append((number, str(step)))
        return found

    def day_width(self) -> float:
        """How wide a day will be, in pixels."""
        return (self.width - self.margin - self.look.text / 72) * DPI / (self.last + 1.1)

    def has_room(self, text: str, days: int, day_width: float) -> bool:
        """Whether a block of so many days has room for the text."""
        return width_of(text, self.look.small) + self.look.small * 0.9 <= days * day_width

    def key_columns(self, key: Sequence[tuple[object, str]]) -> int:
        """Columns of the key that have room."""
        handle = self.look.small / 72 * DPI * 2.6
        widest = max((width_of(words, self.look.small) for _, words in key), default=1) + handle
        return max(1, min(6, int(self.width * DPI // widest)))

    def legend(self, key: Sequence[tuple[object, str]], top: float) -> None:
        """The key, in columns, below the weeks."""
        columns = self.key_columns(key)
        rows = -(-len(key) // columns)
        size = self.look.small
        paper_width, paper_height = self.figure.get_size_inches()
        em = size / 72
        for at, (handle, words) in enumerate(key):
            column, row = divmod(at, rows)
            x = self.left + 0.5 * em + column * (self.width / columns)
            y = self.bottom + self.height - top - (row + 0.6) * self.line * 1.05
            self.handle(handle, x, y, em)
            write(self.figure, (x + 2.0 * em) / paper_width, y / paper_height, words, size, vertical="center")

    def handle(self, handle: object, x: float, y: float, em: float) -> None:
        paper_width, paper_height = self.figure.get_size_inches()
        if isinstance(handle, str):
            write(self.figure, (x + 0.75 * em) / paper_width, y / paper_height, handle, self.look.small, bold=True,
                  middle=True, vertical="center")  # fmt: skip
        elif isinstance(handle, Patch):
            self.figure.add_artist(
                Rectangle(
                    (x / paper_width, (y - 0.42 * em) / paper_height), 1.5 * em / paper_width, 0.84 * em / paper_height,
                    transform=self.figure.transFigure, facecolor=handle.get_facecolor(),
                    edgecolor=handle.get_edgecolor(), hatch=handle.get_hatch(), linewidth=handle.get_linewidth(),
                )
            )  # fmt: skip
        elif isinstance(handle, Line2D):
            point = handle.get_linestyle() == "None"
            places = [x + 0.75 * em] if point else [x, x + 1.5 * em]
            handle.set_data([place / paper_width for place in places], [y / paper_height] * len(places))
            handle.set_transform(self.figure.transFigure)
            self.figure.add_artist(handle)


def draw_chart(figure: Figure, box: tuple[float, float, float, float], history: History, look: Look) -> None:
    """The clinician's chart in a box of the figure: left, bottom, width and height in inches."""
    if history.days:
        _Chart(figure, box, history, look).draw()
        return
    paper_width, paper_height = figure.get_size_inches()
    left, bottom, width, height = box
    write(
        figure, (left + width / 2) / paper_width, (bottom + height / 2) / paper_height,
        wording.nothing_to_draw(history), look.text, middle=True, vertical="center",
    )  # fmt: skip


def clinician_chart(history: History) -> bytes:
    """The clinician's chart of one patient as a PNG, 1,080 x 1,440 pixels."""
    return png(clinician_figure(history))


def patient_picture(history: History) -> bytes:
    """The patient's own picture as a PNG, 1,080 x 1,260 pixels."""
    return png(patient_figure(history))


def clinician_figure(history: History) -> Figure:
    """The clinician's chart: all rows and the key, under alias, foot and dates."""
    look = PHONE
    figure = new_figure(PHONE_WIDTH, CHART_HEIGHT)
    room = (PHONE_WIDTH - 0.4) * DPI
    weeks = wording.chart_weeks(history)
    room_for_name = room - width_of(weeks, look.title, bold=True)
    title = shortened(drawable(wording.shown_alias(history.alias)), look.title, room_for_name, bold=True) + weeks
    write(figure, 0.2 / PHONE_WIDTH, 1 - 0.38 / CHART_HEIGHT, title, look.title, bold=True)
    below = wording.chart_subtitle(history)
    write(
        figure, 0.2 / PHONE_WIDTH, 1 - 0.68 / CHART_HEIGHT,
        shortened(below, look.text, room), look.text, grey=marks.DARK,
    )  # fmt: skip
    draw_chart(figure, (0.12, 0.1, PHONE_WIDTH - 0.22, CHART_HEIGHT - 0.98), history, look)
    return figure


def patient_figure(history: History) -> Figure:
    """The patient's own picture: each day's first steps and each week's middle, under what it shows in plain words."""
    look = PHONE
    figure = new_figure(PHONE_WIDTH, PICTURE_HEIGHT)
    room = (PHONE_WIDTH - 0.5) * DPI
    y = PICTURE_HEIGHT - 0.45
    for line in wrapped(drawable(wording.picture_headline(history)), look.title, room, bold=True):
        write(figure, 0.25 / PHONE_WIDTH, y / PICTURE_HEIGHT, line, look.title, bold=True)
        y -= look.title / 72 * 1.35
    caution = wrapped(drawable(wording.picture_caution(history)), look.text, room)
    line_height = look.text / 72 * 1.45
    foot = 0.22 + line_height * len(caution)
    for at, line in enumerate(caution):
        write(figure, 0.25 / PHONE_WIDTH, (foot - (at + 0.75) * line_height) / PICTURE_HEIGHT, line, look.text)
    if any(day.given_pain is not None for day in history.days):
        _draw_picture(figure, history, look, bottom=foot + 1.35, top=y - 0.05)
    else:
        write(
            figure, 0.5, (foot + y) / 2 / PICTURE_HEIGHT, wording.PICTURE_EMPTY, look.text, middle=True,
            vertical="center",
        )  # fmt: skip
    return figure


def _draw_picture(figure: Figure, history: History, look: Look, *, bottom: float, top: float) -> None:
    days = history.days
    last = max(_LEAST_DAYS, week_of(days[-1].number) * _WEEK)
    left = 0.85
    axes = figure.add_axes(
        (
            left / PHONE_WIDTH,
            bottom / PICTURE_HEIGHT,
            (PHONE_WIDTH - left - 0.25) / PHONE_WIDTH,
            (top - bottom) / PICTURE_HEIGHT,
        )
    )
    axes.set_xlim(0.3, last + 0.7)
    axes.set_ylim(-0.6, 10.6)
    axes.set_yticks(range(11))
    axes.tick_params(labelsize=look.text, length=0)
    axes.grid(axis="y", color=marks.LIGHT, linewidth=0.7)
    axes.set_axisbelow(True)
    for name in ("top", "right", "left", "bottom"):
        axes.spines[name].set_visible(False)
    axes.set_ylabel(wording.PICTURE_AXIS, fontsize=look.text)
    pixels = float(axes.get_window_extent().width) / (last + 0.4)
    given = [day for day in days if day.given_pain is not None]
    axes.plot(
        [day.number for day in given], [day.given_pain or 0 for day in given],
        linestyle="none", marker="o", markersize=_dot(look, pixels), color=marks.INK, clip_on=False, zorder=4,
    )  # fmt: skip
    for week, found in programme_weeks(days):
        if found.median is None:
            continue
        first = (week - 1) * _WEEK + 1
        end = min(first + _WEEK - 1, days[-1].number)
        axes.plot(
            [first - 0.35, end + 0.35], [found.median] * 2,
            color=marks.BAND, linewidth=look.dot * 2.4, solid_capstyle="butt", zorder=3,
        )  # fmt: skip
    widest = width_of("week 24", look.text) + look.text
    every = next((each for each in _WEEK_STEPS if each * _WEEK * pixels >= widest), _WEEK_STEPS[-1])
    weeks = list(range(1, last // _WEEK + 1, every))
    axes.set_xticks([(week - 1) * _WEEK + 4 for week in weeks], [f"week {week}" for week in weeks])
    for week in range(1, last // _WEEK + 2):
        axes.axvline((week - 1) * _WEEK + 0.5, color=marks.LIGHT, linewidth=0.7, zorder=0)
    y = (bottom - 0.68) / PICTURE_HEIGHT
    figure.add_artist(
        Line2D(
            [0.12], [y], linestyle="none", marker="o", markersize=look.dot, color=marks.INK,
            transform=figure.transFigure,
        )
    )  # fmt: skip
    write(figure, 0.16, y, wording.PICTURE_KEY_DAY, look.text, vertical="center")
    y -= look.text / 72 * 1.6 / PICTURE_HEIGHT
    figure.add_artist(
        Line2D([0.1, 0.14], [y, y], color=marks.BAND, linewidth=look.dot * 2.4, transform=figure.transFigure)
    )
    write(figure, 0.16, y, wording.PICTURE_KEY_WEEK, look.text, vertical="center")
