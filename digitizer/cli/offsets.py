"""``digitizer offsets``: the offset table in the terminal, and as CSV."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.console import progress, standard_output
from digitizer.cli.stations import add_job_and_stations, with_stations
from digitizer.reports.destinations import Kind, check_destination

if TYPE_CHECKING:
    from digitizer.reports.offset_table import OffsetTable

_STDOUT = Path("-")
_DESCRIPTION = """\
Work out a job's offset table: heights of bottom and top edge at stations from the centreline, and half-breadths at
heights above the keel point, each with its uncertainty. On a bowed face distances across are girths.
"""
_EPILOG = """\
examples:
  digitizer offsets my-boat/job.json
  digitizer offsets my-boat/job.json --every 50mm --csv offsets.csv
  digitizer offsets my-boat/job.json --at 0,150,381,600
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "offsets",
        help="show the offset table, or write it for a spreadsheet",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job_and_stations(parser)
    parser.add_argument("--csv", type=Path, metavar="PATH", help="write the table in mm as CSV; - writes it to stdout")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job; write the table, or show it where it isn't sent to stdout."""
    with progress() as tell:
        from digitizer.cli.work import measured, opened, sources
        from digitizer.reports.offset_table import offset_tables, offsets_csv, write_offsets_csv

        job_file = with_stations(opened(arguments.job, tell), arguments)
        if arguments.csv not in (None, _STDOUT):
            check_destination(arguments.csv, Kind.OFFSETS, sources(job_file))
        survey = measured(job_file, tell, arguments.snap).survey
        if arguments.csv not in (None, _STDOUT):
            write_offsets_csv(survey, arguments.csv)
    with standard_output():
        if arguments.csv == _STDOUT:
            print(offsets_csv(survey), end="")
        else:
            tables = offset_tables(survey, job_file.job.settings.unit)
            print("\n\n".join(_as_text(table) for table in tables) or "No outline was marked, so there are no offsets.")


def _as_text(table: OffsetTable) -> str:
    """A table in columns, figures to the right."""
    rows = [table.heads, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.heads))]
    lines = ["   ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return "\n".join([table.title, *lines])
