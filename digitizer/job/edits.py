"""
What a person does to a job, each verb a function from one job to the next.

Nothing here knows a screen. A job is never changed in place, so undoing an edit is putting the old job back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from digitizer.job.condition_ties import without_loose_ties
from digitizer.job.model import (
    Fitting,
    FittingKind,
    FittingShape,
    Job,
    KnownLength,
    LineKind,
    Mark,
    MarkKind,
    Pad,
    Photo,
    Rectangle,
    Side,
    StraightLine,
)
from digitizer.job.pattern_edges import with_edges, without_missing


@dataclass(frozen=True)
class Click:
    """A place in a photo that somebody pointed at, px, with its standard uncertainty."""

    photo: str
    x_px: float
    y_px: float
    u_px: float = 0.7


def fresh_id(taken: Iterable[str], stem: str) -> str:
    """
    An id that is not in use: the stem, or the stem with the first free number from 2.

    >>> fresh_id({"keel", "keel_2"}, "keel")
    'keel_3'
    """
    used = set(taken)
    number, name = 1, stem
    while name in used:
        number += 1
        name = f"{stem}_{number}"
    return name


def with_record(job: Job, section: str, record: Any) -> Job:
    """The job with `record` in the list `section`: in the place of the one with its id, or else at the end."""
    records = getattr(job, section)
    if any(r.id == record.id for r in records):
        return _with(job, section, (record if r.id == record.id else r for r in records))
    return _with(job, section, (*records, record))


def without_record(job: Job, section: str, record_id: str) -> Job:
    """The job without that record, and without what then hangs in the air."""
    return tidied(_with(job, section, (r for r in getattr(job, section) if r.id != record_id)))


def with_marks(job: Job, clicks: Iterable[Click], kind: MarkKind, **fields: Any) -> Job:
    """
    The job with a mark of one kind at each click; `fields` are the mark's other fields, such as ``side``.

    In a pattern's photo, marks of an outline take their place along the pattern's edge.
    """
    marks = list(job.marks)
    new = []
    taken = {mark.id for mark in marks}
    stem = _stem(kind, fields.get("side"))
    for click in clicks:
        mark_id = fresh_id(taken, stem)
        taken.add(mark_id)
        new.append(mark_id)
        marks.append(Mark(mark_id, click.photo, kind, click.x_px, click.y_px, click.u_px, **fields))
    return with_edges(_with(job, "marks", marks), new)


def with_reference_mark(job: Job, clicks: Iterable[Click]) -> Job:
    """The job with more marks on its reference line, which comes into being with the first."""
    line = next((line for line in job.lines if line.reference), None)
    if line is None:
        line = StraightLine(fresh_id((r.id for r in job.lines), "reference"), LineKind.STRING, reference=True)
        job = with_record(job, "lines", line)
    return with_marks(job, clicks, MarkKind.REFERENCE_LINE, of=line.id)


def with_known_length(job: Job, ends: tuple[Click, Click], length_mm: float, u_mm: float, note: str = "") -> Job:
    """The job with a rule or tape between two new marks."""
    before = {mark.id for mark in job.marks}
    job = with_marks(job, ends, MarkKind.LENGTH_END)
    first, second = (mark.id for mark in job.marks if mark.id not in before)
    length_id = fresh_id((r.id for r in job.lengths), "length")
    return with_record(job, "lengths", KnownLength(length_id, first, second, length_mm, u_mm, note=note))


def with_sheet(job: Job, corners: tuple[Click, Click, Click, Click], width_mm: float, height_mm: float) -> Job:
    """The job with a sheet of known size and square corners, the clicks in order round it."""
    sheet_id = fresh_id((r.id for r in job.rectangles), "sheet")
    before = {mark.id for mark in job.marks}
    job = with_marks(job, corners, MarkKind.RECTANGLE_CORNER, of=sheet_id)
    a, b, c, d = (mark.id for mark in job.marks if mark.id not in before)
    return with_record(job, "rectangles", Rectangle(sheet_id, (a, b, c, d), width_mm, height_mm))


_FITTING_MARKS = {
    FittingShape.CIRCLE: MarkKind.RIM,
    FittingShape.RECTANGLE: MarkKind.FITTING_CORNER,
    FittingShape.POINT: MarkKind.FITTING_CENTRE,
}


def with_fitting(job: Job, shape: FittingShape, clicks: Iterable[Click], kind: FittingKind = FittingKind.OTHER) -> Job:
    """The job with a new fitting and the marks that show it."""
    stem = "fitting" if kind is FittingKind.OTHER else kind.value
    fitting = Fitting(fresh_id((r.id for r in job.fittings), stem), kind, shape)
    return with_fitting_marks(with_record(job, "fittings", fitting), fitting.id, clicks)


def with_fitting_marks(job: Job, fitting_id: str, clicks: Iterable[Click]) -> Job:
    """The job with more marks of a fitting, of the kind that its shape asks for."""
    shape = next(r.shape for r in job.fittings if r.id == fitting_id)
    return with_marks(job, clicks, _FITTING_MARKS[shape], of=fitting_id)


def with_pad_marks(job: Job, pad_id: str | None, clicks: Iterable[Click]) -> Job:
    """The job with more marks round a pad, which comes into being when none is named."""
    if pad_id is None:
        pad_id = fresh_id((r.id for r in job.pads), "pad")
        job = with_record(job, "pads", Pad(pad_id))
    return with_marks(job, clicks, MarkKind.PAD, of=pad_id)


def with_mark_moved(job: Job, mark_id: str, x_px: float, y_px: float, u_px: float | None = None) -> Job:
    """The job with one mark elsewhere in its photo, and with another u where one is given."""
    old = mark_of(job, mark_id)
    return with_record(job, "marks", replace(old, x_px=x_px, y_px=y_px, u_px=old.u_px if u_px is None else u_px))


def mark_of(job: Job, mark_id: str) -> Mark:
    """
    The mark with this id.

    Raises
    ------
    KeyError
        If the job has none.
    """
    for mark in job.marks:
        if mark.id == mark_id:
            return mark
    raise KeyError(mark_id)


def with_photo(job: Job, photo: Photo) -> Job:
    """The job with one more photo."""
    return with_record(job, "photos", photo)


def tidied(job: Job) -> Job:
    """
    The job without records that name something which is no longer there.

    Marks and sightings go whose photo was taken out, a fitting without marks, a length with only one end, a sheet that
    lacks a corner, a line without marks, a reading without its place, and marks whose line, sheet or fitting is gone;
    again until nothing hangs in the air.
    """
    while True:
        fewer = _tidied_once(job)
        if fewer == job:
            return job
        job = fewer


def _tidied_once(job: Job) -> Job:
    groups = {mark.of for mark in job.marks if mark.of is not None}
    points = {mark.point or mark.id for mark in job.marks} | {target.id for target in job.targets}
    targets, photos = {target.id for target in job.targets}, {photo.id for photo in job.photos}
    pads = {r.id for r in job.pads}
    kept = replace(
        job,
        lines=tuple(r for r in job.lines if r.id in groups),
        fittings=tuple(replace(r, on=r.on if r.on in pads else None) for r in job.fittings if r.id in groups),
        pads=tuple(r for r in job.pads if r.id in groups),
        lengths=tuple(r for r in job.lengths if {r.from_point, r.to_point} <= points),
        rectangles=tuple(r for r in job.rectangles if set(r.corners) <= points),
        mirror_pairs=tuple(r for r in job.mirror_pairs if {r.port, r.starboard} <= points),
        angles=tuple(r for r in job.angles if {*r.first, *r.second} <= points),
        gravity_lines=tuple(r for r in job.gravity_lines if set(r.points) <= points),
        sightings=tuple(s for s in job.sightings if s.target in targets and s.photo in photos),
        patterns=without_missing(job),
    )
    cut = job.settings.cut_to_pattern
    if cut is not None and cut not in {p.id for p in kept.patterns}:
        kept = replace(kept, settings=replace(job.settings, cut_to_pattern=None))
    kept = replace(kept, marks=tuple(_still_meant(kept)))
    return without_loose_ties(kept)


_NEED_A_RECORD = {
    MarkKind.RIM: "fittings",
    MarkKind.FITTING_CORNER: "fittings",
    MarkKind.FITTING_CENTRE: "fittings",
    MarkKind.LINE_POINT: "lines",
    MarkKind.REFERENCE_LINE: "lines",
    MarkKind.RECTANGLE_CORNER: "rectangles",
    MarkKind.PAD: "pads",
}


def _still_meant(job: Job) -> Iterable[Mark]:
    """Marks whose record is there, and ends that still bound a length."""
    ids = {section: {r.id for r in getattr(job, section)} for section in set(_NEED_A_RECORD.values())}
    ends = {point for r in job.lengths for point in (r.from_point, r.to_point)}
    pads = {r.id for r in job.pads}
    photos = {photo.id for photo in job.photos}
    for mark in job.marks:
        if mark.photo not in photos:
            continue
        section = _NEED_A_RECORD.get(mark.kind)
        if section is not None and mark.of is not None and mark.of not in ids[section]:
            continue
        if mark.kind is MarkKind.LENGTH_END and (mark.point or mark.id) not in ends:
            continue
        yield mark if mark.on is None or mark.on in pads else replace(mark, on=None)


def _with(job: Job, section: str, records: Iterable[Any]) -> Job:
    changed: dict[str, Any] = {section: tuple(records)}
    return replace(job, **changed)


def _stem(kind: MarkKind, side: Side | None) -> str:
    return kind.value if side is None else f"{kind.value}_{side.value}"
