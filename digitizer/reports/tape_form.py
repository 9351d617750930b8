"""
The tape form: one page to print, take to the boat and fill in, with a small drawing of where each measurement is taken.

What is written on it goes into the job's `tape_figures`, `deadrise_readings`, `level_readings` and `gaps`.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, Spacer

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.job.model import LengthUnit, PaperSize
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import CAPTION, CELL_BOLD, HEADING, SMALL, cell, grid, paper_of, paragraph, register_fonts
from digitizer.reports.tape_sketches import SKETCHES, WIDTH, fitting

MARGIN = 11 * mm
ROOM = 7.0
"""Added under each row for handwriting, points."""
FITTING_ROWS = 6
_ADVICE = (
    "Hook the tape or hold it at zero, not at its 1 in mark. A straight string, not the edge of the boat. A tape laid "
    "on a bowed face reads along it (girth): pull it straight, or say so. Write each figure as you read it, with its "
    "unit, and how far you trust it (±)."
)
ROWS = (
    ("1", "chine beam, outer edges", "chine_beam"),
    ("2", "width between the top corners", "top_width"),
    ("D", "offset of B from the centreline", "offset_mm"),
    ("3", "A, string to bottom, centreline", "a_mm"),
    ("4", "B port, string to bottom at D", "b_mm"),
    ("5", "B starboard, string to bottom at D", "b_mm"),
    ("6", "height, keel to top edge", "height_centre"),
    ("7", "crown above the straightedge", "crown"),
    ("8", "level on the face, from plumb", "face_deg"),
    ("9", "level on the keel line", "keel_deg"),
    ("10 P", "deadrise port, angle", "deadrise_chord_port"),
    ("10 S", "deadrise starboard, angle", "deadrise_chord_starboard"),
    ("11", "gap to the straightedge", "gap_mm"),
    ("12", "length of the straightedge", "span_mm"),
)
"""Number on the drawings, words, and where it goes: a dimension's code, or the field of a reading."""
ANGLES = ("8", "9", "10 P", "10 S")


def write_tape_form(path: Path, paper: PaperSize = PaperSize.A4, unit: LengthUnit = LengthUnit.MILLIMETRE) -> None:
    """
    Write the form as a PDF of one page.

    Parameters
    ----------
    path
        Where to write; an old file there is replaced only once the new one is whole.
    paper, unit
        The printer's paper, and the unit that lengths are to be written in.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    whole = _page(paper, unit)
    with replacing(path, ReportError) as stream:
        stream.write(whole)


def _page(paper: PaperSize, unit: LengthUnit) -> bytes:
    register_fonts()
    stream, size = BytesIO(), paper_of(paper)
    canvas = Canvas(stream, pagesize=(size.width, size.height), lang="en", invariant=1)
    canvas.setTitle("Tape form for a transom")
    canvas.setSubject("Fill in at the boat; the figures go into the job and are checked against the photo")
    frame = Frame(MARGIN, MARGIN, size.width - 2 * MARGIN, size.height - 2 * MARGIN, 0, 0, 0, 0)
    story = _story(unit, size.width - 2 * MARGIN)
    frame.addFromList(story, canvas)
    if story:
        raise ValueError(f"the tape form does not fit on {paper}")
    canvas.save()
    return stream.getvalue()


def _story(unit: LengthUnit, width: float) -> list[Flowable]:
    named = "in" if unit is not LengthUnit.MILLIMETRE else "mm"
    head = [[cell(f"{name}:", CELL_BOLD), ""] for name in ("Boat", "Hull number", "Taken by, date", "Tape, its class")]
    pairs = [[*head[0], *head[1]], [*head[2], *head[3]]]
    shares = (0.16, 0.34, 0.16, 0.34)
    return [
        paragraph("Tape form: a transom from astern", HEADING),
        paragraph(_ADVICE, SMALL),
        grid(pairs, [share * width for share in shares], heading=False),
        Spacer(1, 4),
        _sketches(width),
        Spacer(1, 3),
        _figures(named, width),
        Spacer(1, 5),
        _fittings(named, width),
    ]


def _sketches(width: float) -> Flowable:
    """Three drawings a row."""
    cells = [[SheetFlowable(draw()), paragraph(name, CAPTION)] for name, draw in SKETCHES]
    return grid([cells[:3], cells[3:]], [width / 3] * 3, heading=False, ruled=False)


def _figures(unit: str, width: float) -> Flowable:
    """Two columns of rows to write in."""
    titles = [cell(title, CELL_BOLD) for title in ("No.", "Measurement", "read", "±")]
    half = len(ROWS) // 2
    rows: list[list[Any]] = [[*titles, "", *titles]]
    for left, right in zip(ROWS[:half], ROWS[half:], strict=True):
        rows.append([*_row(*left, unit), "", *_row(*right, unit)])
    shares = (0.05, 0.235, 0.125, 0.075, 0.03)
    widths = [share * width for share in (*shares, *shares[:4])]
    return _tall(rows, widths)


def _row(number: str, words: str, code: str, unit: str) -> list[Any]:
    shown = "°" if number in ANGLES else unit
    label = [cell(words, SMALL), cell(code, SMALL)]
    return [cell(number, CELL_BOLD), label, cell(shown, _RIGHT), cell(shown, _RIGHT)]


def _fittings(unit: str, width: float) -> Flowable:
    """A drawing and rows for fittings beside it."""
    titles = ("Fitting (through-hull, drain, light …)", f"x, {unit}", "P / S", f"y below string, {unit}", f"⌀, {unit}")
    rows: list[list[Any]] = [[cell(title, CELL_BOLD) for title in titles]]
    rows += [["" for _ in titles] for _ in range(FITTING_ROWS)]
    room = width - WIDTH - 8.0
    table = _tall(rows, [share * room for share in (0.4, 0.15, 0.1, 0.2, 0.15)])
    drawing = [SheetFlowable(fitting()), paragraph("Fittings", CAPTION)]
    return grid([[drawing, table]], [WIDTH + 8.0, room], heading=False, ruled=False)


def _tall(rows: list[list[Any]], widths: list[float]) -> Flowable:
    """A ruled table with room to write."""
    inside = [("BOX", (0, 0), (-1, -1), 0.5, "black"), ("INNERGRID", (0, 0), (-1, -1), 0.25, "grey")]
    return grid(rows, widths, more=[*inside, ("BOTTOMPADDING", (0, 1), (-1, -1), ROOM)])


_RIGHT = SMALL.clone("right", alignment=2, textColor="grey")
