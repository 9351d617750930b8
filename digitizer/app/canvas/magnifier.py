"""The magnifier: the pixels under the pointer, so large that a tenth of one can be seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSizeF
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen

from digitizer.app.canvas.viewport import Viewport
from digitizer.app.pictures import Picture

if TYPE_CHECKING:
    from digitizer.app.canvas.canvas import Canvas

SIDE = 168.0
ZOOM = 5.0
_GAP = 28.0


def paint_magnifier(painter: QPainter, canvas: Canvas, picture: Picture, pointer: QPointF) -> None:
    """A round glass beside the pointer, on the side where there is room."""
    x = pointer.x() + _GAP if pointer.x() + _GAP + SIDE < canvas.width() else pointer.x() - _GAP - SIDE
    y = pointer.y() - _GAP - SIDE if pointer.y() - _GAP - SIDE > 0 else pointer.y() + _GAP
    glass = QRectF(x, y, SIDE, SIDE)
    mark = canvas.viewport.mark(pointer)
    near = Viewport(max(ZOOM, canvas.viewport.scale * 2.0)).centred(*mark, QSizeF(SIDE, SIDE))
    painter.save()
    rim = QPainterPath()
    rim.addEllipse(glass)
    painter.setClipPath(rim)
    painter.fillRect(glass, QColor(40, 44, 48))
    painter.translate(x, y)
    part, place = near.visible(QSizeF(SIDE, SIDE), picture.width, picture.height)
    if not part.isEmpty():
        picture.paint(painter, part, place)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    kept, canvas.viewport = canvas.viewport, near
    canvas.paint_scene(painter, QRectF(0, 0, SIDE, SIDE))
    canvas.viewport = kept
    _paint_hair(painter)
    painter.translate(-x, -y)
    painter.setClipping(False)
    painter.setPen(QPen(QColor(16, 24, 32), 3.0))
    painter.drawEllipse(glass)
    painter.setPen(QPen(QColor(255, 255, 255), 1.0))
    painter.drawEllipse(glass)
    painter.restore()


def _paint_hair(painter: QPainter) -> None:
    """A cross with an open middle, dark beside light."""
    middle, gap = SIDE / 2, 9.0
    for colour, width in ((QColor(16, 24, 32, 160), 3.0), (QColor(255, 255, 255), 1.0)):
        painter.setPen(QPen(colour, width))
        for a, b in ((0.0, middle - gap), (middle + gap, SIDE)):
            painter.drawLine(QPointF(a, middle), QPointF(b, middle))
            painter.drawLine(QPointF(middle, a), QPointF(middle, b))
