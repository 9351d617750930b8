"""Which printed target is on the transom, and how large its print came out."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QCheckBox, QComboBox, QDialog, QDialogButtonBox, QFormLayout, QLabel, QLineEdit, QWidget

from digitizer.app.words import tr
from digitizer.errors import ReadingError
from digitizer.job.model import PaperSize, Target, TargetKind
from digitizer.reports.target_sheet import job_target
from digitizer.units import parse_length


class BoardDialog(QDialog):
    """The board or the four markers that this program prints."""

    def __init__(self, paper: PaperSize, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Printed board"))
        self._unit = "mm" if unit == "mm" else "in"
        layout = QFormLayout(self)
        words = QLabel(tr("A target printed with this program is found in the photos by itself. Say which one it is."))
        words.setWordWrap(True)
        layout.addRow(words)
        self.kind = QComboBox()
        self.kind.addItem(tr("One board"), False)
        self.kind.addItem(tr("Four single markers"), True)
        layout.addRow(tr("Target"), self.kind)
        self.paper = QComboBox()
        for each in PaperSize:
            self.paper.addItem(each.value, each)
        self.paper.setCurrentIndex(self.paper.findData(paper))
        layout.addRow(tr("Printed on"), self.paper)
        self.check_bar = QLineEdit()
        self.check_bar.setPlaceholderText(tr("not measured"))
        layout.addRow(tr("Check bar, as measured with a rule"), self.check_bar)
        self.flush = QCheckBox(tr("It lies flat on the transom"))
        self.flush.setChecked(True)
        layout.addRow("", self.flush)
        self.complaint = QLabel()
        self.complaint.setWordWrap(True)
        self.complaint.hide()
        layout.addRow(self.complaint)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        layout.addRow(buttons)
        self.targets: tuple[Target, ...] = ()

    def accept(self) -> None:
        """Take it, unless the check bar can't be read."""
        try:
            text = self.check_bar.text().strip()
            measured = parse_length(text, self._unit) if text else None
        except ReadingError as refused:
            self.complaint.setText(str(refused))
            self.complaint.show()
            return
        self.targets = tuple(
            replace(target, check_bar_measured_mm=measured, flush=self.flush.isChecked())
            for target in printed_targets(self.paper.currentData(), bool(self.kind.currentData()))
        )
        super().accept()


def printed_targets(paper: PaperSize, markers: bool) -> tuple[Target, ...]:
    """The targets on the sheets that this program prints."""
    if markers:
        return tuple(job_target(paper, TargetKind.ARUCO_MARKER, corner) for corner in range(4))
    return (job_target(paper),)
