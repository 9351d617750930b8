"""
Whether the records of a job fit together: every name leads somewhere and nothing contradicts itself.

What a single field may hold is said in `model`; whether the geometry makes sense is the survey's question.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from digitizer.job.condition_validation import CONDITION_LISTS, check_condition
from digitizer.job.model import Job, Mark, MarkKind, Photo, Side
from digitizer.job.pattern_validation import check_patterns
from digitizer.job.plan_validation import check_flange, check_tape_figures
from digitizer.job.problems import Problem, quoted, repeated, unknown
from digitizer.job.target_validation import check_sightings, check_targets

_OF_FITTING = {MarkKind.RIM, MarkKind.FITTING_CORNER, MarkKind.FITTING_CENTRE}
_OF_GROUP = {
    MarkKind.CRACK,
    MarkKind.AREA,
    MarkKind.PAD,
    MarkKind.GRID,
    MarkKind.PLUMB_LINE,
    MarkKind.KEEL_LINE,
    MarkKind.FACE_LINE,
    MarkKind.WATERLINE,
    MarkKind.STRAKE,
}
"""Kinds whose `of` is a name of the surveyor's own, telling one crack, area or strake from the next."""
MOST_STATIONS = 200


def check_references(job: Job) -> tuple[Problem, ...]:
    """
    Everything in the job that names something missing, names it twice or contradicts itself.

    Returns
    -------
    problems
        In the order of the records; empty for a sound job.
    """
    own = (_ids, _photos, _marks, _lines, _lengths, _readings, _points, _pads)
    planned = (check_flange, check_tape_figures, check_patterns)
    checks = (*own, _stations, check_targets, check_sightings, check_condition, *planned)
    return tuple(problem for check in checks for problem in check(job))


def name_fault(name: str) -> str | None:
    """Why a photo's or archive entry's name would lead out of the job's own folder; None when it does not."""
    if "\\" in name:
        return "write folders with / rather than \\"
    if name.startswith("/") or ":" in name:
        return "the name must be relative to the job, such as photos/stern.jpg"
    if any(part in ("", ".", "..") for part in name.removesuffix("/").split("/")):
        return "the name must stay inside the job's folder, without . or .."
    if not name.isprintable():
        return "the name has characters that can't be printed: rename it"
    return None


def _ids(job: Job) -> Iterator[Problem]:
    """Ids are unique within each list."""
    lists = ("cameras", "photos", "marks", "lines", "lengths", "instruments", "deadrise_readings", "rectangles")
    for name in (
        *lists,
        "targets",
        "mirror_pairs",
        "angles",
        "gravity_lines",
        "fittings",
        "gaps",
        "pads",
        *CONDITION_LISTS,
        "tape_figures",
        "patterns",
    ):
        yield from repeated(name, "id", [record.id for record in getattr(job, name)])


def _photos(job: Job) -> Iterator[Problem]:
    cameras = {camera.id for camera in job.cameras}
    for i, photo in enumerate(job.photos):
        yield from _photo(f"photos[{i}]", photo)
        if cameras:
            yield from unknown(f"photos[{i}].camera", photo.camera, "camera", cameras)
    yield from repeated("photos", "file", [photo.file for photo in job.photos])


def _photo(place: str, photo: Photo) -> Iterator[Problem]:
    fault = name_fault(photo.file)
    if fault or photo.file.endswith("/"):
        yield Problem(f"{place}.file", fault or "this names a folder, not a photo")
    if photo.file.lower() == "job.json":
        yield Problem(f"{place}.file", "job.json is the job itself: rename the photo")
    if photo.sha256 is not None and not re.fullmatch(r"[0-9a-fA-F]{64}", photo.sha256):
        yield Problem(f"{place}.sha256", "must be 64 hexadecimal digits, or leave it out")


def _marks(job: Job) -> Iterator[Problem]:
    photos = {photo.id: photo for photo in job.photos}
    names = _Names(job)
    for i, mark in enumerate(job.marks):
        place = f"marks[{i}]"
        yield from unknown(f"{place}.photo", mark.photo, "photo", photos)
        yield from _outside(place, mark, photos.get(mark.photo))
        yield from _belongs(f"{place}.of", mark, names)
        yield from _on_pad(f"{place}.on", mark.on, names.pads)


class _Names:
    """What a mark's `of` may name, gathered once: jobs from strangers can be long."""

    def __init__(self, job: Job) -> None:
        self.lines = {line.id for line in job.lines}
        self.reference = {line.id for line in job.lines if line.reference}
        self.fittings = {fitting.id for fitting in job.fittings}
        self.rectangles = {rectangle.id for rectangle in job.rectangles}
        self.pads = {pad.id for pad in job.pads}
        self.all = self.lines | self.fittings | self.rectangles | {pattern.id for pattern in job.patterns}


