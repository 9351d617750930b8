"""Simulated photos from the side, by OpenCV's projection: an invented boat, a camera, and clicks with known errors."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.camera.lens import LensPrior, lens_prior
from digitizer.job.model import Mark, MarkKind, Side

FloatArray = NDArray[np.float64]
SIZE = (4000, 3000)
DISTANCE_MM = 4400.0
FORWARD, UP, NEAR = np.eye(3)


@dataclass(frozen=True)
class ProfileScene:
    """A boat (axes: forward along the keel, up, towards the camera; origin at the foot) and who photographs it."""

    rake: float = math.radians(14.0)
    trim: float = 0.0
    heel: float = 0.0
    flare: float = math.radians(5.0)
    half_beam: float = 0.25
    """As part of the distance."""
    ahead: float = 0.0
    """How far the sight to the foot points forward, rad."""
    above_mm: float = 0.0
    distance_mm: float = DISTANCE_MM
    elevation: float = 0.0
    aim: float = math.radians(8.0)
    """How far towards the bow of the foot the camera aims."""
    roll: float = 0.0
    lens: FloatArray = field(default_factory=lambda: np.array(lens_prior(*SIZE, 26.0).values))
    plumb_lines: int = 1
    bow_left: bool = False

    def drawn_lines(self, foot: bool, edge: bool, centre: int) -> list[tuple[MarkKind, FloatArray, Side | None, str]]:
        """Kind, places (n, 3) mm, side and name of the marks of each line."""
        aft_up = -math.sin(self.rake) * FORWARD + math.cos(self.rake) * UP
        beam = self.half_beam * self.distance_mm * NEAR
        lines = [(MarkKind.KEEL_LINE, np.linspace(150, 2400, 8)[:, None] * FORWARD, None, "keel")]
        if edge:
            along = aft_up + math.tan(self.flare) * NEAR
            lines.append((MarkKind.FACE_LINE, beam + np.linspace(330, 1000, 7)[:, None] * along, None, "edge"))
        if foot:
            lines.append((MarkKind.FACE_LINE, np.zeros((1, 3)), Side.CENTRE, "foot"))
        if centre:
            lines.append((MarkKind.FACE_LINE, np.linspace(150, 900, centre)[:, None] * aft_up, Side.CENTRE, "batten"))
        tops = (beam + 1000 * aft_up - 250 * FORWARD, beam + 900 * UP + 2200 * FORWARD)
        for number, top in enumerate(tops[: self.plumb_lines]):
            drop = np.linspace(0, 1000, 5)[:, None] * self.gravity
            lines.append((MarkKind.PLUMB_LINE, top + drop, None, f"plumb {number}"))
        return lines

    @property
    def gravity(self) -> FloatArray:
        level = math.cos(self.heel)
        return -np.array([math.sin(self.trim) * level, math.cos(self.trim) * level, math.sin(self.heel)])

    def project(self, places: FloatArray) -> FloatArray:
        """Image points (n, 2), px."""
        below = -math.asin(self.above_mm / self.distance_mm)
        a, b = self.ahead, below
        sight = np.array([math.sin(a), math.cos(a) * math.sin(b), -math.cos(a) * math.cos(b)])
        up = -self.gravity
        level = sight - (sight @ up) * up
        level /= np.linalg.norm(level)
        along = math.cos(self.aim) * level + math.sin(self.aim) * np.cross(level, up)
        axis = math.cos(self.elevation) * along + math.sin(self.elevation) * up
        right = np.cross(axis, up) / np.linalg.norm(np.cross(axis, up))
        down = np.cross(axis, right)
        c, s = math.cos(self.roll), math.sin(self.roll)
        rotation = np.stack([c * right + s * down, c * down - s * right, axis])
        camera = places @ rotation.T + self.distance_mm * rotation @ sight
        if self.bow_left:
            camera = camera * [-1.0, 1.0, 1.0]
        matrix = np.array([[self.lens[0], 0, self.lens[1]], [0, self.lens[0], self.lens[2]], [0, 0, 1.0]])
        image, _ = cv2.projectPoints(camera.reshape(-1, 1, 3), np.zeros(3), np.zeros(3), matrix, self.lens[3:])
        return np.asarray(image, dtype=float).reshape(-1, 2)

    def marks(
        self, random: np.random.Generator | None, foot: bool = True, edge: bool = True, centre: int = 0
    ) -> tuple[Mark, ...]:
        """Clicks of 0.7 px on edges that are straight to 1 mm, 0.4 px on strings; without errors if not `random`."""
        out = []
        for kind, places, side, name in self.drawn_lines(foot, edge, centre):
            u = 0.4 if kind is MarkKind.PLUMB_LINE else 0.7
            straight = 0.0 if kind is MarkKind.PLUMB_LINE else 1.0 * self.lens[0] / DISTANCE_MM
            seen = self.project(places)
            if random is not None:
                seen = seen + random.normal(0.0, math.hypot(u, straight), seen.shape)
            out += [
                Mark(f"{name} {i}", "side", kind, float(x), float(y), u, side, of=name) for i, (x, y) in enumerate(seen)
            ]
        return tuple(out)


def a_drawn_scene(
    random: np.random.Generator, prior: LensPrior, u_ahead_deg: float, above_mm: float, plumb_lines: int = 1
) -> ProfileScene:
    """A scene with every unknown drawn: the height evenly within bounds, the rest as the program assumes it."""
    return ProfileScene(
        rake=math.radians(random.uniform(8, 20)),
        trim=math.radians(random.normal(0, 5)),
        heel=math.radians(random.normal(0, 1)),
        flare=math.radians(random.normal(5, 3)),
        half_beam=0.25 * math.exp(random.normal(0, 0.3)),
        ahead=math.radians(random.normal(0, u_ahead_deg)),
        above_mm=random.uniform(-above_mm, above_mm),
        distance_mm=random.uniform(3800, 5000),
        elevation=math.radians(random.normal(0, 5)),
        aim=math.radians(random.uniform(2, 14)),
        roll=math.radians(random.normal(0, 3)),
        lens=np.array(prior.values) + random.normal(size=8) * np.array(prior.u),
        plumb_lines=plumb_lines,
        bow_left=bool(random.integers(2)),
    )
