"""
Jobs in and out of the window: new, open, add photos, save, and the copy kept aside in case of a crash.

What has to be asked or told goes through `Voice`, so that tests answer without a screen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from PySide6.QtCore import QObject, QTimer, Signal

from digitizer.app.document import Document
from digitizer.app.pictures import LoadedPhoto, load
from digitizer.app.words import tr
from digitizer.app.workers import Task
from digitizer.errors import DigitizerError
from digitizer.files import settings_folder, state_folder
from digitizer.imaging.photo import PhotoFacts
from digitizer.job import edits
from digitizer.job.lenses import kept_lenses
from digitizer.job.lock import InUse, JobLock, lock_job
from digitizer.job.model import Camera, Job, Photo, Target
from digitizer.job.preferences import Preferences
from digitizer.job.reading import read_job
from digitizer.job.recent import remember_job
from digitizer.job.recovery import Keeper, Recovery
from digitizer.job.saving import BUNDLE_SUFFIX, save_job
from digitizer.job.shelf import PhotoShelf
from digitizer.survey.lens_offers import offers, with_offers

if TYPE_CHECKING:
    from digitizer.survey.board_photos import CalibratedCamera

PHOTO_SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif")
JOB_SUFFIXES = (BUNDLE_SUFFIX, ".json")
_KEEP_AFTER_MS = 1500


class Voice(Protocol):
    """How the desk speaks with the person."""

    def tell(self, words: str) -> None:
        """Say something that needs no answer."""

    def choose(self, question: str, options: tuple[str, ...]) -> int:
        """Ask; the index of the option chosen, −1 for none."""

    def place_to_save(self, suggestion: str) -> Path | None:
        """Ask where to save; None for nowhere."""


@dataclass(frozen=True)
class Folders:
    """Where unsaved work, locks and the list of recent jobs are kept."""

    state: Path
    settings: Path

    @classmethod
    def of_user(cls) -> Folders:
        """Those of the platform."""
        return cls(state_folder(), settings_folder())

    @property
    def recent(self) -> Path:
        """File with the list of recent jobs."""
        return self.settings / "recent.json"

    @property
    def lenses(self) -> Path:
        """File with the calibrations of cameras."""
        return self.settings / "lenses.json"

    @property
    def recovery(self) -> Path:
        """Folder of work kept aside."""
        return self.state / "recovery"


class Desk(QObject):
    """The way of a document from and to the disk."""

    busy_changed = Signal(str)
    """What is being read or written; empty when nothing is."""

    def __init__(self, document: Document, voice: Voice, folders: Folders) -> None:
        super().__init__()
        self._document, self._voice, self.folders = document, voice, folders
        self.preferences = Preferences()
        self._lock = JobLock(None)
        self._keeper: Keeper | None = None
        self._recovery: Recovery | None = None
        self._tasks: list[Task] = []
        self._later = QTimer(self, interval=_KEEP_AFTER_MS, singleShot=True)
        self._later.timeout.connect(self.keep)
        document.job_changed.connect(self._edited)

    # ---- beginning -----------------------------------------------------------------------------------------------

    def new(self) -> bool:
        """An empty job; false if the person wants to stay with the old one."""
        if not self.may_leave():
            return False
        self._begin(Job(settings=self.preferences.for_new_job()), None, PhotoShelf())
        return True

    def open(self, path: Path) -> bool:
        """The job in a file; false if it was refused, with the reason told."""
        if not self.may_leave():
            return False
        try:
            job_file = read_job(path)
        except DigitizerError as refused:
            self._voice.tell(str(refused))
            return False
        lock = self._locked(path)
        if lock is None:
            return False
        self._begin(job_file.job, path, PhotoShelf(job_file), lock=lock)
        remember_job(self.folders.recent, path, job_file.job.title)
        return True

    def open_copy(self, path: Path) -> bool:
        """A job to play with, such as the sample: it has no file of its own until it is saved."""
        if not self.may_leave():
            return False
        job_file = read_job(path)
        self._begin(job_file.job, None, PhotoShelf(job_file))
        return True

    def recover(self, recovery: Recovery) -> None:
        """Work that a window did not live to save."""
        lock = JobLock(None)
        if recovery.job_path is not None:
            lock = self._locked(recovery.job_path) or lock
        self._begin(recovery.job, recovery.job_path, recovery.shelf(), saved=False, lock=lock)
        self._recovery = recovery
        self.keep()

    def _begin(
        self, job: Job, path: Path | None, shelf: PhotoShelf, saved: bool = True, lock: JobLock | None = None
    ) -> None:
        self._forget()
        self._lock = lock or JobLock(None)
        self._keeper = Keeper(self.folders.recovery)
        self._document.start(job, path, shelf, saved)
        self._later.stop()
        for photo in job.photos:
            self._read(photo)

    def _locked(self, path: Path) -> JobLock | None:
        """The job's lock; None if somebody has it and the person would rather not."""
        spare = self.folders.state / "locks"
        lock = lock_job(path, spare)
        if isinstance(lock, InUse):
            where = tr("on {host}", host=lock.elsewhere) if lock.elsewhere else tr("in another window")
            question = tr(
                "This job is open {where} since {since:%H:%M}. If both save, the later one wins.",
                where=where,
                since=lock.since,
            )
            if self._voice.choose(question, (tr("Leave it"), tr("Open all the same"))) != 1:
                return None
            lock = lock_job(path, spare, by_force=True)
        return lock if isinstance(lock, JobLock) else JobLock(None)

    # ---- photos --------------------------------------------------------------------------------------------------

    def add_photos(self, paths: Iterable[Path]) -> None:
        """Photos from anywhere on the disk, each one edit."""
        for path in paths:
            self._add(path)

    def _add(self, path: Path) -> None:
        try:
            data = path.read_bytes()
        except OSError as problem:
            self._voice.tell(tr("{file}: it can't be read ({why})", file=path.name, why=problem.strerror))
            return
        self._start(tr("Reading {file} …", file=path.name), lambda tell: load(data, path.name), self._placed(path))

    def _placed(self, path: Path) -> Callable[[LoadedPhoto], None]:
        def place(loaded: LoadedPhoto) -> None:
            job = self._document.job
            if any(photo.sha256 == loaded.facts.sha256 for photo in job.photos):
                self._voice.tell(tr("{file} is in the job already.", file=path.name))
                return
            photo = _photo(job, path.name, loaded)
            self._document.shelf.add(photo.id, path)
            self._document.shelf.data(photo)
            self._document.photos[photo.id] = loaded
            job = edits.with_photo(job, photo)
            is_new = all(camera.id != photo.camera for camera in job.cameras)
            if is_new:
                job = replace(job, cameras=(*job.cameras, Camera(photo.camera)))
            self._document.edit(tr("Add {file}", file=path.name), job)
            self._document.photos_changed.emit()
            if is_new:
                self.offer_lenses()

        return place

    def _read(self, photo: Photo) -> None:
        """Decode one of the job's photos beside the interface."""
        shelf = self._document.shelf

        def keep(loaded: LoadedPhoto) -> None:
            if self._document.shelf is shelf:
                self._document.keep_photo(photo.id, loaded)

        words = tr("Reading {file} …", file=photo.file)
        self._start(words, lambda tell: load(shelf.data(photo), photo.file), keep)

    def _start(self, words: str, work: Callable[[Callable[[str], None]], object], done: Callable[[Any], None]) -> None:
        task = Task(work, self)
        self._tasks.append(task)
        task.done.connect(done)
        task.refused.connect(self._voice.tell)
        task.failed.connect(self._voice.tell)
        for signal in (task.done, task.refused, task.failed):
            signal.connect(lambda *_: self._ended(task))
        self.busy_changed.emit(words)
        task.start()

    def _ended(self, task: Task) -> None:
        task.wait()
        self._tasks.remove(task)
        task.deleteLater()
        if not self._tasks:
            self.busy_changed.emit("")

    @property
    def is_reading(self) -> bool:
        """Photos are still being read."""
        return bool(self._tasks)

    # ---- lenses --------------------------------------------------------------------------------------------------

    def offer_lenses(self, say_none: bool = False) -> None:
        """Ask whether the calibrations that are kept for the cameras of these photos are to be used."""
        try:
            found = offers(self._document.job, self._document.facts, kept_lenses(self.folders.lenses))
        except DigitizerError as refused:
            self._voice.tell(str(refused))
            return
        for camera, calibration in found.items():
            words = tr(
                "A calibration of this camera and lens is kept: {source}. Use it in this job?",
                source=calibration.source or tr("no source stated"),
            )
            if self._voice.choose(words, (tr("Use it"), tr("Leave it"))) == 0:
                job = with_offers(self._document.job, {camera: calibration})
                self._document.edit(tr("Use the calibration kept"), job)
        if say_none and not found:
            none = "No calibration is kept for the cameras of this job that lack one: Calibrate a camera makes one."
            self._voice.tell(tr(none))

    def calibrate(self, paths: Sequence[Path], board: Target) -> None:
        """A camera's lens from photos of a board: worked out beside the interface, kept, told and offered."""
        from digitizer.app.calibrating import calibrated_and_kept, told

        def end(camera: CalibratedCamera) -> None:
            self._voice.tell(told(camera))
            self.offer_lenses()

        words = tr("Calibrating from {n} photos …", n=len(paths))
        self._start(words, lambda tell: calibrated_and_kept(paths, board, self.folders.lenses, tell), end)

    # ---- saving --------------------------------------------------------------------------------------------------

    def save(self) -> bool:
        """Save where the job lies; asks for a place if it has none. False if it was not saved."""
        path = self._document.path
        return self.save_as() if path is None else self._save(path)

    def save_as(self) -> bool:
        """Save under another name."""
        from digitizer.app.handing_over import file_stem  # brings the writers, which the window's start need not

        name = file_stem(self._document.title)
        path = self._voice.place_to_save(name + BUNDLE_SUFFIX)
        return path is not None and self._save(path)

    def _save(self, path: Path) -> bool:
        if path != self._document.path:
            lock = self._locked(path) if path.exists() else None
            if path.exists() and lock is None:
                return False
            self._lock.release()
            self._lock = lock or JobLock(None)
        try:
            saved = save_job(self._document.job, self._document.shelf, path)
        except DigitizerError as refused:
            self._voice.tell(tr("Not saved. {why}", why=refused))
            return False
        self._document.saved_as(path)
        if self._recovery is not None:
            self._recovery.discard()
            self._recovery = None
        if self._keeper is not None:
            self._keeper.close()
        remember_job(self.folders.recent, path, self._document.job.title)
        for lacking in saved.lacking:
            self._voice.tell(tr("Saved without a photo. {why}", why=lacking))
        return True

    def may_leave(self) -> bool:
        """Whether the job may be closed: it is saved, or the person saved it now or lets it go."""
        if self._document.is_saved:
            return True
        title = self._document.title or tr("this job")
        options = (tr("Save"), tr("Don't save"), tr("Cancel"))
        answer = self._voice.choose(tr("Save the changes to {title} before it is closed?", title=title), options)
        return self.save() if answer == 0 else answer == 1

    def close(self) -> None:
        """The window goes: nothing is kept aside any more, and others may have the job."""
        self._later.stop()
        for task in list(self._tasks):
            task.cancel()
            task.wait()
        self._forget()

    def _forget(self) -> None:
        if self._keeper is not None:
            self._keeper.close()
        if self._recovery is not None:
            self._recovery.discard()
            self._recovery = None
        self._lock.release()

    # ---- in case of a crash -----------------------------------------------------------------------------------------

    def _edited(self) -> None:
        finished = self._document.shown is self._document.job
        if finished and not self._document.is_saved and not self._later.isActive():
            self._later.start()

    def keep(self) -> None:
        """Put unsaved work aside now."""
        if self._document.is_saved or self._keeper is None:
            return
        try:
            self._keeper.keep(self._document.job, self._document.shelf)
        except DigitizerError as refused:
            self._voice.tell(tr("Unsaved work could not be put aside: {why}", why=refused))


