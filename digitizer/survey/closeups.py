"""Close-up photos: kept out of the adjustment, each with the scale that it brings along."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from digitizer.imaging.photo import PhotoFacts
from digitizer.imaging.targets import object_points
from digitizer.job.model import Job, KnownLength, Mark, Photo, PhotoKind, Sighting, Target
from digitizer.survey.defaults import target_scale_u
from digitizer.survey.model import CloseUp

BESIDE = (PhotoKind.CLOSE_UP, PhotoKind.PATTERN)
"""Photos beside those that the transom is measured from."""
U_TILT = 0.02
"""Relative u of a scale taken from one length, for a view up to 20° off square that nothing here measures."""


def without_close_ups(
    job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting]
) -> tuple[Job, Mapping[str, PhotoFacts], Sequence[Sighting]]:
    """What takes part in the boat's adjustment: all but photos beside it, their marks, and lengths only they show."""
    close = {p.id for p in job.photos if p.kind in BESIDE}
    if not close:
        return job, facts, sightings
    marks = tuple(m for m in job.marks if m.photo not in close)
    gone = {m.point or m.id for m in job.marks} - {m.point or m.id for m in marks}
    kept = replace(
        job,
        photos=tuple(p for p in job.photos if p.id not in close),
        marks=marks,
        lengths=tuple(k for k in job.lengths if not {k.from_point, k.to_point} <= gone),
    )
    return (
        kept,
        {name: f for name, f in facts.items() if name not in close},
        [s for s in sightings if s.photo not in close],
    )


def close_up_results(job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting]) -> list[CloseUp]:
    """Each active close-up with its scale: from a target in it, else from a known length marked in it, else none."""
    chosen = [p for p in job.photos if p.active and p.kind is PhotoKind.CLOSE_UP and p.id in facts]
    return [_close_up(job, photo, facts[photo.id], sightings) for photo in chosen]


def _close_up(job: Job, photo: Photo, f: PhotoFacts, sightings: Sequence[Sighting]) -> CloseUp:
    scale, u, words = _by_target(job, photo, sightings) or _by_length(job, photo) or (None, 0.0, "no scale in it")
    return CloseUp(
        photo.id, photo.file, f.sha256, f.width_px, f.height_px, f.captured, f.device, scale, u, words
    )  # fmt: skip


def _by_target(job: Job, photo: Photo, sightings: Sequence[Sighting]) -> tuple[float, float, str] | None:
    """Root of the area of the corners on the sheet over their area in the photo: the scale at their middle."""
    targets = {t.id: t for t in job.targets if t.active}
    for s in sightings:
        if s.photo == photo.id and s.target in targets and len(s.corner_ids) >= 4:
            return _scale_of(targets[s.target], s)
    return None


def _scale_of(target: Target, s: Sighting) -> tuple[float, float, str]:
    sheet = object_points(target, s.corner_ids)
    if target.check_bar_measured_mm is not None and target.check_bar_nominal_mm is not None:
        sheet = sheet * (target.check_bar_measured_mm / target.check_bar_nominal_mm)
    image = np.column_stack([s.x_px, s.y_px])
    design = np.column_stack([image, np.ones(len(image))])
    fit = np.linalg.lstsq(design, sheet, rcond=None)[0]
    scale = math.sqrt(abs(float(np.linalg.det(fit[:2]))))
    off = float(np.sqrt(np.mean((design @ fit - sheet) ** 2))) / float(np.ptp(sheet, axis=0).max())
    return scale, scale * math.hypot(target_scale_u(target), off), f"target {target.id}"


def _by_length(job: Job, photo: Photo) -> tuple[float, float, str] | None:
    at = {m.point or m.id: m for m in job.marks if m.photo == photo.id and m.active}
    for k in job.lengths:
        if k.active and k.from_point in at and k.to_point in at:
            return _scale_by(k, at[k.from_point], at[k.to_point])
    return None


def _scale_by(length: KnownLength, a: Mark, b: Mark) -> tuple[float, float, str] | None:
    pixels, u_px = math.hypot(b.x_px - a.x_px, b.y_px - a.y_px), math.hypot(a.u_px, b.u_px)
    if pixels < 1.0:
        return None
    scale = length.length_mm / pixels
    relative = math.sqrt((length.u_mm / length.length_mm) ** 2 + (u_px / pixels) ** 2 + U_TILT**2)
    return scale, scale * relative, f"{length.note or length.id}, {length.length_mm:g} mm"
