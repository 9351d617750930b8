"""
Where a photo lies on the screen: pan and zoom, and the way between marks and screen.

Marks count from the centre of the first pixel, Qt from its corner. The half pixel is added here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF, QSizeF

_LARGEST = 64.0
"""Screen pixels a photo's pixel may fill."""


@dataclass(frozen=True)
class Viewport:
    """A picture's place on a widget: `scale` screen pixels a picture pixel, `left`, `top` seen at the upper left."""

    scale: float = 1.0
    left: float = 0.0
    top: float = 0.0

    def screen(self, x_px: float, y_px: float) -> QPointF:
        """Where a mark is on the screen."""
        return QPointF((x_px + 0.5 - self.left) * self.scale, (y_px + 0.5 - self.top) * self.scale)

    def mark(self, screen: QPointF) -> tuple[float, float]:
        """Position that a mark at this place of the screen would have."""
        return screen.x() / self.scale + self.left - 0.5, screen.y() / self.scale + self.top - 0.5

    def visible(self, size: QSizeF, width: float, height: float) -> tuple[QRectF, QRectF]:
        """Part of a picture that the widget shows, and where on it."""
        seen = QRectF(self.left, self.top, size.width() / self.scale, size.height() / self.scale)
        part = seen.intersected(QRectF(0.0, 0.0, width, height))
        place = QRectF(
            (part.x() - self.left) * self.scale,
            (part.y() - self.top) * self.scale,
            part.width() * self.scale,
            part.height() * self.scale,
        )
        return part, place

    def zoomed(self, factor: float, at: QPointF) -> Viewport:
        """The same, larger or smaller, what is under `at` staying there."""
        scale = min(_LARGEST, max(0.005, self.scale * factor))
        shift = 1.0 / self.scale - 1.0 / scale
        return Viewport(scale, self.left + at.x() * shift, self.top + at.y() * shift)

    def panned(self, by: QPointF) -> Viewport:
        """The same, moved by some screen pixels."""
        return replace(self, left=self.left - by.x() / self.scale, top=self.top - by.y() / self.scale)

    def centred(self, x_px: float, y_px: float, size: QSizeF, scale: float | None = None) -> Viewport:
        """A mark in the middle of the widget."""
        scale = self.scale if scale is None else scale
        return Viewport(scale, x_px + 0.5 - size.width() / scale / 2, y_px + 0.5 - size.height() / scale / 2)


def fitted(size: QSizeF, part: QRectF) -> Viewport:
    """A part of a picture as large as the widget lets it be, in the middle."""
    across = size.width() / max(1.0, part.width())
    down = size.height() / max(1.0, part.height())
    scale = max(0.005, min(across, down, _LARGEST))
    left = part.center().x() - size.width() / scale / 2
    return Viewport(scale, left, part.center().y() - size.height() / scale / 2)
