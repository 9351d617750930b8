"""
Is flat good enough? One more parameter, the curvature, tried on the finished adjustment.

Nothing is switched: the test says whether a bowed face would fit significantly better, whether flat will do, or
that nothing in the job tells the two apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT, BoolArray
from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import Propagated
from digitizer.adjustment.reliability import Snooped
from digitizer.adjustment.solve import Estimate, RankDefect, adjust, factorised
from digitizer.adjustment.statistics import W_CRITICAL
from digitizer.errors import AdjustmentError
from digitizer.job.model import Face, FaceKind
from digitizer.survey.build import build
from digitizer.survey.network import Network
from digitizer.transom.surface import sagitta

TELLING_MM = 15.0
"""Expanded uncertainty of the sagitta below which the job can tell a bow that matters."""


CHORD_LIMIT, TINY = 1.9, 1e-12
"""A chord can't exceed the circle: it is cut at this part of the radius; a curvature below the other is none, 1/mm."""


@dataclass(frozen=True)
class Bow:
    """Sagitta over a chord by the evidence of the job, mm, with its standard uncertainty."""

    sagitta: float
    u: float
    chord: float

    @property
    def significant(self) -> bool:
        """Whether the bow is told from none at the level of the w-test."""
        return abs(self.sagitta) > W_CRITICAL * self.u

    @property
    def negligible(self) -> bool:
        """Whether a bow that matters would have been noticed, and none was."""
        size, U = abs(self.sagitta), 2.0 * self.u
        return not self.significant and U < TELLING_MM and (size <= U or size + U < TELLING_MM)


class BesideFlat:
    """
    The bow that one more parameter would find beside a flat solution, from one linear step.

    Parameters
    ----------
    n
        A network that takes the face as flat.
    """

    def __init__(self, n: Network) -> None:
        self.n = n
        self.bowed = build(replace(n.job, face=Face(FaceKind.BOWED)), n.facts, [s for _, s in n.sightings])

    def test_value(self, estimate: Estimate, rejected: BoolArray) -> float:
        """Curvature over its standard uncertainty, comparable with an observation's w; 0 where nothing tells it."""
        bowed = self._estimate(estimate, rejected)
        if bowed is None:
            return 0.0
        curvature, u = self._curvature(bowed)
        return abs(curvature / u)

    def over(self, found: Snooped, chord: float) -> Bow | None:
        """The bow over a beam, mm, followed to where it settles if it is told from none; none where it can't be had."""
        bowed = self._estimate(found.estimate, found.rejected)
        if bowed is None:
            return None
        beside = self._bow(bowed, chord)
        if not beside.significant:
            return beside
        try:
            return self._bow(adjust(self.bowed.system, bowed.x, self.bowed.layout.free), chord)
        except AdjustmentError:
            return beside

    def _bow(self, estimate: Estimate, chord: float) -> Bow:
        curvature, u = self._curvature(estimate)
        rise = sagitta(Propagated(curvature, np.ones(1)), min(chord, CHORD_LIMIT / max(abs(curvature), TINY)))
        assert isinstance(rise, Propagated)
        return Bow(rise.value, float(rise.gradient[0]) * u, chord)

    def _curvature(self, estimate: Estimate) -> tuple[float, float]:
        """Curvature and its u, 1/mm."""
        assert self.bowed.surface is not None
        curvature = parameter(estimate.x, int(self.bowed.surface.columns[0]))
        return curvature.value, math.sqrt(float(estimate.covariance_of(curvature.gradient[None, :])[0, 0]))

    def _estimate(self, estimate: Estimate, rejected: BoolArray) -> Estimate | None:
        """One linear step of the bowed network from the flat solution."""
        n, layout, system = self.n, self.bowed.layout, self.bowed.system
        values = dict(zip(n.layout.names, estimate.x.tolist(), strict=True))
        x = np.array([values.get(name, start) for name, start in zip(layout.names, layout.values, strict=True)])
        aside = {(row.label, row.subject) for row, out in zip(n.system.rows, rejected.tolist(), strict=True) if out}
        weights = np.array([REJECTED_WEIGHT if (row.label, row.subject) in aside else 1.0 for row in system.rows])
        system.reweigh(x)
        try:
            return factorised(system, x, layout.free, weights)
        except RankDefect:
            return None
