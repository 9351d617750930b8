"""A scene drawn at random: boat, camera and things on the transom, each unknown from its prior."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import cv2
import numpy as np

from digitizer.job.model import MarkKind, Side, Target, TargetKind
from tests.builders import FloatArray, SimTransom, a_pose, top_edge
from tests.simulation.evidence import Evidence, Precision, lens_prior
from tests.simulation.scene import Place, Scene, SimTarget

RIM_MARKS = 8
EDGE_STATIONS = (0.15, 0.30, 0.45, 0.60, 0.75, 0.90)
TOP_STATIONS = (0.15, 0.35, 0.5, 0.65, 0.85)


def a_scene(rng: np.random.Generator, evidence: Evidence, precision: Precision, hull: SimTransom) -> Scene:
    """Boat, camera and things on the transom, drawn."""
    scene = Scene(evidence, precision, crown=hull.crown)
    points = _outline_points(scene, rng, hull)
    _lengths_and_relations(scene, rng, points)
    count = len(points)
    scene.unknown("xy", np.array(list(points.values())))
    u_definition = np.array([place.u_definition for place in scene.places.values()])
    scene.unknown("definition", np.zeros((count, 2)), u_definition[:, None], rng)
    heights = np.array([place.height or 0.0 for place in scene.places.values()])
    u_heights = np.array([place.u_height or 0.0 for place in scene.places.values()])
    scene.unknown("height", heights, u_heights, rng)
    _string(scene, rng)
    _fittings(scene, rng, hull)
    _targets(scene, rng)
    scene.unknown("tape", [0.0, 0.0], precision.tape, rng)
    if evidence.mirror:
        scene.unknown("axis", [0.0, 0.0])
    scene.unknown("rake", [np.radians(14.0)], np.radians(0.5), rng)
    _camera(scene, rng)
    return scene


def _outline_points(scene: Scene, rng: np.random.Generator, hull: SimTransom) -> dict[str, FloatArray]:
    """The marked outline: named corners, bottom edge and top edge; registers how each is marked."""
    points = dict(hull.points())
    if scene.evidence.mirror:
        _unlike_sides(points, rng)
    kinds = {"keel": MarkKind.KEEL, "chine_inner": MarkKind.CHINE_INNER, "chine": MarkKind.CHINE}
    for name in points:
        stem, _, side = name.rpartition("_")
        kind = kinds.get(stem or name, MarkKind.TOP_CORNER)
        scene.places[name] = _place(scene, kind, Side(side) if stem else None)
    for side in (Side.PORT, Side.STARBOARD):
        for number, station in enumerate(EDGE_STATIONS, 1):
            name = f"bottom_{side}_{number}"
            points[name] = points["keel"] + station * (points[f"chine_inner_{side}"] - points["keel"])
            scene.places[name] = _place(scene, MarkKind.BOTTOM_EDGE, side)
    for number, station in enumerate(TOP_STATIONS, 1):
        points[f"top_{number}"] = top_edge(points["top_port"], points["top_starboard"], hull.crown, station)
        scene.places[f"top_{number}"] = _place(scene, MarkKind.TOP_EDGE, None)
    return points


def _place(scene: Scene, kind: MarkKind, side: Side | None) -> Place:
    definition = scene.precision.definition.get(kind.value, 0.0)
    return Place(kind, side, 0.0, 0.0, scene.evidence.click_px, u_definition=definition)


MIRRORED = ("chine_inner", "chine", "top")
U_MIRROR = 3.0


def _unlike_sides(points: dict[str, FloatArray], rng: np.random.Generator) -> None:
    """Shift the pairs as the builder's scatter would; the edges between them follow."""
    for stem in MIRRORED:
        across, along = rng.normal(0.0, U_MIRROR, 2) * [0.5, 1.0]
        for side, sign in (("port", -0.5), ("starboard", 0.5)):
            points[f"{stem}_{side}"] = points[f"{stem}_{side}"] + [across, sign * along]
    points["keel"] = points["keel"] + [rng.normal(0.0, U_MIRROR / 2), 0.0]


