"""A survey as tables in the terminal, the findings below, loudest first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from digitizer.cli.console import harmless
from digitizer.cli.flange_tables import flange_tables
from digitizer.cli.new_table import new_table
from digitizer.cli.pattern_tables import pattern_tables
from digitizer.cli.planning_table import planning_table
from digitizer.reports.table import DimensionRow, dimension_table, shown_unit
from digitizer.survey.model import (
    Dimension,
    Finding,
    FittingResult,
    ObservationState,
    Quantity,
    Severity,
    Survey,
    TapeCheck,
)
from digitizer.units import format_with_uncertainty, unit_name, value_and_uncertainty

_LOUDEST_FIRST = (Severity.SERIOUS, Severity.WARNING, Severity.NOTE)
_STYLES = {Severity.SERIOUS: "bold red", Severity.WARNING: "yellow", Severity.NOTE: "cyan"}


def show_survey(survey: Survey, unit: str) -> None:
    """
    Print the whole survey.

    Parameters
    ----------
    survey
        What was measured.
    unit
        How lengths are printed: ``"mm"``, ``"in"`` or ``"in/16"``.
    """
    console = results_console()
    console.print(_heading(survey))
    for group, rows in groupby(dimension_table(survey, unit), key=lambda row: row.group):
        console.print(_dimension_table(group, rows))
    for table in (_fitting_table(survey, unit), _damage_table(survey, unit), _check_table(survey.checks, unit)):
        if table.rows:
            console.print(table)
    planned = (*flange_tables(survey.flange, unit), *planning_table(survey.planning))
    for each in (*planned, *pattern_tables(survey.patterns, unit)):
        console.print(each)
    for finding in by_severity(survey.findings):
        console.print(_finding(finding))


def results_console() -> Console:
    """Where results are printed; text from a job is never taken for markup."""
    return _ResultsConsole(markup=False, highlight=False, emoji=False)


class _ResultsConsole(Console):
    """A console that leaves a reader who has gone away to the one place that knows what to do about it."""

    def on_broken_pipe(self) -> None:
        """Called while handling ``BrokenPipeError``: let it rise instead of ending the program here."""
        raise BrokenPipeError


def by_severity(findings: tuple[Finding, ...]) -> list[Finding]:
    """The findings, serious ones first, otherwise in the order they were found."""
    return sorted(findings, key=lambda finding: _LOUDEST_FIRST.index(finding.severity))


def _heading(survey: Survey) -> Text:
    """What was measured, from which photos, and whether it fits together."""
    photos = [
        f"{photo.file}: {photo.distance_mm / 1000:.1f} m away, {photo.off_square_deg:.0f}° off square"
        for photo in survey.photos
    ]
    adjustment = survey.adjustment
    rejected = sum(seen.state is ObservationState.REJECTED for seen in survey.observations)
    fit = (
        "they agree"
        if adjustment.accepted
        else f"they do not quite agree, so every U was widened by {adjustment.scaled_by:.2f}"
    )
    counts = f"{adjustment.observations} observations, {rejected} set aside; {fit}."
    promise = f"± is U (k = {survey.coverage_factor:g}): the truth lies within it in about 95 cases of 100."
    return Text("\n".join(harmless(line) for line in (survey.title, *photos, counts, promise) if line) + "\n")


def _dimension_table(group: str, rows: Iterable[DimensionRow]) -> Table:
    """One heading's dimensions, each with its note below it."""
    table = new_table(group, "", "", "", "")
    table.show_header = False
    for column, width in zip(table.columns, (50, 8, 8, 2), strict=True):
        column.width = width  # fixed, so that the tables stand under one another and nothing is measured out
    table.columns[-1].justify = "left"
    for row in rows:
        table.add_row(harmless(row.label), row.value, f"± {row.expanded}", row.unit)
        if row.note:
            table.add_row(Padding(Text(harmless(row.note), style="dim"), (0, 0, 0, 2)))
    table.add_row("")
    return table


def _fitting_table(survey: Survey, unit: str) -> Table:
    """Where the fittings sit, their size, and how near they stand to each other."""
    table = new_table(f"Fittings, {unit_name(unit)}", "", "from centre", "below line", "size", "to nearest")
    for fitting in survey.fittings:
        table.add_row(harmless(fitting.name or fitting.id), *_fitting_cells(fitting, unit))
    if table.rows:
        table.add_row("")
    return table


def _fitting_cells(fitting: FittingResult, unit: str) -> list[str]:
    """One fitting's figures; a dash for what was not measured, P or S for the side of the centreline."""
    side = "S" if fitting.x.value >= 0 else "P"
    across = _printed(replace(fitting.x, value=abs(fitting.x.value)), unit)
    diameter = [f"⌀ {_printed(fitting.diameter, unit)}"] if fitting.diameter else []
    sides = [_printed(each, unit) for each in (fitting.width, fitting.height) if each]
    below, clear = (_printed(each, unit) if each else "–" for each in (fitting.below_reference, fitting.clearance))
    return [f"{across} {side}", below, "\n× ".join(diameter + sides) or "–", clear]


def _damage_table(survey: Survey, unit: str) -> Table:
    """Cracks with their length, areas with their area, and where their middle is."""
    table = new_table(f"Damage, {unit_name(unit)}", "", "length or area", "from centre", "up from keel")
    for defect in survey.defects:
        shown = shown_unit(defect.size.quantity, unit)
        size = format_with_uncertainty(defect.size.value, defect.size.U, shown)
        side = "S" if defect.x.value >= 0 else "P"
        across = _printed(replace(defect.x, value=abs(defect.x.value)), unit)
        table.add_row(harmless(defect.name or defect.id), size, f"{across} {side}", _printed(defect.y, unit))
    if table.rows:
        table.add_row("")
    return table


def _check_table(checks: tuple[TapeCheck, ...], unit: str) -> Table:
    """Tape figures that were kept out, against the photo."""
    table = new_table("Tape against photo", "", "tape", "photo", "En", "")
    for check in checks:
        shown = "deg" if check.quantity is Quantity.ANGLE else unit
        table.add_row(
            harmless(check.label),
            format_with_uncertainty(check.tape, check.U_tape, shown),
            format_with_uncertainty(check.photo, check.U_photo, shown),
            f"{check.en:.1f}",
            "agrees" if check.agrees else "DISAGREES",
        )
    if table.rows:
        table.add_row("")
    return table


def _finding(finding: Finding) -> Text:
    """One finding, its severity in colour."""
    return Text.assemble((f"{finding.severity.value}: ", _STYLES[finding.severity]), harmless(finding.text))


def _printed(length: Dimension, unit: str) -> str:
    """A length and its U; the unit stands in the heading."""
    value, expanded = value_and_uncertainty(length.value, length.U, unit)
    return f"{value} ± {expanded}"
