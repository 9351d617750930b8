"""A bowed transom photographed from several places: everything unknown about it, and what would be observed."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from scipy.optimize import brentq

from digitizer.job.model import MarkKind, Side
from tests.builders import FloatArray, SimCamera, SimString, turn, turned
from tests.simulation.scene import Scene, flatness_modes

Theta = dict[str, FloatArray]


@dataclass(frozen=True)
class Bow:
    """A face bent about an upright axis; `curvature` 1/mm, positive when it bulges aft."""

    curvature: float

    def space(self, chart: FloatArray) -> FloatArray:
        """Points in space (n, 3) of girth, height and distance off the face (n, 3), mm: walk round the circle."""
        girth, up, off = np.asarray(chart, dtype=float).reshape(-1, 3).T
        if abs(self.curvature) < 1e-12:
            return np.column_stack([girth, up, off])
        radius, angle = 1.0 / self.curvature, girth * self.curvature
        return np.column_stack([(radius + off) * np.sin(angle), up, (radius + off) * np.cos(angle) - radius])

    def girth(self, x: FloatArray) -> FloatArray:
        """Girth at which the face stands at x, mm."""
        return x if abs(self.curvature) < 1e-12 else np.arcsin(x * self.curvature) / self.curvature

    def dip(self, x: float) -> float:
        """How far the face at x stands forward of the keel's tangent, mm."""
        if abs(self.curvature) < 1e-12:
            return 0.0
        radius = 1.0 / self.curvature
        return float(radius - np.sign(radius) * np.sqrt(radius**2 - x**2))

    def rigid(self, girth: float) -> tuple[FloatArray, FloatArray]:
        """Rotation (3, 3) and origin (3,) of the plane that touches the face at a girth."""
        return turn(1, np.degrees(girth * self.curvature)), self.space(np.array([[girth, 0.0, 0.0]]))[0]


@dataclass(frozen=True)
class SimMark:
    """One click: which point of the scene, in which photo, and what the record says of it."""

    id: str
    photo: int
    point: int
    kind: MarkKind
    u_px: float
    tie: str | None = None
    side: Side | None = None
    of: str | None = None
    on: str | None = None


