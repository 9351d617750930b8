"""A pattern cut to a simulated transom, laid on the floor beside the board and photographed: records and truth."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import (
    Alignment,
    Mark,
    MarkKind,
    Pattern,
    PatternFace,
    PatternPart,
    PatternTaken,
    Photo,
    PhotoKind,
    Rectangle,
    ScaleLies,
    Sighting,
    Target,
)
from digitizer.survey.defaults import target_lean_u
from tests.builders import FloatArray, SimCamera, a_pose, top_edge, turn
from tests.simulation.bowed import BowedScene
from tests.simulation.jobs import Simulated
from tests.simulation.scene import SimTarget, flatness_modes

SIDES = ("port", "starboard")
CHINES = ("chine_port", "chine_starboard")
THREE = (*CHINES, "keel")


@dataclass(frozen=True)
class SimPattern:
    """How a pattern was made and photographed."""

    part: PatternPart = PatternPart.BOTTOM
    aligned: tuple[str, ...] = THREE
    """Names of outline points that the pattern bears a mark of."""
    face_up: PatternFace = PatternFace.AFT
    told: PatternFace | None = PatternFace.AFT
    """What the job says of it."""
    thickness_mm: float = 12.0
    u_thickness_mm: float = 0.5
    u_cut_mm: float = 1.0
    click_px: float = 0.7
    spacing_mm: float = 90.0
    bumps: tuple[tuple[float, float], ...] = ()
    """Places (distance from the centreline) and amounts by which the edge was cut too far out there, mm."""
    bump_width_mm: float = 120.0
    tilt_deg: float = 12.0
    distance_mm: float = 2700.0
    scale_lies: ScaleLies = ScaleLies.FLOOR
    own_scale: bool = False
    """Its board is another print than the boat's."""
    sheet: bool = False
    """A sheet of 840 × 590 mm lies on the floor in place of the board."""
    pencil_mm: float = 0.5
    lines: bool = False
    """Bears pencil marks of the centreline too."""
    taken: PatternTaken = PatternTaken.BENT
    """How it was held to a bowed face."""
    told_taken: PatternTaken | None = None
    """What the job says of that."""
    shift: dict[str, tuple[float, float]] = field(default_factory=dict)
    """By how much an alignment mark was made at a wrong place, mm."""

    def bump(self, x: FloatArray) -> FloatArray:
        """How far the edge lies outside the transom's, by distance from the centreline."""
        out = np.zeros_like(x)
        for place, amount in self.bumps:
            out = out + amount * np.exp(-(((x - place) / self.bump_width_mm) ** 2))
        return out


def true_edge(
    points: dict[str, FloatArray], part: PatternPart, spacing: float, crown: float
) -> tuple[list[str], FloatArray]:
    """Names and places along the true outline from port to starboard, or all round; corners keep their names."""
    # A bowed and raked face has a curved bottom edge: through the same places as its marks in the first photo.
    between = {s: [name for name in points if name.startswith(f"bottom_{s}_") and name.endswith("@0")] for s in SIDES}
    bottom = ["chine_port", "chine_inner_port", *between["port"][::-1], "keel"]
    bottom += [*between["starboard"], "chine_inner_starboard", "chine_starboard"]
    ring = {
        PatternPart.BOTTOM: bottom,
        PatternPart.STARBOARD: ["keel", "chine_inner_starboard", "chine_starboard", "top_starboard"],
        PatternPart.PORT: ["top_port", "chine_port", "chine_inner_port", "keel"],
        PatternPart.WHOLE: [*bottom, "top_starboard", "top_port"],
    }[part]
    names, places = [], []
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        names.append(a)
        places.append(points[a])
        if b == ring[0] and part is not PatternPart.WHOLE:
            break
        count = max(1, round(float(np.hypot(*(points[b] - points[a]))) / spacing))
        for k in range(1, count):
            names.append(f"{a}+{k}")
            crowned = (a, b) == ("top_starboard", "top_port")
            there = points[a] + (points[b] - points[a]) * k / count
            places.append(top_edge(points[b], points[a], crown, 1 - k / count) if crowned else there)
    return names, np.array(places)


