"""The digest as a PDF: the overview first, then a page for each patient. The same data give the same bytes."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from bot.digest import marks, wording
from bot.digest.attention import Line
from bot.digest.charts import draw_chart
from bot.digest.outlook import outlook
from bot.digest.paper import DPI, PAGE, drawable, new_figure, shortened, width_of, wrapped, write
from bot.digest.values import Flag

WIDTH, HEIGHT = 8.27, 11.69
"""A4, in inches."""
_MARGIN = 0.55
_LOWEST_CHART, _HIGHEST_CHART = 3.7, 5.6
_MOST_LINES = 7
"""Lines of changes and of actions on a patient's page; the rest are counted."""
_OVERVIEW_WIDTHS = (0.16, 0.065, 0.12, 0.05, 0.05, 0.055, 0.165, 0.085, 0.1, 0.07, 0.08)
_WEEK_WIDTHS = (0.115, 0.105, 0.115, 0.07, 0.085, 0.09, 0.29, 0.13)


class _Page:
    """A sheet that is written from top to bottom."""

    def __init__(self, pages: PdfPages, place: str) -> None:
        self.pages = pages
        self.figure: Figure = new_figure(WIDTH, HEIGHT)
        self.y = HEIGHT - _MARGIN
        self.room = (WIDTH - 2 * _MARGIN) * DPI
        self.line = PAGE.text / 72 * 1.42
        write(self.figure, _MARGIN / WIDTH, 0.32 / HEIGHT, wording.PDF_FOOT, PAGE.small, grey=marks.DARK)
        room = self.room - width_of(wording.PDF_FOOT, PAGE.small) - 20
        cut = shortened(drawable(place), PAGE.small, room)
        write(self.figure, 1 - _MARGIN / WIDTH, 0.32 / HEIGHT, cut, PAGE.small, right=True, grey=marks.DARK)

    @property
    def left(self) -> float:
        """Inches that are left above the foot."""
        return self.y - 0.55

    def heading(self, text: str) -> None:
        self.y -= PAGE.title / 72
        cut = shortened(drawable(text), PAGE.title, self.room, bold=True)
        write(self.figure, _MARGIN / WIDTH, self.y / HEIGHT, cut, PAGE.title, bold=True)
        self.y -= 0.07

    def subheading(self, text: str) -> None:
        self.y -= self.line * 1.35
        write(self.figure, _MARGIN / WIDTH, self.y / HEIGHT, text, PAGE.text, bold=True)
        self.y -= 0.02

    def lines_of(self, text: str, indent: float = 0.0) -> list[str]:
        return wrapped(drawable(text), PAGE.text, self.room - indent * DPI)

    def text(self, text: str, indent: float = 0.0) -> None:
        for line in self.lines_of(text, indent):
            self.y -= self.line
            write(self.figure, (_MARGIN + indent) / WIDTH, self.y / HEIGHT, line, PAGE.text)

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[str]], widths: Sequence[float]) -> None:
        self.row(heads, widths, bold=True)
        self.rule()
        for row in rows:
            self.row(row, widths)

    def row(self, cells: Sequence[str], widths: Sequence[float], *, bold: bool = False) -> None:
        self.y -= self.line * 1.12
        x = 0.0
        for cell, width in zip(cells, widths, strict=True):
            room = width * self.room - PAGE.text * 0.8
            cut = shortened(drawable(cell), PAGE.text, room, bold=bold)
            write(self.figure, (_MARGIN + x * self.room / DPI) / WIDTH, self.y / HEIGHT, cut, PAGE.text, bold=bold)
            x += width

    def rule(self) -> None:
        y = (self.y - 0.045) / HEIGHT
        self.figure.add_artist(
            Line2D(
                [_MARGIN / WIDTH, 1 - _MARGIN / WIDTH], [y, y],
                color=marks.DARK, linewidth=0.6, transform=self.figure.transFigure,
            )
        )  # fmt: skip
        self.y -= 0.05

    def done(self) -> None:
        self.pages.savefig(self.figure)  # type: ignore[no-untyped-call]


def digest_pdf(lines: Sequence[Line], *, clinician: str, until: date) -> bytes:
    """The digest of the week that ends with `until`: the overview, then a page a patient in the order of the lines."""
    buffer = io.BytesIO()
    metadata = {
        "Title": wording.pdf_heading(clinician, until),
        "Creator": "heel-checkin",
        "Producer": None,
        # Of the week and not of the clock, so that the same data give the same file.
        "CreationDate": datetime(until.year, until.month, until.day, tzinfo=UTC),
    }
    with PdfPages(buffer, metadata=metadata) as pages:
        _overview(pages, lines, clinician, until)
        for line in lines:
            _patient(pages, line, until)
    return buffer.getvalue()


