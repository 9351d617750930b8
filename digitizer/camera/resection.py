"""Poses from points: start values for the adjustment, by OpenCV's solvers."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from digitizer.adjustment.observations import FloatArray


class Pose(NamedTuple):
    """camera point = rotation · object point + translation (mm)."""

    rotation: FloatArray
    translation: FloatArray


def plane_poses(points: FloatArray, directions: FloatArray) -> list[Pose]:
    """
    The two poses of a plane that a few of its points allow, the better one first.

    Parameters
    ----------
    points : (n, 2), mm
        On the plane z = 0; n ≥ 4.
    directions : (n, 2)
        x/z, y/z of each in the camera's system, distortion removed.

    References
    ----------
    T. Collins and A. Bartoli, Infinitesimal plane-based pose estimation, Int. J. Computer Vision 109 (2014)
    252, doi 10.1007/s11263-014-0725-5; as implemented in OpenCV.
    """
    import cv2

    # OpenCV goes wrong by degrees where the plane's z axis points at a camera square to it, as ours does: its axes
    # are turned about x on the way in and on the way out.
    turned = np.column_stack([points, np.zeros(len(points))]) * [1.0, -1.0, 1.0]
    _, turns, shifts, _ = cv2.solvePnPGeneric(
        turned[:, None, :], directions[:, None, :], np.eye(3), None, flags=cv2.SOLVEPNP_IPPE
    )
    back = np.diag([1.0, -1.0, -1.0])
    return [Pose(cv2.Rodrigues(turn)[0] @ back, np.ravel(shift)) for turn, shift in zip(turns, shifts, strict=True)]


def pose_from_points(points: FloatArray, directions: FloatArray) -> Pose | None:
    """
    Pose that fits points in space, or None when the solver finds none.

    Parameters
    ----------
    points : (n, 3), mm; n ≥ 4
    directions : (n, 2)
        As in `plane_poses`.
    """
    import cv2

    found, turn, shift = cv2.solvePnP(
        points[:, None, :], directions[:, None, :], np.eye(3), None, flags=cv2.SOLVEPNP_SQPNP
    )
    return Pose(cv2.Rodrigues(turn)[0], np.ravel(shift)) if found else None


def facing_pose(yaw: float, pitch: float, distance: float) -> Pose:
    """
    A pose before the plane z = 0, looking at its origin: the in-plane turn is left at upright.

    Parameters
    ----------
    yaw, pitch : rad
        Of the plane's normal seen from the camera: yaw to the right, pitch upwards; both 0 is square on.
    distance : mm
    """
    cy, sy, cp, sp = np.cos(yaw), np.sin(yaw), np.cos(pitch), np.sin(pitch)
    normal = np.array([sy * cp, -sp, -cy * cp])
    right = np.array([cy, 0.0, sy])
    return Pose(np.column_stack([right, np.cross(normal, right), normal]), np.array([0.0, 0.0, distance]))
