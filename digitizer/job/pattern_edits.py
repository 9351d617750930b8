"""What a person does to patterns: say which photo shows one, set its marks against the boat's, take it out."""

from __future__ import annotations

from dataclasses import replace

from digitizer.job.edits import fresh_id, tidied
from digitizer.job.model import Alignment, Job, MarkKind, Pattern, PhotoKind
from digitizer.job.pattern_edges import with_edges


def with_pattern(job: Job, photo: str) -> Job:
    """
    The job in which a photo shows a pattern.

    Marks that are there already become points of their own, for they are no longer on the boat; those on an outline
    become its edge.
    """
    pattern = Pattern(fresh_id((p.id for p in job.patterns), "pattern"), photo)
    photos = tuple(replace(p, kind=PhotoKind.PATTERN) if p.id == photo else p for p in job.photos)
    marks = tuple(replace(m, point=None) if m.photo == photo else m for m in job.marks)
    here = [m.id for m in marks if m.photo == photo]
    return with_edges(replace(job, photos=photos, marks=marks, patterns=(*job.patterns, pattern)), here)


def without_pattern(job: Job, pattern_id: str) -> Job:
    """The job without a pattern; its photo and marks stay, and belong to nothing."""
    marks = tuple(replace(m, of=None) if m.of == pattern_id else m for m in job.marks)
    patterns = tuple(p for p in job.patterns if p.id != pattern_id)
    return tidied(replace(job, marks=marks, patterns=patterns))


def with_alignment_by_kind(job: Job, pattern_id: str) -> Job:
    """
    The job in which a pattern's keel, chines and corners are set against the boat's of the same kind and side.

    What was set by hand for other marks stays.
    """
    pattern = next(p for p in job.patterns if p.id == pattern_id)
    apart = {p.id for p in job.photos if p.kind is not PhotoKind.MEASURED}
    boat = {(m.kind, m.side): m.point or m.id for m in reversed(job.marks) if m.photo not in apart}
    found = {
        m.id: Alignment(m.id, boat[m.kind, m.side])
        for m in job.marks
        if m.photo == pattern.photo and m.kind in _ONE_EACH and (m.kind, m.side) in boat
    }
    kept = tuple(a for a in pattern.aligned if a.mark not in found)
    aligned = replace(pattern, aligned=(*kept, *found.values()))
    return replace(job, patterns=tuple(aligned if p.id == pattern_id else p for p in job.patterns))


_ONE_EACH = frozenset({MarkKind.KEEL, MarkKind.CHINE, MarkKind.CHINE_INNER, MarkKind.TOP_CORNER})
"""Kinds of which a boat has one on each side, so that a mark on the pattern can only mean that."""
