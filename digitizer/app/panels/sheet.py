"""The sheet: drawing, dimensions, what one of them was made from, and the findings."""

from __future__ import annotations

from PySide6.QtCore import QItemSelection, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QScrollArea,
    QSplitter,
    QTableView,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.document import Document
from digitizer.app.panels.dimension_table import EN, TAPE, DimensionModel, Row
from digitizer.app.panels.inspector import Inspector
from digitizer.app.panels.made_from import MadeFrom
from digitizer.app.panels.sheet_drawing import SheetDrawing
from digitizer.app.words import tr
from digitizer.survey.model import Dimension, Finding, Severity

_SIGNS = {Severity.SERIOUS: "✗", Severity.WARNING: "!", Severity.NOTE: "·"}
_WORDS = {Severity.SERIOUS: "serious", Severity.WARNING: "look again", Severity.NOTE: "note"}

_REST_MS = 150
"""A mark that is held so long without being moved has its budget told: to lay it out takes longer than a frame."""


class SheetPanel(QSplitter):
    """The answers, live."""

    subject_asked = Signal(str)
    """A finding's button: show the mark or record it speaks of."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self.document = document
        self.setAccessibleName(tr("Sheet"))
        self.drawing = SheetDrawing(document)
        self.model = DimensionModel(document)
        self.table = QTableView()
        self.table.setModel(self.model)
        self._set_up_table()
        self.made_from = MadeFrom(document)
        self.made_from.subject_asked.connect(self.subject_asked)
        self.findings = FindingsList(document)
        self.findings.subject_asked.connect(self.subject_asked)
        self.inspector = Inspector(document)
        self.below = QTabWidget()
        self.below.setDocumentMode(True)
        self.below.addTab(self.findings, tr("Findings"))
        self.below.addTab(self.made_from, tr("Made from"))
        self.below.addTab(self.inspector, tr("Chosen"))
        for part, share in ((self.drawing, 3), (self.table, 5), (self.below, 3)):
            self.addWidget(part)
            self.setStretchFactor(self.count() - 1, share)
        self.setChildrenCollapsible(False)
        self.setSizes([230, 330, 180])
        self._rest = QTimer(self, interval=_REST_MS, singleShot=True)
        self._rest.timeout.connect(self._show_chosen)
        document.answered.connect(self._answered)
        document.selection_changed.connect(self._selection_changed)

    def _set_up_table(self) -> None:
        table = self.table
        table.setAccessibleName(tr("Dimensions"))
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setTabKeyNavigation(False)
        table.setShowGrid(False)
        table.setAlternatingRowColors(True)
        table.setWordWrap(False)
        table.verticalHeader().setVisible(False)
        table.verticalHeader().setDefaultSectionSize(table.fontMetrics().height() + 7)
        header = table.horizontalHeader()
        header.setMinimumSectionSize(24)
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        table.selectionModel().selectionChanged.connect(self._chosen)

    def set_coverage(self, factor: float) -> None:
        """What u is multiplied by in the table; drawing and reports keep 2."""
        self.model.coverage = factor
        self.model.refresh()

    def _answered(self) -> None:
        """Columns grow to their widest figure once; while dragging they keep their width."""
        if self.document.is_measured:
            for column in range(1, EN + 1):
                self.table.resizeColumnToContents(column)
            narrow = all(not row.cells[EN] for row in self.model.rows)
            for column in (TAPE, EN):
                self.table.setColumnHidden(column, narrow)
            self.below.setTabText(0, tr("Findings ({count})", count=self.findings.count()))
            self._rest.stop()
            self._show_chosen()
        else:
            self._rest.start()

    def _show_chosen(self) -> None:
        """What the chosen dimension is made from, by the latest survey."""
        chosen = self.chosen()
        if chosen is not None:
            self.made_from.show_dimension(self._again(chosen))
            if self.document.lit:
                self.document.light(self.made_from.lit())

    def _selection_changed(self) -> None:
        """Nothing chosen any more puts out what a dimension lit."""
        if not self.document.selection:
            self.document.light({})

    def chosen(self) -> Row | None:
        """The row that is chosen."""
        indexes = self.table.selectionModel().selectedRows()
        return self.model.rows[indexes[0].row()] if indexes and indexes[0].row() < len(self.model.rows) else None

    def _chosen(self, selected: QItemSelection, deselected: QItemSelection) -> None:
        row = self.chosen()
        if row is None:
            return
        if row.dimension is not None:
            self.made_from.show_dimension(row.dimension)
            self.below.setCurrentWidget(self.made_from)
            self.document.select(*self.made_from.ids())
            self.document.light(self.made_from.lit())
        elif row.subject:
            self.document.select(row.subject)

    def _again(self, row: Row) -> Dimension | None:
        """The chosen dimension of the latest survey."""
        return next((r.dimension for r in self.model.rows if r == row or _same(r, row)), None)


def _same(a: Row, b: Row) -> bool:
    return a.dimension is not None and b.dimension is not None and a.dimension.code == b.dimension.code


class FindingsList(QScrollArea):
    """Findings with a button each that leads to the mark concerned."""

    subject_asked = Signal(str)

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._shown: tuple[tuple[Finding, ...], str] | None = None
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAccessibleName(tr("Findings"))
        document.answered.connect(self.refresh)
        self.refresh()

    def count(self) -> int:
        """How many there are."""
        return len(self._shown[0]) if self._shown else 0

    def refresh(self) -> None:
        """Show the findings of the latest survey; nothing is rebuilt while they stay the same."""
        survey = self._document.survey
        findings = survey.findings if survey else ()
        problem = self._document.answer.problem
        if (findings, problem) == self._shown:
            return
        self._shown = (findings, problem)
        inside = QWidget()
        layout = QVBoxLayout(inside)
        layout.setContentsMargins(8, 6, 8, 6)
        layout.setSpacing(8)
        if problem:
            layout.addWidget(wrapped(f"{_SIGNS[Severity.SERIOUS]} {problem}"))
        elif not findings:
            layout.addWidget(wrapped(tr("No findings yet.")))
        for finding in findings:
            layout.addLayout(self._line(finding))
        layout.addStretch(1)
        self.setWidget(inside)

    def _line(self, finding: Finding) -> QHBoxLayout:
        line = QHBoxLayout()
        sign = QLabel(f"{_SIGNS[finding.severity]} {tr(_WORDS[finding.severity])}")
        sign.setAlignment(Qt.AlignmentFlag.AlignTop)
        sign.setMinimumWidth(sign.fontMetrics().horizontalAdvance("! look again  "))
        line.addWidget(sign)
        line.addWidget(wrapped(finding.text), 1)
        if finding.subject:
            button = QPushButton(tr("Show"))
            button.setAccessibleName(tr("Show {subject}", subject=finding.subject))
            button.clicked.connect(lambda _=False, s=finding.subject: self.subject_asked.emit(s))
            line.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        return line
