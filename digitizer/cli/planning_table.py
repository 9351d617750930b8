"""The planning figures in the terminal, with their caution."""

from __future__ import annotations

from collections.abc import Iterator

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from digitizer.cli.console import harmless
from digitizer.cli.new_table import new_table
from digitizer.survey.model import PlanningLine
from digitizer.survey.planning import CAUTION


def planning_table(lines: tuple[PlanningLine, ...]) -> Iterator[Table | Text]:
    """What is planned beside what was measured; nothing where nothing is planned."""
    if not lines:
        return
    table = new_table("Planning figures", "", "")
    table.show_header = False
    for line in lines:
        table.add_row(harmless(line.label), f"! {line.value}" if line.caution else line.value)
        if line.note:
            table.add_row(Padding(Text(harmless(line.note), style="dim"), (0, 0, 0, 2)))
    yield table
    yield Text(CAUTION + "\n", style="dim")
