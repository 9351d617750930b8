"""Patterns that were cut to the transom: which photo shows one, how it was made, and what it is set against."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.dialogs.records import RecordsDialog
from digitizer.app.document import Document
from digitizer.app.words import tr
from digitizer.job import edits, pattern_edits
from digitizer.job.model import Job, Pattern


class Patterns(RecordsDialog):
    """One form for each pattern, and a button for each photo that may show one."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(document, tr("Patterns"), parent)

    def fill(self, layout: QVBoxLayout, job: Job) -> None:
        """Patterns first, then the photos."""
        for pattern in job.patterns:
            self._pattern(layout, job, pattern)
        self._photos(layout, job)

    def _pattern(self, layout: QVBoxLayout, job: Job, pattern: Pattern) -> None:
        inside = self.group(layout, pattern.id, _counted(job, pattern))
        self.form(inside, pattern, lambda j, new: edits.with_record(j, "patterns", new))
        name = pattern.id
        self.button(
            inside,
            tr("Set keel, chines and corners against the boat's"),
            lambda j: pattern_edits.with_alignment_by_kind(j, name),
        )
        if job.settings.cut_to_pattern == name:
            self.button(inside, tr("Cut the measured outline again"), lambda j: _cut_to(j, None))
        else:
            self.button(inside, tr("Cut to this pattern"), lambda j: _cut_to(j, name))
        self.button(inside, tr("Remove the pattern"), lambda j: pattern_edits.without_pattern(j, name))

    def _photos(self, layout: QVBoxLayout, job: Job) -> None:
        words = tr(
            "A pattern is laid flat beside the printed board and photographed by itself. Mark its edge in that photo "
            "with the tools for outline, bottom edge, keel and chine."
        )
        inside = self.group(layout, tr("Which photo shows a pattern?"), words)
        shown = {pattern.photo for pattern in job.patterns}
        free = [photo for photo in job.photos if photo.id not in shown]
        if not free:
            inside.addWidget(wrapped(tr("Add its photo to the job first.")))
        for photo in free:
            self.button(
                inside,
                tr("{photo} shows a pattern", photo=photo.file),
                lambda j, i=photo.id: pattern_edits.with_pattern(j, i),  # type: ignore[misc]
            )


def _counted(job: Job, pattern: Pattern) -> str:
    """What a pattern has so far."""
    file = next((p.file for p in job.photos if p.id == pattern.photo), pattern.photo)
    along = len(pattern.edge) or sum(m.of == pattern.id for m in job.marks)
    return tr(
        "In {file}: {along} marks along its edge, {aligned} set against the boat.",
        file=file,
        along=along,
        aligned=len(pattern.aligned),
    )


def _cut_to(job: Job, name: str | None) -> Job:
    return replace(job, settings=replace(job.settings, cut_to_pattern=name))
