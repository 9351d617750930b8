"""
From the field book to a network of observations.

One parameter vector holds lenses, poses, targets, points on the face, lines, circles and the small unknowns
that several observations share; every record of the job becomes rows over it. The datum system D is fixed by
two points on the face: the first is its origin, the second lies on its x axis; the face is z = 0.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from digitizer.adjustment.observations import Block, FloatArray, IntArray, Row, System
from digitizer.adjustment.points import FIXED, PointTable
from digitizer.camera.equations import ImagePoints, SquareView, TargetColumns, TargetCorners, View
from digitizer.camera.lens import LENS_NAMES, LensPrior, lens_prior
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.imaging.targets import object_points
from digitizer.job.model import (
    AngleKind,
    Fitting,
    FittingShape,
    GravityKind,
    Job,
    Mark,
    MarkKind,
    Photo,
    Rectangle,
    Role,
    Sighting,
    StraightLine,
    Target,
)
from digitizer.survey.defaults import (
    HEIGHT_MM,
    OFF_THE_FACE,
    PROUD_MM,
    U_EACH_SIDE_MM,
    U_HANG_MM,
    definition_mm,
    target_lean_u,
    target_scale_u,
)
from digitizer.survey.layout import Layout
from digitizer.transom.constraints import (
    CirclePoints,
    Coincidences,
    FaceAngles,
    GravityColumns,
    Lengths,
    LevelLines,
    LinePoints,
    MirrorPairs,
    PlumbLines,
    RightAngles,
)

CLICKS = "clicks on the photo"
DEFINITION = "where the edge is on the boat"
CORNERS = "target corners"
TARGET_MAKE = "target's size, flatness and lie"
LENS = "lens"
LENGTHS = "lengths by rule and tape"
STRAIGHT = "straightness of the line"
MIRROR = "likeness of port and starboard"
ANGLES = "squares and levels"
HEIGHTS = "how far things stand off the face"
ROUND = "roundness of the rims"
RAKE = "rake"
SQUARE = "photo taken square"

DEFAULT_LINE = StraightLine(id="reference line", reference=True)


@dataclass(frozen=True)
class PointInfo:
    """A place on the boat, from its first mark."""

    id: str
    kind: MarkKind
    side: str | None
    of: str | None
    marks: tuple[Mark, ...]


@dataclass
class Network:
    """Everything the adjustment needs, and where to find the answers in its parameter vector."""

    job: Job
    photos: dict[str, Photo]
    facts: Mapping[str, PhotoFacts]
    layout: Layout
    infos: list[PointInfo]
    index: dict[str, int]
    points: PointTable
    views: dict[str, View] = field(default_factory=dict)
    lens_priors: dict[str, LensPrior] = field(default_factory=dict)
    targets: dict[str, TargetColumns] = field(default_factory=dict)
    sightings: list[tuple[Target, Sighting]] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)
    circles: dict[str, int] = field(default_factory=dict)
    mirror_axis: int | None = None
    up: GravityColumns | None = None
    rake: int | None = None
    reference: StraightLine | None = None
    blocks: list[Block] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    """Records that could not take part, each with the reason."""

    @property
    def system(self) -> System:
        """The observations, priors last."""
        return System(len(self.layout.names), [*self.blocks, self.layout.priors])

    def corner_geometry(self, target: Target, sighting: Sighting) -> tuple[FloatArray, FloatArray]:
        """Corners (n, 2) of a sighting on its sheet, check bar applied, and the sheet's half size (2,), mm."""
        factor = 1.0
        if target.check_bar_measured_mm is not None and target.check_bar_nominal_mm is not None:
            factor = target.check_bar_measured_mm / target.check_bar_nominal_mm
        return object_points(target, sighting.corner_ids) * factor, half_size(target) * factor


def half_size(target: Target) -> FloatArray:
    """Half width and half height (2,) of the printed pattern, mm."""
    if target.square_mm is not None and target.columns > 1:
        size = np.array([target.columns, target.rows]) * target.square_mm
    else:
        step = target.marker_mm + (target.separation_mm or 0.0)
        size = np.array([target.columns - 1, target.rows - 1]) * step + target.marker_mm
    return np.asarray(size / 2.0, dtype=float)


