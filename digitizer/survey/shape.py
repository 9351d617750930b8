"""
Is flat good enough? One more parameter, the curvature, tried on the finished adjustment.

Nothing is switched: the test says whether a bowed face would fit significantly better, whether flat will do, or
that nothing in the job tells the two apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT
from digitizer.adjustment.points import parameter
from digitizer.adjustment.reliability import Snooped
from digitizer.adjustment.solve import RankDefect, factorised
from digitizer.adjustment.statistics import W_CRITICAL
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Face, FaceKind, Job, Sighting
from digitizer.survey.build import build
from digitizer.survey.network import Network

TELLING_MM = 15.0
"""Expanded uncertainty of the sagitta below which the job can tell a bow that matters."""


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
    def telling(self) -> bool:
        """Whether a bow that matters would have been noticed."""
        return 2.0 * self.u < TELLING_MM


def bow_beside_flat(
    n: Network, found: Snooped, job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting], chord: float
) -> Bow | None:
    """
    The bow that one more parameter would find beside a flat solution, from one linear step; none where it can't be had.

    `chord` is the beam over which the sagitta is stated, mm.
    """
    bowed = build(replace(job, face=Face(FaceKind.BOWED)), facts, sightings)
    values = dict(zip(n.layout.names, found.estimate.x.tolist(), strict=True))
    x = np.array([values.get(name, start) for name, start in zip(bowed.layout.names, bowed.layout.values, strict=True)])
    system = bowed.system
    aside = {(row.label, row.subject) for row, out in zip(n.system.rows, found.rejected.tolist(), strict=True) if out}
    weights = np.array([REJECTED_WEIGHT if (row.label, row.subject) in aside else 1.0 for row in system.rows])
    system.reweigh(x)
    try:
        estimate = factorised(system, x, bowed.layout.free, weights)
    except RankDefect:
        return None
    assert bowed.surface is not None
    curvature = parameter(estimate.x, int(bowed.surface.columns[0]))
    u = math.sqrt(float(estimate.covariance_of(curvature.gradient[None, :])[0, 0]))
    per_curvature = chord**2 / 8.0
    return Bow(curvature.value * per_curvature, u * per_curvature, chord)
