"""
The further observations that would help most.

Each candidate is tried in the covariance, without solving again: with Z the figures and B the candidate's rows
in the factorised parameters, and E its own new unknowns, the covariance after it is
Z Zᵀ − Z Bᵀ (I + B Bᵀ + c E Eᵀ)⁻¹ B Zᵀ with c large.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray, Row
from digitizer.adjustment.propagation import Number, gradients
from digitizer.adjustment.solve import Estimate
from digitizer.job.model import MarkKind, Side
from digitizer.survey.dimensions import Transom
from digitizer.survey.model import Dimension, FittingResult, Quantity
from digitizer.survey.network import CLICKS
from digitizer.survey.virtual import virtual_images, virtual_points
from digitizer.transom.system import distance

WANTED_DEG = 0.25
WANTED_BEAM_MM = 5.0
WANTED_FITTING_MM = 3.0
"""Expanded uncertainties that a shop is content with (common practice, no published source)."""
U_TAPE_MM = 1.0
U_STRING_PX, U_STRING_MM = 0.5, 0.5
U_CAREFUL_PX = 0.3
WELL_MARKED_LINE = 5
UNKNOWN = 1e8
"""Variance given to a candidate's own new unknowns."""


@dataclass(frozen=True)
class Candidate:
    """An observation that could be added: whitened rows (m, n) and derivatives (m, e) by its own unknowns."""

    text: str
    rows: FloatArray
    own: FloatArray


@dataclass(frozen=True)
class Advice:
    """What to add, and what it would do for the figure that gains most."""

    text: str
    dimension: Dimension
    U_after: float


def key_dimensions(dimensions: Sequence[Dimension], fittings: Sequence[FittingResult]) -> list[tuple[Dimension, float]]:
    """Figures that a shop cuts from, each with the U it would be content with."""
    out = [(d, WANTED_DEG) for d in dimensions if d.quantity is Quantity.ANGLE and d.code.startswith("deadrise")]
    out += [(d, WANTED_BEAM_MM) for d in dimensions if d.code in ("chine_beam", "chine_beam_inner", "top_width")]
    out += [(d, WANTED_FITTING_MM) for f in fittings for d in (f.x, f.y)]
    return out


def advice(
    t: Transom, estimate: Estimate, factor: float, keys: Sequence[tuple[Dimension, float]], values: Sequence[Number]
) -> list[Advice]:
    """
    Additions, each by itself, best first; none where all figures are good enough or nothing would help by a tenth.

    `values` are the numbers behind `keys`, in the same order.
    """
    wanted = np.array([limit for _, limit in keys])
    now = np.array([d.U for d, _ in keys])
    if not len(keys) or np.all(now <= wanted):
        return []
    unit = np.array([math.degrees(1.0) if d.quantity is Quantity.ANGLE else 1.0 for d, _ in keys])
    Z = estimate.solved(gradients(values, len(estimate.x)))
    enough = 0.81 * float(np.sum((now / wanted) ** 2))
    tried: list[tuple[float, Advice]] = []
    for candidate in _candidates(t, estimate):
        after = 2.0 * factor * unit * np.sqrt(_variances_after(estimate, Z, candidate))
        score = float(np.sum((after / wanted) ** 2))
        if score <= enough:
            most = int(np.argmax((now - after) / wanted))
            tried.append((score, Advice(candidate.text, keys[most][0], float(after[most]))))
    return [each for _, each in sorted(tried, key=lambda pair: pair[0])]


def _variances_after(estimate: Estimate, Z: FloatArray, c: Candidate) -> FloatArray:
    B = estimate.solved(c.rows)
    M = np.eye(len(B)) + B @ B.T + UNKNOWN * c.own @ c.own.T
    gain = np.linalg.solve(M, B @ Z.T)
    return np.asarray(np.maximum(np.einsum("ij,ij->i", Z, Z) - np.einsum("ij,ji->i", Z @ B.T, gain), 0.0))


def _candidates(t: Transom, estimate: Estimate) -> Iterator[Candidate]:
    yield from _tape_figures(t)
    if len(t.ids(MarkKind.REFERENCE_LINE)) < WELL_MARKED_LINE:
        yield from _strings(t, level=True)
    yield from _strings(t, level=False)
    yield from _spread_markers(t)
    yield from _careful_marks(t, estimate)


