"""``digitizer form``: the blank tape form to fill in at the boat."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.console import standard_output
from digitizer.reports.destinations import Kind, check_destination

_DESCRIPTION = """\
Write one page to print and take to the boat: what to measure by tape and level, with a small drawing of where.

The figures go into the job, are checked against the photo, and where they disagree the usual mistakes are tried.
"""
_EPILOG = """\
examples:
  digitizer form --out form.pdf
  digitizer form --out form.pdf --paper Letter --unit in
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "form",
        help="write the blank tape form, as PDF",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", required=True, help="the PDF to write")
    parser.add_argument("--paper", choices=("A4", "Letter", "A3"), default="A4", help="your printer's paper (A4)")
    parser.add_argument("--unit", choices=("mm", "in"), default="mm", help="unit that lengths are written in (mm)")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Write the form."""
    check_destination(arguments.out, Kind.PDF)
    from digitizer.job.model import LengthUnit, PaperSize
    from digitizer.reports.tape_form import write_tape_form

    write_tape_form(arguments.out, PaperSize(arguments.paper), LengthUnit(arguments.unit))
    with standard_output():
        print(f"{arguments.out} written. Fill it in at the boat.")
