"""Figures taken by hand: choose what was measured, enter it, and the record is given back."""

from __future__ import annotations

from PySide6.QtCore import QSize, Signal
from PySide6.QtWidgets import QComboBox, QDialogButtonBox, QLabel, QStackedWidget, QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import Frame, wrapped
from digitizer.app.dialogs.tape_forms import (
    AandB,
    Bow,
    LengthBetween,
    LevelHeld,
    LevelOrPlumb,
    RakeStated,
    TapeFormPage,
)
from digitizer.app.line_drawing import LineDrawing
from digitizer.app.words import tr
from digitizer.job.model import Job
from digitizer.job.preferences import Preferences

_WIDTH_PX = 230


class TapeForm(Frame):
    """
    A form that stays open for one figure after another.

    Parameters
    ----------
    job
        For the places that are marked and the ids in use; `show_job` tells it of a later one.
    preferences
        For the uncertainties that new figures start with.
    """

    entered = Signal(object)
    """A record of `digitizer.app.tape_records`, to be put into the job."""

    def __init__(self, job: Job, preferences: Preferences, parent: QWidget | None = None) -> None:
        super().__init__(tr("Figures taken by hand"), QSize(600, 600), parent)
        self._preferences = preferences
        self.kind = QComboBox()
        self.kind.setAccessibleName(tr("What was measured"))
        self.pages = QStackedWidget()
        self._drawing = LineDrawing(width_px=_WIDTH_PX)
        self._told = wrapped()
        self._told.setAccessibleName(tr("What follows"))
        body = QWidget()
        layout = QVBoxLayout(body)
        label = QLabel(tr("&What was measured"))
        label.setBuddy(self.kind)
        for part in (label, self.kind, self._drawing, self.pages, self._told):
            layout.addWidget(part)
        layout.addStretch(1)
        self.set_body(body)
        self.show_job(job)
        self.kind.currentIndexChanged.connect(self._show_page)
        self.add = self.add_button(tr("&Enter"), QDialogButtonBox.ButtonRole.AcceptRole)
        self.add.setDefault(True)
        self.add_button(tr("Close"), QDialogButtonBox.ButtonRole.RejectRole)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.kind.setFocus()

    def show_job(self, job: Job) -> None:
        """Begin anew with this job: other places are marked, other ids taken."""
        chosen = max(0, self.kind.currentIndex())
        kinds: tuple[tuple[str, type[TapeFormPage]], ...] = (
            (tr("A and B"), AandB),
            (tr("A length between two places"), LengthBetween),
            (tr("A level on face and keel line"), LevelHeld),
            (tr("The transom angle, stated"), RakeStated),
            (tr("Two places level or plumb"), LevelOrPlumb),
            (tr("The bow of the face, by straightedge"), Bow),
        )
        self.kind.blockSignals(True)
        self.kind.clear()
        while (old := self.pages.widget(0)) is not None:
            self.pages.removeWidget(old)
            old.deleteLater()
        for words, make in kinds:
            page = make(job, self._preferences)
            page.changed.connect(self._tell)
            self.kind.addItem(words)
            self.pages.addWidget(page)
        self.kind.blockSignals(False)
        self.kind.setCurrentIndex(chosen)
        self._show_page(chosen)

    def show_kind(self, page: type[TapeFormPage]) -> None:
        """Choose what is measured, as a step of the job card asks for it."""
        rows = range(self.pages.count())
        self.kind.setCurrentIndex(next(row for row in rows if isinstance(self.pages.widget(row), page)))

    def page(self) -> TapeFormPage:
        """The form that is shown."""
        page = self.pages.currentWidget()
        assert isinstance(page, TapeFormPage)
        return page

    def accept(self) -> None:
        """Give the record back and stay open; a fault is pointed out instead."""
        page = self.page()
        if page.insist():
            return
        if fault := page.fault():
            self._told.setText(f"\N{WARNING SIGN} {fault}")
            return
        self.entered.emit(page.record())
        page.clear()
        self._told.setText(tr("Entered."))

    def _show_page(self, index: int) -> None:
        self.pages.setCurrentIndex(index)
        page = self.page()
        self._drawing.show_drawing(page.drawing, tr(page.caption))
        self._tell()

    def _tell(self) -> None:
        self._told.setText(self.page().follows())
