"""The fit of the planned flange as tables in the terminal."""

from __future__ import annotations

from collections.abc import Iterator

from rich.table import Table

from digitizer.cli.console import harmless
from digitizer.cli.new_table import new_table
from digitizer.survey.model import Dimension, FlangeFit
from digitizer.units import format_length, unit_name, value_and_uncertainty


def flange_tables(fit: FlangeFit | None, unit: str) -> Iterator[Table]:
    """Fittings by their clearance, then the gap under the flange; nothing where no flange is planned."""
    if fit is None:
        return
    name = unit_name(unit)
    title = f"Planned flange, {format_length(fit.width_mm, unit)} × {format_length(fit.height_mm, unit)}"
    fittings = new_table(title, "", f"clear of it, {name}", "verdict", "becomes of it")
    for f in sorted(fit.fittings, key=lambda each: each.clearance.value):
        verdict = " or ".join(f.between) or str(f.verdict)
        verdict = f"not decided: {verdict}" if f.between else verdict
        fittings.add_row(harmless(f.name), _printed(f.clearance, unit), verdict, f.outcome.replace("_", " "))
    gaps = new_table(f"Gap under the flange, {name}", "", "gap")
    for station in fit.stations:
        gaps.add_row(station.gap.label.rpartition(", ")[2], _printed(station.gap, unit))
    for table in (fittings, gaps):
        if table.rows:
            table.add_row("")
            yield table


def _printed(length: Dimension, unit: str) -> str:
    value, expanded = value_and_uncertainty(length.value, length.U, unit)
    return f"{value} ± {expanded}"
