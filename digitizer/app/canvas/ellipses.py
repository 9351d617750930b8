"""Error ellipses over the marks: where the adjusted place lies with 95 % probability, and a legend that says so."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath, QTransform

from digitizer.app.canvas import symbols
from digitizer.app.words import tr
from digitizer.job.model import Mark
from digitizer.survey.mark_records import AdjustedPlace, Covariance

if TYPE_CHECKING:
    from digitizer.app.canvas.canvas import Canvas

TO_95_PERCENT = math.sqrt(-2.0 * math.log(0.05))
"""A standard ellipse times this holds the place with 95 %: √ of χ² with two degrees of freedom."""
_LOOK = symbols.Look(symbols.PROPOSED, 1.4)
_BAR = symbols.Look(symbols.PROPOSED, 3.0)
_BARS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
_SHORTEST_BAR = 36.0
"""Screen pixels."""
_MARGIN = 14.0


def paint_ellipses(painter: QPainter, canvas: Canvas, magnification: float, marks: Iterable[Mark]) -> None:
    """The ellipses of those marks that were measured."""
    live = canvas.live()
    if live is None:
        return
    measured = {mark.id: mark for mark in live.job.marks}
    for mark in marks:
        place = live.adjusted_places.get(mark.id)
        if place is None:
            continue
        at = canvas.place_of(_adjusted(mark, place) if measured.get(mark.id) == mark else mark)
        if at is not None:
            path = ellipse_path(canvas.spread_of(place), TO_95_PERCENT * magnification * canvas.viewport.scale)
            symbols.draw_path(painter, path.translated(canvas.viewport.screen(*at)), _LOOK)


def ellipse_path(covariance: Covariance, factor: float) -> QPainterPath:
    """The ellipse of a covariance about the origin, its standard deviations times `factor`."""
    xx, xy, yy = covariance
    a = math.sqrt(max(xx, 0.0))
    b = xy / a if a > 0.0 else 0.0
    c = math.sqrt(max(yy - b * b, 0.0))  # the root of Cholesky: (a 0; b c) turns the unit circle into the ellipse
    circle = QPainterPath()
    circle.addEllipse(QPointF(0.0, 0.0), 1.0, 1.0)
    return QTransform(a * factor, b * factor, 0.0, c * factor, 0.0, 0.0).map(circle)


def _adjusted(mark: Mark, place: AdjustedPlace) -> Mark:
    return replace(mark, x_px=place.x_px, y_px=place.y_px)


def paint_legend(painter: QPainter, canvas: Canvas, magnification: float) -> None:
    """What the ellipses are, how much they are enlarged, and a bar to compare them with."""
    live = canvas.live()
    line = QFontMetricsF(painter.font()).height() + 6.0
    at = QPointF(_MARGIN, _MARGIN + line)
    if live is None or not any(mark.id in live.adjusted_places for mark in canvas.marks()):
        symbols.draw_text(painter, at, tr("Error ellipses appear once the marks of this photo are measured."))
        return
    symbols.draw_text(painter, at, tr("Error ellipses, 95 %, of the adjusted places"))
    unit, picture_px = canvas.spread_unit()
    per_unit = magnification * picture_px * canvas.viewport.scale
    length = next((bar for bar in _BARS if bar * per_unit >= _SHORTEST_BAR), _BARS[-1])
    words = tr("{times:g} × life size, the bar is {length:g} {unit}", times=magnification, length=length, unit=unit)
    symbols.draw_text(painter, at + QPointF(0.0, line), words)
    end = at + QPointF(0.0, 1.7 * line)
    symbols.draw_line(painter, end, end + QPointF(length * per_unit, 0.0), _BAR)
