"""The window: job card, table and sheet, and the menus; it wires them and decides nothing."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings, Qt, QTimer
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QMessageBox,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QStatusBar,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.canvas.canvas import Canvas
from digitizer.app.desk import JOB_SUFFIXES, PHOTO_SUFFIXES, Desk, Folders, sort_drop
from digitizer.app.document import Answer, Document
from digitizer.app.panels.figure_bar import FigureBar
from digitizer.app.panels.job_card import JobCard
from digitizer.app.panels.photo_strip import PhotoStrip
from digitizer.app.panels.sheet import SheetPanel
from digitizer.app.panels.welcome import Welcome
from digitizer.app.tools import TOOLS, Gesture, Tool
from digitizer.app.words import tr
from digitizer.app.workers import Surveyor
from digitizer.job import edits
from digitizer.job.edits import Click

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
        self._armed_before: list[str] = []
        self._build()
        self._connect()
        self._fill_menus()
        self.setAcceptDrops(True)
        self.resize(1366, 768)
        self._show_title()
        self._show_doors()

    # ---- layout --------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.card = JobCard(self.document)
        self.canvas = Canvas(self.document)
        self.strip = PhotoStrip(self.document)
        self.figure_bar = FigureBar()
        self.sheet = SheetPanel(self.document)
        self.message = MessageBar()
        self.table = QWidget()
        layout = QVBoxLayout(self.table)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.figure_bar)
        layout.addWidget(self.canvas, 1)
        layout.addWidget(self.strip)
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
        self.surveyor.failed.connect(self._bug)
        self.surveyor.busy_changed.connect(self._show_measuring)
        self.desk.busy_changed.connect(self.busy.setText)
        card.tool_chosen.connect(self._choose_tool)
        card.action_chosen.connect(self._act)
        canvas.tool_changed.connect(self._show_armed)
        canvas.pair_clicked.connect(self._ask_figure)
        canvas.told.connect(self.statusBar().showMessage)
        canvas.next_asked.connect(self._arm_next)
        canvas.dragging_changed.connect(self._dragging)
        self.strip.photo_chosen.connect(canvas.show_photo)
        self.figure_bar.refused.connect(self.tell)
        self.figure_bar.given_up.connect(canvas.forget_clicks)
        self.sheet.subject_asked.connect(self.show_subject)
        self.welcome.photos_asked.connect(self._ask_photos)
        self.welcome.job_asked.connect(self._ask_job)
        self.welcome.sample_asked.connect(self.open_sample)

    def _fill_menus(self) -> None:
        keys = QKeySequence.StandardKey
        job = self.menuBar().addMenu(tr("&Job"))
        self._add(job, tr("&New"), self.desk.new, keys.New)
        self._add(job, tr("&Open …"), self._ask_job, keys.Open)
        self._add(job, tr("Open the &sample"), self.open_sample)
        job.addSeparator()
        self._add(job, tr("Add &photos …"), self._ask_photos, "Ctrl+P")
        job.addSeparator()
        self._add(job, tr("&Save"), self.desk.save, keys.Save)
        self._add(job, tr("Save &as …"), self.desk.save_as, keys.SaveAs)
        job.addSeparator()
        self._add(job, tr("&Quit"), self.close, keys.Quit)
        edit = self.menuBar().addMenu(tr("&Edit"))
        undo = self.document.undo_stack.createUndoAction(self, tr("&Undo"))
        undo.setShortcuts(keys.Undo)
        redo = self.document.undo_stack.createRedoAction(self, tr("&Redo"))
        redo.setShortcuts(keys.Redo)
        edit.addActions([undo, redo])
        edit.addSeparator()
        self._add(edit, tr("&Delete"), self._delete, keys.Delete)
        marks = self.menuBar().addMenu(tr("&Mark"))
        for tool in TOOLS:
            self._add(marks, tr(tool.label), lambda t=tool: self._choose_tool(t))
        marks.addSeparator()
        snap = self._add(marks, tr("Marks find the edge"), self._set_snapping)
        snap.setCheckable(True)
        snap.setChecked(True)
        view = self.menuBar().addMenu(tr("&View"))
        self._add(view, tr("&Whole photo"), self.canvas.fit, "Ctrl+0")
        self._add(view, tr("&Larger"), lambda: self.canvas.zoom(1.25), keys.ZoomIn)
        self._add(view, tr("&Smaller"), lambda: self.canvas.zoom(0.8), keys.ZoomOut)
        view.addSeparator()
        for name, words in (("names", "&Names"), ("residuals", "&Residuals"), ("ellipses", "&Error ellipses")):
            layer = self._add(view, tr(words), lambda n=name: self._swap_layer(n))
            layer.setCheckable(True)
            layer.setChecked(getattr(self.canvas.layers, name))
        self.menuBar().addMenu(tr("&Help"))

    def _add(self, menu, words: str, slot, keys=None) -> QAction:  # type: ignore[no-untyped-def]
        action = QAction(words, self)
        if keys is not None:
            action.setShortcuts(keys) if isinstance(keys, QKeySequence.StandardKey) else action.setShortcut(keys)
        action.triggered.connect(lambda _=False: slot())
        menu.addAction(action)
        return action

    # ---- the answer ------------------------------------------------------------------------------------------------

    def _job_changed(self) -> None:
        self._show_doors()
        if self.document.shown is self.document.job:
            self._settled.start()
        else:
            self.surveyor.pause()

    def _measure(self) -> None:
        job = self.document.job
        ready = job.photos and all(photo.id in self.document.photos for photo in job.photos if photo.active)
        if ready and job.marks:
            self.surveyor.measure(job, self.document.shelf.data)

    def _photos_changed(self) -> None:
        self._settled.start()

    def _take_answer(self, answer: Answer) -> None:
        self.document.take_answer(answer)

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

    def _choose_tool(self, tool: Tool) -> None:
        same = self.canvas.tool is tool
        self.canvas.arm(None if same else tool)
        self.regions.show_part(self.table)
        self.canvas.setFocus()

    def _show_armed(self) -> None:
        self.card.show_armed(self.canvas.tool)

    def _arm_next(self, backwards: bool) -> None:
        expected = self.card.expected()
        tools = [t for t in TOOLS if t.gesture is Gesture.ONE or t is expected]
        if backwards and self.canvas.tool in tools:
            self.canvas.arm(tools[tools.index(self.canvas.tool) - 1])
        elif expected is not None:
            self.canvas.arm(expected)

    def _ask_figure(self, asked: tuple[Tool, tuple[Click, ...]]) -> None:
        tool, clicks = asked
        unit = self.document.job.settings.unit.value
        if tool.gesture is Gesture.PAIR:
            question, figures = tr("How far apart?"), {tr("Length"): "", tr("u"): "0.8 mm"}
        else:
            question, figures = tr("How large is the sheet?"), {tr("Width"): "", tr("Height"): ""}

        def take(lengths: list[float]) -> None:
            job = self.document.job
            if tool.gesture is Gesture.PAIR:
                job = edits.with_known_length(job, (clicks[0], clicks[1]), lengths[0], lengths[1])
            else:
                job = edits.with_sheet(job, (clicks[0], clicks[1], clicks[2], clicks[3]), *lengths)
            self.canvas.forget_clicks()
            self.document.edit(tr("Add {what}", what=tool.label.lower()), job)
            self.canvas.setFocus()

        self.figure_bar.ask(question, figures, unit, take)

    def _delete(self) -> None:
        job = self.document.job
        for chosen in self.document.selection:
            for section in ("marks", "fittings", "pads", "lengths", "rectangles"):
                if any(record.id == chosen for record in getattr(job, section)):
                    job = edits.without_record(job, section, chosen)
        if job != self.document.job:
            self.document.edit(tr("Delete {what}", what=self.document.selection[0]), job)

    def _set_snapping(self) -> None:
        self.canvas.snaps = not self.canvas.snaps

    def _swap_layer(self, name: str) -> None:
        setattr(self.canvas.layers, name, not getattr(self.canvas.layers, name))
        self.canvas.update()

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
        actions = {"add_photos": self._ask_photos, "show_findings": self._show_findings}
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

    def _ask_job(self) -> None:
        kinds = " ".join(f"*{suffix}" for suffix in JOB_SUFFIXES)
        path, _ = QFileDialog.getOpenFileName(self, tr("Open a job"), "", tr("Jobs ({kinds})", kinds=kinds))
        if path:
            self.desk.open(Path(path))

    def _ask_photos(self) -> None:
        kinds = " ".join(f"*{suffix} *{suffix.upper()}" for suffix in PHOTO_SUFFIXES)
        paths, _ = QFileDialog.getOpenFileNames(self, tr("Add photos"), "", tr("Photos ({kinds})", kinds=kinds))
        self.desk.add_photos(Path(path) for path in paths)

    def tell(self, words: str) -> None:
        """Say something that needs no answer, in the bar over the regions."""
        self.message.show_words(words)

    def choose(self, question: str, options: tuple[str, ...]) -> int:
        """Ask, because something would be lost otherwise."""
        box = QMessageBox(self)
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
        """Where the window stood the last time."""
        geometry = QSettings().value("window/geometry")
        if isinstance(geometry, QByteArray):
            self.restoreGeometry(geometry)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fold the regions into tabs where they don't fit side by side."""
        super().resizeEvent(event)
        self.regions.fold(self.width() < _FOLDS_BELOW)


