"""The parts of the report that are text and tables, from its contents."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer

from digitizer.job.model import Reader
from digitizer.reports.condition_pages import in_groups
from digitizer.reports.contents import CAUTIONS, CHECK_FIRST, COVERAGE, SIGNED, Budget, Contents, ObservationRow
from digitizer.reports.paper import (
    BODY,
    CELL,
    CELL_BOLD,
    FIGURE,
    FIGURE_HEAD,
    HEADING,
    INK,
    SMALL,
    SUBHEADING,
    SUBTITLE,
    TINT,
    TITLE,
    cell,
    grid,
    paragraph,
    shown,
)
from digitizer.reports.schedule import NOTHING, FittingRow
from digitizer.reports.table import DimensionRow
from digitizer.survey.model import Finding, Severity

_SIGNS = {Severity.SERIOUS: "■ Serious", Severity.WARNING: "▲ Warning", Severity.NOTE: "○ Note"}
_MOST_NAMES = 30
_LONGEST_FACT = 80
_MOST_ON_COVER = 6
_MOST_PHOTOS_ON_COVER = 4
_SIGNING = (
    "Signed for what stands in this document, under the number and revision on each page, with its cautions and limits."
)


def cover(said: Contents, width: float) -> list[Flowable]:
    """Facts of the job, the main figures, the loudest findings, and the photos with their fingerprints."""
    boat = dict(said.facts).get("Boat", "")
    facts = [[cell(name, CELL_BOLD), paragraph(value, CELL, _LONGEST_FACT)] for name, value in said.facts]
    main = [[cell("Main dimensions", CELL_BOLD), "", ""], *(_main_row(row) for row in said.main)]
    left, right = 0.45 * width, 0.52 * width
    sides = [
        [
            grid(facts, [0.32 * left, 0.68 * left], heading=False) if facts else "",
            "",
            grid(main, [0.56 * right, 0.29 * right, 0.15 * right]),
        ]
    ]
    pair = grid(sides, [left, width - left - right, right], heading=False, ruled=False)
    under = " · ".join(part for part in (boat, said.document) if part)
    story = [paragraph(said.title, TITLE, 200), paragraph(under, SUBTITLE, 300), pair, Spacer(1, 8)]
    if said.job_note:
        story += [paragraph("Note of the job: " + said.job_note)]
    story += [paragraph(COVERAGE), _boxed(CHECK_FIRST, width)]
    story += _summary_of_findings(said.findings, width)
    return [*story, *_photos(said, width)] if photos_on_cover(said) else story


def photos_on_cover(said: Contents) -> bool:
    """Whether the photos are few enough to be listed on the first page; a survey record has its log for them."""
    return said.reader is not Reader.SURVEY and len(said.photos) <= _MOST_PHOTOS_ON_COVER


def how_taken(said: Contents, width: float) -> list[Flowable]:
    """How each photo was taken, where neither cover nor photo log tells it."""
    told = said.reader is Reader.SURVEY or photos_on_cover(said)
    return [] if told else [CondPageBreak(50 * mm), *_photos(said, width)]


def signatures(said: Contents, width: float) -> list[Flowable]:
    """Lines to sign on, the signatory's name under the first."""
    names = (said.signatory, "")
    half = 0.48 * width
    blocks = [_to_sign(what, name, half) for what, name in zip(SIGNED[said.reader], names, strict=True)]
    table = grid([[blocks[0], "", blocks[1]]], [half, width - 2 * half, half], heading=False, ruled=False)
    return [KeepTogether([paragraph("Signatures", HEADING), paragraph(_SIGNING), Spacer(1, 6), table])]


def _to_sign(what: str, name: str, width: float) -> Flowable:
    rows: list[list[Any]] = [
        [cell(what, CELL_BOLD), ""],
        ["", ""],
        [cell(shown(name, 80) or "name", SMALL), cell("date and place", SMALL)],
    ]
    lines = [("LINEABOVE", (0, 2), (-1, 2), 0.6, INK), ("TOPPADDING", (0, 1), (-1, 1), 30.0)]
    return grid(rows, [0.6 * width, 0.4 * width], heading=False, ruled=False, more=lines)