def build(job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting]) -> Network:
    """
    Network of a job.

    Parameters
    ----------
    job
    facts
        By photo id: size and what EXIF says.
    sightings
        Corners of targets found in the photos.

    Raises
    ------
    AdjustmentError
        When no photo holds a mark on the transom.
    """
    photos = {p.id: p for p in job.photos if p.active and p.id in facts}
    marks = [m for m in job.marks if m.active and m.photo in photos and m.kind not in OFF_THE_FACE]
    if not marks:
        raise AdjustmentError("No photo holds a mark on the transom: mark at least the keel, the chines and a line.")
    hanging = _hanging_marks(job, photos)
    layout = Layout()
    infos = _point_infos([*marks, *hanging])
    index = {info.id: i for i, info in enumerate(infos)}
    n = Network(job, photos, facts, layout, infos, index, PointTable(np.empty((0, 3)), np.empty((0, 3))))
    _add_cameras(n)
    _add_targets(n, sightings)
    _add_points(n)
    _add_marks(n, [*marks, *hanging])
    _add_corners(n)
    _add_lines(n)
    _add_circles(n)
    _add_lengths(n)
    _add_mirror_pairs(n)
    _add_angles(n)
    _add_gravity(n)
    _add_rake(n)
    return n


def _hanging_marks(job: Job, photos: Mapping[str, Photo]) -> list[Mark]:
    """Marks of free level or plumb lines that are in use."""
    wanted = {p for line in job.gravity_lines if line.active and line.free for p in line.points}
    return [
        m
        for m in job.marks
        if m.active and m.photo in photos and m.kind is MarkKind.PLUMB_LINE and (m.point or m.id) in wanted
    ]


def _point_infos(marks: Iterable[Mark]) -> list[PointInfo]:
    by_point: dict[str, list[Mark]] = {}
    for mark in marks:
        by_point.setdefault(mark.point or mark.id, []).append(mark)
    return [PointInfo(name, m[0].kind, m[0].side, m[0].of, tuple(m)) for name, m in by_point.items()]


# --- cameras ---------------------------------------------------------------------------------------------------


def _add_cameras(n: Network) -> None:
    calibrations = {c.id: c.calibration for c in n.job.cameras}
    lenses: dict[str, IntArray] = {}
    for photo in n.photos.values():
        f = n.facts[photo.id]
        if photo.camera not in lenses:
            exif_size = (f.exif_width_px, f.exif_height_px) if f.exif_width_px and f.exif_height_px else None
            prior = lens_prior(
                f.width_px, f.height_px, f.focal_35mm, exif_size, photo.cropped, calibrations.get(photo.camera)
            )
            lenses[photo.camera] = _add_lens(n.layout, photo.camera, prior)
            n.lens_priors[photo.camera] = prior
        names = [f"{photo.id}: {name}" for name in ("rx", "ry", "rz", "tx", "ty", "tz")]
        view = View(lenses[photo.camera], n.layout.add_all(names, (math.pi, 0.0, 0.0, 0.0, 0.0, 3000.0)))
        n.views[photo.id] = view
        if photo.u_square_deg is not None:
            u = math.radians(photo.u_square_deg)
            rows = [
                Row(f"{photo.id} taken square, {way}", photo.id, "square view", SQUARE, "rad", u, 0.0, photo=photo.id)
                for way in ("sideways", "up and down")
            ]
            n.blocks.append(SquareView(view, rows))


def _add_lens(layout: Layout, camera: str, prior: LensPrior) -> IntArray:
    labels = ("focal length", "principal point x", "principal point y", "k1", "k2", "p1", "p2", "k3")
    units = ("px", "px", "px", "", "", "", "", "")
    return np.array(
        [
            layout.known(f"{camera}: {name}", value, Row(f"{label} ({prior.source})", camera, "lens", LENS, unit, u, value))
            for name, label, unit, value, u in zip(LENS_NAMES, labels, units, prior.values, prior.u, strict=True)
        ],
        dtype=np.intp,
    )


# --- targets ---------------------------------------------------------------------------------------------------


def _add_targets(n: Network, sightings: Sequence[Sighting]) -> None:
    targets = {t.id: t for t in n.job.targets if t.active}
    for sighting in sightings:
        if sighting.target in targets and sighting.photo in n.photos and len(sighting.corner_ids) >= 4:
            n.sightings.append((targets[sighting.target], sighting))
    for target in {t.id: t for t, _ in n.sightings}.values():
        n.targets[target.id] = _target_columns(n.layout, target)


