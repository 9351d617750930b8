"""What the trade takes by hand, as records on their way into a job. No Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from digitizer.job.edits import with_record
from digitizer.job.model import (
    DeadriseReading,
    FaceLean,
    Gap,
    GravityLine,
    Job,
    KnownLength,
    LevelReadings,
    Mark,
    MarkKind,
    Rake,
    Side,
)

ListedRecord = DeadriseReading | Gap | GravityLine | KnownLength
SingleRecord = FaceLean | LevelReadings | Rake

_SECTIONS: dict[type, str] = {
    DeadriseReading: "deadrise_readings",
    FaceLean: "face_lean",
    Gap: "gaps",
    GravityLine: "gravity_lines",
    KnownLength: "lengths",
    LevelReadings: "level_readings",
    Rake: "rake",
}
_KIND_WORDS = {
    MarkKind.KEEL: "keel point",
    MarkKind.CHINE: "chine",
    MarkKind.CHINE_INNER: "inner edge of the chine flat",
    MarkKind.TOP_CORNER: "top corner",
    MarkKind.LENGTH_END: "end of a length",
    MarkKind.REFERENCE_LINE: "on the reference line",
}


@dataclass(frozen=True)
class Place:
    """A place on the boat that a length may run from: its point and what it is, in words."""

    point: str
    words: str


def with_tape_record(job: Job, record: ListedRecord | SingleRecord) -> Job:
    """The job with a figure taken by hand; one of the kinds that a job has once replaces the one before."""
    single: dict[str, Any] = {_SECTIONS[type(record)]: record}
    if isinstance(record, FaceLean | LevelReadings | Rake):
        return replace(job, **single)
    return with_record(job, _SECTIONS[type(record)], record)


def section_of(record: type) -> str:
    """Name of the job's field that holds records of this kind."""
    return _SECTIONS[record]


def places_of(job: Job) -> tuple[Place, ...]:
    """The places that marks show, each once, in the order they were marked."""
    marks = {mark.point or mark.id: mark for mark in reversed(job.marks)}
    order = dict.fromkeys(mark.point or mark.id for mark in job.marks)
    return tuple(Place(point, _words(point, marks[point])) for point in order)


def _words(point: str, mark: Mark) -> str:
    kind = _KIND_WORDS.get(mark.kind, mark.kind.value.replace("_", " "))
    side = f", {mark.side.value}" if mark.side in (Side.PORT, Side.STARBOARD) else ""
    return point if point == f"{kind}{side}" else f"{point} ({kind}{side})"
