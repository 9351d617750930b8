"""What a surveyor does to a condition survey: mark damage, write down a meter's figure or a sound at a place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from digitizer.job.condition_ties import MARKS_OF_DEFECTS
from digitizer.job.edits import Click, fresh_id, tidied, with_marks, with_record
from digitizer.job.model import (
    Defect,
    DefectKind,
    Job,
    MarkKind,
    Meter,
    MeterReading,
    PhotoKind,
    Sound,
    Sounding,
)


def with_defect_marks(job: Job, defect_id: str | None, kind: MarkKind, clicks: Iterable[Click]) -> Job:
    """
    The job with more marks along a crack or round an area, which comes into being when none is named.

    Parameters
    ----------
    kind
        ``CRACK`` or ``AREA``.

    Notes
    -----
    A defect whose points are listed in order gets the new ones at its end, so that none is left out of its size.
    """
    if defect_id is None:
        taken = {r.id for r in job.defects} | {mark.of for mark in job.marks if mark.of is not None}
        defect_id = fresh_id(taken, kind.value)
        usual = DefectKind.CRACK if kind is MarkKind.CRACK else DefectKind.OTHER
        job = with_record(job, "defects", Defect(defect_id, usual))
    before = {mark.id for mark in job.marks}
    job = with_marks(job, clicks, kind, of=defect_id)
    new = tuple(mark.id for mark in job.marks if mark.id not in before)
    listed = next((r for r in job.defects if r.id == defect_id and r.points), None)
    return job if listed is None else with_record(job, "defects", replace(listed, points=(*listed.points, *new)))


def without_defect(job: Job, defect_id: str) -> Job:
    """The job without a defect and the marks that showed it."""
    marks = tuple(m for m in job.marks if m.of != defect_id or m.kind not in MARKS_OF_DEFECTS)
    return tidied(replace(job, marks=marks, defects=tuple(r for r in job.defects if r.id != defect_id)))


def with_close_up(job: Job, defect_id: str, photo_id: str, shows: bool) -> Job:
    """The job in which a close-up photo shows a defect, or does not."""
    defect = next(r for r in job.defects if r.id == defect_id)
    others = tuple(photo for photo in defect.close_ups if photo != photo_id)
    return with_record(job, "defects", replace(defect, close_ups=(*others, photo_id) if shows else others))


def with_close_up_photo(job: Job, photo_id: str) -> Job:
    """The job in which a photo is a close-up: a record with its own scale, no part of the adjustment."""
    photo = next(p for p in job.photos if p.id == photo_id)
    return with_record(job, "photos", replace(photo, kind=PhotoKind.CLOSE_UP))


def with_meter(job: Job) -> Job:
    """The job with another moisture meter, its scale from 0 to 100 until something else is said."""
    return with_record(job, "meters", Meter(fresh_id((r.id for r in job.meters), "meter")))


def with_meter_reading(job: Job, click: Click, value: float) -> Job:
    """The job with a reading at a new mark, of the meter listed last; the first reading brings a meter."""
    if not job.meters:
        job = with_meter(job)
    job, point = _with_place(job, click)
    reading = MeterReading(fresh_id((r.id for r in job.meter_readings), "reading"), job.meters[-1].id, point, value)
    return with_record(job, "meter_readings", reading)


def with_sounding(job: Job, click: Click, sound: Sound) -> Job:
    """The job with what a tap gave at a new mark."""
    job, point = _with_place(job, click)
    sounding = Sounding(fresh_id((r.id for r in job.soundings), "sounding"), point, sound)
    return with_record(job, "soundings", sounding)


def _with_place(job: Job, click: Click) -> tuple[Job, str]:
    job = with_marks(job, [click], MarkKind.GRID)
    return job, job.marks[-1].id