def _outside(place: str, mark: Mark, photo: Photo | None) -> Iterator[Problem]:
    """The origin is the centre of the first pixel, so a picture reaches from −0.5 to its size − 0.5."""
    if photo is None:
        return
    for axis, value, size in (("x_px", mark.x_px, photo.width_px), ("y_px", mark.y_px, photo.height_px)):
        if size is not None and not -0.5 <= value <= size - 0.5:
            yield Problem(
                f"{place}.{axis}",
                f"{value:g} is outside photo {quoted(photo.id)}, which reaches from -0.5 to {size - 0.5:g}",
            )


def _belongs(place: str, mark: Mark, names: _Names) -> Iterator[Problem]:
    """What the mark's `of` must name, by its kind."""
    if mark.kind in _OF_FITTING:
        yield from _needed(place, mark, "fitting", names.fittings)
    elif mark.kind is MarkKind.LINE_POINT:
        yield from _needed(place, mark, "line", names.lines)
    elif mark.kind is MarkKind.RECTANGLE_CORNER:
        yield from _needed(place, mark, "rectangle", names.rectangles)
    elif mark.kind is MarkKind.REFERENCE_LINE and mark.of is not None:
        yield from unknown(place, mark.of, "reference line (a line with reference: true)", names.reference)
    elif mark.kind not in _OF_GROUP and mark.of is not None:
        yield from unknown(place, mark.of, "line, fitting, rectangle or pattern", names.all)


def _on_pad(place: str, pad: str | None, pads: Iterable[str]) -> Iterator[Problem]:
    if pad is not None:
        yield from unknown(place, pad, "pad", pads)


def _pads(job: Job) -> Iterator[Problem]:
    pads = {pad.id for pad in job.pads}
    for name in ("fittings", "targets"):
        for i, record in enumerate(getattr(job, name)):
            yield from _on_pad(f"{name}[{i}].on", record.on, pads)


def _stations(job: Job) -> Iterator[Problem]:
    if len(job.settings.stations_mm) > MOST_STATIONS:
        yield Problem("settings.stations_mm", f"an offset table has up to {MOST_STATIONS} stations: leave some out")


def _needed(place: str, mark: Mark, what: str, known: Iterable[str]) -> Iterator[Problem]:
    if mark.of is None:
        yield Problem(place, f"a mark of kind {mark.kind.value} must name its {what}")
    else:
        yield from unknown(place, mark.of, what, known)


def _lines(job: Job) -> Iterator[Problem]:
    reference = [i for i, line in enumerate(job.lines) if line.reference]
    for i in reference[1:]:
        yield Problem(
            f"lines[{i}].reference", f"lines[{reference[0]}] is already the reference line: there is only one"
        )


def _lengths(job: Job) -> Iterator[Problem]:
    points = _point_ids(job) | {target.id for target in job.targets}
    instruments = {instrument.id for instrument in job.instruments}
    for i, length in enumerate(job.lengths):
        place = f"lengths[{i}]"
        yield from unknown(f"{place}.from_point", length.from_point, "point", points)
        yield from unknown(f"{place}.to_point", length.to_point, "point", points)
        if length.from_point == length.to_point:
            yield Problem(
                f"{place}.to_point", f"the length runs from {quoted(length.to_point)} to itself: name its other end"
            )
        if length.instrument is not None:
            yield from unknown(f"{place}.instrument", length.instrument, "instrument", instruments)


def _point_ids(job: Job) -> set[str]:
    return {mark.point or mark.id for mark in job.marks}


def _readings(job: Job) -> Iterator[Problem]:
    for i, reading in enumerate(job.deadrise_readings):
        if reading.side is Side.CENTRE:
            yield Problem(f"deadrise_readings[{i}].side", "deadrise is read to port or to starboard")


def _points(job: Job) -> Iterator[Problem]:
    """Rectangles, angles and gravity lines name different, known points; a mirror pair may name one point twice."""
    known = _point_ids(job)
    for i, rectangle in enumerate(job.rectangles):
        yield from _known_points(f"rectangles[{i}].corners", rectangle.corners, known)
    for i, pair in enumerate(job.mirror_pairs):
        yield from unknown(f"mirror_pairs[{i}].port", pair.port, "point", known)
        yield from unknown(f"mirror_pairs[{i}].starboard", pair.starboard, "point", known)
    for i, angle in enumerate(job.angles):
        yield from _known_points(f"angles[{i}].first", angle.first, known)
        yield from _known_points(f"angles[{i}].second", angle.second, known)
    for i, line in enumerate(job.gravity_lines):
        yield from _known_points(f"gravity_lines[{i}].points", line.points, known)


def _known_points(place: str, points: Sequence[str], known: set[str]) -> Iterator[Problem]:
    for i, point in enumerate(points):
        yield from unknown(f"{place}[{i}]", point, "point", known)
    if len(set(points)) < len(points):
        yield Problem(place, "names one point twice: each must be another point")
