"""
The border of the job file: JSON text becomes validated records, and each complaint names its place in words.

The only module of the room that imports pydantic, which takes a while: import it where a job is really read.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable
from functools import cache
from typing import Any, NewType

from pydantic import ConfigDict, TypeAdapter, ValidationError

from digitizer.errors import JobFileError
from digitizer.job.model import Job
from digitizer.job.problems import Problem, refusal
from digitizer.job.upgrades import upgraded
from digitizer.job.validation import check_references

STRICT = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)
JobInFile = NewType("JobInFile", Job)
"""The same record under another name: pydantic takes no settings for a dataclass itself."""

MAX_RECORDS = 10_000
_TOO_LONG = f"has more than {MAX_RECORDS} records: split the job"
_WORDS = {
    "missing": "is missing",
    "unexpected_keyword_argument": "is not a field of this record: check its spelling",
    "greater_than": "must be greater than {gt:g}, found {found}",
    "greater_than_equal": "must be at least {ge:g}, found {found}",
    "less_than": "must be less than {lt:g}, found {found}",
    "less_than_equal": "must be at most {le:g}, found {found}",
    "float_type": "must be a number, found {found}",
    "int_type": "must be a whole number, found {found}",
    "int_from_float": "must be a whole number, found {found}",
    "int_parsing_size": "is too large a number",
    "finite_number": "must be a finite number, found {found}",
    "bool_type": "must be true or false, found {found}",
    "string_type": "must be text in quotes, found {found}",
    "string_too_short": "is too short ({min_length} or more characters), found {found}",
    "string_too_long": "is too long (up to {max_length} characters)",
    "enum": "must be {expected}, found {found}",
    "tuple_type": "must be a list in [ ], found {found}",
    "too_long": "must have {max_length} entries, found {actual_length}",
    "dataclass_type": "must be a record in {{ }}, found {found}",
    "json_invalid": "the text holds what no job does ({error}): correct it there",
}


def job_from_text(text: str, name: str) -> Job:
    """
    The job that a JSON text describes, checked throughout.

    Parameters
    ----------
    text
        Content of a job.json of any format so far.
    name
        The file, for messages.

    Raises
    ------
    JobFileError
        With all places that need correcting.
    NewerJobFileError
        If it was written by a later program; nothing else is looked at then.
    """
    fields = upgraded(_object(text, name), name)
    if too_long := [Problem(_place([key]), _TOO_LONG) for key, value in fields.items() if _is_too_long(value)]:
        raise refusal(name, too_long)
    current = json.dumps(fields)
    try:
        job = _adapter().validate_json(current)
    except ValidationError as failure:
        raise refusal(name, [_problem(error) for error in failure.errors(include_url=False)]) from None
    if problems := check_references(job):
        raise refusal(name, problems)
    return job


@cache
def _adapter() -> TypeAdapter[Job]:
    return TypeAdapter(JobInFile, config=STRICT)


def _object(text: str, name: str) -> dict[str, Any]:
    """The outermost object of the text, by the standard library: it tells line, column and repeated names."""
    try:
        fields = json.loads(text, object_pairs_hook=_without_repeats)
    except json.JSONDecodeError as mistake:
        raise JobFileError(
            f"{name}: not valid JSON at line {mistake.lineno}, column {mistake.colno} ({mistake.msg}): correct it there"
        ) from None
    except (RecursionError, ValueError):
        raise JobFileError(f"{name}: numbers or brackets in it are far beyond what a job holds") from None
    except _RepeatedNameError as repeat:
        raise JobFileError(f"{name}: {repeat}") from None
    if not isinstance(fields, dict):
        raise JobFileError(f"{name}: a job is one record in {{ }}, and this file holds something else")
    return fields


class _RepeatedNameError(Exception):
    """A name that stands twice in one record: one of the two values would be lost unseen."""


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    fields = dict(pairs)
    if len(fields) == len(pairs):
        return fields
    twice = Counter(name for name, _ in pairs).most_common(1)[0][0]
    where = f" of the record with id {_short(fields['id'])}" if "id" in fields else ""
    raise _RepeatedNameError(f"the field {_short(twice)}{where} is given twice: keep one of them")


def _is_too_long(value: object) -> bool:
    """Millions of empty records would each get their complaint, and take minutes over it."""
    return isinstance(value, list) and len(value) > MAX_RECORDS


def _problem(error: Any) -> Problem:
    words = _WORDS.get(error["type"], error["msg"].replace("{", "{{").replace("}", "}}"))
    context = error.get("ctx", {}) | {"found": _short(error["input"])}
    return Problem(_place(error["loc"]), words.format(**context))


def _place(steps: Iterable[int | str]) -> str:
    """Where in the file, as a person counts through it: ``marks[3].x_px``."""
    parts = [f"[{step}]" if isinstance(step, int) else f".{_plain_name(step)}" for step in steps]
    return "".join(parts).removeprefix(".") or "the job"


def _plain_name(name: str) -> str:
    return name if re.fullmatch(r"\w{1,60}", name) else _short(name)


def _short(value: object) -> str:
    """A value as it stands in the file, cut to what fits a sentence, without anything a terminal would obey."""
    text = json.dumps(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
