"""The PDF, opened with another library."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import pypdf
import pytest
from matplotlib.figure import Figure

from bot.digest import pdf, wording
from bot.digest.attention import in_order
from bot.digest.outlook import outlook
from bot.digest.pdf import digest_pdf
from bot.digest.values import Action, History
from bot.program.reasons import Notice
from tests.digest.builders import lived
from tests.digest.cases import LONG_ALIAS, cases
from tests.digest.conftest import Demo
from tests.digest.test_charts import texts

CASES = cases()


def opened(content: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(content), strict=True)


class Page:
    """A page's text. Blanks are left out when it is searched: lines are wrapped, and pypdf takes a kern for a blank."""

    def __init__(self, text: str) -> None:
        self.text = tight(text)

    def __contains__(self, words: str) -> bool:
        return tight(words) in self.text

    def count(self, words: str) -> int:
        return self.text.count(tight(words))

    def __repr__(self) -> str:
        return self.text


def tight(text: str) -> str:
    return "".join(text.split())


def flat(page: pypdf.PageObject) -> Page:
    return Page(page.extract_text())


def made(histories: list[History], clinician: str = "Dr Vale") -> pypdf.PdfReader:
    until = max(each.until for each in histories)
    return opened(digest_pdf(in_order(histories), clinician=clinician, until=until))


@pytest.fixture(scope="module")
def whole(demo: Demo) -> pypdf.PdfReader:
    """The invented caseload's PDF."""
    return opened(digest_pdf(in_order(list(demo.histories.values())), clinician="Dr Vale", until=demo.until))


def test_the_overview_comes_first_and_then_a_page_a_patient(whole: pypdf.PdfReader) -> None:
    found = whole
    assert len(found.pages) == 1 + 5
    overview = flat(found.pages[0])
    assert "Weekly digest: Dr Vale, 23 Mar to 29 March 2026" in overview
    assert "1. Tarn: open red flag, same day: sudden pop since Fri 27 Mar (rule 10)" in overview
    for page, alias in zip(found.pages[1:], ["Tarn", "Ilex", "Moss", "Sorrel", "Wren"], strict=True):
        assert f"{alias}, week 12" in flat(page)


def test_the_pages_are_a4(whole: pypdf.PdfReader) -> None:
    """210 x 297 mm (ISO 216), in points of 1/72 inch."""
    for page in whole.pages:
        assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=1)
        assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=1)


def test_a_patients_page_has_the_week_the_trend_and_what_comes_next(demo: Demo, whole: pypdf.PdfReader) -> None:
    text = flat(whole.pages[4])
    for day in demo.histories["Sorrel"].days[-7:]:
        assert wording.week_day(day.date) in text
    assert "95 % interval" in text
    assert "What the rules will do next" in text
    assert "First steps 5 or more: rest: flare (rule 4.3)" in text
    assert "second flare within 13 days" in text
    assert "flare Fri 27 Mar, likely walk overdone" in text
    assert "Phase" in text, "the chart's words are text too"


def test_flags_are_there_in_the_patients_own_words(whole: pypdf.PdfReader) -> None:
    text = flat(whole.pages[1])
    assert "sudden pop (same day), opened Fri 27 Mar, OPEN" in text
    assert 'Their words: "felt a pop' in text


def test_what_the_clinician_did_is_there(whole: pypdf.PdfReader) -> None:
    text = flat(whole.pages[2])
    assert 'Dr Vale, note "phoned, sees me on Monday"' in text


def test_the_same_data_give_the_same_bytes() -> None:
    histories = [CASES["many flares"]]
    one = digest_pdf(in_order(histories), clinician="Dr Vale", until=histories[0].until)
    other = digest_pdf(in_order(histories), clinician="Dr Vale", until=histories[0].until)
    assert one == other
    found = opened(one)
    assert found.metadata is not None
    assert found.metadata.creation_date_raw == "D:20260301000000Z"


def test_its_fonts_can_be_searched() -> None:
    """Type 42 (TrueType) and not type 3."""
    page = made([CASES["four weeks"]]).pages[1]
    fonts = page["/Resources"]["/Font"].values()  # type: ignore[index]
    kinds = {each.get_object()["/Subtype"] for each in fonts}
    assert kinds
    assert "/Type3" not in kinds


