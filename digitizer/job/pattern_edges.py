"""The order of marks along a pattern's edge, kept while marks come in any order."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

from digitizer.job.model import AlignedOn, Job, Mark, MarkKind, Pattern, PatternPart, PhotoKind

EDGE_KINDS = frozenset(
    {
        MarkKind.KEEL,
        MarkKind.CHINE,
        MarkKind.CHINE_INNER,
        MarkKind.BOTTOM_EDGE,
        MarkKind.OUTLINE,
        MarkKind.TOP_EDGE,
        MarkKind.TOP_CORNER,
    }
)
"""Kinds of marks that lie on a pattern's edge when they are made in its photo."""


def with_edges(job: Job, new: Iterable[str]) -> Job:
    """The job in which new marks in a pattern's photo belong to its edge, each where it lengthens the way least."""
    photos = {pattern.photo: pattern for pattern in job.patterns}
    wanted = set(new)
    mine = [m for m in job.marks if m.id in wanted and m.photo in photos and m.of is None and m.kind in EDGE_KINDS]
    if not mine:
        return job
    grown = {p.id: _with_marks(job, p, [m for m in mine if m.photo == p.photo]) for p in job.patterns}
    owner = {m.id: photos[m.photo].id for m in mine}
    marks = tuple(replace(m, of=owner[m.id]) if m.id in owner else m for m in job.marks)
    return replace(job, marks=marks, patterns=tuple(grown[p.id] for p in job.patterns))


def without_missing(job: Job) -> tuple[Pattern, ...]:
    """The job's patterns without marks and places that are no longer there; one whose photo is gone goes with it."""
    photos = {photo.id for photo in job.photos}
    apart = {photo.id for photo in job.photos if photo.kind is PhotoKind.PATTERN}
    places = {m.point or m.id for m in job.marks if m.photo not in apart} | set(AlignedOn)
    out = []
    for p in (p for p in job.patterns if p.photo in photos):
        own = {m.id for m in job.marks if m.photo == p.photo}
        aligned = tuple(a for a in p.aligned if a.mark in own and a.at in places)
        out.append(replace(p, edge=tuple(i for i in p.edge if i in own), aligned=aligned))
    return tuple(out)


def _with_marks(job: Job, pattern: Pattern, new: Sequence[Mark]) -> Pattern:
    if not new:
        return pattern
    at = {m.id: (m.x_px, m.y_px) for m in job.marks if m.photo == pattern.photo}
    edge = list(pattern.edge or (m.id for m in job.marks if m.of == pattern.id and m.photo == pattern.photo))
    for mark in new:
        places = [at[i] for i in edge]
        edge.insert(_best_place(places, at[mark.id], pattern.part is PatternPart.WHOLE), mark.id)
    return replace(pattern, edge=tuple(edge))


def _best_place(places: Sequence[tuple[float, float]], new: tuple[float, float], closed: bool) -> int:
    """Where among places in order another lengthens the way least."""
    if len(places) < 2:
        return len(places)
    detours = [math.dist(a, new) + math.dist(new, b) - math.dist(a, b) for a, b in pairwise(places)]
    if closed:
        a, b = places[-1], places[0]
        ways = [*detours, math.dist(a, new) + math.dist(new, b) - math.dist(a, b)]
        return ways.index(min(ways)) + 1
    ways = [math.dist(new, places[0]), *detours, math.dist(places[-1], new)]
    return ways.index(min(ways))