@dataclass
class BowedScene(Scene):
    """
    A scene with a bowed face, pads and several photos.

    ``xy`` are girth and height of the places; rims and the reference line have points of their own in each photo,
    but for the line's ends, which are the same in all.
    """

    photos: int = 3
    boards: tuple[int, ...] = (0,)
    """Photos that show the targets."""
    marks: list[SimMark] = field(default_factory=list)
    lifted: dict[str, str] = field(default_factory=dict)
    """Pad under each place, fitting or target that lies on one."""
    girths: frozenset[str] = frozenset()
    """Lengths that were taken along the surface."""
    gaps: list[tuple[str, float, float]] = field(default_factory=list)
    """Id, span and u of each gap under a straightedge."""

    def bow(self, theta: Theta) -> Bow:
        return Bow(float(theta["bow"][0]))

    def camera_of(self, theta: Theta, photo: int) -> SimCamera:
        rotation, _ = cv2.Rodrigues(theta["rotation"][photo])
        translation = theta["translation"][photo]
        return SimCamera(*theta["lens"], rotation=np.asarray(rotation, dtype=float), translation=translation)

    def lift(self, theta: Theta, name: str) -> float:
        return float(theta["pad"][0]) if name in self.lifted else 0.0

    def chart(self, theta: Theta) -> FloatArray:
        """Chart coordinates of every point: places, reference line, rims photo by photo."""
        off = theta["height"] + [self.lift(theta, name) for name in self.places]
        height, slope = theta["string"]
        line = np.column_stack([theta["string_x"], height + slope * theta["string_x"] + theta["string_dev"]])
        parts = [np.column_stack([theta["xy"], off]), np.column_stack([line, np.full(len(line), theta["string_z"][0])])]
        for index, name in enumerate(self.fitting_ids):
            x, y, radius = theta["fitting"][index]
            r = radius + theta["rim_edge"][index] + theta["rim_round"][index]
            angle = theta["rim_angle"][index]
            proud = np.full(angle.shape, theta["proud"][index] + self.lift(theta, name))
            parts.append(np.stack([x + r * np.cos(angle), y + r * np.sin(angle), proud], axis=-1).reshape(-1, 3))
        return np.vstack(parts)

    def sheet_points(self, theta: Theta, index: int) -> FloatArray:
        """Corners of a target in space: it touches the face at its middle."""
        target = self.targets[index]
        xi, eta = (target.corners / target.half).T
        flat = target.corners * (1 + theta["target_scale"][index])
        sheet = np.column_stack([flat, flatness_modes(xi, eta) @ theta["target_flat"][index]])
        (girth, up, angle), (tilt_x, tilt_y) = theta["target"][index], theta["target_tilt"][index]
        matrix = turn(2, np.degrees(angle)) @ turn(1, np.degrees(tilt_y)) @ turn(0, np.degrees(tilt_x))
        tangent, origin = self.bow(theta).rigid(girth)
        off = theta["target_z"][index] + self.lift(theta, target.id)
        return np.asarray((sheet @ matrix.T + [0.0, up, off]) @ tangent.T + origin)

    def pixels(self, theta: Theta) -> FloatArray:
        """Image points of all marks, then of the targets' corners photo by photo, (n, 2) px."""
        chart = self.chart(theta)[[mark.point for mark in self.marks]]
        chart[:, :2] += theta["definition"]
        space, photo = self.bow(theta).space(chart), np.array([mark.photo for mark in self.marks])
        cameras = [self.camera_of(theta, number) for number in range(self.photos)]
        out = np.zeros((len(self.marks), 2))
        for number, camera in enumerate(cameras):
            out[photo == number] = camera.project(space[photo == number])
        sheets = [self.sheet_points(theta, index) for index in range(len(self.targets))]
        return np.vstack([out, *(cameras[number].project(sheet) for number in self.boards for sheet in sheets)])

    def pixel_u(self) -> FloatArray:
        corners = [np.full(len(target.corners), target.u_px) for target in self.targets]
        return np.concatenate([np.array([mark.u_px for mark in self.marks]), *(corners * len(self.boards))])

    def length_values(self, theta: Theta) -> FloatArray:
        scale, zero = theta["tape"]
        chart = self.chart(theta)
        names = list(self.places)
        values = []
        for name, first, second, _, instrument in self.lengths:
            ends = chart[[names.index(first), names.index(second)]]
            if name not in self.girths:
                ends = self.bow(theta).space(ends)
            true = float(np.linalg.norm(ends[1] - ends[0]))
            values.append((true - zero) / (1 + scale) if instrument else true)
        return np.array(values)

    def relations(self, theta: Theta) -> FloatArray:
        """The gaps under a straightedge, mm."""
        bow = self.bow(theta)
        return np.array([bow.dip(span / 2) for _, span, _ in self.gaps])

    def relation_u(self) -> FloatArray:
        return np.array([u for *_, u in self.gaps])

    def dimensions(self, theta: Theta) -> dict[str, float]:
        """The dimensions as the codes of a survey name them."""
        return {**self._outline(theta), **self._bow(theta), **self._fittings(theta), **self._pad(theta)}

    def placed(self, theta: Theta, name: str) -> FloatArray:
        """A place in the transom frame, (3,) mm."""
        index = list(self.places).index(name)
        return self.in_frame(theta, self.chart(theta)[index])

    def in_frame(self, theta: Theta, chart: FloatArray) -> FloatArray:
        """Chart coordinates of the hull as a place of the transom frame, whose x axis runs along the line."""
        x, y, z = self.bow(theta).space(chart)[0]
        return np.append(turned([x, y], self.line(theta)), z)

    def _outline(self, theta: Theta) -> dict[str, float]:
        at = {name: self.placed(theta, name) for name in OUTLINE}
        height = float(turned([0.0, theta["string"][0]], self.line(theta))[1])
        truth = {"a_centre": height, "crown": self.crown}
        rake = float(theta["rake"][0])
        for side in ("port", "starboard"):
            x, y, z = at[f"chine_inner_{side}"]
            truth[f"deadrise_chord_{side}"] = float(np.degrees(np.arctan2(y, abs(x))))
            rise = y * np.cos(rake) - z * np.sin(rake)
            truth[f"section_deadrise_{side}"] = float(np.degrees(np.arctan2(rise, abs(x))))
            outer, top = at[f"chine_{side}"], at[f"top_{side}"]
            truth |= {f"height_chine_inner_{side}": y, f"height_chine_{side}": outer[1], f"height_{side}": top[1]}
            truth[f"chine_flat_{side}"] = float(np.linalg.norm(outer - at[f"chine_inner_{side}"]))
        for code, stem in WIDTHS.items():
            ends = [f"{stem}_port", f"{stem}_starboard"]
            truth[code] = float(np.linalg.norm(at[ends[1]] - at[ends[0]]))
            first, second = (theta["xy"][list(self.places).index(end)] for end in ends)
            truth[f"{code}_girth"] = float(np.linalg.norm(second - first))
        port, starboard = at["chine_inner_port"], at["chine_inner_starboard"]
        slope = np.arctan2(starboard[1] - port[1], starboard[0] - port[0])
        return truth | {
            "keel_from_middle": -(port[0] + starboard[0]) / 2, "chine_line_slope": float(np.degrees(slope)),
            "rake": float(np.degrees(rake)),
        }  # fmt: skip

    def _bow(self, theta: Theta) -> dict[str, float]:
        bow = self.bow(theta)
        chord = self.placed(theta, "chine_starboard")[0] - self.placed(theta, "chine_port")[0]
        found = {"sagitta": bow.dip(chord / 2)}
        if bow.curvature:
            found["bow_radius"] = 1.0 / bow.curvature
        return found

    def _fittings(self, theta: Theta) -> dict[str, float]:
        truth = {}
        height = float(turned([0.0, theta["string"][0]], self.line(theta))[1])
        for index, name in enumerate(self.fitting_ids):
            girth, up, radius = theta["fitting"][index]
            x, y, _ = self.in_frame(theta, np.array([girth, up, self.lift(theta, name)]))
            truth |= {f"{name}.x": x, f"{name}.y": y, f"{name}.below_reference": height - y}
            truth |= {f"{name}.diameter": 2 * radius}
            truth[f"{name}.girth"] = float(turned([girth, up], self.line(theta))[0])
        return truth

    def _pad(self, theta: Theta) -> dict[str, float]:
        if not self.lifted:
            return {}
        names = [name for name in self.places if name.startswith("pad_")]
        chart = theta["xy"][[list(self.places).index(name) for name in names]]
        rolled = turned(chart, self.line(theta))
        y = np.array([self.placed(theta, name)[1] for name in names])
        left, right = float(rolled[:, 0].min()), float(rolled[:, 0].max())
        return {
            "pad_pad_height": float(theta["pad"][0]), "pad_pad_width": right - left,
            "pad_pad_offset": (left + right) / 2, "pad_pad_rise": float(y.max() - y.min()),
        }  # fmt: skip


