"""Whether patterns fit together with their photos and marks, which are kept apart from the boat's."""

from __future__ import annotations

from collections.abc import Iterator

from digitizer.job.model import AlignedOn, Job, Pattern, PhotoKind
from digitizer.job.problems import Problem, quoted, unknown


def check_patterns(job: Job) -> Iterator[Problem]:
    """Everything in patterns that names something missing, or mixes a pattern's photo with the boat's."""
    photos = {photo.id: photo for photo in job.photos}
    apart = {photo.id for photo in job.photos if photo.kind is PhotoKind.PATTERN}
    on_boat = {mark.point or mark.id for mark in job.marks if mark.photo not in apart}
    for i, pattern in enumerate(job.patterns):
        place = f"patterns[{i}]"
        yield from unknown(f"{place}.photo", pattern.photo, "photo", photos)
        if pattern.photo in photos and pattern.photo not in apart:
            yield Problem(
                f"{place}.photo",
                f"{quoted(pattern.photo)} is a photo of the boat: photograph the pattern by itself, laid flat, and "
                'give that photo the kind "pattern"',
            )
        yield from _marks(job, pattern, place, on_boat)
    yield from _mixed(job, apart, on_boat)
    if job.settings.cut_to_pattern is not None:
        known = {pattern.id for pattern in job.patterns}
        yield from unknown("settings.cut_to_pattern", job.settings.cut_to_pattern, "pattern", known)


def _marks(job: Job, pattern: Pattern, place: str, on_boat: set[str]) -> Iterator[Problem]:
    own = {mark.id for mark in job.marks if mark.photo == pattern.photo}
    for k, mark in enumerate(pattern.edge):
        yield from unknown(f"{place}.edge[{k}]", mark, f"mark of photo {quoted(pattern.photo)}", own)
    if len(set(pattern.edge)) < len(pattern.edge):
        yield Problem(f"{place}.edge", "names one mark twice: each must be another mark")
    for k, aligned in enumerate(pattern.aligned):
        yield from unknown(f"{place}.aligned[{k}].mark", aligned.mark, f"mark of photo {quoted(pattern.photo)}", own)
        if aligned.at not in set(AlignedOn):
            what = "point marked on the boat (nor is it centreline or reference_line)"
            yield from unknown(f"{place}.aligned[{k}].at", aligned.at, what, on_boat)


def _mixed(job: Job, apart: set[str], on_boat: set[str]) -> Iterator[Problem]:
    """A pattern's marks are points of their own, and no other photo's marks belong to a pattern."""
    photo_of = {pattern.id: pattern.photo for pattern in job.patterns}
    for i, mark in enumerate(job.marks):
        if mark.photo in apart and (mark.point or mark.id) in on_boat:
            yield Problem(
                f"marks[{i}].point",
                f"{quoted(mark.point or mark.id)} is marked on the boat too, and {quoted(mark.photo)} shows a pattern: "
                "give it a name of its own, and say in the pattern's aligned where it belongs",
            )
        if mark.of in photo_of and mark.photo != photo_of[mark.of]:
            yield Problem(
                f"marks[{i}].of", f"pattern {quoted(mark.of)} is in photo {quoted(photo_of[mark.of])}, not in this one"
            )
