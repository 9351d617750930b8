"""Patterns against the measured outline, in the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.table import Table
from rich.text import Text

from digitizer.cli.console import harmless
from digitizer.cli.new_table import new_table
from digitizer.reports.patterns import laid_in_words, printed_en
from digitizer.survey.model import PatternResult
from digitizer.units import format_with_uncertainty, unit_name, value_and_uncertainty


def pattern_tables(patterns: Sequence[PatternResult], unit: str) -> Iterator[Table | Text]:
    """How far each pattern stands outside (+) or inside (−) the measured outline, and how it was laid on it."""
    for pattern in patterns:
        table = new_table(harmless(f"Pattern {pattern.id} − measured outline, {unit_name(unit)}"), "", "", "En")
        for s in pattern.stations:
            value, expanded = value_and_uncertainty(s.difference.value, s.difference.U, unit)
            table.add_row(s.place, f"{value} ± {expanded}", printed_en(s))
        yield table
        largest = format_with_uncertainty(pattern.largest.value, pattern.largest.U, unit)
        yield Text(harmless(f"{laid_in_words(pattern, unit)} Largest difference {largest}.") + "\n", style="dim")
