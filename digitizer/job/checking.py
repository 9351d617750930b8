"""
One field of one record checked as it will be when the job is read again.

For whoever edits records one value at a time; whole jobs are checked on reading and before writing.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from digitizer.errors import ReadingError

_R = TypeVar("_R")


def with_field(record: _R, name: str, value: object) -> _R:
    """
    The record with one field changed.

    Raises
    ------
    ReadingError
        If the field can't hold the value, in the words of the job file's border.
    """
    from pydantic import ValidationError  # loaded once somebody edits

    try:
        checked = _adapter(_class_of(record), name).validate_python(value)
    except ValidationError as failure:
        error = failure.errors(include_url=False)[0]
        raise ReadingError(str(value), f"this can't be taken: {error['msg'].lower()}") from None
    changed: dict[str, Any] = {name: checked}
    return replace(record, **changed)  # type: ignore[type-var]


def field_type(record_class: type, name: str) -> tuple[type, bool]:
    """The plain type of a record's field, and whether it may be left out (None)."""
    hint = get_type_hints(record_class)[name]
    if get_origin(hint) in (Union, UnionType):
        parts = [part for part in get_args(hint) if part is not type(None)]
        return parts[0], True
    return hint, False


def editable_fields(record_class: type) -> tuple[str, ...]:
    """Fields that hold one value each: no lists and no records within the record."""
    simple = []
    for field in fields(record_class):
        kind, _ = field_type(record_class, field.name)
        if isinstance(kind, type) and issubclass(kind, (str, int, float, bool)):
            simple.append(field.name)
    return tuple(simple)


def _class_of(record: object) -> Any:
    return type(record)


@cache
def _adapter(record_class: Any, name: str) -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(get_type_hints(record_class, include_extras=True)[name])
