"""
The report on paper: from a finished survey and its job to one PDF.

What it says comes from :mod:`~digitizer.reports.contents`; this module puts the parts in order.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from pathlib import Path

from reportlab.platypus import Flowable, NextPageTemplate, PageBreak, Spacer

from digitizer.job.model import Job, Reader
from digitizer.reports import parts
from digitizer.reports.condition_pages import condition_pages, log_pages
from digitizer.reports.contents import Contents, contents
from digitizer.reports.drawing import scale_note, transom_drawing
from digitizer.reports.flange_parts import flange_pages
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    CAPTION,
    CELL_BOLD,
    HEADING,
    SMALL,
    About,
    PageTotal,
    Paper,
    cell,
    grid,
    paper_of,
    paragraph,
    register_fonts,
    shown,
    text_width,
    write_document,
)
from digitizer.reports.pattern_parts import pattern_part
from digitizer.reports.planning_parts import planning_part
from digitizer.reports.plates import (
    Picture,
    Plate,
    flattened_photo,
    marked_part,
    marked_photo,
    plain_photo,
    symbol,
)
from digitizer.reports.points import still_needed
from digitizer.reports.sheet import Label, Sheet, Stroke
from digitizer.reports.view import POINTS_PER_MM, extent, fitting_scale
from digitizer.survey.model import PhotoResult, Survey
from digitizer.survey.points import open_points
from digitizer.transom.surface import girth_of
from digitizer.units import unit_name

_TITLE_BLOCK = 40.0
_AROUND_FLAT_MM = 80.0


def write_report(
    survey: Survey,
    job: Job,
    photos: Mapping[str, Picture],
    path: Path,
    *,
    frozen_date: str | None = None,
    reader: Reader | None = None,
) -> None:
    """
    Write the report of a survey as a PDF.

    Parameters
    ----------
    survey, job
        The finished survey and the job it was measured from. The job's settings name paper and unit.
    photos : photo id to (rows, columns, 3) uint8, RGB
        Upright pictures; a photo without one is left out of the plates, which say so.
    path
        Where to write; an old file there is replaced only once the new one is whole.
    frozen_date
        Date to print instead of today's; with it, the same input gives the same bytes.
    reader
        Whom it is for, which chooses what it holds; left out, as the job's settings say.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    register_fonts()
    said = contents(survey, job, frozen_date or datetime.date.today().isoformat(), reader)
    paper = paper_of(job.settings.paper)
    about = About(said.title, said.document, job.surveyor, said.program)
    write_document(_story(said, survey, job, photos, paper), path, paper, about, frozen_date is not None)


def _story(said: Contents, survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper) -> Iterator[Flowable]:
    width = paper.upright[0]
    yield from parts.cover(said, width)
    yield from _cover_picture(survey, photos, width)
    if said.condition is not None:
        yield from _upright()
        yield from condition_pages(said.condition, survey, job, photos, paper)
    if said.reader is Reader.OWNER:
        yield from _for_owner(said, survey, job, photos, paper)
    else:
        yield from _in_full(said, survey, job, photos, paper)
    if said.reader is Reader.SURVEY:
        yield from log_pages(said.log, width)
    yield from parts.cautions(width)
    yield from parts.signatures(said, width)
    yield PageTotal()


def _for_owner(
    said: Contents, survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper
) -> Iterator[Flowable]:
    """What whoever measured needs to check it: the marks, the figures, the tape against the photo, the findings."""
    width = paper.upright[0]
    yield from _plates(survey, job, photos, paper, flattened=False)
    yield from _upright()
    yield from parts.dimensions(said, width)
    yield from parts.how_taken(said, width)
    yield from parts.checks(said, width)
    yield from pattern_part(survey, job.settings.unit, width)
    yield from still_needed(open_points(job, survey), width)
    yield from parts.findings(said, width)


def _in_full(
    said: Contents, survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper
) -> Iterator[Flowable]:
    """What a part is cut from and a figure is traced by."""
    width = paper.upright[0]
    yield from _drawing(said, survey, job, paper)
    yield from _upright()
    yield from parts.dimensions(said, width)
    yield from parts.schedule(said, width, unit_name(job.settings.unit))
    yield from flange_pages(survey, job.settings.unit, paper)
    yield from planning_part(survey, width)
    yield from pattern_part(survey, job.settings.unit, width)
    yield from _plates(survey, job, photos, paper)
    yield from _upright()
    yield from parts.how_taken(said, width)
    yield from parts.findings(said, width)
    yield from parts.budgets(said, width)
    yield from parts.observations(said, width)


def _upright() -> Iterator[Flowable]:
    yield NextPageTemplate("upright")
    yield PageBreak()


def _lying() -> Iterator[Flowable]:
    yield NextPageTemplate("lying")
    yield PageBreak()


def _cover_picture(survey: Survey, photos: Mapping[str, Picture], width: float) -> Iterator[Flowable]:
    """The first photo, small, so that the boat is recognised; left out where the facts fill the page."""
    first = next((photo for photo in survey.photos if photo.id in photos), None)
    if first is not None:
        ratio = min(0.72 * width / first.width_px, 0.6 * width / first.height_px)
        sheet = Sheet(first.width_px * ratio, first.height_px * ratio, text_width)
        yield Spacer(1, 10)
        yield parts.IfRoom(SheetFlowable(sheet, plain_photo(photos[first.id], sheet.width)))


