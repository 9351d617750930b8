"""
Start values: a pose for each photo, then every point, line and circle from back-projected marks.

A target that lies on the face gives the pose. Without one, tilts are tried over a coarse grid: for each, all
marks are cast back on the face, the scale is taken from the known lengths, and the whole network is asked
how well that fits. The lens stays at its prior until the poses have settled.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT, BoolArray, FloatArray, System
from digitizer.adjustment.solve import minimised
from digitizer.errors import AdjustmentError, NotConvergedError
from digitizer.geometry.rotations import rotation_matrix
from digitizer.survey.casting import Caster, stray_rim_marks
from digitizer.survey.network import Network

SETTLING_STEPS = 25
SETTLED = 1.0
"""Settling ends when a step lowers the square sum by less than this."""
CANDIDATES = 3
RIVAL = 4.0
"""Candidates that fit this many times worse than the best are not pursued."""
TWIN_CHI_SQUARE = 25.0
"""A mirrored pose whose square sum is larger by more than this is out of the question."""


@dataclass(frozen=True)
class Start:
    """Start values (n,), those of a mirrored pose that fits nearly as well, rows (m,) of marks on the wrong thing."""

    x: FloatArray
    twin: FloatArray | None
    suspects: BoolArray


def start_values(n: Network, system: System) -> Start:
    """Best start for a network; raises AdjustmentError where no pose puts the marks on the face."""
    caster = Caster(n)
    candidates = [
        x
        for pose, curvature in itertools.product(caster.face_poses(), caster.curvatures().tolist())
        if (x := caster.placed(pose, curvature)) is not None
    ]
    if not candidates:
        raise AdjustmentError(
            "The marks can't all lie on one transom in front of the camera: look for a mark on the wrong thing."
        )
    ranked = sorted(candidates, key=lambda x: _robust_cost(system, x))
    suspects = _rows_of(system, stray_rim_marks(n, ranked[0]))
    weights = np.where(suspects, REJECTED_WEIGHT, 1.0)
    close = [x for x in ranked[:CANDIDATES] if _robust_cost(system, x) < RIVAL * _robust_cost(system, ranked[0])]
    best = min((_settled(n, system, x, weights) for x in close), key=lambda pair: pair[0])
    twin = _twin(n, system, caster, best[1], weights)
    if twin is not None and twin[0] < RIVAL * best[0]:
        # An unknown lens can make the wrong one fit better while it is held, so let both take their own.
        freed = (_settled(n, system, x, weights, lens=True) for _, x in (best, twin))
        best, twin = sorted(freed, key=lambda pair: pair[0])
        if twin[0] - best[0] < TWIN_CHI_SQUARE:
            return Start(best[1], twin[1], suspects)
    return Start(best[1], None, suspects)


def _rows_of(system: System, points: set[str]) -> BoolArray:
    """Rows (m,) of the marks of some points, and of what is known of those marks."""
    groups = {f"mark {point}" for point in points}
    return np.array([row.group in groups for row in system.rows], dtype=bool)


def _robust_cost(system: System, x: FloatArray) -> float:
    return float(np.sum(np.minimum(np.abs(system.residuals(x)), 1000.0)))


def _settled(
    n: Network, system: System, x: FloatArray, weights: FloatArray, lens: bool = False
) -> tuple[float, FloatArray]:
    """Square sum and parameters after settling, the lens held unless freed; infinite where it won't settle."""
    free = n.layout.free
    if not lens:
        for view in n.views.values():
            free[view.lens] = False
    try:
        x, _ = minimised(system, x, free, weights, SETTLED, max_iterations=SETTLING_STEPS)
    except NotConvergedError:
        return math.inf, x
    return float(np.sum((system.residuals(x) * weights) ** 2)), x


def _twin(
    n: Network, system: System, caster: Caster, x: FloatArray, weights: FloatArray
) -> tuple[float, FloatArray] | None:
    """
    The other minimum that a planar pose can have: the face tilted the opposite way about the line of sight.

    None where it settles in the same place.
    """
    curvature = 0.0 if n.surface is None else float(x[n.surface.columns[0]])
    mirrored = caster.placed(caster.mirrored(x), curvature)
    if mirrored is None:
        return None
    square_sum, settled = _settled(n, system, mirrored, weights)
    turn = n.views[caster.anchor].pose[:3]
    cosine = (np.trace(rotation_matrix(x[turn]).T @ rotation_matrix(settled[turn])) - 1.0) / 2.0
    same = math.acos(max(-1.0, min(1.0, float(cosine)))) < math.radians(1.0)
    return None if same else (square_sum, settled)
