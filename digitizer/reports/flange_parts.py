"""The pages of the report about the planned flange: its plate, what is in its way, and what would clear it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, NextPageTemplate, PageBreak, Spacer

from digitizer.reports.flange_drawing import flange_drawing
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    CAPTION,
    CELL_BOLD,
    FIGURE,
    FIGURE_HEAD,
    HEADING,
    SMALL,
    SUBHEADING,
    Paper,
    cell,
    grid,
    paragraph,
    text_width,
)
from digitizer.reports.schedule import fitting_numbers, side_of, words
from digitizer.reports.sheet import Sheet
from digitizer.reports.table import printed_value
from digitizer.survey.model import Dimension, FlangeFit, Survey
from digitizer.units import format_length, unit_name

_INTRO = (
    "Where the planned flange would sit, as the measured figures have it. Clearances go from its edge to the rim and "
    "are negative by how far a rim reaches in. What lies within U of a limit is not decided. Whether transom and "
    "flange are strong enough is not said here."
)


def flange_pages(survey: Survey, unit: str, paper: Paper) -> Iterator[Flowable]:
    """The plate on a lying page and the tables on the upright ones after it; nothing where no flange is planned."""
    fit = survey.flange
    if fit is None:
        return
    width, height = paper.lying
    sheet = Sheet(width, height - 52.0, text_width)
    scale = flange_drawing(survey, fit, unit, sheet)
    flat = "rolled flat (girth)" if survey.curvature_per_mm else "seen square on from astern"
    yield NextPageTemplate("lying")
    yield PageBreak()
    yield paragraph("Planned flange on the transom", HEADING)
    yield SheetFlowable(sheet, frame=True)
    caption = f"Scale 1:{scale}, {flat}. Broken line: margin. Grey: in the way or not decided. Numbers: see the table."
    yield paragraph(caption, CAPTION)
    yield NextPageTemplate("upright")
    yield PageBreak()
    yield from _tables(survey, fit, unit, paper.upright[0])


def _tables(survey: Survey, fit: FlangeFit, unit: str, width: float) -> Iterator[Flowable]:
    yield paragraph("Fit of the planned flange", HEADING)
    yield paragraph(_INTRO)
    yield paragraph(_described(fit, unit))
    yield from _fittings(survey, fit, unit, width)
    yield from _figures(fit, unit, width)
    spoken = [f.text for f in survey.findings if f.code.startswith("flange_") and f.code != "flange_conflict"]
    if spoken:
        yield paragraph("What that means", SUBHEADING)
        yield from (paragraph(f"• {text}", longest=1500) for text in spoken)


def _described(fit: FlangeFit, unit: str) -> str:
    """The flange in words."""
    size = f"{format_length(fit.width_mm, unit)} × {format_length(fit.height_mm, unit)}"
    edge = f"lower edge a V of {fit.deadrise_deg:.1f}° in the face" if fit.deadrise_deg else "level lower edge"
    holes = f", {len(fit.bolts)} holes of {format_length(fit.bolt_hole_mm, unit)}" if fit.bolts else ""
    top, margin = format_length(fit.top_mm, unit), format_length(fit.margin_mm, unit)
    return f"Flange {size}, {edge}, its top {top} above the keel point{holes}; margin to fittings {margin}."


def _fittings(survey: Survey, fit: FlangeFit, unit: str, width: float) -> Iterator[Flowable]:
    if not fit.fittings:
        yield paragraph("No fittings were marked.")
        return
    numbers = fitting_numbers(survey.fittings)
    places = {f.id: f for f in survey.fittings}
    titles = (
        "No.",
        "Fitting",
        "Side",
        f"Clear of the flange, {unit_name(unit)}",
        "Verdict",
        "Planned",
        "Becomes of it",
    )
    rows: list[list[Any]] = [[cell(title, FIGURE_HEAD if i == 3 else CELL_BOLD) for i, title in enumerate(titles)]]
    for f in sorted(fit.fittings, key=lambda each: each.clearance.value):
        verdict = str(f.verdict)
        if f.between:
            verdict += f": {' or '.join(str(v) for v in f.between)}"
        elif verdict == "inside":
            verdict += ", wholly" if f.wholly else ", partly"
        side = {"P": "port", "S": "starboard", "C": "centre"}[side_of(places[f.fitting].x)]
        clear = cell(_plus_minus(f.clearance, unit), FIGURE)
        plan = [cell(words(each)) for each in (f.plan, f.outcome)]
        rows.append([cell(str(numbers[f.fitting])), cell(f.name), cell(side), clear, cell(verdict), *plan])
    shares = (0.06, 0.22, 0.11, 0.16, 0.21, 0.11, 0.13)
    yield grid(rows, [share * width for share in shares])
    yield Spacer(1, 3)
    yield paragraph(
        "What is clear stays, what is in the way moves unless the job plans otherwise; old bolt holes are filled and "
        "worked around.",
        SMALL,
    )


def _figures(fit: FlangeFit, unit: str, width: float) -> Iterator[Flowable]:
    """Gaps, distances and angles."""
    several = [
        *(station.gap for station in fit.stations),
        *(d for d in (fit.to_bottom, fit.to_outline, fit.stand_off) if d is not None),
        *fit.deadrise_differences,
        *(pad.distance for pad in fit.pads),
        *(each.inside for each in fit.crossings if each.inside.value > 0.0 or not each.decided),
    ]
    yield CondPageBreak(120.0)
    yield paragraph("Gaps and distances", SUBHEADING)
    at = {id(s.gap): _place(s.x_mm, unit) for s in fit.stations}
    titles = ("Figure", "Value", "± U", "", "Where")
    rows: list[list[Any]] = [[cell(t, FIGURE_HEAD if i in (1, 2) else CELL_BOLD) for i, t in enumerate(titles)]]
    for d in several:
        value, expanded, name = printed_value(d, unit)
        label = f"{d.label}, in under the flange" if d.code.startswith(("flange_strake", "flange_chine")) else d.label
        where = cell(at.get(id(d), d.note))
        rows.append(
            [cell(label[:1].upper() + label[1:]), cell(value, FIGURE), cell(expanded, FIGURE), cell(name), where]
        )
    yield grid(rows, [share * width for share in (0.46, 0.12, 0.1, 0.06, 0.26)])


def _place(x: float, unit: str) -> str:
    if abs(x) < 0.05:
        return "on the centreline"
    return f"{format_length(abs(x), unit)} to {'starboard' if x > 0.0 else 'port'}"


def _plus_minus(d: Dimension, unit: str) -> str:
    value, expanded, _ = printed_value(d, unit)
    return f"{value} ± {expanded}"