def _target_columns(layout: Layout, target: Target) -> TargetColumns:
    def row(label: str, unit: str, u: float, observed: float = 0.0) -> Row:
        return Row(f"{target.id}: {label}", target.id, "target", TARGET_MAKE, unit, u, observed)

    name = target.id
    x, y = layout.add(f"{name}: x", 0.0), layout.add(f"{name}: y", 0.0)
    if target.flush:
        t, u_t = target.thickness_mm, target.u_thickness_mm
        lean = target_lean_u(target, float(np.min(half_size(target))))
        height = layout.known(f"{name}: height", t, row("thickness", "mm", u_t, t))
        tilts = [layout.known(f"{name}: tilt {a}", 0.0, row("lies flush", "rad", lean)) for a in "xy"]
    else:
        height = layout.add(f"{name}: height", target.thickness_mm)
        tilts = [layout.add(f"{name}: tilt {a}", 0.0) for a in "xy"]
    turn = layout.add(f"{name}: turn", 0.0)
    scale = layout.known(f"{name}: scale", 0.0, row("printed size", "", target_scale_u(target)))
    modes = [
        layout.known(f"{name}: {mode}", 0.0, row(f"flatness, {mode}", "mm", target.flatness_mm))
        for mode in ("bow across", "bow up and down", "twist")
    ]
    place = np.array([x, y, height, turn], dtype=np.intp)
    return TargetColumns(place, np.array(tilts, dtype=np.intp), scale, np.array(modes, dtype=np.intp))


def _add_corners(n: Network) -> None:
    for target, s in n.sightings:
        corners, half = n.corner_geometry(target, s)
        image = np.column_stack([s.x_px, s.y_px])
        rows = [
            Row(f"{target.id} corner {i}, {a}", target.id, "target corner", CORNERS, "px", u, v, f"{s.photo}/{target.id}/{i}", photo=s.photo)
            for i, u, xy in zip(s.corner_ids, s.u_px, image, strict=True)
            for a, v in zip("xy", map(float, xy), strict=True)
        ]
        n.blocks.append(
            TargetCorners(n.views[s.photo], n.targets[target.id], corners, half, image, np.array(s.u_px), rows)
        )


# --- points and marks ------------------------------------------------------------------------------------------


def _add_points(n: Network) -> None:
    """Columns of every point: x and y free but for the datum's three, z by the height that its group shares."""
    origin, second = datum_points(n)
    columns = np.full((len(n.infos) + len(n.targets), 3), FIXED, dtype=np.intp)
    constants = np.zeros(columns.shape)
    heights: dict[str, int] = {}
    for i, info in enumerate(n.infos):
        columns[i, 0] = n.layout.add(f"{info.id}: x", 0.0, free=i != origin)
        columns[i, 1] = n.layout.add(f"{info.id}: y", 0.0, free=i not in (origin, second))
        group, value, u = _height(n.job, info)
        constants[i, 2] = value
        if u > 0.0:
            if group not in heights:
                row = Row(f"{group}: height above the face", group, "height", HEIGHTS, "mm", u, value)
                heights[group] = n.layout.known(f"{group}: height", value, row)
            columns[i, 2] = heights[group]
    for i, (name, target) in enumerate(n.targets.items(), start=len(n.infos)):
        columns[i] = target.place[:3]
        n.index.setdefault(name, i)
    n.points = PointTable(columns, constants)


def datum_points(n: Network) -> tuple[int, int]:
    """The two points that fix the datum: the ends of the reference line, else those farthest apart sideways."""
    on_face = [i for i, info in enumerate(n.infos) if info.kind is not MarkKind.PLUMB_LINE]
    on_line = [i for i in on_face if n.infos[i].kind is MarkKind.REFERENCE_LINE]
    candidates = on_line if len(on_line) >= 2 else on_face
    photo = max(n.photos, key=lambda p: sum(_mark_in(n.infos[i], p) is not None for i in candidates))
    placed = [(m.x_px, i) for i in candidates if (m := _mark_in(n.infos[i], photo)) is not None]
    if len(placed) < 2:
        raise AdjustmentError("One mark alone measures nothing: mark the reference line, the keel and the chines.")
    return min(placed)[1], max(placed)[1]


def _mark_in(info: PointInfo, photo: str) -> Mark | None:
    return next((m for m in info.marks if m.photo == photo), None)


