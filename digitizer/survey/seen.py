"""What the photos show, as observations: cameras, targets, points on the face and their marks."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from digitizer.adjustment.observations import IntArray, Row
from digitizer.adjustment.points import FIXED, PointTable
from digitizer.camera.equations import ImagePoints, SquareView, TargetColumns, TargetCorners, View
from digitizer.camera.lens import LENS_NAMES, LensPrior, lens_prior
from digitizer.job.model import Job, Mark, MarkKind, Photo, Sighting, Target
from digitizer.survey.defaults import HEIGHT_MM, U_HANG_MM, definition_mm, target_lean_u, target_scale_u
from digitizer.survey.layout import Layout
from digitizer.survey.network import (
    CLICKS,
    CORNERS,
    DEFAULT_LINE,
    DEFINITION,
    HEIGHTS,
    LENS,
    SQUARE,
    TARGET_MAKE,
    Network,
    PointInfo,
    datum_points,
    half_size,
    proud,
)


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
            lenses[key] = _add_lens(n.layout, name, prior)
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


def _add_lens(layout: Layout, camera: str, prior: LensPrior) -> IntArray:
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
        n.blocks.append(
            TargetCorners(n.views[s.photo], n.targets[target.id], corners, half, image, np.array(s.u_px), rows)
        )


def add_points(n: Network) -> None:
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
