"""Patterns that name something missing, or are mixed up with the boat, are refused with their place."""

from __future__ import annotations

import pytest

from digitizer.job.model import Alignment, Job, Mark, MarkKind, Pattern, Photo, PhotoKind, Settings
from digitizer.job.validation import check_references

PHOTOS = (Photo("boat", "boat.jpg"), Photo("flat", "flat.jpg", kind=PhotoKind.PATTERN))
MARKS = (
    Mark("keel", "boat", MarkKind.KEEL, 1.0, 1.0),
    Mark("e1", "flat", MarkKind.OUTLINE, 1.0, 1.0, of="template"),
    Mark("e2", "flat", MarkKind.OUTLINE, 2.0, 1.0, of="template"),
    Mark("pencil", "flat", MarkKind.OUTLINE, 2.0, 1.0),
)
SOUND = Pattern("template", "flat", edge=("e1", "e2"), aligned=(Alignment("e1", "keel"), Alignment("e2", "centreline")))


def places(*patterns: Pattern, marks: tuple[Mark, ...] = MARKS, **settings: object) -> list[str]:
    """Where the problems of a job with these patterns are."""
    job = Job(photos=PHOTOS, marks=marks, patterns=patterns, settings=Settings(**settings))  # type: ignore[arg-type]
    return [p.place for p in check_references(job)]


def test_sound_pattern_passes() -> None:
    """A pattern in a photo of its own, with marks and places that exist, has nothing to be corrected."""
    assert places(SOUND, cut_to_pattern="template") == []


@pytest.mark.parametrize(
    ("pattern", "place"),
    [
        pytest.param(Pattern("template", "boat"), "patterns[0].photo", id="photo-of-the-boat"),
        pytest.param(Pattern("template", "flat", edge=("e1", "keel")), "patterns[0].edge[1]", id="mark-of-the-boat"),
        pytest.param(Pattern("template", "flat", edge=("e1", "e1")), "patterns[0].edge", id="mark-twice"),
        pytest.param(
            Pattern("template", "flat", aligned=(Alignment("nobody", "keel"),)), "patterns[0].aligned[0].mark",
            id="unknown-mark",
        ),
        pytest.param(
            Pattern("template", "flat", aligned=(Alignment("e1", "e2"),)), "patterns[0].aligned[0].at",
            id="place-not-on-the-boat",
        ),
    ],
)  # fmt: skip
def test_contradiction_is_told_with_its_place(pattern: Pattern, place: str) -> None:
    """Each is found where it stands."""
    assert place in places(pattern)


def test_pattern_photo_is_no_photo_of_the_boat_too() -> None:
    """A point marked on the boat and in the pattern's photo would mix both; each needs a name of its own."""
    shared = Mark("k", "flat", MarkKind.KEEL, 3.0, 3.0, point="keel")
    assert places(SOUND, marks=(*MARKS, shared)) == ["marks[4].point"]


def test_mark_on_the_boat_belongs_to_no_pattern() -> None:
    """A mark that names a pattern lies in that pattern's photo."""
    astray = Mark("k", "boat", MarkKind.OUTLINE, 3.0, 3.0, of="template")
    assert places(SOUND, marks=(*MARKS, astray)) == ["marks[4].of"]


def test_unknown_pattern_can_not_be_cut_to() -> None:
    """The setting names a pattern of the job."""
    assert places(SOUND, cut_to_pattern="another") == ["settings.cut_to_pattern"]
