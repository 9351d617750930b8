"""Signs on a canvas: marks, clicks that wait for others, and what a click would find."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from digitizer.app.canvas import symbols
from digitizer.app.canvas.viewport import Viewport
from digitizer.app.proposing import Proposed
from digitizer.app.tools import Tool
from digitizer.job.edits import Click
from digitizer.job.model import Mark, MarkKind

if TYPE_CHECKING:
    from digitizer.app.canvas.canvas import Canvas

_ASIDE = 0.45
"""Opacity of marks that are not used."""


def paint_marks(painter: QPainter, canvas: Canvas, marks: Iterable[Mark], part: QRectF) -> None:
    """Marks that lie in a part of the painter's plane; the chosen ones, and those of a chosen fitting, stand out."""
    chosen = set(canvas.document.selection)
    for mark in marks:
        place = canvas.place_of(mark)
        if place is None or not part.contains(canvas.viewport.screen(*place)):
            continue
        lit = mark.id in chosen or mark.of in chosen
        painter.setOpacity(1.0 if mark.active else _ASIDE)
        look = symbols.SELECTED if lit else symbols.PLAIN
        symbols.draw_mark(painter, canvas.viewport.screen(*place), mark.kind, look)
    painter.setOpacity(1.0)


def paint_clicks(painter: QPainter, viewport: Viewport, kind: MarkKind, clicks: Iterable[Click]) -> None:
    """Clicks of a gesture that is not finished."""
    for click in clicks:
        symbols.draw_mark(painter, viewport.screen(click.x_px, click.y_px), kind, symbols.SELECTED)


def paint_proposal(painter: QPainter, viewport: Viewport, proposed: Proposed, tool: Tool | None) -> None:
    """The edge that a click would take, and the one that competes with it."""
    for n, option in enumerate((proposed, *proposed.rivals[:1])):
        course = [viewport.screen(x, y) for x, y in option.course]
        symbols.draw_course(painter, course, symbols.DASHED if n == 0 else symbols.RIVAL)
    if len(proposed.clicks) == 1 and tool is not None:
        click = proposed.clicks[0]
        symbols.draw_mark(painter, viewport.screen(click.x_px, click.y_px), tool.kind, symbols.DASHED)
