"""The printed target, read back: rendered and measured, its text extracted by another library."""

from __future__ import annotations

import json
import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest

from digitizer.errors import ReportError
from digitizer.imaging.target_layout import marker_outlines, object_points
from digitizer.imaging.targets import find_targets
from digitizer.job.model import PaperSize, Target, TargetKind
from digitizer.reports.target_sheet import job_target, write_target_sheet

DPI = 300
MM = DPI / 25.4  # px per mm
PAPER_MM = {PaperSize.A4: (210.0, 297.0), PaperSize.LETTER: (215.9, 279.4), PaperSize.A3: (297.0, 420.0)}


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """Path of a sheet, written once for each paper and kind."""
    folder = tmp_path_factory.mktemp("sheets")

    def path(paper: PaperSize, markers: bool = False) -> Path:
        file = folder / f"{paper}-{markers}.pdf"
        if not file.exists():
            write_target_sheet(file, paper, markers)
        return file

    return path


def rendered(file: Path, page: int = 0):
    """One page in grey at 300 dots to the inch."""
    with pypdfium2.PdfDocument(file) as document:
        return np.array(document[page].render(scale=DPI / 72, grayscale=True).to_numpy()).squeeze()


def text(file: Path, page: int) -> str:
    return " ".join(pypdf.PdfReader(file).pages[page].extract_text().split())


def targets(paper: PaperSize, markers: bool) -> list[Target]:
    kind = TargetKind.ARUCO_MARKER if markers else TargetKind.CHARUCO
    return [job_target(paper, kind, corner) for corner in range(4 if markers else 1)]