def dimensions(said: Contents, width: float) -> list[Flowable]:
    """Table of dimensions by group, and its notes."""
    head = [
        cell("Dimension", CELL_BOLD),
        cell("Value", FIGURE_HEAD),
        cell("± U", FIGURE_HEAD),
        "",
        cell("Remark", CELL_BOLD),
    ]
    rows: list[list[Any]] = [head]
    tinted: list[Any] = []
    for name, members in groupby(said.dimensions, key=lambda row: row.group):
        tinted += [("BACKGROUND", (0, len(rows)), (-1, len(rows)), TINT), ("SPAN", (0, len(rows)), (-1, len(rows)))]
        rows.append([cell(name, CELL_BOLD), "", "", "", ""])
        rows += [_dimension_row(row) for row in members]
    widths = [share * width for share in (0.39, 0.13, 0.10, 0.06, 0.32)]
    story = [paragraph("Dimensions", HEADING), grid(rows, widths, more=tinted), Spacer(1, 6)]
    story += [paragraph(f"• {note}", SMALL) for note in said.notes]
    missing = "; ".join(said.not_measured) or "Everything that this table usually holds was measured"
    return [*story, paragraph("Not measured", SUBHEADING), paragraph(missing + ".")]


def schedule(said: Contents, width: float, unit: str) -> list[Flowable]:
    """Fitting schedule; its numbers are those on drawing and photo."""
    story = [CondPageBreak(70 * mm), paragraph("Fitting schedule", HEADING)]
    if not said.fittings:
        return [*story, paragraph("No fittings were marked.")]
    titles = (
        "No.",
        "Fitting",
        "From centreline",
        "",
        "Below ref. line",
        "Up from keel",
        "Size",
        "Proud",
        "Nearest, rim to rim",
        "Plan",
    )
    rows: list[list[Any]] = [[cell(title, CELL_BOLD) for title in titles]]
    if said.bowed:
        rows[0][2] = [cell("From centreline", CELL_BOLD), cell("girth below it", SMALL)]
    rows += [_fitting_cells(row) for row in said.fittings]
    shares = (0.05, 0.15, 0.105, 0.03, 0.105, 0.105, 0.16, 0.09, 0.11, 0.095)
    note = (
        f"Lengths in {'inches' if unit == 'in' else 'millimetres'}, with U. P port, S starboard, C on the centreline "
        "within its U. Positions are those of the centre, on the face of the transom; size is that of the rim."
    )
    if said.bowed:
        note += " Girth, sizes and distances rim to rim go along the bowed surface."
    return [*story, grid(rows, [share * width for share in shares]), Spacer(1, 3), paragraph(note, SMALL)]


def budgets(said: Contents, width: float) -> list[Flowable]:
    """Where the uncertainty of the main dimensions comes from."""
    if not said.budgets:
        return []
    intro = (
        "Each source's own part of U, largest first, with its share of the variance. "
        "What stands on top is what to improve for a better figure."
    )
    story: list[Flowable] = [
        CondPageBreak(60 * mm),
        paragraph("Where the uncertainty comes from", HEADING),
        paragraph(intro),
    ]
    cells = [_budget_block(each, 0.48 * width) for each in said.budgets]
    rows = [[left, "", right] for left, right in zip(cells[::2], [*cells[1::2], ""][: len(cells[::2])], strict=True)]
    return [*story, grid(rows, [0.48 * width, 0.04 * width, 0.48 * width], heading=False, ruled=False)]


def findings(said: Contents, width: float) -> list[Flowable]:
    """All findings, loudest first."""
    story: list[Flowable] = [CondPageBreak(50 * mm), paragraph("Findings", HEADING)]
    if not said.findings:
        return [*story, paragraph("Nothing contradicts anything, as far as the observations can tell.")]
    rows = [[cell(_SIGNS[each.severity], CELL_BOLD), paragraph(each.text, CELL, 1500)] for each in said.findings]
    return [*story, grid(rows, [0.15 * width, 0.85 * width], heading=False)]


