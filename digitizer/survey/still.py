"""
Answers that hardly move while something else is dragged: shifted by first order instead of worked out again.

A fitting doesn't move when a mark on the chine is dragged, but that its place is adjusted with everything else. As
long as a figure moves by less than a quarter of its u, its sensitivities stay the same to a part in a thousand, so that
value + sensitivity · step is the value and U stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number, gradients
from digitizer.survey.dimensions import Figure
from digitizer.survey.fittings import mapped
from digitizer.survey.model import Dimension, FittingResult
from digitizer.survey.uncertainty import Scales

SMALL_SHIFT = 0.25
"""Largest part of its u by which a figure is merely shifted."""
SMALL_SHARE = 1e-3
"""Change of a figure's variance below which its u is left as it is."""


@dataclass(frozen=True)
class Watched:
    """Figures as they were: sensitivities (k, n), standard uncertainties (k,), the observations' influences (k, m)."""

    sensitivities: FloatArray
    u: FloatArray
    influence: FloatArray

    @classmethod
    def of(cls, numbers: Sequence[Number], scales: Scales) -> Watched:
        """The figures of a full measurement."""
        sensitivities = gradients(numbers, len(scales.estimate.x))
        return cls(sensitivities, scales.standard(numbers), scales.estimate.influence(sensitivities))

    def shifts(self, step: FloatArray, reweighed: FloatArray) -> FloatArray | None:
        """
        Change (k,) of each figure, or None where one of them has to be worked out again.

        Parameters
        ----------
        step : (n,)
            Change of the parameters.
        reweighed : (m,)
            Relative change of the observations' variances.
        """
        out = self.sensitivities @ step
        changed = np.flatnonzero(reweighed)
        spread = self.influence[:, changed] ** 2 @ np.abs(reweighed[changed])
        if np.any(np.abs(out) > SMALL_SHIFT * self.u) or np.any(spread > SMALL_SHARE * self.u**2):
            return None
        return np.asarray(out)


def shifted_fittings(
    results: Sequence[FittingResult], figures: Sequence[Figure], shifts: FloatArray
) -> list[FittingResult]:
    """The fittings with each of their figures shifted, mm."""
    by_code = {f.code: by for f, by in zip(figures, shifts.tolist(), strict=True)}

    def shift(d: Dimension) -> Dimension:
        return shifted(d, by_code.get(d.code, 0.0))

    return [mapped(r, shift) for r in results]


def shifted(d: Dimension, by: float) -> Dimension:
    """A dimension moved along, its interval with it."""
    return replace(d, value=d.value + by, lower=d.lower + by, upper=d.upper + by)
