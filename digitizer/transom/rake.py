"""
The transom angle: from a level held on face and keel, and from the lines that a photo from the side shows.

The rake is the face against the perpendicular to the keel line, positive when the top leans aft. A photo from the side
does not show it as it is. What it shows is the angle between two lines as projected along the sight to the place
where they meet, the foot of the face; seen from `ahead` of it by a and from `below` by b the angle comes out wrong by
a·b radians, to first order. Seen exactly from abeam, or exactly from the keel's height, it is right. The near edge of
the face also leans outward (flare), which adds flare·a. Where the keel is seen to end at the face, beside the near
edge, the picture itself tells a: that end then lies off the edge by half the beam times a.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PROFILE_NAMES = (
    "foot x",
    "foot y",
    "ahead",
    "below",
    "roll",
    "trim",
    "heel",
    "rake",
    "flare",
    "half beam",
)
"""Unknowns of a photo from the side, in this order; see `Profile`."""
PROFILE_SIZE = len(PROFILE_NAMES)


def rake_by_level(face: float, keel: float, u: float) -> tuple[float, float]:
    """
    Rake and its standard uncertainty from two readings of a level, each with `u`, all in one unit.

    Parameters
    ----------
    face
        The face from plumb, positive when its top leans aft.
    keel
        The keel line from level, positive when the bow is up: a boat that stands bow up leans her face aft by as much.

    >>> rake_by_level(15.0, 1.0, 0.0)
    (14.0, 0.0)
    """
    return face - keel, math.sqrt(2.0) * u


@dataclass(frozen=True)
class Profile:
    """
    The lines of a boat seen from the side, as planes through the camera.

    Boat axes: forward along the keel, up square to it in the centreplane, and towards the camera. Each field is one
    unknown, of any shape that the others share, so that many states are worked out at once; angles rad.

    Attributes
    ----------
    foot_x, foot_y
        Direction (x/z, y/z) in which the camera sees the foot of the face.
    ahead, below
        How far the sight to the foot points forward, and up, of square to the centreplane.
    roll
        Turn of the camera about that sight.
    trim
        Bow above level.
    heel
        Lean of the boat towards the camera.
    rake
    flare
        Lean of the near edge towards the camera, in the face.
    half_beam
        Natural logarithm of the near edge's distance from the centreplane, at the foot's height, as part of the
        camera's distance from the foot.
    """

    foot_x: FloatArray
    foot_y: FloatArray
    ahead: FloatArray
    below: FloatArray
    roll: FloatArray
    trim: FloatArray
    heel: FloatArray
    rake: FloatArray
    flare: FloatArray
    half_beam: FloatArray

    @classmethod
    def of(cls, parameters: FloatArray) -> Profile:
        """From parameters (…, 10) in the order of `PROFILE_NAMES`."""
        return cls(*np.moveaxis(parameters, -1, 0))

    @cached_property
    def foot(self) -> FloatArray:
        """Unit vector (…, 3) to the foot of the face."""
        return _unit(_stacked(self.foot_x, self.foot_y))

    @cached_property
    def axes(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The boat's axes in camera axes, each (…, 3): forward, up and towards the camera."""
        beside = _unit(np.array([1.0, 0.0, 0.0]) - self.foot[..., :1] * self.foot)
        beneath = _cross(self.foot, beside)
        c, s = np.cos(self.roll)[..., None], np.sin(self.roll)[..., None]
        seen = (self.foot, c * beside + s * beneath, c * beneath - s * beside)
        # The same three directions (along the sight, forward as seen, downward as seen) in the boat's components.
        ca, sa, cb, sb = (f(angle) for angle in (self.ahead, self.below) for f in (np.cos, np.sin))
        sight = (sa, ca * sb, -ca * cb)
        across = (ca, -sa * sb, sa * cb)
        under = (np.zeros_like(ca), -cb, -sb)
        forward, up, near = (
            sum((own[i][..., None] * camera for own, camera in zip((sight, across, under), seen, strict=True)), 0.0)
            for i in range(3)
        )
        return np.asarray(forward), np.asarray(up), np.asarray(near)

    def in_camera(self, forward: FloatArray, up: FloatArray, near: FloatArray) -> FloatArray:
        """Directions (…, 3) in camera axes, given by their components along the boat's axes."""
        f, u, n = self.axes
        return np.asarray(forward[..., None] * f + up[..., None] * u + near[..., None] * n)

    @cached_property
    def up(self) -> FloatArray:
        """Unit vector (…, 3) against gravity, in camera axes."""
        level = np.cos(self.heel)
        return self.in_camera(np.sin(self.trim) * level, np.cos(self.trim) * level, np.sin(self.heel))

    @property
    def elevation(self) -> FloatArray:
        """How far the lens axis points above level, rad."""
        return np.asarray(np.arcsin(self.up[..., 2]))

    def keel(self) -> FloatArray:
        """Normal (…, 3) of the plane through the camera that holds the keel line."""
        return _cross(self.foot, self.axes[0])

    def centreline(self) -> FloatArray:
        """The same of the face's centreline."""
        return _cross(self.foot, self.in_camera(-np.sin(self.rake), np.cos(self.rake), np.zeros_like(self.rake)))

    def near_edge(self) -> FloatArray:
        """The same of the near edge of the face."""
        place = self.foot + np.exp(self.half_beam)[..., None] * self.axes[2]
        return _cross(place, self.in_camera(-np.sin(self.rake), np.cos(self.rake), np.tan(self.flare)))

    def plumb(self, x: FloatArray, y: float) -> FloatArray:
        """The same of a plumb line that is seen at (x, y), normalised."""
        return _cross(_stacked(x, np.full(np.shape(x), y)), self.up)


def distances(normals: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Signed distances (…, n) of normalised image points (…, n) from the lines of planes with normals (…, 3)."""
    a, b, c = (normals[..., i, None] for i in range(3))
    return np.asarray((a * x + b * y + c) / np.sqrt(a * a + b * b))


def _stacked(x: FloatArray, y: FloatArray) -> FloatArray:
    return np.stack([x, y, np.ones(np.shape(x))], axis=-1)


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross product along the last axis; `numpy.cross` takes three times as long for arrays as small as these."""
    (ax, ay, az), (bx, by, bz) = ((v[..., 0], v[..., 1], v[..., 2]) for v in (a, b))
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=-1)


def _unit(v: FloatArray) -> FloatArray:
    return np.asarray(v / np.sqrt(np.sum(v * v, axis=-1, keepdims=True)))