def observations(said: Contents, width: float) -> list[Flowable]:
    """Tape checks, and what the adjustment says of each observation."""
    story: list[Flowable] = [CondPageBreak(60 * mm), paragraph("Observations and checks", HEADING)]
    story += [paragraph(sentence) for sentence in said.adjustment]
    story += checks(said, width) + _tally(said, width)
    story += [paragraph("Rejected", SUBHEADING)]
    if said.rejected:
        why = (
            "Set aside, one at a time, because the standardised residual w was beyond ±3.29 (a chance of 1 in 1000) "
            "and the largest left. The residual shows by how much each disagrees with all the others. Look at these "
            "places again."
        )
        story += [paragraph(why), _observation_table(said.rejected, width)]
    else:
        story += [paragraph("No observation was rejected.")]
    story += [paragraph("Nothing checks these", SUBHEADING), paragraph(_unchecked(said.unchecked))]
    if said.largest:
        story += [
            paragraph("Largest standardised residuals among those used", SUBHEADING),
            _observation_table(said.largest, width),
        ]
    return story


def cautions(width: float) -> list[Flowable]:
    """What the reader must not forget."""
    rows = [[cell(str(number), CELL_BOLD), paragraph(text, BODY)] for number, text in enumerate(CAUTIONS, start=1)]
    table = grid(rows, [0.05 * width, 0.95 * width], heading=False)
    return [KeepTogether([paragraph("Cautions", HEADING), table])]


class IfRoom(Flowable):
    """Something that may shrink to half its size, or be left out, to stay on the page."""

    def __init__(self, inside: Flowable) -> None:
        super().__init__()
        self._inside, self._share = inside, 1.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """No size at all when the rest of the page is too small."""
        wide, high = self._inside.wrap(width, height)
        share = min(1.0, width / wide, height / high)
        self._share = share if share >= 0.5 else 0.0
        return self._share * wide, self._share * high

    def draw(self) -> None:
        """Draw what is inside, or nothing."""
        if self._share:
            self.canv.scale(self._share, self._share)
            self._inside.drawOn(self.canv, 0, 0)


class _Bar(Flowable):
    """A share as a bar."""

    def __init__(self, width: float, share: float) -> None:
        super().__init__()
        self.width, self.height, self._share = width, 7.0, max(0.0, min(1.0, share))

    def draw(self) -> None:
        """Draw the whole in grey and the share in ink."""
        self.canv.setFillColor(TINT)
        self.canv.rect(0, 0, self.width, 5.5, stroke=0, fill=1)
        self.canv.setFillColor(INK)
        self.canv.rect(0, 0, self.width * self._share, 5.5, stroke=0, fill=1)


def _boxed(text: str, width: float) -> Flowable:
    return grid([[cell(text, CELL_BOLD)]], [width], heading=False, more=[("BOX", (0, 0), (-1, -1), 1.0, INK)])


def _main_row(row: DimensionRow) -> list[Any]:
    value, expanded = (
        (f"{row.value}°", f"± {row.expanded}°") if row.unit == "°" else (f"{row.value} {row.unit}", f"± {row.expanded}")
    )
    return [paragraph(row.label, CELL, _LONGEST_FACT), cell(value, FIGURE), cell(expanded, FIGURE)]


def _dimension_row(row: DimensionRow) -> list[Any]:
    return [
        cell(row.label),
        cell(row.value, FIGURE),
        cell(f"± {row.expanded}", FIGURE),
        cell(row.unit),
        cell(row.note, SMALL),
    ]


def _summary_of_findings(found: Sequence[Finding], width: float) -> list[Flowable]:
    loud = [each for each in found if each.severity is not Severity.NOTE][:_MOST_ON_COVER]
    count = {severity: sum(each.severity is severity for each in found) for severity in Severity}
    line = (
        f"{count[Severity.SERIOUS]} serious, {_many(count[Severity.WARNING], 'warning')}, "
        f"{_many(count[Severity.NOTE], 'note')}. All of them stand under Findings."
    )
    story: list[Flowable] = [paragraph("Findings in short", SUBHEADING), paragraph(line)]
    if loud:
        rows = [[cell(_SIGNS[each.severity], CELL_BOLD), cell(each.text)] for each in loud]
        story.append(grid(rows, [0.15 * width, 0.85 * width], heading=False))
    return story


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" + "s" * (count != 1)


