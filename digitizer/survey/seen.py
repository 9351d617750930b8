"""What the photos show, as observations: cameras, targets, points on the face and their marks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from digitizer.adjustment.observations import IntArray, Row
from digitizer.adjustment.points import FIXED, PointTable
from digitizer.camera.equations import ImagePoints, SquareView, TargetColumns, TargetCorners, View
from digitizer.camera.lens import LENS_NAMES, LensPrior, lens_prior
from digitizer.job.model import FaceKind, Job, Mark, MarkKind, Photo, Sighting, Target
from digitizer.survey.defaults import (
    FIRST_ALONG_MM,
    HEIGHT_MM,
    U_CURVATURE,
    U_FREE_MM,
    U_HANG_MM,
    U_PAD_MM,
    U_UNFAIR_MM,
    definition_mm,
    target_lean_u,
    target_scale_u,
)
from digitizer.survey.defects import MARKS_OF_DEFECTS
from digitizer.survey.layout import Layout
from digitizer.survey.network import (
    CLICKS,
    CORNERS,
    DEFAULT_LINE,
    DEFINITION,
    HEIGHTS,
    LENS,
    SHAPE,
    SQUARE,
    TARGET_MAKE,
    Network,
    PointInfo,
    datum_points,
    half_size,
    proud,
)
from digitizer.transom.surface import Bowed


def add_cameras(n: Network) -> None:
    """
    Lens columns for each camera with their priors, pose columns for each photo.

    Photos of one camera share its lens as long as they have one size: a turned or resized picture gets its own.
    """
    lenses: dict[tuple[str, int, int], IntArray] = {}
    for photo in n.photos.values():
        f = n.facts[photo.id]
        prior = _lens_prior(n, photo)
        n.lens_priors[photo.id] = prior
        key = (photo.camera, f.width_px, f.height_px)
        if key not in lenses:
            name = (
                photo.camera
                if photo.camera not in {camera for camera, _, _ in lenses}
                else f"{photo.camera} ({photo.id})"
            )
            lenses[key] = add_lens(n.layout, name, prior)
        names = [f"{photo.id}: {name}" for name in ("rx", "ry", "rz", "tx", "ty", "tz")]
        view = View(lenses[key], n.layout.add_all(names, (math.pi, 0.0, 0.0, 0.0, 0.0, 3000.0)))
        n.views[photo.id] = view
        if photo.u_square_deg is not None:
            u = math.radians(photo.u_square_deg)
            rows = [
                Row(f"{photo.id} taken square, {way}", photo.id, "square view", SQUARE, "rad", u, 0.0, photo=photo.id)
                for way in ("sideways", "up and down")
            ]
            n.blocks.append(SquareView(view, rows))


def _lens_prior(n: Network, photo: Photo) -> LensPrior:
    f = n.facts[photo.id]
    exif_size = (f.exif_width_px, f.exif_height_px) if f.exif_width_px and f.exif_height_px else None
    calibration = next((c.calibration for c in n.job.cameras if c.id == photo.camera), None)
    return lens_prior(f.width_px, f.height_px, f.focal_35mm, exif_size, photo.cropped, calibration)


def add_lens(layout: Layout, camera: str, prior: LensPrior) -> IntArray:
    """Columns (8,) of one camera's lens, with its priors."""
    labels = ("focal length", "principal point x", "principal point y", "k1", "k2", "p1", "p2", "k3")
    units = ("px", "px", "px", "", "", "", "", "")
    return np.array(
        [
            layout.known(
                f"{camera}: {name}", value, Row(f"{label} ({prior.source})", camera, "lens", LENS, unit, u, value)
            )
            for name, label, unit, value, u in zip(LENS_NAMES, labels, units, prior.values, prior.u, strict=True)
        ],
        dtype=np.intp,
    )


def add_targets(n: Network, sightings: Sequence[Sighting]) -> None:
    """Columns for every target that some photo shows."""
    targets = {t.id: t for t in n.job.targets if t.active}
    for sighting in sightings:
        if sighting.target in targets and sighting.photo in n.photos and len(sighting.corner_ids) >= 4:
            n.sightings.append((targets[sighting.target], sighting))
    for target in {t.id: t for t, _ in n.sightings}.values():
        n.targets[target.id] = _target_columns(n, target)


def _target_columns(n: Network, target: Target) -> TargetColumns:
    layout = n.layout

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
    lift = n.pads.get(target.on or "", FIXED)
    return TargetColumns(place, np.array(tilts, dtype=np.intp), scale, np.array(modes, dtype=np.intp), lift)


def add_corners(n: Network) -> None:
    """Rows for the corners of the targets."""
    for target, s in n.sightings:
        corners, half = n.corner_geometry(target, s)
        image = np.column_stack([s.x_px, s.y_px])
        rows = [
            Row(
                f"{target.id} corner {i}, {a}",
                target.id,
                "target corner",
                CORNERS,
                "px",
                u,
                v,
                f"{s.photo}/{target.id}/{i}",
                photo=s.photo,
            )
            for i, u, xy in zip(s.corner_ids, s.u_px, image, strict=True)
            for a, v in zip("xy", map(float, xy), strict=True)
        ]
        surface = n.surface if target.flush else None
        u = np.array(s.u_px)
        n.blocks.append(TargetCorners(n.views[s.photo], n.targets[target.id], corners, half, image, u, rows, surface))


