"""
What a dimension rests on: which observations its variance comes from, and how far each of them moves it.

The variance of a dimension is the sum of squares of its influences, the change per whitened unit of each
observation (G C Jᵀ), because whitened observations are uncorrelated with unit variance; so each observation has
its share, and the shares sum to one (the law of propagation, JCGM 100:2008, 5.1.2, told by observation).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from digitizer.adjustment.observations import FloatArray, Row, System
from digitizer.adjustment.propagation import Number, gradients
from digitizer.camera.equations import ImagePoints
from digitizer.survey.dimensions import Transom, bow, figures, free_deviations, straightness_deviations
from digitizer.survey.fittings import figures_with_clearance
from digitizer.survey.live import Live
from digitizer.survey.mark_records import Influence
from digitizer.survey.model import Quantity

CARRYING = 0.9
"""Part of the variance that is told observation by observation."""
_GROUPED = {
    "target corner": "corners of {subject} in {photo}",
    "target": "size, flatness and lie of {subject}",
    "lens": "lens of {subject}",
    "straight line": "straightness of {subject}",
    "rim": "roundness of {subject}",
}
"""Words for observations that are taken together."""


def influences(live: Live, code: str) -> tuple[Influence, ...]:
    """
    Observations behind a dimension, the strongest first; a mark's two coordinates and a target's corners as one.

    Parameters
    ----------
    live
        A job measured in full.
    code
        Of the dimension. One of a largest departure speaks of the place that departs most.

    Returns
    -------
    tuple of Influence
        Their shares sum to one. Empty where the dimension comes from elsewhere than the adjustment.
    """
    found = _number(live.base.transom, code)
    if found is None:
        return ()
    estimate, rows = live.base.found.estimate, live.system.rows
    by_row = estimate.influence(gradients([found[0]], len(estimate.x)))[0]
    total = float(by_row @ by_row)
    if total <= 0.0:
        return ()
    by_unit = _per_unit(live.system, by_row * estimate.weights) * found[1]
    groups: dict[tuple[str, str, str | None], list[int]] = defaultdict(list)
    for i, row in enumerate(rows):
        groups[row.kind, row.subject, row.photo].append(i)
    out = [_influence([rows[i] for i in own], by_row[own] ** 2 / total, by_unit[own]) for own in groups.values()]
    return tuple(sorted(out, key=lambda each: -each.share))


def carrying(found: Sequence[Influence], part: float = CARRYING) -> tuple[Influence, ...]:
    """The strongest of them, as many as hold a part of the variance."""
    out: list[Influence] = []
    held = 0.0
    for each in found:
        if held >= part:
            break
        out.append(each)
        held += each.share
    return tuple(out)


def _number(t: Transom, code: str) -> tuple[Number, float] | None:
    """The number behind a dimension, and what its unit is of mm or rad."""
    for figure in (*figures(t), *figures_with_clearance(t)):
        if figure.code == code:
            return figure.value, math.degrees(1.0) if figure.quantity is Quantity.ANGLE else 1.0
    return next(((value, 1.0) for name, value in _others(t) if name == code), None)


def _others(t: Transom) -> Iterator[tuple[str, Number]]:
    shape = bow(t)
    if shape is not None:
        figure, curvature, _ = shape
        yield figure.code, figure.value
        if float(curvature) != 0.0:
            yield "bow_radius", 1.0 / curvature
    for name, (_, off) in (
        ("reference_straightness", straightness_deviations(t)),
        ("unfairness", free_deviations(t)),
    ):
        if off:
            yield name, max(off, key=lambda each: abs(float(each)))


def _per_unit(system: System, by_row: FloatArray) -> FloatArray:
    """Change (m,) per unit of each observation, from the change per whitened one; angles per degree."""
    u = np.array([row.u * (math.degrees(1.0) if row.unit == "rad" else 1.0) for row in system.rows])
    out = by_row / u
    for block, rows in zip(system.blocks, system.slices, strict=True):
        if isinstance(block, ImagePoints):  # its two coordinates are whitened together
            out[rows] = np.einsum("ni,nij->nj", by_row[rows].reshape(-1, 2), block.whiten).ravel()
    return np.asarray(out)


def _influence(rows: Sequence[Row], shares: FloatArray, by_unit: FloatArray) -> Influence:
    first = rows[0]
    is_mark = first.kind == "mark"
    words = _GROUPED.get(first.kind, "{kind} of {subject}")
    label = words.format(kind=first.kind, subject=first.subject, photo=first.photo)
    if is_mark:
        label = f"mark {first.subject}"
    elif len(rows) == 1:
        label = first.label
    alone = is_mark or len(rows) == 1
    return Influence(
        subject=first.subject,
        kind=first.kind,
        label=label,
        photo=first.photo,
        share=float(shares.sum()),
        unit="°" if first.unit == "rad" else first.unit,
        sensitivity=tuple(by_unit.tolist()) if alone else (),
    )
