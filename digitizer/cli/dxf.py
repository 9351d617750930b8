"""``digitizer dxf``: the outline and its fittings for a drawing program or a cutting machine."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.console import progress, standard_output
from digitizer.cli.stations import add_job_and_stations, add_outline, job_to_draw, show_missing
from digitizer.reports.destinations import Kind

_DESCRIPTION = """\
Work out a job and write a DXF at true size: outline, datum lines, fittings, pads, stations and offsets, each on a
layer named for its meaning. A bowed face is rolled flat, and the drawing says so.
"""
_EPILOG = """\
examples:
  digitizer dxf my-boat/job.json --out my-boat.dxf
  digitizer dxf my-boat/job.json --out my-boat.dxf --inches     drawing units are inches
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "dxf",
        help="write outline and fittings as DXF, to draw on or to cut from",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job_and_stations(parser)
    add_outline(parser)
    parser.add_argument("--out", type=Path, metavar="FILE.dxf", required=True, help="the drawing to write")
    parser.add_argument("--inches", action="store_true", help="drawing units are inches instead of millimetres")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job and write its drawing; an older one of that name is replaced once the new one is whole."""
    with progress() as tell:
        from digitizer.cli.work import measured
        from digitizer.job.model import LengthUnit
        from digitizer.reports.cutting import cutting_drawing
        from digitizer.reports.dxf import write_dxf

        job_file = job_to_draw(arguments, Kind.DXF, tell)
        found = measured(job_file, tell, arguments.snap)
        tell("Drawing …")
        figures = found.job_file.job.settings.unit
        if arguments.inches == (figures is LengthUnit.MILLIMETRE):
            figures = LengthUnit.INCH_DECIMAL if arguments.inches else LengthUnit.MILLIMETRE
        drawing = cutting_drawing(found.survey, found.job_file.job, figures)
        write_dxf(drawing, arguments.out, arguments.inches)
    with standard_output():
        unit = "inches" if arguments.inches else "millimetres"
        print(f"{arguments.out} written, in {unit}. {drawing.plane}")
        show_missing(drawing)
