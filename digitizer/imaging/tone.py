"""
Grey levels of a photo against the light that fell on the sensor.

Blur mixes light, not grey levels, so a blurred edge read off the grey levels seems to lie towards the dark side: by a
third of a pixel between black and white paper. The curve is that of sRGB (IEC 61966-2-1), which every JPEG claims to
follow; makers bend it to taste, so a part of its effect stays uncertain.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

WHITE = 255.0
_KNEE_GREY, _KNEE_LIGHT, _TOE = 0.04045 * WHITE, 0.0031308 * WHITE, 12.92


def light(grey: FloatArray) -> FloatArray:
    """Light of grey levels, both from 0 to 255; straight on below black."""
    curve = WHITE * ((np.maximum(grey, _KNEE_GREY) / WHITE + 0.055) / 1.055) ** 2.4
    return np.where(grey > _KNEE_GREY, curve, grey / _TOE)


def grey(light: FloatArray) -> FloatArray:
    """Grey levels of light, the inverse of `light`."""
    root = np.maximum(light, _KNEE_LIGHT) ** (1 / 2.4)
    return np.where(light > _KNEE_LIGHT, 1.055 * WHITE ** (1.4 / 2.4) * root - 0.055 * WHITE, light * _TOE)


def grey_and_slope(light: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Grey levels of light, and their derivative by it."""
    above = np.maximum(light, _KNEE_LIGHT)
    root = 1.055 * WHITE ** (1.4 / 2.4) * above ** (1 / 2.4)
    bright = light > _KNEE_LIGHT
    return np.where(bright, root - 0.055 * WHITE, light * _TOE), np.where(bright, root / above / 2.4, _TOE)
