"""
The flattened view: the photo as if taken square on, with a grid in millimetres, marks placed and dragged on it too.

It is a canvas over another picture; where a mark lies in the photo, the latest whole measurement says.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPalette

from digitizer.app.canvas import symbols
from digitizer.app.canvas.canvas import Canvas
from digitizer.app.canvas.viewport import fitted
from digitizer.app.document import Document
from digitizer.app.pictures import Picture
from digitizer.app.pictures import picture as pictured
from digitizer.app.words import tr
from digitizer.job.model import Mark
from digitizer.survey.flattening import FlatMap, Region, flattened, region_of
from digitizer.survey.mark_records import AdjustedPlace, Covariance
from digitizer.survey.model import Survey
from digitizer.units import format_length

if TYPE_CHECKING:
    from digitizer.survey.expected import Contour
    from digitizer.survey.live import Live

_LARGEST_PX = 2400.0
_GRIDS_MM = (10.0, 50.0, 100.0, 500.0)
_LEAST_GAP = 38.0
"""Screen pixels that grid lines stay apart."""
_GRID = symbols.Look(symbols.CORE, 0.6)
_CONTOUR = symbols.Look(symbols.PROPOSED, 1.4)
_AXIS = symbols.Look(symbols.CHOSEN, 1.0)


class FlatCanvas(Canvas):
    """One photo laid flat by the latest survey."""

    def __init__(self, document: Document) -> None:
        super().__init__(document)
        self.setAccessibleName(tr("Flattened view"))
        self._made_from: tuple[Survey, str] | None = None
        self._map: FlatMap | None = None
        self._region: Region = (0.0, 0.0, 1.0, 1.0)
        self._mm_per_px = 1.0
        self._flat: Picture | None = None
        self._contours: tuple[Live, str, list[Contour]] | None = None
        document.answered.connect(self._answered)

    # ---- the other picture ---------------------------------------------------------------------------------------

    def picture(self) -> Picture | None:
        """The photo laid flat; none before there is a survey."""
        self._make()
        return self._flat

    def place_of(self, mark: Mark) -> tuple[float, float] | None:
        """Where a mark lies on the flattened picture."""
        if self._map is None:
            return None
        return self._flat_px(self._map.to_face(np.array([[mark.x_px, mark.y_px]]))[0])

    def spread_of(self, place: AdjustedPlace) -> Covariance:
        """How surely a mark is placed on the face, in pixels of the flattened picture, squared; y down."""
        xx, xy, yy = (part / self._mm_per_px**2 for part in place.covariance_mm)
        return xx, -xy, yy

    def spread_unit(self) -> tuple[str, float]:
        """Millimetres."""
        return "mm", 1.0 / self._mm_per_px

    def photo_place(self, x: float, y: float) -> tuple[float, float] | None:
        """The photo's pixel under a place of the flattened picture."""
        if self._map is None:
            return None
        px = self._map.to_photo(np.array([self._face_mm(x, y)]))[0]
        photo = self._map.photo
        inside = -0.5 <= px[0] <= photo.width_px - 0.5 and -0.5 <= px[1] <= photo.height_px - 0.5
        return (float(px[0]), float(px[1])) if inside else None

    def _flat_px(self, face: np.ndarray) -> tuple[float, float] | None:
        if not np.all(np.isfinite(face)):
            return None
        x = (float(face[0]) - self._region[0]) / self._mm_per_px - 0.5
        return x, (self._region[3] - float(face[1])) / self._mm_per_px - 0.5

    def _face_mm(self, x: float, y: float) -> tuple[float, float]:
        return self._region[0] + (x + 0.5) * self._mm_per_px, self._region[3] - (y + 0.5) * self._mm_per_px

    def _make(self) -> None:
        """Lay the photo flat, once for each whole measurement, and only while somebody looks."""
        answer, photo_id = self.document.answer, self.photo_id
        loaded = self.document.photos.get(photo_id or "")
        if answer.survey is None or loaded is None or photo_id is None or not self.isVisible():
            return
        if not answer.is_full or (self._made_from and self._made_from == (answer.survey, photo_id)):
            return
        photo = next((p for p in answer.survey.photos if p.id == photo_id), None)
        self._made_from = (answer.survey, photo_id)
        if photo is None or not answer.survey.points:
            self._map = self._flat = None
            return
        self._map = FlatMap(photo, answer.survey.curvature_per_mm)
        self._region = region_of(answer.survey)
        width = max(self._region[2] - self._region[0], self._region[3] - self._region[1])
        self._mm_per_px = max(photo.sample_distance_mm, width / _LARGEST_PX)
        self._flat = pictured(flattened(loaded.picture.pixels, self._map, self._region, self._mm_per_px))
        if self._fresh or self._whole:
            self.viewport = fitted(QSizeF(self.size()), QRectF(0, 0, self._flat.width, self._flat.height))
            self._fresh, self._whole = False, True

    def _answered(self) -> None:
        if self.isVisible():
            self.update()

    # ---- painting ------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """The canvas, then the grid's figures and the chosen mark's place from the datum lines."""
        if self.picture() is None:
            painter = QPainter(self)
            painter.fillRect(self.rect(), self.palette().color(QPalette.ColorRole.Window))
            painter.setPen(self.palette().color(QPalette.ColorRole.PlaceholderText))
            words = tr("The flattened view appears here once there is enough to measure.")
            room = QRectF(self.rect()).adjusted(16, 16, -16, -16)
            painter.drawText(room, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, words)
            return
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_grid(painter)
        if self.layers.expected:
            self._paint_contours(painter)
        self._paint_chosen(painter)

    def _paint_contours(self, painter: QPainter) -> None:
        """Where this photo is weak: a further careful click would be good to ± so much."""
        for line in self._lines_of_equal_uncertainty():
            points = [self._screen(float(x), float(y)) for x, y in line.places]
            symbols.draw_course(painter, points, _CONTOUR)
            unit = self.document.job.settings.unit.value
            symbols.draw_text(painter, points[len(points) // 3], f"± {format_length(line.U_mm, unit)}")

    def _lines_of_equal_uncertainty(self) -> list[Contour]:
        from digitizer.survey.expected import contours  # brings the adjustment, which the window's start need not

        live = self.live()
        if live is None or self.photo_id is None or self.photo_id not in {p.id for p in live.survey.photos}:
            return []
        if self._contours is None or self._contours[:2] != (live, self.photo_id):
            self._contours = (live, self.photo_id, contours(live, self.photo_id, self._region))
        return self._contours[2]

    def _paint_grid(self, painter: QPainter) -> None:
        unit = self.document.job.settings.unit.value
        per_mm = self.viewport.scale / self._mm_per_px
        step = next((mm for mm in _GRIDS_MM if mm * per_mm >= _LEAST_GAP), 1000.0)
        frame = self._frame()
        left, top = self._face_mm(*self.viewport.mark(frame.topLeft()))
        right, bottom = self._face_mm(*self.viewport.mark(frame.bottomRight()))
        for n in range(math.ceil(left / step), math.floor(right / step) + 1):
            x = self._screen(n * step, 0.0).x()
            look = _AXIS if n == 0 else _GRID
            symbols.draw_line(painter, QPointF(x, frame.top()), QPointF(x, frame.bottom()), look)
            symbols.draw_text(painter, QPointF(x + 4, frame.bottom() - 8), _plain(n * step, unit))
        for n in range(math.ceil(bottom / step), math.floor(top / step) + 1):
            y = self._screen(0.0, n * step).y()
            look = _AXIS if n == 0 else _GRID
            symbols.draw_line(painter, QPointF(frame.left(), y), QPointF(frame.right(), y), look)
            if y < frame.bottom() - 30:  # the lowest corner belongs to the figures along the bottom
                symbols.draw_text(painter, QPointF(frame.left() + 6, y - 5), _plain(n * step, unit))

    def _frame(self) -> QRectF:
        """The part of the widget that shows the flattened picture."""
        assert self._flat is not None
        corner = self.viewport.screen(-0.5, -0.5)
        size = QSizeF(self._flat.width, self._flat.height) * self.viewport.scale
        return QRectF(corner, size).intersected(QRectF(self.rect()))

    def _paint_chosen(self, painter: QPainter) -> None:
        """Dimension lines from the centreline and the baseline to what is chosen."""
        chosen = [m for m in self.marks() if m.id in self.document.selection or m.of in self.document.selection]
        places = [place for mark in chosen if (place := self.place_of(mark)) is not None]
        if not places or len({mark.of or mark.id for mark in chosen}) > 1:
            return
        x, y = (sum(each) / len(places) for each in zip(*places, strict=True))
        face = self._face_mm(x, y)
        at, unit = self.viewport.screen(x, y), self.document.job.settings.unit.value
        for end, mm in ((self._screen(0.0, face[1]), face[0]), (self._screen(face[0], 0.0), face[1])):
            symbols.draw_line(painter, end, at, symbols.SELECTED)
            symbols.draw_text(painter, (end + at) / 2 + QPointF(6, -6), format_length(mm, unit))

    def _screen(self, x_mm: float, y_mm: float) -> QPointF:
        place = self._flat_px(np.array([x_mm, y_mm])) or (0.0, 0.0)
        return self.viewport.screen(*place)


def _plain(mm: float, unit: str) -> str:
    """A round figure of the grid, without decimals where it has none."""
    return f"{mm:.0f}".replace("-", "−") if unit == "mm" else format_length(mm, unit)
