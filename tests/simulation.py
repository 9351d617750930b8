"""
Simulated jobs: an invented transom, photographed and marked, with every error drawn from its stated uncertainty.

A `Scene` holds what is unknown (`theta`: places on the boat, camera, target, tape) and how well each is known
beforehand (`prior`), and says what would be observed. One function of it serves three purposes: drawing a job,
its exact truth, and (in tests/coverage/theory.py) the covariance that any sound adjustment must reach. It uses
nothing of the program but the records.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import cv2
import numpy as np

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import (
    Angle,
    AngleKind,
    Calibration,
    Camera,
    Fitting,
    FittingKind,
    Instrument,
    Job,
    KnownLength,
    LineKind,
    Mark,
    MarkKind,
    MirrorPair,
    Photo,
    Rake,
    Side,
    Sighting,
    StraightLine,
    Target,
    TargetKind,
)
from tests.builders import (
    DIAGONAL_PX,
    HEIGHT_PX,
    WIDTH_PX,
    FloatArray,
    SimCamera,
    SimFitting,
    SimString,
    SimTransom,
    a_pose,
    fitting_truth,
    top_edge,
    true_dimensions,
    turn,
)

F_NOMINAL = 2900.0
F_UNKNOWN = 0.78 * WIDTH_PX
RIM_MARKS = 8
EDGE_STATIONS = (0.15, 0.30, 0.45, 0.60, 0.75, 0.90)
TOP_STATIONS = (0.15, 0.35, 0.5, 0.65, 0.85)
FREE = np.inf


@dataclass(frozen=True)
class Evidence:
    """What a job has to go by, and how well."""

    board: bool = False
    string_marks: int = 2
    """Marks along the string; two mean that only its direction is used."""
    rule: bool = False
    mirror: bool = False
    beam: bool = False
    tapes: int = 0
    """How many tape figures between outline points."""
    markers: bool = False
    square: bool = False
    calibrated: bool = True
    """Lens known to 1 % in f, 0.5 % of the diagonal in the principal point, 0.03 in k1 and k2."""
    u_f: float = 0.01
    exif: bool = True
    u_square_deg: float | None = None
    click_px: float = 0.7
    line_px: float = 0.3
    view: tuple[float, float] = (0.0, 0.0)
    """Yaw and pitch, degrees."""


EVIDENCE: dict[str, Evidence] = {
    "board": Evidence(board=True),
    "board_string": Evidence(board=True, string_marks=11),
    "board_string_rule": Evidence(board=True, string_marks=11, rule=True),
    "board_string_rule_mirror": Evidence(board=True, string_marks=11, rule=True, mirror=True, beam=True),
    "snapped": Evidence(board=True, string_marks=11, rule=True, mirror=True, beam=True, click_px=0.3),
    "four_markers": Evidence(markers=True, string_marks=5),
    "square": Evidence(square=True, string_marks=5),
    "rule_mirror_beam": Evidence(string_marks=5, rule=True, mirror=True, beam=True),
    "seven_tapes": Evidence(string_marks=5, rule=True, tapes=6, u_f=0.20, exif=False),
    "rule_exif_square": Evidence(string_marks=5, rule=True, mirror=True, calibrated=False, u_square_deg=5.0),
    "five_tapes": Evidence(board=True, string_marks=11, tapes=5),
}
"""
As in the method's table of what to expect, and one for blunders.

