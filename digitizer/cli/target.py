"""``digitizer target``: the printed target, and half a page on how to photograph."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.console import standard_output
from digitizer.reports.destinations import Kind, check_destination

_DESCRIPTION = """\
Write a PDF to print at 100 % ("actual size", no fitting to the page) and to fix flat on the transom.

The program finds the printed pattern in your photo by itself. Measure the printed check bar with a steel rule
and put its length into the job: that corrects the printer.
"""
_EPILOG = """\
examples:
  digitizer target --out board.pdf                         one board on A4
  digitizer target --out board.pdf --paper A3              a larger board: better figures
  digitizer target --out corners.pdf --markers             four markers for the transom's corners: better still
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "target",
        help="write the target to print, as PDF",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", required=True, help="the PDF to write")
    parser.add_argument("--paper", choices=("A4", "Letter", "A3"), default="A4", help="your printer's paper (A4)")
    parser.add_argument("--markers", action="store_true", help="four single markers instead of one board")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Write the target sheet."""
    check_destination(arguments.out, Kind.PDF)
    from digitizer.job.model import PaperSize
    from digitizer.reports.target_sheet import write_target_sheet

    write_target_sheet(arguments.out, PaperSize(arguments.paper), markers=arguments.markers)
    with standard_output():
        print(f"{arguments.out} written. Print it at 100 %, then measure its check bar.")