def with_pattern(job: Simulated, made: SimPattern, seed: int, noise: float = 1.0) -> Simulated:
    """The simulated job with a pattern, drawn from `seed`."""
    rng = np.random.default_rng(seed)
    scene = job.scene
    points = _places(job, made)
    names, edge = true_edge(points, made.part, made.spacing_mm, scene.crown)
    along = np.gradient(edge, axis=0)
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    cut = edge + made.bump(edge[:, 0])[:, None] * outward + noise * rng.normal(0.0, made.u_cut_mm, edge.shape)
    # The centreline is square to the reference line, not to the hull's own axes.
    square = np.array([-scene.line(scene.theta).slope, 1.0])
    pencil = {"p_top": points["keel"] + 620.0 * square, "p_low": points["keel"] + 260.0 * square} if made.lines else {}
    drawn = np.array(list(pencil.values())).reshape(-1, 2)
    drawn = drawn + noise * rng.normal(0.0, made.pencil_mm, drawn.shape)
    for name, by in made.shift.items():
        cut[names.index(name)] += by
    return _photographed(job, made, rng, noise, names, np.vstack([cut, drawn]), list(pencil))


def _places(job: Simulated, made: SimPattern) -> dict[str, FloatArray]:
    """True places of the outline in the pattern's plane: rolled flat, or as seen square to the face at the keel."""
    scene = job.scene
    points = {name: scene.at(scene.theta, name) for name in scene.places}
    if made.taken is PatternTaken.BENT or not isinstance(scene, BowedScene):
        return points
    chart = np.column_stack([np.array(list(points.values())), np.zeros(len(points))])
    return dict(zip(points, scene.bow(scene.theta).space(chart)[:, :2], strict=True))


def _photographed(
    job: Simulated,
    made: SimPattern,
    rng: np.random.Generator,
    noise: float,
    names: list[str],
    places: FloatArray,
    pencil: list[str],
) -> Simulated:
    camera = _camera(job, made, rng)
    over = np.diag([-1.0, 1.0]) if made.face_up is PatternFace.FORWARD else np.eye(2)
    angle = np.radians(rng.uniform(-20.0, 20.0))
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    middle = (places.max(axis=0) + places.min(axis=0)) / 2
    flat = (places - middle) @ (spin @ over).T
    height = (made.thickness_mm if made.scale_lies is ScaleLies.FLOOR else 0.0) + noise * rng.normal(
        0.0, made.u_thickness_mm if made.scale_lies is ScaleLies.FLOOR else 0.0
    )
    seen = camera.project(np.column_stack([flat, np.full(len(flat), height)]))
    seen = seen + noise * rng.normal(0.0, made.click_px, seen.shape)
    target, sighting = _board(job, made, rng, noise, camera)
    marks = tuple(
        Mark(f"p_{name}" if name not in pencil else name, "pattern", MarkKind.OUTLINE, float(x), float(y),
             made.click_px, of="pattern" if name not in pencil else None,
             u_definition_mm=None if name not in pencil else made.pencil_mm)
        for name, (x, y) in zip([*names, *pencil], seen.tolist(), strict=True)
    )  # fmt: skip
    sheet, corners = _sheet(made, rng, noise, camera)
    pattern = Pattern(
        "pattern", "pattern", made.part,
        aligned=(*(Alignment(f"p_{name}", name) for name in made.aligned),
                 *(Alignment(name, "centreline") for name in pencil)),
        face_up=made.told, thickness_mm=made.thickness_mm, u_thickness_mm=made.u_thickness_mm,
        scale_lies=made.scale_lies, u_cut_mm=made.u_cut_mm,
        taken=made.told_taken,
    )  # fmt: skip
    record = replace(
        job.job,
        photos=(*job.job.photos, Photo("pattern", "pattern.jpg", kind=PhotoKind.PATTERN)),
        marks=(*job.job.marks, *marks, *corners),
        rectangles=(*job.job.rectangles, *sheet),
        targets=job.job.targets if made.sheet or not made.own_scale else (*job.job.targets, target),
        patterns=(pattern,),
    )
    seen_boards = () if made.sheet else (sighting,)
    facts = {**job.facts, "pattern": replace(_any(job.facts), name="pattern.jpg")}
    return replace(job, job=record, facts=facts, sightings=(*job.sightings, *seen_boards))


