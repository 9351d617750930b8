"""Arguments that several verbs take alike."""

from __future__ import annotations

import argparse
import datetime
from pathlib import Path


def add_job(parser: argparse.ArgumentParser) -> None:
    """The job a verb works on."""
    parser.add_argument(
        "job", type=Path, metavar="JOB", help="a .transom file, photos inside, or a job.json beside its photos"
    )


def add_snap(parser: argparse.ArgumentParser) -> None:
    """The option ``--snap``, for this once."""
    parser.add_argument("--snap", action="store_true", help="move the marks onto the edges they mean first")


def add_date(parser: argparse.ArgumentParser) -> None:
    """The option ``--date``, by which the same job gives the same bytes on any day."""
    parser.add_argument(
        "--date",
        type=_day,
        metavar="YYYY-MM-DD",
        help="print this date instead of today's; the same job then gives the same bytes",
    )


def _day(text: str) -> str:
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date: write it like 2025-05-04") from None