OUTLINE = (
    "keel", "chine_inner_port", "chine_inner_starboard", "chine_port", "chine_starboard", "top_port", "top_starboard",
)  # fmt: skip
WIDTHS = {"chine_beam": "chine", "chine_beam_inner": "chine_inner", "top_width": "top"}


@dataclass(frozen=True)
class Bottom:
    """A straight V carried along the keel to a raked and bowed face, where it becomes a curve."""

    section_deg: float
    rake: float
    bow: Bow

    def height(self, x: float) -> float:
        """Height of the bottom edge in the face at x: y cos(rake) − z sin(rake) = |x| tan(section)."""
        forward = self.bow.dip(x)
        return float((abs(x) * np.tan(np.radians(self.section_deg)) - forward * np.sin(self.rake)) / np.cos(self.rake))

    def figures(self, string: SimString, a: float, offset: float = 381.0) -> dict[str, float]:
        """Tangents at the keel, degrees, and B, as the transom frame has them."""
        tangent = np.degrees(np.arctan(np.tan(np.radians(self.section_deg)) / np.cos(self.rake)))
        truth = {}
        for side, sign in (("port", -1.0), ("starboard", 1.0)):
            truth[f"deadrise_edge_{side}"] = float(tangent - sign * np.degrees(np.arctan(string.slope)))
            x = brentq(lambda x, sign=sign: turned([x, self.height(x)], string)[0] - sign * offset, -600.0, 600.0)
            truth[f"b_{side}"] = a - float(turned([x, self.height(x)], string)[1])
        return truth
