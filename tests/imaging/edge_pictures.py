"""
Pictures of edges, strings, polygons and rims whose truth is known to a thousandth of a pixel.

A shape is a signed distance (px, positive inside), so that its coverage of a small sample is exact for straight edges;
blur, noise, rounding and JPEG come afterwards, as in a camera. Positions have their origin at the centre of the
top-left pixel. Brightness is given in grey levels as they shall stand in the picture; pixels, blur and shadows mix
light, as they do in a camera, so that bright areas grow at sharp edges.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Shape = Callable[[FloatArray, FloatArray], FloatArray]
"""Signed distance (px) of places x, y from a shape's edge, positive inside."""
Brightness = float | Callable[[FloatArray, FloatArray], FloatArray]

FINE = 4
"""Samples per pixel in each direction."""


@dataclass(frozen=True)
class Layer:
    """
    Something painted over what is there.

    Parameters
    ----------
    brightness
        Grey levels, or a function of x and y; with `multiply`, a factor of the light (a shadow, a tint).
    soft : px
        Width over which the edge fades, as the half shadow of the sun does; 0 for a sharp edge.
    """

    shape: Shape
    brightness: Brightness
    opacity: float = 1.0
    soft: float = 0.0
    multiply: bool = False


def half_plane(point: tuple[float, float], turn: float) -> Shape:
    """What lies to the right of a line through `point`; `turn` (rad) 0 looks along +x with the inside below it (+y)."""
    nx, ny = -np.sin(turn), np.cos(turn)
    return lambda x, y: (x - point[0]) * nx + (y - point[1]) * ny


def string(a: tuple[float, float], b: tuple[float, float], width: float) -> Shape:
    """A band of some width (px) along a segment, with square ends."""
    along = np.subtract(b, a)
    length = float(np.hypot(*along))
    ex, ey = along / length
    mx, my = np.add(a, b) / 2

    def distance(x: FloatArray, y: FloatArray) -> FloatArray:
        s, t = (x - mx) * ex + (y - my) * ey, (y - my) * ex - (x - mx) * ey
        return np.minimum(length / 2 - np.abs(s), width / 2 - np.abs(t))

    return distance


def polygon(vertices: Sequence[tuple[float, float]]) -> Shape:
    """A simple polygon, convex or not."""
    corners = np.asarray(vertices, dtype=float)

    def distance(x: FloatArray, y: FloatArray) -> FloatArray:
        nearest, odd = np.full(np.shape(x), np.inf), np.zeros(np.shape(x), dtype=bool)
        for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            dx, dy = bx - ax, by - ay
            t = np.clip(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy), 0.0, 1.0)
            nearest = np.minimum(nearest, np.hypot(x - ax - t * dx, y - ay - t * dy))
            crosses = (ay > y) != (by > y)
            if dy != 0:
                odd ^= crosses & (x < ax + (y - ay) * dx / dy)
        return np.where(odd, nearest, -nearest)

    return distance


def ellipse(centre: tuple[float, float], axes: tuple[float, float], turn: float = 0.0) -> Shape:
    """An ellipse of semi-axes (px) turned by `turn` (rad); a disc where they are equal."""
    a, b = axes
    c, s = np.cos(turn), np.sin(turn)

    def distance(x: FloatArray, y: FloatArray) -> FloatArray:
        u, v = (x - centre[0]) * c + (y - centre[1]) * s, (y - centre[1]) * c - (x - centre[0]) * s
        radius = np.hypot(u / a, v / b)
        slope = np.hypot(u / a**2, v / b**2) / np.maximum(radius, 1e-9)
        # First order in the distance from the edge, and so exact where it matters.
        return (1.0 - radius) / np.maximum(slope, 1e-9)

    return distance


def gradient(level: float, per_px: tuple[float, float]) -> Brightness:
    """Brightness that is `level` at the origin and changes by `per_px` along x and y."""
    return lambda x, y: level + per_px[0] * x + per_px[1] * y


def fitting(
    centre: tuple[float, float],
    axes: tuple[float, float],
    turn: float = 0.0,
    *,
    flange: float = 200.0,
    bore: float = 30.0,
    bore_share: float = 0.55,
) -> list[Layer]:
    """A through-hull: flange and dark bore of the same centre and shape."""
    inner = (axes[0] * bore_share, axes[1] * bore_share)
    return [Layer(ellipse(centre, axes, turn), flange), Layer(ellipse(centre, inner, turn), bore)]


