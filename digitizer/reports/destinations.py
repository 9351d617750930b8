"""Where results may go: never over the job or a photo, and only over a file of the same kind."""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum
from pathlib import Path

from digitizer.errors import ReportError


class Kind(Enum):
    """What a result file holds, with the bytes by which an older one is recognised."""

    PDF = b"%PDF-"
    SURVEY = b'"program_version"'
    DIMENSIONS = b"code,subject,label"
    JOB = b'"photos"'
    BUNDLE = b"job.json"
    DXF = b"SECTION"
    SVG = b"<svg"
    OFFSETS = b"line,side,station_mm"

    @property
    def words(self) -> str:
        """The kind in words for people."""
        return _WORDS.get(self, "a job")


_WORDS = {
    Kind.PDF: "a PDF",
    Kind.SURVEY: "a survey",
    Kind.DIMENSIONS: "a table of dimensions",
    Kind.DXF: "a DXF drawing",
    Kind.SVG: "an SVG drawing",
    Kind.OFFSETS: "a table of offsets",
}
_LOOK = 4096  # bytes; the marks of recognition stand near the beginning


def check_destination(path: Path, kind: Kind, sources: Iterable[Path] = ()) -> None:
    """
    Refuse a destination that would cost the user something.

    Parameters
    ----------
    path
        Where a result is to be written.
    kind
        What the result is.
    sources
        The job and its photos.

    Raises
    ------
    ReportError
        When `path` is one of the sources or an existing file of another kind.
    """
    if not path.is_file():
        return
    if any(source.exists() and path.samefile(source) for source in sources):
        raise ReportError(str(path), "this is the job itself or one of its photos: give the result another name")
    if not _is_replaceable(path, kind):
        raise ReportError(
            str(path), f"a file of that name exists and is not {kind.words}: choose another name or move it away"
        )


def _is_replaceable(path: Path, kind: Kind) -> bool:
    """Whether the file looks like an older result of the same kind, or is empty."""
    try:
        with path.open("rb") as stream:
            beginning = stream.read(_LOOK)
    except OSError as problem:
        raise ReportError(str(path), f"it can't be looked at ({problem.strerror}): choose another name") from problem
    return not beginning or kind.value in beginning
