"""The planning figures on paper, with their caution."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, Spacer

from digitizer.reports.paper import CELL_BOLD, HEADING, SMALL, cell, grid, paragraph
from digitizer.survey.model import Survey
from digitizer.survey.planning import CAUTION


def planning_part(survey: Survey, width: float) -> Iterator[Flowable]:
    """A table of what is planned beside what was measured; nothing where nothing is planned."""
    if not survey.planning:
        return
    yield CondPageBreak(160.0)
    yield paragraph("Planning figures", HEADING)
    yield paragraph(CAUTION)
    rows: list[list[Any]] = [[cell(title, CELL_BOLD) for title in ("Figure", "", "Remark")]]
    for line in survey.planning:
        value = cell(f"▲ {line.value}" if line.caution else line.value, CELL_BOLD)
        rows.append([cell(line.label), value, cell(line.note, SMALL)])
    yield grid(rows, [share * width for share in (0.31, 0.31, 0.38)])
    yield Spacer(1, 8)
