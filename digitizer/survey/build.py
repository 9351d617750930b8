"""From the field book to the network of observations: every record of the job becomes rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from digitizer.adjustment.points import PointTable
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Mark, MarkKind, Photo, Sighting
from digitizer.survey.defaults import OFF_THE_FACE
from digitizer.survey.defects import add_defects
from digitizer.survey.known import add_angles, add_circles, add_gaps, add_gravity, add_lines, add_mirror_pairs, add_rake
from digitizer.survey.layout import Layout
from digitizer.survey.lengths import add_lengths
from digitizer.survey.network import Network, PointInfo
from digitizer.survey.rake import profile_only
from digitizer.survey.seen import add_cameras, add_corners, add_face, add_marks, add_points, add_targets


def build(job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting]) -> Network:
    """
    Network of a job.

    Parameters
    ----------
    job
    facts
        By photo id: size and what EXIF says.
    sightings
        Corners of targets found in the photos.

    Raises
    ------
    AdjustmentError
        When no photo holds a mark on the transom.
    """
    photos = {p.id: p for p in job.photos if p.active and p.id in facts and _shows_face(job, p)}
    marks = [m for m in job.marks if m.active and m.photo in photos and m.kind not in OFF_THE_FACE]
    if not marks:
        raise AdjustmentError("No photo holds a mark on the transom: mark at least the keel, the chines and a line.")
    hanging = _hanging_marks(job, photos)
    layout = Layout()
    infos = _point_infos([*marks, *hanging])
    index = {info.id: i for i, info in enumerate(infos)}
    n = Network(job, photos, facts, layout, infos, index, PointTable.empty())
    add_cameras(n)
    add_face(n)
    add_targets(n, sightings)
    add_points(n)
    add_marks(n, [*marks, *hanging])
    add_corners(n)
    add_lines(n)
    add_circles(n)
    add_lengths(n)
    add_gaps(n)
    add_mirror_pairs(n)
    add_angles(n)
    add_gravity(n)
    add_rake(n)
    add_defects(n)
    return n


def _shows_face(job: Job, photo: Photo) -> bool:
    """Whether a photo takes part: one that was taken from the side speaks of the rake only."""
    return not profile_only(job, photo.id) or bool(_hanging_marks(job, {photo.id: photo}))


def _hanging_marks(job: Job, photos: Mapping[str, Photo]) -> list[Mark]:
    """Marks of free level or plumb lines that are in use."""
    wanted = {p for line in job.gravity_lines if line.active and line.free for p in line.points}
    return [
        m
        for m in job.marks
        if m.active and m.photo in photos and m.kind is MarkKind.PLUMB_LINE and (m.point or m.id) in wanted
    ]


def _point_infos(marks: Iterable[Mark]) -> list[PointInfo]:
    by_point: dict[str, list[Mark]] = {}
    for mark in marks:
        by_point.setdefault(mark.point or mark.id, []).append(mark)
    return [PointInfo(name, m[0].kind, m[0].side, m[0].of, tuple(m)) for name, m in by_point.items()]
