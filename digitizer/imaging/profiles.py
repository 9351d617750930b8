"""
Grey-value profiles across a path, and the places in them where there may be an edge.

A profile runs along the path's normal; positions in it are px from the path, positive along the normal. Only the
pixels round the path are read, whatever the photo's size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.medians import median

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

QUANTISATION = 12.0**-0.5
"""Grey levels; noise of rounding to 8 bits, so never less."""
CUBIC_VARIANCE = 0.8
"""Mean of Σw² of the cubic interpolation's weights over all phases: it makes noise look smaller by that."""
_TAPS = (-1, 0, 1, 2)


@dataclass(frozen=True, eq=False)
class Candidates:
    """Places where profiles may have an edge, as arrays of one length, ordered by profile and position."""

    profile: IntArray
    """Number of the profile."""
    position: FloatArray
    """px."""
    contrast: FloatArray
    """Grey levels, signed: positive where it brightens along the normal."""
    strength: FloatArray
    """Steepness over that which noise alone would show (signal to noise)."""
    width: FloatArray
    """px; spread of the edge, as the standard deviation of its blur."""

    @property
    def polarity(self) -> FloatArray:
        """+1 where it brightens along the normal, −1 where it darkens."""
        return np.sign(self.contrast)

    def __len__(self) -> int:
        return len(self.profile)


def profile_offsets(half_width_px: float, step: float = 0.5) -> FloatArray:
    """Positions (k,) of a profile's samples, px, symmetrical about 0."""
    count = max(int(np.ceil(half_width_px / step)), 1)
    return step * np.arange(-count, count + 1, dtype=np.float64)


def normal_profiles(
    gray: NDArray[np.generic], points: FloatArray, normals: FloatArray, half_width_px: float, step: float = 0.5
) -> FloatArray:
    """
    Grey values across a path.

    Parameters
    ----------
    gray : (rows, columns) or (rows, columns, c)
        Photo, whole: any other array than a contiguous one is copied.
    points, normals : (n, 2), px
        Where the profiles cross the path, x and y; unit vectors.
    half_width_px, step : px
        Reach to either side, and the distance of the samples.

    Returns
    -------
    profiles : (n, k) or (n, k, c), grey levels
        At `profile_offsets`; NaN outside the picture.

    References
    ----------
    R. G. Keys, Cubic convolution interpolation for digital image processing, IEEE Trans. ASSP 29 (1981) 1153-1160;
    a = −1/2.
    """
    offsets = profile_offsets(half_width_px, step)
    places = points[:, None, :] + offsets[:, None] * normals[:, None, :]
    return interpolated(gray, places.reshape(-1, 2)).reshape(len(points), len(offsets), *gray.shape[2:])


def interpolated(gray: NDArray[np.generic], places: FloatArray) -> FloatArray:
    """
    Values (n,) or (n, c) of a picture (rows, columns) or (rows, columns, c) at places (n, 2) between its pixels.

    By cubic convolution; NaN outside the picture. Only the sixteen pixels round each place are read.
    """
    rows, columns = gray.shape[:2]
    inside = np.all((places >= 0) & (places <= (columns - 1, rows - 1)), axis=1)
    at = places[inside]
    whole = np.floor(at).astype(np.intp)
    wx, wy = (_keys_weights(at[:, axis] - whole[:, axis]) for axis in (0, 1))
    # Beyond the border the outermost pixel stands in.
    x = [np.clip(whole[:, 0] + tap, 0, columns - 1) for tap in _TAPS]
    y = [np.clip(whole[:, 1] + tap, 0, rows - 1) * columns for tap in _TAPS]
    pixels = gray.reshape(rows * columns, -1)
    values = np.full((len(places), pixels.shape[1]), np.nan)
    for channel in range(pixels.shape[1]):
        flat = pixels[:, channel]
        values[inside, channel] = sum(
            down * sum(across * flat[row + column] for across, column in zip(wx, x, strict=True))
            for down, row in zip(wy, y, strict=True)
        )
    return values.reshape(len(places), *gray.shape[2:])


