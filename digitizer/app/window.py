"""The window: job card, table and sheet, and the menus; it wires them and decides nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QLabel,
    QMainWindow,
    QMessageBox,
    QStackedWidget,
    QStatusBar,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.asking import question_of, with_answer
from digitizer.app.desk import JOB_SUFFIXES, PHOTO_SUFFIXES, Desk, Folders, sort_drop
from digitizer.app.dialogs.opening import Dialogs
from digitizer.app.document import Answer, Document
from digitizer.app.menus import fill_menus
from digitizer.app.panels.inspector import SECTIONS
from digitizer.app.panels.job_card import JobCard
from digitizer.app.panels.regions import MessageBar, Regions
from digitizer.app.panels.sheet import SheetPanel
from digitizer.app.panels.table import Table
from digitizer.app.panels.welcome import Welcome
from digitizer.app.tools import TOOLS, Gesture, Tool
from digitizer.app.words import tr
from digitizer.app.workers import Surveyor
from digitizer.job import edits
from digitizer.job.edits import Click
from digitizer.job.model import Job

_FOLDS_BELOW = 1000
"""Width under which the three regions become tabs."""
_SETTLED_MS = 120
"""How long after the last edit the whole measurement runs."""


class Window(QMainWindow):
    """The three regions and what connects them."""

    def __init__(self, folders: Folders | None = None) -> None:
        super().__init__()
        self.document = Document(parent=self)
        self.desk = Desk(self.document, self, folders or Folders.of_user())
        self.surveyor = Surveyor(self)
        self.dialogs = Dialogs(self)
        self._build()
        self._connect()
        fill_menus(self)
        self.setAcceptDrops(True)
        self.resize(1366, 768)
        self._show_title()
        self._show_doors()

    # ---- layout --------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.card = JobCard(self.document)
        self.table = Table(self.document)
        self.canvas, self.strip, self.figure_bar = self.table.canvas, self.table.strip, self.table.figure_bar
        self.sheet = SheetPanel(self.document)
        self.message = MessageBar()
        self.regions = Regions(((tr("Job card"), self.card), (tr("Table"), self.table), (tr("Sheet"), self.sheet)))
        self.welcome = Welcome()
        self.pages = QStackedWidget()
        self.pages.addWidget(self.welcome)
        self.pages.addWidget(self.regions)
        middle = QWidget()
        stack = QVBoxLayout(middle)
        stack.setContentsMargins(0, 0, 0, 0)
        stack.setSpacing(0)
        stack.addWidget(self.message)
        stack.addWidget(self.pages, 1)
        self.setCentralWidget(middle)
        self.busy = QLabel()
        self.busy.setTextFormat(Qt.TextFormat.PlainText)
        self.setStatusBar(QStatusBar())
        self.statusBar().addPermanentWidget(self.busy)

    def _connect(self) -> None:
        document, canvas, card = self.document, self.canvas, self.card
        self._settled = QTimer(self, interval=_SETTLED_MS, singleShot=True)
        self._settled.timeout.connect(self._measure)
        document.job_changed.connect(self._job_changed)
        document.photos_changed.connect(self._photos_changed)
        document.place_changed.connect(self._show_title)
        document.undo_stack.cleanChanged.connect(self._show_title)
        document.answered.connect(self._answered)
        document.selection_changed.connect(self._selection_changed)
        self.surveyor.answered.connect(self._take_answer)
        self.surveyor.foreseen.connect(self._take_outlook)
        self.surveyor.failed.connect(self._bug)
        self.surveyor.busy_changed.connect(self._show_measuring)
        self.desk.busy_changed.connect(self.busy.setText)
        card.tool_chosen.connect(self.choose_tool)
        card.action_chosen.connect(self._act)
        card.help_asked.connect(self.dialogs.show_step_help)
        for each in self.table.canvases:
            each.pair_clicked.connect(self._ask_figure)
            each.told.connect(self.statusBar().showMessage)
            each.next_asked.connect(self.arm_next)
            each.swap_asked.connect(self.swap_view)
            each.dragging_changed.connect(self._dragging)
            each.live = self.surveyor.live
        self.sheet.made_from.live = self.surveyor.live
        canvas.tool_changed.connect(self._show_armed)
        self.figure_bar.refused.connect(self.tell)
        self.sheet.subject_asked.connect(self.show_subject)
        self.sheet.inspector.refused.connect(self.tell)
        self.sheet.inspector.delete_asked.connect(self.delete_chosen)
        self.welcome.photos_asked.connect(self.ask_photos)
        self.welcome.job_asked.connect(self.ask_job)
        self.welcome.sample_asked.connect(self.open_sample)

    # ---- the answer ------------------------------------------------------------------------------------------------

    def _job_changed(self) -> None:
        self._show_doors()
        if self.document.shown is self.document.job:
            self._settled.start()
        else:
            self._follow()
        if not (self.document.job.marks or self.document.job.targets):
            self.card.show_outlook("")

    def _follow(self) -> None:
        """Numbers for a mark that is held, before it is let go."""
        answer = self.surveyor.follow(self.document.shown)
        if answer is not None:
            self.document.take_answer(answer)

    def _measure(self) -> None:
        job = self.document.job
        ready = job.photos and all(photo.id in self.document.photos for photo in job.photos if photo.active)
        if ready and (job.marks or job.targets):
            self.surveyor.measure(job, self.document.facts, self.document.shelf.data)

    def _photos_changed(self) -> None:
        self._settled.start()

    def _take_answer(self, answer: Answer) -> None:
        self.document.take_answer(answer)

    def _take_outlook(self, job: Job, words: str) -> None:
        if job == self.document.job:
            self.card.show_outlook(words)

    def _answered(self) -> None:
        answer = self.document.answer
        self.statusBar().showMessage(answer.problem)

    def _bug(self, trace: str) -> None:
        self.desk.keep()
        self.tell(
            tr("Something in the program went wrong; the job is safe. Please report this: {trace}", trace=trace[-400:])
        )

    def _show_measuring(self, busy: bool) -> None:
        self.busy.setText(tr("Measuring …") if busy else "")

    def _dragging(self, begins: bool) -> None:
        if begins:
            self.surveyor.pause()

    # ---- tools -----------------------------------------------------------------------------------------------------

    def choose_tool(self, tool: Tool) -> None:
        """Take a tool in hand, or lay it down if it was."""
        same = self.canvas.tool is tool
        self.table.arm(None if same else tool)
        self.regions.show_part(self.table)
        self.table.current.setFocus()

    def _show_armed(self) -> None:
        self.card.show_armed(self.canvas.tool)

    def arm_next(self, backwards: bool) -> None:
        """Take the tool for the next missing mark in hand."""
        expected = self.card.expected()
        tools = [t for t in TOOLS if t.gesture is Gesture.ONE or t is expected]
        if backwards and self.canvas.tool in tools:
            self.table.arm(tools[tools.index(self.canvas.tool) - 1])
        elif expected is not None:
            self.table.arm(expected)

    def _ask_figure(self, asked: tuple[Tool, tuple[Click, ...]]) -> None:
        tool, clicks = asked
        question = question_of(tool, self.document.job)

        def take(figures: list[float]) -> None:
            job = with_answer(self.document.job, tool, clicks, figures)
            self.table.forget_clicks()
            self.document.edit(tr("Add {what}", what=tr(tool.label).lower()), job)
            self.canvas.setFocus()

        self.figure_bar.ask(question.words, question.figures, question.read, take)

    def delete_chosen(self) -> None:
        """Remove what is chosen, and what then hangs in the air."""
        job = self.document.job
        for chosen in self.document.selection:
            for section in ("marks", *SECTIONS):
                if any(record.id == chosen for record in getattr(job, section)):
                    job = edits.without_record(job, section, chosen)
        if job != self.document.job:
            self.document.edit(tr("Delete {what}", what=self.document.selection[0]), job)

    def swap_view(self) -> None:
        """Photo, flattened view, or both."""
        self.table.swap_view()

    def swap_snapping(self) -> None:
        """Marks find the edge, or stay as clicked."""
        for canvas in self.table.canvases:
            canvas.snaps = not canvas.snaps

    def swap_layer(self, name: str) -> None:
        """Show or hide a layer over the photo."""
        setattr(self.canvas.layers, name, not getattr(self.canvas.layers, name))
        for canvas in self.table.canvases:
            canvas.update()

    def enlarge(self, times: float) -> None:
        """Show residuals and error ellipses so many times life size."""
        self.dialogs.change_preferences(replace(self.desk.preferences, ellipse_magnification=times))
        for canvas in self.table.canvases:
            canvas.update()

    def _selection_changed(self) -> None:
        chosen = self.document.selection
        if len(chosen) == 1:
            self.statusBar().showMessage(chosen[0])

    def show_subject(self, subject: str) -> None:
        """Show the mark or record that a finding speaks of."""
        job = self.document.job
        marks = [m for m in job.marks if m.id == subject or m.of == subject or m.point == subject]
        if not marks:
            ends = {p for length in job.lengths if length.id == subject for p in (length.from_point, length.to_point)}
            marks = [m for m in job.marks if (m.point or m.id) in ends]
        if not marks:
            return
        self.regions.show_part(self.table)
        self.strip.choose(marks[0].photo)
        self.canvas.show_photo(marks[0].photo)
        self.document.select(*(m.id for m in marks))
        self.canvas.show_mark(marks[0])
        self.canvas.setFocus()

    def _act(self, key: str) -> None:
        actions = {
            "add_photos": self.ask_photos,
            "board": self.dialogs.ask_board,
            "condition": self.dialogs.show_condition,
            "planning": self.dialogs.show_planning,
            "shape_form": self.dialogs.show_shape,
            "tape_form": self.dialogs.show_tape_form,
            "hand_over": self.dialogs.hand_over,
            "show_findings": self._show_findings,
        }
        if key in actions:
            actions[key]()

    def _show_findings(self) -> None:
        self.regions.show_part(self.sheet)
        self.sheet.below.setCurrentWidget(self.sheet.findings)

    # ---- jobs ------------------------------------------------------------------------------------------------------

    def open_sample(self) -> None:
        """The sample job, as a copy to play with."""
        from digitizer.samples import sample_job

        self.desk.open_copy(sample_job("flat_square_on"))

    def ask_job(self) -> None:
        """Which job to open."""
        kinds = " ".join(f"*{suffix}" for suffix in JOB_SUFFIXES)
        path, _ = QFileDialog.getOpenFileName(self, tr("Open a job"), "", tr("Jobs ({kinds})", kinds=kinds))
        if path:
            self.desk.open(Path(path))

    def ask_photos(self) -> None:
        """Which photos to add."""
        kinds = " ".join(f"*{suffix} *{suffix.upper()}" for suffix in PHOTO_SUFFIXES)
        paths, _ = QFileDialog.getOpenFileNames(self, tr("Add photos"), "", tr("Photos ({kinds})", kinds=kinds))
        self.desk.add_photos(Path(path) for path in paths)

    def ask_board_photos(self) -> None:
        """Photos of the printed board, from which the camera that took them is calibrated."""
        from digitizer.app.calibrating import board_of  # brings the adjustment, which the window's start need not

        board = board_of(self.document.job)
        kinds = " ".join(f"*{suffix} *{suffix.upper()}" for suffix in PHOTO_SUFFIXES)
        title = tr(
            "Ten photos of the board of {columns} × {rows}, markers {marker:g} mm",
            columns=board.columns,
            rows=board.rows,
            marker=board.marker_mm,
        )
        paths, _ = QFileDialog.getOpenFileNames(self, title, "", tr("Photos ({kinds})", kinds=kinds))
        if paths:
            self.desk.calibrate([Path(path) for path in paths], board)

    def tell(self, words: str) -> None:
        """Say something that needs no answer, in the bar over the regions."""
        self.message.show_words(words)

    def choose(self, question: str, options: tuple[str, ...]) -> int:
        """Ask, because something would be lost otherwise."""
        box = QMessageBox(self)
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setText(question)
        buttons = [box.addButton(words, QMessageBox.ButtonRole.ActionRole) for words in options]
        box.setEscapeButton(buttons[-1])
        box.exec()
        clicked = box.clickedButton()
        return next((i for i, button in enumerate(buttons) if button is clicked), -1)

    def place_to_save(self, suggestion: str) -> Path | None:
        """Ask where to save."""
        path, _ = QFileDialog.getSaveFileName(self, tr("Save the job"), suggestion, tr("Jobs (*.transom)"))
        return Path(path) if path else None

    def _show_title(self, *_: object) -> None:
        self.setWindowTitle(f"{self.document.title or tr('New job')}[*]")
        self.setWindowModified(not self.document.is_saved)

    def _show_doors(self) -> None:
        """An empty job shows the three doors."""
        job = self.document.job
        empty = not job.photos and self.document.path is None and self.document.is_saved
        self.pages.setCurrentWidget(self.welcome if empty else self.regions)
        self._show_title()

    # ---- events ----------------------------------------------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Files are welcome anywhere."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """A job is opened, photos are added."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        jobs, photos, others = sort_drop(paths)
        if jobs:
            self.desk.open(jobs[0])
        self.desk.add_photos(photos)
        if others:
            self.tell(tr("{file} is neither a photo nor a job, so it was left alone.", file=others[0].name))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask for unsaved changes; then end the threads."""
        if not self.desk.may_leave():
            event.ignore()
            return
        settings = QSettings()
        settings.setValue("window/geometry", self.saveGeometry())
        self.desk.close()
        self.surveyor.close()
        self.document.undo_stack.cleanChanged.disconnect(self._show_title)
        event.accept()

    def restore(self) -> None:
        """Where the window stood the last time, and what the user prefers."""
        self.dialogs.recall_preferences()
        geometry = QSettings().value("window/geometry")
        if isinstance(geometry, QByteArray):
            self.restoreGeometry(geometry)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fold the regions into tabs where they don't fit side by side."""
        super().resizeEvent(event)
        self.regions.fold(self.width() < _FOLDS_BELOW)
