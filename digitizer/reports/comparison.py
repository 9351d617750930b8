"""Two surveys of one transom on paper: what changed, every figure that both hold, and both drawn over each other."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, NextPageTemplate, PageBreak, Spacer

from digitizer.job.model import Job
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    BODY,
    CAPTION,
    CELL,
    CELL_BOLD,
    FIGURE,
    FIGURE_HEAD,
    HEADING,
    SMALL,
    SUBTITLE,
    TITLE,
    About,
    PageTotal,
    Paper,
    cell,
    grid,
    paper_of,
    paragraph,
    register_fonts,
    text_width,
    write_document,
)
from digitizer.reports.sheet import Disc, Place, Point, Sheet, Stroke
from digitizer.reports.table import shown_unit
from digitizer.reports.view import View, extent, fitted_view, opened_ring
from digitizer.survey.comparison import Comparison, Difference, Moved
from digitizer.survey.model import Survey
from digitizer.units import unit_name, value_and_uncertainty

_HOW = (
    "En is the difference divided by its U (ISO/IEC 17043): beyond ±1 the figure changed by more than the "
    "uncertainties of the two surveys explain. Of figures that did not change, about 1 in 20 seems changed by chance."
)
_DASHED = (5.0, 2.5)
_CAPTION_ROOM = 60.0


@dataclass(frozen=True)
class Surveyed:
    """One of the two: its job, its survey and the name of its file."""

    job: Job
    survey: Survey
    name: str


def write_comparison(
    found: Comparison, first: Surveyed, second: Surveyed, program: str, path: Path, *, frozen_date: str | None = None
) -> None:
    """
    Write the comparison as a PDF, in the paper and unit of the first job.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    register_fonts()
    paper = paper_of(first.job.settings.paper)
    title = first.job.title or first.job.boat.name or "Transom"
    about = About(title, "Two surveys compared", second.job.surveyor, program)
    date = frozen_date or datetime.date.today().isoformat()
    write_document(_story(found, first, second, title, date, paper), path, paper, about, frozen_date is not None)


def summary(found: Comparison) -> str:
    """One sentence: how much changed, and how much of that chance would give."""
    count = len(found.every)
    changed = len(found.changed)
    return f"{changed} of {count} figures changed significantly; chance alone would show about {found.by_chance:.1f}."


def placing(found: Comparison) -> str:
    """One sentence: how the two were laid on each other."""
    if found.fit is None:
        return "Laid on each other by their datums: keel point and reference line of each."
    aside = f" without {', '.join(found.set_aside)}" if found.set_aside else ""
    used = len(found.fittings) - len(found.set_aside)
    return (
        f"Dimensions are compared by their datums; positions of fittings by the best fit of {used} common "
        f"fittings{aside}."
    )


def difference_words(d: Difference, unit: str) -> tuple[str, str, str, str]:
    """First, second and difference with their U, and En, as printed."""
    shown = shown_unit(d.quantity, unit)
    figures = ((d.first, d.U_first), (d.second, d.U_second), (d.difference, d.U))
    one, other, step = (" ± ".join(value_and_uncertainty(value, U, shown)) for value, U in figures)
    sign = "+" if d.difference > 0.0 else ""
    return one, other, sign + step, f"{d.en:+.1f}".replace("-", "−")


def _story(
    found: Comparison, first: Surveyed, second: Surveyed, title: str, date: str, paper: Paper
) -> Iterator[Flowable]:
    width, unit = paper.upright[0], first.job.settings.unit
    yield paragraph(title, TITLE, 200)
    yield paragraph(f"Two surveys compared, {date}", SUBTITLE)
    yield _sources(first, second, width)
    yield Spacer(1, 8)
    yield paragraph(summary(found), BODY)
    yield paragraph(placing(found), BODY)
    yield paragraph(_HOW, SMALL)
    yield paragraph("What changed", HEADING)
    if found.changed:
        yield _table(found.changed, unit, width)
    else:
        yield paragraph("Nothing changed by more than its U.")
    yield from _drawing(found, first, second, paper)
    yield NextPageTemplate("upright")
    yield PageBreak()
    yield paragraph("All dimensions that both hold", HEADING)
    yield _table(found.dimensions, unit, width) if found.dimensions else paragraph("None.")
    yield from _fittings(found, unit, width)
    if found.defects:
        yield paragraph("Damage", HEADING)
        yield _table(found.defects, unit, width)
    for heading, names in (("Only in the first", found.only_first), ("Only in the second", found.only_second)):
        yield CondPageBreak(60)
        yield paragraph(heading, HEADING)
        yield paragraph("; ".join(names) + "." if names else "Nothing.", BODY)
    yield paragraph("How to read this", HEADING)
    for note in found.notes:
        yield paragraph(f"• {note}", BODY)
    yield PageTotal()


def _sources(first: Surveyed, second: Surveyed, width: float) -> Flowable:
    rows: list[list[Any]] = [["", cell("First", CELL_BOLD), cell("Second", CELL_BOLD)]]
    facts = (
        ("File", first.name, second.name),
        ("Title", first.job.title, second.job.title),
        ("Boat", first.job.boat.name, second.job.boat.name),
        ("Hull number", first.job.boat.hull_number, second.job.boat.hull_number),
        ("Measured", first.job.date, second.job.date),
        ("Surveyor", first.job.surveyor, second.job.surveyor),
    )
    rows += [
        [cell(name, CELL_BOLD), paragraph(a, CELL, 120), paragraph(b, CELL, 120)] for name, a, b in facts if a or b
    ]
    return grid(rows, [0.16 * width, 0.42 * width, 0.42 * width])