def shadow_of(shape: Shape, shift: tuple[float, float], darkness: float = 0.6, soft: float = 2.0) -> Layer:
    """The shadow a shape throws, moved by `shift` px and fading over `soft` px."""
    return Layer(lambda x, y: shape(x - shift[0], y - shift[1]), darkness, soft=soft, multiply=True)


def gloss(shape: Shape, brightness: float = 245.0, opacity: float = 0.5, soft: float = 6.0) -> Layer:
    """A reflection in a glossy surface: a light area with a soft edge, through which the surface shows."""
    return Layer(shape, brightness, opacity=opacity, soft=soft)


def drawn(
    size: tuple[int, int], layers: Sequence[Layer], background: Brightness = 120.0, *, optics: float = 0.0
) -> FloatArray:
    """
    Light (height, width), 0 to 1, of layers painted one over the other, each pixel the mean over its area.

    Parameters
    ----------
    size : px
        Width and height.
    optics : px
        Standard deviation of a blur before the pixels, as lenses have it. Things thinner than a pixel need it: without
        it, where in its pixel a hair line lies is lost.
    """
    width, height = size
    fine = (np.arange(max(width, height) * FINE) + 0.5) / FINE - 0.5
    picture = np.empty((height, width))
    rows = height if optics > 0 else 64  # in strips, so that large pictures need little memory
    for first in range(0, height, rows):
        last = min(first + rows, height)
        x, y = np.meshgrid(fine[: width * FINE], fine[first * FINE : last * FINE])
        painted = _painted(x, y, layers, background)
        if optics > 0:
            painted = cv2.GaussianBlur(painted, (0, 0), optics * FINE)
        picture[first:last] = painted.reshape(last - first, FINE, width, FINE).mean(axis=(1, 3))
    return picture


def _painted(x: FloatArray, y: FloatArray, layers: Sequence[Layer], background: Brightness) -> FloatArray:
    values = np.full(x.shape, 1.0) * _light(_level(background, x, y))
    for layer in layers:
        fade = max(layer.soft, 1.0 / FINE)
        cover = np.clip(0.5 + layer.shape(x, y) / fade, 0.0, 1.0) * layer.opacity
        level = _level(layer.brightness, x, y)
        target = values * level if layer.multiply else _light(level)
        values += cover * (target - values)
    return values


def _level(brightness: Brightness, x: FloatArray, y: FloatArray) -> FloatArray | float:
    return brightness(x, y) if callable(brightness) else brightness


def photographed(
    picture: FloatArray,
    rng: np.random.Generator | None = None,
    *,
    blur: float = 0.8,
    noise: float = 2.0,
    motion: tuple[float, float] = (0.0, 0.0),
    jpeg: int | None = None,
    curve: float = 1.0,
) -> NDArray[np.uint8]:
    """
    The picture as a camera would save it.

    Parameters
    ----------
    blur : px
        Standard deviation of the lens's blur; the pixel's own size comes on top.
    noise : grey levels
    motion : px
        Standard deviation of the shake along x and along y.
    jpeg
        Quality of the JPEG it is saved as, 4:2:0 as cameras do; none if left out.
    curve
        Exponent by which the camera bends the light before the standard tone curve, as makers do to taste.
    """
    sigma = np.hypot(blur, motion)
    if sigma.max() > 0:
        picture = cv2.GaussianBlur(
            picture, (0, 0), sigmaX=max(float(sigma[0]), 1e-3), sigmaY=max(float(sigma[1]), 1e-3)
        )
    grey = _grey(np.clip(picture, 0.0, 1.0) ** curve)
    if noise > 0 and rng is not None:
        grey = grey + rng.normal(0.0, noise, grey.shape)
    eight_bit = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    return eight_bit if jpeg is None else saved_as_jpeg(eight_bit, jpeg)


def saved_as_jpeg(gray: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    """A grey picture after a JPEG."""
    done, data = cv2.imencode(".jpg", gray, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def _light(grey: FloatArray | float) -> FloatArray:
    """Linear light, 0 to 1, of grey levels (sRGB, IEC 61966-2-1)."""
    v = np.clip(np.asarray(grey) / 255.0, 0.0, 1.0)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def _grey(light: FloatArray) -> FloatArray:
    """Inverse of `_light`."""
    v = np.clip(light, 0.0, 1.0)
    return 255.0 * np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)
