"""The open points sheet: one page for whoever has the boat, of what to photograph or measure next."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, Spacer

from digitizer.job.model import Job
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    BODY,
    CELL_BOLD,
    HEADING,
    SMALL,
    SUBTITLE,
    TITLE,
    About,
    PageTotal,
    cell,
    grid,
    paper_of,
    paragraph,
    register_fonts,
    text_width,
    write_document,
)
from digitizer.reports.sheet import Sheet, Stroke
from digitizer.survey.points import OpenPoint, PointKind

_WORDS = {
    PointKind.MISSING: "Missing",
    PointKind.WEAK: "Not sure enough",
    PointKind.CONTRADICTORY: "Does not fit",
}
_INTRO = (
    "To make the part fit your boat we still need the following. What would help most stands first; even the first one "
    "or two make a difference. Photos: from straight behind, with the whole transom in the picture, sharp, and sent as "
    "they left the camera."
)
_NOTHING = "Nothing is open. Thank you: everything that we need is here and fits together."
_LONGEST = 220


def write_points(
    points: Sequence[OpenPoint], job: Job, program: str, path: Path, *, frozen_date: str | None = None
) -> None:
    """
    Write the open points as a PDF of one page; what does not fit on it is counted.

    Parameters
    ----------
    points
        In order of what would help most.
    program
        Name and version of the program, for the foot of the page.
    frozen_date
        Date to print instead of today's; with it, the same input gives the same bytes.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    register_fonts()
    paper = paper_of(job.settings.paper)
    width, height = paper.upright
    title = job.title or job.boat.name or "Your boat"
    date = frozen_date or datetime.date.today().isoformat()
    head = _head(title, job, date)
    room = height - _height(head, width) - 24.0
    about = About(title, "Open points", job.surveyor, program)
    story = [*head, *_fitting_rows(points, width, room), PageTotal()]
    write_document(story, path, paper, about, frozen_date is not None)


def still_needed(points: Sequence[OpenPoint], width: float) -> list[Flowable]:
    """The open points as a part of another document: all of them, over as many pages as they take."""
    head = [CondPageBreak(120), paragraph("Still needed", HEADING)]
    return [*head, *_rows(points, len(points), width)] if points else [*head, paragraph(_NOTHING, BODY)]


def _head(title: str, job: Job, date: str) -> list[Flowable]:
    under = " · ".join(part for part in (job.boat.name, job.boat.hull_number, date) if part)
    return [paragraph(f"Still needed: {title}", TITLE, 90), paragraph(under, SUBTITLE, 120), paragraph(_INTRO, BODY)]


def _fitting_rows(points: Sequence[OpenPoint], width: float, room: float) -> list[Flowable]:
    """As many points as the page holds, and how many there are besides."""
    if not points:
        return [paragraph(_NOTHING, BODY)]
    count, taken = 0, _height(_rows(points, 0, width), width)
    for number, point in enumerate(points, start=1):
        taken += _table([_row(number, point)], width).wrap(width, 1e6)[1]
        if taken > room:
            break
        count = number
    return _rows(points, count, width)


def _rows(points: Sequence[OpenPoint], count: int, width: float) -> list[Flowable]:
    """The first points as a table, and a line that counts the others."""
    head: list[Any] = ["", cell("No.", CELL_BOLD), cell("What", CELL_BOLD), cell("Please", CELL_BOLD)]
    table = _table([head, *(_row(n, point) for n, point in enumerate(points[:count], start=1))], width)
    rest = len(points) - count
    more = f"{rest} more {'point stands' if rest == 1 else 'points stand'} behind these; we come back to them."
    return [table, *([Spacer(1, 6), paragraph(more, BODY)] if rest else [])]


def _row(number: int, point: OpenPoint) -> list[Any]:
    what = [paragraph(_WORDS[point.kind], SMALL), paragraph(point.what, BODY, _LONGEST)]
    return [_tick_box(), cell(str(number), CELL_BOLD), what, paragraph(point.ask, BODY, _LONGEST)]


def _table(rows: list[list[Any]], width: float) -> Flowable:
    return grid(rows, [share * width for share in (0.05, 0.06, 0.37, 0.52)])


def _tick_box() -> Flowable:
    sheet = Sheet(11.0, 11.0, text_width)
    sheet.draw(Stroke(((1.0, 1.0), (10.0, 1.0), (10.0, 10.0), (1.0, 10.0)), 0.8, closed=True))
    return SheetFlowable(sheet)


def _height(story: Sequence[Flowable], width: float) -> float:
    """Height that flowables take one below the other, with the space between them."""
    return sum(each.wrap(width, 1e6)[1] + each.getSpaceBefore() + each.getSpaceAfter() for each in story)
