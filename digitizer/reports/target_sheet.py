"""
The printed target: a ChArUco board at true size, or four single markers, each with two check bars.

Everything is drawn as rectangles, so the printer's own resolution is the limit. What the sheet says of itself comes
from the same record that the detector gets: :func:`job_target`.
"""

from __future__ import annotations

import json
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.imaging.target_layout import pattern_size
from digitizer.job.model import PaperSize, Target, TargetKind
from digitizer.reports.paper import paper_of, register_fonts
from digitizer.reports.target_advice import BODY, NOTE, TITLE, draw_advice, draw_texts
from digitizer.reports.target_drawing import draw_check_bar, draw_pattern

DICTIONARY = "DICT_5X5_100"
CHECK_BAR_MM = 150.0
FIRST_CORNER_MARKER = 96
"""The last four of the dictionary: boards count from 0, so a board and the markers may hang side by side."""

_BOARDS = {PaperSize.A4: (35.0, 26.0), PaperSize.LETTER: (35.0, 26.0), PaperSize.A3: (50.0, 37.0)}
_MARKERS = {PaperSize.A4: 120.0, PaperSize.LETTER: 120.0, PaperSize.A3: 180.0}

_MEASURE = (
    "Print at 100 %. Measure both check bars with a steel rule, between the middles of their end ticks, and write "
    "the mean into the job as check_bar_measured_mm."
)
_INTO_JOB = "Into the job, under targets:"


def job_target(paper: PaperSize, kind: TargetKind = TargetKind.CHARUCO, corner: int = 0) -> Target:
    """
    The job's record of a printed sheet.

    Parameters
    ----------
    paper
        What it was printed on.
    kind
        The board, or one of the single markers.
    corner
        Which of the four markers, 0 to 3.

    Raises
    ------
    ValueError
        If there is no such sheet.
    """
    if kind is TargetKind.CHARUCO:
        square, marker = _BOARDS[paper]
        board = Target("board", kind, DICTIONARY, columns=7, rows=5, square_mm=square, marker_mm=marker)
        return replace(board, check_bar_nominal_mm=CHECK_BAR_MM)
    if kind is not TargetKind.ARUCO_MARKER or not 0 <= corner <= 3:
        raise ValueError(f"no sheet is printed for {kind} number {corner}")
    number = FIRST_CORNER_MARKER + corner
    marker_target = Target(f"marker-{number}", kind, DICTIONARY, marker_mm=_MARKERS[paper], first_id=number)
    return replace(marker_target, check_bar_nominal_mm=CHECK_BAR_MM)


def write_target_sheet(path: Path, paper: PaperSize, markers: bool = False, invariant: bool = True) -> None:
    """
    Write the target as a PDF: the board on a lying page, or four upright pages of a marker, then the advice.

    Parameters
    ----------
    markers
        Four single markers in place of the board.
    invariant
        Leave the time of writing out, so that equal sheets are equal files.

    Raises
    ------
    ReportError
        If the file can't be written; an old one stays as it was.
    """
    pdf = _sheet(paper, markers, invariant)
    with replacing(path, ReportError) as stream:
        stream.write(pdf)


def job_fields(target: Target) -> str:
    """What to copy into the job's `targets`, as JSON."""
    fields: dict[str, object] = {"id": target.id, "kind": target.kind.value, "dictionary": target.dictionary}
    if target.kind is TargetKind.CHARUCO:
        fields |= {"columns": target.columns, "rows": target.rows, "square_mm": target.square_mm}
    else:
        fields |= {"first_id": target.first_id}
    fields |= {"marker_mm": target.marker_mm, "check_bar_nominal_mm": target.check_bar_nominal_mm}
    return json.dumps(fields)


def _sheet(paper: PaperSize, markers: bool, invariant: bool) -> bytes:
    register_fonts()
    stream = BytesIO()
    size = paper_of(paper)
    canvas = Canvas(stream, pagesize=(size.width, size.height), invariant=int(invariant), lang="en")
    canvas.setTitle(f"Target for photographs of a transom, {paper}")
    canvas.setSubject("Print at 100 % and measure the check bars")
    if markers:
        for corner in range(4):
            target = job_target(paper, TargetKind.ARUCO_MARKER, corner)
            _draw_marker_page(canvas, target, (size.width, size.height), f"Corner marker {corner + 1} of 4")
    else:
        _draw_board_page(canvas, job_target(paper), (size.height, size.width), f"Target board {paper}")
    draw_advice(canvas, (size.width, size.height), markers)
    canvas.save()
    return stream.getvalue()


def _draw_board_page(canvas: Canvas, target: Target, page: tuple[float, float], title: str) -> None:
    """The board lying, as large as the paper allows; a check bar on its left and one below, particulars at the foot."""
    canvas.setPageSize(page)
    width, height = (side * mm for side in pattern_size(target))
    left, bottom = (page[0] - width) / 2, page[1] - 8 * mm - height
    draw_pattern(canvas, target, (page[0] / 2, bottom + height / 2))
    draw_check_bar(canvas, CHECK_BAR_MM, (left - 7 * mm, bottom + height / 2), upright=True)
    draw_check_bar(canvas, CHECK_BAR_MM, (left + CHECK_BAR_MM / 2 * mm, bottom - 7 * mm), upright=False)
    draw_texts(canvas, [(title, TITLE)], (left + (CHECK_BAR_MM + 6) * mm, bottom - 3.5 * mm), 80 * mm)
    foot = [(text, NOTE) for text in (_MEASURE, in_words(target), job_fields(target))]
    draw_texts(canvas, foot, (left, bottom - 11 * mm), width)
    canvas.showPage()


def _draw_marker_page(canvas: Canvas, target: Target, page: tuple[float, float], title: str) -> None:
    """A single marker on an upright page, with white round it, the check bars beyond and its particulars below."""
    canvas.setPageSize(page)
    side = target.marker_mm * mm
    quiet = 0.19 * side  # a little over one of its modules: the detector needs the white
    middle = (page[0] / 2, page[1] - 15 * mm - max(side, CHECK_BAR_MM * mm) / 2)
    draw_pattern(canvas, target, middle)
    draw_check_bar(canvas, CHECK_BAR_MM, (middle[0] - side / 2 - quiet, middle[1]), upright=True)
    below = middle[1] - side / 2 - quiet - 12 * mm
    draw_check_bar(canvas, CHECK_BAR_MM, (middle[0], below), upright=False)
    texts = [(title, TITLE), (in_words(target), BODY), (_MEASURE, BODY), (_INTO_JOB, BODY), (job_fields(target), NOTE)]
    draw_texts(canvas, texts, (middle[0] - 85 * mm, below - 8 * mm), 170 * mm)
    canvas.showPage()


def in_words(target: Target) -> str:
    """The target's make in plain words."""
    if target.kind is TargetKind.CHARUCO:
        return (
            f"ChArUco board, {target.columns} × {target.rows} squares of {target.square_mm:g} mm with markers of "
            f"{target.marker_mm:g} mm, dictionary {target.dictionary}, markers from number {target.first_id}. "
            "Into the job, under targets:"
        )
    return (
        f"ArUco marker of {target.marker_mm:g} mm, dictionary {target.dictionary}, number {target.first_id}. "
        "Put one near each corner of the transom; the white round it belongs to it. Which corner doesn't matter."
    )
