"""
Which running program holds something: told from process number, start and computer, so that a dead one is known.

The only module that imports psutil.
"""

from __future__ import annotations

import os
import socket
from dataclasses import dataclass
from typing import Any

_SAME_START_S = 2.0
"""A process number is used again sooner or later, but hardly by a process started in the same two seconds."""


@dataclass(frozen=True)
class Holder:
    """A process on a computer."""

    pid: int
    host: str
    started: float
    """Seconds since 1970; zero where the system doesn't tell."""

    def is_here(self) -> bool:
        """Whether it runs, or ran, on this computer."""
        return self.host == socket.gethostname()

    def is_alive(self) -> bool | None:
        """Whether it still runs; None where that can't be known from here, because it is another computer's."""
        if not self.is_here():
            return None
        started = _started(self.pid)
        return started is not None and (not self.started or abs(started - self.started) < _SAME_START_S)


def this_process() -> Holder:
    """The program that asks."""
    return Holder(os.getpid(), socket.gethostname(), _started(os.getpid()) or 0.0)


def holder_from(fields: Any) -> Holder:
    """
    The holder that a file names.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the fields are not those of a holder.
    """
    return Holder(int(fields["pid"]), str(fields["host"]), float(fields["started"]))


def _started(pid: int) -> float | None:
    """When a process of this computer began; None where there is none of that number, or only its remains."""
    import psutil  # a few hundredths of a second that only an open window pays

    try:
        process = psutil.Process(pid)
        return None if process.status() == psutil.STATUS_ZOMBIE else process.create_time()
    except psutil.NoSuchProcess:
        return None
    except (psutil.Error, OverflowError, ValueError):
        return 0.0