def _sheet(
    made: SimPattern, rng: np.random.Generator, noise: float, camera: SimCamera
) -> tuple[tuple[Rectangle, ...], tuple[Mark, ...]]:
    """A sheet on the floor, a little out of size and out of square, its corners clicked."""
    if not made.sheet:
        return (), ()
    record = Rectangle("sheet", ("s1", "s2", "s3", "s4"), 840.0, 590.0, u_mm=0.5, u_square_deg=0.05)
    width, height = np.array([840.0, 590.0]) + noise * rng.normal(0.0, record.u_mm, 2)
    lean = np.radians(record.u_square_deg) * noise * rng.normal() * height
    places = np.array([(-420.0, 250.0), (width - 420.0, 250.0), (width - 420.0 + lean, 250.0 + height), (0.0, 0.0)])
    places[3] = places[0] + places[2] - places[1]
    definition = noise * rng.normal(0.0, 0.2, places.shape)
    seen = camera.project(np.column_stack([places + definition, np.zeros(4)]))
    seen = seen + noise * rng.normal(0.0, made.click_px, seen.shape)
    marks = [
        Mark(name, "pattern", MarkKind.RECTANGLE_CORNER, float(x), float(y), made.click_px, of="sheet")
        for name, (x, y) in zip(record.corners, seen.tolist(), strict=True)
    ]
    return (record,), tuple(marks)


def _any(facts: dict[str, PhotoFacts]) -> PhotoFacts:
    return next(iter(facts.values()))


def _camera(job: Simulated, made: SimPattern, rng: np.random.Generator) -> SimCamera:
    """The same camera and lens from above, aimed at the pattern's middle."""
    way = rng.uniform(0.0, 2 * np.pi)
    tilt = made.tilt_deg * rng.uniform(0.3, 1.0)
    pose = a_pose(tilt * np.cos(way), tilt * np.sin(way), rng.normal(0.0, 3.0), made.distance_mm, (0.0, 0.0))
    lens = job.scene.theta["lens"]
    return SimCamera(*lens, rotation=pose[0], translation=pose[1])


def _board(
    job: Simulated, made: SimPattern, rng: np.random.Generator, noise: float, camera: SimCamera
) -> tuple[Target, Sighting]:
    """The boat's board, or another print like it, laid beside the pattern."""
    known: SimTarget = job.scene.targets[0]
    record = replace(known.record, id="floor board", first_id=100) if made.own_scale else known.record
    scale = job.scene.theta["target_scale"][0]
    if made.own_scale:
        scale = noise * rng.normal(0.0, job.scene.precision.board_scale)
    lean = noise * rng.normal(0.0, target_lean_u(record, float(known.half.min())), 2)
    modes = noise * rng.normal(0.0, record.flatness_mm, 3)
    xi, eta = (known.corners / known.half).T
    sheet = np.column_stack([known.corners * (1 + scale), flatness_modes(xi, eta) @ modes])
    matrix = turn(2, 8.0) @ turn(1, float(np.degrees(lean[1]))) @ turn(0, float(np.degrees(lean[0])))
    height = record.thickness_mm + noise * rng.normal(0.0, record.u_thickness_mm)
    uv = camera.project(sheet @ matrix.T + [-40.0, 330.0, height])
    uv = uv + noise * rng.normal(0.0, known.u_px, uv.shape)
    x, y = uv.T
    return record, Sighting(
        record.id, "pattern", known.corner_ids, tuple(x.tolist()), tuple(y.tolist()), (known.u_px,) * len(uv)
    )
