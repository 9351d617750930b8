"""What may differ between two jobs that share one network of observations, and how it gets into that network."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple, TypeVar

from digitizer.adjustment.observations import Block, System
from digitizer.camera.equations import ImagePoints
from digitizer.job.model import DeadriseReading, Job, KnownLength, Mark
from digitizer.survey.closeups import BESIDE
from digitizer.survey.defaults import OFF_THE_FACE
from digitizer.transom.constraints import Lengths

FREE_TEXT = ("title", "date", "surveyor", "boat", "note")
"""Fields of a job that no figure depends on."""


class Place(NamedTuple):
    """Where a record's observation stands: number of its block, and place in that block."""

    block: int
    at: int


Places = Mapping[str, Place]
"""By id of a mark or a known length."""


def structure_changed(before: Job, after: Job) -> bool:
    """
    Whether two jobs differ in more than `live.quick` can follow.

    Followed are the place and u of a mark, the value and u of a known length, the figures of an A and B reading,
    and what no figure depends on: title, date, surveyor, boat and note.
    """
    if len(before.marks) != len(after.marks) or len(before.lengths) != len(after.lengths):
        return True
    beside = {p.id for p in before.photos if p.kind in BESIDE}
    neutral = {name: getattr(before, name) for name in FREE_TEXT}
    rest = replace(after, marks=before.marks, lengths=before.lengths, deadrise_readings=(), **neutral)
    return (
        rest != replace(before, deadrise_readings=())
        or any(not _same_mark(old, new, beside) for old, new in _pairs(before.marks, after.marks))
        or any(replace(n, length_mm=o.length_mm, u_mm=o.u_mm) != o for o, n in _pairs(before.lengths, after.lengths))
        or not _same_readings(before.deadrise_readings, after.deadrise_readings)
    )


def places_of(system: System) -> dict[str, Place]:
    """Places of the marks' and known lengths' observations."""
    out: dict[str, Place] = {}
    for number, (block, rows) in enumerate(zip(system.blocks, system.slices, strict=True)):
        if isinstance(block, ImagePoints):
            out |= {row.subject: Place(number, i) for i, row in enumerate(system.rows[rows][::2])}
        elif isinstance(block, Lengths):
            own = [(i, row) for i, row in enumerate(system.rows[rows]) if row.kind == "length"]
            out |= {row.subject: Place(number, i) for i, row in own}
    return out


def changed_marks(places: Places, before: Job, after: Job) -> list[Mark]:
    """Marks that take part and are no longer the same."""
    return [new for _, new in _pairs(before.marks, after.marks) if new.id in places]


def changed_lengths(places: Places, before: Job, after: Job) -> list[KnownLength]:
    """Known lengths that take part and are no longer the same."""
    return [new for _, new in _pairs(before.lengths, after.lengths) if new.id in places]


def exchanged(system: System, places: Places, before: Job, after: Job) -> System:
    """The system with the values of another job; blocks without a new value are the same objects."""
    blocks: list[Block] = list(system.blocks)
    for mark in changed_marks(places, before, after):
        number, at = places[mark.id]
        block = blocks[number]
        assert isinstance(block, ImagePoints)
        xy, u = block.image_points.copy(), block.u_px.copy()
        xy[at], u[at] = (mark.x_px, mark.y_px), mark.u_px
        blocks[number] = block.moved(xy, u)
    for length in changed_lengths(places, before, after):
        number, at = places[length.id]
        read = blocks[number]
        assert isinstance(read, Lengths)
        readings, u = read.readings.copy(), read.u.copy()
        readings[at], u[at] = length.length_mm, length.u_mm
        blocks[number] = read.read(readings, u)
    return system.exchanged(blocks)


def observed(system: System, places: Places, before: Job, after: Job) -> dict[int, float]:
    """By row: the values of the observations that differ."""
    out: dict[int, float] = {}
    for mark in changed_marks(places, before, after):
        row = system.slices[places[mark.id].block].start + 2 * places[mark.id].at
        out |= {row: mark.x_px, row + 1: mark.y_px}
    for length in changed_lengths(places, before, after):
        out[system.slices[places[length.id].block].start + places[length.id].at] = length.length_mm
    return out


_Record = TypeVar("_Record", Mark, KnownLength)


def _pairs(before: Sequence[_Record], after: Sequence[_Record]) -> Iterator[tuple[_Record, _Record]]:
    """Records that are no longer the same, as they were and as they are."""
    return ((old, new) for old, new in zip(before, after, strict=True) if new is not old and new != old)


def _same_mark(before: Mark, after: Mark, beside: Container[str]) -> bool:
    """Whether a mark is the same but for its place and u, and on the face, where the adjustment follows it."""
    if before.photo in beside or before.kind in OFF_THE_FACE:
        return False
    return replace(after, x_px=before.x_px, y_px=before.y_px, u_px=before.u_px) == before


def _same_readings(before: Sequence[DeadriseReading], after: Sequence[DeadriseReading]) -> bool:
    return len(before) == len(after) and all(
        replace(new, a_mm=old.a_mm, b_mm=old.b_mm, u_mm=old.u_mm) == old for old, new in zip(before, after, strict=True)
    )
