"""Poses from points, on exact data."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from digitizer.camera.resection import Pose, facing_pose, plane_poses, pose_from_points
from tests.builders import a_pose

FloatArray = NDArray[np.float64]

GRID = np.array([(x, y) for x in (-200.0, 0.0, 200.0) for y in (-150.0, 0.0, 150.0)])
VIEWS = {"square-on": (0.0, 0.0), "from-starboard": (35.0, 0.0), "from-above": (-10.0, 30.0), "grazing": (60.0, 5.0)}
by_view = pytest.mark.parametrize(("yaw", "pitch"), VIEWS.values(), ids=VIEWS)


def directions(points: FloatArray, rotation: FloatArray, translation: FloatArray) -> FloatArray:
    """x/z, y/z of points (n, 3)."""
    inside = points @ rotation.T + translation
    return np.asarray(inside[:, :2] / inside[:, 2:])


def flat(points: FloatArray) -> FloatArray:
    return np.column_stack([points, np.zeros(len(points))])


def misfit(pose: Pose, seen: FloatArray, points: FloatArray) -> float:
    """Largest direction error of a pose, rad."""
    return float(np.max(np.abs(directions(points, *pose) - seen)))


@by_view
@pytest.mark.parametrize("aim", [pytest.param((0.0, 0.0), id="centred"), pytest.param((40.0, 20.0), id="off-centre")])
def test_exact_points_give_the_pose_of_their_plane(yaw: float, pitch: float, aim: tuple[float, float]) -> None:
    """The first of the two poses is the true one."""
    rotation, translation = a_pose(yaw, pitch, 3.0, 2500.0, aim)
    first, *_ = plane_poses(GRID, directions(flat(GRID), rotation, translation))
    assert np.allclose(first.rotation, rotation, atol=1e-6)  # rad
    assert np.allclose(first.translation, translation, atol=1e-3)  # mm


def test_the_second_pose_is_the_mirror_twin() -> None:
    """Seen from afar the twin fits nearly as well, with the plane leaning the other way against the line of sight."""
    rotation, translation = a_pose(25.0, 0.0, 0.0, 20_000.0, (0.0, 0.0))
    seen = directions(flat(GRID), rotation, translation)
    first, second = plane_poses(GRID, seen)
    assert misfit(first, seen, flat(GRID)) < 1e-9
    assert 1e-6 < misfit(second, seen, flat(GRID)) < 1e-4  # rad; 0.3 px at f 2900
    assert abs(first.rotation[0, 2]) == pytest.approx(math.sin(math.radians(25.0)))
    assert second.rotation[0, 2] == pytest.approx(-first.rotation[0, 2], abs=0.01)  # rad


@by_view
def test_points_in_space_give_the_pose(yaw: float, pitch: float) -> None:
    """Four or more points in space, not in one plane, give the pose."""
    points = np.array([[-900.0, 0, 0], [900, 50, 0], [100, 800, 6], [-400, 500, 0], [300, 300, 40]])
    rotation, translation = a_pose(yaw, pitch, -2.0)
    pose = pose_from_points(points, directions(points, rotation, translation))
    assert pose is not None
    assert np.allclose(pose.rotation, rotation, atol=1e-6)
    assert np.allclose(pose.translation, translation, atol=1e-2)  # mm


@pytest.mark.parametrize("yaw", [-50.0, 0.0, 20.0])
@pytest.mark.parametrize("pitch", [-35.0, 0.0, 35.0])
def test_facing_pose_looks_at_the_origin(yaw: float, pitch: float) -> None:
    """A guessed pose is a rotation, sees the origin on its axis and the face's outer side, upright."""
    pose = facing_pose(math.radians(yaw), math.radians(pitch), 3000.0)
    assert np.allclose(pose.rotation @ pose.rotation.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(pose.rotation) == pytest.approx(1.0)
    assert np.array_equal(pose.translation, [0.0, 0.0, 3000.0])
    centre = -pose.rotation.T @ pose.translation
    assert centre[2] > 0.0  # mm, astern of the face
    assert pose.rotation[1, 1] < 0.0  # y of the face is up, y of the camera is down
    off_square = math.acos(centre[2] / 3000.0)
    assert math.cos(off_square) == pytest.approx(math.cos(math.radians(yaw)) * math.cos(math.radians(pitch)))


def test_square_on_facing_pose() -> None:
    """Without yaw and pitch the camera's x runs to starboard and its y down the face."""
    assert np.allclose(facing_pose(0.0, 0.0, 1.0).rotation, np.diag([1.0, -1.0, -1.0]))
