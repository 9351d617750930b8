"""The condition survey: damage with its close-ups, meters and their readings, soundings, and what limits it all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.dialogs.records import RecordsDialog
from digitizer.app.document import Document
from digitizer.app.tools import BY_KEY, Gesture, Tool
from digitizer.app.words import tip, tr
from digitizer.job import condition_edits, edits
from digitizer.job.condition_validation import check_condition
from digitizer.job.model import Defect, Job, PhotoKind
from digitizer.job.problems import Problem

_DAMAGE = tuple(tool for tool in BY_KEY.values() if tool.gesture is Gesture.DEFECT)
_PLACES = tuple(tool for tool in BY_KEY.values() if tool.gesture in (Gesture.READING, Gesture.SOUND))
_LIMITS = ("conditions", "not_accessible", "limits")


class ConditionSurvey(RecordsDialog):
    """Stays beside the photo: marks are made there, and stand here as soon as they are made."""

    tool_chosen = Signal(object)
    """A `Tool` to take in hand."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        self._listed: tuple[tuple[str, ...], ...] = ()
        super().__init__(document, tr("Condition survey"), parent)
        document.job_changed.connect(self._follow)

    def fill(self, layout: QVBoxLayout, job: Job) -> None:
        """Damage, meters, readings, soundings, limits."""
        self._listed = _ids(job)
        words = tr("Take a tool, click on the photo, and fill in what was seen. Nothing here judges strength.")
        damage = self.group(layout, tr("Damage"), words)
        self._tools(damage, _DAMAGE)
        for defect in job.defects:
            self._defect(damage, job, defect)
        self._close_up_photos(layout, job)
        self._meters(layout, job)
        self._soundings(layout, job)
        limits = self.group(layout, tr("What limits the survey"))
        self.form(limits, job.document, lambda j, new: replace(j, document=new), only=_LIMITS)

    def problems(self, job: Job) -> Iterator[Problem]:
        """Figures off their meter's scale, and the like."""
        return check_condition(job)

    def _defect(self, layout: QVBoxLayout, job: Job, defect: Defect) -> None:
        marks = sum(mark.of == defect.id for mark in job.marks)
        inside = self.group(layout, defect.name or defect.id, tr("{count} marks", count=marks))
        self.form(inside, defect, lambda j, new: edits.with_record(j, "defects", new))
        for photo in (p for p in job.photos if p.kind is PhotoKind.CLOSE_UP):
            box = QCheckBox(tr("Shown in {file}", file=photo.file.replace("&", "&&")))
            box.setChecked(photo.id in defect.close_ups)
            box.toggled.connect(partial(self._shows, defect.id, photo.id))
            inside.addWidget(box)
        self.button(inside, tr("Remove"), lambda j: condition_edits.without_defect(j, defect.id))

    def _shows(self, defect: str, photo: str, shows: bool) -> None:
        self._take(condition_edits.with_close_up(self._document.job, defect, photo, shows))

    def _close_up_photos(self, layout: QVBoxLayout, job: Job) -> None:
        """Photos without marks may become close-ups; one with marks is being measured."""
        marked = {mark.photo for mark in job.marks}
        free = [p for p in job.photos if p.kind is PhotoKind.MEASURED and p.id not in marked]
        words = tr("A close-up shows a detail; it is kept as a record and no part of the measurement.")
        inside = self.group(layout, tr("Close-up photos"), words)
        if not free:
            inside.addWidget(wrapped(tr("Add the photo to the job first.")))
        for photo in free:
            words = tr("{file} is a close-up", file=photo.file.replace("&", "&&"))
            self.button(inside, words, partial(condition_edits.with_close_up_photo, photo_id=photo.id))

    def _meters(self, layout: QVBoxLayout, job: Job) -> None:
        words = tr("Readings stay on the meter's own scale. New ones are of the meter that stands last.")
        meters = self.group(layout, tr("Moisture meters and readings"), words)
        for meter in job.meters:
            inside = self.group(meters, meter.name or meter.id)
            self.form(inside, meter, lambda j, new: edits.with_record(j, "meters", new))
            self.button(inside, tr("Remove it and its readings"), partial(_without, "meters", meter.id))
        self.button(meters, tr("Add a meter"), condition_edits.with_meter)
        self._tools(meters, [tool for tool in _PLACES if tool.gesture is Gesture.READING])
        for reading in job.meter_readings:
            inside = self.group(meters, reading.id, tr("{meter}, at {place}", meter=reading.meter, place=reading.point))
            self.form(inside, reading, lambda j, new: edits.with_record(j, "meter_readings", new))
            self.button(inside, tr("Remove"), partial(_without, "meter_readings", reading.id))

    def _soundings(self, layout: QVBoxLayout, job: Job) -> None:
        soundings = self.group(layout, tr("Soundings"), tr("What a tap with the sounding hammer gave."))
        self._tools(soundings, [tool for tool in _PLACES if tool.gesture is Gesture.SOUND])
        for sounding in job.soundings:
            inside = self.group(soundings, sounding.id, tr("at {place}", place=sounding.point))
            self.form(inside, sounding, lambda j, new: edits.with_record(j, "soundings", new))
            self.button(inside, tr("Remove"), partial(_without, "soundings", sounding.id))

    def _tools(self, layout: QVBoxLayout, tools: tuple[Tool, ...] | list[Tool]) -> None:
        row = QHBoxLayout()
        for tool in tools:
            button = QPushButton(tr(tool.label))
            button.setObjectName(tool.key)
            button.setToolTip(tip(tr(tool.how)))
            button.setAccessibleDescription(tr(tool.how))
            button.clicked.connect(partial(self._choose, tool))
            row.addWidget(button)
        row.addStretch(1)
        layout.addLayout(row)

    def _choose(self, tool: Tool, _: bool = False) -> None:
        self.tool_chosen.emit(tool)

    def _follow(self) -> None:
        """Records that came or went elsewhere; what is being typed stays."""
        finished = self._document.shown is self._document.job
        if self.isVisible() and finished and _ids(self._document.job) != self._listed:
            self._rebuild()


def _ids(job: Job) -> tuple[tuple[str, ...], ...]:
    sections = (job.defects, job.meters, job.meter_readings, job.soundings)
    photos = tuple(f"{p.id} {p.kind}" for p in job.photos)
    return (*(tuple(record.id for record in records) for records in sections), photos)


def _without(section: str, name: str, job: Job) -> Job:
    return edits.without_record(job, section, name)
