"""
How well rims, rectangles and outlines are snapped, measured on pictures with exact truth; prints the tables.

Run with ``python -m tests.imaging.shapes_table``; takes a minute or two. The figures stand in
``docs/explanation/snapping-fittings.md``.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from time import process_time

import cv2
import numpy as np
from skimage.measure import EllipseModel, find_contours

from digitizer.geometry.ellipses import Ellipse, direct_ellipse
from digitizer.imaging.outlines import OutlineSnap, trace_outline
from digitizer.imaging.photo import gray_pixels
from digitizer.imaging.rectangles import RectangleSnap, snap_rectangle
from digitizer.imaging.rims import RimSnap, snap_rim
from tests.imaging.edge_pictures import Layer, drawn, fitting, gloss, photographed, polygon, shadow_of
from tests.imaging.edge_pictures import ellipse as disc

RUNS = 30
SAMPLES = Path(__file__).parents[2] / "sample_images"


@dataclass(frozen=True)
class Camera:
    """Conditions of a picture; `curve_u` is the spread of the exponent that bends the tone curve."""

    name: str
    blur: float = 0.9
    noise: float = 2.5
    jpeg: int | None = 95
    curve_u: float = 0.0
    hull: tuple[float, float] = (150.0, 215.0)
    disturbed: bool = False


CAMERAS = (
    Camera("ordinary"),
    Camera("tone curve bent, u 0.2", curve_u=0.2),
    Camera("noise 6", noise=6.0),
    Camera("blur 2 px", blur=2.0),
    Camera("JPEG 75", jpeg=75),
    Camera("dark hull", hull=(25.0, 60.0)),
    Camera("sun shadow and glint", disturbed=True),
)


@dataclass
class Rims:
    """Errors of many rims; those taken for another edge (the bore, a shadow) are counted and left out of the errors."""

    centres: list[float]
    diameters: list[float]
    points: list[float]
    z: list[float]
    contours: list[float]
    direct: list[float]
    missed: int = 0
    wrong: int = 0
    doubtful: int = 0


def rims(camera: Camera, low: float, high: float, seed: int = 21) -> Rims:
    """Snap rims of semi-axes from `low` to `high` px, and fit other libraries' edges and ellipses to the same."""
    rng, found = np.random.default_rng(seed), Rims([], [], [], [], [], [])
    for _ in range(RUNS):
        gray, click, rim = a_rim(camera, rng, low, high)
        snap = snap_rim(gray, click)
        if not isinstance(snap, RimSnap):
            found.missed += 1
            continue
        if abs(np.log(snap.fit.ellipse.size / rim.size)) > 0.1 or np.hypot(*(snap.centre - rim.centre)) > 1.5:
            found.wrong += 1
            found.doubtful += snap.is_doubtful
            continue
        off = rim.distances(snap.points)
        found.points += list(off)
        found.z += list(off / snap.u)
        found.centres += list(snap.centre - rim.centre)
        found.diameters += list(2 * (snap.semi_axes - rim.semi_axes))
        found.direct += list(np.array(EllipseModel.from_estimate(snap.points).center) - rim.centre)
        found.contours += list(_half_level_centre(gray, rim) - rim.centre)
    return found


def a_rim(camera: Camera, rng: np.random.Generator, low: float, high: float):
    a = rng.uniform(low, high)
    axes, turn = (a, a * rng.uniform(0.55, 1.0)), rng.uniform(0.0, np.pi)
    side = int(2.8 * a + 50)
    centre = tuple(side / 2 + rng.uniform(-4.0, 4.0, 2))
    hull = rng.uniform(*camera.hull)
    flange = hull + (1 if hull < 110 else -1) * rng.uniform(50.0, 100.0)
    layers = fitting(centre, axes, turn, flange=flange, bore=rng.uniform(8.0, 30.0))
    if camera.disturbed:
        shape = disc(centre, axes, turn)
        layers = [shadow_of(shape, (0.08 * a, 0.12 * a)), *layers]
        layers.append(gloss(disc((centre[0] - 0.6 * axes[1], centre[1] - 0.4 * axes[1]), (0.2 * a, 0.1 * a)), soft=2.0))
    gray = photographed(
        drawn((side, side), layers, hull),
        rng,
        blur=camera.blur,
        noise=camera.noise,
        jpeg=camera.jpeg,
        curve=_curve(camera, rng),
    )
    return gray, np.array(centre) + rng.normal(0.0, 0.12 * axes[1], 2), Ellipse.of_axes(np.array(centre), axes, turn)


