"""A rendered photo of a pattern on the floor beside a board: pixel by pixel, with its thickness and its sawn side."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.job.model import Target
from tests.builders import FloatArray, SimCamera, a_pose
from tests.imaging.rendering import _half_sheet, _tones

SIZE = (2000, 1500)
FINE = 3
"""Samples per pixel in each direction."""
FLOOR, PLY, SIDE = 0.35, 0.78, 0.5
"""Tones from black to white: of the floor, of the pattern's upper face, of its sawn side."""
BLOCK_ROWS = 150


@dataclass(frozen=True)
class FloorPhoto:
    """A pattern of a bottom edge, its own coordinates those of the floor, with a board beyond its upper edge."""

    edge: FloatArray
    """(n, 2) mm from port to starboard, x rising."""
    back_mm: float
    """Height of its straight upper edge."""
    thickness_mm: float
    board: Target
    board_at: tuple[float, float]
    tilt_deg: tuple[float, float] = (3.0, 16.0)
    distance_mm: float = 2500.0
    f_px: float = 1450.0

    @property
    def camera(self) -> SimCamera:
        """Looks at the middle of pattern and board, from the side of its upper edge unless told otherwise."""
        rotation, translation = a_pose(*self.tilt_deg, 2.0, self.distance_mm, (0.0, 500.0))
        middle = ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)
        return SimCamera(self.f_px, *middle, rotation=rotation, translation=translation)

    def seen(self, places: FloatArray) -> FloatArray:
        """Places (n, 2) of the pattern's upper face in the photo, px."""
        return self.camera.project(np.column_stack([places, np.full(len(places), self.thickness_mm)]))

    def picture(self, blur_px: float = 0.7, noise: float = 2.0, seed: int = 1) -> NDArray[np.uint8]:
        """The photo in grey, (rows, columns)."""
        blocks = [self._rows(top) for top in range(0, SIZE[1], BLOCK_ROWS)]
        tone = cv2.GaussianBlur(np.vstack(blocks) * 190.0 + 25.0, (0, 0), blur_px)
        tone += np.random.default_rng(seed).normal(0.0, noise, tone.shape)
        return np.asarray(np.clip(np.rint(tone), 0, 255), dtype=np.uint8)

    def _rows(self, top: int) -> FloatArray:
        within = (np.arange(FINE) + 0.5) / FINE - 0.5
        x = (np.arange(SIZE[0])[:, None] + within).ravel()[None, :]
        y = (np.arange(top, top + BLOCK_ROWS)[:, None] + within).ravel()[:, None]
        tone = np.full((y.size, x.size), FLOOR)
        half = _half_sheet(self.board)
        a, b = self._on_plane(x, y, self.board.thickness_mm)
        a, b = a - self.board_at[0], b - self.board_at[1]
        on_sheet = (np.abs(a) < half[0]) & (np.abs(b) < half[1])
        tone[on_sheet] = _tones(self.board, a[on_sheet], b[on_sheet], legacy=False)
        tone[self._covers(*self._on_plane(x, y, 0.0))] = SIDE
        tone[self._covers(*self._on_plane(x, y, self.thickness_mm / 2))] = SIDE
        tone[self._covers(*self._on_plane(x, y, self.thickness_mm))] = PLY
        return np.asarray(tone.reshape(BLOCK_ROWS, FINE, SIZE[0], FINE).mean(axis=(1, 3)))

    def _on_plane(self, x: FloatArray, y: FloatArray, height: float) -> tuple[FloatArray, FloatArray]:
        """Where the lines of sight of pixels meet the plane at a height, mm."""
        camera = self.camera
        matrix = np.array([[camera.f, 0.0, camera.cx], [0.0, camera.f, camera.cy], [0.0, 0.0, 1.0]])
        turn = camera.rotation
        plane = np.column_stack([turn[:, 0], turn[:, 1], turn[:, 2] * height + camera.translation])
        a, b, w = (row[0] * x + row[1] * y + row[2] for row in np.linalg.inv(matrix @ plane))
        return a / w, b / w

    def _covers(self, a: FloatArray, b: FloatArray) -> NDArray[np.bool_]:
        low = np.interp(a, self.edge[:, 0], self.edge[:, 1])
        return np.asarray((a > self.edge[0, 0]) & (a < self.edge[-1, 0]) & (b > low) & (b < self.back_mm))
