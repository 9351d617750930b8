"""Jobs to test with: the reference job as JSON fields, and any job at all for round trips."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from functools import cache, partial
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from annotated_types import Ge, Gt, Interval, Len
from hypothesis import strategies as st

from digitizer.job.model import Job

REFERENCE = Path(__file__).parent.parent / "job_files" / "format_1"
TEXT = (REFERENCE / "job.json").read_text()

Fields = dict[str, Any]


def reference_fields() -> Fields:
    """The reference job as fresh JSON fields, to be spoilt at will."""
    return json.loads(TEXT)  # type: ignore[no-any-return]


def write_fields(folder: Path, job: object) -> Path:
    """A plain job.json of these fields."""
    path = folder / "job.json"
    path.write_text(json.dumps(job))
    return path


def write_zip(path: Path, entries: list[tuple[str, bytes]], compression: int = zipfile.ZIP_STORED) -> Path:
    """An archive of these entries, as any program might make it."""
    with zipfile.ZipFile(path, "w", compression) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return path


@cache
def any_job() -> st.SearchStrategy[Job]:
    """Jobs whose fields are each allowed, though their names need not lead anywhere."""
    return _records(Job)


def _records(record: type) -> st.SearchStrategy[Any]:
    hints = get_type_hints(record, include_extras=True)
    always = {f.name: _values(hints[f.name]) for f in fields(record) if _is_required(f)}
    sometimes = {f.name: _values(hints[f.name]) for f in fields(record) if not _is_required(f) and f.name != "format"}
    return st.fixed_dictionaries(always, optional=sometimes).map(lambda values: record(**values))


def _is_required(field: Field[Any]) -> bool:
    return field.default is MISSING and field.default_factory is MISSING


def _values(hint: Any) -> st.SearchStrategy[Any]:
    """What a field of this type may hold, minding its constraints."""
    arguments = get_args(hint)
    if get_origin(hint) is Annotated:
        return _constrained(arguments[0], arguments[1:])
    if get_origin(hint) in (Union, UnionType):
        return st.one_of([_values(argument) for argument in arguments])
    if get_origin(hint) is tuple and arguments[-1] is Ellipsis:
        return st.lists(_values(arguments[0]), max_size=2).map(tuple)
    if get_origin(hint) is tuple:
        return st.tuples(*map(_values, arguments))
    if is_dataclass(hint):
        return _records(hint)  # type: ignore[arg-type]
    return st.sampled_from(hint) if issubclass(hint, Enum) else _constrained(hint, ())


def _constrained(plain: Any, constraints: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    low, high, shortest, longest = None, None, 0, 12
    strictly = {"exclude_min": False, "exclude_max": False}
    for constraint in constraints:
        match constraint:
            case Gt(gt=bound) | Interval(gt=bound) if bound is not None:
                low, strictly["exclude_min"] = bound, True
            case Ge(ge=bound) | Interval(ge=bound) if bound is not None:
                low = bound
            case Len(min_length=shortest, max_length=most):
                longest = max(shortest, min(longest, most or longest))
        if isinstance(constraint, Interval):
            high = constraint.le if constraint.le is not None else constraint.lt
            strictly["exclude_max"] = constraint.lt is not None
    kinds: dict[Any, Callable[[], st.SearchStrategy[Any]]] = {
        bool: st.booleans,
        type(None): st.none,
        str: partial(st.text, st.characters(codec="utf-8"), min_size=shortest, max_size=longest),
        int: partial(st.integers, _whole_above(low, strictly["exclude_min"]), high),
        float: partial(st.floats, low, high, allow_nan=False, allow_infinity=False, **strictly),
    }
    return kinds[plain]()


def _whole_above(low: Any, strictly: bool) -> Any:
    return low if low is None else low + strictly