class Regions(QStackedWidget):
    """The three regions side by side, or one behind the other where there is no room."""

    def __init__(self, parts: tuple[tuple[str, QWidget], ...]) -> None:
        super().__init__()
        self._parts = parts
        self._side_by_side = QSplitter(Qt.Orientation.Horizontal)
        self._side_by_side.setChildrenCollapsible(False)
        self._tabs = QTabWidget()
        self.addWidget(self._side_by_side)
        self.addWidget(self._tabs)
        self._folded: bool | None = None
        self.fold(False)

    def fold(self, folded: bool) -> None:
        """Into tabs, or side by side."""
        if folded == self._folded:
            return
        self._folded = folded
        for title, part in self._parts:
            if folded:
                self._tabs.addTab(part, title)
            else:
                self._side_by_side.addWidget(part)
            part.show()
        self.setCurrentWidget(self._tabs if folded else self._side_by_side)
        if not folded:
            for i, share in enumerate((0, 1, 0)):
                self._side_by_side.setStretchFactor(i, share)
            self._side_by_side.setSizes([250, 660, 456])

    def show_part(self, part: QWidget) -> None:
        """Bring a region to the front where they lie behind each other."""
        if self._folded:
            self._tabs.setCurrentWidget(part)


class MessageBar(QWidget):
    """A sentence over the regions, until it is dismissed."""

    def __init__(self) -> None:
        super().__init__()
        self.setAutoFillBackground(True)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 6, 12, 6)
        self._label = QLabel()
        self._label.setWordWrap(True)
        self._label.setTextFormat(Qt.TextFormat.PlainText)
        self._label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        dismiss = QPushButton(tr("Dismiss"))
        dismiss.clicked.connect(self.hide)
        layout.addWidget(self._label, 1)
        layout.addWidget(dismiss)
        self.hide()

    def words(self) -> str:
        """What is being said; empty when nothing is."""
        return "" if self.isHidden() else self._label.text()

    def show_words(self, words: str) -> None:
        """Say a sentence."""
        self._label.setText(words)
        self.show()
