"""``digitizer svg``: the drawing for cutting as SVG, at true size."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.console import progress, standard_output
from digitizer.cli.stations import add_job_and_stations, add_outline, job_to_draw, show_missing
from digitizer.reports.destinations import Kind

_DESCRIPTION = """\
Work out a job and write an SVG at true size, one unit a millimetre: outline, datum lines, fittings, pads, stations and
offsets, each in a group named for its meaning. A bowed face is rolled flat, and the drawing says so.
"""
_EPILOG = """\
example:
  digitizer svg my-boat/job.json --out my-boat.svg
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "svg",
        help="write outline and fittings as SVG",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job_and_stations(parser)
    add_outline(parser)
    parser.add_argument("--out", type=Path, metavar="FILE.svg", required=True, help="the drawing to write")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job and write its drawing; an older one of that name is replaced once the new one is whole."""
    with progress() as tell:
        from digitizer.cli.work import measured
        from digitizer.reports.cutting import cutting_drawing
        from digitizer.reports.svg import write_svg

        job_file = job_to_draw(arguments, Kind.SVG, tell)
        found = measured(job_file, tell, arguments.snap)
        tell("Drawing …")
        job = found.job_file.job
        drawing = cutting_drawing(found.survey, job, job.settings.unit)
        write_svg(drawing, arguments.out)
    with standard_output():
        print(f"{arguments.out} written, 1 unit is 1 mm. {drawing.plane}")
        show_missing(drawing)