def _drawing(said: Contents, survey: Survey, job: Job, paper: Paper) -> Iterator[Flowable]:
    if not (survey.points or survey.outline or survey.fittings or survey.reference_line):
        return
    width, height = paper.lying
    sheet = Sheet(width, height - _TITLE_BLOCK - 26.0, text_width)
    scale = transom_drawing(survey, job.settings.unit, job.settings.b_offset_mm, sheet)
    yield from _lying()
    yield paragraph(f"Dimension drawing, seen {'square on ' * said.bowed}from astern", HEADING)
    yield SheetFlowable(sheet, frame=True)
    yield _title_block(said, job, scale, width)


def _title_block(said: Contents, job: Job, scale: int, width: float) -> Flowable:
    hull = f"{shown(job.boat.name, 40)} {shown(job.boat.hull_number, 20)}".strip()
    first = [cell(shown(said.title, 80), CELL_BOLD), cell(hull, SMALL)]
    second = [cell(f"measured {shown(job.date, 30) or '—'}", SMALL), cell(shown(job.surveyor, 40), SMALL)]
    second.append(cell(shown(said.document, 60), SMALL))
    third = [cell(scale_note(job.settings.unit), SMALL), cell("± U, about 95 %; numbers: see fitting schedule", SMALL)]
    if said.bowed:
        third.append(cell("Bowed face: widths straight through (chord)", SMALL))
    fourth = [cell(f"Scale 1:{scale}", CELL_BOLD), SheetFlowable(_scale_bar(scale, unit_name(job.settings.unit)))]
    shares = [share * width for share in (0.27, 0.2, 0.29, 0.24)]
    lines = [("BOX", (0, 0), (-1, -1), 0.6, "black"), ("INNERGRID", (0, 0), (-1, -1), 0.4, "black")]
    return grid([[first, second, third, fourth]], shares, heading=False, more=lines)


def _scale_bar(scale: int, unit: str) -> Sheet:
    """A bar of four round steps, no longer than 42 mm on paper."""
    size = 25.4 if unit == "in" else 1.0
    steps = (100, 50, 24, 12, 6, 4, 3, 2, 1) if unit == "in" else (5000, 2000, 1000, 500, 200, 100, 50, 20, 10, 5)
    step = next((each for each in steps if each * size / scale <= 10.5), steps[-1])
    one = step * size / scale * POINTS_PER_MM
    sheet = Sheet(4 * one + 24.0, 15.0, text_width)
    for count in range(4):
        box = [(4.0 + (count + side) * one, y) for side, y in ((0, 9.0), (1, 9.0), (1, 12.5), (0, 12.5))]
        sheet.draw(Stroke(tuple(box), 0.4, closed=True, fill=float(count % 2)))
    for count, name in ((0, "0"), (2, f"{2 * step}"), (4, f"{4 * step} {unit}")):
        sheet.draw(Label(name, 4.0 + count * one + 5.0 * (count == 4), 4.5, 5.5))
    return sheet


def _plates(
    survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper, flattened: bool = True
) -> Iterator[Flowable]:
    for photo in survey.photos:
        picture = photos.get(photo.id)
        if picture is None:
            yield paragraph(f"The picture of {photo.file} was not at hand when this report was made.")
            continue
        yield from _marked(photo, picture, survey, job, paper)
        if flattened:
            yield from _flattened(photo, picture, survey, paper)


def _marked(photo: PhotoResult, picture: Picture, survey: Survey, job: Job, paper: Paper) -> Iterator[Flowable]:
    width, height = paper.lying
    part = marked_part(photo, job)
    wide, high = part[2] - part[0], part[3] - part[1]
    ratio = min(width / wide, (height - 100.0) / high)
    sheet = Sheet(wide * ratio, high * ratio, text_width)
    plate = marked_photo(photo, picture, part, survey, job, sheet)
    yield from _lying()
    yield paragraph(f"Photo with its marks: {photo.file}", HEADING, 120)
    yield SheetFlowable(plate.sheet, plate.jpeg)
    yield paragraph(plate.caption, CAPTION, 300)
    yield _legend(plate, width)


def _legend(plate: Plate, width: float) -> Flowable:
    entries: list[tuple[Flowable, Flowable]] = []
    for shape, meaning in plate.legend:
        sample = Sheet(14.0, 11.0, text_width)
        sample.draw(*symbol(shape, 7.0, 6.5))
        entries.append((SheetFlowable(sample), cell(meaning, SMALL)))
    per_row = 6
    rows: list[list[Flowable | str]] = [
        [part for entry in entries[start : start + per_row] for part in entry]
        for start in range(0, len(entries), per_row)
    ]
    rows = [row + [""] * (2 * per_row - len(row)) for row in rows] or [[""] * (2 * per_row)]
    return grid(rows, [20.0, width / per_row - 20.0] * per_row, heading=False, ruled=False)


def _flattened(photo: PhotoResult, picture: Picture, survey: Survey, paper: Paper) -> Iterator[Flowable]:
    left, bottom, right, top = extent(survey)
    left, right = (girth_of(x, survey.curvature_per_mm) for x in (left, right))
    a = _AROUND_FLAT_MM
    around = (left - a, bottom - a, right + a, top + a)
    width, height = paper.lying
    scale = fitting_scale(around, width - 30.0, height - 70.0)
    per_mm = POINTS_PER_MM / scale
    sheet = Sheet((around[2] - around[0]) * per_mm, (around[3] - around[1]) * per_mm, text_width)
    plate = flattened_photo(photo, picture, survey, around, scale, sheet)
    yield from _lying()
    how = "Rolled flat" if survey.curvature_per_mm else "Flattened to the face"
    yield paragraph(f"{how}: {photo.file}", HEADING, 120)
    yield SheetFlowable(plate.sheet, plate.jpeg, left=24.0, below=14.0)
    yield paragraph(
        f"{plate.caption}. True on the face only: what stands proud of it or behind it is displaced.", CAPTION, 300
    )
