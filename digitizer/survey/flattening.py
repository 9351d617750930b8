"""
A photo laid flat: where each place of the face is seen in it, the way back, and the picture as if taken square on.

A bowed face is rolled flat, so that x is girth. True on the face only: what stands proud of it is displaced.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.camera.projection import projected
from digitizer.survey.model import PhotoResult, Survey
from digitizer.transom.surface import Bowed, girth_of

FloatArray = NDArray[np.float64]
Picture = NDArray[np.uint8]
_AIR_MM = 150.0
_STEPS = 12
_SETTLED_PX = 1e-6
_NUDGE_MM = 0.5
_OUTSIDE = (225, 225, 225)


@dataclass(frozen=True)
class FlatMap:
    """How a photo and the flattened face lie on each other, by a finished survey."""

    photo: PhotoResult
    curvature_per_mm: float = 0.0

    def to_photo(self, face_mm: FloatArray) -> FloatArray:
        """
        Where places of the face are seen.

        Parameters
        ----------
        face_mm : (n, 2)
            Along the surface from the centreline, and up from the keel point.

        Returns
        -------
        (n, 2), px
            NaN for places behind the camera.
        """
        turn, shift = np.array(self.photo.rotation).reshape(3, 3), np.array(self.photo.translation)
        camera = self._space(face_mm) @ turn.T + shift
        out = np.full((len(face_mm), 2), np.nan)
        before = camera[:, 2] > 0.0
        if before.any():
            out[before] = projected(camera[before], np.array(self.photo.camera_matrix))
        return out

    def to_face(self, image_points: FloatArray) -> FloatArray:
        """
        Which places of the face are seen at some pixels, by Newton's method from the plane.

        Parameters
        ----------
        image_points : (n, 2), px

        Returns
        -------
        (n, 2), mm
            NaN where the view passes the face.
        """
        face = self._on_plane(image_points)
        miss = np.full(len(face), np.inf)
        for _ in range(_STEPS):
            off = image_points - self.to_photo(face)
            miss = np.hypot(off[:, 0], off[:, 1])
            if not np.any(miss > _SETTLED_PX):
                break
            face = face + self._step(face, off)
        face[~(miss < 1.0)] = np.nan
        return np.asarray(face)

    def _step(self, face: FloatArray, off: FloatArray) -> FloatArray:
        """Newton's step (n, 2) that takes away a miss of `off` px."""
        along, up = np.array([_NUDGE_MM, 0.0]), np.array([0.0, _NUDGE_MM])
        a = (self.to_photo(face + along) - self.to_photo(face - along)) / (2 * _NUDGE_MM)
        b = (self.to_photo(face + up) - self.to_photo(face - up)) / (2 * _NUDGE_MM)
        det = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        right = off[:, 0] * b[:, 1] - off[:, 1] * b[:, 0]
        rise = a[:, 0] * off[:, 1] - a[:, 1] * off[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.column_stack([right / det, rise / det])

    def _space(self, face_mm: FloatArray) -> FloatArray:
        """Places of the rolled-flat face in the transom frame (n, 3), mm."""
        chart = np.column_stack([face_mm, np.zeros(len(face_mm))])
        if not self.curvature_per_mm:
            return chart
        return np.asarray(Bowed(np.array([0]), 0.0).space(chart, np.array([self.curvature_per_mm])))

    def _on_plane(self, image_points: FloatArray) -> FloatArray:
        """A first guess: through a lens without distortion onto the plane that touches the face at the centreline."""
        f, cx, cy = self.photo.camera_matrix[:3]
        rays = np.column_stack([(image_points - (cx, cy)) / f, np.ones(len(image_points))])
        turn, shift = np.array(self.photo.rotation).reshape(3, 3), np.array(self.photo.translation)
        plane = np.column_stack([turn[:, :2], shift])
        met = rays @ np.linalg.inv(plane).T
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(met[:, :2] / met[:, 2:])


Region = tuple[float, float, float, float]
"""Left, bottom, right, top, mm."""


def region_of(survey: Survey) -> Region:
    """The marked part of the transom with some air round it, along the surface."""
    across = [girth_of(point.x, survey.curvature_per_mm) for point in survey.points]
    up = [point.y for point in survey.points]
    return min(across) - _AIR_MM, min(up) - _AIR_MM, max(across) + _AIR_MM, max(up) + _AIR_MM


def flattened(picture: Picture, flat: FlatMap, region: Region, mm_per_px: float) -> Picture:
    """
    The photo as if taken square to the face without a lens.

    Parameters
    ----------
    picture : (rows, columns, 3)
    region
        The part of the face that is shown.
    mm_per_px
        Of the result, whose rows run down from the region's top.
    """
    import cv2

    columns = max(2, round((region[2] - region[0]) / mm_per_px))
    rows = max(2, round((region[3] - region[1]) / mm_per_px))
    # The lens bends so little between neighbours that every eighth place is worked out and the rest interpolated.
    coarse = 8
    across = region[0] + (np.arange(0, columns + coarse, coarse) + 0.5) * mm_per_px
    down = region[3] - (np.arange(0, rows + coarse, coarse) + 0.5) * mm_per_px
    grid = np.column_stack([np.tile(across, len(down)), np.repeat(down, len(across))])
    seen = flat.to_photo(grid).astype(np.float32).reshape(len(down), len(across), 2)
    ys, xs = np.mgrid[0:rows, 0:columns].astype(np.float32) / coarse
    there = cv2.remap(seen, xs, ys, cv2.INTER_LINEAR)
    return np.asarray(
        cv2.remap(picture, there[..., 0], there[..., 1], cv2.INTER_LINEAR, borderValue=_OUTSIDE), dtype=np.uint8
    )
