"""Marks that nobody made: where they would lie in space and in a photo, for what they would be worth."""

from __future__ import annotations

import math

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.camera.equations import View
from digitizer.survey.dimensions import Transom


def virtual_points(t: Transom, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """
    Places of the face in the datum system.

    Parameters
    ----------
    places : (k, 2), mm
        Along the surface from the centreline, and up from the keel point.

    Returns
    -------
    points : (k, 3), mm
    along : (k, 3, 2)
        Their derivatives by the two coordinates along the face.
    """
    system = t.rolled
    c, s = math.cos(float(system.turn)), math.sin(float(system.turn))
    x = float(system.origin.x) + c * places[:, 0] - s * places[:, 1]
    y = float(system.origin.y) + s * places[:, 0] + c * places[:, 1]
    chart = np.column_stack([x, y, np.zeros(len(x))])
    surface = t.network.surface
    if surface is None:
        return chart, np.broadcast_to(np.eye(3)[:, :2], (len(x), 3, 2))
    parameters = t.x[surface.columns]
    return surface.space(chart, parameters), surface.derivatives(chart, parameters)[0][:, :, :2]


def virtual_images(t: Transom, view: View, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Derivatives of the points' images: (k, 2, n) by all parameters, (k, 2, 3) by the point."""
    rows = np.zeros((len(points), 2, len(t.x)))
    _, by_point = view.linearised(t.x, points, rows, np.broadcast_to(np.eye(2), (len(points), 2, 2)))
    return rows, by_point
