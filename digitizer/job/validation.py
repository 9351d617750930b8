"""
Whether the records of a job fit together: every name leads somewhere and nothing contradicts itself.

What a single field may hold is said in `model`; whether the geometry makes sense is the survey's question.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from digitizer.errors import JobFileError
from digitizer.job.model import (
    Job,
    Mark,
    MarkKind,
    Photo,
    Side,
    Sighting,
    Target,
    TargetKind,
)

_SHOWN = 10
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
}
"""Kinds whose `of` is a name of the surveyor's own, telling one crack or area from the next."""
_SQUARE_DICTIONARY = re.compile(r"DICT_([4-7])X\1_(50|100|250|1000)")
_OTHER_DICTIONARIES = {
    "DICT_ARUCO_ORIGINAL": 1024,
    "DICT_ARUCO_MIP_36H12": 250,
    "DICT_APRILTAG_16H5": 30,
    "DICT_APRILTAG_25H9": 35,
    "DICT_APRILTAG_36H10": 2320,
    "DICT_APRILTAG_36H11": 587,
}


@dataclass(frozen=True)
class Problem:
    """Something wrong at a place in the file such as ``marks[3].photo``."""

    place: str
    text: str


def refusal(name: str, problems: Sequence[Problem]) -> JobFileError:
    """One error that tells of all problems, the first ten in full."""
    lines = [f"{problem.place}: {problem.text}" for problem in problems[:_SHOWN]]
    if len(problems) > _SHOWN:
        lines.append(f"… and {len(problems) - _SHOWN} more")
    places = tuple(problem.place for problem in problems)
    if len(problems) == 1:
        return JobFileError(f"{name}: {lines[0]}", places)
    return JobFileError("\n  ".join([f"{name}: {len(problems)} things in this job need correcting:", *lines]), places)


def check_references(job: Job) -> tuple[Problem, ...]:
    """
    Everything in the job that names something missing, names it twice or contradicts itself.

    Returns
    -------
    problems
        In the order of the records; empty for a sound job.
    """
    checks = (_ids, _photos, _marks, _lines, _lengths, _readings, _points, _targets, _sightings)
    return tuple(problem for check in checks for problem in check(job))


def quoted(text: str) -> str:
    """A stranger's text in quotes, without anything a terminal would obey."""
    return f'"{text}"' if text.isprintable() else json.dumps(text)


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
    for name in (*lists, "targets", "mirror_pairs", "angles", "gravity_lines", "fittings"):
        yield from _repeated(name, "id", [record.id for record in getattr(job, name)])


def _repeated(name: str, field: str, values: Iterable[str]) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for i, value in enumerate(values):
        earlier = first.setdefault(value, i)
        if earlier != i:
            yield Problem(
                f"{name}[{i}].{field}", f"{quoted(value)} is already used by {name}[{earlier}]: give each its own"
            )


def _unknown(place: str, value: str, what: str, known: Iterable[str]) -> Iterator[Problem]:
    if value not in known:
        yield Problem(place, f"there is no {what} {quoted(value)} in this job: correct the name or add it")


def _photos(job: Job) -> Iterator[Problem]:
    cameras = {camera.id for camera in job.cameras}
    for i, photo in enumerate(job.photos):
        yield from _photo(f"photos[{i}]", photo)
        if cameras:
            yield from _unknown(f"photos[{i}].camera", photo.camera, "camera", cameras)
    yield from _repeated("photos", "file", [photo.file for photo in job.photos])


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
    for i, mark in enumerate(job.marks):
        place = f"marks[{i}]"
        yield from _unknown(f"{place}.photo", mark.photo, "photo", photos)
        yield from _outside(place, mark, photos.get(mark.photo))
        yield from _belongs(f"{place}.of", mark, job)


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


def _belongs(place: str, mark: Mark, job: Job) -> Iterator[Problem]:
    """What the mark's `of` must name, by its kind."""
    lines, fittings, rectangles = (
        [record.id for record in records] for records in (job.lines, job.fittings, job.rectangles)
    )
    if mark.kind in _OF_FITTING:
        yield from _needed(place, mark, "fitting", fittings)
    elif mark.kind is MarkKind.LINE_POINT:
        yield from _needed(place, mark, "line", lines)
    elif mark.kind is MarkKind.RECTANGLE_CORNER:
        yield from _needed(place, mark, "rectangle", rectangles)
    elif mark.kind is MarkKind.REFERENCE_LINE and mark.of is not None:
        reference = [line.id for line in job.lines if line.reference]
        yield from _unknown(place, mark.of, "reference line (a line with reference: true)", reference)
    elif mark.kind not in _OF_GROUP and mark.of is not None:
        yield from _unknown(place, mark.of, "line, fitting or rectangle", [*lines, *fittings, *rectangles])


def _needed(place: str, mark: Mark, what: str, known: Iterable[str]) -> Iterator[Problem]:
    if mark.of is None:
        yield Problem(place, f"a mark of kind {mark.kind.value} must name its {what}")
    else:
        yield from _unknown(place, mark.of, what, known)


def _lines(job: Job) -> Iterator[Problem]:
    reference = [i for i, line in enumerate(job.lines) if line.reference]
    for i in reference[1:]:
        yield Problem(
            f"lines[{i}].reference", f"lines[{reference[0]}] is already the reference line: there is only one"
        )