def _keys_weights(f: FloatArray) -> list[FloatArray]:
    """Weights (n,) of the pixels at −1, 0, 1, 2 for a place the fraction `f` (n,) behind pixel 0."""
    f2 = f * f
    f3 = f2 * f
    return [f2 - (f + f3) / 2, 1 - 2.5 * f2 + 1.5 * f3, (f - 3 * f3) / 2 + 2 * f2, (f3 - f2) / 2]


def noise_of(profiles: FloatArray, step: float = 0.5) -> float:
    """
    Standard deviation of the pixel noise in some profiles, grey levels.

    From the differences between samples a pixel apart, by their median, so that the edges don't count.
    """
    lag = max(round(1.0 / step), 1)
    third = (
        profiles[:, 3 * lag :]
        - 3 * profiles[:, 2 * lag : -lag]
        + 3 * profiles[:, lag : -2 * lag]
        - profiles[:, : -3 * lag]
    )
    size = np.abs(third[np.isfinite(third)])
    # Σ of the squared coefficients 1, 3, 3, 1 is 20; 0.6745 is the median of |N(0, 1)|.
    raw = median(size) / (0.6745 * np.sqrt(20.0)) if size.size else 0.0
    return float(max(raw / np.sqrt(CUBIC_VARIANCE), QUANTISATION))


def edge_candidates(
    profiles: FloatArray,
    step: float = 0.5,
    *,
    smoothing: float = 0.8,
    least_strength: float = 5.0,
    noise: float | None = None,
) -> Candidates:
    """
    All places in some profiles where the brightness changes more steeply than noise does.

    Parameters
    ----------
    profiles : (n, k)
        From `normal_profiles`.
    step, smoothing : px
        Distance of the samples; standard deviation of the Gaussian whose derivative looks for the steps.
    least_strength
        Signal to noise from which on a place counts.
    noise
        Grey levels; estimated from the profiles if left out.
    """
    sigma = noise_of(profiles, step) if noise is None else noise
    response, response_noise = _steepness(profiles, step, smoothing)
    size = np.abs(response)
    row, column = np.nonzero(_peaks(size) & (size > least_strength * sigma * response_noise))
    shift, top, bend = _vertex(size, row, column)
    # A step of height h and blur s gives h φ(x / τ) / τ with τ² = s² + smoothing²; curvature at the top is −top / τ².
    tau = step * np.sqrt(np.maximum(top / np.maximum(-bend, 1e-12), 1e-6))
    contrast = np.sign(response[row, column]) * top * tau * np.sqrt(2 * np.pi)
    middle = (profiles.shape[1] - 1) / 2
    return Candidates(
        profile=row,
        position=(column + shift - middle) * step,
        contrast=contrast,
        strength=top / (sigma * response_noise),
        width=np.sqrt(np.maximum(tau**2 - smoothing**2, 0.0)),
    )


def _steepness(profiles: FloatArray, step: float, smoothing: float) -> tuple[FloatArray, float]:
    """Smoothed slope (n, k), grey levels per px, and its standard deviation for pixel noise of 1."""
    reach = int(np.ceil(3 * smoothing / step))
    x = step * np.arange(-reach, reach + 1)
    kernel = x * np.exp(-0.5 * (x / smoothing) ** 2)
    kernel /= np.sum(kernel * x)  # the slope of a ramp comes out as it is
    padded = np.pad(profiles, ((0, 0), (reach, reach)), mode="edge")
    width = profiles.shape[1]
    response = sum(weight * padded[:, i : i + width] for i, weight in enumerate(kernel))
    # Samples closer than a pixel repeat one another: step / 1 px independent ones each.
    return np.nan_to_num(np.asarray(response)), float(np.sqrt(np.sum(kernel**2) / step))


def _peaks(size: FloatArray) -> BoolArray:
    inner = (size[:, 1:-1] >= size[:, :-2]) & (size[:, 1:-1] > size[:, 2:])
    return np.pad(inner, ((0, 0), (1, 1)))


def _vertex(size: FloatArray, row: IntArray, column: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shift (samples), height and second derivative of the parabola through a peak and its two neighbours."""
    before, top, after = (size[row, column + i] for i in (-1, 0, 1))
    slope, bend = (after - before) / 2, np.minimum(after + before - 2 * top, -1e-12)
    shift = -slope / bend
    return shift, top + slope * shift / 2, bend
