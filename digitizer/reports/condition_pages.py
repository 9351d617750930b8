"""The condition section of a report: statements, location drawing, table, plates, maps of readings, photo log."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, NextPageTemplate, PageBreak, Spacer

from digitizer.job.model import Job
from digitizer.reports.condition import LIMITS, ConditionContents, DefectRow, LogRow, kind_words
from digitizer.reports.condition_maps import Scale, location_drawing, meter_map, sounding_map
from digitizer.reports.damage_plates import close_up_plate, damage_job, damage_photo
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    BODY,
    CAPTION,
    CELL_BOLD,
    HEADING,
    SMALL,
    SUBHEADING,
    Paper,
    cell,
    grid,
    paragraph,
    text_width,
)
from digitizer.reports.plates import Picture
from digitizer.reports.sheet import Sheet
from digitizer.survey.model import Survey

_CAPTION_ROOM = 58.0
_MOST_REMARKS = 40


def condition_pages(
    said: ConditionContents, survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper
) -> Iterator[Flowable]:
    """The whole section, from its limits to the close-ups."""
    width = paper.upright[0]
    yield paragraph("Condition survey", HEADING)
    yield from _statements(said)
    yield from _table(said, width)
    yield from _remarks(said)
    if said.defects:
        yield from _on_lying_sheet("Where the damage is", paper, lambda sheet: _location(survey, job, sheet))
    yield from _maps(said, survey, job, paper)
    yield from _plates(survey, job, photos, paper)
    yield from _close_ups(said, survey, job, photos, paper)


def log_pages(rows: tuple[LogRow, ...], width: float) -> list[Flowable]:
    """Every photo with its time of capture and its fingerprint."""
    head: list[Any] = [cell(title, CELL_BOLD) for title in ("Photo", "What, when, with what", "SHA-256 of the file")]
    table = [head, *([cell(row.file), cell(row.facts), cell(in_groups(row.sha256), SMALL)] for row in rows)]
    why = (
        "The files themselves are the evidence; whoever has one can compare its fingerprint with the one printed here."
    )
    return [
        CondPageBreak(120),
        paragraph("Photo log", HEADING),
        paragraph(why),
        grid(table, [0.22 * width, 0.44 * width, 0.34 * width]),
    ]


def in_groups(digits: str) -> str:
    """A fingerprint that can be read out: groups of eight."""
    return " ".join(digits[start : start + 8] for start in range(0, len(digits), 8))


def _statements(said: ConditionContents) -> Iterator[Flowable]:
    yield paragraph("Limits of this survey", SUBHEADING)
    for number, sentence in enumerate(LIMITS, start=1):
        yield paragraph(f"{number}. {sentence}", BODY)
    for heading, text in said.stated:
        yield paragraph(heading, SUBHEADING)
        yield paragraph(text, BODY)


def _table(said: ConditionContents, width: float) -> Iterator[Flowable]:
    yield CondPageBreak(120)
    yield paragraph("What was found", SUBHEADING)
    if not said.defects:
        yield paragraph("No damage was marked.")
        return
    titles = ("No.", "What", "Length or area", "Middle from centreline", "", said.place_heading, "Extents", "Class")
    rows: list[list[Any]] = [[cell(title, CELL_BOLD) for title in titles]]
    more: list[Any] = []
    for defect in said.defects:
        rows.append(_cells(defect))
        if defect.note:
            more.append(("SPAN", (1, len(rows)), (-1, len(rows))))
            rows.append(["", paragraph(defect.note, SMALL, 1500), *[""] * 6])
    shares = (0.06, 0.23, 0.17, 0.13, 0.035, 0.13, 0.145, 0.1)
    yield grid(rows, [share * width for share in shares], more=more)
    note = (
        "Figures with U. P port, S starboard, C on the centreline within U; places are those of the middle between the "
        "outermost marks. The class is the surveyor's own judgement and does not follow from a figure."
    )
    yield Spacer(1, 3)
    yield paragraph(note, SMALL)


def _cells(row: DefectRow) -> list[Any]:
    what = [cell(row.name, CELL_BOLD), cell(row.kind, SMALL), cell(row.seen_in, SMALL)]
    size = [cell(text, SMALL) for text in (row.size, row.around) if text]
    return [
        cell(row.number, CELL_BOLD),
        what,
        size,
        cell(row.across, SMALL),
        cell(row.side, CELL_BOLD),
        cell(row.below, SMALL),
        cell(row.extents, SMALL),
        cell(row.priority, SMALL),
    ]


def _location(survey: Survey, job: Job, sheet: Sheet) -> str:
    unit = job.settings.unit
    scale = location_drawing(survey, unit, sheet)
    down = "down from the reference line" if survey.reference_line else "up from the keel point"
    along = ", rolled flat" if survey.curvature_per_mm else ""
    kinds = ", ".join(dict.fromkeys(kind_words(d.kind) for d in survey.defects))
    lengths = "millimetres" if unit == "mm" else "inches"
    return (
        f"Seen from astern{along}, scale 1:{scale}; {lengths} out from the centreline and {down}. Cracks "
        f"are thick lines with a tick at each end. Shown: {kinds}."
    )


def _maps(said: ConditionContents, survey: Survey, job: Job, paper: Paper) -> Iterator[Flowable]:
    unit = job.settings.unit
    meters = {meter.id: meter for meter in job.meters}
    for name, words in said.meters:
        own = [each for each in survey.readings if each.meter == name]
        ends = Scale(meters[name].low, meters[name].high)

        def drawn(sheet: Sheet, own: list[Any] = own, ends: Scale = ends, words: str = words) -> str:
            scale = meter_map(survey, own, ends, unit, sheet)
            return f"{words} Never converted; darker is higher on that scale. Scale 1:{scale}."

        yield from _on_lying_sheet(f"Meter readings: {meters[name].name or name}", paper, drawn)
    if said.soundings:
        own = [each for each in survey.readings if each.sound is not None]
        counts = ", ".join(said.soundings)

        def sounded(sheet: Sheet) -> str:
            scale = sounding_map(survey, own, unit, sheet)
            return (
                f"Sounding with a hammer: {counts}. Ring: sharp. Crossed ring: dull. Full disc: dead. Scale 1:{scale}."
            )

        yield from _on_lying_sheet("Soundings", paper, sounded)


def _remarks(said: ConditionContents) -> Iterator[Flowable]:
    """What was noted beside single readings."""
    if not said.remarks:
        return
    yield paragraph("Remarks on readings", SUBHEADING)
    for remark in said.remarks[:_MOST_REMARKS]:
        yield paragraph(f"• {remark}", SMALL, 600)
    if len(said.remarks) > _MOST_REMARKS:
        yield paragraph(f"and {len(said.remarks) - _MOST_REMARKS} more in the job", SMALL)


def _on_lying_sheet(heading: str, paper: Paper, draw: Any) -> Iterator[Flowable]:
    """A drawing that fills a lying page, its caption below."""
    width, height = paper.lying
    sheet = Sheet(width, height - _CAPTION_ROOM, text_width)
    caption = draw(sheet)
    yield NextPageTemplate("lying")
    yield PageBreak()
    yield paragraph(heading, HEADING, 90)
    yield SheetFlowable(sheet, frame=True)
    yield paragraph(caption, CAPTION, 420)


def _plates(survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper) -> Iterator[Flowable]:
    width, height = paper.lying
    for photo in survey.photos:
        own = damage_job(photo, survey, job)
        picture = photos.get(photo.id)
        if not own.marks or picture is None:
            continue
        plate = damage_photo(photo, picture, survey, own, (width, height - _CAPTION_ROOM))
        yield NextPageTemplate("lying")
        yield PageBreak()
        yield paragraph(f"Damage in {photo.file}", HEADING, 120)
        yield SheetFlowable(plate.sheet, plate.jpeg)
        yield paragraph(plate.caption, CAPTION, 420)


def _close_ups(
    said: ConditionContents, survey: Survey, job: Job, photos: Mapping[str, Picture], paper: Paper
) -> Iterator[Flowable]:
    """Two on an upright page."""
    width, height = paper.upright
    rows = {row.id: row for row in said.close_ups}
    shown = [close for close in survey.close_ups if close.id in photos]
    if not shown:
        return
    yield NextPageTemplate("upright")
    yield PageBreak()
    yield paragraph("Close-ups", HEADING)
    for close in shown:
        room = (width, height / 2 - _CAPTION_ROOM)
        plate = close_up_plate(close, rows[close.id], photos[close.id], job.settings.unit, room)
        yield KeepTogether([SheetFlowable(plate.sheet, plate.jpeg), paragraph(plate.caption, CAPTION, 420)])
