"""What is known of the marked points, as observations: lines, rims, mirror pairs, angles, level and plumb, rake."""

from __future__ import annotations

import math
from collections.abc import Sequence

from digitizer.adjustment.observations import Row
from digitizer.job.model import AngleKind, FittingShape, GravityKind, MarkKind, StraightLine
from digitizer.survey.network import (
    ANGLES,
    DEFAULT_LINE,
    DEFINITION,
    LENGTHS,
    MIRROR,
    RAKE,
    ROUND,
    SHAPE,
    STRAIGHT,
    Network,
    PointInfo,
)
from digitizer.survey.rake import rake_evidence
from digitizer.transom.constraints import (
    CirclePoints,
    Coincidences,
    FaceAngles,
    Gaps,
    GravityColumns,
    LevelLines,
    LinePoints,
    MirrorPairs,
    PlumbLines,
)


def add_lines(n: Network) -> None:
    """Rows for the marks of each straight line; settles which line is the reference line."""
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
            _of_a_mark(n.infos[i], line.id, "straight line", STRAIGHT, line.u_straight_mm, f"on {line.id}")
            for i in members
        ]
    if n.reference is not None and n.reference.id not in n.lines:
        n.reference = None
    n.blocks.append(LinePoints(n.points, which, columns, rows))


def _of_a_mark(info: PointInfo, subject: str, kind: str, source: str, u: float, where: str) -> Row:
    """A row that says where a point lies; a point with one mark is set aside with it, since either may be to blame."""
    group = f"mark {info.marks[0].id}" if len(info.marks) == 1 else ""
    return Row(f"{info.id} {where}", subject, kind, source, "mm", u, 0.0, group)


def _belongs(info: PointInfo, line: StraightLine) -> bool:
    return info.of == line.id or (line.reference and info.kind is MarkKind.REFERENCE_LINE and info.of is None)


def add_circles(n: Network) -> None:
    """Rows for the rims of round fittings, and for marked centres."""
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
        centre = int(
            n.layout.add_all([f"{fitting.id}: {c}" for c in ("centre x", "centre y", "radius")], (0, 0, 20))[0]
        )
        n.circles[fitting.id] = centre
        edge = Row(f"{fitting.id}: edge of the rim", fitting.id, "rim edge", DEFINITION, "mm", fitting.u_edge_mm, 0.0)
        n.rim_edges[fitting.id] = n.layout.known(edge.label, 0.0, edge)
        which += rim
        columns += [centre] * len(rim)
        rows += [
            _of_a_mark(n.infos[i], fitting.id, "rim", ROUND, fitting.u_round_mm, f"on the rim of {fitting.id}")
            for i in rim
        ]
        if fitting.diameter_mm is not None:
            radius, u = fitting.diameter_mm / 2.0, math.hypot(fitting.u_diameter_mm / 2.0, fitting.u_edge_mm)
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


def add_mirror_pairs(n: Network) -> None:
    """Rows for pairs that the builder made alike, and their axis."""
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


def add_angles(n: Network) -> None:
    """Rows for parallels and stated angles."""
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
        rows.append(
            Row(angle.note or angle.id, angle.id, "angle", ANGLES, "rad", math.radians(angle.u_deg), values[-1])
        )
    n.blocks.append(FaceAngles(n.points, corners, values, undirected, rows))


def add_gravity(n: Network) -> None:
    """Rows for level and plumb lines, and the direction they share."""
    lines = [g for g in n.job.gravity_lines if g.active and all(p in n.index for p in g.points)]
    if not lines:
        return
    lean = n.job.face_lean if n.job.face_lean is not None and n.job.face_lean.active else None
    value, u = (lean.lean_deg, lean.u_deg) if lean is not None else (0.0, 30.0)
    label = "lean of the face by level" if lean is not None else "lean of the face, unknown"
    slope, u_slope = math.tan(math.radians(value)), math.radians(u) / math.cos(math.radians(value)) ** 2
    row = Row(label, "face_lean", "lean", ANGLES, "rad", u_slope, math.radians(value))
    roll = n.layout.add("up: roll", 0.0)
    n.up = GravityColumns(roll, n.layout.known("up: lean", slope, row))
    level = [g for g in lines if g.kind is GravityKind.LEVEL]
    plumb = [g for g in lines if g.kind is GravityKind.PLUMB]
    ends = {g.id: (n.index[g.points[0]], n.index[g.points[1]]) for g in lines}

    def rows(chosen: Sequence[object], suffix: str = "") -> list[Row]:
        return [
            Row(f"{g.note or g.id}{suffix}", g.id, "level", ANGLES, "rad", math.radians(g.u_deg), 0.0)
            for g in lines
            if g in chosen
        ]

    n.blocks.append(
        LevelLines(n.points, [ends[g.id][0] for g in level], [ends[g.id][1] for g in level], n.up, rows(level))
    )
    n.blocks.append(
        PlumbLines(
            n.points,
            [ends[g.id][0] for g in plumb],
            [ends[g.id][1] for g in plumb],
            n.up,
            [*rows(plumb, ", sideways"), *rows(plumb, ", fore and aft")],
        )
    )


def add_rake(n: Network) -> None:
    """Every estimate of the rake as an observation of it, so that its uncertainty reaches the section deadrise."""
    evidence = rake_evidence(n.job, n.facts)
    if not evidence.estimates:
        return
    n.rake = n.layout.add("rake", math.radians(evidence.estimates[0].value_deg))
    for e in evidence.estimates:
        value, u = math.radians(e.value_deg), math.radians(e.u_deg * evidence.widened)
        row = Row(e.label, "rake", "rake", RAKE, "rad", u, value, rejectable=False, split=e.shares)
        n.layout.priors.add(n.rake, value, row)


def add_gaps(n: Network) -> None:
    """Rows for gaps under a straightedge; they say something of a bowed face only."""
    gaps = [g for g in n.job.gaps if g.active]
    if n.surface is None:
        n.left_out += [(g.id, f"{g.id} speaks of a bowed face, and the job takes the face as flat") for g in gaps]
        return
    rows = [Row(g.note or g.id, g.id, "gap", SHAPE, "mm", g.u_mm, g.gap_mm, misread=True) for g in gaps]
    n.blocks.append(Gaps([g.span_mm for g in gaps], [g.gap_mm for g in gaps], int(n.surface.columns[0]), rows))
