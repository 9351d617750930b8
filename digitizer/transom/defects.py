"""Cracks and damaged areas on the face rolled flat: length along a polyline, area and extents of an outline."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number, dot, hypot
from digitizer.transom.system import Place, girth


def polyline_length(places: Sequence[Place]) -> Number:
    """Length along places in order, mm."""
    legs = [girth(a, b) for a, b in pairwise(places)]
    return dot([1.0] * len(legs), legs)


def outline_length(places: Sequence[Place]) -> Number:
    """Length round places in order, mm."""
    return polyline_length([*places, places[0]])


def outline_area(places: Sequence[Place]) -> Number:
    """
    Area within places in order, mm², by the trapezium rule of surveyors.

    From the first place, so that digits are kept far from the origin.
    """
    origin = places[0]
    around = [(p.x - origin.x, p.y - origin.y) for p in places[1:]]
    pieces = [ax * by - bx * ay for (ax, ay), (bx, by) in pairwise(around)]
    area = dot([0.5] * len(pieces), pieces)
    return area if float(area) >= 0.0 else -area


def extents(places: Sequence[Place]) -> tuple[Number, Number, Number, Number]:
    """Least and greatest x, least and greatest y; mm."""
    xs, ys = [p.x for p in places], [p.y for p in places]
    return min(xs, key=float), max(xs, key=float), min(ys, key=float), max(ys, key=float)


def sideways(places: Sequence[Place]) -> list[tuple[Number, float]]:
    """
    For each leg, how far its end lies beside the line of the leg, and the leg's length; mm.

    The number is zero but carries its sensitivities: its variance over twice the length is what scatter adds to the
    leg's length on average.
    """
    out: list[tuple[Number, float]] = []
    for a, b in pairwise(places):
        ex, ey, length = float(b.x) - float(a.x), float(b.y) - float(a.y), float(hypot(b.x - a.x, b.y - a.y))
        if length > 0.0:
            out.append((((b.y - a.y) * ex - (b.x - a.x) * ey) / length, length))
    return out


def with_inserted(first: Sequence[str], others: Sequence[str], at: dict[str, FloatArray], closed: bool) -> list[str]:
    """
    The places `others`, each put into the run `first` where it makes the smallest detour.

    Parameters
    ----------
    first
        Names in order.
    others
        Names to be put between them, or beyond an end of an open run.
    at : name to (2,), mm
    """
    run = list(first)
    for name in others:
        gaps = [*pairwise(run), *([(run[-1], run[0])] if closed else [])]
        detours = [_detour(at[a], at[name], at[b]) for a, b in gaps]
        ends = [] if closed else [_away(at[run[0]], at[name]), _away(at[run[-1]], at[name])]
        best = int(np.argmin([*detours, *ends])) if detours or ends else 0
        position = best + 1 if best < len(gaps) else (0 if best == len(gaps) else len(run))
        run.insert(position, name)
    return run


def _detour(a: FloatArray, new: FloatArray, b: FloatArray) -> float:
    return _away(a, new) + _away(new, b) - _away(a, b)


def _away(a: FloatArray, b: FloatArray) -> float:
    return float(np.hypot(*(b - a)))
