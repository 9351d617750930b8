"""The option ``--date``, by which the same job gives the same bytes on any day."""

from __future__ import annotations

import argparse
import datetime


def add_date(parser: argparse.ArgumentParser) -> None:
    """Teach a verb the option."""
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