def _curve(camera: Camera, rng: np.random.Generator) -> float:
    return float(rng.normal(1.0, camera.curve_u)) if camera.curve_u else 1.0


def _half_level_centre(gray, rim: Ellipse):
    """Centre by scikit-image: contour at the level halfway between flange and hull, direct ellipse through it."""
    t = np.linspace(0.0, 2 * np.pi, 60)
    around = [np.rint(rim.centre + share * (rim.points(t) - rim.centre)).astype(int) for share in (0.85, 1.15)]
    level = np.mean([np.median(gray[p[:, 1].clip(0, len(gray) - 1), p[:, 0].clip(0, len(gray) - 1)]) for p in around])
    contours = [c[:, ::-1] for c in find_contours(cv2.GaussianBlur(gray, (3, 3), 0).astype(float), level)]
    points = np.concatenate(contours)
    points = points[np.abs(rim.relative(points) - 1.0) < 0.1]
    return np.array(EllipseModel.from_estimate(points).center) if len(points) > 20 else np.full(2, np.nan)


def rim_rows() -> Iterator[str]:
    for camera in CAMERAS:
        for low, high in ((20.0, 70.0), (7.0, 20.0)):
            r = rims(camera, low, high)
            yield (
                f"| {camera.name} | {2 * low:.0f}–{2 * high:.0f} | {_rms(r.centres):.3f} | {_rms(r.diameters):.3f} | "
                f"{_rms(r.points):.3f} | {np.std(r.z):.2f} | {len(r.z)} | {_worse(r.points):.1f} % | "
                f"{r.missed} | {r.wrong} ({r.doubtful}) | {_rms(r.direct):.3f} | {_rms(r.contours):.3f} |"
            )


def rectangle_row(camera: Camera) -> str:
    rng, errors, z, missed = np.random.default_rng(5), [], [], 0
    for _ in range(RUNS):
        half = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * rng.uniform((35, 20), (90, 40)) * 1.0
        turn = rng.uniform(-0.5, 0.5)
        c, s = np.cos(turn), np.sin(turn)
        true = half @ np.array([[c, s], [-s, c]]) + (150.0, 120.0) + rng.uniform(-3.0, 3.0, 2)
        hull = rng.uniform(*camera.hull)
        plate = hull + (1 if hull < 110 else -1) * rng.uniform(50.0, 100.0)
        light = drawn((300, 240), [Layer(polygon([tuple(p) for p in true]), plate)], hull)
        gray = photographed(
            light, rng, blur=camera.blur, noise=camera.noise, jpeg=camera.jpeg, curve=_curve(camera, rng)
        )
        snap = snap_rectangle(gray, true + rng.uniform(-2.0, 2.0, (4, 2)))
        if not isinstance(snap, RectangleSnap):
            missed += 1
            continue
        errors += list((snap.points - true).ravel())
        z += list(((snap.points - true) / snap.u[:, None]).ravel())
    return _row("corner of a rectangle", camera, errors, z, missed)


