"""``digitizer points``: one page of what is still needed, for whoever has the boat."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.arguments import add_date, add_job
from digitizer.cli.console import progress, standard_output

_DESCRIPTION = """\
Write the open points of a job on one page, worded for whoever has the boat: what is missing, weak or contradictory,
and what to photograph or measure next. What would help most stands first. A job that can't be measured yet has its
page too.
"""
_EPILOG = """\
example:
  digitizer points my-boat/job.json --out still-needed.pdf
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "points",
        help="write what is still needed, for the boat's owner",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job(parser)
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", required=True, help="the page to write")
    add_date(parser)
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job as far as that goes, and write its open points."""
    with progress() as tell:
        from digitizer import __version__
        from digitizer.cli.work import foreseen, measured, opened, sources
        from digitizer.errors import AdjustmentError
        from digitizer.reports.destinations import Kind, check_destination
        from digitizer.reports.points import write_points
        from digitizer.survey.points import open_points

        job_file = opened(arguments.job, tell)
        check_destination(arguments.out, Kind.PDF, sources(job_file))
        survey, refusal, foresight = None, "", None
        try:
            survey = measured(job_file, tell).survey
        except AdjustmentError as reason:
            refusal, foresight = str(reason), foreseen(job_file, tell)
        points = open_points(job_file.job, survey, refusal, foresight)
        write_points(points, job_file.job, f"digitizer {__version__}", arguments.out, frozen_date=arguments.date)
    with standard_output():
        print(f"{arguments.out} written: {len(points)} open points.")
