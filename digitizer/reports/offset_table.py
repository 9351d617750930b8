"""The offset table: as rows for people, and as a table for other programs."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.reports.schedule import NOTHING
from digitizer.reports.table import printed_value
from digitizer.survey.model import Dimension, Offset, OffsetLine, Survey
from digitizer.units import format_length, unit_name, value_and_uncertainty

CSV_COLUMNS = ("line", "side", "station_mm", "value_mm", "u_mm", "U_mm", "lower_mm", "upper_mm", "plane")
_HEIGHTS = (
    (OffsetLine.BOTTOM, "port", "bottom port"),
    (OffsetLine.BOTTOM, "starboard", "bottom starboard"),
    (OffsetLine.TOP, "port", "top port"),
    (OffsetLine.TOP, "starboard", "top starboard"),
)
_BREADTHS = ((OffsetLine.HALF_BREADTH, "port", "port"), (OffsetLine.HALF_BREADTH, "starboard", "starboard"))

_Found = dict[tuple[OffsetLine, str, float], Offset]


@dataclass(frozen=True)
class OffsetTable:
    """One table: a row for each station."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    """The station, then value ± U under each further head, or a dash where nothing was marked."""


def plane_words(survey: Survey) -> str:
    """Which plane the offsets are in, in few words."""
    return "rolled flat (girth)" if survey.curvature_per_mm else "in the face"


def offset_tables(survey: Survey, unit: str) -> tuple[OffsetTable, ...]:
    """Heights at stations, and half-breadths at heights; only what there is."""
    name, plane = unit_name(unit), plane_words(survey)
    across, up = f"Heights above the keel point, {name}, {plane}", f"Half-breadths, {name}, {plane}"
    tables = (
        _table(survey, unit, across, f"from centreline, {name}", _HEIGHTS),
        _table(survey, unit, up, f"above keel, {name}", _BREADTHS),
    )
    return tuple(table for table in tables if table.rows)


def largest_uncertainties(survey: Survey, unit: str) -> str:
    """The largest U of heights and of half-breadths, in words; empty without offsets."""
    heights = [o.value.U for o in survey.offsets if o.line is not OffsetLine.HALF_BREADTH]
    breadths = [o.value.U for o in survey.offsets if o.line is OffsetLine.HALF_BREADTH]
    named = (("heights", heights), ("half-breadths", breadths))
    name = unit_name(unit)
    return ", ".join(
        f"{what} up to ± {value_and_uncertainty(0.0, max(found), unit)[1]} {name}" for what, found in named if found
    )


def write_offsets_csv(survey: Survey, path: Path) -> None:
    """
    Write the offsets as CSV: one line each, mm, full precision.

    Raises
    ------
    ReportError
        If the file can't be written.
    """
    with replacing(path, ReportError) as stream:
        stream.write(offsets_csv(survey).encode("utf-8"))


def offsets_csv(survey: Survey) -> str:
    """The offsets as the text of a CSV file; it holds nothing that a person typed."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(CSV_COLUMNS)
    for each in survey.offsets:
        d = each.value
        numbers = (each.station, d.value, d.u, d.U, d.lower, d.upper)
        writer.writerow([str(each.line), each.side, *(float(n) for n in numbers), plane_words(survey)])
    return text.getvalue()


def _table(
    survey: Survey, unit: str, title: str, first: str, columns: tuple[tuple[OffsetLine, str, str], ...]
) -> OffsetTable:
    lines = {line for line, _, _ in columns}
    found = {(o.line, o.side, o.station): o for o in survey.offsets if o.line in lines}
    stations = sorted({station for _, _, station in found})
    rows = tuple(
        (bare_length(station, unit), *(_cell(_at(found, line, side, station), unit) for line, side, _ in columns))
        for station in stations
    )
    return OffsetTable(title, (first, *(head for _, _, head in columns)), rows)


def _at(
    found: dict[tuple[OffsetLine, str, float], Offset], line: OffsetLine, side: str, station: float
) -> Dimension | None:
    """The offset of a side; on the centreline both sides have the same."""
    offset = found.get((line, side, station)) or found.get((line, "centre", station))
    return offset.value if offset is not None else None


def _cell(dimension: Dimension | None, unit: str) -> str:
    if dimension is None:
        return NOTHING
    value, expanded, _ = printed_value(dimension, unit)
    return f"{value} ± {expanded}"


def bare_length(mm: float, unit: str) -> str:
    """A length without its unit, which a heading names."""
    return format_length(mm, unit).removesuffix(f" {unit_name(unit)}").removesuffix(".0")
