"""What is chosen: its own record and the record it belongs to, to be corrected by typing."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.document import Document
from digitizer.app.panels.record_form import RecordForm
from digitizer.app.tools import mark_name
from digitizer.app.words import tr
from digitizer.job import edits
from digitizer.job.model import Job, Mark

SECTIONS = {
    "fittings": "Fitting",
    "lines": "Line",
    "lengths": "Known length",
    "rectangles": "Sheet",
    "pads": "Pad or notch",
    "targets": "Printed board",
    "deadrise_readings": "A and B by tape",
    "gaps": "Gap under a straightedge",
    "photos": "Photo",
    "defects": "Damage",
    "meter_readings": "Meter reading",
    "soundings": "Sounding",
}


class Inspector(QScrollArea):
    """Forms for the chosen mark and its fitting, line, length …"""

    refused = Signal(str)
    delete_asked = Signal()

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._shown: tuple[Any, ...] = ()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAccessibleName(tr("What is chosen"))
        document.selection_changed.connect(self.refresh)
        document.job_changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the records of the selection, unless they are shown already."""
        document = self._document
        if document.shown is not document.job:
            return
        records = chosen_records(document.job, document.selection)
        if self._shown and records == self._shown:
            return
        if _focus_within(self) and [_key(r) for r in records] == [_key(r) for r in self._shown]:
            self._shown = records
            return
        self._shown = records
        inside = QWidget()
        layout = QVBoxLayout(inside)
        if not records:
            layout.addWidget(wrapped(tr("Choose a mark, a fitting or a figure to see and correct its record.")))
        for section, record in records:
            layout.addWidget(self._heading(section, record))
            layout.addWidget(self._form(section, record))
        if records:
            delete = QPushButton(tr("Delete"))
            delete.clicked.connect(self.delete_asked)
            layout.addWidget(delete, 0, Qt.AlignmentFlag.AlignLeft)
        layout.addStretch(1)
        self.setWidget(inside)

    def _heading(self, section: str, record: Any) -> QLabel:
        kind = mark_name(record).capitalize() if isinstance(record, Mark) else tr(SECTIONS[section])
        label = QLabel(f"{kind}: {getattr(record, 'name', '') or record.id}")
        label.setTextFormat(Qt.TextFormat.PlainText)
        font = label.font()
        font.setBold(True)
        label.setFont(font)
        return label

    def _form(self, section: str, record: Any) -> RecordForm:
        job = self._document.job
        form = RecordForm(record, job.settings.unit.value, (pad.id for pad in job.pads))

        def take(changed: Any) -> None:
            words = tr("Change {what}", what=record.id)
            self._document.edit(words, edits.with_record(self._document.job, section, changed))

        form.changed.connect(take)
        form.refused.connect(self.refused)
        return form


def chosen_records(job: Job, selection: tuple[str, ...]) -> tuple[tuple[str, Any], ...]:
    """The one chosen mark and what it belongs to, or the one chosen record; nothing for a wider choice."""
    marks = [mark for mark in job.marks if mark.id in selection]
    owners = {mark.of for mark in marks if mark.of} | set(selection)
    if len(selection) != 1 and len(owners - {m.id for m in marks}) != 1:
        return ()
    found: list[tuple[str, Any]] = [("marks", mark) for mark in marks[:1] if len(selection) == 1]
    ends = {mark.point or mark.id for mark in marks}
    for section in SECTIONS:
        for record in getattr(job, section):
            of_ends = section == "lengths" and bool(ends & {record.from_point, record.to_point}) and len(marks) == 1
            there = section in ("meter_readings", "soundings") and record.point in ends and len(marks) == 1
            if record.id in owners or of_ends or there:
                found.append((section, record))
    return tuple(found[:3])


def _key(record: tuple[str, Any]) -> tuple[str, str]:
    return record[0], record[1].id


def _focus_within(widget: QWidget) -> bool:
    focus = widget.window().focusWidget()
    return focus is not None and widget.isAncestorOf(focus)
