"""Which printed target is on the transom, and how large its print came out."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QCheckBox, QComboBox, QDialogButtonBox, QFormLayout, QLineEdit, QWidget

from digitizer.app.dialogs.frame import Frame, wrapped
from digitizer.app.panels.record_form import RecordForm
from digitizer.app.words import tr
from digitizer.errors import ReadingError
from digitizer.job.model import PaperSize, Target, TargetKind
from digitizer.units import parse_length

BOARD, MARKERS, OTHER = "board", "markers", "other"
_CHECK_BAR_MM = 100.0
_OTHER_BOARD = Target("board", TargetKind.CHARUCO, columns=7, rows=5, square_mm=40.0, marker_mm=30.0)


class BoardDialog(Frame):
    """The board or the four markers that this program prints, or any other ChArUco board."""

    def __init__(self, paper: PaperSize, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(tr("Printed board"), QSize(500, 460), parent)
        self._unit = "mm" if unit == "mm" else "in"
        body = QWidget()
        layout = QFormLayout(body)
        words = tr("A target printed with this program is found in the photos by itself. Say which one it is.")
        layout.addRow(wrapped(words))
        self.kind = QComboBox()
        self.kind.setAccessibleName(tr("Target"))
        for choice, name in ((BOARD, "Board by this program"), (MARKERS, "Four markers by this program")):
            self.kind.addItem(tr(name), choice)
        self.kind.addItem(tr("Another ChArUco board"), OTHER)
        self.kind.currentIndexChanged.connect(self._show_kind)
        layout.addRow(tr("Target"), self.kind)
        self.paper = QComboBox()
        for each in PaperSize:
            self.paper.addItem(each.value, each)
        self.paper.setCurrentIndex(self.paper.findData(paper))
        layout.addRow(tr("Printed on"), self.paper)
        self.other = RecordForm(_OTHER_BOARD, unit, only=("columns", "rows", "square_mm", "marker_mm", "dictionary"))
        self.other.changed.connect(self._keep_other)
        self.other.refused.connect(self._complain)
        layout.addRow(self.other)
        self._other = _OTHER_BOARD
        self.check_bar = QLineEdit()
        self.check_bar.setPlaceholderText(tr("not measured"))
        layout.addRow(tr("Check bar, as measured with a rule"), self.check_bar)
        self.flush = QCheckBox(tr("It lies flat on the transom"))
        self.flush.setChecked(True)
        layout.addRow("", self.flush)
        self.set_body(body)
        self.complaint = wrapped()
        self.complaint.hide()
        self.add_foot(self.complaint)
        self.add_button(tr("Take"), QDialogButtonBox.ButtonRole.AcceptRole).setDefault(True)
        self.add_button(tr("Cancel"), QDialogButtonBox.ButtonRole.RejectRole)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.targets: tuple[Target, ...] = ()
        self._show_kind()

    def _show_kind(self) -> None:
        """Paper for what this program prints, squares for any other board."""
        other = self.kind.currentData() == OTHER
        self.other.setVisible(other)
        self.paper.setEnabled(not other)

    def _keep_other(self, board: Target) -> None:
        self._other = board
        self.complaint.hide()

    def _complain(self, words: str) -> None:
        self.complaint.setText(words)
        self.complaint.show()

    def accept(self) -> None:
        """Take it, unless the check bar can't be read."""
        try:
            text = self.check_bar.text().strip()
            measured = parse_length(text, self._unit) if text else None
        except ReadingError as refused:
            self._complain(str(refused))
            return
        kind = self.kind.currentData()
        targets = (self._other,) if kind == OTHER else printed_targets(self.paper.currentData(), kind == MARKERS)
        self.targets = tuple(_with_bar(replace(t, flush=self.flush.isChecked()), measured) for t in targets)
        super().accept()


def _with_bar(target: Target, measured_mm: float | None) -> Target:
    """The target with its check bar as measured; a board without a bar stated has one of 100 mm."""
    if measured_mm is None:
        return target
    nominal = target.check_bar_nominal_mm or _CHECK_BAR_MM
    return replace(target, check_bar_nominal_mm=nominal, check_bar_measured_mm=measured_mm)


def printed_targets(paper: PaperSize, markers: bool) -> tuple[Target, ...]:
    """The targets on the sheets that this program prints."""
    from digitizer.reports.target_sheet import job_target  # brings the PDF library, which the window's start need not

    if markers:
        return tuple(job_target(paper, TargetKind.ARUCO_MARKER, corner) for corner in range(4))
    return (job_target(paper),)