def _table(differences: Sequence[Difference], unit: str, width: float) -> Flowable:
    titles = ("First ± U", "Second ± U", "Second − first", "", "En")
    rows: list[list[Any]] = [[cell("Figure", CELL_BOLD), *(cell(title, FIGURE_HEAD) for title in titles)]]
    for d in differences:
        one, other, step, en = difference_words(d, unit)
        name = unit_name(shown_unit(d.quantity, unit))
        style = CELL_BOLD if d.changed else CELL
        rows.append(
            [cell(d.label, style), *(cell(t, FIGURE) for t in (one, other, step)), cell(name), cell(en, FIGURE)]
        )
    return grid(rows, [share * width for share in (0.39, 0.17, 0.17, 0.14, 0.06, 0.07)])


def _fittings(found: Comparison, unit: str, width: float) -> Iterator[Flowable]:
    if not found.fittings:
        return
    by_fit = found.fit is not None
    yield CondPageBreak(120)
    yield paragraph(f"Fittings, {'by best fit' if by_fit else 'by their datums'}", HEADING)
    yield _table([d for m in found.fittings for d in (m.by_fit or m.by_datums)], unit, width)
    if by_fit:
        yield CondPageBreak(120)
        yield paragraph("The same positions by their datums", HEADING)
        yield _table([d for m in found.fittings for d in m.by_datums[:2]], unit, width)


def _drawing(found: Comparison, first: Surveyed, second: Surveyed, paper: Paper) -> Iterator[Flowable]:
    """Both outlines over each other, by the fit where there is one."""
    width, height = paper.lying
    sheet = Sheet(width, height - _CAPTION_ROOM, text_width)
    laid = _laid(found, second.survey)
    around = _joined(extent(first.survey), extent(laid))
    view = fitted_view(around, (30.0, 25.0, sheet.width - 30.0, sheet.height - 25.0))
    _outline(first.survey, view, sheet, ())
    _outline(laid, view, sheet, _DASHED)
    for moved in found.fittings:
        _mark_moved(moved, view, sheet, first.job.settings.unit)
    yield NextPageTemplate("lying")
    yield PageBreak()
    yield paragraph("The two over each other", HEADING)
    yield SheetFlowable(sheet, frame=True)
    caption = (
        f"First solid, second dashed, scale 1:{view.scale}. Fittings of both as rings; those that moved carry how "
        "far, to starboard and up."
    )
    yield paragraph(caption, CAPTION)


def _laid(found: Comparison, survey: Survey) -> Survey:
    """The second survey turned and shifted onto the first."""
    if found.fit is None:
        return survey
    turn = math.radians(found.fit.turn_deg)
    dx, dy = found.fit.shift_mm

    def back(x: float, y: float) -> tuple[float, float]:
        return x - dx + turn * y, y - dy - turn * x

    line = survey.reference_line
    ends = (back(*line[0]), back(*line[1])) if line is not None else None
    return replace(survey, outline=tuple(back(*p) for p in survey.outline), reference_line=ends)


def _joined(a: Sequence[float], b: Sequence[float]) -> tuple[float, float, float, float]:
    return min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3])


def _outline(survey: Survey, view: View, sheet: Sheet, dash: tuple[float, ...]) -> None:
    if len(survey.outline) >= 3:
        points = tuple(view.at(*place) for place in opened_ring(survey.outline))
        sheet.draw(Stroke(points, 0.7 if dash else 1.1, dash))
    if survey.reference_line is not None:
        sheet.draw(Stroke(tuple(view.at(*end) for end in survey.reference_line), 0.4, dash or (7.0, 2.0, 1.5, 2.0)))


def _mark_moved(moved: Moved, view: View, sheet: Sheet, unit: str) -> None:
    """The fitting's place in both, and its step where it is significant."""
    steps = (moved.by_fit or moved.by_datums)[:2]
    x, y = moved.first.x.value, moved.first.y.value
    one = view.at(x, y)
    other = view.at(x + steps[0].difference, y + steps[1].difference)
    size = moved.first.diameter or moved.first.width
    radius = max(2.0, view.length(size.value / 2.0)) if size is not None else 2.0
    sheet.draw(Disc(*one, radius, 0.7), Disc(*other, radius, 0.5, dash=(2.0, 1.5)))
    if any(d.changed for d in steps):
        words = " / ".join(difference_words(d, unit)[2].split(" ± ")[0] for d in steps)
        name = moved.first.name or moved.first.id
        sheet.write(f"{name[:24]}: {words}", _beside(one, radius), 6.5, bold=True)


def _beside(at: Point, radius: float) -> list[Place]:
    turns = [math.radians(turn) for turn in range(90, 450, 30)]
    return [
        Place(at[0] + (radius + far + 24.0 * abs(math.cos(t))) * math.cos(t), at[1] + (radius + far) * math.sin(t))
        for far in (8.0, 14.0, 22.0, 32.0)
        for t in turns
    ]
