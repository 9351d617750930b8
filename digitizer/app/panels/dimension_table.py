"""
Dimensions as rows: value, U, how far to believe it, and the tape's own figure.

The model changes single cells while a mark is dragged, so that the table keeps its place and its selection.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QBrush, QFont, QGuiApplication, QPalette

from digitizer.app.document import Document
from digitizer.app.words import tip, tr
from digitizer.reports.table import fitting_dimensions, in_order
from digitizer.survey.model import Dimension, Quantity, Survey, TapeCheck
from digitizer.survey.standing import Standing, standing
from digitizer.units import unit_name, value_and_uncertainty

HEADINGS = ("Dimension", "Value", "± U", "", "Belief", "Tape", "En")
SIGNS = {Standing.CHECKED: "✓", Standing.UNCHECKED: "?", Standing.CONTRADICTED: "✗"}
VALUE, EXPANDED, UNIT, BELIEF, TAPE, EN = 1, 2, 3, 4, 5, 6
_Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True)
class Row:
    """One line of the table: a heading, or a dimension."""

    cells: tuple[str, ...]
    dimension: Dimension | None = None
    subject: str = ""
    """The fitting or tape figure it belongs to."""
    is_heading: bool = False


class DimensionModel(QAbstractTableModel):
    """The rows of the latest survey."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self.coverage = 2.0
        self._judged: Survey | None = None
        self._standings: dict[str, str] = {}
        self._shown_current = False
        self.rows: list[Row] = []
        document.answered.connect(self.refresh)
        document.job_changed.connect(self._job_changed)
        self.refresh()

    def refresh(self) -> None:
        """Take the latest survey; only cells change where the rows are the same."""
        survey = self._document.survey
        unit = self._document.job.settings.unit.value
        rows = _rows(survey, unit, self.coverage, self._words()) if survey else []
        if [(r.cells[0], r.subject) for r in rows] != [(r.cells[0], r.subject) for r in self.rows]:
            self.beginResetModel()
            self.rows = rows
            self.endResetModel()
        else:
            changed = [i for i, (new, old) in enumerate(zip(rows, self.rows, strict=True)) if new.cells != old.cells]
            self.rows = rows
            if self._document.is_current is self._shown_current:
                self._tell_changed(changed)
            else:
                self._tell_all()

    def _words(self) -> dict[str, str]:
        """By code: how far to believe each dimension; kept while a mark is held."""
        answer = self._document.answer
        if answer.is_full and answer.survey is not None and answer.survey is not self._judged:
            self._judged = answer.survey
            self._standings = {}
            for dimension in answer.survey.dimensions:
                how = standing(answer.survey, dimension, answer.job)
                self._standings[dimension.code] = f"{SIGNS[how]} {tr(how.value)}"
        return self._standings

    def _job_changed(self) -> None:
        """The figures grow old; while a mark is held they follow at once, so nothing flickers."""
        if self._document.shown is self._document.job:
            self._tell_all()

    def _tell_all(self) -> None:
        """Have everything painted anew, in the ink of what is old or current."""
        self._shown_current = self._document.is_current
        if self.rows:
            self.dataChanged.emit(self.index(0, 0), self.index(len(self.rows) - 1, len(HEADINGS) - 1))

    def _tell_changed(self, rows: Iterable[int]) -> None:
        """Have figures painted anew row by row: painting the whole table takes as long as an adjustment."""
        for row in rows:
            self.dataChanged.emit(self.index(row, VALUE), self.index(row, len(HEADINGS) - 1))

    def rowCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008  Qt's own default
        """Headings and dimensions."""
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008  as above
        """See HEADINGS."""
        return 0 if parent.isValid() else len(HEADINGS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> object:
        """The headings."""
        if role == Qt.ItemDataRole.DisplayRole and orientation is Qt.Orientation.Horizontal:
            if section == EXPANDED and self.coverage != 2.0:
                return tr("± {k:g} u", k=self.coverage)
            return tr(HEADINGS[section]) if HEADINGS[section] else ""
        return None

    def data(self, index: _Index, role: int = 0) -> object:
        """Text, alignment, weight and, while it is old, a fainter ink."""
        row = self.rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return row.cells[index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole and index.column() in (VALUE, EXPANDED, TAPE, EN):
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == Qt.ItemDataRole.FontRole and row.is_heading:
            font = QFont()
            font.setBold(True)
            return font
        if role == Qt.ItemDataRole.ForegroundRole and not self._document.is_current:
            return QBrush(QGuiApplication.palette().color(QPalette.ColorRole.PlaceholderText))
        if role == Qt.ItemDataRole.ToolTipRole and row.dimension is not None:
            return tip(row.dimension.note or row.cells[0])
        return None

    def flags(self, index: _Index) -> Qt.ItemFlag:
        """Headings can't be chosen."""
        if self.rows[index.row()].is_heading:
            return Qt.ItemFlag.ItemIsEnabled
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable


def _rows(survey: Survey, unit: str, coverage: float, words: dict[str, str]) -> list[Row]:
    rows: list[Row] = []
    group = ""
    for dimension in in_order(survey.dimensions):
        if dimension.group != group:
            group = dimension.group
            rows.append(_heading(tr(group)))
        cells = _cells(dimension, unit, coverage, words.get(dimension.code, ""))
        rows.append(Row((dimension.label, *cells), dimension))
    if survey.checks:
        rows.append(_heading(tr("Tape figures")))
    rows += [_check(check, unit) for check in survey.checks]
    for fitting in survey.fittings:
        rows.append(_heading(fitting.name or fitting.id, fitting.id))
        for dimension in fitting_dimensions(fitting):
            rows.append(Row((dimension.label, *_cells(dimension, unit, coverage)), dimension, fitting.id))
    return rows


def _heading(text: str, subject: str = "") -> Row:
    return Row((text, *[""] * (len(HEADINGS) - 1)), subject=subject, is_heading=True)


def _check(check: TapeCheck, unit: str) -> Row:
    """A tape figure beside what the photo says."""
    shown = unit if check.quantity is Quantity.LENGTH else "deg"
    value, expanded = value_and_uncertainty(check.photo, check.U_photo, shown)
    tape = value_and_uncertainty(check.tape, check.U_tape, shown)[0]
    word = tr("✓ agrees") if check.agrees else tr("✗ disagrees")
    return Row((check.label, value, expanded, unit_name(shown), word, tape, f"{check.en:+.2f}"), subject=check.id)


def _cells(dimension: Dimension, unit: str, coverage: float, word: str = "") -> tuple[str, ...]:
    shown = unit if dimension.quantity is Quantity.LENGTH else "deg"
    return (*value_and_uncertainty(dimension.value, coverage * dimension.u, shown), unit_name(shown), word, "", "")