def _height(job: Job, info: PointInfo) -> tuple[str, float, float]:
    """Group that shares the height, its value and u, mm."""
    mark = info.marks[0]
    fitting = next((f for f in job.fittings if f.id == info.of), None)
    value, u = HEIGHT_MM.get(info.kind, (0.0, 0.0))
    if info.kind is MarkKind.PLUMB_LINE:
        value, u = U_HANG_MM / 2.0, U_HANG_MM
    if fitting is not None:
        value, u = proud(fitting)
    rectangle = next((r for r in job.rectangles if r.active and info.id in r.corners), None)
    if rectangle is not None:
        value, u = rectangle.thickness_mm, rectangle.u_thickness_mm if rectangle.flush else U_HANG_MM
    if mark.height_mm is not None:
        value, u = mark.height_mm, 0.0
    if mark.u_height_mm is not None:
        u = mark.u_height_mm
    loose = info.kind is MarkKind.PLUMB_LINE or (rectangle is not None and not rectangle.flush)
    group = info.id if loose else (rectangle.id if rectangle is not None else info.of) or _kind_group(info)
    if mark.height_mm is not None or mark.u_height_mm is not None:
        group = f"{group} at {value:g} mm"
    return group, value, u


def _kind_group(info: PointInfo) -> str:
    return DEFAULT_LINE.id if info.kind is MarkKind.REFERENCE_LINE else info.id


def proud(fitting: Fitting) -> tuple[float, float]:
    """How far a fitting's rim stands off the face, and its u, mm."""
    value, u = PROUD_MM[fitting.kind]
    if fitting.proud_mm is not None:
        value, u = fitting.proud_mm, 1.0
    return value, fitting.u_proud_mm if fitting.u_proud_mm is not None else u


def _add_marks(n: Network, marks: Sequence[Mark]) -> None:
    for photo, view in n.views.items():
        own = [m for m in marks if m.photo == photo]
        if not own:
            continue
        image = np.array([(m.x_px, m.y_px) for m in own])
        which = np.array([n.index[m.point or m.id] for m in own], dtype=np.intp)
        rows = [
            Row(f"mark {m.id}, {a}", m.id, "mark", CLICKS, "px", m.u_px, v, f"mark {m.id}", photo=photo, split=((CLICKS, 1.0), (DEFINITION, 0.0)))
            for m in own
            for a, v in (("x", m.x_px), ("y", m.y_px))
        ]
        u = np.array([m.u_px for m in own])
        definition = np.array([definition_mm(m) for m in own])
        n.blocks.append(ImagePoints(view, n.points, which, image, u, definition, rows))


# --- what is known of the points -------------------------------------------------------------------------------


def _add_lines(n: Network) -> None:
    lines = {line.id: line for line in n.job.lines if line.active}
    n.reference = next((line for line in lines.values() if line.reference), None)
    if n.reference is None and any(i.kind is MarkKind.REFERENCE_LINE for i in n.infos):
        declared = any(line.reference for line in n.job.lines)
        n.reference = None if declared else DEFAULT_LINE
    which: list[int] = []
    columns: list[int] = []
    rows: list[Row] = []
    for line in [*lines.values(), *([DEFAULT_LINE] if n.reference is DEFAULT_LINE else [])]:
        members = [i for i, info in enumerate(n.infos) if _belongs(info, line)]
        if len(members) < 2:
            n.left_out.append((line.id, f"the line {line.id} has fewer than two marks"))
            continue
        phi = n.layout.add(f"{line.id}: direction", 0.0)
        n.layout.add(f"{line.id}: distance", 0.0)
        n.lines[line.id] = phi
        which += members
        columns += [phi] * len(members)
        rows += [
            Row(f"{n.infos[i].id} on {line.id}", line.id, "straight line", STRAIGHT, "mm", line.u_straight_mm, 0.0)
            for i in members
        ]
    if n.reference is not None and n.reference.id not in n.lines:
        n.reference = None
    n.blocks.append(LinePoints(n.points, which, columns, rows))


def _belongs(info: PointInfo, line: StraightLine) -> bool:
    return info.of == line.id or (line.reference and info.kind is MarkKind.REFERENCE_LINE and info.of is None)


