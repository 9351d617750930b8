"""``digitizer report``: the sheet for the workshop wall, as PDF."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.arguments import add_date, add_job, add_snap
from digitizer.cli.console import progress, standard_output
from digitizer.reports.destinations import Kind, check_destination

_DESCRIPTION = """\
Work out the dimensions of a job and write the report: a PDF with a drawing of the transom to scale, all
dimensions and fittings with their uncertainty, the photo with the marks on it, and what to be careful about.
"""
_EPILOG = """\
example:
  digitizer report my-boat/job.json --out my-boat.pdf
  digitizer report my-boat/job.json --for survey --out record.pdf     with the damage, its plates and the photo log
"""
READERS = ("shop", "owner", "survey")
"""The values of `job.model.Reader`, which the front door need not load for them."""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "report",
        help="write a job's report as PDF",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job(parser)
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", required=True, help="the report to write")
    parser.add_argument(
        "--for",
        dest="reader",
        choices=READERS,
        help="whom it is for: shop sheet, owner's check or survey record; left out, as the job says",
    )
    add_date(parser)
    add_snap(parser)
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job and write its report; an older report of that name is replaced once the new one is whole."""
    with progress() as tell:
        from digitizer.cli.work import measured, opened, pictures, sources
        from digitizer.job.model import Reader
        from digitizer.reports.pdf import write_report

        job_file = opened(arguments.job, tell)
        check_destination(arguments.out, Kind.PDF, sources(job_file))
        found = measured(job_file, tell, arguments.snap)
        job_file, survey = found.job_file, found.survey
        photos = pictures(job_file, tell)
        tell("Writing the report …")
        reader = Reader(arguments.reader) if arguments.reader else None
        write_report(survey, job_file.job, photos, arguments.out, frozen_date=arguments.date, reader=reader)
    with standard_output():
        print(f"{arguments.out} written: {len(survey.dimensions)} dimensions, {len(survey.fittings)} fittings.")
