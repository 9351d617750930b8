"""Photos of the board that the program prints, drawn from its own print and seen by an ideal camera."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from digitizer.geometry.rotations import rotation_matrix
from digitizer.job.model import PaperSize
from digitizer.reports.target_drawing import black_rectangles
from digitizer.reports.target_sheet import job_target
from tests.imaging.rendering import seen

SIZE = (1200, 900)
FOCAL_PX = 1000.0
FINE = 4
"""Samples along a pixel's side when the board is drawn."""
VIEWS = ((25, 0), (-25, 10), (0, 30), (15, -30))
"""Tilts about x and y, degrees."""
MODEL, FOCAL, FOCAL_35 = 0x0110, 0x920A, 0xA405
A4_BOARD = job_target(PaperSize.A4)


def board_photo(about_x: float, about_y: float) -> Image.Image:
    """The printed A4 board 330 mm in front of an ideal camera."""
    turn = rotation_matrix(np.radians([about_x, about_y, 0.0])) @ np.diag([1.0, -1.0, -1.0])
    lens = np.array([[FOCAL_PX, 0, 599.5], [0, FOCAL_PX, 449.5], [0, 0, 1.0]])
    to_picture = lens @ np.column_stack([turn[:, :2], [0.0, 0.0, 330.0]])
    fine = np.full((FINE * SIZE[1], FINE * SIZE[0]), 210, np.uint8)
    for left, bottom, width, height in black_rectangles(A4_BOARD):
        right, top = left + width, bottom + height
        corners = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
        places = FINE * (seen(to_picture, corners) + 0.5) - 0.5
        cv2.fillConvexPoly(fine, np.rint(256.0 * places).astype(np.int32), 40, shift=8)
    return Image.fromarray(cv2.GaussianBlur(cv2.resize(fine, SIZE, interpolation=cv2.INTER_AREA), (0, 0), 0.8))


def saved(folder: Path, number: int, picture: Image.Image, model: str | None = "Hollowell K2") -> str:
    """The picture as a photo by a named camera."""
    exif = Image.Exif()
    if model is not None:
        exif[MODEL] = model
        exif.get_ifd(0x8769).update({FOCAL: 5.1, FOCAL_35: 30})
    path = folder / f"board_{number}.jpg"
    picture.save(path, quality=95, exif=exif)
    return str(path)