def _add_circles(n: Network) -> None:
    which: list[int] = []
    columns: list[int] = []
    rows: list[Row] = []
    centres: list[tuple[int, int, str]] = []
    for fitting in n.job.fittings:
        rim = [i for i, p in enumerate(n.infos) if p.of == fitting.id and p.kind is MarkKind.RIM]
        if not fitting.active or fitting.shape is not FittingShape.CIRCLE or not rim:
            continue
        if len(rim) < 3:
            n.left_out.append((fitting.id, f"the rim of {fitting.name or fitting.id} needs at least three marks"))
            continue
        centre = int(n.layout.add_all([f"{fitting.id}: {c}" for c in ("centre x", "centre y", "radius")], (0, 0, 20))[0])
        n.circles[fitting.id] = centre
        which += rim
        columns += [centre] * len(rim)
        rows += [
            Row(f"{n.infos[i].id} on the rim of {fitting.id}", fitting.id, "rim", ROUND, "mm", fitting.u_round_mm, 0.0)
            for i in rim
        ]
        if fitting.diameter_mm is not None:
            radius, u = fitting.diameter_mm / 2.0, fitting.u_diameter_mm / 2.0
            row = Row(f"diameter of {fitting.id}, halved", fitting.id, "diameter", LENGTHS, "mm", u, radius)
            n.layout.priors.add(centre + 2, radius, row)
        middle = [i for i, p in enumerate(n.infos) if p.of == fitting.id and p.kind is MarkKind.FITTING_CENTRE]
        centres += [(i, centre, fitting.id) for i in middle]
    n.blocks.append(CirclePoints(n.points, which, columns, rows))
    same = [
        Row(f"centre of {name}, {a}", name, "centre", ROUND, "mm", 1.0, 0.0, f"centre of {name}")
        for _, _, name in centres
        for a in "xy"
    ]
    n.blocks.append(Coincidences(n.points, [i for i, _, _ in centres], [c for _, c, _ in centres], same))


@dataclass
class _LengthRows:
    """Lists that grow together."""

    first: list[int] = field(default_factory=list)
    second: list[int] = field(default_factory=list)
    readings: list[float] = field(default_factory=list)
    scale: list[int] = field(default_factory=list)
    zero: list[int] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)

    def add(self, ends: tuple[int, int], reading: float, row: Row, scale: int = FIXED, zero: int = FIXED) -> None:
        self.first.append(ends[0])
        self.second.append(ends[1])
        self.readings.append(reading)
        self.scale.append(scale)
        self.zero.append(zero)
        self.rows.append(row)


def _add_lengths(n: Network) -> None:
    collected = _LengthRows()
    instruments = {i.id: i for i in n.job.instruments}
    columns: dict[str, tuple[int, int]] = {}
    for length in n.job.lengths:
        if not length.active or length.role is Role.CHECK:
            continue
        if length.from_point not in n.index or length.to_point not in n.index:
            n.left_out.append((length.id, f"one end of {length.id} is not marked on a photo in use"))
            continue
        scale = zero = FIXED
        if length.instrument in instruments:
            tool = instruments[length.instrument]
            if tool.id not in columns:
                columns[tool.id] = (
                    n.layout.known(f"{tool.id}: scale", 0.0, Row(f"{tool.id}: scale", tool.id, "instrument", LENGTHS, "", tool.u_scale, 0.0)),
                    n.layout.known(f"{tool.id}: zero", 0.0, Row(f"{tool.id}: zero", tool.id, "instrument", LENGTHS, "mm", tool.u_zero_mm, 0.0)),
                )
            scale, zero = columns[tool.id]
        row = Row(f"{length.note or length.id}, {length.length_mm:g} mm", length.id, "length", LENGTHS, "mm", length.u_mm, length.length_mm)
        collected.add((n.index[length.from_point], n.index[length.to_point]), length.length_mm, row, scale, zero)
    right: list[tuple[tuple[int, int, int, int], Row]] = []
    for rectangle in n.job.rectangles:
        if rectangle.active and all(c in n.index for c in rectangle.corners):
            right.append(_add_rectangle(n, rectangle, collected))
    for angle in n.job.angles:
        if angle.active and angle.kind is AngleKind.RIGHT_ANGLE and all(p in n.index for p in (*angle.first, *angle.second)):
            corners = tuple(n.index[p] for p in (*angle.first, *angle.second))
            right.append((corners, Row(angle.note or angle.id, angle.id, "angle", ANGLES, "rad", math.radians(angle.u_deg), 0.0)))  # type: ignore[arg-type]
    c = collected
    n.blocks.append(Lengths(n.points, c.first, c.second, c.readings, c.scale, c.zero, c.rows))
    n.blocks.append(RightAngles(n.points, [corners for corners, _ in right], [row for _, row in right]))