def bar_lengths(gray) -> set[float]:
    """Lengths, mm, of thin straight lines of about the check bar's length, lying and upright; middle to middle."""
    found = set()
    for picture, direction in ((gray, "lying"), (gray.T, "upright")):
        for row in np.flatnonzero((picture < 128).sum(axis=1) > 140 * MM):
            edges = np.flatnonzero(np.diff((picture[row] < 128).astype(int), prepend=0, append=0))
            for start, end in zip(edges[::2], edges[1::2], strict=True):
                thickness = (picture[row - 6 : row + 7, (start + end) // 2 + 20] < 128).sum()
                if 140 * MM < end - start < 160 * MM and thickness <= 4:
                    found.add((direction, round(float((end - start) / MM - 0.25), 2)))  # ticks are 0.25 mm thick
    return found


@pytest.mark.parametrize("paper", PaperSize)
def test_printed_board_is_what_the_job_says(sheet, paper):
    """The board that the detector finds on the page has the size of the record, to a tenth of a millimetre."""
    target = job_target(paper)
    (detection,) = find_targets(rendered(sheet(paper)), [target])
    assert len(detection.corner_ids) == 24
    assert not detection.legacy
    nominal = object_points(target, detection.corner_ids)
    printed = detection.image_points / MM * (1, -1)
    shift = printed.mean(axis=0) - nominal.mean(axis=0)
    assert np.abs(printed - shift - nominal).max() < 0.1  # mm


@pytest.mark.parametrize("paper", PaperSize)
@pytest.mark.parametrize("corner", range(4))
def test_printed_marker_is_what_the_job_says(sheet, paper, corner):
    """Each page of the markers holds the marker of its record, at its size and no other."""
    marker_targets = targets(paper, markers=True)
    (detection,) = find_targets(rendered(sheet(paper, markers=True), corner), marker_targets)
    assert detection.target_id == marker_targets[corner].id
    sides = np.hypot(*(np.roll(detection.image_points, -1, axis=0) - detection.image_points).T) / MM
    assert sides == pytest.approx(marker_targets[corner].marker_mm, abs=0.1)  # mm


@pytest.mark.parametrize("markers", [False, True], ids=["board", "markers"])
@pytest.mark.parametrize("paper", PaperSize)
def test_check_bars_have_their_length_both_ways(sheet, paper, markers):
    """Measured in the rendering, a bar lies and a bar stands, each as long as the record says."""
    found = bar_lengths(rendered(sheet(paper, markers)))
    nominal = job_target(paper).check_bar_nominal_mm
    assert {direction for direction, _ in found} == {"lying", "upright"}
    assert [length for _, length in found] == pytest.approx([nominal] * len(found), abs=0.15)  # mm, two pixels


@pytest.mark.parametrize("markers", [False, True], ids=["board", "markers"])
@pytest.mark.parametrize("paper", PaperSize)
def test_fields_to_copy_are_those_of_the_record(sheet, paper, markers):
    """What the page says to write into the job gives the record that belongs to it."""
    for page, target in enumerate(targets(paper, markers)):
        fields = json.loads(re.search(r"\{.*\}", text(sheet(paper, markers), page))[0])
        assert Target(**fields | {"kind": TargetKind(fields["kind"])}) == target


@pytest.mark.parametrize(("markers", "pages"), [(False, 2), (True, 5)], ids=["board", "markers"])
@pytest.mark.parametrize("paper", PaperSize)
def test_pages_and_paper(sheet, paper, markers, pages):
    """A page for each target and one of advice, on the paper asked for, one way or the other."""
    read = pypdf.PdfReader(sheet(paper, markers)).pages
    assert len(read) == pages
    for page in read:
        size = sorted(float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height))
        assert size == pytest.approx(PAPER_MM[paper], abs=0.1)  # mm


@pytest.mark.parametrize("page", [0, -1], ids=["target", "advice"])
@pytest.mark.parametrize("markers", [False, True], ids=["board", "markers"])
@pytest.mark.parametrize("paper", PaperSize)
def test_printer_reaches_everything(sheet, paper, markers, page):
    """Nothing stands within 5 mm of the edge, where many printers can't print."""
    count = 5 if markers else 2
    gray = rendered(sheet(paper, markers), page % count)
    edge = int(5 * MM)
    inner = gray[edge:-edge, edge:-edge]
    assert (inner < 200).sum() == (gray < 200).sum()


@pytest.mark.parametrize("markers", [False, True], ids=["board", "markers"])
def test_advice_names_what_counts(sheet, markers):
    """String, long length, lens, distance, original file and the printer's scale are all there."""
    advice = text(sheet(PaperSize.A4, markers), -1)
    for words in (
        "string",
        "steel rule",
        "Main lens",
        "three to four metres",
        "middle 70 %",
        "100 %",
        "The original file",
    ):
        assert words in advice
    assert "check_bar_measured_mm" in text(sheet(PaperSize.A4, markers), 0)


def test_board_and_markers_may_hang_side_by_side():
    """No marker number is used twice among the board and the single markers."""
    numbers = [set(marker_outlines(t)) for t in (job_target(PaperSize.A4), *targets(PaperSize.A4, markers=True))]
    assert not any(a & b for a, b in combinations(numbers, 2))


@pytest.mark.parametrize("markers", [False, True], ids=["board", "markers"])
def test_equal_sheets_are_equal_files(sheet, tmp_path, markers):
    """Written again, the same sheet gives the same bytes."""
    write_target_sheet(tmp_path / "again.pdf", PaperSize.A4, markers)
    assert (tmp_path / "again.pdf").read_bytes() == sheet(PaperSize.A4, markers).read_bytes()


def test_fonts_are_embedded(sheet):
    """The text looks alike on every machine."""
    names = set()
    for page in pypdf.PdfReader(sheet(PaperSize.A4)).pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object().get("/FontDescriptor")
            if descriptor is not None:
                assert "/FontFile2" in descriptor.get_object()
                names.add(str(font.get_object()["/BaseFont"]).split("+")[-1])
    assert names == {"DejaVuSans", "DejaVuSans-Bold"}


def test_missing_folder_is_refused(tmp_path):
    """A folder that isn't there is named, and nothing is made."""
    with pytest.raises(ReportError, match="no such folder"):
        write_target_sheet(tmp_path / "nowhere" / "board.pdf", PaperSize.A4)
    assert list(tmp_path.iterdir()) == []


def test_folder_in_place_of_a_file_is_refused(tmp_path):
    """A folder is not overwritten."""
    with pytest.raises(ReportError, match="this is a folder"):
        write_target_sheet(tmp_path, PaperSize.A4)


@pytest.mark.parametrize(("kind", "corner"), [(TargetKind.ARUCO_GRID, 0), (TargetKind.ARUCO_MARKER, 4)])
def test_no_record_of_a_sheet_that_is_not_printed(kind, corner):
    """Asking for another sheet is a programmer's mistake."""
    with pytest.raises(ValueError, match="no sheet is printed"):
        job_target(PaperSize.A4, kind, corner)