def _photos(said: Contents, width: float) -> list[Flowable]:
    rows: list[list[Any]] = [
        [cell("Photo", CELL_BOLD), cell("How it was taken", CELL_BOLD), cell("SHA-256 of the file", CELL_BOLD)]
    ]
    rows += [[cell(row.file), cell("; ".join(row.facts)), cell(in_groups(row.sha256), SMALL)] for row in said.photos]
    table = grid(rows, [0.2 * width, 0.47 * width, 0.33 * width])
    return [paragraph("Photos", SUBHEADING), table]


def _fitting_cells(row: FittingRow) -> list[Any]:
    name = [cell(row.name, CELL_BOLD), cell(row.kind, SMALL)]
    near = [row.clearance, row.nearest] if row.clearance != NOTHING else [NOTHING]
    columns = ([row.below_reference], [row.up_from_keel], row.size, [row.proud], near)
    return [
        cell(str(row.number), CELL_BOLD),
        name,
        [cell(text, SMALL) for text in (row.from_centreline, row.girth) if text],
        cell(row.side, CELL_BOLD),
        *([cell(text, SMALL) for text in column] for column in columns),
        cell(row.plan, SMALL),
    ]


def _budget_block(budget: Budget, width: float) -> list[Flowable]:
    head = paragraph(f"{budget.label}: {budget.result}", SUBHEADING, 200)
    rows = [
        [
            cell(line.source, SMALL),
            cell(line.U and f"± {line.U}", SMALL),
            cell(f"{line.share:.0%}", SMALL),
            _Bar(0.2 * width, line.share),
        ]
        for line in budget.lines
    ]
    return [head, grid(rows, [0.5 * width, 0.15 * width, 0.11 * width, 0.24 * width], heading=False)]


def checks(said: Contents, width: float) -> list[Flowable]:
    """Tape figures that were kept out, against the photo."""
    if not said.checks:
        return [paragraph("Tape checks", SUBHEADING), paragraph("No tape figure was kept out as a check.")]
    titles = ("Figure kept out", "Tape", "Photo", "En", "")
    rows: list[list[Any]] = [[cell(title, CELL_BOLD) for title in titles]]
    rows += [[cell(c.label), cell(c.tape), cell(c.photo), cell(c.en), cell(c.verdict, CELL_BOLD)] for c in said.checks]
    note = "En = (photo − tape) / √(U² + U²): the two agree when it lies within ±1."
    table = grid(rows, [share * width for share in (0.34, 0.21, 0.21, 0.1, 0.14)])
    return [paragraph("Tape checks", SUBHEADING), table, Spacer(1, 2), paragraph(note, SMALL)]


def _tally(said: Contents, width: float) -> list[Flowable]:
    titles = ("Kind of observation", "used", "rejected", "kept out")
    rows: list[list[Any]] = [[cell(titles[0], CELL_BOLD), *(cell(title, FIGURE_HEAD) for title in titles[1:])]]
    rows += [[cell(kind), *(cell(str(count), FIGURE) for count in counts)] for kind, *counts in said.counts]
    return [paragraph("Counts", SUBHEADING), grid(rows, [0.4 * width, 0.12 * width, 0.12 * width, 0.12 * width])]


def _unchecked(names: Sequence[str]) -> str:
    if not names:
        return "Every observation is checked by others."
    listed = ", ".join(names[:_MOST_NAMES])
    more = f", and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return f"An error in one of these would not be noticed, so it is worth a second look: {listed}{more}."


def _observation_table(rows: Iterable[ObservationRow], width: float) -> Flowable:
    titles = ("Observation", "Residual", "u", "Redundancy", "w", "Smallest error found")
    table: list[list[Any]] = [[cell(titles[0], CELL_BOLD), *(cell(title, FIGURE_HEAD) for title in titles[1:])]]
    for row in rows:
        figures = (row.residual, row.u, row.redundancy, row.w, row.detectable)
        table.append([cell(row.label), *(cell(figure, FIGURE) for figure in figures)])
    return grid(table, [share * width for share in (0.34, 0.15, 0.13, 0.13, 0.09, 0.16)])
