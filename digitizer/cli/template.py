"""``digitizer template``: the transom full size on paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.console import progress, standard_output
from digitizer.cli.stations import add_job_and_stations, add_outline, job_to_draw, show_missing
from digitizer.errors import ReadingError
from digitizer.reports.destinations import Kind

if TYPE_CHECKING:
    from digitizer.reports.template import Measured, TemplatePaper

_DESCRIPTION = """\
Work out a job and write its full-size template as a PDF: sheets that overlap, with registration marks, check bars in
both directions and a map of which sheet goes where. A bowed face is rolled flat. Print at 100 %.

Measure both check bars of the first print. Where they aren't what they say, give what you measured: the next template
is corrected for your printer.
"""
_EPILOG = """\
examples:
  digitizer template my-boat/job.json --out template.pdf
  digitizer template my-boat/job.json --out template.pdf --paper A3 --check-bar-x 249.4 --check-bar-y 250.2
  digitizer template my-boat/job.json --out template.pdf --paper roll --roll-width 914
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "template",
        help="write the transom full size, to print and to hold to the boat",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_job_and_stations(parser)
    add_outline(parser)
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", required=True, help="the template to write")
    papers = ("A4", "Letter", "A3", "roll")
    parser.add_argument("--paper", choices=papers, help="what you print on (the paper in the job's settings)")
    parser.add_argument(
        "--roll-width", type=float, metavar="MM", default=914.0, help="width of the roll in mm (914, which is 36 in)"
    )
    for name, where in (("x", "across"), ("y", "up")):
        parser.add_argument(
            f"--check-bar-{name}",
            metavar="MM",
            help=f"the check bar {where} the sheet as measured on a print made without correction; another length is "
            "written MEASURED/PRINTED",
        )
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the job and write its template; an older one of that name is replaced once the new one is whole."""
    with progress() as tell:
        from digitizer.cli.work import measured
        from digitizer.reports.cutting import cutting_drawing
        from digitizer.reports.template import PrinterCheck, correction, write_template

        job_file = job_to_draw(arguments, Kind.PDF, tell)
        paper = _paper(arguments, job_file.job.settings.paper)
        check = PrinterCheck(_length(arguments.check_bar_x), _length(arguments.check_bar_y))
        for length in (check.across, check.up):
            correction(paper, length)  # refuses before the work is done
        found = measured(job_file, tell, arguments.snap)
        tell("Writing the template …")
        job = found.job_file.job
        drawing = cutting_drawing(found.survey, job, job.settings.unit)
        printed = write_template(drawing, arguments.out, paper, check)
    with standard_output():
        print(f"{arguments.out} written: {printed.count}. {drawing.plane}")
        print(f"Print at 100 %, then measure the check bars: they must be {printed.bar:g} mm.")
        show_missing(drawing)


def _length(written: str | None) -> Measured | None:
    """What was measured on a print: 149.6, or 2291.3/2288 for a length that isn't the check bar."""
    from digitizer.reports.template import Measured

    if written is None:
        return None
    try:
        measured, *printed = (float(part.replace(",", ".")) for part in written.split("/"))
        return Measured(measured, *printed)
    except (ValueError, TypeError) as problem:
        raise ReadingError(written, "write the measured length in mm, like 149.6 or 2291.3/2288.") from problem


def _paper(arguments: argparse.Namespace, usual: str) -> TemplatePaper:
    from digitizer.job.model import PaperSize
    from digitizer.reports.template import roll_paper, sheet_paper

    if arguments.paper == "roll":
        return roll_paper(arguments.roll_width)
    return sheet_paper(PaperSize(arguments.paper or usual))
