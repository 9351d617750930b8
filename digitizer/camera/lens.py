"""
What is known of a lens before it is adjusted.

Pinhole with Brown–Conrady distortion in OpenCV's order; eight parameters f, cx, cy, k1, k2, p1, p2, k3 with a
standard uncertainty each. The starting uncertainties for uncalibrated lenses are values from memory of what
phone cameras do, not from a publication; strong evidence in the picture overrides them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from digitizer.job.model import Calibration

LENS_NAMES = ("f", "cx", "cy", "k1", "k2", "p1", "p2", "k3")
LENS_SIZE = len(LENS_NAMES)
FULL_FRAME_DIAGONAL_MM = 43.27
"""Diagonal of 36 × 24 mm, which the 35 mm equivalent refers to (CIPA DCG-001)."""
U_REFOCUSED = 0.002
"""Relative, of f: warmth, the stabiliser, a focus that doesn't come back the same; from memory."""
U_REFOCUSED_UNKNOWN = 0.01
"""The same where the real focal length isn't known: a phone's main camera at the distance of a sheet of paper."""
U_REFOCUSED_CENTRE = 0.001
"""Of the diagonal: what refocusing, a stabiliser and picking the camera up anew do to the middle; from memory."""
U_REFOCUSED_K = 0.005
"""What refocusing does to k1 and k2; from memory, after Brown (1971), whose distortion varies with the distance."""
U_DECENTRING = 0.0003
"""p1, p2 of an uncalibrated lens: from memory of published phone calibrations, which lie below 0.001."""


@dataclass(frozen=True)
class LensPrior:
    """Prior values and standard uncertainties (8 each), px for f, cx, cy; u 0 means held fixed."""

    values: tuple[float, ...]
    u: tuple[float, ...]
    source: str


def lens_prior(
    width_px: int,
    height_px: int,
    focal_35mm: float | None = None,
    exif_size_px: tuple[int, int] | None = None,
    cropped: bool = False,
    calibration: Calibration | None = None,
) -> LensPrior:
    """
    Prior for the lens of one camera.

    Parameters
    ----------
    width_px, height_px
        Size of the photo as displayed.
    focal_35mm
        35 mm equivalent focal length from EXIF.
    exif_size_px
        Pixel size that EXIF states for the original picture, either way round.
    cropped
        The user says that the picture was cropped.
    calibration
        A calibration of this camera; wins over everything else where it has the photo's shape, unless the photo was
        cropped: then neither its scale nor its middle is the calibration's.
    """
    if calibration is not None and not cropped and _same_shape(calibration, width_px, height_px):
        return _calibrated(calibration, width_px)
    diagonal = math.hypot(width_px, height_px)
    odd = cropped or _oddly_resized(width_px, height_px, exif_size_px)
    if focal_35mm is not None and 8.0 <= focal_35mm <= 400.0:
        f, u_f = diagonal / FULL_FRAME_DIAGONAL_MM * focal_35mm, 0.03
        u_c, u_k, source = 0.005, 0.05, "35 mm equivalent from EXIF"
    else:
        f, u_f = 0.78 * max(width_px, height_px), 0.20
        u_c, u_k, source = 0.01, 0.10, "no focal length recorded"
    if odd:
        u_f, u_c, u_k = max(u_f, 0.10), 0.10, 0.10
        source += ", cropped or resized"
    values = (f, (width_px - 1) / 2.0, (height_px - 1) / 2.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    u = (u_f * f, u_c * diagonal, u_c * diagonal, u_k, u_k, U_DECENTRING, U_DECENTRING, 0.0)
    return LensPrior(values, u, source)


def _same_shape(calibration: Calibration, width_px: int, height_px: int) -> bool:
    return abs(calibration.width_px * height_px - calibration.height_px * width_px) <= max(width_px, height_px)


def _calibrated(c: Calibration, width_px: int) -> LensPrior:
    """The calibration, widened for another focus, rescaled when the photo was made smaller without cropping."""
    s = width_px / c.width_px
    u_f, u_c, u_k1, u_k2 = _refocused(c)
    centre = ((c.cx_px + 0.5) * s - 0.5, (c.cy_px + 0.5) * s - 0.5)
    values = (c.f_px * s, *centre, c.k1, c.k2, c.p1, c.p2, c.k3)
    u = (u_f * s, u_c * s, u_c * s, u_k1, u_k2, c.u_p, c.u_p, c.u_k3)
    return LensPrior(values, u, "calibration")


def refocus_allowance(focal_mm: float | None, distance_mm: float) -> float:
    """
    Relative standard uncertainty of a focal length in photos focused elsewhere than its calibration was.

    A lens focused at the distance D has its image at f (1 + f/D) (thin lens, moved as a whole); anywhere from D to far
    away, f is thus smaller by up to f/D, and the root mean square of that range is (f/D)/√3. `U_REFOCUSED` is for what
    else changes from day to day. Lenses that focus by moving a part of their glass may do more or less.

    Parameters
    ----------
    focal_mm
        The real focal length; None where the photos don't state it, for `U_REFOCUSED_UNKNOWN`.
    distance_mm
        From the camera to the board that it was calibrated with.
    """
    if focal_mm is None:
        return U_REFOCUSED_UNKNOWN
    return math.hypot(focal_mm / distance_mm / math.sqrt(3.0), U_REFOCUSED)


def _refocused(c: Calibration) -> tuple[float, float, float, float]:
    """U of f, of the middle, of k1 and of k2 for a photo at any focus."""
    if c.u_refocus == 0.0:
        return c.u_f_px, c.u_c_px, c.u_k1, c.u_k2
    centre = math.hypot(c.u_c_px, U_REFOCUSED_CENTRE * math.hypot(c.width_px, c.height_px))
    k1, k2 = (math.hypot(u, U_REFOCUSED_K) for u in (c.u_k1, c.u_k2))
    return math.hypot(c.u_f_px, c.u_refocus * c.f_px), centre, k1, k2


def _oddly_resized(width_px: int, height_px: int, exif_size_px: tuple[int, int] | None) -> bool:
    """Shape differs from what EXIF states, or from the shapes that sensors have (4:3, 3:2, 16:9, 1:1)."""
    ratio = max(width_px, height_px) / min(width_px, height_px)
    if exif_size_px is not None and min(exif_size_px) > 0:
        stated = max(exif_size_px) / min(exif_size_px)
        return abs(ratio / stated - 1.0) > 0.005
    return min(abs(ratio / shape - 1.0) for shape in (4 / 3, 3 / 2, 16 / 9, 1.0)) > 0.01
