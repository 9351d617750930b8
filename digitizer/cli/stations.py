"""What the verbs for cutting share: the job, the stations of its offset table, and what could not be drawn."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from digitizer.cli.arguments import add_job, add_snap
from digitizer.cli.console import Progress
from digitizer.errors import ReadingError
from digitizer.reports.destinations import Kind, check_destination

if TYPE_CHECKING:
    from digitizer.job.model import Settings
    from digitizer.job.reading import JobFile
    from digitizer.reports.cutting import Drawing

_LEAST_MM, _MOST = 10.0, 200
MEASURED = "measured"
"""What `--outline` calls the outline measured on the boat."""


def add_job_and_stations(parser: argparse.ArgumentParser) -> None:
    """The arguments that every verb for cutting takes."""
    add_job(parser)
    add_snap(parser)
    parser.add_argument(
        "--every", metavar="LENGTH", help="distance between the stations of the offset table (100 mm, or 4 in)"
    )
    parser.add_argument(
        "--at", metavar="LENGTHS", help="stations of the offset table in place of even ones, such as 0,150,381"
    )


def add_outline(parser: argparse.ArgumentParser) -> None:
    """The argument that chooses what is cut."""
    parser.add_argument(
        "--outline",
        metavar="WHICH",
        help=f"what is cut: {MEASURED}, or the id of a pattern whose edge takes its place (as the job's settings say)",
    )


def job_to_draw(arguments: argparse.Namespace, kind: Kind, tell: Progress) -> JobFile:
    """
    The job with the stations asked for, once its drawing may go where it is wanted.

    Raises
    ------
    DigitizerError
        If the job can't be read, a station can't, or the drawing would replace what it shouldn't.
    """
    from digitizer.cli.work import opened, sources

    job_file = with_outline(with_stations(opened(arguments.job, tell), arguments), arguments)
    check_destination(arguments.out, kind, sources(job_file))
    return job_file


def show_missing(drawing: Drawing) -> None:
    """Say what could not be drawn, if anything."""
    if drawing.missing:
        print("\n".join(drawing.missing))


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


def with_outline(job_file: JobFile, arguments: argparse.Namespace) -> JobFile:
    """
    The job with the outline to cut that the command line asks for.

    Raises
    ------
    ReadingError
        If the job has no such pattern.
    """
    wanted = arguments.outline
    if wanted is None:
        return job_file
    if wanted != MEASURED and wanted not in {pattern.id for pattern in job_file.job.patterns}:
        raise ReadingError(wanted, f"the job has no such pattern: write {MEASURED}, or the id of one of its patterns.")
    settings = replace(job_file.job.settings, cut_to_pattern=None if wanted == MEASURED else wanted)
    return replace(job_file, job=replace(job_file.job, settings=settings))


def _length(written: str, settings: Settings, least: float) -> float:
    """A length in the job's unit unless it names its own, mm."""
    from digitizer.units import parse_length

    mm = parse_length(written, settings.unit)
    if not least <= mm <= 1e5:
        raise ReadingError(written, f"a station is a length from {least:g} mm to 100 m.")
    return mm
