"""
The table: a photo with the marks on it, to look at, to mark and to correct.

It shows what the document holds and asks it to edit; what a click means is the tool's affair.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPointF, QRectF, QSizeF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QToolTip, QWidget

from digitizer.app import proposing
from digitizer.app.canvas.ground import Ground
from digitizer.app.canvas.layers import Layers, are_joined
from digitizer.app.canvas.magnifier import paint_magnifier
from digitizer.app.canvas.marks import paint_clicks, paint_marks, paint_proposal
from digitizer.app.canvas.viewport import Viewport, fitted
from digitizer.app.document import Document
from digitizer.app.pictures import Picture
from digitizer.app.proposing import Proposed
from digitizer.app.tools import CLICKS_BEFORE_A_FIGURE, Placed, Tool, mark_name, placed
from digitizer.app.words import tip, tr
from digitizer.job import edits
from digitizer.job.edits import Click
from digitizer.job.model import Mark

if TYPE_CHECKING:
    from digitizer.survey.live import Live
    from digitizer.survey.mark_records import AdjustedPlace, Covariance

_GRAB = 11.0
"""How near the pointer must be to take hold of a mark, screen px."""
_REST_MS = 40
"""A pointer that rested this long is asked for a proposal."""
NUDGE_PX, FAR_NUDGE_PX = 0.1, 1.0
_STEP_ZOOM = 1.25


class Canvas(QWidget):
    """Shows one picture with the marks in it."""

    tool_changed = Signal()
    pair_clicked = Signal(object)
    """Two or four `Click`s of a tool that then wants a figure typed: (tool, clicks)."""
    told = Signal(str)
    """A sentence for the status line."""
    swap_asked = Signal()
    next_asked = Signal(bool)
    """Tab: the next mark that the card expects; backwards if true."""
    dragging_changed = Signal(bool)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.photo_id: str | None = None
        self.live: Callable[[], Live | None] = lambda: None
        """Where the state of the last whole measurement is had from."""
        self.viewport = Viewport()
        self.layers = Layers()
        self.tool: Tool | None = None
        self.group: str | None = None
        self.snaps = True
        self._clicks: list[Click] = []
        self._pointer: QPointF | None = None
        self._pan_from: QPointF | None = None
        self._space_held = self._space_panned = False
        self._dragged: Mark | None = None
        self._grip = QPointF()
        self._ground = Ground()
        self._proposed: Proposed | None = None
        self._fresh = self._whole = True
        self._rest = QTimer(self, interval=_REST_MS, singleShot=True)
        self._rest.timeout.connect(self._propose)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(240, 180)
        self.setAccessibleName(tr("Photo"))
        self.setAccessibleDescription(
            tr("The photo with its marks. Arrows move the chosen mark by a tenth of a pixel.")
        )
        document.job_changed.connect(self._job_changed)
        document.selection_changed.connect(self.update)
        document.lit_changed.connect(self.update)
        document.answered.connect(self.update)
        document.photos_changed.connect(self._photos_changed)

    # ---- what is shown ----------------------------------------------------------------------------------------------

    def show_photo(self, photo_id: str | None) -> None:
        """Show another photo, whole."""
        if photo_id != self.photo_id:
            self.photo_id = photo_id
            self._clicks.clear()
            self._fresh = True
            self.fit()

    def picture(self) -> Picture | None:
        """What lies under the marks; none while it is being read."""
        loaded = self.document.photos.get(self.photo_id or "")
        return loaded.picture if loaded else None

    def marks(self) -> list[Mark]:
        """The marks of this photo as they are shown now."""
        return [mark for mark in self.document.shown.marks if mark.photo == self.photo_id]

    def place_of(self, mark: Mark) -> tuple[float, float] | None:
        """Where a mark lies in the picture shown, px; None where it can't be shown."""
        return mark.x_px, mark.y_px

    def spread_of(self, place: AdjustedPlace) -> Covariance:
        """How surely a mark is placed, in pixels of the picture shown, squared; y down."""
        return place.covariance_px

    def spread_unit(self) -> tuple[str, float]:
        """The unit that spreads are told in, and how many pixels of the picture it is."""
        return "px", 1.0

    def photo_place(self, x: float, y: float) -> tuple[float, float] | None:
        """The photo's pixel under a place of the picture shown; None outside the photo."""
        picture = self.picture()
        inside = picture is not None and -0.5 <= x <= picture.width - 0.5 and -0.5 <= y <= picture.height - 0.5
        return (x, y) if inside else None

    def fit(self) -> None:
        """Show the whole picture."""
        picture = self.picture()
        if picture is not None and self.width() > 1:
            self.viewport = fitted(QSizeF(self.size()), QRectF(0, 0, picture.width, picture.height))
            self._fresh, self._whole = False, True
        self.update()

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Larger or smaller about a place of the screen, the middle if none is given."""
        self.viewport = self.viewport.zoomed(factor, at or QPointF(self.width() / 2, self.height() / 2))
        self._whole = False
        self.update()

    def show_mark(self, mark: Mark) -> None:
        """Bring a mark into the middle, near enough to see its pixels."""
        place = self.place_of(mark)
        if place is not None:
            self._whole = False
            self.viewport = self.viewport.centred(*place, QSizeF(self.size()), max(self.viewport.scale, 1.0))
        self.update()

    def arm(self, tool: Tool | None, group: str | None = None) -> None:
        """Take a tool in hand, or lay it down."""
        self.tool, self.group = tool, group
        self._clicks.clear()
        self._proposed = None
        self.setCursor(Qt.CursorShape.CrossCursor if tool else Qt.CursorShape.ArrowCursor)
        self.tool_changed.emit()
        self.update()

    def _job_changed(self) -> None:
        if self.photo_id not in {photo.id for photo in self.document.shown.photos}:
            photos = self.document.shown.photos
            self.show_photo(photos[0].id if photos else None)
        self.update()

    def _photos_changed(self) -> None:
        if self._fresh:
            self.fit()
        self.update()

    # ---- painting -----------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """Picture, layers, marks, what is proposed, magnifier."""
        painter = QPainter(self)
        picture, moving = self.picture(), self._moving()
        if moving:
            document = self.document
            made_from = (self.viewport, picture, document.job, document.selection, document.lit, replace(self.layers))
            self._ground.paint(painter, self, made_from, lambda inner: self._paint_still(inner, moving))
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            self.layers.paint_moving(painter, self, moving)
            paint_marks(painter, self, [mark for mark in self.marks() if mark.id in moving], QRectF(self.rect()))
        else:
            self._ground.forget()
            self._paint_still(painter, moving)
        self.layers.paint_answer(painter, self)
        self._paint_waiting(painter)
        if picture is not None and self._pointer is not None and (self.tool or self._dragged):
            paint_magnifier(painter, self, picture, self._pointer)
        painter.end()

    def _moving(self) -> frozenset[str]:
        """Marks that move with the one that is held, or are joined to it."""
        held = self._dragged
        if held is None or self.document.shown is self.document.job:
            return frozenset()
        return frozenset(mark.id for mark in self.marks() if mark.id == held.id or are_joined(mark, held))

    def _paint_still(self, painter: QPainter, moving: frozenset[str]) -> None:
        painter.fillRect(self.rect(), self.palette().color(QPalette.ColorRole.Dark))
        picture = self.picture()
        if picture is not None:
            part, place = self.viewport.visible(QSizeF(self.size()), picture.width, picture.height)
            if not part.isEmpty():
                picture.paint(painter, part, place)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.layers.paint_still(painter, self, moving)
        paint_marks(painter, self, [mark for mark in self.marks() if mark.id not in moving], QRectF(self.rect()))

    def paint_scene(self, painter: QPainter, part: QRectF) -> None:
        """Marks and proposal alone, as far as they lie in a part of the painter's plane: for the magnifier."""
        paint_marks(painter, self, self.marks(), part)
        self._paint_waiting(painter)

    def _paint_waiting(self, painter: QPainter) -> None:
        """Clicks that wait for others, and what a click here would find."""
        if self.tool is not None:
            paint_clicks(painter, self.viewport, self.tool.kind, self._clicks)
        if self._proposed is not None and self._proposed.is_snapped:
            paint_proposal(painter, self.viewport, self._proposed, self.tool)

    # ---- pointer --------------------------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of a mark, place one, or begin to pan."""
        self._pointer = event.position()
        if event.button() is Qt.MouseButton.MiddleButton or self._space_held:
            self._pan_from = event.position()
            self._space_panned = True
        elif event.button() is Qt.MouseButton.LeftButton:
            self._press(event)

    def _press(self, event: QMouseEvent) -> None:
        mark = self.mark_at(event.position())
        if mark is not None and not self._adds_nearby(mark):
            self._take_hold(mark, event)
        elif self.tool is not None:
            self.place(event.position(), raw=_is_raw(event))
        else:
            self.document.select()
            self._pan_from = event.position()

    def _adds_nearby(self, mark: Mark) -> bool:
        """A click near a mark of another kind, tool in hand, is a new mark: the keel lies close to both edges' ends."""
        return self.tool is not None and mark.kind is not self.tool.kind

    def _take_hold(self, mark: Mark, event: QMouseEvent) -> None:
        self.document.select(mark.id)
        self._dragged = mark
        place = self.place_of(mark) or (0.0, 0.0)
        self._grip = event.position() - self.viewport.screen(*place)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pan, drag, or offer what a click here would find."""
        self._pointer = event.position()
        if self._pan_from is not None:
            self.viewport = self.viewport.panned(event.position() - self._pan_from)
            self._whole = False
            self._pan_from = event.position()
        elif self._dragged is not None and event.buttons() & Qt.MouseButton.LeftButton:
            self._drag(event)
        else:
            self._proposed = None
            if self.tool is not None:
                self._rest.start()
            else:
                self._tell_mark(event)
        self.update()

    def _drag(self, event: QMouseEvent) -> None:
        assert self._dragged is not None
        place = self.photo_place(*self.viewport.mark(event.position() - self._grip))
        if place is None:
            return
        if self.document.job is self.document.shown:
            self.dragging_changed.emit(True)
        u = proposing.RAW_U_PX
        self.document.preview(edits.with_mark_moved(self.document.job, self._dragged.id, *place, u))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go: a dragged mark takes the edge it lies on, or stays where it was put."""
        self._pan_from = None
        if self._dragged is not None:
            dragged, self._dragged = self._dragged, None
            if self.document.shown is not self.document.job:
                self._let_go(dragged, raw=_is_raw(event))
                self.dragging_changed.emit(False)
        self.update()

    def _let_go(self, dragged: Mark, raw: bool) -> None:
        job = self.document.shown
        mark = edits.mark_of(job, dragged.id)
        picture = self.picture_of(mark.photo)
        if picture is not None and self.snaps and not raw:
            snapped = proposing.snapped_at(picture.pixels, mark, _fellows(job.marks, mark))
            if snapped is not None and math.hypot(snapped.x_px - mark.x_px, snapped.y_px - mark.y_px) < 8.0:
                job = edits.with_mark_moved(job, mark.id, snapped.x_px, snapped.y_px, snapped.u_px)
        self.document.edit(tr("Move {mark}", mark=mark_name(mark)), job)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom at the pointer."""
        steps = event.angleDelta().y() / 120.0
        self.zoom(_STEP_ZOOM**steps, event.position())

    def leaveEvent(self, event: QEvent) -> None:
        """No magnifier without a pointer."""
        self._pointer = None
        self._proposed = None
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A whole picture stays whole; otherwise the middle of the view stays in the middle."""
        if self._fresh or self._whole or event.oldSize().width() < 2:
            self.fit()
            return
        grown = event.size() - event.oldSize()
        self.viewport = self.viewport.panned(QPointF(grown.width() / 2, grown.height() / 2))

    def mark_at(self, screen: QPointF) -> Mark | None:
        """The mark under the pointer, the nearest of several."""
        near: list[tuple[float, Mark]] = []
        for mark in self.marks():
            place = self.place_of(mark)
            if place is not None:
                away = self.viewport.screen(*place) - screen
                near.append((math.hypot(away.x(), away.y()), mark))
        best = min(near, key=lambda pair: pair[0], default=None)
        return best[1] if best and best[0] <= _GRAB else None

    def picture_of(self, photo_id: str) -> Picture | None:
        """The photo that a mark lies in."""
        loaded = self.document.photos.get(photo_id)
        return loaded.picture if loaded else None

    # ---- placing ------------------------------------------------------------------------------------------------

    def place(self, screen: QPointF, raw: bool = False) -> None:
        """Make the mark that the tool in hand makes at this place of the screen."""
        click = self._click(screen)
        if self.tool is None or click is None:
            return
        if self.tool.gesture in CLICKS_BEFORE_A_FIGURE:
            self._collect(click)
            return
        found = self._found(click, raw)
        done = placed(self.document.job, self.tool, found.clicks, self.group)
        self._take(done)
        if found.advice:
            self.told.emit(found.advice)

    def _take(self, done: Placed) -> None:
        self.group = done.group
        self._proposed = None
        self.document.edit(tr(done.words), done.job)
        self.document.select(*done.marks[-1:])

    def _collect(self, click: Click) -> None:
        assert self.tool is not None
        self._clicks.append(click)
        if len(self._clicks) == CLICKS_BEFORE_A_FIGURE[self.tool.gesture]:
            self.pair_clicked.emit((self.tool, tuple(self._clicks)))
        self.update()

    def forget_clicks(self) -> None:
        """The figure was typed, or the clicks were given up."""
        self._clicks.clear()
        self.update()

    def _click(self, screen: QPointF) -> Click | None:
        place = self.photo_place(*self.viewport.mark(screen))
        if place is None or self.photo_id is None:
            return None
        return Click(self.photo_id, *place, proposing.RAW_U_PX)

    def _found(self, click: Click, raw: bool) -> Proposed:
        assert self.tool is not None
        picture = self.picture_of(click.photo)
        pixels = picture.pixels if picture is not None and self.snaps and not raw else None
        return proposing.proposed(pixels, self.document.job, self.tool, click, self.group)

    def _propose(self) -> None:
        if self.tool is None or self._pointer is None or self._dragged is not None:
            return
        click = self._click(self._pointer)
        self._proposed = self._found(click, raw=False) if click else None
        self.update()

    # ---- keys -----------------------------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Nudge, delete, lay the tool down, zoom, fit."""
        key = Qt.Key(event.key())
        if key in _ARROWS:
            step = FAR_NUDGE_PX if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else NUDGE_PX
            self.nudge(_ARROWS[key][0] * step, _ARROWS[key][1] * step)
        elif key is Qt.Key.Key_Space:
            if not event.isAutoRepeat():
                self._space_held, self._space_panned = True, False
                self.setCursor(Qt.CursorShape.OpenHandCursor)
        elif key is Qt.Key.Key_Escape:
            self._escape()
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(_STEP_ZOOM, self._pointer)
        elif key is Qt.Key.Key_Minus:
            self.zoom(1.0 / _STEP_ZOOM, self._pointer)
        elif key is Qt.Key.Key_0:
            self.fit()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.tool is not None:
            self.place(self._pointer or QPointF(self.width() / 2, self.height() / 2))
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """A short press of Space swaps photo and flattened view."""
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space_held = False
            self.setCursor(Qt.CursorShape.CrossCursor if self.tool else Qt.CursorShape.ArrowCursor)
            if not self._space_panned:
                self.swap_asked.emit()
        else:
            super().keyReleaseEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab goes to the next mark that the card expects; Ctrl+Tab leaves."""
        self.next_asked.emit(not forward)
        return True

    def _escape(self) -> None:
        if self._dragged is not None:
            self._dragged = None
            self.document.preview(None)
            self.dragging_changed.emit(False)
        elif self._clicks:
            self.forget_clicks()
        elif self.group is not None:
            self.group = None
        else:
            self.arm(None)

    def nudge(self, dx: float, dy: float) -> None:
        """Move the chosen marks by a part of a pixel, right and down."""
        job = self.document.job
        moved = [mark for mark in job.marks if mark.id in self.document.selection and mark.photo == self.photo_id]
        for mark in moved:
            job = edits.with_mark_moved(job, mark.id, mark.x_px + dx, mark.y_px + dy)
        if moved:
            words = tr("Nudge {mark}", mark=mark_name(moved[0]))
            self.document.edit(words, job, joins="nudge " + " ".join(mark.id for mark in moved))

    # ---- hover ----------------------------------------------------------------------------------------------------

    def _tell_mark(self, event: QMouseEvent) -> None:
        mark = self.mark_at(event.position())
        if mark is None:
            QToolTip.hideText()
            return
        QToolTip.showText(event.globalPosition().toPoint(), tip("\n".join(self._facts(mark))), self)

    def _facts(self, mark: Mark) -> Iterable[str]:
        """What a mark is, its residual and its uncertainty."""
        yield tr("{name} ({id})", name=mark_name(mark).capitalize(), id=mark.id)
        yield tr("u {u:.2f} px", u=mark.u_px)
        survey = self.document.survey
        for seen in survey.observations if survey else ():
            if seen.subject == mark.id and seen.unit == "px":
                checked = "" if seen.w is None else tr(", {w:.1f} times its own u", w=abs(seen.w))
                yield tr("{label}: off by {v:+.2f} px", label=seen.label, v=-seen.residual) + checked


_ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


def _is_raw(event: QMouseEvent) -> bool:
    """Ctrl takes the place as it was clicked."""
    return bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)


def _fellows(marks: Iterable[Mark], mark: Mark) -> list[Mark]:
    """Other marks of the same line."""
    return [
        m
        for m in marks
        if m.id != mark.id and m.photo == mark.photo and m.kind is mark.kind and m.side is mark.side and m.of == mark.of
    ]