def _lengths_and_relations(scene: Scene, rng: np.random.Generator, points: dict[str, FloatArray]) -> None:
    """Rules, tape figures, mirror pairs, the sheet or the carpenter's square."""
    evidence = scene.evidence
    if evidence.rule:
        for name, place in (("rule_start", (-950.0, 700.0)), ("rule_end", (949.9, 712.0))):
            _thing(scene, points, name, place, MarkKind.LENGTH_END, 5.0)
        scene.lengths.append(("rule", "rule_start", "rule_end", 1.0, None))
    if evidence.beam:
        scene.lengths.append(("beam", "chine_port", "chine_starboard", 2.0, "tape"))
    if evidence.tapes:
        scene.lengths += [(f"tape_{n}", a, b, 2.0, "tape") for n, (a, b) in enumerate(TAPED[: evidence.tapes], 1)]
    if evidence.mirror:
        scene.pairs = [(f"{stem}_port", f"{stem}_starboard", U_MIRROR) for stem in MIRRORED]
        scene.pairs.append(("keel", "keel", U_MIRROR))
    if evidence.markers:
        names = [f"marker_{n}" for n in (1, 2, 3, 4)]
        scene.lengths += [(f"{a}_{b[-1]}", a, b, 0.5, None) for a, b in combinations(names, 2)]
    if evidence.square:
        _carpenters_square(scene, rng, points)


TAPED = (
    ("chine_port", "chine_starboard"),
    ("top_port", "top_starboard"),
    ("chine_port", "top_port"),
    ("chine_starboard", "top_starboard"),
    ("keel", "top_port"),
    ("keel", "top_starboard"),
)
SQUARE_ARMS = (1000.0, 600.0)


def _thing(
    scene: Scene, points: dict[str, FloatArray], name: str, place: Any, kind: MarkKind, height: float, of: str = ""
) -> None:
    points[name] = np.asarray(place, dtype=float)
    u_height = scene.precision.height_mm
    scene.places[name] = Place(kind, None, height, u_height, scene.evidence.line_px, of or None)


def _carpenters_square(scene: Scene, rng: np.random.Generator, points: dict[str, FloatArray]) -> None:
    """An angle of 90°, a little false as squares are, with its two arms' ends marked."""
    long, short = SQUARE_ARMS
    corner = np.array([-500.0, 400.0])
    false = np.radians(0.1) * rng.normal()
    for name, place in (
        ("square_1", corner + np.array([0.0, short])),
        ("square_2", corner),
        ("square_3", corner + long * np.array([np.cos(false), np.sin(false)])),
    ):
        _thing(scene, points, name, place, MarkKind.LENGTH_END, 2.0)
    scene.lengths += [
        ("short_arm", "square_1", "square_2", 0.3, None),
        ("long_arm", "square_2", "square_3", 0.3, None),
    ]


def _string(scene: Scene, rng: np.random.Generator) -> None:
    count = scene.evidence.string_marks
    scene.unknown("string", [890.0, rng.normal(0.0, 0.003)])
    scene.unknown("string_x", np.linspace(-930.0, 940.0, count))
    scene.unknown("string_dev", np.zeros(count), scene.precision.string_mm, rng)
    scene.unknown("string_z", [1.2], scene.precision.height_mm, rng)


def _fittings(scene: Scene, rng: np.random.Generator, hull: SimTransom) -> None:
    scene.fitting_ids = tuple(fitting.id for fitting in hull.fittings)
    scene.unknown("fitting", [[f.x, f.y, f.diameter / 2] for f in hull.fittings])
    scene.unknown("proud", [f.proud for f in hull.fittings], scene.precision.proud_mm, rng)
    start = rng.uniform(0.0, 2 * np.pi, (len(hull.fittings), 1))
    scene.unknown("rim_angle", start + np.arange(RIM_MARKS) * 2 * np.pi / RIM_MARKS)
    scene.unknown("rim_round", np.zeros((len(hull.fittings), RIM_MARKS)), scene.precision.round_mm, rng)
    scene.unknown("rim_edge", np.zeros((len(hull.fittings), 1)), scene.precision.edge_mm, rng)


