"""
What colour tells of an edge that brightness does not.

A shadow darkens all colours of a surface alike, so the difference of colours that vanishes on the surface vanishes in
its shadow too; a coloured string stands out of both.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.line_search import Path
from digitizer.imaging.medians import median
from digitizer.imaging.profiles import edge_candidates, noise_of, normal_profiles
from digitizer.imaging.steps import StepFits, fitted_steps

FloatArray = NDArray[np.float64]

_CLEARER = 1.5
"""How much more clearly a colour must show an edge than the brightness: JPEG stores colours at half the sharpness."""
_CLEAR = 25.0
"""Strength (signal to noise) from which on the brightness needs no help."""
_LEAST_TINT, _LEAST_SIGNAL = 15.0, 6.0
"""Grey levels, and times the noise, by which a string's colour must differ from its ground's."""


def clearest_channel(
    gray: NDArray[np.generic], colours: NDArray[np.generic], path: Path, half_width_px: float
) -> NDArray[np.generic]:
    """The brightness, or the one of the three colours that shows the edges along a path much more clearly."""
    clear = _clarity(gray, path, half_width_px)
    if clear > _CLEAR:
        return gray
    channels = [colours[..., c] for c in range(3)]
    clarity = [_clarity(channel, path, half_width_px) for channel in channels]
    best = int(np.argmax(clarity))
    return channels[best] if clarity[best] > _CLEARER * clear else gray


def _clarity(picture: NDArray[np.generic], path: Path, half_width_px: float) -> float:
    """Usual strength of the strongest edge across a path; 0 where less than half of it has one."""
    some = slice(None, None, 2)
    profiles = normal_profiles(picture, path.points[some], path.normals[some], half_width_px)
    found = edge_candidates(profiles, noise=max(noise_of(profiles), 1.0))
    strongest = np.zeros(len(profiles))
    np.maximum.at(strongest, found.profile, found.strength)
    return median(strongest)


def without_shadow(pair: StepFits, tints: FloatArray, reach: float, step: float = 0.5) -> StepFits:
    """
    The two sides of a string fitted anew in the colours that its ground has not, lit or in shadow.

    Parameters
    ----------
    pair
        The string as found in one channel; returned as it is where the string has no colour of its own.
    tints : (n, k, 3)
        Profiles of the three colours.
    reach : px
        Of the profiles.
    """
    x = step * (np.arange(tints.shape[1]) - (tints.shape[1] - 1) / 2)
    middle, half = median(pair.centre), median(pair.width) / 2
    away = np.abs(x - middle)
    ground = np.nanmean(tints[:, away > min(half + 2.5, away.max() - 1.0)], axis=(0, 1))
    ground /= max(float(np.linalg.norm(ground)), 1e-9)
    string = np.nanmean(tints[:, away <= half], axis=(0, 1))
    tint = string - (string @ ground) * ground
    size = float(np.linalg.norm(tint))
    if not size > _LEAST_TINT:
        return pair
    fits = fitted_steps(tints @ (tint / size), pair.positions, reach, step, encoded=False)
    clear = fits.found & (np.abs(fits.contrasts).min(axis=1) > _LEAST_SIGNAL * fits.noise)
    return fits if clear.mean() > 0.5 else pair
