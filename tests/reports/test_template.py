"""The full-size template, printed (rendered at 300 dpi) and read back; and what its pages say."""

import math
from dataclasses import replace

import numpy as np
import pypdf
import pytest

from digitizer.errors import ReportError
from digitizer.job.model import PaperSize
from digitizer.reports.cutting import Circle, LayerName, cutting_drawing
from digitizer.reports.sheet import Label
from digitizer.reports.template import (
    Measured,
    PrinterCheck,
    bar_length,
    correction,
    roll_paper,
    sheet_paper,
    write_template,
)
from digitizer.reports.template_sheet import sheet_labels
from digitizer.reports.tiles import name_of
from tests.reports.for_cutting import (
    a_bowed_survey,
    a_drawing,
    a_flat_survey,
    hostile_survey_and_job,
    many_fittings,
)
from tests.reports.scanner import Scans, assembled, on_sheet

ENOUGH = 0.2  # mm over 2 m: what the assembled template must keep
A3, A4, LETTER = (sheet_paper(size) for size in (PaperSize.A3, PaperSize.A4, PaperSize.LETTER))
AT = 600.0
HALF = 1000.0 + 100.0 * (AT - 300.0) / 600.0
TOP_AT_200 = 960.0 - 60.0 * 200.0 / 1100.0


def home(printed, place):
    """The sheet in whose middle part a place lies."""
    grid = printed.tiling.grid
    cell = math.floor((place[0] - grid.left) / grid.across), math.floor((grid.top - place[1]) / grid.down)
    assert cell in printed.tiling.cells
    return cell


def measured_outline(printed, path, stretch):
    """Breadth at 600 mm, height at 200 mm out, and the diagonal between them, on the joined sheets."""
    points = [((-HALF, AT), "across"), ((HALF, AT), "across"), ((200.0, 60.0), "up"), ((200.0, TOP_AT_200), "up")]
    homes = [(home(printed, place), place, way) for place, way in points]
    joined, found = assembled(Scans(path, stretch), printed, homes)
    port, starboard, low, high = (joined.place(cell, found[place]) for cell, place, _ in homes)
    return math.dist(port, starboard), math.dist(low, high), math.dist(port, low)


TRUE = (2.0 * HALF, TOP_AT_200 - 60.0, math.dist((-HALF, AT), (200.0, 60.0)))


def bars_as_measured(path, printed, stretch):
    """Both check bars of the first sheet, from middle to middle of their end ticks."""
    cell = printed.tiling.cells[0]
    scan = Scans(path, stretch)[name_of(cell)]
    height, (across, up) = printed.tiling.page[1], (f * s for f, s in zip(printed.factors, stretch, strict=True))
    level = (height - 19.0 - 1.6) * up  # below the bar's own line, through both ticks
    ends = [scan.column_centre(x * across, level) for x in (16.0, 16.0 + printed.bar)]
    middle = 25.0 + (height - 25.0) / 2.0
    side = [
        scan.row_centre((10.5 + 1.6) * across, (height - middle - sign * printed.bar / 2.0) * up) for sign in (1, -1)
    ]
    return ends[1] - ends[0], side[1] - side[0]


def test_assembled_template_is_true(tmp_path):
    """On A3 from a true printer: check bars, 2.1 m across, 0.9 m up and a diagonal, after joining all sheets."""
    path = tmp_path / "t.pdf"
    printed = write_template(a_drawing(), path, A3)
    assert bars_as_measured(path, printed, (1.0, 1.0)) == pytest.approx((250.0, 250.0), abs=0.05)
    assert measured_outline(printed, path, (1.0, 1.0)) == pytest.approx(TRUE, abs=ENOUGH)


@pytest.mark.slow
def test_measured_check_bars_correct_a_printer(tmp_path):
    """A printer 0.4 % long one way and 0.3 % short the other prints true once its bars were measured."""
    path, stretch = tmp_path / "t.pdf", (1.004, 0.997)
    before = write_template(a_drawing(), path, A4)
    across, up = bars_as_measured(path, before, stretch)
    assert (across, up) == pytest.approx((150.0 * 1.004, 150.0 * 0.997), abs=0.05)
    after = write_template(a_drawing(), path, A4, PrinterCheck(Measured(across), Measured(up)))
    assert bars_as_measured(path, after, stretch) == pytest.approx((150.0, 150.0), abs=0.05)
    # The bars are read to 0.01 mm here, which a steel rule can't: 0.01 in 150 is 0.14 mm in 2.1 m.
    assert measured_outline(after, path, stretch) == pytest.approx(TRUE, abs=ENOUGH)


