"""
Start values: a pose for each photo, then every point, line and circle from back-projected marks.

A target that lies on the face gives the pose. Without one, tilts are tried over a coarse grid: for each, all
marks are cast back on the face, the scale is taken from the known lengths, and the whole network is asked
how well that fits. The lens stays at its prior until the poses have settled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray, System
from digitizer.adjustment.solve import minimised
from digitizer.errors import AdjustmentError, NotConvergedError
from digitizer.geometry.rotations import rotation_matrix
from digitizer.survey.casting import Caster
from digitizer.survey.network import Network

SETTLING_STEPS = 15
SETTLED = 1.0
"""Settling ends when a step lowers the square sum by less than this."""
RIVAL, RIVAL_OF_A_GOOD_FIT = 4.0, 1.5
"""Candidates that fit this many times worse than the best are not pursued."""
GOOD_FIT = 2.0
"""Square sum per observation of a settled start below which it can hardly be the wrong one."""
TWIN_CHI_SQUARE = 9.0
"""Two mirrored poses whose square sums differ by less than this can't be told apart."""


@dataclass(frozen=True)
class Start:
    """Start values (n,), and whether a mirrored pose fits nearly as well."""

    x: FloatArray
    twin: bool


def start_values(n: Network, system: System) -> Start:
    """Best start for a network; raises AdjustmentError where no pose puts the marks on the face."""
    caster = Caster(n)
    candidates = [x for pose in caster.face_poses() if (x := caster.placed(pose)) is not None]
    if not candidates:
        raise AdjustmentError(
            "The marks can't all lie on one transom in front of the camera: look for a mark on the wrong thing."
        )
    ranked = sorted(candidates, key=lambda x: _robust_cost(system, x))
    settled = _settle_best(n, system, ranked)
    twin = len(settled) > 1 and settled[1][0] - settled[0][0] < TWIN_CHI_SQUARE and _differ(n, settled)
    return Start(settled[0][1], twin)


def _robust_cost(system: System, x: FloatArray) -> float:
    return float(np.sum(np.minimum(np.abs(system.residuals(x)), 1000.0)))


def _settle_best(n: Network, system: System, ranked: list[FloatArray]) -> list[tuple[float, FloatArray]]:
    """Settle the best few with the lens held, the lowest square sum first."""
    free = n.layout.free
    for view in n.views.values():
        free[view.lens] = False
    weights = np.ones(len(system.rows))
    best = _robust_cost(system, ranked[0])
    settled: list[tuple[float, FloatArray]] = []
    for start in ranked[:4]:
        fits = bool(settled) and settled[0][0] < GOOD_FIT * len(system.rows)
        if _robust_cost(system, start) > best * (RIVAL_OF_A_GOOD_FIT if fits else RIVAL):
            continue
        try:
            x, _ = minimised(system, start, free, weights, SETTLED, max_iterations=SETTLING_STEPS)
        except NotConvergedError:
            continue
        settled.append((float(np.sum(system.residuals(x) ** 2)), x))
    settled.sort(key=lambda pair: pair[0])
    return settled or [(math.inf, ranked[0])]


def _differ(n: Network, settled: list[tuple[float, FloatArray]]) -> bool:
    """Whether the two best poses of the first photo differ by more than two degrees."""
    turn = next(iter(n.views.values())).pose[:3]
    first, second = (rotation_matrix(x[turn]) for _, x in settled[:2])
    cosine = (np.trace(first.T @ second) - 1.0) / 2.0
    return math.acos(max(-1.0, min(1.0, float(cosine)))) > math.radians(2.0)
