"""One step per format of the job file, so that every job ever written still opens."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from digitizer.errors import JobFileError, NewerJobFileError
from digitizer.job.model import FORMAT_VERSION

Fields = dict[str, Any]

STEPS: dict[int, Callable[[Fields], Fields]] = {}
"""From a format to the next one: takes the file's fields as they stand in JSON and gives the later ones."""


def upgraded(fields: Fields, name: str) -> Fields:
    """
    The fields of a job in today's format, whatever format they were written in.

    A job that says no format counts as the first one, for good. `name` is the file, for messages.

    Raises
    ------
    NewerJobFileError
        If the job is from a later program.
    JobFileError
        If the format isn't a whole number from 1.
    """
    found = _format(fields, name)
    if found > FORMAT_VERSION:
        raise NewerJobFileError(found, FORMAT_VERSION)
    for version in range(found, FORMAT_VERSION):
        fields = STEPS[version](fields)
    return fields | {"format": FORMAT_VERSION}


def _format(fields: Fields, name: str) -> int:
    found = fields.get("format", 1)
    if type(found) is not int or found < 1:
        raise JobFileError(
            f"{name}: format: must be a whole number from 1 to {FORMAT_VERSION}; "
            f'write "format": {FORMAT_VERSION} at the top of the job',
            ("format",),
        )
    return found
