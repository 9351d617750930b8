"""
Truth we know because we made it: an invented transom, and a camera to photograph it with.

Independent of the program: rays go through OpenCV's `projectPoints`, everything else is a few lines of NumPy.
Hull frame H: origin at the keel point, x to starboard, y up along the face, z aft; mm. The transom frame of a
survey has the same origin and its x axis along the string, so figures of a survey are compared after `turned`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

FloatArray = NDArray[np.float64]

WIDTH_PX, HEIGHT_PX = 4000, 3000
DIAGONAL_PX = 5000.0


@dataclass(frozen=True)
class SimCamera:
    """A pinhole camera with distortion, and where it stood."""

    f: float = 2900.0
    cx: float = (WIDTH_PX - 1) / 2
    cy: float = (HEIGHT_PX - 1) / 2
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    rotation: FloatArray = field(default_factory=lambda: np.diag([1.0, -1.0, -1.0]))
    """(3, 3), hull to camera."""
    translation: FloatArray = field(default_factory=lambda: np.array([0.0, 500.0, 3300.0]))
    """(3,) mm."""

    def project(self, points: ArrayLike) -> FloatArray:
        """Object points (n, 3) mm in the photo, (n, 2) px."""
        matrix = np.array([[self.f, 0.0, self.cx], [0.0, self.f, self.cy], [0.0, 0.0, 1.0]])
        rotation, _ = cv2.Rodrigues(self.rotation)
        distortion = np.array([self.k1, self.k2, self.p1, self.p2])
        objects = np.asarray(points, dtype=float).reshape(-1, 1, 3)
        uv, _ = cv2.projectPoints(objects, rotation, self.translation, matrix, distortion)
        return np.asarray(uv, dtype=float).reshape(-1, 2)


def turn(axis: int, degrees: float) -> FloatArray:
    """Rotation matrix about one axis, right-handed."""
    vector = np.zeros(3)
    vector[axis] = np.radians(degrees)
    matrix, _ = cv2.Rodrigues(vector)
    return np.asarray(matrix, dtype=float)


def a_pose(
    yaw_deg: float = 0.0,
    pitch_deg: float = 0.0,
    roll_deg: float = 0.0,
    distance_mm: float = 3300.0,
    aim: tuple[float, float] = (0.0, 500.0),
) -> tuple[FloatArray, FloatArray]:
    """
    Rotation and translation of a camera that looks at `aim` on the face.

    Yaw moves it to starboard, pitch raises it above the face's normal, roll turns it about its own axis.
    """
    direction = turn(1, yaw_deg) @ turn(0, -pitch_deg)
    rotation = turn(2, roll_deg) @ np.diag([1.0, -1.0, -1.0]) @ direction.T
    centre = np.array([*aim, 0.0]) + distance_mm * direction[:, 2]
    return rotation, -rotation @ centre


@dataclass(frozen=True)
class SimFitting:
    """A round fitting: its centre on the face, its diameter, and how proud its rim stands."""

    id: str
    x: float
    y: float
    diameter: float
    proud: float


FITTINGS = (
    SimFitting("bilge_port", -690.0, 610.0, 60.0, 6.0),
    SimFitting("livewell_starboard", 720.0, 560.0, 72.0, 6.0),
    SimFitting("drain", 0.0, 58.0, 46.0, 4.0),
    SimFitting("light_port", -520.0, 310.0, 100.0, 10.0),
    SimFitting("bolt_starboard", 400.0, 820.0, 24.0, 3.0),
)


@dataclass(frozen=True)
class SimTransom:
    """A flat transom. Half widths and heights per side, so that the sides may differ."""

    deadrise_deg: tuple[float, float] = (19.0, 19.0)
    """Port, starboard; of the bottom edge in the face, against x of the hull."""
    inner_half: tuple[float, float] = (1130.0, 1130.0)
    outer_half: tuple[float, float] = (1150.0, 1150.0)
    chine_drop: float = 5.0
    """How far the chine's outer edge lies below its inner edge."""
    top_half: tuple[float, float] = (1200.0, 1200.0)
    top_height: tuple[float, float] = (1010.0, 1010.0)
    crown: float = 30.0
    fittings: tuple[SimFitting, ...] = FITTINGS

    def points(self) -> dict[str, FloatArray]:
        """The named corners of the outline, (2,) mm each."""
        named = {"keel": np.zeros(2)}
        for index, (side, sign) in enumerate((("port", -1.0), ("starboard", 1.0))):
            rise = self.inner_half[index] * np.tan(np.radians(self.deadrise_deg[index]))
            named[f"chine_inner_{side}"] = np.array([sign * self.inner_half[index], rise])
            named[f"chine_{side}"] = np.array([sign * self.outer_half[index], rise - self.chine_drop])
            named[f"top_{side}"] = np.array([sign * self.top_half[index], self.top_height[index]])
        return named


