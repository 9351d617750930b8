"""The look that all tables in the terminal share."""

from __future__ import annotations

from rich.table import Table


def new_table(title: str, *columns: str) -> Table:
    """An empty table: its first column holds words, the others figures."""
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for place, heading in enumerate(columns):
        table.add_column(heading, justify="right" if place else "left", header_style="dim")
    return table
