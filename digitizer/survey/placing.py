"""
All marked points in the transom system at once, each with its sensitivities.

The same as `TransomSystem.of` point by point, written over arrays: a job has hundreds of points, and a window asks
for them again with every movement of the pointer.
"""

from __future__ import annotations

import numpy as np

from digitizer.adjustment.observations import FloatArray, IntArray
from digitizer.adjustment.points import FIXED, PointTable
from digitizer.adjustment.propagation import Number, Propagated, gradients
from digitizer.transom.system import Place, TransomSystem


def placed(points: PointTable, x: FloatArray, which: list[int], system: TransomSystem, developed: bool) -> list[Place]:
    """
    Places of points in a transom system.

    Parameters
    ----------
    points, x
        Table and all parameters (n,).
    which
        Indices of the points wanted.
    system
    developed
        Rolled flat: chart coordinates are taken as they are.
    """
    index = np.asarray(which, dtype=np.intp)
    chart = points.chart(x, index)
    surface = None if developed else points.surface
    if surface is None:
        space, by_chart = chart, np.broadcast_to(np.eye(3), (len(chart), 3, 3))
    else:
        space = surface.space(chart, x[surface.columns])
        by_chart, by_parameters = surface.derivatives(chart, x[surface.columns])
    axes, by_yaw, by_turn = _axes(system)
    # Heights are counted from the surface unless the face is turned at the origin; see `TransomSystem.of`.
    origin = system.origin if isinstance(system.yaw, Propagated) else system.origin._replace(z=0.0)
    out = space - [float(c) for c in origin]
    gradient = np.zeros((len(index), 3, len(x)))
    common = gradients([*origin, system.yaw, system.turn], len(x))
    columns = np.flatnonzero(common.any(axis=0))
    by_common = np.concatenate(
        [np.broadcast_to(-axes, (len(index), 3, 3)), np.stack([out @ by_yaw.T, out @ by_turn.T], axis=2)], axis=2
    )
    gradient[:, :, columns] = by_common @ common[:, columns]
    if surface is not None:
        gradient[:, :, surface.columns] += axes @ by_parameters
    _add_own(gradient, points, index, axes @ by_chart)
    numbers = list(map(Propagated, (out @ axes.T).ravel().tolist(), gradient.reshape(-1, len(x))))
    return list(map(Place, numbers[::3], numbers[1::3], numbers[2::3]))


def _add_own(gradient: FloatArray, points: PointTable, index: IntArray, by_chart: FloatArray) -> None:
    """Add derivatives by each point's own coordinates, and by the height of what it lies on."""
    columns = points.columns[index]
    for axis in range(3):
        free = np.flatnonzero(columns[:, axis] != FIXED)
        gradient[free, :, columns[free, axis]] += by_chart[free, :, axis]
    if len(points.lifts):
        lifted = np.flatnonzero(points.lifts[index] != FIXED)
        gradient[lifted, :, points.lifts[index][lifted]] += by_chart[lifted, :, 2]


def _axes(system: TransomSystem) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rotation (3, 3) from the datum system to the transom system, with its derivatives by yaw and by turn."""
    yaw, by_yaw = _about_up(system.yaw)
    turn, by_turn = _about_aft(system.turn)
    return turn @ yaw, turn @ by_yaw, by_turn @ yaw


def _about_up(angle: Number) -> tuple[FloatArray, FloatArray]:
    c, s = np.cos(float(angle)), np.sin(float(angle))
    return (
        np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]]),
        np.array([[-s, 0.0, -c], [0.0, 0.0, 0.0], [c, 0.0, -s]]),
    )


def _about_aft(angle: Number) -> tuple[FloatArray, FloatArray]:
    c, s = np.cos(float(angle)), np.sin(float(angle))
    return (
        np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]),
        np.array([[-s, c, 0.0], [-c, -s, 0.0], [0.0, 0.0, 0.0]]),
    )