def top_edge(port: FloatArray, starboard: FloatArray, crown: float, fraction: float) -> FloatArray:
    """A point of the crowned top edge between its port (0) and starboard (1) corner: a parabola on their chord."""
    along = starboard - port
    normal = np.array([-along[1], along[0]]) / np.hypot(*along)
    return np.asarray(port + fraction * along + 4 * fraction * (1 - fraction) * crown * normal, dtype=float)


@dataclass(frozen=True)
class SimString:
    """The reference line: y at x = 0 and its slope, in the hull frame."""

    height: float = 890.0
    slope: float = 0.003

    def at(self, x: ArrayLike) -> FloatArray:
        """Points (n, 2) of the line at x."""
        x = np.asarray(x, dtype=float)
        return np.stack([x, self.height + self.slope * x], axis=-1)


def turned(points: ArrayLike, string: SimString) -> FloatArray:
    """Points (…, 2) of the hull frame in the transom frame, whose x axis is parallel to the string."""
    angle = np.arctan(string.slope)
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(np.asarray(points, dtype=float) @ np.array([[c, -s], [s, c]]), dtype=float)


def true_dimensions(
    points: Mapping[str, FloatArray], string: SimString, crown: float, offset: float = 381.0
) -> dict[str, float]:
    """Every dimension of an outline under the code that a survey gives it; mm and degrees."""
    at = {name: turned(place - points["keel"], string) for name, place in points.items()}
    height = float(turned(string.at(0.0) - points["keel"], string)[1])
    truth = {"a_centre": height, "crown": crown}
    for side in ("port", "starboard"):
        inner, outer = at[f"chine_inner_{side}"], at[f"chine_{side}"]
        slope = inner[1] / abs(inner[0])
        truth[f"deadrise_chord_{side}"] = truth[f"deadrise_edge_{side}"] = float(np.degrees(np.arctan(slope)))
        truth[f"b_{side}"] = float(height - offset * slope)
        truth[f"chine_flat_{side}"] = distance(inner, outer)
        truth[f"height_{side}"] = float(at[f"top_{side}"][1])
        truth[f"height_chine_{side}"] = float(outer[1])
        truth[f"height_chine_inner_{side}"] = float(inner[1])
    truth["chine_beam"] = distance(at["chine_port"], at["chine_starboard"])
    truth["chine_beam_inner"] = distance(at["chine_inner_port"], at["chine_inner_starboard"])
    truth["top_width"] = distance(at["top_port"], at["top_starboard"])
    between = at["chine_inner_starboard"] - at["chine_inner_port"]
    truth["chine_line_slope"] = float(np.degrees(np.arctan2(between[1], between[0])))
    truth["keel_from_middle"] = float(-(at["chine_inner_port"][0] + at["chine_inner_starboard"][0]) / 2)
    truth["height_centre"] = height_centre(at["top_port"], at["top_starboard"], crown)
    return truth


def height_centre(port: FloatArray, starboard: FloatArray, crown: float) -> float:
    """Height of the top edge over the origin."""
    middle = brentq(lambda fraction: top_edge(port, starboard, crown, fraction)[0], 0.0, 1.0)
    return float(top_edge(port, starboard, crown, middle)[1])


def fitting_truth(fitting: SimFitting, keel: FloatArray, string: SimString, height: float) -> dict[str, float]:
    """Where a fitting sits in the transom frame, as ``<id>.x`` and so on; `height` is the string's above the keel."""
    x, y = turned(np.array([fitting.x, fitting.y]) - keel, string)
    values = {"x": x, "y": y, "diameter": fitting.diameter, "below_reference": height - y}
    return {f"{fitting.id}.{name}": float(value) for name, value in values.items()}


def distance(first: ArrayLike, second: ArrayLike) -> float:
    """Straight distance between two points."""
    return float(np.linalg.norm(np.asarray(first) - np.asarray(second)))
