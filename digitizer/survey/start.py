"""
Start values: a pose for each photo, then every point, line and circle from back-projected marks.

A target that lies on the face gives the pose. Without one, tilts are tried over a coarse grid: for each, all
marks are cast back on the face, the scale is taken from the known lengths, and the whole network is asked
how well that fits. The lens stays at its prior until the poses have settled, and so do the rims stay out: a circle
through marks that crude poses scattered draws everything into a place where it stays.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT, BoolArray, FloatArray, System
from digitizer.adjustment.solve import minimised
from digitizer.errors import AdjustmentError, NotConvergedError
from digitizer.geometry.rotations import rotation_matrix
from digitizer.survey.casting import Caster, join_rims
from digitizer.survey.network import Network

RIM = "rim"
"""Kind of the rows that put marks on a circle."""
SETTLING_STEPS = 25
SETTLED = 1.0
"""Settling ends when a step lowers the square sum by less than this."""
CANDIDATES = 3
RIVAL = 4.0
"""Candidates that fit this many times worse than the best are not pursued."""
GOOD_FIT = 1.5
"""Square sum, per degree of freedom, of a start that is where it should be."""
TWIN_CHI_SQUARE = 25.0
"""A mirrored pose whose square sum is larger by more than this is out of the question."""


A_FEW = 3
"""As many marks on the background are a slip; more of them speak against the pose."""
APART = math.radians(10.0)
"""Photos whose lines of sight differ by more than this leave a mirrored pose no room."""


@dataclass(frozen=True)
class Start:
    """Start values (n,), those of a mirrored pose that fits nearly as well, rows (m,) of marks on the wrong thing."""

    x: FloatArray
    twin: FloatArray | None
    suspects: BoolArray


def start_values(n: Network, system: System) -> Start:
    """Best start for a network; raises AdjustmentError where no pose puts the marks on the face."""
    caster = Caster(n)
    poses = caster.face_poses()
    candidates = [
        x
        for pose, curvature in itertools.product(poses, caster.curvatures().tolist())
        if (x := caster.placed(pose, curvature)) is not None
    ]
    if not candidates:
        raise AdjustmentError(
            "The marks can't all lie on one transom in front of the camera: look for a mark on the wrong thing."
        )
    costs = [_robust_cost(system, x) for x in candidates]
    ranked = [candidates[i] for i in np.argsort(costs)[:CANDIDATES] if costs[i] < RIVAL * min(costs)]
    best = _best(n, system, ranked, one_pose=len(poses) == 1)
    _refuse_missed(caster, best)
    twin = _twin(n, system, caster, best)
    if twin is not None and twin.square_sum < RIVAL * best.square_sum:
        # An unknown lens can make the wrong one fit better while it is held, so let both take their own.
        freed = (_settled(n, system, pose.x, lens=True) for pose in (best, twin))
        best, twin = sorted(freed, key=lambda settled: settled.square_sum)
        if twin.square_sum - best.square_sum < TWIN_CHI_SQUARE:
            return Start(best.x, twin.x, best.suspects)
    return Start(best.x, None, best.suspects)


def _best(n: Network, system: System, ranked: Sequence[FloatArray], one_pose: bool) -> _Settled:
    """
    The best place that the candidates lead to.

    Where they differ by a guessed curvature only, those after one that fits well aren't tried: all lead there.
    """
    good_enough = GOOD_FIT * max(len(system.rows) - int(n.layout.free.sum()), 0) if one_pose else 0.0
    tried: list[_Settled] = []
    for x in ranked:
        tried.append(_settled(n, system, x))
        if tried[-1].square_sum < good_enough:
            break
    return min(tried, key=lambda settled: settled.square_sum)


def _refuse_missed(caster: Caster, best: _Settled) -> None:
    """Refuse a few marks that look past the face; where many do, it is the pose that is wrong."""
    missed = caster.missed(best.x)
    if 0 < len(missed) <= A_FEW:
        photo, mark = missed[0]
        raise AdjustmentError(
            f"Mark {mark} in photo {photo} looks past the transom: its line of sight meets the face behind the camera, "
            "if at all. It is on the background, or it belongs to another photo: move or delete it."
        )


def _rows_of(system: System, points: set[str]) -> BoolArray:
    """Rows (m,) of the marks of some points, and of what is known of those marks."""
    groups = {f"mark {point}" for point in points}
    return np.array([row.group in groups for row in system.rows], dtype=bool)


def _robust_cost(system: System, x: FloatArray) -> float:
    return float(np.sum(np.minimum(np.abs(system.residuals(x)), 1000.0)))


@dataclass(frozen=True)
class _Settled:
    """Where a start led: square sum, infinite where it won't settle, parameters (n,), rows (m,) on the wrong thing."""

    square_sum: float
    x: FloatArray
    suspects: BoolArray


def _settled(n: Network, system: System, x: FloatArray, lens: bool = False) -> _Settled:
    """Settle the poses, then the rims with them, the lens held unless freed."""
    free = n.layout.free
    if not lens:
        for view in n.views.values():
            free[view.lens] = False
    rims = np.array([row.kind == RIM for row in system.rows], dtype=bool)
    suspects = np.zeros(len(rims), dtype=bool)
    try:
        x, _ = _minimised(system, x, free, rims)
        suspects = _rows_of(system, join_rims(n, x))
        x, square_sum = _minimised(system, x, free, suspects)
    except NotConvergedError:
        return _Settled(math.inf, x, suspects)
    return _Settled(square_sum, x, suspects)


def _minimised(system: System, x: FloatArray, free: BoolArray, aside: BoolArray) -> tuple[FloatArray, float]:
    """Parameters and square sum after a few steps without some rows."""
    weights = np.where(aside, REJECTED_WEIGHT, 1.0)
    x, _ = minimised(system, x, free, weights, SETTLED, max_iterations=SETTLING_STEPS)
    return x, float(np.sum((system.residuals(x) * weights) ** 2))


def _twin(n: Network, system: System, caster: Caster, best: _Settled) -> _Settled | None:
    """
    The other minimum that a planar pose can have: the face tilted the opposite way about the line of sight.

    None where it settles in the same place, or where photos from several sides leave no room for it: mirrored about
    one line of sight, the face is not mirrored about another.
    """
    if _views_apart(n, best.x) > APART:
        return None
    curvature = 0.0 if n.surface is None else float(best.x[n.surface.columns[0]])
    mirrored = caster.placed(caster.mirrored(best.x), curvature)
    if mirrored is None:
        return None
    other = _settled(n, system, mirrored)
    turn = n.views[caster.anchor].pose[:3]
    cosine = (np.trace(rotation_matrix(best.x[turn]).T @ rotation_matrix(other.x[turn])) - 1.0) / 2.0
    return None if math.acos(max(-1.0, min(1.0, float(cosine)))) < math.radians(1.0) else other


def _views_apart(n: Network, x: FloatArray) -> float:
    """Largest angle (rad) between the directions from the face's middle to two cameras."""
    places = n.points.at(x, np.arange(len(n.infos)))
    middle = np.median(places, axis=0)
    poses = [x[view.pose] for photo, view in n.views.items() if photo not in dict(n.left_out)]
    sights = np.array([-rotation_matrix(pose[:3]).T @ pose[3:] - middle for pose in poses])
    sights /= np.linalg.norm(sights, axis=1)[:, None]
    return math.acos(float(np.clip((sights @ sights.T).min(), -1.0, 1.0)))