def _add_rectangle(n: Network, r: Rectangle, lengths: _LengthRows) -> tuple[tuple[int, int, int, int], Row]:
    """Two pairs of sides that share their pair's size error, and one right angle."""
    a, b, c, d = (n.index[p] for p in r.corners)
    for name, size, sides in (("width", r.width_mm, ((a, b), (d, c))), ("height", r.height_mm, ((b, c), (a, d)))):
        row = Row(f"{r.id}: {name}", r.id, "rectangle", LENGTHS, "mm", r.u_mm, 0.0)
        error = n.layout.known(f"{r.id}: {name} error", 0.0, row)
        for side in sides:
            label = f"{r.id}: {name} {size:g} mm"
            lengths.add(side, size, Row(label, r.id, "rectangle", LENGTHS, "mm", U_EACH_SIDE_MM, size), zero=error)
    row = Row(f"{r.id}: right angle", r.id, "rectangle", ANGLES, "rad", math.radians(r.u_square_deg), 0.0)
    return (a, b, a, d), row


def _add_mirror_pairs(n: Network) -> None:
    pairs = [p for p in n.job.mirror_pairs if p.active and p.port in n.index and p.starboard in n.index]
    if not any(p.port != p.starboard for p in pairs):
        return
    n.mirror_axis = n.layout.add("mirror axis: direction", 0.0)
    n.layout.add("mirror axis: distance", 0.0)
    port: list[int] = []
    starboard: list[int] = []
    along: list[bool] = []
    rows: list[Row] = []
    for pair in pairs:
        for step in (False,) if pair.port == pair.starboard else (False, True):
            port.append(n.index[pair.port])
            starboard.append(n.index[pair.starboard])
            along.append(step)
            label = f"{pair.id}, {'height' if step else 'distance from the middle'}"
            rows.append(Row(label, pair.id, "mirror pair", MIRROR, "mm", pair.u_mm, 0.0))
    n.blocks.append(MirrorPairs(n.points, port, starboard, n.mirror_axis, along, rows))


def _add_angles(n: Network) -> None:
    corners: list[tuple[int, int, int, int]] = []
    values: list[float] = []
    undirected: list[bool] = []
    rows: list[Row] = []
    for angle in n.job.angles:
        ends = (*angle.first, *angle.second)
        if not angle.active or angle.kind is AngleKind.RIGHT_ANGLE or not all(p in n.index for p in ends):
            continue
        a, b, c, d = (n.index[p] for p in ends)
        corners.append((a, b, c, d))
        values.append(math.radians(angle.value_deg) if angle.kind is AngleKind.ANGLE else 0.0)
        undirected.append(angle.kind is AngleKind.PARALLEL)
        rows.append(Row(angle.note or angle.id, angle.id, "angle", ANGLES, "rad", math.radians(angle.u_deg), values[-1]))
    n.blocks.append(FaceAngles(n.points, corners, values, undirected, rows))


def _add_gravity(n: Network) -> None:
    lines = [g for g in n.job.gravity_lines if g.active and all(p in n.index for p in g.points)]
    if not lines:
        return
    lean = n.job.face_lean if n.job.face_lean is not None and n.job.face_lean.active else None
    value, u = (lean.lean_deg, lean.u_deg) if lean is not None else (0.0, 30.0)
    label = "lean of the face by level" if lean is not None else "lean of the face, unknown"
    row = Row(label, "face_lean", "lean", ANGLES, "rad", math.radians(u), math.radians(value))
    roll = n.layout.add("up: roll", 0.0)
    n.up = GravityColumns(roll, n.layout.known("up: lean", math.radians(value), row))
    level = [g for g in lines if g.kind is GravityKind.LEVEL]
    plumb = [g for g in lines if g.kind is GravityKind.PLUMB]
    ends = {g.id: (n.index[g.points[0]], n.index[g.points[1]]) for g in lines}

    def rows(chosen: Sequence[object], suffix: str = "") -> list[Row]:
        return [
            Row(f"{g.note or g.id}{suffix}", g.id, "level", ANGLES, "rad", math.radians(g.u_deg), 0.0) for g in lines if g in chosen
        ]

    n.blocks.append(LevelLines(n.points, [ends[g.id][0] for g in level], [ends[g.id][1] for g in level], n.up, rows(level)))
    n.blocks.append(
        PlumbLines(
            n.points,
            [ends[g.id][0] for g in plumb],
            [ends[g.id][1] for g in plumb],
            n.up,
            [*rows(plumb, ", sideways"), *rows(plumb, ", fore and aft")],
        )
    )


def _add_rake(n: Network) -> None:
    if n.job.rake is not None:
        value, u = math.radians(n.job.rake.rake_deg), math.radians(n.job.rake.u_deg)
        n.rake = n.layout.known("rake", value, Row("rake as stated", "rake", "rake", RAKE, "rad", u, value))
