"""
Best fit of common fittings of two surveys: a shift and a turn in the face, no change of scale.

Generalised least squares with the full covariance of both surveys' positions, whose errors are far from independent:
all share origin, direction and scale. Fittings that moved are set aside one at a time by the chi-square test of their
pair of coordinates, as in data snooping (Baarda 1968), and judged against the others' fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.survey.model import FittingResult, Survey

FIT_NEEDS = 3
"""Common fittings from which on a fit has something to spare."""
MOVED = 5.991
"""
Chi-square of two degrees of freedom at 95 %. Setting one aside wrongly costs little, for it is judged all the same;
leaving one in that moved pulls the fit and makes the others seem to move.
"""


@dataclass(frozen=True)
class Fit:
    """
    How the second survey's axes lie against the first's, and what is left.

    Attributes
    ----------
    steps : (n, 2), mm
        Second − first of each fitting, x and y, after the fit.
    U : (n, 2), mm
        Their expanded uncertainties.
    """

    shift_mm: tuple[float, float]
    U_shift_mm: tuple[float, float]
    turn_deg: float
    U_turn_deg: float
    steps: FloatArray
    U: FloatArray
    set_aside: tuple[int, ...]

    @property
    def turned(self) -> bool:
        """Whether the two reference lines are told from parallel."""
        return abs(self.turn_deg) > self.U_turn_deg


def best_fit(
    first: Sequence[FittingResult],
    second: Sequence[FittingResult],
    one: Survey,
    other: Survey,
    ours: Sequence[int],
    theirs: Sequence[int],
) -> Fit:
    """
    Fit of paired fittings; `ours` and `theirs` are their places in the two surveys.

    A turn is small: positions change by it to first order.
    """
    a, b = (np.array([(f.x.value, f.y.value) for f in group]) for group in (first, second))
    covariance = _covariance(first, one, ours) + _covariance(second, other, theirs)
    step = (b - a).ravel()
    design = _design(a)
    used = list(range(len(a)))
    while True:
        solver = _solver(design, covariance, used)
        worst, statistic = _worst(design, covariance, step, used)
        if statistic <= MOVED or len(used) - 1 < max(FIT_NEEDS, math.ceil(len(a) / 2)):
            break
        used.remove(worst)
    return _result(design, covariance, step, used, solver)


def _covariance(group: Sequence[FittingResult], survey: Survey, places: Sequence[int]) -> FloatArray:
    """Covariance (2n, 2n) of the fittings' x and y, scaled to the u that each has in the end; diagonal if not known."""
    u = np.array([c.u for f in group for c in (f.x, f.y)])
    if not survey.place_covariance:
        return np.asarray(np.diag(u**2))
    rows = np.array([2 * p + axis for p in places for axis in (0, 1)], dtype=np.intp)
    whole = np.array(survey.place_covariance)[np.ix_(rows, rows)]
    widened = u / np.sqrt(np.maximum(np.diag(whole), 1e-12))
    return np.asarray(whole * np.outer(widened, widened))


def _design(places: FloatArray) -> FloatArray:
    """Derivatives (2n, 3) of the steps by a shift in x, in y (mm) and a turn (rad)."""
    out = np.zeros((2 * len(places), 3))
    out[0::2, 0], out[1::2, 1] = 1.0, 1.0
    out[0::2, 2], out[1::2, 2] = -places[:, 1], places[:, 0]
    return out


def _coordinates(used: Sequence[int]) -> list[int]:
    return [2 * i + axis for i in used for axis in (0, 1)]


def _solver(design: FloatArray, covariance: FloatArray, used: Sequence[int]) -> FloatArray:
    """Matrix (3, 2n) that gives shift and turn from all steps, from those used alone."""
    rows = _coordinates(used)
    weight = np.linalg.inv(covariance[np.ix_(rows, rows)] + 1e-6 * np.eye(len(rows)))
    own = design[rows]
    out = np.zeros((3, len(design)))
    out[:, rows] = np.linalg.solve(own.T @ weight @ own, own.T @ weight)
    return out


def _left(design: FloatArray, covariance: FloatArray, solver: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What turns steps into what is left after the fit (2n, 2n), and the covariance of that."""
    rest = np.eye(len(design)) - design @ solver
    return rest, rest @ covariance @ rest.T


def _worst(design: FloatArray, covariance: FloatArray, step: FloatArray, used: Sequence[int]) -> tuple[int, float]:
    """The fitting of those used that fits the others' fit least, and its chi-square of two degrees of freedom."""
    statistics = {}
    for i in used:
        others = [j for j in used if j != i]
        if len(others) < 2:
            return i, 0.0
        rest, spread = _left(design, covariance, _solver(design, covariance, others))
        rows = _coordinates([i])
        left = (rest @ step)[rows]
        statistics[i] = float(left @ np.linalg.solve(spread[np.ix_(rows, rows)], left))
    worst = max(statistics, key=lambda i: statistics[i])
    return worst, statistics[worst]


def _result(
    design: FloatArray, covariance: FloatArray, step: FloatArray, used: Sequence[int], solver: FloatArray
) -> Fit:
    rest, spread = _left(design, covariance, solver)
    shift_x, shift_y, turn = solver @ step
    U = 2.0 * np.sqrt(np.diag(solver @ covariance @ solver.T))
    return Fit(
        (float(shift_x), float(shift_y)),
        (float(U[0]), float(U[1])),
        math.degrees(float(turn)),
        math.degrees(float(U[2])),
        (rest @ step).reshape(-1, 2),
        2.0 * np.sqrt(np.maximum(np.diag(spread), 0.0)).reshape(-1, 2),
        tuple(i for i in range(len(step) // 2) if i not in used),
    )
