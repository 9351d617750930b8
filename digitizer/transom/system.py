"""The transom system T: origin at the keel point, x to starboard along the reference line, y up along the face."""

from __future__ import annotations

from typing import NamedTuple

from digitizer.adjustment.propagation import Number, cos, hypot, sin


class Place(NamedTuple):
    """A point with its sensitivities, mm."""

    x: Number
    y: Number
    z: Number = 0.0


class TransomSystem(NamedTuple):
    """Where T lies in the datum system: its origin, and the turn of its x axis, rad."""

    origin: Place
    turn: Number

    def of(self, p: Place) -> Place:
        """A point of the datum system, in T."""
        c, s = cos(self.turn), sin(self.turn)
        dx, dy = p.x - self.origin.x, p.y - self.origin.y
        return Place(c * dx + s * dy, c * dy - s * dx, p.z)


def distance(a: Place, b: Place) -> Number:
    """Chord between two points, mm."""
    return hypot(b.x - a.x, b.y - a.y, b.z - a.z)