def test_a_roll_needs_no_joining_across(tmp_path):
    """On a roll as wide as the boat is high there is one sheet, with the whole breadth on it."""
    path = tmp_path / "t.pdf"
    printed = write_template(a_drawing(), path, roll_paper(1118.0))
    (cell,) = printed.tiling.cells
    scan = Scans(path)[name_of(cell)]
    ends = []
    for x in (-HALF, HALF):
        ends.append(scan.column_centre(*on_sheet(printed.tiling, cell, printed.factors, (x, AT))))
    assert ends[1] - ends[0] == pytest.approx(2.0 * HALF, abs=ENOUGH)
    assert bars_as_measured(path, printed, (1.0, 1.0)) == pytest.approx((1000.0, 1000.0), abs=0.05)


def test_an_uncorrected_printer_is_seen(tmp_path):
    """Without correction the same printer's template is wrong by millimetres, so the test above can fail."""
    path, stretch = tmp_path / "t.pdf", (1.004, 0.997)
    printed = write_template(a_drawing(), path, roll_paper(1118.0))
    (cell,) = printed.tiling.cells
    scan = Scans(path, stretch)[name_of(cell)]
    places = [on_sheet(printed.tiling, cell, printed.factors, (x, AT)) for x in (-HALF, HALF)]
    port, starboard = (scan.column_centre(x * 1.004, y * 0.997) for x, y in places)
    assert starboard - port == pytest.approx(2.0 * HALF * 1.004, abs=ENOUGH)


@pytest.mark.parametrize(
    ("paper", "sides"),
    [
        pytest.param(A4, (210.0, 297.0), id="A4"),
        pytest.param(LETTER, (215.9, 279.4), id="Letter"),
        pytest.param(A3, (297.0, 420.0), id="A3"),
    ],
)
def test_every_page_is_the_paper(tmp_path, paper, sides):
    """Upright or lying, no page is larger than what it is printed on, even corrected."""
    check = PrinterCheck(Measured(bar_length(paper) * 1.01), None)
    write_template(a_drawing(), tmp_path / "t.pdf", paper, check)
    for page in pypdf.PdfReader(tmp_path / "t.pdf").pages:
        found = sorted(float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height))
        assert found == pytest.approx(sides, abs=0.01)  # mm, PDF rounds points


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Texts of all pages of a template in the face, and how it was laid out."""
    path = tmp_path_factory.mktemp("template") / "t.pdf"
    printed = write_template(a_drawing(), path, A4)
    return [page.extract_text() for page in pypdf.PdfReader(path).pages], printed


def test_each_sheet_says_what_it_is(pages):
    """Name, number, neighbours, plane, both cautions and both check bars stand on every sheet."""
    texts, printed = pages
    sheets = texts[-len(printed.tiling.cells) :]
    for number, (cell, text) in enumerate(zip(printed.tiling.cells, sheets, strict=True), start=1):
        assert f"{name_of(cell)}, sheet {number} of {len(sheets)}; joins " in text
        assert "in the face" in text
        assert "Check this sheet before use" in text
        assert "Check the assembled template on the boat before cutting" in text
        assert text.count("check bar 150 mm") == 2


def test_datum_lines_are_named_where_they_run(pages):
    """Centreline and reference line stand by name on several sheets, the keel's level too."""
    texts, _ = pages
    for words in ("centreline", "reference line", "keel level"):
        assert sum(words in text for text in texts[2:]) >= 2, words


def test_front_pages_hold_map_tables_and_witness(pages):
    """The first pages tell how to join, name each sheet on the map, and hold the offset table."""
    texts, printed = pages
    front = " ".join(" ".join(text.split()) for text in texts[: -len(printed.tiling.cells)])
    assert all(name_of(cell) in front for cell in printed.tiling.cells)
    for witness in printed.tiling.witnesses():
        assert f"{witness.length:.1f} mm" in front
    assert "150.0 ± 1.6" in front
    assert "Check the dimensions on the boat before cutting." in front


