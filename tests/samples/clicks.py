"""
Simulated clicks: the truth of a sample photo plus the scatter of a hand, as marks.

Nothing here is read by the program. The scatter is Gaussian along x and along y, and every mark
carries as its `u_px` the scatter that was used.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.job.model import Fitting, FittingKind, FittingShape, Mark, MarkKind, Side

FloatArray = NDArray[np.float64]

HAND_PX = 0.7
"""Scatter of a click on an edge or a rim, photo at full size on the screen."""
LINE_PX = 0.4
"""Scatter of a click on a string or a ruled line, across which the eye centres well."""
CORNER_PX = 1.5
"""Scatter of a rounded corner, clicked where its two edges would meet."""

SIDES = {"port": Side.PORT, "stbd": Side.STARBOARD}
KINDS = {
    "through_hull": FittingKind.THROUGH_HULL,
    "drain_plug": FittingKind.DRAIN,
    "light_round": FittingKind.LIGHT,
    "light_rect": FittingKind.LIGHT,
    "transducer": FittingKind.TRANSDUCER,
    "bolt": FittingKind.BOLT,
    "open_hole": FittingKind.BOLT_HOLE,
    "trim_tab": FittingKind.TAB_PLATE,
}
BOTTOM_STATIONS = (0.12, 0.28, 0.44, 0.60, 0.76, 0.92)
SIDE_STATIONS = (0.2, 0.4, 0.6, 0.8)
TOP_STATIONS = (0.15, 0.3, 0.5, 0.7, 0.85)


def starboard_word(name: str) -> str:
    """The job's name of a place that the truth abbreviates."""
    return name.replace("_stbd", "_starboard").replace("chine_outer", "chine")


