"""``digitizer compare``: two jobs of one transom, before and after a repair or the owner's against the shop's."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.arguments import add_date
from digitizer.cli.console import harmless, progress, standard_output

if TYPE_CHECKING:
    from digitizer.survey.comparison import Comparison

_DESCRIPTION = """\
Compare two jobs of one transom: which figures changed by more than the two surveys' uncertainties explain, and what
only one of them holds. Dimensions are compared by each job's own keel point and reference line; positions of fittings
by the best fit of those that both hold, where there are three.
"""
_EPILOG = """\
example:
  digitizer compare before/job.json after/job.json --out compared.pdf
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "compare",
        help="compare two jobs of one transom",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("first", type=Path, metavar="JOB1", help="the job to compare with")
    parser.add_argument("second", type=Path, metavar="JOB2", help="the later job, or the other one")
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", help="write the comparison as a PDF too")
    add_date(parser)
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure both jobs, show what changed, and write the PDF if asked."""
    with progress() as tell:
        from digitizer import __version__
        from digitizer.cli.work import measured, opened, sources
        from digitizer.reports.comparison import Surveyed, write_comparison
        from digitizer.reports.destinations import Kind, check_destination
        from digitizer.survey.comparison import compared

        files = [opened(path, tell) for path in (arguments.first, arguments.second)]
        if arguments.out is not None:
            check_destination(arguments.out, Kind.PDF, [path for file in files for path in sources(file)])
        one, other = (Surveyed(f.job, measured(f, tell).survey, f.path.name) for f in files)
        found = compared(one.survey, other.survey, one.job, other.job)
        if arguments.out is not None:
            program = f"digitizer {__version__}"
            write_comparison(found, one, other, program, arguments.out, frozen_date=arguments.date)
    with standard_output():
        _show(found, one.job.settings.unit)
        if arguments.out is not None:
            print(f"{arguments.out} written.")


def _show(found: Comparison, unit: str) -> None:
    """What changed as a table, then what the reader must know."""
    from digitizer.cli.new_table import new_table
    from digitizer.cli.tables import results_console
    from digitizer.reports.comparison import difference_words, placing, summary

    console = results_console()
    console.print(f"{summary(found)}\n{harmless(placing(found))}\n")
    table = new_table("What changed", "", "first ± U", "second ± U", "second − first", "En")
    for each in found.changed:
        table.add_row(harmless(each.label), *difference_words(each, unit))
    if table.rows:
        console.print(table)
    for heading, names in (("Only in the first", found.only_first), ("Only in the second", found.only_second)):
        if names:
            console.print(harmless(f"{heading}: {'; '.join(names)}."))
    for note in found.notes:
        console.print(harmless(note))
