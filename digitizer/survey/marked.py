"""What is marked on the photos in use, place by place, before anything is adjusted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from digitizer.job.model import FittingShape, Job, Mark, MarkKind, PhotoKind, Role, Side

MARKS_OF_A_FITTING: Mapping[FittingShape, tuple[MarkKind, int]] = {
    FittingShape.CIRCLE: (MarkKind.RIM, 3),
    FittingShape.RECTANGLE: (MarkKind.FITTING_CORNER, 4),
    FittingShape.POINT: (MarkKind.FITTING_CENTRE, 1),
}
"""Which marks place a fitting, and how many it takes; a marked centre places any shape."""


@dataclass(frozen=True)
class Known:
    """Something of known size: its id, for people, and the points that it needs and nobody marked."""

    id: str
    name: str
    missing: tuple[str, ...]


class Marked:
    """The places that a job's active marks in its active photos show; several marks of one place count once."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.photos = [p for p in job.photos if p.active and p.kind is PhotoKind.MEASURED]
        in_use = {p.id for p in self.photos}
        self.marks = [m for m in job.marks if m.active and m.photo in in_use]
        self.places: dict[str, Mark] = {}
        for mark in self.marks:
            self.places.setdefault(mark.point or mark.id, mark)
        self.targets = [t for t in job.targets if t.active]

    def count(self, kind: MarkKind, side: Side | None = None) -> int:
        """Places of a kind, on one side where given."""
        return sum(m.kind is kind and (side is None or m.side == side) for m in self.places.values())

    def on_reference_line(self) -> list[Mark]:
        """First marks of the places on the reference line, whichever line that is."""
        line = next((line for line in self.job.lines if line.active and line.reference), None)
        return [
            m
            for m in self.places.values()
            if (line is not None and m.of == line.id) or (m.kind is MarkKind.REFERENCE_LINE and m.of is None)
        ]

    def of(self, owner: str, kind: MarkKind) -> int:
        """Places of a kind that belong to a fitting or a line."""
        return sum(m.of == owner and m.kind is kind for m in self.places.values())

    def unmarked(self, points: Iterable[str]) -> tuple[str, ...]:
        """Those of some points that no photo in use shows; a target's id stands for the middle of its print."""
        known = {*self.places, *(t.id for t in self.targets)}
        return tuple(p for p in points if p not in known)

    def known_lengths(self) -> list[Known]:
        """Everything that gives the job its scale."""
        job = self.job
        out = [Known(t.id, f"target {t.id}", ()) for t in self.targets]
        out += [
            Known(k.id, k.note or k.id, self.unmarked((k.from_point, k.to_point)))
            for k in job.lengths
            if k.active and k.role is Role.OBSERVATION
        ]
        out += [Known(r.id, f"rectangle {r.id}", self.unmarked(r.corners)) for r in job.rectangles if r.active]
        out += [
            Known(f.id, f"the diameter of {f.name or f.id}", ())
            for f in job.fittings
            if f.active and f.diameter_mm is not None and f.shape is FittingShape.CIRCLE
            if self.of(f.id, MarkKind.RIM) >= MARKS_OF_A_FITTING[FittingShape.CIRCLE][1]
        ]
        return out

    def seen_in(self, photo: str) -> set[str]:
        """Places marked in one photo."""
        return {m.point or m.id for m in self.marks if m.photo == photo}

    def shared(self, photo: str) -> int:
        """How many places of one photo another one shows too."""
        elsewhere = {m.point or m.id for m in self.marks if m.photo != photo}
        return len(self.seen_in(photo) & elsewhere)
