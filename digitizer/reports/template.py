"""
The full-size template on paper: instructions with a map of the sheets, tables, and the sheets themselves.

The drawing is written into the file once, at true size, and each sheet shows its part of it through a window. A printer
that was measured by its check bars is corrected by scaling everything, check bars and registration marks included.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.job.model import PaperSize
from digitizer.reports.cutting import Drawing
from digitizer.reports.paper import paper_of, register_fonts, shown
from digitizer.reports.sheet import Point
from digitizer.reports.template_pages import Printed, draw_front_matter
from digitizer.reports.template_sheet import draw_sheet, put_drawing
from digitizer.reports.tiles import LONGEST_PAGE_MM, MARGINS, OVERLAP_MM, Tiling, tiling

ROLL_LEAST_MM, ROLL_MOST_MM = 200.0, 2000.0
LARGEST_CORRECTION = 0.05
"""A check bar further from its length than this part of it was misread, or printed to fit the page."""
_BARS = (1000.0, 500.0, 250.0, 150.0, 100.0)


@dataclass(frozen=True)
class TemplatePaper:
    """What a template is printed on, upright, mm."""

    name: str
    width: float
    height: float
    roll: bool = False


@dataclass(frozen=True)
class Measured:
    """A length on a print made without correction, mm."""

    measured: float
    printed: float | None = None
    """What it was to be; left out, the check bar's length."""


@dataclass(frozen=True)
class PrinterCheck:
    """What was measured on an earlier print, across the sheets and up them; none where nothing was."""

    across: Measured | None = None
    up: Measured | None = None


def sheet_paper(size: PaperSize) -> TemplatePaper:
    """Paper in sheets."""
    paper = paper_of(size)
    return TemplatePaper(size, paper.width / mm, paper.height / mm)


def roll_paper(width_mm: float) -> TemplatePaper:
    """
    A roll of a given width, of which as much is used as needed.

    Raises
    ------
    ReportError
        If no plotter has such a roll.
    """
    if not ROLL_LEAST_MM <= width_mm <= ROLL_MOST_MM:
        reason = f"a roll is from {ROLL_LEAST_MM:g} to {ROLL_MOST_MM:g} mm wide: give the width of yours"
        raise ReportError(f"roll of {width_mm:g} mm", reason)
    return TemplatePaper(f"roll of {width_mm:g} mm", LONGEST_PAGE_MM, width_mm, roll=True)


def bar_length(paper: TemplatePaper) -> float:
    """Length of both check bars on a paper, mm: the longest of a few round ones that fits across and up."""
    shorter = min(paper.width, paper.height) - MARGINS[1] - MARGINS[3] - OVERLAP_MM
    return next((bar for bar in _BARS if bar <= shorter), _BARS[-1])


def correction(paper: TemplatePaper, length: Measured | None) -> float:
    """
    Factor by which to draw so that the printer prints true.

    Raises
    ------
    ReportError
        If the length is so far from what was to be that it was misread or the print was fitted to the page.
    """
    if length is None:
        return 1.0
    printed = bar_length(paper) if length.printed is None else length.printed
    if not (printed > 0.0 and abs(length.measured / printed - 1.0) <= LARGEST_CORRECTION):
        reason = (
            f"{length.measured:g} mm is too far from its {printed:g} mm: print at 100 %, without fitting to the page, "
            "and measure from middle to middle of its ends"
        )
        raise ReportError("check bar", reason)
    return printed / length.measured


def write_template(
    drawing: Drawing, path: Path, paper: TemplatePaper, check: PrinterCheck | None = None, invariant: bool = True
) -> Printed:
    """
    Write the full-size template of a drawing as a PDF.

    Parameters
    ----------
    paper
        From :func:`sheet_paper` or :func:`roll_paper`.
    check
        What was measured on an earlier print, to correct the printer.
    invariant
        Leave the time of writing out, so that equal templates are equal files.

    Returns
    -------
    Printed
        How it was laid out.

    Raises
    ------
    ReportError
        If the file can't be written, an old one then stays as it was, or a check bar can't be right.
    """
    check = check or PrinterCheck()
    factors = correction(paper, check.across), correction(paper, check.up)
    printed = Printed(drawing, paper.name, _tiling(drawing, paper, factors), bar_length(paper), factors)
    pdf = _pdf(printed, paper, invariant)
    with replacing(path, ReportError) as stream:
        stream.write(pdf)
    return printed


def _tiling(drawing: Drawing, paper: TemplatePaper, factors: Point) -> Tiling:
    """Upright or lying, whichever takes fewer sheets; a correction of the printer doesn't turn the paper."""
    if paper.roll:
        return tiling(drawing, (paper.width / factors[0], paper.height / factors[1]), roll=True)
    ways = ((paper.width, paper.height), (paper.height, paper.width))
    width, height = min(ways, key=lambda way: len(tiling(drawing, way).cells))
    return tiling(drawing, (width / factors[0], height / factors[1]))


def _pdf(printed: Printed, paper: TemplatePaper, invariant: bool) -> bytes:
    register_fonts()
    stream = BytesIO()
    canvas = Canvas(stream, invariant=int(invariant), lang="en", pageCompression=1)
    canvas.setTitle(shown(f"Full-size template: {printed.drawing.title}", 200))
    canvas.setSubject("Print at 100 % and measure the check bars")
    draw_front_matter(canvas, printed, PaperSize.A4 if paper.roll else PaperSize(paper.name))
    put_drawing(canvas, printed.drawing)
    for cell in printed.tiling.cells:
        draw_sheet(canvas, printed, cell)
    canvas.save()
    return stream.getvalue()