class Clicks:
    """A hand with a mouse in one sample photo."""

    def __init__(self, truth: dict[str, Any], index: int, rng: np.random.Generator) -> None:
        self.truth = truth
        self.photo = truth["photos"][index]
        self.id = self.photo["file"].removesuffix(".jpg")
        self.several = len(truth["photos"]) > 1
        self.rng = rng
        self.marks: list[Mark] = []

    def click(
        self, name: str, kind: MarkKind, uv: Any, *, sigma: float = HAND_PX, tie: bool = False, **fields: Any
    ) -> None:
        """Mark a place; with `tie`, under a name that other photos share."""
        x, y = np.asarray(uv, dtype=float) + self.rng.normal(0.0, sigma, 2)
        width, height = self.photo["camera"]["image_size"]
        if not (0 <= x <= width - 1 and 0 <= y <= height - 1):
            return
        mark_id = f"{name}_{self.id}" if self.several else name
        point = name if tie and self.several else None
        self.marks.append(
            Mark(mark_id, self.id, kind, round(float(x), 2), round(float(y), 2), sigma, point=point, **fields)
        )

    def named(self, name: str, kind: MarkKind, **fields: Any) -> None:
        """Mark a named point of the truth, if it can be seen."""
        place = self.photo["pixels"]["points"].get(name)
        if place is not None and place["vis"] == 2:
            self.click(starboard_word(name), kind, place["uv"], tie=True, **fields)

    def reference_line(self, count: int = 9) -> None:
        """Points along the string, its two ends and its middle by name."""
        uv = np.array(self.photo["pixels"]["reference_line"]["uv"])
        visible = np.array(self.photo["pixels"]["reference_line"]["vis"]) == 2
        of = {"of": "reference", "sigma": LINE_PX}
        self.named("ref_port", MarkKind.REFERENCE_LINE, **of)
        for number, station in enumerate(np.linspace(0, len(uv) - 1, count).round().astype(int)[1:-1], 1):
            if visible[station] and number != (count - 1) // 2:
                self.click(f"ref_{number}", MarkKind.REFERENCE_LINE, uv[station], **of)
        self.named("ref_mid", MarkKind.REFERENCE_LINE, **of)
        self.named("ref_stbd", MarkKind.REFERENCE_LINE, **of)

    def outline(self) -> None:
        """Keel, chines, bottom edge, sides, rounded corners and top edge, all round."""
        self.named("keel", MarkKind.KEEL)
        for word, side in SIDES.items():
            self._along(f"keel chine_inner_{word}", "bottom", BOTTOM_STATIONS, MarkKind.BOTTOM_EDGE, side)
            self.named(f"chine_inner_{word}", MarkKind.CHINE_INNER, side=side)
            self.named(f"chine_outer_{word}", MarkKind.CHINE, side=side)
            self._along(f"chine_outer_{word} corner_low_{word}", "side", SIDE_STATIONS, MarkKind.OUTLINE, side)
            self.named(f"corner_low_{word}", MarkKind.OUTLINE, side=side)
            self.named(f"sheer_{word}", MarkKind.TOP_CORNER, side=side, sigma=CORNER_PX)
            self.named(f"corner_high_{word}", MarkKind.OUTLINE, side=side)
        self._along("corner_high_port corner_high_stbd", "top", TOP_STATIONS, MarkKind.TOP_EDGE, None)

    def _along(self, ends: str, name: str, stations: tuple[float, ...], kind: MarkKind, side: Side | None) -> None:
        """Marks at fractions of the outline between two named points, where they can be seen."""
        first, last = (self._outline_index(end) for end in ends.split())
        uv = self.photo["pixels"]["outline"]["uv"]
        visible = self.photo["pixels"]["outline"]["vis"]
        count = len(uv)
        steps = (last - first + count // 2) % count - count // 2
        for number, station in enumerate(stations, 1):
            at = round(first + station * steps) % count
            if visible[at] == 2:
                label = f"{name}_{side}_{number}" if side else f"{name}_{number}"
                self.click(label, kind, uv[at], side=side)

    def _outline_index(self, name: str) -> int:
        away = np.array(self.truth["outline"]) - np.array(self.truth["points"][name])
        return int(np.argmin(np.linalg.norm(away, axis=1)))

    def fittings(self) -> None:
        """Rims of the round fittings, corners of the rectangular ones."""
        for record in self.truth["fittings"]:
            pixels = self.photo["pixels"]["fittings"][record["name"]]
            if pixels["vis"] != 2:
                continue
            name = starboard_word(record["name"])
            if record["shape"] == "circle":
                self._rim(name, record, np.array(pixels["rim_uv"]))
            else:
                self._corners(name, record)

    def _rim(self, name: str, record: dict[str, Any], uv: FloatArray) -> None:
        count = 8 if record["flange_od_mm"] >= 40 else 6
        start = int(self.rng.integers(len(uv) // count))
        for number in range(count):
            place = uv[start + number * len(uv) // count]
            self.click(f"{name}_rim_{number + 1}", MarkKind.RIM, place, of=name)

    def _corners(self, name: str, record: dict[str, Any]) -> None:
        """Top port, top starboard, bottom starboard, bottom port: where the rounded rectangle's edges would meet."""
        for number, place in enumerate(self.project(rectangle_corners(record)), 1):
            self.click(f"{name}_corner_{number}", MarkKind.FITTING_CORNER, place, of=name, tie=True)

    def rule(self) -> None:
        """The two end lines of the long rule, at its middle."""
        for end in ("start", "end"):
            uv = self.photo["pixels"]["points"][f"rule_{end}_middle"]["uv"]
            self.click(f"rule_{end}", MarkKind.LENGTH_END, uv, sigma=LINE_PX, height_mm=5.0, u_height_mm=0.3)

    def project(self, points: FloatArray) -> FloatArray:
        """Object points (n, 3) mm to the photo (n, 2) px, with the truth's camera."""
        c = self.photo["camera"]
        matrix = np.array([[c["fx"], 0, c["cx"]], [0, c["fy"], c["cy"]], [0, 0, 1.0]])
        rotation, _ = cv2.Rodrigues(np.array(c["R_transom_to_camera"]))
        distortion = np.array([c[k] for k in ("k1", "k2", "p1", "p2")])
        uv, _ = cv2.projectPoints(points, rotation, np.array(c["t_mm"]), matrix, distortion)
        return np.asarray(uv, dtype=float).reshape(-1, 2)


def rectangle_corners(record: dict[str, Any]) -> FloatArray:
    """Corners (4, 3) mm of a rectangular fitting in the plane of its rim, clockwise from top port."""
    normal = np.array(record["normal"])
    across = np.cross([0.0, 1.0, 0.0], normal)
    across /= np.linalg.norm(across)
    up = np.cross(normal, across)
    roll = np.radians(record["roll_deg"])
    along = np.cos(roll) * across + np.sin(roll) * up
    upright = np.cos(roll) * up - np.sin(roll) * across
    half = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * [record["width_mm"] / 2, record["height_mm"] / 2]
    return np.asarray(record["centre_rim_plane"] + half @ np.vstack([along, upright]), dtype=float)


def fitting_records(truth: dict[str, Any]) -> Iterator[Fitting]:
    """The job's fittings, as somebody who looks at the boat would enter them: kind, shape and name only."""
    for record in truth["fittings"]:
        name = starboard_word(record["name"])
        shape = FittingShape.CIRCLE if record["shape"] == "circle" else FittingShape.RECTANGLE
        yield Fitting(name, KINDS[record["kind"]], shape, name=name.replace("_", " "))
