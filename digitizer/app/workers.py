"""
Long work off the interface thread: one thread, the newest job first, old ones cancelled.

A result remembers the job it came from, so that a late one is recognised and dropped.
"""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QThread, Signal

from digitizer.app.document import Answer
from digitizer.errors import DigitizerError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Photo, Sighting, Target

if TYPE_CHECKING:
    from digitizer.survey.live import Live
    from digitizer.survey.model import Survey

Facts = Mapping[str, PhotoFacts]
PhotoReader = Callable[[Photo], bytes]


class Surveyor(QObject):
    """Measures the newest job it was given; answers come by signal, on the thread that made it."""

    answered = Signal(object)
    """An `Answer`."""
    foreseen = Signal(object, str)
    """A job, and what its photos can reach as long as it can't be measured; empty once it is."""
    busy_changed = Signal(bool)
    failed = Signal(str)
    """A bug: the traceback."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._condition = threading.Condition()
        self._wanted: tuple[Job, Facts, PhotoReader] | None = None
        self._interrupted = threading.Event()
        self._ended = False
        self._seen: dict[tuple[str, str, tuple[Target, ...]], tuple[Sighting, ...]] = {}
        self._live: Live | None = None
        self._thread = _Loop(self._work, self)
        self._thread.start()

    def measure(self, job: Job, facts: Facts, read: PhotoReader) -> None:
        """
        Measure this job; whatever is being measured is given up. Without marks it is only foreseen.

        Parameters
        ----------
        facts
            By photo id, of all photos in use.
        read
            Gives the file of a photo, where a target has to be looked for in it.
        """
        with self._condition:
            self._wanted = (job, facts, read)
            self._condition.notify()
        self.busy_changed.emit(True)

    def pause(self) -> None:
        """Give up what is being measured, as when a mark is picked up."""
        with self._condition:
            self._wanted = None
            self._interrupted.set()

    def live(self) -> Live | None:
        """State of the last whole measurement."""
        return self._live

    def follow(self, job: Job) -> Answer | None:
        """
        The answer for a job in which marks or figures moved since the last full measurement, at once.

        None where the job differs in more, or has moved too far to be followed.
        """
        from digitizer.survey.exchange import structure_changed
        from digitizer.survey.live import quick

        live = self._live
        if live is None or structure_changed(live.job, job):
            return None
        try:
            return Answer(job, quick(live, job), is_full=False)
        except DigitizerError:
            return None

    def close(self) -> None:
        """End the thread; waits for it."""
        with self._condition:
            self._ended = True
            self._interrupted.set()
            self._condition.notify()
        self._thread.wait()

    # ---- on the thread --------------------------------------------------------------------------------------------

    def _work(self) -> None:
        while True:
            with self._condition:
                while self._wanted is None and not self._ended:
                    self._condition.wait()
                if self._ended or self._wanted is None:
                    return
                job, facts, read = self._wanted
                self._wanted = None
                self._interrupted.clear()
            try:
                self._answer(job, facts, read)
            except InterruptedError:
                continue
            except Exception:  # a bug must not end the thread silently: the window tells it
                self.failed.emit(traceback.format_exc())
            if self._wanted is None:
                self.busy_changed.emit(False)

    def _answer(self, job: Job, facts: Facts, read: PhotoReader) -> None:
        if job.marks and self._is_answered(job, facts, read):
            self.foreseen.emit(job, "")
        else:
            self.foreseen.emit(job, self._outlook(job, facts, read))

    def _is_answered(self, job: Job, facts: Facts, read: PhotoReader) -> bool:
        """Whether there is a survey; either way the answer is told."""
        try:
            survey, self._live = self._surveyed(job, facts, read)
            self.answered.emit(Answer(job, survey))
        except DigitizerError as problem:
            self._live = None
            self.answered.emit(Answer(job, None, str(problem)))
            return False
        return True

    def _surveyed(self, job: Job, facts: Facts, read: PhotoReader) -> tuple[Survey, Live | None]:
        from digitizer.survey.live import started

        return started(job, facts, self._sightings(job, facts, read), self._is_overtaken)

    def _outlook(self, job: Job, facts: Facts, read: PhotoReader) -> str:
        from digitizer.survey.foresight import outlook

        try:
            return outlook(job, facts, self._sightings(job, facts, read), self._is_overtaken)
        except DigitizerError:
            return ""  # a photo that can't be read, or a board that can't be: told where it is read or measured

    def _sightings(self, job: Job, facts: Facts, read: PhotoReader) -> tuple[Sighting, ...]:
        """Those that the job stores, and those found anew."""
        sightings = list(job.sightings)
        for photo in (p for p in job.photos if p.active):
            sightings += self._seen_in(photo, job, facts[photo.id].sha256, read)
            if self._is_overtaken():
                raise InterruptedError
        return tuple(sightings)

    def _seen_in(self, photo: Photo, job: Job, sha256: str, read: PhotoReader) -> tuple[Sighting, ...]:
        """Targets in a photo that the job doesn't know yet, looked for once."""
        from digitizer.survey.evidence import looked_for, unseen

        wanted = unseen(job, photo)
        if not wanted:
            return ()
        key = (photo.id, sha256, wanted)
        if key not in self._seen:
            self._seen[key] = looked_for(photo, read(photo), wanted)
        return self._seen[key]

    def _is_overtaken(self) -> bool:
        return self._wanted is not None or self._interrupted.is_set()


class _Loop(QThread):
    def __init__(self, work: Callable[[], None], parent: QObject) -> None:
        super().__init__(parent)
        self._work = work

    def run(self) -> None:
        self._work()


class Task(QObject):
    """One piece of work on a thread of its own, with its progress, that can be cancelled."""

    told = Signal(str)
    done = Signal(object)
    refused = Signal(str)
    """The sentence of a `DigitizerError`."""
    cancelled = Signal()
    failed = Signal(str)
    """A bug: the traceback."""

    def __init__(self, work: Callable[[Callable[[str], None]], object], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._do = work
        self._cancel = threading.Event()
        self._thread = _Loop(self._run, self)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def cancel(self) -> None:
        """End at the next word of progress."""
        self._cancel.set()

    def wait(self) -> None:
        """Until the thread has ended."""
        self._thread.wait()

    def _tell(self, words: str) -> None:
        if self._cancel.is_set():
            raise InterruptedError
        self.told.emit(words)

    def _run(self) -> None:
        try:
            result = self._do(self._tell)
        except InterruptedError:
            self.cancelled.emit()
        except DigitizerError as problem:
            self.refused.emit(str(problem))
        except Exception:  # told by the window, with the job safe
            self.failed.emit(traceback.format_exc())
        else:
            self.done.emit(result)
