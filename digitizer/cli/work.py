"""
From the name of a job file to its finished survey: the work that several verbs share.

Imported by a verb only once it runs, because the measuring libraries come with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from digitizer.cli.console import Progress
from digitizer.errors import AdjustmentError, DigitizerError
from digitizer.imaging.photo import PhotoFacts, rgb_pixels
from digitizer.job.lenses import kept_lenses, lens_file
from digitizer.job.model import Job
from digitizer.job.reading import JobFile, photo_bytes, read_job
from digitizer.survey.evidence import Evidence, gather
from digitizer.survey.lens_offers import offers
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey

if TYPE_CHECKING:
    from digitizer.survey.foresight import Foresight
    from digitizer.survey.snapping import Snapped


@dataclass(frozen=True)
class Measured:
    """A job and what came of it."""

    job_file: JobFile
    survey: Survey
    offers: tuple[str, ...] = ()
    """Kept calibrations that would fit its photos, in words."""


def measured(job_file: JobFile, progress: Progress, snap: bool = False) -> Measured:
    """The job's survey, with its marks snapped to the edges if asked; `progress` hears what is being done."""
    if snap:
        job_file = replace(job_file, job=snapped(job_file, progress).job)
    evidence = gather(job_file, progress)
    progress("Adjusting …")
    try:
        survey = measure(job_file.job, evidence.facts, evidence.sightings)
    except AdjustmentError as refusal:
        if job_file.job.marks:
            raise
        raise _with_outlook(refusal, job_file, evidence) from refusal
    return Measured(job_file, survey, _offers(job_file.job, evidence.facts))


def _with_outlook(refusal: AdjustmentError, job_file: JobFile, evidence: Evidence) -> AdjustmentError:
    """The refusal of a job without marks, and what its photos can reach."""
    from digitizer.survey.foresight import outlook

    words = outlook(job_file.job, evidence.facts, evidence.sightings)
    return AdjustmentError(f"{refusal} {words}") if words else refusal


def foreseen(job_file: JobFile, progress: Progress) -> Foresight | None:
    """What the photos of a job that can't be measured yet can reach."""
    from digitizer.survey.foresight import foresee

    evidence = gather(job_file, progress)
    return foresee(job_file.job, evidence.facts, evidence.sightings)


def _offers(job: Job, facts: Mapping[str, PhotoFacts]) -> tuple[str, ...]:
    if not lens_file().is_file():
        return ()
    try:
        found = offers(job, facts, kept_lenses())
    except DigitizerError as failure:
        return (str(failure),)
    return tuple(
        f"a calibration is kept for the photos of {camera} ({c.source}): 'digitizer lens' puts it into the job."
        for camera, c in found.items()
    )


def snapped(job_file: JobFile, progress: Progress) -> Snapped:
    """The job with its marks on the edges they mean, and what stayed as clicked."""
    from digitizer.survey.snapping import snapped_job  # a tenth of a second that only those pay who snap

    return snapped_job(job_file.job, pictures(job_file, progress), progress)


def opened(path: Path, progress: Progress) -> JobFile:
    """The job in the file `path`."""
    progress(f"Reading {path.name} …")
    return read_job(path)


def sources(job_file: JobFile) -> tuple[Path, ...]:
    """The files a job is made of, none of which a result may replace."""
    beside = job_file.path.parent
    return (job_file.path, *(beside / photo.file for photo in job_file.job.photos))


def pictures(job_file: JobFile, progress: Progress) -> dict[str, NDArray[np.uint8]]:
    """The photos that were measured, by id: (rows, columns, 3) RGB, EXIF orientation applied."""
    progress("Developing the photos …")
    active = [photo for photo in job_file.job.photos if photo.active]
    return {photo.id: rgb_pixels(photo_bytes(job_file, photo), photo.file) for photo in active}