def _overview(pages: PdfPages, lines: Sequence[Line], clinician: str, until: date) -> None:
    number = 1
    page = _Page(pages, wording.overview_place(number))
    page.heading(wording.pdf_heading(clinician, until))
    page.text(wording.head(until, lines))

    def turn() -> _Page:
        nonlocal number
        page.done()
        number += 1
        return _Page(pages, wording.overview_place(number))

    if not lines:
        page.done()
        return
    needing = [line for line in lines if line.needs]
    page.subheading(wording.PDF_NEEDS)
    if not needing:
        page.text(wording.PDF_FINE)
    for place, line in enumerate(needing, 1):
        told = wording.needs_line(place, line)
        if page.left < len(page.lines_of(told)) * page.line:
            page = turn()
        page.text(told)
    if page.left < page.line * 5:
        page = turn()
    page.subheading(wording.PDF_ALL)
    page.row(wording.OVERVIEW_HEADS, _OVERVIEW_WIDTHS, bold=True)
    page.rule()
    for line in lines:
        if page.left < page.line * 1.3:
            page = turn()
            page.row(wording.OVERVIEW_HEADS, _OVERVIEW_WIDTHS, bold=True)
            page.rule()
        page.row(wording.overview_row(line), _OVERVIEW_WIDTHS)
    notes = page.lines_of(wording.PDF_TABLE_NOTE)
    if page.left < (len(notes) + 1) * page.line:
        page = turn()
    page.y -= 0.06
    page.text(wording.PDF_TABLE_NOTE)
    page.done()


@dataclass(frozen=True, kw_only=True, slots=True)
class _Section:
    """A heading and its lines; `most`: lines beyond that are counted instead of shown."""

    title: str
    told: tuple[str, ...]
    most: int = 99


def _patient(pages: PdfPages, line: Line, until: date) -> None:
    history, figures = line.history, line.figures
    page = _Page(pages, wording.shown_alias(history.alias))
    page.heading(wording.shown_alias(history.alias) + wording.chart_weeks(history))
    page.text(wording.patient_subtitle(history, figures))
    for each in line.needs:
        page.text(f"- {wording.need(each)}")
    page.y -= 0.14
    summary = (
        [f"{wording.first_steps(history, figures)}. {wording.trend(figures.trend)}", wording.adherence_in_full(figures)]
        if history.days
        else []
    )
    sections = _sections(line, until)
    week = history.days[-7:]
    needed = _height(page, summary, sections) + (len(week) + 1.5) * page.line * 1.12 + 0.25
    # The chart takes what the words leave, never so little that it cannot be read.
    chart = min(_HIGHEST_CHART, max(_LOWEST_CHART, page.left - needed)) if history.days else 0.8
    draw_chart(page.figure, (_MARGIN - 0.1, page.y - chart, WIDTH - 2 * _MARGIN + 0.2, chart), history, PAGE)
    page.y -= chart
    if week:
        page.table(wording.WEEK_HEADS, [wording.week_row(day) for day in week], _WEEK_WIDTHS)
        page.y -= 0.04
    for each_text in summary:
        page.text(each_text)
    for at, section in enumerate(sections):
        # Each later section keeps room for its heading and two lines, as far as it needs them.
        spare = sum(min(_height(page, [], [later]), page.line * 3.4) for later in sections[at + 1 :])
        _write_section(page, section, spare=spare)
    page.done()


def _sections(line: Line, until: date) -> list[_Section]:
    history, figures = line.history, line.figures
    found: list[_Section] = []
    last = next((day for day in reversed(history.days) if day.decision is not None), None)
    if last is not None:
        found.append(_Section(title=wording.PDF_REASONS, told=(wording.last_decision(last),)))
        ahead = tuple(wording.next_step(each, until + timedelta(days=1)) for each in outlook(history))
        found.append(_Section(title=wording.PDF_NEXT, told=ahead or (wording.NEXT_UNKNOWN,)))
    changes = (
        *(wording.dose_change(each) for each in figures.dose_changes),
        *(wording.flare_line(each) for each in figures.flares),
    )
    flags = (
        *(wording.flag(each, words=True) for each in _flags_told(line)),
        *(wording.notice(day, each) for day, each in figures.notices),
    )
    actions = tuple(wording.action(each) for each in history.actions if each.kind != "notice")
    found.append(_Section(title=wording.PDF_FLAGS, told=flags, most=16))
    found.append(_Section(title=wording.PDF_CHANGES, told=changes, most=_MOST_LINES))
    found.append(_Section(title=wording.PDF_ACTIONS, told=actions, most=_MOST_LINES))
    return found


def _flags_told(line: Line) -> list[Flag]:
    """Open flags first, then what was opened or cleared this week."""
    week = [
        each for each in line.history.flags if each in line.figures.flags_opened or each in line.figures.flags_cleared
    ]
    return [*line.history.open_flags, *(each for each in week if not each.open)]


def _height(page: _Page, summary: Sequence[str], sections: Sequence[_Section]) -> float:
    """Inches that the words will take."""
    lines = sum(len(page.lines_of(each)) for each in summary)
    heads = 0
    for section in sections:
        shown = section.told[: section.most]
        heads += 1 if shown else 0
        lines += sum(len(page.lines_of(f"- {each}")) for each in shown) if shown else 1
        lines += 1 if len(section.told) > section.most else 0
    return lines * page.line + heads * (page.line * 1.35 + 0.02)


def _write_section(page: _Page, section: _Section, *, spare: float) -> None:
    """A heading and its lines, as many as have room; the rest are counted, never dropped in silence."""
    if not section.told:
        page.text(f"{section.title}: {wording.PDF_NONE}")
        return
    page.subheading(section.title)
    for at, each in enumerate(section.told):
        rest = len(section.told) - at
        needed = len(page.lines_of(f"- {each}")) * page.line + (page.line if rest > 1 else 0.0)
        if at >= section.most or page.left - spare < needed:
            page.text(wording.more_lines(rest))
            return
        page.text(f"- {each}")
