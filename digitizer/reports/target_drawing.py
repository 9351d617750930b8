"""A printed target as rectangles, and the check bars that tell what the printer made of it."""

from __future__ import annotations

from itertools import pairwise

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from digitizer.imaging.target_layout import is_black, marker_outlines, pattern_size, square_mm
from digitizer.job.model import Target, TargetKind
from digitizer.reports.paper import BOLD

Rectangle = tuple[float, float, float, float]
"""Left, bottom, width, height."""

_TICK_MM = 5.0


def draw_pattern(canvas: Canvas, target: Target, middle: tuple[float, float]) -> None:
    """Draw a target at true size; one path for all of it, so that neighbouring rectangles leave no seam."""
    path = canvas.beginPath()
    for left, bottom, width, height in black_rectangles(target):
        path.rect(middle[0] + left * mm, middle[1] + bottom * mm, width * mm, height * mm)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


def black_rectangles(target: Target) -> list[Rectangle]:
    """Every black part of a target in its own system, mm."""
    squares = _black_squares(target) if target.kind is TargetKind.CHARUCO else []
    return squares + [part for number in marker_outlines(target) for part in _black_modules(target, number)]


def draw_check_bar(canvas: Canvas, length_mm: float, middle: tuple[float, float], upright: bool) -> None:
    """Draw a bar that is as long as it says between the middles of its end ticks."""
    half, tick = length_mm / 2 * mm, _TICK_MM / 2 * mm
    canvas.saveState()
    canvas.translate(*middle)
    canvas.rotate(90 if upright else 0)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.25 * mm)
    canvas.line(-half, 0, half, 0)
    for end in (-half, half):
        canvas.line(end, -tick, end, tick)
    canvas.setFillGray(0)
    canvas.setFont(BOLD, 8)
    canvas.drawCentredString(0, 1.2 * mm, f"check bar {length_mm:g} mm")
    canvas.restoreState()


def _black_squares(target: Target) -> list[Rectangle]:
    side = square_mm(target)
    width, height = pattern_size(target)
    cells = [(row, column) for row in range(target.rows) for column in range(target.columns)]
    return [
        (column * side - width / 2, height / 2 - (row + 1) * side, side, side)
        for row, column in cells
        if is_black(target, (row, column))
    ]


def _black_modules(target: Target, number: int) -> list[Rectangle]:
    """Black runs of a marker, row by row."""
    from digitizer.imaging.marker_search import marker_modules

    modules = marker_modules(target.dictionary, number)
    left, top = marker_outlines(target)[number][0]
    step = target.marker_mm / len(modules)
    return [
        (left + start * step, top - (row + 1) * step, (end - start) * step, step)
        for row, bits in enumerate(modules)
        for start, end in _runs(list(bits))
    ]


def _runs(bits: list[bool]) -> list[tuple[int, int]]:
    """Start and end of each unbroken stretch of true values."""
    edges = [0, *(k for k in range(1, len(bits)) if bits[k] != bits[k - 1]), len(bits)]
    return [(start, end) for start, end in pairwise(edges) if bits[start]]