The reference line is marked in all of them: at its ends, at five places, or all along where the table says so.
"""


@dataclass(frozen=True)
class Precision:
    """Uncertainties that "come on top" of the clicks; `STRICT` is the table of theory, `REAL` the boat."""

    definition: dict[str, float]
    flatness_mm: float
    string_mm: float
    height_mm: float
    thickness_mm: float
    proud_mm: float
    round_mm: float
    board_scale: float
    tape: tuple[float, float]
    """Scale (relative) and zero (mm) common to one tape."""


STRICT = Precision({}, 0.0, 0.3, 0.0, 0.01, 0.0, 0.01, 1e-5, (0.0, 0.0))
REAL = Precision(
    {"keel": 1.0, "chine": 1.0, "chine_inner": 1.0, "bottom_edge": 1.0, "top_corner": 0.5, "top_edge": 0.5},
    0.3, 0.5, 0.5, 0.5, 1.5, 0.3, 0.0005, (0.0002, 0.3),
)  # fmt: skip


@dataclass(frozen=True)
class Simulated:
    """A job with the truth that nobody at work on it knows."""

    job: Job
    sightings: tuple[Sighting, ...]
    facts: dict[str, PhotoFacts]
    truth: dict[str, float]
    scene: Scene


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
        r = radius + theta["rim_round"]
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
        string = SimString(*theta["string"])
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


def simulated_job(
    seed: int,
    evidence: Evidence | str,
    *,
    precision: Precision = STRICT,
    noise: float = 1.0,
    hull: SimTransom | None = None,
) -> Simulated:
    """
    A job drawn from `seed`, its exact truth beside it.

    Parameters
    ----------
    evidence
        A key of `EVIDENCE`, or one's own.
    precision
        What comes on top of the clicks.
    noise
        Factor on the scatter of clicks and readings; 0 for a faultless job (with the boat and camera still drawn).
    """
    if isinstance(evidence, str):
        evidence = EVIDENCE[evidence]
    rng = np.random.default_rng(seed)
    scene = a_scene(rng, evidence, precision, hull or SimTransom())
    pixels = scene.camera(scene.theta).project(scene.object_points(scene.theta))
    pixels = pixels + noise * rng.normal(0.0, 1.0, pixels.shape) * scene.pixel_u()[:, None]
    lengths = scene.length_values(scene.theta)
    lengths = lengths + noise * rng.normal(0.0, 1.0, lengths.shape) * np.array([u for *_, u, _ in scene.lengths])
    return Simulated(
        _job(scene, pixels, lengths), _sightings(scene, pixels), _facts(evidence), scene.dimensions(scene.theta), scene
    )


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


def lens_prior(evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Lens (f, cx, cy, k1, k2, p1, p2) as known beforehand, and its u."""
    centre = [(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2]
    if evidence.calibrated:
        f, u_f, u_c, u_k, u_p = F_NOMINAL, evidence.u_f, 0.005, 0.03, 0.0
    elif evidence.exif:
        f, u_f, u_c, u_k, u_p = F_NOMINAL, 0.03, 0.005, 0.05, 0.0003
    else:
        f, u_f, u_c, u_k, u_p = F_UNKNOWN, 0.20, 0.01, 0.10, 0.0003
    u = [u_f * f, u_c * DIAGONAL_PX, u_c * DIAGONAL_PX, u_k, u_k, u_p, u_p]
    return np.array([f, *centre, 0.0, 0.0, 0.0, 0.0]), np.array(u)


def _facts(evidence: Evidence) -> dict[str, PhotoFacts]:
    focal = F_NOMINAL * 43.27 / DIAGONAL_PX if evidence.exif else None
    facts = PhotoFacts(
        name="astern.jpg", sha256="0" * 64, width_px=WIDTH_PX, height_px=HEIGHT_PX, orientation=1, captured=None,
        device=None, focal_35mm=focal, focal_mm=None, exif_width_px=None, exif_height_px=None, file_format="JPEG",
    )  # fmt: skip
    return {"astern": facts}


def _job(scene: Scene, pixels: FloatArray, lengths: FloatArray) -> Job:
    evidence, precision = scene.evidence, scene.precision
    return Job(
        title="simulated",
        cameras=(Camera("camera", _calibration(evidence)),),
        photos=(Photo("astern", "astern.jpg", u_square_deg=evidence.u_square_deg),),
        marks=_marks(scene, pixels),
        lines=(StraightLine("reference", LineKind.STRING, True, precision.string_mm),),
        lengths=tuple(
            KnownLength(name, first, second, float(value), u, instrument=instrument)
            for (name, first, second, u, instrument), value in zip(scene.lengths, lengths, strict=True)
        ),
        instruments=(Instrument("tape", "tape", *precision.tape),),
        targets=tuple(target.record for target in scene.targets),
        rake=Rake(14.0, 0.5),
        mirror_pairs=tuple(MirrorPair(f"pair_{port}", port, other, u) for port, other, u in scene.pairs),
        angles=_angles(evidence),
        fittings=tuple(
            Fitting(name, FittingKind.OTHER, proud_mm=float(proud), u_proud_mm=precision.proud_mm,
                    u_round_mm=precision.round_mm)
            for name, proud in zip(scene.fitting_ids, scene.nominal["proud"], strict=True)
        ),
    )  # fmt: skip


def _calibration(evidence: Evidence) -> Calibration | None:
    if not evidence.calibrated:
        return None
    lens, u = lens_prior(evidence)
    return Calibration(
        WIDTH_PX, HEIGHT_PX, lens[0], u[0], lens[1], lens[2], u[1], u_k1=u[3], u_k2=u[4], u_p=1e-7
    )  # fmt: skip


def _marks(scene: Scene, pixels: FloatArray) -> tuple[Mark, ...]:
    rows = iter(pixels)
    marks = [
        Mark(
            name, "astern", place.kind, *map(float, next(rows)), place.u_px, place.side, of=place.of,
            u_definition_mm=place.u_definition, height_mm=place.height, u_height_mm=place.u_height,
        )
        for name, place in scene.places.items()
    ]  # fmt: skip
    marks += [
        Mark(f"string_{n}", "astern", MarkKind.REFERENCE_LINE, *map(float, next(rows)), scene.evidence.line_px,
             of="reference", u_definition_mm=0.0, height_mm=1.2, u_height_mm=scene.precision.height_mm)
        for n in range(1, scene.evidence.string_marks + 1)
    ]  # fmt: skip
    for name in scene.fitting_ids:
        marks += [
            Mark(f"{name}_rim_{n}", "astern", MarkKind.RIM, *map(float, next(rows)), scene.evidence.click_px,
                 of=name, u_definition_mm=0.0)
            for n in range(1, RIM_MARKS + 1)
        ]  # fmt: skip
    return tuple(marks)


def _sightings(scene: Scene, pixels: FloatArray) -> tuple[Sighting, ...]:
    sightings, end = [], len(pixels)
    for target in reversed(scene.targets):
        count = len(target.corners)
        x, y = pixels[end - count : end].T
        u = (target.u_px,) * count
        sightings.append(Sighting(target.id, "astern", target.corner_ids, tuple(x.tolist()), tuple(y.tolist()), u))
        end -= count
    return tuple(reversed(sightings))


def _angles(evidence: Evidence) -> tuple[Angle, ...]:
    if not evidence.square:
        return ()
    return (Angle("square", AngleKind.RIGHT_ANGLE, ("square_2", "square_1"), ("square_2", "square_3"), u_deg=0.1),)
