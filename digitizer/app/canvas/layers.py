"""What may lie between picture and marks: lines through marks, residuals, error ellipses, names."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath

from digitizer.app.canvas import symbols
from digitizer.job.model import Job, Mark, MarkKind

if TYPE_CHECKING:
    from digitizer.app.canvas.canvas import Canvas

_JOINED = (MarkKind.REFERENCE_LINE, MarkKind.BOTTOM_EDGE, MarkKind.OUTLINE, MarkKind.TOP_EDGE, MarkKind.PAD)
_THIN = symbols.Look(symbols.CORE, 0.9)
_RESIDUAL = symbols.Look(symbols.CHOSEN, 1.6)


@dataclass
class Layers:
    """Which of them are shown, and how much residuals and ellipses are enlarged."""

    names: bool = True
    residuals: bool = False
    ellipses: bool = False
    expected: bool = False
    """Lines of equal expected uncertainty, on the flattened view."""
    magnification: float = 50.0

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        """Everything that is switched on."""
        places = {mark.id: canvas.place_of(mark) for mark in canvas.marks()}
        at = {i: canvas.viewport.screen(*place) for i, place in places.items() if place is not None}
        for line in _lines(canvas.marks()):
            symbols.draw_course(painter, [at[mark.id] for mark in line if mark.id in at], _THIN)
        lengths = list(_lengths(canvas.document.shown, at))
        for a, b, _ in lengths:
            symbols.draw_line(painter, a, b, _THIN)
        if self.names:
            taken = self._paint_names(painter, canvas, at)
            for a, b, text in lengths:
                _write(painter, (a + b) / 2 + QPointF(6, -6), text, taken, always=False)
        if self.residuals:
            self._paint_residuals(painter, canvas, at)
        if self.ellipses:
            self._paint_ellipses(painter, canvas, at)

    def _paint_names(self, painter: QPainter, canvas: Canvas, at: dict[str, QPointF]) -> list[QRectF]:
        """Names of fittings and sides; what they cover."""
        taken: list[QRectF] = []
        fittings = {f.id: f.name or f.id for f in canvas.document.shown.fittings}
        groups: dict[str, list[QPointF]] = defaultdict(list)
        for mark in canvas.marks():
            if mark.of in fittings and mark.id in at:
                groups[mark.of].append(at[mark.id])
        for fitting, points in groups.items():
            right = max(points, key=lambda p: p.x())
            _write(painter, right + QPointF(10, 4), fittings[fitting], taken, fitting in canvas.document.selection)
        for mark in canvas.marks():
            if mark.side is not None and mark.kind in (MarkKind.CHINE, MarkKind.TOP_CORNER) and mark.id in at:
                _write(painter, at[mark.id] + QPointF(10, -8), mark.side.value[0].upper(), taken, True)
        return taken

    def _paint_residuals(self, painter: QPainter, canvas: Canvas, at: dict[str, QPointF]) -> None:
        survey = canvas.document.survey
        off: dict[str, list[float]] = defaultdict(list)
        for seen in survey.observations if survey else ():
            if seen.unit == "px" and seen.subject in at:
                off[seen.subject].append(-seen.residual)
        for mark_id, parts in off.items():
            if len(parts) == 2:
                scale = self.magnification * canvas.viewport.scale
                symbols.draw_line(painter, at[mark_id], at[mark_id] + QPointF(*parts) * scale, _RESIDUAL)

    def _paint_ellipses(self, painter: QPainter, canvas: Canvas, at: dict[str, QPointF]) -> None:
        for mark in canvas.marks():
            if mark.id in at:
                radius = mark.u_px * self.magnification * canvas.viewport.scale
                path = QPainterPath()
                path.addEllipse(at[mark.id], radius, radius)
                symbols.draw_path(painter, path, _THIN)


def _write(painter: QPainter, at: QPointF, text: str, taken: list[QRectF], always: bool) -> None:
    """A name where it covers no other name; larger views have room for all of them."""
    box = QFontMetricsF(painter.font()).boundingRect(text).translated(at)
    if always or not any(box.intersects(other) for other in taken):
        taken.append(box)
        symbols.draw_text(painter, at, text)


def _lines(marks: Iterable[Mark]) -> Iterator[list[Mark]]:
    """Marks that one line joins, from left to right; round a pad and an outline in their own order."""
    groups: dict[tuple[MarkKind, object, object], list[Mark]] = defaultdict(list)
    for mark in marks:
        if mark.kind in _JOINED:
            groups[(mark.kind, mark.side, mark.of)].append(mark)
    for (kind, _, _), group in groups.items():
        around = kind in (MarkKind.OUTLINE, MarkKind.PAD)
        yield group if around else sorted(group, key=lambda mark: mark.x_px)


def _lengths(job: Job, at: dict[str, QPointF]) -> Iterator[tuple[QPointF, QPointF, str]]:
    """Known lengths whose ends are both in this photo."""
    of_point = {mark.point or mark.id: mark.id for mark in job.marks if mark.id in at}
    for length in job.lengths:
        ends = [of_point.get(p) for p in (length.from_point, length.to_point)]
        if ends[0] is not None and ends[1] is not None:
            yield at[ends[0]], at[ends[1]], f"{length.length_mm:g} mm"
