"""Whether printed targets are complete and their sightings in order."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from digitizer.job.model import Job, Sighting, Target, TargetKind
from digitizer.job.problems import Problem, quoted, repeated, unknown

_SQUARE_DICTIONARY = re.compile(r"DICT_([4-7])X\1_(50|100|250|1000)")
_OTHER_DICTIONARIES = {
    "DICT_ARUCO_ORIGINAL": 1024,
    "DICT_ARUCO_MIP_36H12": 250,
    "DICT_APRILTAG_16H5": 30,
    "DICT_APRILTAG_25H9": 35,
    "DICT_APRILTAG_36H10": 2320,
    "DICT_APRILTAG_36H11": 587,
}


def check_targets(job: Job) -> Iterator[Problem]:
    """Each target has what its kind needs, and its dictionary has enough markers."""
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


def check_sightings(job: Job) -> Iterator[Problem]:
    """Each sighting leads to a target and a photo, and its lists belong together."""
    targets = {target.id for target in job.targets}
    photos = {photo.id for photo in job.photos}
    for i, sighting in enumerate(job.sightings):
        place = f"sightings[{i}]"
        yield from unknown(f"{place}.target", sighting.target, "target", targets)
        yield from unknown(f"{place}.photo", sighting.photo, "photo", photos)
        yield from _corners(place, sighting)
    yield from repeated("sightings", "photo", [f"{s.target} in {s.photo}" for s in job.sightings])


def _corners(place: str, sighting: Sighting) -> Iterator[Problem]:
    count = len(sighting.corner_ids)
    for field in ("x_px", "y_px", "u_px"):
        found = len(getattr(sighting, field))
        if found != count:
            yield Problem(f"{place}.{field}", f"must have one value for each of the {count} corner_ids, found {found}")
    if len(set(sighting.corner_ids)) < count or any(not 0 <= corner < 10_000 for corner in sighting.corner_ids):
        yield Problem(f"{place}.corner_ids", "must be different numbers from 0 to 9999")
