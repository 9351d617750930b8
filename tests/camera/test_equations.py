"""Observation equations of marks, target corners and square views: derivatives, placement, whitening."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitizer.adjustment.observations import Row
from digitizer.adjustment.points import FIXED, PointTable
from digitizer.camera.equations import ImagePoints, SquareView, TargetColumns, TargetCorners, View
from digitizer.geometry.rotations import rotation_vector
from tests.builders import a_pose
from tests.camera.differences import assert_derivatives, residuals_of, some_rows

FloatArray = NDArray[np.float64]

LENS = [2900.0, 2011.0, 1488.0, 0.06, -0.08, 0.0004, -0.0003, 0.01]
LENS_STEPS = [1.0, 1.0, 1.0, 1e-4, 1e-4, 1e-5, 1e-5, 1e-4]
POSE_STEPS = [1e-5, 1e-5, 1e-5, 0.1, 0.1, 0.1]
VIEW = View(np.arange(8), np.arange(8, 14))
SEEDS = range(4)


def camera_parameters(rng: np.random.Generator) -> list[float]:
    """Lens and pose (14) of a photo from somewhere astern."""
    yaw, pitch, roll = rng.uniform(-35.0, 35.0, 3)
    rotation, translation = a_pose(yaw, pitch, roll, rng.uniform(2000.0, 4000.0))
    lens = np.array(LENS) + rng.normal(0.0, 20.0, 8) * LENS_STEPS
    return [*lens, *rotation_vector(rotation), *translation]


def marks(rng: np.random.Generator, u_px: float = 0.7, u_definition_mm: float = 0.0) -> tuple[ImagePoints, FloatArray]:
    """Five marks of four points: one fixed, two that share their height, one marked twice; and the parameters."""
    columns = np.array([[FIXED, FIXED, FIXED], [14, FIXED, 15], [16, 17, 15], [18, 19, FIXED]])
    constants = np.array([[0.0, 0.0, 0.0], [0.0, 30.0, 0.0], [0.0] * 3, [0.0, 0.0, 4.0]])
    x = np.array([*camera_parameters(rng), 900.0, 6.0, -700.0, 400.0, 200.0, 800.0])
    rows = [
        Row(f"{i}{a}", str(i), "mark", "clicks", "px", u_px, 0.0, split=(("clicks", 1.0), ("edge", 0.0)))
        for i in range(5)
        for a in "xy"
    ]
    block = ImagePoints(
        VIEW,
        PointTable(columns, constants),
        np.array([0, 1, 2, 3, 3]),
        rng.uniform(1000.0, 2000.0, (5, 2)),
        np.full(5, u_px),
        np.full(5, u_definition_mm),
        rows,
    )
    return block, x


def target(rng: np.random.Generator) -> tuple[TargetCorners, FloatArray]:
    """A target of twelve corners, bent and tilted; parameters: camera, x, y, height, turn, tilts, scale, modes."""
    corners = np.array([(x, y) for y in (80.0, 0.0, -80.0) for x in (-120.0, -40.0, 40.0, 120.0)])
    columns = TargetColumns(np.array([14, 15, 16, 17]), np.array([18, 19]), 20, np.array([21, 22, 23]))
    block = TargetCorners(
        VIEW,
        columns,
        corners,
        np.array([160.0, 120.0]),
        rng.uniform(1000.0, 2000.0, (12, 2)),
        rng.uniform(0.05, 0.3, 12),
        some_rows(24, unit="px"),
    )
    x = np.array(
        [*camera_parameters(rng), *rng.normal(0, 300, 2), 5.0, *rng.normal(0, 0.4, 3), 0.002, *rng.normal(0, 2, 3)]
    )
    return block, x


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("definition", [pytest.param(0.0, id="sharp"), pytest.param(3.0, id="rounded-edge")])
def test_derivatives_of_marks(seed: int, definition: float) -> None:
    """Marks: derivatives by lens, pose, and free, fixed and shared coordinates; the weights held."""
    block, x = marks(np.random.default_rng(seed), u_definition_mm=definition)
    block.reweigh(x)
    assert_derivatives(block, x, np.array([*LENS_STEPS, *POSE_STEPS, *[0.1] * 6]))


@pytest.mark.parametrize("seed", SEEDS)
def test_derivatives_of_target_corners(seed: int) -> None:
    """Target corners: derivatives by lens, pose, place, tilts, scale and flatness modes."""
    block, x = target(np.random.default_rng(seed))
    steps = np.array([*LENS_STEPS, *POSE_STEPS, 0.1, 0.1, 0.1, 1e-5, 1e-5, 1e-5, 1e-5, 0.1, 0.1, 0.1])
    assert_derivatives(block, x, steps)


@pytest.mark.parametrize("seed", SEEDS)
def test_derivatives_of_a_square_view(seed: int) -> None:
    """Square view: derivatives by the rotation alone."""
    x = np.array(camera_parameters(np.random.default_rng(seed)))
    assert_derivatives(SquareView(VIEW, some_rows(2, 0.09, "rad")), x, np.array([*LENS_STEPS, *POSE_STEPS]))


def test_square_view_reads_yaw_and_pitch() -> None:
    """The residuals are the sines of the view's angles off square; nothing when square on, whatever the roll."""
    block = SquareView(VIEW, some_rows(2, 1.0, "rad"))
    for yaw, pitch, roll in [(0.0, 0.0, 40.0), (10.0, 0.0, 0.0), (0.0, -7.0, 5.0)]:
        rotation, translation = a_pose(yaw, pitch, roll)
        sideways, up = residuals_of(block, np.array([*LENS, *rotation_vector(rotation), *translation]))
        assert abs(sideways) == pytest.approx(np.sin(np.radians(abs(yaw))), abs=1e-12)
        assert abs(up) == pytest.approx(np.sin(np.radians(abs(pitch))), abs=1e-12)