def _lengths(job: Job) -> Iterator[Problem]:
    points = _point_ids(job)
    instruments = {instrument.id for instrument in job.instruments}
    for i, length in enumerate(job.lengths):
        place = f"lengths[{i}]"
        yield from _unknown(f"{place}.from_point", length.from_point, "point", points)
        yield from _unknown(f"{place}.to_point", length.to_point, "point", points)
        if length.from_point == length.to_point:
            yield Problem(
                f"{place}.to_point", f"the length runs from {quoted(length.to_point)} to itself: name its other end"
            )
        if length.instrument is not None:
            yield from _unknown(f"{place}.instrument", length.instrument, "instrument", instruments)


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
        yield from _unknown(f"mirror_pairs[{i}].port", pair.port, "point", known)
        yield from _unknown(f"mirror_pairs[{i}].starboard", pair.starboard, "point", known)
    for i, angle in enumerate(job.angles):
        yield from _known_points(f"angles[{i}].first", angle.first, known)
        yield from _known_points(f"angles[{i}].second", angle.second, known)
    for i, line in enumerate(job.gravity_lines):
        yield from _known_points(f"gravity_lines[{i}].points", line.points, known)


def _known_points(place: str, points: Sequence[str], known: set[str]) -> Iterator[Problem]:
    for i, point in enumerate(points):
        yield from _unknown(f"{place}[{i}]", point, "point", known)
    if len(set(points)) < len(points):
        yield Problem(place, "names one point twice: each must be another point")


def _targets(job: Job) -> Iterator[Problem]:
    makes: dict[TargetKind, Callable[[str, Target], Iterator[Problem]]] = {
        TargetKind.CHARUCO: _charuco,
        TargetKind.ARUCO_GRID: _grid,
    }
    for i, target in enumerate(job.targets):
        place = f"targets[{i}]"
        if make := makes.get(target.kind):
            yield from make(place, target)
        yield from _dictionary(f"{place}.dictionary", target)
        if target.check_bar_measured_mm is not None and target.check_bar_nominal_mm is None:
            yield Problem(f"{place}.check_bar_nominal_mm", "is needed beside check_bar_measured_mm")


def _charuco(place: str, target: Target) -> Iterator[Problem]:
    if target.square_mm is None:
        yield Problem(f"{place}.square_mm", "a charuco board needs the size of its squares")
    elif target.square_mm <= target.marker_mm:
        yield Problem(
            f"{place}.square_mm",
            f"must be greater than marker_mm ({target.marker_mm:g}), found {target.square_mm:g}",
        )
    for field, count in (("columns", target.columns), ("rows", target.rows)):
        if count < 2:
            yield Problem(f"{place}.{field}", f"a charuco board has at least 2, found {count}")


def _grid(place: str, target: Target) -> Iterator[Problem]:
    if target.separation_mm is None:
        yield Problem(f"{place}.separation_mm", "an aruco_grid needs the gap between its markers")


def _dictionary(place: str, target: Target) -> Iterator[Problem]:
    size = _dictionary_size(target.dictionary)
    last = target.first_id + _marker_count(target) - 1
    if size is None:
        yield Problem(place, f"{quoted(target.dictionary)} is no marker dictionary: write for example DICT_5X5_100")
    elif last >= size:
        yield Problem(place, f"{target.dictionary} has markers up to {size - 1}, and this target would need {last}")


def _dictionary_size(name: str) -> int | None:
    """How many markers a dictionary of OpenCV has; None when it has no such dictionary."""
    if match := _SQUARE_DICTIONARY.fullmatch(name):
        return int(match[2])
    return _OTHER_DICTIONARIES.get(name.replace("h", "H"))


def _marker_count(target: Target) -> int:
    squares = target.columns * target.rows
    return {TargetKind.CHARUCO: squares // 2, TargetKind.ARUCO_GRID: squares, TargetKind.ARUCO_MARKER: 1}[target.kind]


def _sightings(job: Job) -> Iterator[Problem]:
    targets = {target.id for target in job.targets}
    photos = {photo.id for photo in job.photos}
    for i, sighting in enumerate(job.sightings):
        place = f"sightings[{i}]"
        yield from _unknown(f"{place}.target", sighting.target, "target", targets)
        yield from _unknown(f"{place}.photo", sighting.photo, "photo", photos)
        yield from _corners(place, sighting)
    yield from _repeated("sightings", "photo", [f"{s.target} in {s.photo}" for s in job.sightings])


def _corners(place: str, sighting: Sighting) -> Iterator[Problem]:
    count = len(sighting.corner_ids)
    for field in ("x_px", "y_px", "u_px"):
        found = len(getattr(sighting, field))
        if found != count:
            yield Problem(f"{place}.{field}", f"must have one value for each of the {count} corner_ids, found {found}")
    if len(set(sighting.corner_ids)) < count or any(not 0 <= corner < 10_000 for corner in sighting.corner_ids):
        yield Problem(f"{place}.corner_ids", "must be different numbers from 0 to 9999")
    if any(u <= 0 for u in sighting.u_px):
        yield Problem(f"{place}.u_px", "must be greater than 0 throughout")
