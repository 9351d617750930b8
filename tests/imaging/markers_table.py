"""
How well corners of printed targets are found, on pictures with exact truth: ``python -m tests.imaging.markers_table``.

Every picture is another target in another place, size, turn and slant, taken by another camera. Uncertainties were
set while looking at the first half of the pictures only; the second half has other seeds.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.target_layout import object_points
from digitizer.imaging.targets import find_targets
from digitizer.job.model import Target
from tests.imaging.rendering import a_board, a_marker, a_view, picture, seen

FloatArray = NDArray[np.float64]
SIZE = (900, 700)
HALVES = ((1, "first"), (2, "second"))


@dataclass(frozen=True)
class Camera:
    """Ranges from which a picture is drawn."""

    name: str
    blur_px: tuple[float, float] = (0.7, 1.3)
    noise: tuple[float, float] = (2.0, 4.0)
    curve_u: float = 0.2
    """Spread of the exponent by which cameras bend their tone curve; see `snapping_table`."""
    jpeg: int | None = None
    black: tuple[float, float] = (30.0, 60.0)
    white: tuple[float, float] = (190.0, 230.0)


CAMERAS = (
    Camera("ordinary, standard tone curve", curve_u=0.0),
    Camera("ordinary"),
    Camera("noise 6 to 10", noise=(6.0, 10.0)),
    Camera("blur 1.5 to 2.5 px", blur_px=(1.5, 2.5)),
    Camera("JPEG 80", jpeg=80),
    Camera("low contrast", black=(90.0, 110.0), white=(130.0, 160.0)),
    Camera("all of these", blur_px=(0.6, 2.0), noise=(1.5, 8.0), jpeg=88),
)
SIZES = ((25.0, 45.0), (45.0, 300.0))
"""Ranges of a marker's side, px."""


@dataclass(frozen=True)
class Found:
    """Errors (n, 2) and uncertainties (n,) of all corners, px, one picture after the other, and pictures in vain."""

    errors: FloatArray
    u: FloatArray
    missed: int

    @property
    def z(self) -> FloatArray:
        """Normalised errors (n, 2)."""
        return self.errors / self.u[:, None]


def found(camera: Camera, side_px: tuple[float, float], make: Callable[[], Target], half: int, pictures: int) -> Found:
    """Corners in as many pictures of one target each."""
    errors, u, missed = [np.empty((0, 2))], [np.empty(0)], 0
    for number in range(pictures):
        rng = np.random.default_rng([half, number, CAMERAS.index(camera), round(side_px[0])])
        target = make()
        H = a_view(
            np.exp(rng.uniform(*np.log(side_px))) / float(target.marker_mm or 1.0),
            (SIZE[0] / 2 + rng.uniform(-5, 5), SIZE[1] / 2 + rng.uniform(-5, 5)),
            rng.uniform(-np.pi, np.pi),
            rng.uniform(0.0, 0.5),
        )
        gray = _taken(camera, target, H, rng)
        detections = find_targets(gray, [target])
        missed += not detections
        for detection in detections:
            errors.append(detection.image_points - seen(H, object_points(target, detection.corner_ids)))
            u.append(np.asarray(detection.u_px))
    return Found(np.concatenate(errors), np.concatenate(u), missed)


def _taken(camera: Camera, target: Target, H: FloatArray, rng: np.random.Generator) -> NDArray[np.uint8]:
    gray = picture(
        [(target, H)],
        SIZE,
        blur_px=rng.uniform(*camera.blur_px),
        noise=rng.uniform(*camera.noise),
        curve=rng.normal(1.0, camera.curve_u),
        black=rng.uniform(*camera.black),
        white=rng.uniform(*camera.white),
        seed=int(rng.integers(1 << 30)),
    )
    if camera.jpeg is None:
        return gray
    _, data = cv2.imencode(".jpg", gray, [cv2.IMWRITE_JPEG_QUALITY, camera.jpeg])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def rows(pictures: int) -> Iterator[str]:
    """The table's lines."""
    for name, make, sizes in (("marker", a_marker, SIZES), ("board", lambda: a_board(5, 4), ((25.0, 100.0),))):
        for camera in CAMERAS:
            for side in sizes:
                for half, words in HALVES:
                    corners = found(camera, side, make, half, pictures if name == "marker" else pictures // 3)
                    if not len(corners.u):
                        continue
                    rms = float(np.sqrt(np.mean(corners.errors**2)))
                    beyond = float(np.mean(np.abs(corners.z) > 2.0))
                    yield (
                        f"| {name} | {camera.name} | {side[0]:.0f} to {side[1]:.0f} | {words} | {len(corners.u)} | "
                        f"{rms:.3f} | {np.median(corners.u):.3f} | {np.std(corners.z):.2f} | {100 * beyond:.1f} % | "
                        f"{corners.missed} |"
                    )


def main() -> None:
    """Print the table."""
    pictures = int(sys.argv[1]) if len(sys.argv) > 1 else 130
    print("| target | camera | marker's side px | half | corners | rms px | median u px | z | beyond 2 u | missed |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for line in rows(pictures):
        print(line, flush=True)


if __name__ == "__main__":
    main()