def add_face(n: Network) -> None:
    """The face's curvature and the heights of its pads, with what was measured of them by hand."""
    if n.job.face.kind is not FaceKind.FLAT:
        row = Row("curvature of the face", "face", "shape", SHAPE, "1/mm", U_CURVATURE, 0.0)
        n.surface = Bowed(np.array([n.layout.known("curvature", 0.0, row)], dtype=np.intp), 0.0)
    for pad in (p for p in n.job.pads if p.active):
        value, u = (pad.height_mm, pad.u_height_mm) if pad.height_mm is not None else (0.0, U_PAD_MM)
        row = Row(f"{pad.id}: height", pad.id, "pad", SHAPE, "mm", u, value)
        n.pads[pad.id] = n.layout.known(row.label, value, row)


def add_points(n: Network) -> None:
    """Columns of every point: x and y free but for the datum's three, z by the height that its group shares."""
    origin, second = datum_points(n)
    columns = np.full((len(n.infos) + len(n.targets), 3), FIXED, dtype=np.intp)
    constants = np.zeros(columns.shape)
    heights: dict[str, int] = {}
    for i, info in enumerate(n.infos):
        columns[i, 0] = n.layout.add(f"{info.id}: x", FIRST_ALONG_MM if i == origin else 0.0, free=i != origin)
        columns[i, 1] = n.layout.add(f"{info.id}: y", 0.0, free=i not in (origin, second))
        height = _height(n.job, info)
        constants[i, 2] = height.value
        if height.u > 0.0:
            if height.group not in heights:
                row = Row(
                    f"{height.group}: height above the face",
                    height.group,
                    "height",
                    HEIGHTS,
                    "mm",
                    height.u,
                    height.value,
                )
                heights[height.group] = n.layout.known(f"{height.group}: height", height.value, row)
            columns[i, 2] = heights[height.group]
    for i, (name, target) in enumerate(n.targets.items(), start=len(n.infos)):
        columns[i] = target.place[:3]
        n.index.setdefault(name, i)
    n.points = PointTable(columns, constants, n.surface, _lifts(n))


def _lifts(n: Network) -> IntArray:
    """Column of the pad under each point, targets last; empty without pads."""
    if not n.pads:
        return np.empty(0, dtype=np.intp)
    fittings = {f.id: f.on for f in n.job.fittings}
    defects = {d.id: d.on for d in n.job.defects}
    owners = [defects if info.kind in MARKS_OF_DEFECTS else fittings for info in n.infos]
    under = [
        info.of if info.kind is MarkKind.PAD else info.marks[0].on or owner.get(info.of or "")
        for info, owner in zip(n.infos, owners, strict=True)
    ]
    under += [next(t.on for t in n.job.targets if t.id == name) for name in n.targets]
    return np.array([n.pads.get(pad or "", FIXED) for pad in under], dtype=np.intp)


class _Height(NamedTuple):
    """Height of a point off the face: the group that shares it, its value and u, mm."""

    group: str
    value: float
    u: float


def _height(job: Job, info: PointInfo) -> _Height:
    mark = info.marks[0]
    if mark.height_mm is not None:
        u = mark.u_height_mm or 0.0
        return _Height(f"{info.of or _kind_group(info)} at {mark.height_mm:g} mm", mark.height_mm, u)
    if info.kind is MarkKind.PLUMB_LINE:
        return _Height(info.id, U_HANG_MM / 2.0, U_HANG_MM)
    fitting = next((f for f in job.fittings if f.id == info.of), None)
    if fitting is not None:
        return _Height(fitting.id, *proud(fitting))
    rectangle = next((r for r in job.rectangles if r.active and info.id in r.corners), None)
    if rectangle is not None and rectangle.flush:
        return _Height(rectangle.id, rectangle.thickness_mm, rectangle.u_thickness_mm)
    if rectangle is not None:
        return _Height(info.id, rectangle.thickness_mm, U_HANG_MM)
    if info.kind in HEIGHT_MM:
        return _Height(info.of or _kind_group(info), *HEIGHT_MM[info.kind])
    if job.face.kind is FaceKind.FREE:
        return _Height(info.id, 0.0, U_FREE_MM if len({m.photo for m in info.marks}) > 1 else U_UNFAIR_MM)
    return _Height(info.id, 0.0, mark.u_height_mm or 0.0)


def _kind_group(info: PointInfo) -> str:
    return DEFAULT_LINE.id if info.kind is MarkKind.REFERENCE_LINE else info.id


def add_marks(n: Network, marks: Sequence[Mark]) -> None:
    """Rows for the marks, photo by photo."""
    for photo, view in n.views.items():
        own = [m for m in marks if m.photo == photo]
        if not own:
            continue
        image = np.array([(m.x_px, m.y_px) for m in own])
        which = np.array([n.index[m.point or m.id] for m in own], dtype=np.intp)
        rows = [
            Row(
                f"mark {m.id}, {a}",
                m.id,
                "mark",
                CLICKS,
                "px",
                m.u_px,
                v,
                f"mark {m.id}",
                photo=photo,
                split=((CLICKS, 1.0), (DEFINITION, 0.0)),
            )
            for m in own
            for a, v in (("x", m.x_px), ("y", m.y_px))
        ]
        u = np.array([m.u_px for m in own])
        definition = np.array([definition_mm(m) for m in own])
        n.blocks.append(ImagePoints(view, n.points, which, image, u, definition, rows))
