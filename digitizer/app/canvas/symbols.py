"""
Marks as the screen shows them: the same shapes by kind as on paper, a light core on a dark edge.

The edge keeps them readable on white gelcoat, the core on navy paint, and the shape tells the kind without colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QPixmap

from digitizer.job.model import MarkKind
from digitizer.reports.plates import mark_shape, symbol
from digitizer.reports.sheet import Disc

EDGE = QColor(16, 24, 32)
CORE = QColor(255, 255, 255)
CHOSEN = QColor(255, 200, 60)
PROPOSED = QColor(120, 230, 255)
_SIZE = 6.0


_HALF = 14.0
"""Half the side of a mark's stamp, room for the widest edge included."""


@dataclass(frozen=True, eq=False)
class Look:
    """How a line or mark is drawn: the colour of its core, its width, whether it is dashed."""

    core: QColor
    width: float = 1.4
    dashed: bool = False


PLAIN = Look(CORE)
SELECTED = Look(CHOSEN, 2.6)
DASHED = Look(PROPOSED, 1.6, dashed=True)
RIVAL = Look(CORE, 1.0, dashed=True)


@cache
def mark_path(kind: MarkKind) -> QPainterPath:
    """The outline of a kind's sign about the origin, y down."""
    path = QPainterPath()
    for item in symbol(mark_shape(kind), 0.0, 0.0, _SIZE):
        if isinstance(item, Disc):
            radius = max(item.radius, 2.0)
            path.addEllipse(QPointF(item.x, -item.y), radius, radius)
            continue
        path.moveTo(item.points[0][0], -item.points[0][1])
        for x, y in item.points[1:]:
            path.lineTo(x, -y)
        if item.closed:
            path.closeSubpath()
    return path


def draw_mark(painter: QPainter, at: QPointF, kind: MarkKind, look: Look = PLAIN) -> None:
    """One mark's sign, from a picture of it that is painted once."""
    device = painter.device()
    painter.drawPixmap(at - QPointF(_HALF, _HALF), _stamp(kind, look, device.devicePixelRatio() if device else 1.0))


@cache
def _stamp(kind: MarkKind, look: Look, ratio: float) -> QPixmap:
    side = round(2 * _HALF * ratio)
    stamp = QPixmap(side, side)
    stamp.setDevicePixelRatio(ratio)
    stamp.fill(Qt.GlobalColor.transparent)
    painter = QPainter(stamp)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw_path(painter, mark_path(kind).translated(QPointF(_HALF, _HALF)), look)
    painter.end()
    return stamp


def draw_path(painter: QPainter, path: QPainterPath, look: Look = PLAIN) -> None:
    """A path, dark edge under light core."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(_pen(EDGE, look.width + 2.2, look.dashed))
    painter.drawPath(path)
    painter.setPen(_pen(look.core, look.width, look.dashed))
    painter.drawPath(path)


def draw_course(painter: QPainter, points: Sequence[QPointF], look: Look = PLAIN) -> None:
    """A line through points, dark edge under light core; nothing for a single one."""
    if len(points) > 1:
        path = QPainterPath(points[0])
        for point in points[1:]:
            path.lineTo(point)
        draw_path(painter, path, look)


def draw_line(painter: QPainter, a: QPointF, b: QPointF, look: Look = PLAIN) -> None:
    """A straight line, dark edge under light core."""
    draw_course(painter, [a, b], look)


def draw_text(painter: QPainter, at: QPointF, text: str) -> None:
    """A short text on a dark plate, its left end at a place."""
    font = QFont(painter.font())
    metrics = QFontMetricsF(font)
    box = metrics.boundingRect(text).translated(at).adjusted(-4.0, -2.0, 4.0, 2.0)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(QColor(16, 24, 32, 205)))
    painter.drawRoundedRect(box, 3.0, 3.0)
    painter.setPen(QPen(CORE))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawText(at, text)


def _pen(colour: QColor, width: float, dashed: bool) -> QPen:
    pen = QPen(colour, width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap if dashed else Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dashed:
        pen.setDashPattern([4.0 / width * 1.4, 3.0 / width * 1.4])
    return pen
