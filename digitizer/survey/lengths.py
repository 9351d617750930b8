"""Known lengths as observations: rules, tapes and rectangles, with the errors that their readings share."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from digitizer.adjustment.observations import Row
from digitizer.adjustment.points import FIXED
from digitizer.job.model import AngleKind, Instrument, KnownLength, Path, Rectangle, Role
from digitizer.survey.defaults import U_EACH_SIDE_MM
from digitizer.survey.network import ANGLES, LENGTHS, Network
from digitizer.transom.constraints import Lengths, RightAngles

Corners = tuple[int, int, int, int]


@dataclass
class _LengthRows:
    """Lists that grow together."""

    first: list[int] = field(default_factory=list)
    second: list[int] = field(default_factory=list)
    readings: list[float] = field(default_factory=list)
    scale: list[int] = field(default_factory=list)
    zero: list[int] = field(default_factory=list)
    girth: list[bool] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)

    def add(
        self,
        ends: tuple[int, int],
        reading: float,
        row: Row,
        scale: int = FIXED,
        zero: int = FIXED,
        girth: bool = False,
    ) -> None:
        self.first.append(ends[0])
        self.second.append(ends[1])
        self.readings.append(reading)
        self.scale.append(scale)
        self.zero.append(zero)
        self.girth.append(girth)
        self.rows.append(row)


def add_lengths(n: Network) -> None:
    """Rows for rule and tape figures, rectangles and right angles."""
    collected = _LengthRows()
    instruments = {i.id: i for i in n.job.instruments}
    shared: dict[str, tuple[int, int]] = {}
    for length in n.job.lengths:
        if not length.active or length.role is Role.CHECK:
            continue
        if length.from_point not in n.index or length.to_point not in n.index:
            n.left_out.append((length.id, f"one end of {length.id} is not marked on a photo in use"))
            continue
        tool = instruments.get(length.instrument or "")
        if tool is not None and tool.id not in shared:
            shared[tool.id] = _instrument_columns(n, tool)
        scale, zero = shared[tool.id] if tool is not None else (FIXED, FIXED)
        ends = (n.index[length.from_point], n.index[length.to_point])
        collected.add(ends, length.length_mm, _length_row(length), scale, zero, length.path is Path.GIRTH)
    right = [
        _add_rectangle(n, r, collected) for r in n.job.rectangles if r.active and all(c in n.index for c in r.corners)
    ]
    right += _right_angles(n)
    c = collected
    n.blocks.append(Lengths(n.points, c.first, c.second, c.readings, c.scale, c.zero, c.rows, c.girth))
    n.blocks.append(RightAngles(n.points, [corners for corners, _ in right], [row for _, row in right]))


def _instrument_columns(n: Network, tool: Instrument) -> tuple[int, int]:
    """Columns of the scale and zero error that all readings of one instrument share."""
    scale = Row(f"{tool.id}: scale", tool.id, "instrument", LENGTHS, "", tool.u_scale, 0.0)
    zero = Row(f"{tool.id}: zero", tool.id, "instrument", LENGTHS, "mm", tool.u_zero_mm, 0.0)
    return n.layout.known(scale.label, 0.0, scale), n.layout.known(zero.label, 0.0, zero)


def _length_row(length: KnownLength) -> Row:
    label = f"{length.note or length.id}, {length.length_mm:g} mm"
    return Row(label, length.id, "length", LENGTHS, "mm", length.u_mm, length.length_mm, misread=True)


def _right_angles(n: Network) -> list[tuple[Corners, Row]]:
    out = []
    for angle in n.job.angles:
        ends = (*angle.first, *angle.second)
        if angle.active and angle.kind is AngleKind.RIGHT_ANGLE and all(p in n.index for p in ends):
            a, b, c, d = (n.index[p] for p in ends)
            row = Row(angle.note or angle.id, angle.id, "angle", ANGLES, "rad", math.radians(angle.u_deg), 0.0)
            out.append(((a, b, c, d), row))
    return out


def _add_rectangle(n: Network, r: Rectangle, lengths: _LengthRows) -> tuple[Corners, Row]:
    """Two pairs of sides that share their pair's size error, and one right angle."""
    a, b, c, d = (n.index[p] for p in r.corners)
    for name, size, sides in (("width", r.width_mm, ((a, b), (d, c))), ("height", r.height_mm, ((b, c), (a, d)))):
        row = Row(f"{r.id}: {name}", r.id, "rectangle", LENGTHS, "mm", r.u_mm, 0.0)
        error = n.layout.known(f"{r.id}: {name} error", 0.0, row)
        for side in sides:
            label = f"{r.id}: {name} {size:g} mm"
            lengths.add(side, size, Row(label, r.id, "rectangle", LENGTHS, "mm", U_EACH_SIDE_MM, size), zero=error)
    row = Row(f"{r.id}: right angle", r.id, "rectangle", ANGLES, "rad", math.radians(r.u_square_deg), 0.0)
    return (a, b, a, d), row
