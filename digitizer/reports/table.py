"""
The figures of a survey as rows: for the terminal, the sheet, `dimensions.csv` and `survey.json`.

Rows for people are rounded as a metrologist prints them; the two data files keep full precision.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.survey.model import DefectResult, Dimension, FittingResult, Quantity, Survey
from digitizer.units import area_unit, format_angle, format_length, unit_name, value_and_uncertainty

JSON_FORMAT = 1
GROUPS = ("Deadrise", "Widths", "Heights", "Edges", "Shape", "Fittings", "Condition", "Checks")
UNITS = {Quantity.LENGTH: "mm", Quantity.ANGLE: "deg", Quantity.AREA: "mm2"}
_CSV_COLUMNS = ("code", "subject", "label", "group", "unit", "value", "u", "U", "lower", "upper", "note")
_NOT_SYMMETRICAL = 0.1
"""An interval whose ends differ from value ± U by more than this part of U is printed with its ends."""


@dataclass(frozen=True)
class DimensionRow:
    """One dimension as it is printed."""

    code: str
    group: str
    label: str
    value: str
    expanded: str
    """U, the 95 % figure."""
    unit: str
    note: str


def dimension_table(survey: Survey, unit: str) -> tuple[DimensionRow, ...]:
    """
    Every dimension of the survey in the order of the sheet: by group, then as measured.

    Parameters
    ----------
    survey
        The finished survey.
    unit
        ``"mm"``, ``"in"`` or ``"in/16"``; angles stay in degrees.
    """
    return tuple(_row(each, unit) for each in in_order(survey.dimensions))


def in_order(dimensions: Iterable[Dimension]) -> list[Dimension]:
    """Dimensions in the order of the sheet: by group, then as measured."""
    return sorted(dimensions, key=_group_order)


def printed_value(dimension: Dimension, unit: str) -> tuple[str, str, str]:
    """A dimension's value, its U and the name of its unit, as printed."""
    shown = shown_unit(dimension.quantity, unit)
    return (*value_and_uncertainty(dimension.value, dimension.U, shown), unit_name(shown))


def shown_unit(quantity: Quantity, unit: str) -> str:
    """Unit in which a quantity is printed where lengths are printed in `unit`."""
    return {Quantity.LENGTH: unit, Quantity.ANGLE: "deg", Quantity.AREA: area_unit(unit)}[quantity]


def write_dimensions_csv(survey: Survey, path: Path) -> None:
    """
    Write the dimensions and the figures of fittings and defects as `dimensions.csv`: mm and degrees, full precision.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(_CSV_COLUMNS)
    for each in survey.dimensions:
        writer.writerow(_csv_row(each, ""))
    for fitting in survey.fittings:
        for each in fitting_dimensions(fitting):
            writer.writerow(_csv_row(each, fitting.id))
    for defect in survey.defects:
        for each in defect_dimensions(defect):
            writer.writerow(_csv_row(each, defect.id))
    with replacing(path, ReportError) as stream:
        stream.write(_encodable(text.getvalue()))


def survey_record(survey: Survey) -> dict[str, Any]:
    """The whole survey as plain data, with its units named; figures that aren't finite become null."""
    record = _plain(asdict(replace(survey, place_covariance=())))
    del record["place_covariance"]
    for plain, dimension in zip(record["dimensions"], survey.dimensions, strict=True):
        plain |= {"unit": UNITS[dimension.quantity], "U": _plain(dimension.U)}
    units = {"length": "mm", "angle": "deg", "area": "mm2", "image": "px", "residual": "named with each observation"}
    return {"format": JSON_FORMAT, "units": units, "survey": record}


def write_survey_json(survey: Survey, path: Path) -> None:
    """
    Write the whole survey as `survey.json`, described in docs/reference/report.md.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    text = json.dumps(survey_record(survey), ensure_ascii=False, indent=1, allow_nan=False)
    with replacing(path, ReportError) as stream:
        stream.write(_encodable(text + "\n"))


def fitting_dimensions(fitting: FittingResult) -> Iterator[Dimension]:
    """Those figures of a fitting that were measured."""
    place = (fitting.x, fitting.girth, fitting.below_reference, fitting.y)
    size = (fitting.diameter, fitting.width, fitting.height)
    yield from (each for each in (*place, *size, fitting.clearance) if each is not None)


def defect_dimensions(defect: DefectResult) -> Iterator[Dimension]:
    """Those figures of a defect that were measured."""
    place = (defect.x, defect.below_reference, defect.y)
    every = (defect.size, defect.perimeter, *place, defect.width, defect.height)
    yield from (each for each in every if each is not None)


def _group_order(dimension: Dimension) -> tuple[int, str]:
    """Known groups first and in their order, others after them by name."""
    known = dimension.group in GROUPS
    return (GROUPS.index(dimension.group), "") if known else (len(GROUPS), dimension.group)


def _row(dimension: Dimension, unit: str) -> DimensionRow:
    value, expanded, name = printed_value(dimension, unit)
    note = ". ".join(part for part in (_interval(dimension, unit), dimension.note) if part)
    return DimensionRow(dimension.code, dimension.group, dimension.label, value, expanded, name, note)


def _interval(dimension: Dimension, unit: str) -> str:
    ends = (dimension.lower, dimension.upper)
    symmetrical = (dimension.value - dimension.U, dimension.value + dimension.U)
    slack = _NOT_SYMMETRICAL * dimension.U
    if all(abs(end - plain) <= slack or not math.isfinite(end) for end, plain in zip(ends, symmetrical, strict=True)):
        return ""
    lower, upper = (
        format_length(end, unit) if dimension.quantity is Quantity.LENGTH else format_angle(end) for end in ends
    )
    return f"95 % between {lower} and {upper}"


def _csv_row(dimension: Dimension, subject: str) -> list[str | float]:
    numbers = (dimension.value, dimension.u, dimension.U, dimension.lower, dimension.upper)
    unit = UNITS[dimension.quantity]
    words = [_cell(word) for word in (dimension.code, subject, dimension.label, dimension.group, unit)]
    return [*words, *(float(number) for number in numbers), _cell(dimension.note)]


def _cell(text: str) -> str:
    """Text that a spreadsheet won't take for a formula."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def _encodable(text: str) -> bytes:
    return text.encode("utf-8", errors="replace")
