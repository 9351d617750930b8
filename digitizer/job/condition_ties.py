"""What the records of a condition survey hold on to: points, close-up photos, pads."""

from __future__ import annotations

from dataclasses import replace

from digitizer.job.model import Defect, Job, MarkKind, PhotoKind

MARKS_OF_DEFECTS = (MarkKind.CRACK, MarkKind.AREA)


def without_loose_ties(job: Job) -> Job:
    """
    The job whose condition survey names nothing of what is no longer in the job.

    A reading or sounding whose place is gone goes with it. A defect stays, marks or not: its note, its priority and its
    close-ups are the surveyor's, and it is removed by name only.
    """
    points = {mark.point or mark.id for mark in job.marks}
    meters = {meter.id for meter in job.meters}
    return replace(
        job,
        defects=tuple(_tied(defect, job) for defect in job.defects),
        meter_readings=tuple(r for r in job.meter_readings if r.point in points and r.meter in meters),
        soundings=tuple(r for r in job.soundings if r.point in points),
    )


def _tied(defect: Defect, job: Job) -> Defect:
    own = {m.point or m.id for m in job.marks if m.of == defect.id and m.kind in MARKS_OF_DEFECTS}
    close_ups = {photo.id for photo in job.photos if photo.kind is PhotoKind.CLOSE_UP}
    return replace(
        defect,
        points=tuple(point for point in defect.points if point in own),
        close_ups=tuple(photo for photo in defect.close_ups if photo in close_ups),
        on=defect.on if defect.on in {pad.id for pad in job.pads} else None,
    )
