"""What the verbs for cutting share: the job, and the stations of its offset table."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.errors import ReadingError

if TYPE_CHECKING:
    from digitizer.job.model import Settings
    from digitizer.job.reading import JobFile

_LEAST_MM, _MOST = 10.0, 200


def add_job_and_stations(parser: argparse.ArgumentParser) -> None:
    """The arguments that every verb for cutting takes."""
    parser.add_argument(
        "job", type=Path, metavar="JOB", help="a .transom file, photos inside, or a job.json beside its photos"
    )
    parser.add_argument("--snap", action="store_true", help="move the marks onto the edges they mean first")
    parser.add_argument(
        "--every", metavar="LENGTH", help="distance between the stations of the offset table (100 mm, or 4 in)"
    )
    parser.add_argument(
        "--at", metavar="LENGTHS", help="stations of the offset table in place of even ones, such as 0,150,381"
    )


def with_stations(job_file: JobFile, arguments: argparse.Namespace) -> JobFile:
    """
    The job with the stations that the command line asks for.

    Raises
    ------
    ReadingError
        If a length can't be read, is too small, or there are too many.
    """
    settings = job_file.job.settings
    if arguments.every is not None:
        settings = replace(settings, station_step_mm=_length(arguments.every, settings, _LEAST_MM), stations_mm=())
    if arguments.at is not None:
        asked = [part for part in arguments.at.split(",") if part.strip()]
        if len(asked) > _MOST:
            raise ReadingError("--at", f"these are {len(asked)} stations: ask for {_MOST} or fewer.")
        settings = replace(settings, stations_mm=tuple(_length(part, settings, 0.0) for part in asked))
    return replace(job_file, job=replace(job_file.job, settings=settings))


def _length(written: str, settings: Settings, least: float) -> float:
    """A length in the job's unit unless it names its own, mm."""
    from digitizer.units import parse_length

    mm = parse_length(written, settings.unit)
    if not least <= mm <= 1e5:
        raise ReadingError(written, f"a station is a length from {least:g} mm to 100 m.")
    return mm
