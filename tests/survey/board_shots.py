"""Simulated photos of a printed board, by OpenCV's projection: a camera, a board that may be bent, found corners."""

from __future__ import annotations

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.target_layout import object_points
from digitizer.job.model import Sighting, Target, TargetKind

FloatArray = NDArray[np.float64]
SIZE = (4000, 3000)
BOARD = Target("board", TargetKind.CHARUCO, columns=7, rows=5, square_mm=35.0, marker_mm=26.0)
LENS = np.array([2950.0, 1990.0, 1510.0, -0.03, 0.02, 0.0003, -0.0002, 0.0])
"""f, cx, cy, k1, k2, p1, p2, k3."""
U_PX = 0.1
TILTED = ((25, 0), (-25, 5), (0, 30), (5, -30), (20, 20), (-20, -20), (30, -15), (-10, 35))
"""About x and about y, degrees."""
PLACES = ((0, 0), (-60, -40), (60, -40), (-60, 40), (60, 40), (0, -40), (0, 40), (-60, 0))
"""Where the board's middle lies, mm, at 330 mm from the camera."""


def board_shots(
    random: np.random.Generator | None,
    tilts: Sequence[tuple[float, float]] = TILTED,
    lens: FloatArray = LENS,
    bend_mm: float = 0.0,
) -> list[Sighting]:
    """A sighting for each tilt, with corner errors of `U_PX` unless `random` is None."""
    ids = tuple(range((BOARD.columns - 1) * (BOARD.rows - 1)))
    flat = object_points(BOARD, ids)
    flat = flat - flat.mean(axis=0)
    bow = bend_mm * (1.0 - (flat[:, 0] / np.abs(flat[:, 0]).max()) ** 2)
    places = np.column_stack([flat, bow])
    matrix = np.array([[lens[0], 0, lens[1]], [0, lens[0], lens[2]], [0, 0, 1.0]])
    out = []
    for number, ((about_x, about_y), (x, y)) in enumerate(zip(tilts, PLACES, strict=False)):
        rotation = cv2.Rodrigues(np.array([math.radians(about_x), 0.0, 0.0]))[0]
        rotation = cv2.Rodrigues(np.array([0.0, math.radians(about_y), 0.0]))[0] @ rotation
        vector = cv2.Rodrigues(rotation)[0]
        image, _ = cv2.projectPoints(places, vector, np.array([x, y, 330.0]), matrix, lens[3:])
        image = image.reshape(-1, 2)
        if random is not None:
            image = image + random.normal(0.0, U_PX, image.shape)
        out.append(
            Sighting(BOARD.id, f"photo {number}", ids, tuple(image[:, 0].tolist()), tuple(image[:, 1].tolist()),
                     (U_PX,) * len(ids))
        )  # fmt: skip
    return out
