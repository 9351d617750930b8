"""The pages of the report about patterns: how far each stands off the measured outline, drawn and in figures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, Spacer

from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    CAPTION,
    CELL_BOLD,
    FIGURE,
    FIGURE_HEAD,
    HEADING,
    SMALL,
    SUBHEADING,
    cell,
    grid,
    paragraph,
    text_width,
)
from digitizer.reports.pattern_drawing import HEIGHT, pattern_drawing
from digitizer.reports.patterns import laid_in_words, printed_en
from digitizer.reports.sheet import Sheet
from digitizer.reports.table import printed_value
from digitizer.survey.model import PatternResult, Survey
from digitizer.units import unit_name

_INTRO = (
    "Each pattern was photographed by itself and laid on the outline measured on the boat; nothing of it is in the "
    "transom's own dimensions. A difference is positive where the pattern stands outside the measured edge, and is "
    "taken square to it. Its U holds both measurements, the cut and the alignment marks. En is the difference over "
    "its U: beyond 1 it is more than these explain."
)


def pattern_part(survey: Survey, unit: str, width: float) -> Iterator[Flowable]:
    """A drawing and a table for each pattern, and what was found; nothing where there is none."""
    said = [f for f in survey.findings if f.code.startswith("pattern_")]
    if not survey.patterns and not said:
        return
    yield CondPageBreak(300.0)
    yield paragraph("Patterns against the measured outline", HEADING)
    yield paragraph(_INTRO)
    yield from (paragraph(f"• {finding.text}", longest=1500) for finding in said)
    for pattern in survey.patterns:
        yield CondPageBreak(HEIGHT + 90.0)
        yield paragraph(f"Pattern {pattern.id}", SUBHEADING, 120)
        yield paragraph(laid_in_words(pattern, unit), longest=400)
        yield paragraph(f"Photo {pattern.file}, SHA-256 {pattern.sha256}", SMALL, 600)
        sheet = Sheet(width, HEIGHT, text_width)
        times = pattern_drawing(survey, pattern, sheet)
        yield SheetFlowable(sheet, frame=True)
        yield paragraph(
            f"Thin: measured outline. Line with a dot: how far the pattern stands off, drawn {times:g} times as large "
            "as the outline. Grey bar: U, either way.",
            CAPTION,
        )
        yield _table(pattern, unit, width)
        yield Spacer(1, 6)


def _table(pattern: PatternResult, unit: str, width: float) -> Flowable:
    """The differences, two columns of them side by side."""
    head = [cell("Place", CELL_BOLD), cell(f"off, {unit_name(unit)}", FIGURE_HEAD), cell("En", FIGURE_HEAD)]
    entries = [_row(pattern, k, unit) for k in range(len(pattern.stations))]
    half = (len(entries) + 1) // 2
    pairs = zip(entries[:half], [*entries[half:], ["", "", ""]][:half], strict=True)
    rows: list[list[Any]] = [[*head, "", *head], *([*left, "", *right] for left, right in pairs)]
    shares = (0.29, 0.125, 0.065)
    return grid(rows, [share * width for share in (*shares, 0.04, *shares)])


def _row(pattern: PatternResult, k: int, unit: str) -> list[Any]:
    station = pattern.stations[k]
    value, expanded, _ = printed_value(station.difference, unit)
    return [
        cell(station.place),
        cell(f"{value} ± {expanded}", FIGURE),
        cell(printed_en(station), FIGURE),
    ]
