"""
Records that are typed rather than clicked: job details, shape and angle.

Every change goes into the document at once, as a step that can be undone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QDialogButtonBox, QGroupBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import Frame, wrapped
from digitizer.app.document import Document
from digitizer.app.panels.record_form import RecordForm
from digitizer.app.words import tr
from digitizer.job import edits
from digitizer.job.model import FaceLean, Gap, Job, LevelReadings, Rake
from digitizer.job.problems import Problem


class RecordsDialog(Frame):
    """Forms one under the other, for parts of the job that a subclass names."""

    def __init__(self, document: Document, title: str, parent: QWidget | None = None) -> None:
        super().__init__(title, QSize(500, 600), parent)
        self._document = document
        self._complaint = wrapped()
        self._complaint.hide()
        self.add_foot(self._complaint)
        self.add_button(tr("Close"), QDialogButtonBox.ButtonRole.RejectRole)
        self.buttons.rejected.connect(self.reject)
        self._rebuild()

    def fill(self, layout: QVBoxLayout, job: Job) -> None:
        """Put the forms in."""
        raise NotImplementedError

    def _rebuild(self) -> None:
        inside = QWidget()
        layout = QVBoxLayout(inside)
        self.fill(layout, self._document.job)
        layout.addStretch(1)
        self.set_body(inside)

    def group(self, layout: QVBoxLayout, title: str, words: str = "") -> QVBoxLayout:
        """A titled frame with a sentence in it."""
        box = QGroupBox(title)
        inside = QVBoxLayout(box)
        if words:
            inside.addWidget(wrapped(words))
        layout.addWidget(box)
        return inside

    def form(
        self, layout: QVBoxLayout, record: Any, put: Callable[[Job, Any], Job], only: tuple[str, ...] = ()
    ) -> None:
        """The form of one record; `put` gives the job with a new one in its place."""
        form = RecordForm(record, self._document.job.settings.unit.value, only=only)
        form.changed.connect(lambda changed: self._take(put(self._document.job, changed)))
        form.refused.connect(self._refuse)
        layout.addWidget(form)

    def button(self, layout: QVBoxLayout, words: str, put: Callable[[Job], Job]) -> None:
        """A button that changes the job and shows the forms anew."""

        def press() -> None:
            self._take(put(self._document.job))
            self._rebuild()

        row = QHBoxLayout()
        button = QPushButton(words)
        button.clicked.connect(lambda _=False: press())
        row.addWidget(button)
        row.addStretch(1)
        layout.addLayout(row)

    def problems(self, job: Job) -> Iterator[Problem]:
        """What a change would make contradictory, so that it is refused; a subclass names its own."""
        yield from ()

    def _take(self, job: Job) -> None:
        known = {problem.place for problem in self.problems(self._document.job)}
        new = next((problem for problem in self.problems(job) if problem.place not in known), None)
        if new is not None:
            self._refuse(tr("Not taken: {why}.", why=new.text))
            return
        self._complaint.hide()
        self._document.edit(tr("Change {what}", what=self.windowTitle().lower()), job)

    def _refuse(self, words: str) -> None:
        self._complaint.setText(words)
        self._complaint.show()


class JobDetails(RecordsDialog):
    """Whose transom, when, by whom, and how the answers are given."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(document, tr("Job details"), parent)

    def fill(self, layout: QVBoxLayout, job: Job) -> None:
        """Job, boat and settings."""
        self.form(self.group(layout, tr("Job")), job, lambda _, new: new, only=("title", "date", "surveyor", "note"))
        self.form(self.group(layout, tr("Boat")), job.boat, lambda j, new: replace(j, boat=new))
        self.form(self.group(layout, tr("Answers")), job.settings, lambda j, new: replace(j, settings=new))


class ShapeAndAngle(RecordsDialog):
    """The face's shape and the transom angle, as measured by hand."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(document, tr("Shape and angle"), parent)

    def fill(self, layout: QVBoxLayout, job: Job) -> None:
        """Face, gaps, level readings, lean, angle."""
        face = self.group(layout, tr("Face"), tr("Nothing is switched silently: a finding says when another fits."))
        self.form(face, job.face, lambda j, new: replace(j, face=new), only=("kind",))
        gaps = self.group(
            layout, tr("Straightedge and gap"), tr("Positive when the face bulges aft between the straightedge's ends.")
        )
        for gap in job.gaps:
            self.form(gaps, gap, lambda j, new: edits.with_record(j, "gaps", new))
            self.button(gaps, tr("Remove"), lambda j, i=gap.id: edits.without_record(j, "gaps", i))  # type: ignore[misc]
        self.button(gaps, tr("Add a gap"), _with_gap)
        level = self.group(
            layout,
            tr("Level on face and keel"),
            tr("Transom angle = face − keel. Positive: the face when its top leans aft, the keel when the bow is up."),
        )
        self._optional(level, job, "level_readings", LevelReadings(0.0, 0.0), tr("Add level readings"))
        lean = self.group(layout, tr("Level on the face alone"), tr("How far its top leans aft from plumb."))
        self._optional(lean, job, "face_lean", FaceLean(0.0), tr("Add a reading"))
        rake = self.group(layout, tr("Transom angle, if known"), tr("Face against the perpendicular to the keel."))
        self._optional(rake, job, "rake", Rake(13.0), tr("Add the angle"))

    def _optional(self, layout: QVBoxLayout, job: Job, name: str, usual: Any, words: str) -> None:
        """A record that may be missing."""

        def put(j: Job, new: Any) -> Job:
            changed: dict[str, Any] = {name: new}
            return replace(j, **changed)

        record = getattr(job, name)
        if record is None:
            self.button(layout, words, lambda j: put(j, usual))
        else:
            self.form(layout, record, put)
            self.button(layout, tr("Remove"), lambda j: put(j, None))


def _with_gap(job: Job) -> Job:
    return edits.with_record(job, "gaps", Gap(edits.fresh_id((g.id for g in job.gaps), "gap"), 2000.0, 0.0))
