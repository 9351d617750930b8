"""
Grey levels of a photo against the light that fell on the sensor.

Blur mixes light, not grey levels, so a blurred edge read off the grey levels seems to lie towards the dark side: by a
third of a pixel between black and white paper. The curve is that of sRGB (IEC 61966-2-1), which every JPEG claims to
follow; makers bend it to taste, which an exponent of the light describes: 1 is the standard curve.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

WHITE = 255.0
_KNEE_GREY, _KNEE_LIGHT, _TOE = 0.04045 * WHITE, 0.0031308 * WHITE, 12.92
_DARKEST = 0.1
"""Light below which a bent curve goes straight on, since a power has no slope at zero."""


def light(grey: FloatArray, exponent: float = 1.0) -> FloatArray:
    """Light of grey levels, both from 0 to 255; straight on below black."""
    curve = WHITE * ((np.maximum(grey, _KNEE_GREY) / WHITE + 0.055) / 1.055) ** 2.4
    standard = np.where(grey > _KNEE_GREY, curve, grey / _TOE)
    return standard if exponent == 1.0 else _unbent(standard, exponent)


def grey(light: FloatArray, exponent: float = 1.0) -> FloatArray:
    """Grey levels of light, the inverse of `light`."""
    return grey_and_slope(light, exponent)[0]


def grey_and_slope(light: FloatArray, exponent: float = 1.0) -> tuple[FloatArray, FloatArray]:
    """Grey levels of light, and their derivative by it."""
    bent, slope = (light, 1.0) if exponent == 1.0 else _bent(light, exponent)
    above = np.maximum(bent, _KNEE_LIGHT)
    root = 1.055 * WHITE ** (1.4 / 2.4) * above ** (1 / 2.4)
    grey, derivative = root - 0.055 * WHITE, root / above / 2.4
    dark = bent < _KNEE_LIGHT
    if dark.any():
        grey, derivative = np.where(dark, bent * _TOE, grey), np.where(dark, _TOE, derivative)
    return grey, derivative * slope


def _bent(light: FloatArray, exponent: float) -> tuple[FloatArray, FloatArray]:
    """Light W (L / W)ᶜ, and its derivative by L."""
    above = np.maximum(light, _DARKEST)
    power = WHITE * (above / WHITE) ** exponent
    slope = exponent * power / above
    return power + np.minimum(light - _DARKEST, 0.0) * slope, slope


def _unbent(bent: FloatArray, exponent: float) -> FloatArray:
    darkest = WHITE * (_DARKEST / WHITE) ** exponent
    power = WHITE * (np.maximum(bent, darkest) / WHITE) ** (1.0 / exponent)
    return np.asarray(power + np.minimum(bent - darkest, 0.0) * _DARKEST / (exponent * darkest))