@pytest.mark.parametrize("name", list(CASES))
def test_each_history_has_its_page(name: str) -> None:
    found = made([CASES[name]])
    assert len(found.pages) == 2
    assert wording.PDF_FOOT in flat(found.pages[1])


def test_a_name_is_never_read_as_mathematics() -> None:
    text = flat(made([lived("555", alias=r"A $x^2$ _b")]).pages[1])
    assert r"A $x^2$ _b" in text


def test_an_empty_caseload_has_one_page() -> None:
    found = opened(digest_pdf((), clinician="Dr Vale", until=CASES["a day"].until))
    assert len(found.pages) == 1
    assert "0 patients." in flat(found.pages[0])


def test_a_long_overview_goes_on_and_leaves_nobody_out() -> None:
    # Without a day there is no chart, which takes the time; loading that was stopped at enrolment is a need all the same.
    short = lived("", loading_stopped=True)
    histories = [replace(short, patient_id=at, alias=f"Patient{at:03d}") for at in range(70)]
    found = made(histories)
    assert len(found.pages) > 71
    overview = Page("".join(page.extract_text() for page in found.pages[: len(found.pages) - 70]))
    for at in range(70):
        assert overview.count(f"Patient{at:03d}") == 2, "among the needs and in the table"


def test_what_has_no_room_is_counted_and_never_dropped_in_silence() -> None:
    day = CASES["four weeks"].until
    actions = tuple(Action(day=day, kind="note", details={"text": f"note {at}"}, by="Dr Vale") for at in range(30))
    text = flat(made([replace(CASES["four weeks"], actions=actions)]).pages[1])
    shown = sum(f'note "note {at}"' in text for at in range(30))
    assert 1 <= shown < 30
    assert f"and {30 - shown} more." in text


def test_the_worst_page_keeps_clear_of_its_foot(monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything at once: text may be counted instead of shown, but never written over the foot."""
    busy = CASES["all flags and a long alias"]
    last = busy.days[-1]
    assert last.decision is not None
    told = replace(last, decision=replace(last.decision, notices=tuple(Notice)))
    busy = replace(busy, days=(*busy.days[:-1], told), alias=LONG_ALIAS)
    drawn: list[Figure] = []
    monkeypatch.setattr(pdf._Page, "done", lambda self: drawn.append(self.figure))
    digest_pdf(in_order([busy]), clinician="Dr Vale", until=busy.until)
    heights = sorted(each.get_window_extent().y0 / drawn[1].dpi for each in texts(drawn[1]))
    # Two texts stand in the foot, at 0.32 inch; the next above 0.45.
    assert sum(each < 0.36 for each in heights) == 2
    assert all(each > 0.45 for each in heights[2:])


@pytest.mark.parametrize("name", [each for each in CASES if CASES[each].days and "all flags" not in each])
def test_nothing_is_left_out_of_an_ordinary_page(name: str) -> None:
    """What was decided, comes next and changed stands there whole (fifteen open flags are more than a page is made for)."""
    text = flat(made([CASES[name]]).pages[1])
    assert not any(wording.more_lines(count) in text for count in range(1, 20))
    (line,) = in_order([CASES[name]])
    for each in outlook(line.history):
        assert wording.next_step(each, line.history.until + timedelta(days=1)) in text
    for flare in line.figures.flares:
        assert wording.flare_line(flare) in text


@pytest.mark.parametrize("name", list(CASES))
def test_no_text_of_a_page_lies_upon_another(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at before it becomes a file, at the places where it was put."""
    drawn: list[Figure] = []
    monkeypatch.setattr(pdf._Page, "done", lambda self: drawn.append(self.figure))
    digest_pdf(in_order([CASES[name]]), clinician="Dr Vale", until=CASES[name].until)
    assert len(drawn) == 2
    for figure in drawn:
        boxes = [(each.get_text(), each.get_window_extent()) for each in texts(figure)]
        for (one, first), (other, second) in combinations(boxes, 2):
            wide = min(first.x1, second.x1) - max(first.x0, second.x0)
            high = min(first.y1, second.y1) - max(first.y0, second.y0)
            # A line's letters that hang below it may touch the box of the line below.
            assert wide <= 2 or high <= 3, f"{one!r} lies upon {other!r}"
            assert first.x1 <= figure.bbox.width