def outline_rows(camera: Camera) -> Iterator[str]:
    rng, true = (
        np.random.default_rng(6),
        np.array([(40, 60), (360, 52), (350, 180), (200, 240), (52, 187)], dtype=float),
    )
    edge: list[float] = []
    z: list[float] = []
    corner: list[float] = []
    z_corner: list[float] = []
    missed = 0
    for _ in range(RUNS // 2):
        corners = true + rng.uniform(-1.0, 1.0, 2)
        shape = polygon([tuple(p) for p in corners])
        hull = rng.uniform(*camera.hull)
        light = drawn((400, 280), [Layer(shape, hull)], hull + (1 if hull < 110 else -1) * rng.uniform(50.0, 100.0))
        gray = photographed(
            light, rng, blur=camera.blur, noise=camera.noise, jpeg=camera.jpeg, curve=_curve(camera, rng)
        )
        snap = trace_outline(gray, np.vstack([corners, corners[:1]]) + rng.normal(0.0, 1.5, (6, 2)))
        if not isinstance(snap, OutlineSnap):
            missed += 1
            continue
        plain = ~snap.is_corner
        edge += list(shape(*snap.points[plain].T))
        z += list(shape(*snap.points[plain].T) / snap.u[plain])
        for point, u in zip(snap.points[~plain], snap.u[~plain], strict=True):
            off = point - corners[np.argmin(np.hypot(*(corners - point).T))]
            corner += list(off)
            z_corner += list(off / u)
    yield _row("outline, across", camera, edge, z, missed)
    yield _row("corner of an outline", camera, corner, z_corner, missed)


def _row(name: str, camera: Camera, errors: list[float], z: list[float], missed: int) -> str:
    worst = np.abs(errors).max()
    return f"| {name} | {camera.name} | {_rms(errors):.3f} | {worst:.2f} | {np.std(z):.2f} | {len(z)} | {missed} |"


def _rms(values) -> float:
    return float(np.sqrt(np.nanmean(np.square(values))))


def _worse(points) -> float:
    """Share of points farther off than a careful click is, 0.5 px, per cent."""
    return 100 * float(np.mean(np.abs(points) > 0.5))


def sample_clicks() -> str:
    """Five clicks in each round fitting of the sample renders, and five boxes round it: how many gave its rim."""
    rng, right, offered, doubtful, boxed, total = np.random.default_rng(5), 0, 0, 0, 0, 0
    for gray, rim, foot in _sample_rims():
        # Of a proud fitting the outline lies between the rim and its foot.
        reach = float(np.hypot(*(foot.centre - rim.centre))) + 1.5
        for _ in range(5):
            total += 1
            snap = snap_rim(gray, rim.centre + rng.normal(0.0, 0.15, 2) * rim.semi_axes[1])
            if isinstance(snap, RimSnap) and not _is_rim(snap.fit.ellipse, rim, reach):
                offered += any(_is_rim(ring.ellipse, rim, reach + 2.0) for ring in snap.alternatives)
                doubtful += snap.is_doubtful
            right += isinstance(snap, RimSnap) and _is_rim(snap.fit.ellipse, rim, reach)
            extent = np.hypot(*rim.shape)
            low, high = rim.centre - extent + rng.normal(0.0, 2.0, 2), rim.centre + extent + rng.normal(0.0, 2.0, 2)
            snap = snap_rim(gray, rim.centre, box=(*low, *high))
            boxed += isinstance(snap, RimSnap) and _is_rim(snap.fit.ellipse, rim, reach)
    return (
        f"{total} clicks on sample renders: {right} right, {offered} others with the rim among the alternatives, "
        f"{doubtful} of those not right doubtful; with a box {boxed} right"
    )


def _sample_rims():
    for folder in sorted(SAMPLES.iterdir()):
        if not (folder / "truth.json").is_file() or folder.name == "flat_profile":
            continue
        for photo in json.loads((folder / "truth.json").read_text(encoding="utf-8"))["photos"]:
            file = folder / photo["file"]
            gray = gray_pixels(file.read_bytes(), file.name)
            for name, seen_at in photo["pixels"].get("fittings", {}).items():
                if seen_at["vis"] == 2 and "rim_foot_uv" in seen_at and "bolt" not in name:
                    yield gray, *(direct_ellipse(np.array(seen_at[key])) for key in ("rim_uv", "rim_foot_uv"))


def _is_rim(found: Ellipse, rim: Ellipse, reach: float) -> bool:
    return np.abs(found.semi_axes - rim.semi_axes).max() < reach and np.hypot(*(found.centre - rim.centre)) < reach


def times() -> Iterator[str]:
    rng = np.random.default_rng(3)
    gray, click, _ = a_rim(CAMERAS[0], rng, 50.0, 60.0)
    yield f"rim: {_quickest(lambda: snap_rim(gray, click)):.1f} ms"
    corners = np.array([(90.0, 80.0), (210.0, 80.0), (210.0, 150.0), (90.0, 150.0)])
    plate = photographed(drawn((300, 240), [Layer(polygon([tuple(p) for p in corners]), 90.0)], 180.0), rng)
    yield f"rectangle: {_quickest(lambda: snap_rectangle(plate, corners + 1.0)):.1f} ms"
    a = np.ones(72)
    yield f"yardstick, 1000 products of 72 numbers: {_quickest(lambda: [a * a for _ in range(1000)]):.2f} ms"


def _quickest(job) -> float:
    def once() -> float:
        start = process_time()
        job()
        return process_time() - start

    return 1e3 * min(once() for _ in range(20))


def main() -> None:
    print(
        "| rims | diameter px | centre rms | diameter rms | points rms | z | points | > 0.5 px "
        "| none | other (doubtful) | EllipseModel centre | half-level contour centre |"
    )
    for row in rim_rows():
        print(row, flush=True)
    print("\n| mark | picture | rms px | worst px | z | coordinates | missed |")
    for camera in CAMERAS[:6]:
        print(rectangle_row(camera), flush=True)
    for camera in CAMERAS[:3]:
        for row in outline_rows(camera):
            print(row, flush=True)
    for row in ("", sample_clicks(), *times()):
        print(row, flush=True)


if __name__ == "__main__":
    main()
