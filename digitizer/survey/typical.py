"""
A transom that nobody marked yet: where its corners and a string across it would lie in a photo.

Its shape is a guess of common practice, good enough for an expected uncertainty: 2.4 m wide, 1 m high, 18° of
deadrise. Places are in a frame on the face: x to the right in the photo, y up in it, z at the camera.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.camera.projection import normalised, projected
from digitizer.camera.resection import Pose, plane_poses
from digitizer.job.model import Mark, MarkKind, Side

BEAM_MM = 2400.0
MIDDLE = np.array([0.0, 500.0])
"""Of its extents, mm from the keel."""
CORNERS: dict[tuple[MarkKind, Side], tuple[float, float]] = {
    (MarkKind.KEEL, Side.CENTRE): (0.0, 0.0),
    (MarkKind.CHINE, Side.PORT): (-1130.0, 367.0),
    (MarkKind.CHINE, Side.STARBOARD): (1130.0, 367.0),
    (MarkKind.TOP_CORNER, Side.PORT): (-1200.0, 1000.0),
    (MarkKind.TOP_CORNER, Side.STARBOARD): (1200.0, 1000.0),
}
"""Places, mm from the keel."""
STRING = tuple((x, 890.0) for x in (-1000.0, -500.0, 0.0, 500.0, 1000.0))
SMALLEST = 0.25
"""Part of its size below which a photo shows too little of it."""
_SHRINK = 0.93


@dataclass(frozen=True)
class Standpoint:
    """A camera before the face."""

    pose: Pose
    """From the frame on the face to the camera."""
    lens: FloatArray
    """(8,), see `camera.lens`."""
    size: tuple[int, int]
    """Width and height of the photo, px."""

    def see(self, points: FloatArray) -> FloatArray:
        """Where points of the frame (k, 3) fall in the photo, (k, 2) px."""
        return projected(points @ self.pose.rotation.T + self.pose.translation, self.lens)

    def see_face(self, places: FloatArray) -> FloatArray:
        """Where places on the face (k, 2) fall in the photo, (k, 2) px."""
        return self.see(np.column_stack([places, np.zeros(len(places))]))

    def meet(self, image: FloatArray) -> FloatArray:
        """Places on the face (k, 2) under pixels (k, 2)."""
        rays = np.column_stack([normalised(image, self.lens), np.ones(len(image))])
        plane = np.column_stack([self.pose.rotation[:, :2], self.pose.translation])
        met = rays @ np.linalg.inv(plane).T
        return np.asarray(met[:, :2] / met[:, 2:])

    def holds(self, image: FloatArray) -> np.ndarray:
        """Which pixels (k, 2) lie in the photo."""
        return np.asarray(np.all((image >= 0.0) & (image <= np.array(self.size) - 1.0), axis=1))

    def turned(self, angle: float, about: FloatArray) -> Standpoint:
        """The camera carried round the upright line through a place (2,) of the face, to port where positive; rad."""
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
        middle = np.append(about, 0.0)
        shift = self.pose.translation + self.pose.rotation @ (middle - turn @ middle)
        return Standpoint(Pose(self.pose.rotation @ turn, shift), self.lens, self.size)

    @property
    def camera(self) -> FloatArray:
        """Where the camera stands in the frame, (3,) mm."""
        return np.asarray(-self.pose.rotation.T @ self.pose.translation)


def before_the_face(
    corners: FloatArray, image: FloatArray, lens: FloatArray, size: tuple[int, int], thickness: float = 0.0
) -> tuple[Standpoint, Pose]:
    """
    The camera from a plane thing of known size that lies on the face.

    Parameters
    ----------
    corners : (k, 2), mm
        On the thing; k ≥ 4.
    image : (k, 2), px
    lens : (8,)
    size
        Width and height of the photo, px.
    thickness
        Of the thing, mm.

    Returns
    -------
    standpoint
        Its frame begins at the middle of the corners, on the face.
    placed
        From the thing to that frame.
    """
    turn, shift = plane_poses(corners, normalised(image, lens))[0]
    normal = turn[:, 2] if turn[2, 2] < 0.0 else -turn[:, 2]
    right = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
    right /= np.linalg.norm(right)
    axes = np.column_stack([right, np.cross(normal, right), normal])
    origin = turn[:, :2] @ corners.mean(axis=0) + shift - thickness * normal
    return Standpoint(Pose(axes, origin), lens, size), Pose(axes.T @ turn, axes.T @ (shift - origin))


def beside(placed: Pose, corners: FloatArray, image: FloatArray, lens: FloatArray, size: tuple[int, int]) -> Standpoint:
    """Another camera that sees the same thing, in the frame that it was `placed` in; see `before_the_face`."""
    turn, shift = plane_poses(corners, normalised(image, lens))[0]
    rotation = turn @ placed.rotation.T
    return Standpoint(Pose(rotation, shift - rotation @ placed.translation), lens, size)


@dataclass(frozen=True)
class Typical:
    """A typical transom laid on the face: its marks' places (mm in the frame), and how wide it was taken."""

    corners: dict[tuple[MarkKind, Side], FloatArray]
    string: FloatArray
    beam_mm: float

    @property
    def middle(self) -> FloatArray:
        """Of its corners, (2,)."""
        return np.asarray(np.mean(list(self.corners.values()), axis=0))


def laid(stand: Standpoint, marks: tuple[Mark, ...]) -> Typical | None:
    """
    A typical transom as the photo may show it: round what is marked, or with its middle in the photo's.

    It is made smaller until the photo holds it, the known thing still on it; None where that leaves too little.

    Parameters
    ----------
    stand
        Its frame begins at the known thing's middle.
    marks
        Marks in this photo; those of corners are taken as they are.
    """
    known = {(m.kind, Side(m.side or Side.CENTRE)): np.array([m.x_px, m.y_px]) for m in marks}
    met = {k: stand.meet(px[None])[0] for k, px in known.items() if k in CORNERS}
    scale = _marked_scale(met)
    while scale >= SMALLEST:
        typical = _placed(stand, met, scale)
        if np.all(stand.holds(stand.see_face(np.array([*typical.corners.values(), *typical.string])))):
            return typical
        scale *= _SHRINK
    return None


def _marked_scale(met: dict[tuple[MarkKind, Side], FloatArray]) -> float:
    """How large the transom is beside the typical one, by its marked corners."""
    if len(met) < 2:
        return 1.0
    spans = [np.ptp(np.array([places[k] for k in met]), axis=0) for places in (met, CORNERS)]
    return float(np.linalg.norm(spans[0]) / np.linalg.norm(spans[1]))


def _placed(stand: Standpoint, met: dict[tuple[MarkKind, Side], FloatArray], scale: float) -> Typical:
    if met:
        shift = np.mean([place - scale * np.array(CORNERS[k]) for k, place in met.items()], axis=0)
    else:
        middle = stand.meet((np.array(stand.size)[None] - 1.0) / 2.0)[0]
        reach = scale * np.array([0.4 * BEAM_MM, 0.6 * MIDDLE[1]])
        shift = np.clip(middle, -reach, reach) - scale * MIDDLE
    corners = {k: met.get(k, shift + scale * np.array(place)) for k, place in CORNERS.items()}
    return Typical(corners, shift + scale * np.array(STRING), scale * BEAM_MM)