@pytest.mark.parametrize("paper", [pytest.param(A4, id="A4"), pytest.param(roll_paper(914.0), id="roll")])
def test_no_label_covers_another_or_is_clipped(tmp_path, paper):
    """Thirty fittings close together: every text lies inside its sheet and clear of all others, each number once."""
    printed = write_template(a_drawing(many_fittings()), tmp_path / "t.pdf", paper)
    numbers = []
    for cell in printed.tiling.cells:
        sheet = sheet_labels(printed, cell)
        labels = [item for item in sheet.items if isinstance(item, Label)]
        boxes = [sheet.box(label) for label in labels]
        for i, a in enumerate(boxes):
            assert 0 <= a[0] <= a[2] <= sheet.width
            assert 0 <= a[1] <= a[3] <= sheet.height
            for b in boxes[:i]:
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], labels[i].text
        numbers += [label.text for label in labels if label.bold and label.text.isdigit()]
    assert sorted(numbers, key=int) == [str(number) for number in range(1, 31)]


def test_bowed_template_says_rolled_flat(tmp_path):
    """Every sheet of a bowed face says so."""
    printed = write_template(a_drawing(a_bowed_survey()), tmp_path / "t.pdf", A3)
    texts = [page.extract_text() for page in pypdf.PdfReader(tmp_path / "t.pdf").pages]
    assert all("rolled flat (girth)" in text for text in texts[-len(printed.tiling.cells) :])


def test_job_without_outline_gives_its_fittings(tmp_path):
    """What there is gets its sheets, and the first page says what is missing."""
    bare = a_flat_survey(edges=(), offsets=(), points=(), reference_line=None)
    printed = write_template(a_drawing(bare), tmp_path / "t.pdf", A4)
    first = " ".join(pypdf.PdfReader(tmp_path / "t.pdf").pages[0].extract_text().split())
    assert "The outline is not closed" in first
    assert all(home(printed, fitting.at) for fitting in a_drawing(bare).fittings)


def test_hostile_texts_are_just_text(tmp_path):
    """Markup, other directions and 10 000 letters make pages like any other."""
    survey, job = hostile_survey_and_job()
    printed = write_template(cutting_drawing(survey, job, "mm"), tmp_path / "t.pdf", A3)
    reader = pypdf.PdfReader(tmp_path / "t.pdf")
    assert len(reader.pages) <= len(printed.tiling.cells) + 4
    assert "<b>&amp;</b>" in " ".join(page.extract_text() for page in reader.pages)


def test_equal_jobs_are_equal_files(tmp_path):
    """Two writings agree byte for byte."""
    for name in ("a.pdf", "b.pdf"):
        write_template(a_drawing(many_fittings()), tmp_path / name, roll_paper(914.0))
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_long_lengths_correct_better_than_bars():
    """A length of 2288 mm measured as 2291.3 gives its own factor."""
    assert correction(A4, Measured(2291.3, 2288.0)) == pytest.approx(2288.0 / 2291.3)


@pytest.mark.parametrize(
    "length",
    [
        pytest.param(Measured(140.0), id="fitted-to-the-page"),
        pytest.param(Measured(5.9), id="inches"),
        pytest.param(Measured(-150.0), id="negative"),
        pytest.param(Measured(math.nan), id="nan"),
        pytest.param(Measured(150.0, 0.0), id="nothing-printed"),
    ],
)
def test_check_bar_that_cannot_be_right_is_refused(length):
    """A bar that far off was misread, or the print was fitted to the page."""
    with pytest.raises(ReportError, match="100 %"):
        correction(A4, length)


@pytest.mark.parametrize("width", [10.0, 5000.0, math.nan])
def test_impossible_rolls_are_refused(width):
    """No plotter takes them."""
    with pytest.raises(ReportError, match="wide"):
        roll_paper(width)


def test_old_template_stays_when_the_new_one_fails(tmp_path):
    """Nothing is left where nothing can be written."""
    with pytest.raises(ReportError, match="no such folder"):
        write_template(a_drawing(), tmp_path / "nowhere" / "t.pdf", A4)
    assert list(tmp_path.iterdir()) == []


def test_flange_is_printed(tmp_path):
    """A planned circle is drawn where it lies: its rim is found on its sheet."""
    drawing = replace(a_drawing(), circles=(Circle(LayerName.FLANGE, (-400.0, 480.0), 30.0),))
    printed = write_template(drawing, tmp_path / "t.pdf", A4)
    cell = home(printed, (-430.0, 480.0))
    x, y = on_sheet(printed.tiling, cell, printed.factors, (-430.0, 480.0))
    assert Scans(tmp_path / "t.pdf")[name_of(cell)].column_centre(x, y) == pytest.approx(x, abs=0.1)
    assert np.isfinite(x)
