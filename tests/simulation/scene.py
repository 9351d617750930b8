"""Everything unknown about a photographed transom, and what would be observed of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np

from digitizer.job.model import MarkKind, Side, Target
from tests.builders import FloatArray, SimCamera, SimFitting, SimString, fitting_truth, true_dimensions, turn
from tests.simulation.evidence import Evidence, Precision

FREE = np.inf


@dataclass
class Place:
    """A marked point of the face: its kind, side and how far off the face it lies."""

    kind: MarkKind
    side: Side | None = None
    height: float | None = None
    u_height: float | None = None
    u_px: float = 0.7
    of: str | None = None
    u_definition: float = 0.0


@dataclass(frozen=True)
class SimTarget:
    """A printed target: its record, where its corners lie on the sheet, and where it was put."""

    record: Target
    corner_ids: tuple[int, ...]
    corners: FloatArray
    half: FloatArray
    """Half width and half height (2,) of the pattern, mm."""
    place: tuple[float, float]
    u_px: float

    @property
    def id(self) -> str:
        return self.record.id


@dataclass
class Scene:
    """Everything unknown with its value and prior, and what would be observed of it."""

    evidence: Evidence
    precision: Precision
    places: dict[str, Place] = field(default_factory=dict)
    theta: dict[str, FloatArray] = field(default_factory=dict)
    prior: dict[str, FloatArray] = field(default_factory=dict)
    """Standard uncertainty known beforehand; infinite for a free unknown."""
    nominal: dict[str, FloatArray] = field(default_factory=dict)
    """What the job says of an unknown that has a prior."""
    fitting_ids: tuple[str, ...] = ()
    nominal_proud: FloatArray = field(default_factory=lambda: np.zeros(0))
    crown: float = 0.0
    lengths: list[tuple[str, str, str, float, str | None]] = field(default_factory=list)
    """Id, its two points, u and the instrument."""
    pairs: list[tuple[str, str, float]] = field(default_factory=list)
    targets: list[SimTarget] = field(default_factory=list)

    def unknown(self, name: str, value: Any, u: Any = FREE, draw: np.random.Generator | None = None) -> None:
        """Add an unknown; one with a finite prior is drawn from it."""
        nominal = np.atleast_1d(np.asarray(value, dtype=float))
        prior = np.broadcast_to(np.asarray(u, dtype=float), nominal.shape).copy()
        self.nominal[name], self.prior[name] = nominal, prior
        scatter = np.where(np.isfinite(prior), prior, 0.0)
        self.theta[name] = nominal if draw is None else nominal + draw.normal(0.0, 1.0, nominal.shape) * scatter

    # What follows is geometry: object points of everything that is marked, from theta.

    def camera(self, theta: dict[str, FloatArray]) -> SimCamera:
        rotation, _ = cv2.Rodrigues(theta["rotation"])
        return SimCamera(*theta["lens"], rotation=np.asarray(rotation, dtype=float), translation=theta["translation"])

    def string_points(self, theta: dict[str, FloatArray]) -> FloatArray:
        height, slope = theta["string"]
        x = theta["string_x"]
        along = np.stack([x, height + slope * x + theta["string_dev"]], axis=-1)
        return np.column_stack([along, np.broadcast_to(theta["string_z"], len(along))])

    def rim_points(self, theta: dict[str, FloatArray]) -> FloatArray:
        x, y, radius = theta["fitting"].T[:, :, None]
        r = radius + theta["rim_edge"] + theta["rim_round"]
        px, py = x + r * np.cos(theta["rim_angle"]), y + r * np.sin(theta["rim_angle"])
        pz = np.broadcast_to(theta["proud"][:, None], px.shape)
        return np.stack([px, py, pz], axis=-1).reshape(-1, 3)

    def target_points(self, theta: dict[str, FloatArray]) -> FloatArray:
        """Corners of all targets, in the order of their ids."""
        parts = [np.zeros((0, 3))]
        for t, target in enumerate(self.targets):
            xi, eta = (target.corners / target.half).T
            flat = target.corners * (1 + theta["target_scale"][t])
            sheet = np.column_stack([flat, flatness_modes(xi, eta) @ theta["target_flat"][t]])
            (x, y, angle), (tilt_x, tilt_y) = theta["target"][t], theta["target_tilt"][t]
            matrix = turn(2, np.degrees(angle)) @ turn(1, np.degrees(tilt_y)) @ turn(0, np.degrees(tilt_x))
            parts.append(sheet @ matrix.T + [x, y, theta["target_z"][t]])
        return np.vstack(parts)

    def object_points(self, theta: dict[str, FloatArray]) -> FloatArray:
        marked = np.column_stack([theta["xy"] + theta["definition"], theta["height"]])
        parts = [marked, self.string_points(theta), self.rim_points(theta), self.target_points(theta)]
        return np.vstack(parts)

    def pixels(self, theta: dict[str, FloatArray]) -> FloatArray:
        """Image points of `object_points`, px."""
        return self.camera(theta).project(self.object_points(theta))

    def line(self, theta: dict[str, FloatArray]) -> SimString:
        """The reference line."""
        return SimString(*theta["string"])

    def pixel_u(self) -> FloatArray:
        """Standard uncertainty of each projected point, px, in the order of `object_points`."""
        parts = [
            np.array([place.u_px for place in self.places.values()]),
            np.full(len(self.theta["string_x"]), self.evidence.line_px),
            np.full(self.theta["rim_angle"].size, self.evidence.click_px),
            *(np.full(len(target.corners), target.u_px) for target in self.targets),
        ]
        return np.concatenate(parts)

    def at(self, theta: dict[str, FloatArray], name: str) -> FloatArray:
        return np.asarray(theta["xy"][list(self.places).index(name)])

    def spatial(self, theta: dict[str, FloatArray], name: str) -> FloatArray:
        """A marked place or the middle of a target in space."""
        if name in self.places:
            index = list(self.places).index(name)
            return np.append(theta["xy"][index], theta["height"][index])
        index = [target.id for target in self.targets].index(name)
        return np.append(theta["target"][index, :2], theta["target_z"][index])

    def length_values(self, theta: dict[str, FloatArray]) -> FloatArray:
        """What a faultless reading would be: true = reading × (1 + scale) + zero."""
        scale, zero = theta["tape"]
        values = []
        for _, first, second, _, instrument in self.lengths:
            true = float(np.linalg.norm(self.spatial(theta, first) - self.spatial(theta, second)))
            values.append((true - zero) / (1 + scale) if instrument else true)
        return np.array(values)

    def relations(self, theta: dict[str, FloatArray]) -> FloatArray:
        """
        What ought to be nought within its u: mirror pairs, the square's angle, the view.

        The u of a pair is that of the discrepancy between a point and its twin's mirror image.
        """
        values: list[float] = []
        offset, lean = theta.get("axis", (0.0, 0.0))
        for port, starboard, _ in self.pairs:
            p, s = self.at(theta, port), self.at(theta, starboard)
            both = p + s
            values += [both[0] - 2 * offset - lean * both[1]]
            if port != starboard:
                values += [(s - p)[1] + lean * (s - p)[0]]
        if self.evidence.square:
            a, corner, b = (self.at(theta, f"square_{n}") for n in (1, 2, 3))
            values.append(corner_error(a, corner, b))
        if self.evidence.u_square_deg is not None:
            values += list(off_square(self.camera(theta).rotation))
        return np.array(values)

    def relation_u(self) -> FloatArray:
        u: list[float] = []
        for port, starboard, scatter in self.pairs:
            u += [scatter] if port == starboard else [scatter, scatter]
        if self.evidence.square:
            u.append(np.radians(0.1))
        if self.evidence.u_square_deg is not None:
            u += [np.radians(self.evidence.u_square_deg)] * 2
        return np.array(u)

    def dimensions(self, theta: dict[str, FloatArray]) -> dict[str, float]:
        """The dimensions as the codes of a survey name them."""
        hull = {name: self.at(theta, name) for name in OUTLINE}
        string = self.line(theta)
        truth = true_dimensions(hull, string, self.crown)
        for index, name in enumerate(self.fitting_ids):
            x, y, radius = theta["fitting"][index]
            record = SimFitting(name, x, y, 2 * radius, 0.0)
            truth |= fitting_truth(record, hull["keel"], string, truth["a_centre"])
        for side in ("port", "starboard"):
            face = np.tan(np.radians(truth[f"deadrise_chord_{side}"]))
            truth[f"section_deadrise_{side}"] = float(np.degrees(np.arctan(face * np.cos(theta["rake"][0]))))
        return truth


OUTLINE = (
    "keel", "chine_inner_port", "chine_inner_starboard", "chine_port", "chine_starboard", "top_port", "top_starboard",
)  # fmt: skip


def flatness_modes(u: FloatArray, v: FloatArray) -> FloatArray:
    """A bow each way and a twist, (n, 3), of unit sagitta over the sheet, u and v in −1 … 1."""
    return np.column_stack([1 - u**2, 1 - v**2, u * v])


def corner_error(a: FloatArray, corner: FloatArray, b: FloatArray) -> float:
    """By how much a corner differs from square, rad."""
    p, q = a - corner, b - corner
    return float(np.arcsin(p @ q / np.linalg.norm(p) / np.linalg.norm(q)))


def off_square(rotation: FloatArray) -> FloatArray:
    """Yaw and pitch of the view against the face's normal, rad, from the rotation of hull to camera."""
    axis = rotation[2]
    return np.array([np.arctan2(axis[0], -axis[2]), np.arctan2(axis[1], -axis[2])])