def test_marks_are_residuals_of_opencvs_projection() -> None:
    """A mark's residual is adjusted − clicked over its u, the adjusted place being OpenCV's projection."""
    block, x = marks(np.random.default_rng(7))
    points = block.once.at(x)
    matrix = np.array([[x[0], 0, x[1]], [0, x[0], x[2]], [0, 0, 1]])
    image, _ = cv2.projectPoints(points[:, None, :], x[8:11], x[11:14], matrix, x[3:8])
    expected = (image[:, 0] - block.image_points) / 0.7
    assert np.allclose(residuals_of(block, x), expected.ravel(), atol=1e-6)


def test_target_lies_where_its_columns_say() -> None:
    """Corners are scaled, bent by the three modes, tilted about x then y, turned and shifted."""
    block, x = target(np.random.default_rng(2))
    x[14:24] = [100.0, 50.0, 5.0, np.pi / 2, 0.0, 0.0, 0.01, 2.0, 0.0, 0.0]
    placed = block.object_points(x)
    # The corner at (−120, 80) of a sheet turned a quarter anticlockwise lies at (−80, −120) from its middle.
    assert placed[0] == pytest.approx([100.0 - 80.8, 50.0 - 121.2, 5.0 + 2.0 * (1 - 0.75**2)])
    x[17], x[18], x[20], x[21] = 0.0, np.pi / 2, 0.0, 0.0
    assert block.object_points(x)[0] == pytest.approx([100.0 - 120.0, 50.0, 5.0 + 80.0])  # y stands up along z
    x[18], x[19] = 0.0, np.pi / 2
    assert block.object_points(x)[0] == pytest.approx([100.0, 50.0 + 80.0, 5.0 + 120.0])  # x points into the face
    x[19], x[22] = 0.0, 1.5
    assert block.object_points(x)[0, 2] == pytest.approx(5.0 + 1.5 * (1 - (80 / 120) ** 2))
    x[22], x[23] = 0.0, 1.5
    assert block.object_points(x)[0, 2] == pytest.approx(5.0 - 1.5 * 0.75 * 80 / 120)


def test_definition_turns_into_pixels_as_the_view_says() -> None:
    """
    A scatter of the thing itself on the face, seen through the camera and clicked with its own scatter, is white
    after whitening: covariance one within the scatter of 20 000 draws (four standard errors of a variance, 0.04).
    """
    rng = np.random.default_rng(11)
    block, x = marks(rng, u_px=0.5, u_definition_mm=4.0)
    block.reweigh(x)
    points = block.once.at(x)
    for mark in range(5):
        scattered = np.repeat(points[mark][None, :], 20_000, axis=0)
        scattered[:, :2] += rng.normal(0.0, 4.0, (20_000, 2))
        clicks = VIEW.image_points(x, scattered) + rng.normal(0.0, 0.5, (20_000, 2))
        white = (clicks - VIEW.image_points(x, points[mark][None, :])) @ block.whiten[mark].T
        assert np.allclose(np.cov(white.T), np.eye(2), atol=0.04)
        u = np.array([row.u for row in block.rows[2 * mark : 2 * mark + 2]])
        assert np.allclose(clicks.std(axis=0), u, rtol=0.02)


def test_definition_is_shown_apart_in_the_rows() -> None:
    """A row's variance is split between the click and the edge; the click's part is u_px squared."""
    block, x = marks(np.random.default_rng(3), u_px=0.5, u_definition_mm=2.0)
    block.reweigh(x)
    for row in block.rows:
        split = dict(row.split)
        assert sum(split.values()) == pytest.approx(1.0)
        assert split["clicks"] * row.u**2 == pytest.approx(0.25)


def test_a_sharp_mark_keeps_its_own_u() -> None:
    """Without a scatter of the thing itself, weighing anew changes nothing."""
    block, x = marks(np.random.default_rng(3))
    before = residuals_of(block, x)
    block.reweigh(x)
    assert np.allclose(residuals_of(block, x), before)
    assert all(row.u == pytest.approx(0.7) for row in block.rows)
