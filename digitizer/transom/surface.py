"""
A transom bowed in plan: part of a cylinder about an axis that runs up the face.

Chart coordinates are girth along the surface, height up the axis, and distance off the surface; rolling the
cylinder flat keeps the first two, so lines, rims and outlines keep their shape in the chart. Curvature κ is
positive when the face bulges aft; everything is regular at κ = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray, IntArray
from digitizer.adjustment.propagation import Number, sqrt

SMALL = 1e-3
"""Angles (rad) below which series are used: their first neglected term is then below 1e-12."""


def sinc(t: FloatArray) -> FloatArray:
    """Sin t / t."""
    return np.where(np.abs(t) < SMALL, 1.0 - t**2 / 6.0, np.sin(t) / np.where(t == 0.0, 1.0, t))


def cosc(t: FloatArray) -> FloatArray:
    """(1 − cos t) / t."""
    return np.where(np.abs(t) < SMALL, t / 2.0 - t**3 / 24.0, (1.0 - np.cos(t)) / np.where(t == 0.0, 1.0, t))


def sinc_slope(t: FloatArray) -> FloatArray:
    """Derivative of `sinc`."""
    safe = np.where(t == 0.0, 1.0, t)
    return np.where(np.abs(t) < SMALL, -t / 3.0 + t**3 / 30.0, (t * np.cos(t) - np.sin(t)) / safe**2)


def cosc_slope(t: FloatArray) -> FloatArray:
    """Derivative of `cosc`."""
    safe = np.where(t == 0.0, 1.0, t)
    return np.where(np.abs(t) < SMALL, 0.5 - t**2 / 8.0, (t * np.sin(t) - 1.0 + np.cos(t)) / safe**2)


@dataclass(frozen=True)
class Bowed:
    """
    The cylinder as a surface for `PointTable`.

    Attributes
    ----------
    columns : (1,)
        Column of the curvature, 1/mm.
    apex : mm
        Girth coordinate of the line where the surface touches z = 0.
    """

    columns: IntArray
    apex: float

    def space(self, chart: FloatArray, parameters: FloatArray) -> FloatArray:
        """Points in space; see `Surface.space`."""
        u, off = chart[:, 0] - self.apex, chart[:, 2]
        t = parameters[0] * u
        x = self.apex + u * sinc(t) + off * np.sin(t)
        return np.column_stack([x, chart[:, 1], -u * cosc(t) + off * np.cos(t)])

    def derivatives(self, chart: FloatArray, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Derivatives; see `Surface.derivatives`."""
        u, off, curvature = chart[:, 0] - self.apex, chart[:, 2], parameters[0]
        t = curvature * u
        sin, cos, stretch = np.sin(t), np.cos(t), 1.0 + curvature * off
        by_chart = np.zeros((len(chart), 3, 3))
        by_chart[:, 0, 0], by_chart[:, 2, 0] = cos * stretch, -sin * stretch
        by_chart[:, 1, 1] = 1.0
        by_chart[:, 0, 2], by_chart[:, 2, 2] = sin, cos
        by_curvature = np.zeros((len(chart), 3, 1))
        by_curvature[:, 0, 0] = u**2 * sinc_slope(t) + off * cos * u
        by_curvature[:, 2, 0] = -(u**2) * cosc_slope(t) - off * sin * u
        return by_chart, by_curvature

    def frame(self, along: float, parameters: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Axes of the tangent plane; see `Surface.frame`."""
        t = parameters[0] * (along - self.apex)
        sin, cos = np.sin(t), np.cos(t)
        axes = np.array([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]])
        by_turn = np.array([[-sin, 0.0, cos], [0.0, 0.0, 0.0], [-cos, 0.0, -sin]])
        return axes, by_turn * parameters[0], by_turn[None] * (along - self.apex)


def sagitta(curvature: Number, chord: Number) -> Number:
    """Rise of the arc above a chord, mm: κ(c/2)² / (1 + √(1 − κ²(c/2)²)); regular for a flat face."""
    half = chord * 0.5
    k = curvature * half
    return k * half / (1.0 + sqrt(1.0 - k * k))


def girth_of(x: float, curvature: float) -> float:
    """Distance from the centreline along a bowed face, mm, from the distance straight across."""
    return math.asin(max(-1.0, min(1.0, curvature * x))) / curvature if curvature else x
