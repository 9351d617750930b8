"""``digitizer measure``: a job's dimensions in the terminal, and as files for other programs."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.arguments import add_job, add_snap
from digitizer.cli.console import harmless, progress, standard_output
from digitizer.reports.destinations import Kind, check_destination

if TYPE_CHECKING:
    from digitizer.survey.model import Survey

_STDOUT = Path("-")
_DESCRIPTION = """\
Work out the dimensions of a job and show them here.

Each figure comes with U, its uncertainty: the truth lies within figure ± U in about 95 cases of 100.
Below the tables stand the findings: what contradicts what, what nothing checks, and which further tape
figure would help most.
"""
_EPILOG = """\
examples:
  digitizer measure my-boat/job.json
  digitizer measure my-boat/job.json --csv my-boat.csv      and a table for a spreadsheet
  digitizer measure my-boat/job.json --json - | less        everything, for another program
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "measure",
        help="show a job's dimensions here",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job(parser)
    parser.add_argument("--json", type=Path, metavar="PATH", help="write everything as JSON; - writes it to stdout")
    parser.add_argument(
        "--csv", type=Path, metavar="PATH", help="write the dimensions as a table for a spreadsheet; - to stdout"
    )
    add_snap(parser)
    parser.set_defaults(verb=run, parser=parser)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job; write the files asked for; show tables unless stdout carries one of the files."""
    if arguments.json == arguments.csv == _STDOUT:
        arguments.parser.error("only one of --json and --csv can go to stdout")
    with progress() as tell:
        from digitizer.cli.work import measured, opened, sources

        job_file = opened(arguments.job, tell)
        for path, kind in ((arguments.json, Kind.SURVEY), (arguments.csv, Kind.DIMENSIONS)):
            if path not in (None, _STDOUT):
                check_destination(path, kind, sources(job_file))
        done = measured(job_file, tell, arguments.snap)
    survey = done.survey
    _write(survey, arguments)
    if _STDOUT not in (arguments.json, arguments.csv):
        from digitizer.cli.tables import show_survey

        with standard_output():
            show_survey(survey, job_file.job.settings.unit)
            for offer in done.offers:
                print(f"\nnote: {harmless(offer)}")


def _write(survey: Survey, arguments: argparse.Namespace) -> None:
    """The files that were asked for."""
    from digitizer.reports.table import write_dimensions_csv, write_survey_json

    for path, write in ((arguments.json, write_survey_json), (arguments.csv, write_dimensions_csv)):
        if path == _STDOUT:
            _print_file(partial(write, survey))
        elif path is not None:
            write(survey, path)


def _print_file(write: Callable[[Path], None]) -> None:
    """Copy to stdout what `write` puts into a file."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "result"
        write(file)
        with standard_output(), file.open(encoding="utf-8") as stream:
            shutil.copyfileobj(stream, sys.stdout)
