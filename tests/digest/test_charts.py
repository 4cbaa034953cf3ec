"""The charts as files and as drawn: size, greys, gaps, marks, and no label upon another."""

from __future__ import annotations

import io
from itertools import combinations, pairwise

import matplotlib.image
import numpy
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from bot.digest import marks, wording
from bot.digest.charts import clinician_chart, clinician_figure, patient_figure, patient_picture
from bot.digest.values import History
from bot.program.terms import Cause, Decision, Phase, RedFlag, Step
from tests.digest.builders import lived
from tests.digest.cases import cases

CASES = cases()
NAMES = list(CASES)


def pixels(content: bytes) -> numpy.ndarray:
    """Height x width x channels, 0-1."""
    return matplotlib.image.imread(io.BytesIO(content), format="png")


def texts(figure: Figure) -> list[Text]:
    """Every text that is seen, with its place."""
    figure.canvas.draw()
    # Labels of ticks beyond an axis's ends exist, and are never drawn.
    hidden = {
        label
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks())
        if not min(axis.get_view_interval()) <= tick.get_loc() <= max(axis.get_view_interval())
        for label in (tick.label1, tick.label2)
    }
    found = [each for each in figure.findobj(Text) if each.get_text().strip() and each.get_visible()]
    return [each for each in found if each not in hidden]


@pytest.mark.parametrize("name", NAMES)
def test_a_chart_is_1080_pixels_wide_and_grey(name: str) -> None:
    for content, size in ((clinician_chart(CASES[name]), (1440, 1080)), (patient_picture(CASES[name]), (1260, 1080))):
        image = pixels(content)
        assert image.shape[:2] == size
        assert numpy.array_equal(image[..., 0], image[..., 1])
        assert numpy.array_equal(image[..., 1], image[..., 2])
        assert image[..., 0].min() < 0.1, "there is ink on it"


def test_the_same_history_gives_the_same_bytes() -> None:
    assert clinician_chart(CASES["many flares"]) == clinician_chart(cases()["many flares"])
    assert patient_picture(CASES["many flares"]) == patient_picture(cases()["many flares"])


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("draw", [clinician_figure, patient_figure])
def test_no_label_lies_upon_another_or_leaves_the_picture(name: str, draw) -> None:  # type: ignore[no-untyped-def]
    figure = draw(CASES[name])
    found = texts(figure)
    assert found
    boxes = [(each.get_text(), each.get_window_extent()) for each in found]
    for (one, first), (other, second) in combinations(boxes, 2):
        wide = min(first.x1, second.x1) - max(first.x0, second.x0)
        high = min(first.y1, second.y1) - max(first.y0, second.y0)
        assert wide <= 1 or high <= 1, f"{one!r} lies upon {other!r}"
    for text, box in boxes:
        assert box.x0 >= 0, text
        assert box.y0 >= 0, text
        assert box.x1 <= figure.bbox.width, text
        assert box.y1 <= figure.bbox.height, text


@pytest.mark.parametrize("name", NAMES)
def test_every_letter_is_large_enough_for_a_phone(name: str) -> None:
    """A phone shows 1,080 pixels on about 390 points: 24 pixels are about 9 points (common practice, no source)."""
    for figure in (clinician_figure(CASES[name]), patient_figure(CASES[name])):
        for each in texts(figure):
            assert each.get_fontsize() * figure.dpi / 72 >= 23.9, each.get_text()


def pain_axes(figure: Figure):  # type: ignore[no-untyped-def]
    """The panel with first-step pain."""
    return next(each for each in figure.axes if "pain" in each.get_ylabel().casefold())


def dots(history: History) -> set[tuple[int, int]]:
    """The (day, score) points that are drawn, joined lines and enrolment left out."""
    axes = pain_axes(clinician_figure(history))
    return {
        (int(x), int(y))
        for line in axes.get_lines()
        if line.get_marker() in ("o", "v")
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }


def test_a_day_without_an_answer_has_no_dot_and_no_line_across_it() -> None:
    history = lived("54.45 ..3")
    assert dots(history) == {(1, 5), (2, 4), (4, 4), (5, 5), (8, 3)}
    axes = pain_axes(clinician_figure(history))
    joined = [
        list(line.get_xdata()) for line in axes.get_lines() if line.get_linewidth() < 1 and len(line.get_xdata()) > 1
    ]
    days = [stretch for stretch in joined if all(float(x).is_integer() for x in stretch)]
    assert days
    for stretch in days:
        assert all(after - before == 1 for before, after in pairwise(stretch)), stretch


@pytest.mark.parametrize("name", [each for each in NAMES if each != "nothing"])
def test_the_axis_of_pain_is_0_to_10_whatever_the_scores(name: str) -> None:
    for figure in (clinician_figure(CASES[name]), *([patient_figure(CASES[name])] if "no answer" not in name else [])):
        low, high = pain_axes(figure).get_ylim()
        assert -1 <= low <= 0
        assert 10 <= high <= 11


def words(figure: Figure) -> list[str]:
    return [each.get_text() for each in texts(figure)]


def test_phases_flares_rest_days_and_steps_are_named_in_words() -> None:
    found = words(clinician_figure(CASES["twenty-four weeks with everything"]))
    for expected in ("Phase", "reparative", "Flares", "Days", "Red flags", "No answer", "Raises", "seated\nboth"):
        assert expected in found
    assert any(each.startswith("stop") for each in found)
    assert any("unload" in each for each in found)
    assert "inflammatory" in found, "the key has what has no room in its row"


def hatches(figure: Figure) -> set[str]:
    return {each.get_hatch() for each in figure.findobj(Rectangle) if each.get_hatch()}


def test_rest_stop_and_unload_have_their_own_hatch() -> None:
    found = hatches(clinician_figure(CASES["twenty-four weeks with everything"]))
    for decision in (Decision.REST, Decision.STOP, Decision.UNLOAD):
        assert marks.DECISION[decision].hatch in found


def test_every_decision_phase_cause_and_step_has_a_mark_of_its_own() -> None:
    assert set(marks.DECISION) == set(Decision)
    assert set(marks.PHASE) == set(Phase)
    assert set(marks.CAUSE) == set(Cause)
    assert set(marks.STEP) == set(Step)
    shapes = [(each.hatch, each.marker) for each in marks.DECISION.values()]
    assert len(set(shapes)) == len(shapes), "told apart by hatch or shape"
    assert all(any(shape) for shape in shapes)
    phases = [(each.hatch, each.word) for each in marks.PHASE.values()]
    assert len({hatch for hatch, _ in phases}) == len(phases)
    assert len({each.letter for each in marks.CAUSE.values()}) == len(Cause)
    assert len({number for _, number in marks.STEP.values()}) == len(Step)
    for words_of_step, (text, _) in marks.STEP.items():
        assert text.replace("\n", " ") == str(words_of_step)


@pytest.mark.parametrize("code", list(RedFlag))
def test_every_red_flag_has_its_mark_and_word_in_the_chart(code: RedFlag) -> None:
    figure = clinician_figure(lived("5555555 5555555", flags={code: (4, 6)}))
    assert wording.FLAG[code] in words(figure)
    assert any(line.get_marker() == "D" and list(line.get_xdata()) == [4] for line in figure.findobj(Line2D))


def test_a_name_is_never_read_as_mathematics() -> None:
    figure = clinician_figure(lived("555", alias=r"A $\frac{1}{2}$ _b"))
    assert any(r"$\frac{1}{2}$" in each for each in words(figure))


def test_greys_only() -> None:
    for name in ("INK", "DARK", "MIDDLE", "BAND", "LIGHT", "SHADE", "PALE", "PAPER"):
        value = getattr(marks, name)
        assert value[1:3] == value[3:5] == value[5:7], f"{name} is a colour"
