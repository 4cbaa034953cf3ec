"""Figures, measured text and files with matplotlib, without pyplot: nothing here is shared between two pictures."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import matplotlib
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.ft2font import FT2Font
from matplotlib.text import Text

# Letters in a PDF stay letters: type 42 fonts can be searched and copied.
matplotlib.rcParams["pdf.fonttype"] = 42
matplotlib.rcParams["hatch.linewidth"] = 0.6

FONT = "DejaVu Sans"
"""Comes with matplotlib, so that a picture is the same on every machine."""
DPI = 150
ELLIPSIS = "…"


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """Sizes in points, for one kind of paper."""

    title: float
    text: float
    small: float
    dot: float
    line: float


PHONE = Look(title=18, text=13, small=11.5, dot=6, line=2.0)
"""1,080 px wide at 150 dpi: 11.5 points are 24 px, which a phone shows as about 9 points."""
PAGE = Look(title=12, text=8, small=7, dot=3, line=1.1)


def new_figure(width: float, height: float) -> Figure:
    """A white figure of so many inches."""
    figure = Figure(figsize=(width, height), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


@cache
def _known_letters() -> frozenset[int]:
    path = font_manager.findfont(FontProperties(family=FONT))
    return frozenset(FT2Font(path).get_charmap())


def drawable(text: str) -> str:
    """The text without letters that the font cannot draw (a box instead) and without control characters."""
    known = _known_letters()
    return "".join(
        each if each == "\n" or ord(each) in known else "\u25a1" for each in text if each == "\n" or each.isprintable()
    )


@cache
def _ruler() -> RendererAgg:
    return RendererAgg(8, 8, DPI)  # type: ignore[no-untyped-call]


@lru_cache(maxsize=8192)
def _line_width(line: str, size: float, bold: bool) -> float:
    font = FontProperties(family=FONT, size=size, weight="bold" if bold else "normal")
    size_of = _ruler().get_text_width_height_descent(line, font, ismath=False)  # type: ignore[no-untyped-call]
    return float(size_of[0])


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Width in pixels at 150 dots an inch, of the widest line."""
    return max((_line_width(line, size, bold) for line in text.splitlines()), default=0.0)


def shortened(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """The text, cut with an ellipsis so that it is at most `room` pixels wide."""
    if width_of(text, size, bold=bold) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(text[:middle].rstrip() + ELLIPSIS, size, bold=bold) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + ELLIPSIS


def wrapped(text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
    """The text in lines of at most `room` pixels; a word that is longer than a line is cut."""
    blank = width_of("a b", size, bold=bold) - width_of("ab", size, bold=bold)
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line: list[str] = []
        taken = 0.0
        for word in paragraph.split(" "):
            width = width_of(word, size, bold=bold)
            if line and taken + blank + width > room:
                lines.append(" ".join(line))
                line, taken = [], 0.0
            if width > room:
                word, width = shortened(word, size, room, bold=bold), room
            taken += width + (blank if line else 0.0)
            line.append(word)
        lines.append(" ".join(line))
    return lines


def write(
    at: Figure | Axes, x: float, y: float, text: str, size: float, *, bold: bool = False, middle: bool = False,
    right: bool = False, transform: object = None, grey: str = "#000000", vertical: str = "baseline",
) -> Text:  # fmt: skip
    """A text that is never read as mathematics, whatever a name has in it."""
    more: dict[str, Any] = {} if transform is None else {"transform": transform}
    return at.text(
        x,
        y,
        drawable(text),
        fontsize=size,
        fontfamily=FONT,
        fontweight="bold" if bold else "normal",
        ha="center" if middle else "right" if right else "left",
        va=vertical,
        color=grey,
        parse_math=False,
        **more,
    )


def png(figure: Figure) -> bytes:
    """The figure as a PNG file, the same bytes for the same figure."""
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=DPI, metadata={"Software": "heel-checkin"})
    return buffer.getvalue()
