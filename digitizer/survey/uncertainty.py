"""From figures with sensitivities to dimensions with uncertainty and budget."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from digitizer.adjustment.budget import source_matrix, variance_by_source
from digitizer.adjustment.montecarlo import coverage_interval, sampled_deviations, standard_draws
from digitizer.adjustment.observations import FloatArray, Row
from digitizer.adjustment.propagation import Number, gradients
from digitizer.adjustment.solve import Adjusted
from digitizer.survey.dimensions import Figure
from digitizer.survey.model import Contribution, Dimension, Quantity

DRAWS = 4000
SEED = 20260101
"""Fixed, so that the same job gives the same report."""
SMALLEST_SHARE = 0.005
WHICH_POSE = "which of two camera positions"


class Scales:
    """The adjustment as the source of uncertainties: `factor` is the root of the variance factor, at least 1."""

    def __init__(
        self,
        estimate: Adjusted,
        rows: Sequence[Row],
        factor: float,
        by_source: tuple[tuple[str, ...], FloatArray] | None = None,
    ) -> None:
        self.estimate, self.factor = estimate, factor
        self.sources, self.shares = source_matrix(rows) if by_source is None else by_source

    def standard(self, values: Sequence[Number]) -> FloatArray:
        """Standard uncertainties (k,) of numbers, in their own units."""
        z = self.estimate.solved(gradients(values, len(self.estimate.x)))
        return np.asarray(self.factor * np.sqrt(np.einsum("ij,ij->i", z, z)))

    def covariance(self, values: Sequence[Number]) -> FloatArray:
        """Covariance (k, k) of numbers, in their own units."""
        z = self.estimate.solved(gradients(values, len(self.estimate.x)))
        return np.asarray(self.factor**2 * z @ z.T)

    def dimensions(self, figures: Sequence[Figure]) -> list[Dimension]:
        """Dimensions of figures; first order, with the 95 % interval symmetrical at two standard uncertainties."""
        if not figures:
            return []
        influence = self.estimate.influence(gradients([f.value for f in figures], len(self.estimate.x)))
        variances = self.factor**2 * variance_by_source(influence, self.shares)
        return [self._dimension(f, v) for f, v in zip(figures, variances, strict=True)]

    def _dimension(self, f: Figure, variances: FloatArray) -> Dimension:
        unit = math.degrees(1.0) if f.quantity is Quantity.ANGLE else 1.0
        by_source: list[float] = variances.tolist()
        value, u = float(f.value) * unit, math.sqrt(sum(by_source)) * unit
        return Dimension(
            f.code,
            f.label,
            f.group,
            f.quantity,
            value,
            u,
            value - 2.0 * u,
            value + 2.0 * u,
            f.made_from,
            self._budget(by_source, unit),
            f.note,
        )

    def _budget(self, variances: list[float], unit: float) -> tuple[Contribution, ...]:
        total = sum(variances)
        lines = [
            Contribution(name, math.sqrt(v) * unit, v / total)
            for name, v in zip(self.sources, variances, strict=True)
            if v > 0.0 and v >= SMALLEST_SHARE * total
        ]
        return tuple(sorted(lines, key=lambda c: -c.share))

    def largest_deviation(self, figure: Figure, deviations: Sequence[Number]) -> Dimension:
        """
        Dimension for the largest of several deviations, mm.

        It sits at a minimum where first order is wrong, so its value (the mean), u and interval come from draws over
        the deviations' covariance (JCGM 101:2008, 7).
        """
        values = np.array([float(d) for d in deviations])
        sensitivities = gradients(deviations, len(self.estimate.x))
        draws = values + self.factor * sampled_deviations(self.estimate, sensitivities, DRAWS, SEED)
        largest = np.max(np.abs(draws), axis=1)
        lower, upper = coverage_interval(largest)
        value, u = float(np.mean(largest)), float(np.std(largest))
        return replace(self.dimensions([figure])[0], value=value, u=u, lower=lower, upper=upper)


RADIUS_U_LIMIT = 0.2
"""Relative u of the sagitta above which a radius means nothing and is not given."""


def bow_dimensions(scales: Scales, figure: Figure, curvature: Number, chord: float) -> list[Dimension]:
    """
    Sagitta first, radius derived from it, mm.

    The radius is a ratio of small things, so its interval comes from draws of the curvature (JCGM 101:2008, 7).
    """
    found = scales.dimensions([figure])
    rise = found[0]
    if abs(rise.value) < 1e-9 or rise.u / abs(rise.value) > RADIUS_U_LIMIT:
        return found
    u = float(scales.standard([curvature])[0])
    radii = 1.0 / (float(curvature) + u * standard_draws(DRAWS, 1, SEED)[:, 0])
    lower, upper = coverage_interval(radii)
    note = f"derived from the sagitta over {chord:.0f} mm; interval by Monte Carlo"
    radius = replace(
        rise,
        code="bow_radius",
        label="Radius of the bow",
        value=1.0 / float(curvature),
        u=float(np.std(radii)),
        lower=lower,
        upper=upper,
        note=note,
    )
    return [rise, radius]


def spanning(d: Dimension, other: float) -> Dimension:
    """
    The dimension with u so enlarged that ± 2u also holds a second solution that fits as well, with its own ± 2u.

    Parameters
    ----------
    d
        From the better solution.
    other
        The same dimension's value in the other solution.
    """
    u = d.u + abs(other - d.value) / 2.0
    if u <= d.u * (1.0 + 1e-9):
        return d
    lower, upper = min(d.lower, d.value - 2.0 * u), max(d.upper, d.value + 2.0 * u)
    extra = Contribution(WHICH_POSE, math.sqrt(u**2 - d.u**2), 1.0 - (d.u / u) ** 2)
    lines = (extra, *(replace(c, share=c.share * (d.u / u) ** 2) for c in d.budget))
    budget = tuple(sorted(lines, key=lambda c: -c.share))
    return replace(d, u=u, lower=lower, upper=upper, budget=budget)
