"""The fitting schedule: where each fitting sits, how large it is, and how near the next one is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import Number, Propagated, atan2, dot, hypot
from digitizer.geometry.polygons import order_round_centroid
from digitizer.job.model import Fitting, FittingShape, MarkKind
from digitizer.survey.dimensions import Figure, Transom
from digitizer.survey.model import DefectResult, Dimension, FittingResult, Quantity
from digitizer.survey.network import proud
from digitizer.survey.uncertainty import Scales
from digitizer.transom.fittings import Rim, bare, clear_at_least, clearance
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
    measured, nearest, figures = _with_clearance(t)
    dimensions = iter(scales.dimensions([f for group in figures for f in group.values()]))
    return [
        _result(m, near, dict(zip(group, dimensions, strict=False)), stands)
        for m, near, group, stands in zip(measured, nearest, figures, _stand_off(t, scales, measured), strict=True)
    ]


def figures_with_clearance(t: Transom) -> list[Figure]:
    """All figures of `fitting_results`, in its order."""
    return [f for group in _with_clearance(t)[2] for f in group.values()]


def _with_clearance(
    t: Transom,
) -> tuple[list[MeasuredFitting], list[tuple[str, Number] | None], list[dict[str, Figure]]]:
    measured = measured_fittings(t)
    nearest = _nearest(measured)
    return measured, nearest, [_figures(t, m, near) for m, near in zip(measured, nearest, strict=True)]


def _stand_off(t: Transom, scales: Scales, measured: list[MeasuredFitting]) -> list[tuple[float, float]]:
    """How far each rim stands off the face, and its u, mm: as adjusted, or as assumed where that was held."""
    columns = [int(t.network.points.columns[t.network.index[m.made_from[0]], 2]) for m in measured]
    heights: list[Number] = [parameter(t.x, c) if c >= 0 else 0.0 for c in columns]
    u = scales.standard(heights).tolist()
    return [
        (float(height), u) if isinstance(height, Propagated) else proud(m.fitting)
        for m, height, u in zip(measured, heights, u, strict=True)
    ]


def place_covariance(t: Transom, scales: Scales) -> tuple[tuple[float, ...], ...]:
    """Covariance of x, y, x, y … of the fittings in their order, mm²."""
    values = [c for m in measured_fittings(t) for c in (m.centre.x, m.centre.y)]
    return tuple(map(tuple, scales.covariance(values).tolist())) if values else ()


def _measured(t: Transom, fitting: Fitting) -> MeasuredFitting | None:
    own = t.of(fitting.id)
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


def _nearest(measured: list[MeasuredFitting]) -> list[tuple[str, Number] | None]:
    """Of each fitting the one that is least clear of it, and how clear; those too far off are not looked at closely."""
    rims = [bare(m.rim) for m in measured]
    out: list[tuple[str, Number] | None] = []
    for i, rim in enumerate(rims):
        best: tuple[float, int] | None = None
        for bound, j in sorted((clear_at_least(rim, other), j) for j, other in enumerate(rims) if j != i):
            if best is not None and bound >= best[0]:
                break
            gap = float(clearance(rim, rims[j]))
            best = (gap, j) if best is None or gap < best[0] else best
        near = None if best is None else measured[best[1]]
        out.append(None if near is None else (near.fitting.id, clearance(measured[i].rim, near.rim)))
    return out


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
    m: MeasuredFitting, near: tuple[str, Number] | None, d: dict[str, Dimension], stands: tuple[float, float]
) -> FittingResult:
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
        proud_mm=stands[0],
        u_proud_mm=stands[1],
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
