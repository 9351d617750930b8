"""Photographs of damage: the part of a photo that shows it, with its outlines, and close-ups with their scale."""

from __future__ import annotations

import math
from dataclasses import replace

from digitizer.job.model import Job
from digitizer.reports.condition import CloseUpRow, defect_numbers
from digitizer.reports.condition_maps import defect_strokes, label_places
from digitizer.reports.paper import text_width
from digitizer.reports.plates import Picture, Plate, marked_part, part_of_photo, plain_photo
from digitizer.reports.sheet import Label, Point, Sheet, Stroke
from digitizer.survey.model import CloseUp, DefectResult, PhotoResult, Survey
from digitizer.units import MM_PER_INCH

_HALO = 1.3


def damage_job(photo: PhotoResult, survey: Survey, job: Job) -> Job:
    """The job with only those marks of a photo that lie on damage."""
    points = {name for defect in survey.defects for name in defect.size.made_from}
    own = tuple(m for m in job.marks if m.active and m.photo == photo.id and (m.point or m.id) in points)
    return replace(job, marks=own)


def damage_photo(photo: PhotoResult, picture: Picture, survey: Survey, job: Job, room: tuple[float, float]) -> Plate:
    """
    Part of a photo with the damage drawn where it was marked.

    Parameters
    ----------
    job
        As :func:`damage_job` gives it.
    room
        Width and height that the plate may take, points.
    """
    part = marked_part(photo, job)
    ratio = min(room[0] / (part[2] - part[0]), room[1] / (part[3] - part[1]))
    sheet = Sheet((part[2] - part[0]) * ratio, (part[3] - part[1]) * ratio, text_width)
    at = {m.point or m.id: ((m.x_px + 0.5 - part[0]) * ratio, (part[3] - m.y_px - 0.5) * ratio) for m in job.marks}
    numbers = defect_numbers(survey.defects)
    shapes = {d.id: _shape(d, at) for d in survey.defects}
    shown = [d for d in survey.defects if len(shapes[d.id]) >= 2]
    for defect in shown:
        sheet.draw(*defect_strokes(defect, shapes[defect.id], _HALO))
    for defect in shown:
        sheet.write(numbers[defect.id], label_places(shapes[defect.id], defect.closed), 9.0, bold=True)
    caption = (
        f"{photo.file}, columns {part[0]} to {part[2]} of {photo.width_px} and rows {part[1]} to {part[3]} of "
        f"{photo.height_px}; about {photo.sample_distance_mm:.2f} mm per pixel. As photographed, so not to scale."
    )
    return Plate(part_of_photo(photo, picture, part, sheet.width), sheet, caption)


def close_up_plate(close: CloseUp, row: CloseUpRow, picture: Picture, unit: str, room: tuple[float, float]) -> Plate:
    """A close-up, with a scale bar where it has a scale of its own."""
    ratio = min(room[0] / close.width_px, room[1] / close.height_px)
    sheet = Sheet(close.width_px * ratio, close.height_px * ratio, text_width)
    if close.mm_per_px is not None:
        _scale_bar(sheet, close.mm_per_px / ratio, unit)
    return Plate(plain_photo(picture, sheet.width), sheet, f"{row.title}. {row.facts}")


def _shape(defect: DefectResult, at: dict[str, Point]) -> tuple[Point, ...]:
    return tuple(at[name] for name in defect.size.made_from if name in at)


def _scale_bar(sheet: Sheet, mm_per_point: float, unit: str) -> None:
    """A round length, at most a third of the picture's width."""
    size, name = (MM_PER_INCH, "in") if unit != "mm" else (1.0, "mm")
    longest = sheet.width / 3 * mm_per_point / size
    if longest <= 0.0 or not math.isfinite(longest):
        return
    power = 10.0 ** math.floor(math.log10(longest))
    length = next(step * power for step in (5.0, 2.0, 1.0) if step * power <= longest)
    points = length * size / mm_per_point
    start, y = 12.0, 14.0
    ends = ((start, y), (start + points, y))
    sheet.draw(Stroke(ends, 2.0, halo=1.5))
    sheet.draw(*(Stroke(((x, y - 4.0), (x, y + 4.0)), 1.2, halo=1.0) for x, _ in ends))
    sheet.draw(Label(f"{length:g} {name}", start + points / 2, y + 10.0, 8.0, bold=True, plate=True))
