"""
How well a further mark would be placed, anywhere on the transom, before it is made.

A virtual mark takes its place from one photo and the adjusted camera; its uncertainty has the click's part and the
camera's: orientation, lens and scale, with the keel point and the reference line that places are counted from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import gradients
from digitizer.survey.dimensions import Transom
from digitizer.survey.flattening import Region
from digitizer.survey.live import Live
from digitizer.survey.uncertainty import Scales
from digitizer.survey.virtual import virtual_images, virtual_points

LEVELS_MM = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0)
"""U of the lines that are drawn."""
_COLUMNS, _ROWS = 36, 24
CLICK_PX = 0.7
"""Standard uncertainty of a careful click, one coordinate."""


def expected_uncertainty(live: Live, photo_id: str, places: FloatArray, u_px: float = CLICK_PX) -> FloatArray:
    """
    U = 2u of a mark that would be placed in one photo, first order.

    Parameters
    ----------
    live
        A job measured in full.
    places : (k, 2), mm
        In the face: along the surface from the centreline, and up from the keel point.
    u_px
        Standard uncertainty of the mark in one coordinate of the photo; how well the thing itself is defined on the
        boat comes on top.

    Returns
    -------
    (k, 2), mm
        In x and y; NaN where the photo can't place a mark.

    Raises
    ------
    KeyError
        If the photo took no part in the measurement.
    """
    transom = live.base.transom
    scales = Scales(live.base.found.estimate, live.system.rows, live.survey.adjustment.scaled_by)
    by_parameters, by_image = _sensitivities(transom, photo_id, places)
    solved = scales.estimate.solved(by_parameters.reshape(2 * len(places), -1))
    camera = (scales.factor**2 * np.einsum("ij,ij->i", solved, solved)).reshape(-1, 2)
    click = (u_px * scales.factor) ** 2 * np.einsum("kij,kij->ki", by_image, by_image)
    return np.asarray(2.0 * np.sqrt(camera + click))


@dataclass(frozen=True)
class Contour:
    """A line along which a further mark would have the same U, the larger of its two coordinates."""

    U_mm: float
    places: FloatArray
    """(k, 2), mm in the face."""


def contours(live: Live, photo_id: str, region: Region, u_px: float = CLICK_PX) -> list[Contour]:
    """
    The map of expected uncertainty as lines of equal U.

    Contours by marching squares (scikit-image's `find_contours`), on a grid of 36 × 24 places.
    """
    from skimage.measure import find_contours  # takes a while to load

    across, up = np.linspace(region[0], region[2], _COLUMNS), np.linspace(region[1], region[3], _ROWS)
    grid = np.column_stack([np.tile(across, _ROWS), np.repeat(up, _COLUMNS)])
    U = expected_uncertainty(live, photo_id, grid, u_px).max(axis=1).reshape(_ROWS, _COLUMNS)
    step = np.array([up[1] - up[0], across[1] - across[0]])
    out = []
    for level in LEVELS_MM:
        for line in find_contours(U, level):
            places = line * step + (up[0], across[0])
            out.append(Contour(level, places[:, ::-1]))
    return out


def _sensitivities(t: Transom, photo_id: str, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Derivatives of the places by all parameters (k, 2, n), and by the image of the mark (k, 2, 2)."""
    points, along = virtual_points(t, places)
    rows, by_point = virtual_images(t, t.network.views[photo_id], points)
    with np.errstate(all="ignore"):
        back = np.linalg.inv(by_point @ along)
    system, size = t.rolled, len(t.x)
    c, s = math.cos(float(system.turn)), math.sin(float(system.turn))
    turned = np.array([[c, s], [-s, c]])
    origin, turn = gradients([system.origin.x, system.origin.y], size), gradients([system.turn], size)[0]
    sideways = np.column_stack([places[:, 1], -places[:, 0]])
    by_parameters = -turned @ (back @ rows + origin) + sideways[:, :, None] * turn
    return by_parameters, turned @ back