def _photo(job: Job, name: str, loaded: LoadedPhoto) -> Photo:
    """The record of a new photo; photos of one device share its camera."""
    facts = loaded.facts
    taken = {photo.file.lower() for photo in job.photos} | {"job.json"}
    stem, dot, suffix = name.rpartition(".")
    file, number = name, 1
    while file.lower() in taken:
        number += 1
        file = f"{stem}_{number}{dot}{suffix}"
    same = next((p.camera for p in job.photos if p.device == facts.device and _size(p) == _facts_size(facts)), None)
    return Photo(
        id=edits.fresh_id((photo.id for photo in job.photos), "photo"),
        file=file,
        sha256=facts.sha256,
        width_px=facts.width_px,
        height_px=facts.height_px,
        camera=same or edits.fresh_id((camera.id for camera in job.cameras), "camera"),
        captured=facts.captured,
        device=facts.device,
    )


def _size(photo: Photo) -> tuple[int, ...]:
    return tuple(sorted((photo.width_px or 0, photo.height_px or 0)))


def _facts_size(facts: PhotoFacts) -> tuple[int, ...]:
    return tuple(sorted((facts.width_px, facts.height_px)))


def sort_drop(paths: Iterable[Path]) -> tuple[list[Path], list[Path], list[Path]]:
    """Jobs, photos and the rest among dropped files."""
    jobs: list[Path] = []
    photos: list[Path] = []
    others: list[Path] = []
    for path in paths:
        suffix = path.suffix.lower()
        (jobs if suffix in JOB_SUFFIXES else photos if suffix in PHOTO_SUFFIXES else others).append(path)
    return jobs, photos, others
