"""``digitizer open``: the window, with a job or photos in it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from digitizer.cli.refusals import missing_library
from digitizer.errors import DigitizerError

_DESCRIPTION = """\
Open the window, with a job or with photos to begin one.

'digitizer' alone opens the window empty, with the sample one click away.
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "open",
        help="open the window with a job or photos in it",
        description=_DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help="a job, or photos to begin one with")
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Open the window and stay until it is closed."""
    show_window(arguments.files)


def show_window(files: Sequence[Path] = ()) -> None:
    """
    The window, until it is closed.

    Raises
    ------
    DigitizerError
        If this Python has no window toolkit.
    """
    try:
        from digitizer.app.main import run as run_window
    except ImportError as missing:
        advice = missing_library(missing)
        if advice is not None:
            raise DigitizerError(advice) from missing
        raise DigitizerError(
            f"The window needs PySide6, which can't be loaded here ({missing}): install digitizer anew with pip. "
            "The other commands work without it; see digitizer --help."
        ) from missing
    sys.exit(run_window(files))
