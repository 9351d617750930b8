"""
The open job: its undo stack, its photos, its latest survey; tells others when one of them changed.

It holds no widget and computes nothing; tests use it without a window.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from digitizer.app.commands import Edit
from digitizer.app.pictures import LoadedPhoto
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job
from digitizer.job.shelf import PhotoShelf
from digitizer.survey.model import Survey


@dataclass(frozen=True)
class Answer:
    """What a job came to: a survey, or the sentence that says why there is none yet."""

    job: Job
    survey: Survey | None
    problem: str = ""
    is_full: bool = True
    """Measured throughout; false: followed from the last full measurement while a mark is dragged."""


class Document(QObject):
    """The job that a window shows."""

    job_changed = Signal()
    """Another job is shown: edited, undone, or while a mark is being dragged."""
    answered = Signal()
    """The survey changed, or grew old."""
    selection_changed = Signal()
    lit_changed = Signal()
    photos_changed = Signal()
    place_changed = Signal()
    """It was saved or opened under another name."""

    def __init__(self, job: Job | None = None, path: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.undo_stack = QUndoStack(self)
        self.undo_stack.setUndoLimit(1000)
        self._job = job or Job()
        self._preview: Job | None = None
        self.path = path
        self.shelf = PhotoShelf()
        self.photos: dict[str, LoadedPhoto] = {}
        self.answer = Answer(Job(), None)
        self.selection: tuple[str, ...] = ()
        self.lit: Mapping[str, float] = {}
        """Marks that the chosen dimension rests on, each with its share of the variance."""

    # ---- the job --------------------------------------------------------------------------------------------------

    @property
    def job(self) -> Job:
        """The job as the last finished edit left it."""
        return self._job

    @property
    def shown(self) -> Job:
        """The job as it would be if the mark were let go here; else the job itself."""
        return self._job if self._preview is None else self._preview

    def edit(self, words: str, job: Job, joins: str | None = None) -> None:
        """
        Take a new job as one undoable step.

        Parameters
        ----------
        words
            The step's name in the menu, such as "Move the keel point".
        joins
            Steps that follow each other with the same word here are undone together.
        """
        self._preview = None
        if job != self._job:
            self.undo_stack.push(Edit(self, words, job, joins))
        else:
            self.job_changed.emit()

    def preview(self, job: Job | None) -> None:
        """Show a job that is not taken yet, as while dragging; None shows the taken one again."""
        self._preview = job
        self.job_changed.emit()

    def show_job(self, job: Job) -> None:
        """For commands only: what the undo stack now stands at."""
        self._job = job
        self._preview = None
        known = set(_ids(job))
        self.select(*(i for i in self.selection if i in known))
        self.job_changed.emit()

    def start(self, job: Job, path: Path | None, shelf: PhotoShelf, saved: bool = True) -> None:
        """
        Begin with another job altogether: nothing to undo, and nothing to save unless it was recovered.

        Its photos are read afterwards; see `keep_photo`.
        """
        self.undo_stack.clear()
        self._job, self._preview, self.path, self.shelf = job, None, path, shelf
        self.photos = {}
        self.answer = Answer(Job(), None)
        self.select()
        self.light({})
        if not saved:
            self.undo_stack.resetClean()
        self.photos_changed.emit()
        self.place_changed.emit()
        self.job_changed.emit()
        self.answered.emit()

    def saved_as(self, path: Path) -> None:
        """The job now lies in this file."""
        self.path = path
        self.undo_stack.setClean()
        self.place_changed.emit()

    @property
    def is_saved(self) -> bool:
        """Nothing was edited since it was opened or saved: the undo stack's clean state."""
        return self.undo_stack.isClean()

    @property
    def title(self) -> str:
        """What to call it: its title, its file's name, or nothing yet."""
        return self._job.title or (self.path.stem if self.path else "")

    # ---- photos ---------------------------------------------------------------------------------------------------

    def keep_photo(self, photo_id: str, loaded: LoadedPhoto) -> None:
        """A photo was read; it stays here even if its file goes away."""
        self.photos[photo_id] = loaded
        self.photos_changed.emit()

    @property
    def facts(self) -> dict[str, PhotoFacts]:
        """What each photo at hand says of itself."""
        return {photo.id: self.photos[photo.id].facts for photo in self.job.photos if photo.id in self.photos}

    # ---- the answer -----------------------------------------------------------------------------------------------

    def take_answer(self, answer: Answer) -> None:
        """A survey arrived; one of a job that is no longer shown is dropped."""
        if answer.job in (self._job, self._preview):
            self.answer = answer
            self.answered.emit()

    @property
    def survey(self) -> Survey | None:
        """The latest survey, perhaps of the job before the last edit."""
        return self.answer.survey

    @property
    def is_current(self) -> bool:
        """The answer belongs to what is shown."""
        return self.answer.job == self.shown

    @property
    def is_measured(self) -> bool:
        """The answer is a whole measurement of the job as it stands."""
        return self.answer.survey is not None and self.answer.is_full and self.answer.job == self._job

    # ---- selection ------------------------------------------------------------------------------------------------

    def select(self, *ids: str) -> None:
        """Select marks or other records by id."""
        if ids != self.selection:
            self.selection = ids
            self.selection_changed.emit()

    def light(self, shares: Mapping[str, float]) -> None:
        """Light marks by their share in a dimension; none puts them out."""
        if shares != self.lit:
            self.lit = shares
            self.lit_changed.emit()


def _ids(job: Job) -> list[str]:
    sections = (job.marks, job.fittings, job.lengths, job.lines, job.rectangles, job.targets, job.pads, job.photos)
    return [record.id for section in sections for record in section]
