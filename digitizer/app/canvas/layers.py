"""What may lie between picture and marks: lines through marks, residuals, error ellipses, names."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath

from digitizer.app.canvas import symbols
from digitizer.app.canvas.ellipses import paint_ellipses, paint_legend
from digitizer.job.model import Job, Mark, MarkKind

if TYPE_CHECKING:
    from digitizer.app.canvas.canvas import Canvas

_JOINED = (
    MarkKind.REFERENCE_LINE,
    MarkKind.BOTTOM_EDGE,
    MarkKind.OUTLINE,
    MarkKind.TOP_EDGE,
    MarkKind.PAD,
    MarkKind.CRACK,
    MarkKind.AREA,
)
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

    def paint_still(self, painter: QPainter, canvas: Canvas, moving: Container[str]) -> None:
        """Lines, lengths and names, but those of marks that are being moved."""
        still = [mark for mark in canvas.marks() if mark.id not in moving]
        at = _on_screen(canvas, still)
        self._paint_lines(painter, canvas, still, at, list(_lengths(canvas.document.shown, at)))
        self._paint_surveyed(painter, canvas, still, at)
        if self.ellipses:
            paint_legend(painter, canvas, self.magnification)

    def paint_moving(self, painter: QPainter, canvas: Canvas, moving: Container[str]) -> None:
        """Lines, lengths and names of marks that are being moved."""
        marks = canvas.marks()
        at = _on_screen(canvas, marks)
        lengths = [
            length for length in _lengths(canvas.document.shown, at) if any(end in moving for end in length.ends)
        ]
        moved = [mark for mark in marks if mark.id in moving]
        self._paint_lines(painter, canvas, moved, at, lengths)
        self._paint_surveyed(painter, canvas, moved, at)

    def paint_answer(self, painter: QPainter, canvas: Canvas) -> None:
        """What follows with every answer, as far as it is switched on."""
        if self.residuals:
            self._paint_residuals(painter, canvas, _on_screen(canvas, canvas.marks()))

    def _paint_surveyed(
        self, painter: QPainter, canvas: Canvas, marks: Sequence[Mark], at: Mapping[str, QPointF]
    ) -> None:
        """What the last whole measurement says of marks: it stays while one is held."""
        if canvas.document.lit:
            _paint_influence(painter, {mark.id: canvas.document.lit.get(mark.id, 0.0) for mark in marks}, at)
        if self.ellipses:
            paint_ellipses(painter, canvas, self.magnification, marks)

    def _paint_lines(
        self,
        painter: QPainter,
        canvas: Canvas,
        marks: Sequence[Mark],
        at: Mapping[str, QPointF],
        lengths: Sequence[_Length],
    ) -> None:
        for line in _lines(marks):
            symbols.draw_course(painter, [at[mark.id] for mark in line if mark.id in at], _THIN)
        for length in lengths:
            a, b = (at[end] for end in length.ends)
            symbols.draw_line(painter, a, b, _THIN)
        if self.names:
            taken = self._paint_names(painter, canvas, marks, at)
            for length in lengths:
                a, b = (at[end] for end in length.ends)
                _write(painter, (a + b) / 2 + QPointF(6, -6), length.text, taken, always=False)

    def _paint_names(
        self, painter: QPainter, canvas: Canvas, marks: Sequence[Mark], at: Mapping[str, QPointF]
    ) -> list[QRectF]:
        """Names of fittings and sides; what they cover."""
        taken: list[QRectF] = []
        fittings = {f.id: f.name or f.id for f in canvas.document.shown.fittings}
        groups: dict[str, list[QPointF]] = defaultdict(list)
        for mark in marks:
            if mark.of in fittings and mark.id in at:
                groups[mark.of].append(at[mark.id])
        for fitting, points in groups.items():
            right = max(points, key=lambda p: p.x())
            _write(painter, right + QPointF(10, 4), fittings[fitting], taken, fitting in canvas.document.selection)
        for mark in marks:
            if mark.side is not None and mark.kind in (MarkKind.CHINE, MarkKind.TOP_CORNER) and mark.id in at:
                _write(painter, at[mark.id] + QPointF(10, -8), mark.side.value[0].upper(), taken, True)
        return taken

    def _paint_residuals(self, painter: QPainter, canvas: Canvas, at: Mapping[str, QPointF]) -> None:
        survey = canvas.document.survey
        off: dict[str, list[float]] = defaultdict(list)
        for seen in survey.observations if survey else ():
            if seen.unit == "px" and seen.subject in at:
                off[seen.subject].append(-seen.residual)
        for mark_id, parts in off.items():
            if len(parts) == 2:
                scale = self.magnification * canvas.viewport.scale
                symbols.draw_line(painter, at[mark_id], at[mark_id] + QPointF(*parts) * scale, _RESIDUAL)


def _paint_influence(painter: QPainter, lit: Mapping[str, float], at: Mapping[str, QPointF]) -> None:
    """Rings round the marks that the chosen dimension rests on: the wider and thicker, the larger the share."""
    taken: list[QRectF] = []
    for mark, share in sorted(lit.items(), key=lambda each: -each[1]):
        if share > 0.0 and mark in at:
            radius, look = influence_ring(share)
            ring = QPainterPath()
            ring.addEllipse(at[mark], radius, radius)
            symbols.draw_path(painter, ring, look)
            corner = at[mark] + QPointF(0.75 * radius + 6.0, -0.75 * radius - 4.0)
            _write(painter, corner, f"{share:.0%}" if share >= 0.01 else "< 1%", taken, always=False)


def influence_ring(share: float) -> tuple[float, symbols.Look]:
    """Radius (screen px) and look of a ring for a share of the variance: its area grows with the share."""
    return 11.0 + 30.0 * math.sqrt(share), symbols.Look(symbols.CHOSEN, 1.2 + 5.0 * share)


def _write(painter: QPainter, at: QPointF, text: str, taken: list[QRectF], always: bool) -> None:
    """A name where it covers no other name; larger views have room for all of them."""
    box = QFontMetricsF(painter.font()).boundingRect(text).translated(at)
    if always or not any(box.intersects(other) for other in taken):
        taken.append(box)
        symbols.draw_text(painter, at, text)


def are_joined(mark: Mark, other: Mark) -> bool:
    """Whether a line or a name belongs to both."""
    return (mark.of is not None and mark.of == other.of) or (mark.kind in _JOINED and _group(mark) == _group(other))


def _group(mark: Mark) -> tuple[MarkKind, object, object]:
    return mark.kind, mark.side, mark.of


def _on_screen(canvas: Canvas, marks: Iterable[Mark]) -> dict[str, QPointF]:
    places = ((mark.id, canvas.place_of(mark)) for mark in marks)
    return {i: canvas.viewport.screen(*place) for i, place in places if place is not None}


def _lines(marks: Iterable[Mark]) -> Iterator[list[Mark]]:
    """Marks that one line joins, from left to right; round an outline, pad or area and along a crack as marked."""
    groups: dict[tuple[MarkKind, object, object], list[Mark]] = defaultdict(list)
    for mark in marks:
        if mark.kind in _JOINED:
            groups[_group(mark)].append(mark)
    for (kind, _, _), group in groups.items():
        as_marked = kind in (MarkKind.OUTLINE, MarkKind.PAD, MarkKind.CRACK, MarkKind.AREA)
        yield group if as_marked else sorted(group, key=lambda mark: mark.x_px)


class _Length(NamedTuple):
    """A known length in a photo: the marks at its ends, and what is written on it."""

    ends: tuple[str, str]
    text: str


def _lengths(job: Job, at: Mapping[str, QPointF]) -> Iterator[_Length]:
    """Known lengths whose ends are both in this photo."""
    of_point = {mark.point or mark.id: mark.id for mark in job.marks if mark.id in at}
    for length in job.lengths:
        a, b = of_point.get(length.from_point), of_point.get(length.to_point)
        if a is not None and b is not None:
            yield _Length((a, b), f"{length.length_mm:g} mm")