def _targets(scene: Scene, rng: np.random.Generator) -> None:
    """The board at the middle, or a marker near each corner."""
    if scene.evidence.board:
        scene.targets = [a_board(scene.precision)]
    if scene.evidence.markers:
        scene.targets = [a_marker(n, place, scene.precision) for n, place in enumerate(MARKER_PLACES, 1)]
    if not scene.targets:
        return
    precision, count = scene.precision, len(scene.targets)
    scene.unknown("target", [[*t.place, np.radians(rng.normal(0.0, 0.7))] for t in scene.targets])
    scene.unknown("target_z", [t.record.thickness_mm for t in scene.targets], precision.thickness_mm, rng)
    # A sheet said to lie flush may lean by its flatness, at least 0.3 mm, over its half width.
    lean = [[max(precision.flatness_mm, 0.3) / t.half.min()] * 2 for t in scene.targets]
    scene.unknown("target_tilt", np.zeros((count, 2)), lean, rng)
    scene.unknown("target_scale", np.zeros(count), precision.board_scale, rng)
    scene.unknown("target_flat", np.zeros((count, 3)), precision.flatness_mm, rng)


MARKER_PLACES = ((-960.0, 720.0), (965.0, 715.0), (-900.0, 430.0), (905.0, 425.0))
MARKER_MM = 150.0


def a_board(precision: Precision) -> SimTarget:
    """A ChArUco board whose inner corners span 400 × 300 mm, row by row from the top left."""
    columns, rows, square = 10, 8, 50.0
    column, row = np.meshgrid(np.arange(1, columns), np.arange(1, rows))
    corners = np.column_stack([column.ravel() - columns / 2, rows / 2 - row.ravel()]) * square
    record = Target(
        "board", TargetKind.CHARUCO, columns=columns, rows=rows, square_mm=square, marker_mm=37.0,
        u_scale=precision.board_scale, flatness_mm=precision.flatness_mm, thickness_mm=5.0,
        u_thickness_mm=precision.thickness_mm,
    )  # fmt: skip
    half = np.array([columns, rows]) * square / 2
    return SimTarget(record, tuple(range(len(corners))), corners, half, (10.0, 590.0), 0.1)


def a_marker(number: int, place: tuple[float, float], precision: Precision) -> SimTarget:
    """A single marker of known size; its corners are numbered 4 × its number onwards, clockwise from the top left."""
    corners = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * MARKER_MM / 2
    record = Target(
        f"marker_{number}", TargetKind.ARUCO_MARKER, marker_mm=MARKER_MM, first_id=number,
        u_scale=precision.board_scale, flatness_mm=precision.flatness_mm, thickness_mm=2.0,
        u_thickness_mm=precision.thickness_mm,
    )  # fmt: skip
    ids = tuple(4 * number + k for k in range(4))
    return SimTarget(record, ids, corners, np.full(2, MARKER_MM / 2), place, 0.3)


def _camera(scene: Scene, rng: np.random.Generator) -> None:
    evidence = scene.evidence
    lens, u = lens_prior(evidence)
    scene.unknown("lens", lens, u, rng)
    yaw, pitch = np.array(evidence.view) + rng.normal(0.0, evidence.u_square_deg or 2.0, 2)
    aim = (float(rng.normal(0.0, 30.0)), 500.0 + float(rng.normal(0.0, 30.0)))
    rotation, translation = a_pose(yaw, pitch, rng.normal(0.0, 1.0), 3300.0, aim)
    vector, _ = cv2.Rodrigues(rotation)
    scene.unknown("rotation", np.asarray(vector).ravel())
    scene.unknown("translation", translation)
