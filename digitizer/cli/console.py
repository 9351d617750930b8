"""What appears in the terminal besides results: progress, and a stdout that fails in words."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from digitizer.errors import ReportError

Progress = Callable[[str], None]


@contextmanager
def progress() -> Iterator[Progress]:
    """
    A function that shows what is being done just now.

    On stderr and only when that is a terminal, so that pipes and log files stay clean.
    """
    if not sys.stderr.isatty():
        yield _silent
        return
    from rich.console import Console
    from rich.text import Text

    with Console(stderr=True).status("Starting …") as status:
        yield lambda words: status.update(Text(harmless(words)))


@contextmanager
def standard_output() -> Iterator[None]:
    """
    A block that prints results.

    Raises
    ------
    ReportError
        When what stdout leads to can't take it all, such as a file on a full disk. A reader that has
        gone away raises ``BrokenPipeError`` as ever.
    """
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as problem:
        forget_stdout()
        reason = f"it did not take the whole result ({problem.strerror}): free some space or send it elsewhere"
        raise ReportError("standard output", reason) from problem


def forget_stdout() -> None:
    """Give the interpreter somewhere to flush to when what stdout led to is gone."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def harmless(text: str) -> str:
    """The text without anything that could steer a terminal, such as escape sequences in a stranger's job."""
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def _silent(_words: str) -> None:
    """Show nothing."""
