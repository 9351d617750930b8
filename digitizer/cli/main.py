"""
The command ``digitizer``: what it offers, and the way from words on a command line to an exit status.

Nothing heavy is imported here or at the top of a verb's module, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import NoReturn

from digitizer import __version__
from digitizer.cli import (
    calibrate,
    compare,
    demo,
    dxf,
    form,
    lens,
    measure,
    offsets,
    open,
    points,
    report,
    snap,
    svg,
    target,
    template,
)
from digitizer.cli.refusals import exit_status

_DESCRIPTION = """\
Measure a boat's transom from a photo of it that has something of known length in it.

You get widths, heights, deadrise, crown and the places of all fittings, each with how far it can be trusted,
and a PDF to pin to the wall. Without a command the window opens; to see what it does, start with 'digitizer demo'.
"""
_EPILOG = """\
examples:
  digitizer                                open the window
  digitizer demo                           measure a sample photo and leave its report
  digitizer target --out board.pdf         print this, fix it to the transom, take the photo
  digitizer measure my-boat/job.json       show the dimensions here
  digitizer report my-boat/job.json --out my-boat.pdf
  digitizer snap my-boat/job.json --out my-boat/snapped.json

'digitizer COMMAND --help' explains one command. Exit status: 0 done, 1 refused (the reason is on the last line),
2 the command line was not understood.
"""


def run() -> NoReturn:
    """Entry point of the installed command: the exit status of `main` ends the program."""
    _never_fail_on_a_letter()
    _one_thread_for_small_matrices()
    gc.disable()  # a command ends within seconds: looking for cycles costs it 5 % (measured) and frees next to nothing
    sys.exit(main())


def main(arguments: Sequence[str] | None = None) -> int:
    """
    Exit status after doing what the command line asks.

    Parameters
    ----------
    arguments
        Words after the program's name; those of this process when left out.

    Returns
    -------
    status
        0 done, 1 refused with one sentence on stderr, 2 command line not understood, 130 interrupted.
    """
    parser = _parser()
    chosen = parser.parse_args(arguments)
    if chosen.verb is None:
        return exit_status(open.show_window)
    return exit_status(lambda: chosen.verb(chosen))


def _parser() -> argparse.ArgumentParser:
    """Everything the command line understands."""
    parser = argparse.ArgumentParser(
        prog="digitizer",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"digitizer {__version__}")
    parser.set_defaults(verb=None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    figures, cutting = (measure, report, points, compare), (dxf, svg, template, offsets)
    for verb in (demo, open, *figures, *cutting, snap, target, form, calibrate, lens):
        verb.add_to(commands)
    return parser


def _never_fail_on_a_letter() -> None:
    """Let a terminal that lacks ± or ° show a question mark instead of ending the program."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]


def _one_thread_for_small_matrices() -> None:
    """
    Ask NumPy's linear algebra, before it is loaded, for one thread, unless the user asked for something else.

    A job's matrices have a few hundred rows: sharing them out gains nothing, and on a busy machine the
    threads wait for each other (measured: a factorisation of 1 ms then took 60 ms).
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
