"""The fitting schedule: where each fitting sits, how large it is, and how near the next one is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import Number, atan2, dot, hypot
from digitizer.geometry.polygons import order_round_centroid
from digitizer.job.model import Fitting, FittingShape, MarkKind
from digitizer.survey.dimensions import Figure, Transom
from digitizer.survey.model import DefectResult, Dimension, FittingResult, Quantity
from digitizer.survey.network import proud
from digitizer.survey.uncertainty import Scales
from digitizer.transom.fittings import Rim, clearance
from digitizer.transom.system import Place

R = TypeVar("R", FittingResult, DefectResult)


@dataclass(frozen=True)
class MeasuredFitting:
    """A fitting and where its marks put it."""

    fitting: Fitting
    rim: Rim
    """In the face rolled flat."""
    centre: Place
    """In space."""
    made_from: tuple[str, ...]
    width: Number | None = None
    height: Number | None = None
    roll: float = 0.0


def fitting_figures(t: Transom) -> list[Figure]:
    """Places and sizes of all fittings, as figures."""
    return [f for m in measured_fittings(t) for f in _figures(t, m, None).values()]


def measured_fittings(t: Transom) -> list[MeasuredFitting]:
    """Every fitting in use that its marks place."""
    return [m for f in t.network.job.fittings if f.active and (m := _measured(t, f)) is not None]


def fitting_results(t: Transom, scales: Scales) -> list[FittingResult]:
    """Results for every fitting that its marks place."""
    measured = measured_fittings(t)
    nearest = [_nearest(m, measured) for m in measured]
    figures = [_figures(t, m, near) for m, near in zip(measured, nearest, strict=True)]
    dimensions = iter(scales.dimensions([f for group in figures for f in group.values()]))
    return [
        _result(t, scales, m, near, dict(zip(group, dimensions, strict=False)))
        for m, near, group in zip(measured, nearest, figures, strict=True)
    ]


def place_covariance(t: Transom, scales: Scales) -> tuple[tuple[float, ...], ...]:
    """Covariance of x, y, x, y … of the fittings in their order, mm²."""
    values = [c for m in measured_fittings(t) for c in (m.centre.x, m.centre.y)]
    return tuple(map(tuple, scales.covariance(values).tolist())) if values else ()


def _measured(t: Transom, fitting: Fitting) -> MeasuredFitting | None:
    own = [i for i, p in t.infos.items() if p.of == fitting.id]
    circle = t.network.circles.get(fitting.id)
    if circle is not None:
        pad = t.network.pads.get(fitting.on or "")
        height = parameter(t.x, pad) if pad is not None else 0.0
        chart = (parameter(t.x, circle), parameter(t.x, circle + 1), height)
        rim_radius = parameter(t.x, circle + 2) + parameter(t.x, t.network.rim_edges[fitting.id])
        rim = Rim(t.rolled.of(Place(*chart)), rim_radius)
        return MeasuredFitting(fitting, rim, t.in_system(chart), tuple(own))
    corners = [i for i in own if t.infos[i].kind is MarkKind.FITTING_CORNER]
    if fitting.shape is FittingShape.RECTANGLE and len(corners) == 4:
        return _rectangle(t, fitting, corners)
    centre_mark = next((i for i in own if t.infos[i].kind is MarkKind.FITTING_CENTRE), None)
    if centre_mark is None:
        return None
    radius = fitting.diameter_mm / 2.0 if fitting.diameter_mm is not None else 0.0
    return MeasuredFitting(fitting, Rim(t.developed[centre_mark], radius), t.places[centre_mark], (centre_mark,))


def _rectangle(t: Transom, fitting: Fitting, corners: list[str]) -> MeasuredFitting:
    """Corners anticlockwise from the lower port one; the width is the side that starts there."""
    xy = np.array([(float(t.developed[c].x), float(t.developed[c].y)) for c in corners])
    order = order_round_centroid(xy)
    start = int(np.argmin(xy[order].sum(axis=1)))
    names = [corners[i] for i in np.roll(order, -start)]
    a, b, c, d = (t.developed[i] for i in names)
    rolled, centre = (
        Place(dot([0.25] * 4, [p.x for p in four]), dot([0.25] * 4, [p.y for p in four]))
        for four in ((a, b, c, d), t.at(names))
    )
    width = (hypot(b.x - a.x, b.y - a.y) + hypot(c.x - d.x, c.y - d.y)) * 0.5
    height = (hypot(d.x - a.x, d.y - a.y) + hypot(c.x - b.x, c.y - b.y)) * 0.5
    roll = float(atan2(b.y - a.y + c.y - d.y, b.x - a.x + c.x - d.x))
    return MeasuredFitting(fitting, Rim(rolled, 0.0, (a, b, c, d)), centre, tuple(names), width, height, roll)


def _nearest(m: MeasuredFitting, others: list[MeasuredFitting]) -> tuple[str, Number] | None:
    gaps = [(o.fitting.id, clearance(m.rim, o.rim)) for o in others if o is not m]
    return min(gaps, key=lambda gap: float(gap[1])) if gaps else None


def _figures(t: Transom, m: MeasuredFitting, near: tuple[str, Number] | None) -> dict[str, Figure]:
    values: dict[str, Number | None] = {
        "x": m.centre.x,
        "girth": m.rim.centre.x if t.is_bowed else None,
        "y": m.centre.y,
        "below_reference": t.reference_height - m.centre.y if t.reference_height is not None else None,
        "diameter": m.rim.radius * 2.0 if m.fitting.id in t.network.circles else None,
        "width": m.width,
        "height": m.height,
        "clearance": near[1] if near is not None else None,
    }
    labels = {
        "x": "from the centreline",
        "girth": "from the centreline along the surface",
        "y": "up from the keel point",
        "below_reference": "below the reference line",
        "diameter": "diameter",
        "width": "width",
        "height": "height",
        "clearance": f"clear of {_name(t, near[0])}" if near is not None else "",
    }
    name = m.fitting.name or m.fitting.id
    return {
        key: Figure(
            f"fitting_{m.fitting.id}_{key}", f"{name}, {labels[key]}", "Fittings", Quantity.LENGTH, value, m.made_from
        )
        for key, value in values.items()
        if value is not None
    }


def _name(t: Transom, fitting: str) -> str:
    return next(f.name or f.id for f in t.network.job.fittings if f.id == fitting)


def _result(
    t: Transom, scales: Scales, m: MeasuredFitting, near: tuple[str, Number] | None, d: dict[str, Dimension]
) -> FittingResult:
    value, u = proud(m.fitting)
    column = t.network.points.columns[t.network.index[m.made_from[0]], 2]
    if column >= 0:
        height = parameter(t.x, int(column))
        value, u = float(height), float(scales.standard([height])[0])
    f = m.fitting
    return FittingResult(
        id=f.id,
        name=f.name,
        kind=str(f.kind),
        shape=str(f.shape),
        plan=str(f.plan),
        x=d["x"],
        below_reference=d.get("below_reference"),
        y=d["y"],
        diameter=d.get("diameter"),
        width=d.get("width"),
        height=d.get("height"),
        proud_mm=value,
        u_proud_mm=u,
        nearest=near[0] if near is not None else None,
        clearance=d.get("clearance"),
        roll_rad=m.roll,
        girth=d.get("girth"),
    )


def mapped(result: R, change: Callable[[Dimension], Dimension]) -> R:
    """The result with every dimension changed."""
    changed: dict[str, Any] = {
        f.name: change(value) for f in fields(result) if isinstance(value := getattr(result, f.name), Dimension)
    }
    return replace(result, **changed)
