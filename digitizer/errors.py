"""
Every failure we expect, in words for the person with the boat.

A message says what happened, which photo, mark or file it concerns, and what to do next.
Programming mistakes raise ``ValueError`` or ``TypeError`` instead.
"""

from __future__ import annotations


class DigitizerError(Exception):
    """Base of everything the program refuses on purpose."""


class JobFileError(DigitizerError):
    """
    A job that can't be read as it stands.

    Parameters
    ----------
    message
        What is wrong and what to do.
    places
        Where in the file, as paths such as ``photos[2].sha256``; empty when it is the file itself.
    """

    def __init__(self, message: str, places: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.places = places


class NewerJobFileError(JobFileError):
    """A job written by a later version of the program."""

    def __init__(self, found: int, newest: int) -> None:
        super().__init__(
            f"This job was written in format {found}, and this program reads formats up to {newest}: "
            "update the program, or save the job again with the older one."
        )
        self.found = found
        self.newest = newest


class PhotoError(DigitizerError):
    """A photo that can't be used, with its file and the reason."""

    def __init__(self, file: str, reason: str) -> None:
        super().__init__(f"{file}: {reason}")
        self.file = file
        self.reason = reason


class ReadingError(DigitizerError):
    """A length or angle that can't be read as written, with the text and what is wrong with it."""

    def __init__(self, written: str, reason: str) -> None:
        super().__init__(f"\u201c{written}\u201d: {reason}")
        self.written = written
        self.reason = reason


class AdjustmentError(DigitizerError):
    """The observations can't be adjusted."""


class RankDeficientError(AdjustmentError):
    """
    Nothing determines some of the unknowns.

    Parameters
    ----------
    undetermined
        Names of what is left open, such as ``("scale",)``.
    remedy
        The observation that would settle it, as a sentence.
    """

    def __init__(self, undetermined: tuple[str, ...], remedy: str) -> None:
        super().__init__(f"Nothing fixes {' and '.join(undetermined)}: {remedy}")
        self.undetermined = undetermined
        self.remedy = remedy


class NotConvergedError(AdjustmentError):
    """
    The adjustment did not settle.

    `misfit` is its square sum per observation, below 1 where everything fits but too little is fixed.
    """

    def __init__(self, iterations: int, worst: str, misfit: float = 1.0) -> None:
        super().__init__(
            f"The marks and lengths do not fit together: the adjustment had not settled after {iterations} "
            f"steps, and the worst fit is at {worst}. Look there for a mark on the wrong thing or an exchanged side."
        )
        self.iterations = iterations
        self.worst = worst
        self.misfit = misfit


class ReportError(DigitizerError):
    """A report that can't be written, with its destination and the reason."""

    def __init__(self, destination: str, reason: str) -> None:
        super().__init__(f"{destination}: {reason}")
        self.destination = destination
        self.reason = reason
