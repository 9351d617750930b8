"""What stays where it is while a mark is held: painted once, then laid down as a picture with every move."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtWidgets import QWidget


class Ground:
    """A picture of a widget's still part, painted anew when what it was made from changes."""

    def __init__(self) -> None:
        self._made_from: tuple[object, ...] | None = None
        self._picture = QPixmap()

    def paint(
        self, painter: QPainter, widget: QWidget, made_from: tuple[object, ...], draw: Callable[[QPainter], None]
    ) -> None:
        """Lay the picture down; `draw` paints it where it was made from something else, or for another size."""
        made_from = (widget.size(), widget.devicePixelRatioF(), *made_from)
        if made_from != self._made_from:
            self._made_from = made_from
            self._picture = QPixmap(widget.size() * widget.devicePixelRatioF())
            self._picture.setDevicePixelRatio(widget.devicePixelRatioF())
            inner = QPainter(self._picture)
            draw(inner)
            inner.end()
        painter.drawPixmap(0, 0, self._picture)

    def forget(self) -> None:
        """Nothing is held any more."""
        self._made_from, self._picture = None, QPixmap()
