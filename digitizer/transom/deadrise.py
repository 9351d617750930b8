"""
Deadrise: the V of the bottom, port and starboard separately, positive when the bottom rises outboard.

In the face of a raked transom it is steeper than in a section square to the keel: on a flat face with buttocks
parallel to the keel, tan(section) = tan(face) · cos(rake).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from digitizer.adjustment.propagation import Number, atan, atan2, cos, sin
from digitizer.transom.system import Place


def chord_deadrise(keel: Place, chine: Place) -> Number:
    """Deadrise of the straight line from keel to chine, rad; the chine's side of the keel is outboard."""
    outboard = 1.0 if float(chine.x) > float(keel.x) else -1.0
    return atan2(chine.y - keel.y, (chine.x - keel.x) * outboard)


def edge_deadrise(edge: Sequence[Place], fitted: Sequence[Number]) -> Number:
    """
    Deadrise of the curve fitted to marks of the bottom edge on one side, rad: its tangent at the centreline.

    `fitted` as `edges.fitted_polynomial` gives it: a line on a flat face; a parabola on a bowed one, which a straight
    bottom meets in a curve.
    """
    outboard = 1.0 if sum(float(p.x) for p in edge) > 0.0 else -1.0
    return atan(fitted[1] * outboard)


def section_deadrise(face: Number, rake: Number) -> Number:
    """Deadrise in a section square to the keel from the one in a flat face, rad."""
    return atan(sin(face) / cos(face) * cos(rake))


def carried_deadrise(keel: Place, chine: Place, rake: Number) -> Number:
    """
    Deadrise in a section square to the keel, the chine carried there along the keel's direction, rad.

    Height in the section is y cos(rake) − z sin(rake), z aft: on a bowed face the chines stand forward of the keel,
    so that this differs from the flat face's rule. With z = 0 it is that rule.
    """
    outboard = 1.0 if float(chine.x) > float(keel.x) else -1.0
    rise = (chine.y - keel.y) * cos(rake) - (chine.z - keel.z) * sin(rake)
    return atan2(rise, (chine.x - keel.x) * outboard)


def tape_deadrise(a: float, b: float, offset: float) -> float:
    """
    Deadrise from two heights below a straight line, rad: atan((A − B) / offset); common practice.

    >>> round(math.degrees(tape_deadrise(300.0, 78.0, 610.0)), 3)
    19.998
    """
    return math.atan2(a - b, offset)


def tape_deadrise_u(a: float, b: float, offset: float, u: float) -> float:
    """Standard uncertainty of `tape_deadrise`, rad, when A and B each have u, mm (JCGM 100, 5.1)."""
    angle = tape_deadrise(a, b, offset)
    return math.cos(angle) ** 2 / offset * math.sqrt(2.0) * u
