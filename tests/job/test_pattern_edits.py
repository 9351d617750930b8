"""Patterns as a person makes them: marks find their place along the edge, and nothing of the boat is mixed in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitizer.job.edits import Click, tidied, with_marks
from digitizer.job.model import Alignment, Job, MarkKind, PatternPart, Photo, PhotoKind, Settings, Side
from digitizer.job.pattern_edits import with_alignment_by_kind, with_pattern, without_pattern
from digitizer.job.validation import check_references

START = Job(photos=(Photo("boat", "boat.jpg"), Photo("flat", "flat.jpg")))
PORT, STARBOARD = Side.PORT, Side.STARBOARD


def clicked(job: Job, photo: str, kind: MarkKind, x: float, y: float, side: Side | None = None) -> Job:
    """One more mark."""
    return with_marks(job, [Click(photo, x, y)], kind, side=side)


def a_job() -> Job:
    """Keel and chines marked on the boat, and on a pattern in no order."""
    job = with_pattern(START, "flat")
    for photo in ("boat", "flat"):
        job = clicked(job, photo, MarkKind.KEEL, 500.0, 700.0)
        job = clicked(job, photo, MarkKind.CHINE, 100.0, 500.0, PORT)
        job = clicked(job, photo, MarkKind.CHINE, 900.0, 500.0, STARBOARD)
    return clicked(job, "flat", MarkKind.OUTLINE, 300.0, 600.0)


def test_marks_find_their_place_along_the_edge() -> None:
    """Clicked in any order, they run from one end to the other."""
    job = a_job()
    (pattern,) = job.patterns
    x = {m.id: m.x_px for m in job.marks}
    along = [x[i] for i in pattern.edge]
    assert along in ([100.0, 300.0, 500.0, 900.0], [900.0, 500.0, 300.0, 100.0])
    assert {m.of for m in job.marks if m.photo == "flat"} == {pattern.id}
    assert check_references(job) == ()


def test_closed_edge_is_joined_round() -> None:
    """On a whole outline the last mark may come between last and first."""
    job = with_pattern(START, "flat")
    job = replace(job, patterns=(replace(job.patterns[0], part=PatternPart.WHOLE),))
    for x, y in ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (-10.0, 50.0)):
        job = clicked(job, "flat", MarkKind.OUTLINE, x, y)
    at = {m.id: (m.x_px, m.y_px) for m in job.marks}
    ring = [at[i] for i in job.patterns[0].edge]
    middle = ring.index((-10.0, 50.0))
    assert {ring[middle - 1], ring[(middle + 1) % 5]} == {(0.0, 0.0), (0.0, 100.0)}


def test_photo_of_the_boat_that_becomes_a_pattern_is_cut_loose() -> None:
    """Its marks become points of their own, and those on an outline the edge."""
    job = clicked(clicked(START, "boat", MarkKind.KEEL, 1.0, 1.0), "flat", MarkKind.KEEL, 2.0, 2.0)
    tied = replace(job, marks=(job.marks[0], replace(job.marks[1], point=job.marks[0].id)))
    job = with_pattern(tied, "flat")
    assert job.photos[1].kind is PhotoKind.PATTERN
    assert job.marks[1].point is None
    assert job.patterns[0].edge == (job.marks[1].id,)
    assert check_references(job) == ()


def test_keel_and_chines_are_set_against_the_boats() -> None:
    """By kind and side; what was set by hand for another mark stays."""
    job = a_job()
    (pattern,) = job.patterns
    outline = next(m.id for m in job.marks if m.kind is MarkKind.OUTLINE)
    by_hand = Alignment(outline, "centreline")
    job = with_alignment_by_kind(replace(job, patterns=(replace(pattern, aligned=(by_hand,)),)), pattern.id)
    kinds = {m.id: (m.kind, m.side) for m in job.marks}
    aligned = job.patterns[0].aligned
    assert aligned[0] == by_hand
    assert len(aligned) == 4
    assert all(kinds[a.mark] == kinds[a.at] for a in aligned[1:])
    assert check_references(job) == ()


@pytest.mark.parametrize("gone", ["photo", "marks", "pattern"])
def test_nothing_is_left_hanging(gone: str) -> None:
    """Without its photo a pattern goes; without a mark, edge and alignment are shorter; removed, its marks stay."""
    job = with_alignment_by_kind(a_job(), "pattern")
    job = replace(job, settings=Settings(cut_to_pattern="pattern"))
    if gone == "photo":
        job = tidied(replace(job, photos=job.photos[:1]))
        assert job.patterns == ()
    elif gone == "marks":
        job = tidied(replace(job, marks=tuple(m for m in job.marks if m.kind is not MarkKind.KEEL)))
        assert (len(job.patterns[0].edge), len(job.patterns[0].aligned)) == (3, 2)
    else:
        job = without_pattern(job, "pattern")
        assert sum(m.photo == "flat" for m in job.marks) == 4
    assert (job.settings.cut_to_pattern is None) == (gone != "marks")
    assert check_references(job) == ()