def _tape_figures(t: Transom) -> Iterator[Candidate]:
    taken = {frozenset((k.from_point, k.to_point)) for k in t.network.job.lengths if k.active}
    port, starboard = ({k: t.one(k, side) for k in MarkKind} for side in (Side.PORT, Side.STARBOARD))
    pairs = [
        ("a tape figure across the chines", port[MarkKind.CHINE], starboard[MarkKind.CHINE]),
        ("a tape figure across the top corners", port[MarkKind.TOP_CORNER], starboard[MarkKind.TOP_CORNER]),
        (
            "a diagonal by tape, port chine to starboard top corner",
            port[MarkKind.CHINE],
            starboard[MarkKind.TOP_CORNER],
        ),
        ("a tape figure from the keel to the port top corner", t.keel, port[MarkKind.TOP_CORNER]),
        ("a tape figure from the port chine to the port top corner", port[MarkKind.CHINE], port[MarkKind.TOP_CORNER]),
    ]
    for text, a, b in pairs:
        if a is not None and b is not None and frozenset((a, b)) not in taken:
            row = gradients([distance(t.places[a], t.places[b])], len(t.x)) / U_TAPE_MM
            yield Candidate(f"{text} (± 2 mm)", row, np.zeros((1, 1)))


def _extent(t: Transom) -> tuple[float, float, float, float]:
    """Left, right, low and high of the marks, mm in the transom system."""
    xs = [float(p.x) for p in t.places.values()]
    ys = [float(p.y) for p in t.places.values()]
    return min(xs), max(xs), min(ys), max(ys)


def _strings(t: Transom, level: bool) -> Iterator[Candidate]:
    """A straight string marked at nine places, across or up and down."""
    left, right, low, high = _extent(t)
    steps = np.linspace(0.05, 0.95, 9)
    if level:
        text = "a string stretched straight across the transom, marked along its whole length"
        points = [(left + s * (right - left), low + 0.85 * (high - low)) for s in steps]
    else:
        text = "a second straight line, up and down the transom (a string or straightedge), marked along its length"
        points = [((left + right) / 2.0, low + s * (high - low)) for s in steps]
    _, image_rows, by_point = _pseudo_marks(t, np.array(points))
    along, across = (0, 1) if level else (1, 0)
    direction = by_point[:, :, along] / np.linalg.norm(by_point[:, :, along], axis=1)[:, None]
    normal = np.column_stack([-direction[:, 1], direction[:, 0]])
    shift = np.einsum("na,na->n", normal, by_point[:, :, across])
    noise = np.hypot(U_STRING_PX, U_STRING_MM * shift)
    rows = np.einsum("na,nak->nk", normal, image_rows) / noise[:, None]
    spread = np.linspace(-1.0, 1.0, len(steps))
    yield Candidate(text, rows, np.column_stack([shift, shift * spread]) / noise[:, None])


def _spread_markers(t: Transom) -> Iterator[Candidate]:
    """Four markers near the corners, all six distances between their middles taped."""
    left, right, low, high = _extent(t)
    x, y = (
        (left + right) / 2.0 + np.array([-0.4, 0.4, 0.4, -0.4]) * (right - left),
        low + np.array([0.5, 0.5, 0.9, 0.9]) * (high - low),
    )
    points, image_rows, by_point = _pseudo_marks(t, np.column_stack([x, y]))
    own = np.zeros((14, 8))
    rows = np.zeros((14, len(t.x)))
    rows[:8] = image_rows.reshape(8, -1) / U_CAREFUL_PX
    for i in range(4):
        own[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] = by_point[i, :, :2] / U_CAREFUL_PX
    for k, (i, j) in enumerate([(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3)], start=8):
        unit = (points[j] - points[i])[:2] / np.linalg.norm((points[j] - points[i])[:2]) / U_TAPE_MM
        own[k, 2 * j : 2 * j + 2], own[k, 2 * i : 2 * i + 2] = unit, -unit
    yield Candidate("four printed markers near the corners with the six distances between them taped", rows, own)


def _pseudo_marks(t: Transom, places: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points (k, 3) in the datum system, with derivatives of their images: (k, 2, n) by all, (k, 2, 3) by the point."""
    points, _ = virtual_points(t, places)
    return points, *virtual_images(t, next(iter(t.network.views.values())), points)


def _careful_marks(t: Transom, estimate: Estimate) -> Iterator[Candidate]:
    """All marks placed once more, at a higher zoom or snapped to the edge."""
    rows = t.network.system.rows
    clicked = [i for i, row in enumerate(rows) if row.source == CLICKS and estimate.used[i]]
    coarse = [i for i in clicked if _click_px(rows[i]) > 2.0 * U_CAREFUL_PX]
    if not coarse:
        return
    _, jacobian = t.network.system.linearised(t.x)
    factor = np.array([_more_weight(rows[i]) for i in coarse])
    text = f"placing the marks again at a higher zoom (to {U_CAREFUL_PX:g} px)"
    yield Candidate(text, jacobian[coarse] * factor[:, None], np.zeros((len(coarse), 1)))


def _click_px(row: Row) -> float:
    """The click's part of a mark's u."""
    return row.u * math.sqrt(dict(row.split).get(CLICKS, 1.0))


def _more_weight(row: Row) -> float:
    """Root of the weight that a careful click adds to a mark; how well the edge itself is defined stays as it is."""
    after = row.u**2 - _click_px(row) ** 2 + U_CAREFUL_PX**2
    return math.sqrt(row.u**2 / after - 1.0)
