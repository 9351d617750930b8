"""``digitizer snap``: a job's marks moved onto the edges they mean, as a new job."""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.arguments import add_job
from digitizer.cli.console import progress, standard_output

if TYPE_CHECKING:
    from digitizer.job.model import Job, Mark
    from digitizer.survey.snapping import Snapped

_DESCRIPTION = """\
Move the marks of a job onto the edges that they mean, and write the result as a new job.

A click is good to about a pixel; the edge in the picture is known several times better. A mark moves only
where one edge answers to it. Where nothing does, or where two edges compete, such as an edge and its shadow,
it stays where you put it, and that is said below.
"""
_EPILOG = """\
examples:
  digitizer snap my-boat/job.json --out my-boat/snapped.json     beside the same photos
  digitizer snap my-boat/job.json --out my-boat.transom          one file, photos inside
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "snap",
        help="move a job's marks onto the edges in the picture",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job(parser)
    parser.add_argument("--out", type=Path, metavar="NEWJOB", required=True, help="the job to write")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Snap the job's marks, write the new job, and say what moved and what stayed."""
    with progress() as tell:
        from digitizer.cli.new_job import check_new_job, write_new_job
        from digitizer.cli.work import opened, snapped

        job_file = opened(arguments.job, tell)
        check_new_job(job_file, arguments.out)
        found = snapped(job_file, tell)
        write_new_job(job_file, found.job, arguments.out)
    with standard_output():
        _show(job_file.job, found, arguments.out)


def _show(before: Job, found: Snapped, path: Path) -> None:
    """A line for each kind of mark, then what stayed."""
    from digitizer.cli.new_table import new_table
    from digitizer.cli.tables import results_console

    console = results_console()
    table = new_table("Marks", "", "marks", "median u before", "after", "on")
    old = _by_kind(before.marks)
    for kind, marks in _by_kind(found.job.marks).items():
        u = [statistics.median(m.u_px for m in group) for group in (old.get(kind, marks), marks)]
        on = sum(1 for m in marks if m not in old.get(kind, []))
        table.add_row(kind.replace("_", " "), str(len(marks)), f"{u[0]:.2f} px", f"{u[1]:.2f} px", f"{on}")
    console.print(table)
    for finding in found.findings:
        console.print(f"\n{finding.severity}: {finding.text}")
    console.print(f"\n{path} written: {found.moved} marks lie on the edges they mean.")


def _by_kind(marks: Sequence[Mark]) -> dict[str, list[Mark]]:
    out: dict[str, list[Mark]] = {}
    for mark in marks:
        out.setdefault(str(mark.kind), []).append(mark)
    return out
