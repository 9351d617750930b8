"""The transom system T: origin at the keel point, x to starboard along the reference line, y up along the face."""

from __future__ import annotations

from typing import NamedTuple

from digitizer.adjustment.propagation import Number, Propagated, cos, hypot, sin


class Place(NamedTuple):
    """A point with its sensitivities, mm."""

    x: Number
    y: Number
    z: Number = 0.0


class TransomSystem(NamedTuple):
    """
    Where T lies in the datum system.

    Its origin, the turn of its x axis in the face, and, on a bowed face, how far the face at the keel is turned about
    the axis of the bow; rad.
    """

    origin: Place
    turn: Number
    yaw: Number = 0.0

    def of(self, p: Place) -> Place:
        """A point of the datum system, in T."""
        dx, dy, z = p.x - self.origin.x, p.y - self.origin.y, p.z
        if isinstance(self.yaw, Propagated):
            dz = p.z - self.origin.z
            cy, sy = cos(self.yaw), sin(self.yaw)
            dx, z = cy * dx - sy * dz, sy * dx + cy * dz
        c, s = cos(self.turn), sin(self.turn)
        return Place(c * dx + s * dy, c * dy - s * dx, z)


def distance(a: Place, b: Place) -> Number:
    """Chord between two points, mm."""
    return hypot(b.x - a.x, b.y - a.y, b.z - a.z)


def girth(a: Place, b: Place) -> Number:
    """Length along the surface between two points of its chart, mm."""
    return hypot(b.x - a.x, b.y - a.y)
