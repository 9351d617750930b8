"""Rims and centre crosses of fittings for cutting, in mm of the drawing's plane."""

from __future__ import annotations

import math

from digitizer.reports.balloon import Reach
from digitizer.reports.cutting import DrawnFitting
from digitizer.reports.sheet import Point

POINT_ARM_MM = 10.0
"""Half length of the cross that stands for a fitting without a size."""
ARM_OVER_RIM = 1.25
"""A cross reaches this far from the centre, in parts of half the size."""
Arm = tuple[Point, Point]


def rim(fitting: DrawnFitting) -> tuple[Point, ...]:
    """Corners of a rectangular fitting, anticlockwise from the lower port one."""
    wide, high = fitting.width / 2, fitting.height / 2
    return tuple(_placed(fitting, a, b) for a, b in ((-wide, -high), (wide, -high), (wide, high), (-wide, high)))


def cross(fitting: DrawnFitting) -> tuple[Arm, Arm]:
    """The level and the upright arm of a cross at the centre, turned with a rectangle."""
    wide, high = (ARM_OVER_RIM * side / 2 or POINT_ARM_MM for side in (fitting.width, fitting.height))
    return (
        (_placed(fitting, -wide, 0.0), _placed(fitting, wide, 0.0)),
        (_placed(fitting, 0.0, -high), _placed(fitting, 0.0, high)),
    )


def reach(fitting: DrawnFitting, scale: float) -> Reach:
    """How far its rim lies from its centre by direction, at a scale."""
    if fitting.shape != "rectangle":
        radius = scale * max(fitting.width / 2, POINT_ARM_MM / 3)
        return lambda _turn: radius
    wide, high = scale * fitting.width / 2, scale * fitting.height / 2

    def to_rim(turn: float) -> float:
        along, across = abs(math.cos(turn - fitting.roll_rad)), abs(math.sin(turn - fitting.roll_rad))
        return min(wide / max(along, 1e-9), high / max(across, 1e-9))

    return to_rim


def _placed(fitting: DrawnFitting, across: float, up: float) -> Point:
    cos, sin = math.cos(fitting.roll_rad), math.sin(fitting.roll_rad)
    x, y = fitting.at
    return x + across * cos - up * sin, y + across * sin + up * cos
