"""
Collinearity: the observation equations of marks and of target corners.

Residuals are adjusted − observed, whitened. A mark's uncertainty has two parts: the click (px) and how well
the thing itself is defined on the boat (mm on the face), which the view turns into pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import FloatArray, IntArray, Row
from digitizer.adjustment.points import FIXED, PointTable, Surface
from digitizer.camera.lens import LENS_SIZE
from digitizer.camera.projection import projected, projected_with_derivatives
from digitizer.geometry.rotations import rotation_matrix, rotation_matrix_and_derivatives


@dataclass(frozen=True)
class View:
    """Columns of one photo, each group in a row: `lens` (8,) of its camera, `pose` (6,) rotation vector, then mm."""

    lens: IntArray
    pose: IntArray

    def image_points(self, x: FloatArray, points: FloatArray) -> FloatArray:
        """Image points (n, 2) of object points (n, 3)."""
        pose = x[self.pose]
        return projected(points @ rotation_matrix(pose[:3]).T + pose[3:], x[self.lens])

    def linearised(
        self, x: FloatArray, points: FloatArray, jacobian: FloatArray, whiten: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """
        Image points (n, 2) and their whitened derivatives by object point (n, 2, 3).

        Fills the whitened derivatives by lens and pose into `jacobian`, seen as (n, 2, parameters).
        `whiten` is (n, 2, 2).
        """
        pose = x[self.pose]
        R, dR = rotation_matrix_and_derivatives(pose[:3])
        image, by_camera, by_lens = projected_with_derivatives(points @ R.T + pose[3:], x[self.lens])
        by_camera = whiten @ by_camera
        lens, pose_column = int(self.lens[0]), int(self.pose[0])
        jacobian[:, :, lens : lens + LENS_SIZE] = whiten @ by_lens
        turned = (points @ dR.transpose(0, 2, 1)).transpose(1, 2, 0)
        jacobian[:, :, pose_column : pose_column + 3] = by_camera @ turned
        jacobian[:, :, pose_column + 3 : pose_column + 6] = by_camera
        return image, by_camera @ R


class ImagePoints:
    """
    Marks in one photo.

    Parameters
    ----------
    view
        The photo's columns.
    points, which : table and (n,)
        The object point of each mark.
    image_points : (n, 2), px
    u_px, u_definition_mm : (n,)
    rows
        Two per mark: x, then y.
    """

    def __init__(
        self,
        view: View,
        points: PointTable,
        which: IntArray,
        image_points: FloatArray,
        u_px: FloatArray,
        u_definition_mm: FloatArray,
        rows: Sequence[Row],
    ) -> None:
        self.view = view
        self.once, self.twice = points.linked(which), points.linked(np.repeat(which, 2))
        self.image_points, self.u_px, self.u_definition_mm = image_points, u_px, u_definition_mm
        self._rows, self._u, self._share = list(rows), np.repeat(u_px, 2), np.zeros(2 * len(u_px))
        self.whiten = np.eye(2) / u_px[:, None, None]

    def reweigh(self, x: FloatArray) -> None:
        """Take the definition's pixels from the view at `x`."""
        pose = x[self.view.pose]
        R = rotation_matrix(pose[:3])
        points = self.once.at(x) @ R.T + pose[3:]
        on_face = projected_with_derivatives(points, x[self.view.lens])[1] @ (R @ self.once.tangents(x)[:, :, :2])
        definition = on_face @ on_face.transpose(0, 2, 1) * self.u_definition_mm[:, None, None] ** 2
        covariance = definition + np.eye(2) * self.u_px[:, None, None] ** 2
        self.whiten = np.linalg.inv(np.linalg.cholesky(covariance))
        variance = np.einsum("nii->ni", covariance).ravel()
        self._u, self._share = np.sqrt(variance), np.einsum("nii->ni", definition).ravel() / variance

    @property
    def definition_share(self) -> FloatArray:
        """Part (2n,) of each row's variance that the definition has, as last weighed."""
        return self._share

    @property
    def u(self) -> FloatArray:
        """Standard uncertainty (2n,) of each row, px, as last weighed."""
        return self._u

    def moved(self, image_points: FloatArray, u_px: FloatArray) -> ImagePoints:
        """The same marks elsewhere or otherwise placed; their rows keep the old descriptions."""
        out = copy(self)
        out.image_points, out.u_px = image_points, u_px
        return out

    @property
    def rows(self) -> Sequence[Row]:
        """Descriptions, with u and the definition's share of it as last weighed."""
        weighed = zip(self._rows, self._u.tolist(), self._share.tolist(), strict=True)
        return [_with_definition(row, u, share) for row, u, share in weighed]

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write whitened image residuals; see `Block.fill`."""
        points = self.once.at(x)
        if jacobian is None:
            image = self.view.image_points(x, points)
        else:
            paired = jacobian.reshape(len(points), 2, -1)
            image, by_point = self.view.linearised(x, points, paired, self.whiten)
            self.twice.chain(x, by_point.reshape(-1, 3), jacobian)
        residuals[:] = (self.whiten @ (image - self.image_points)[:, :, None]).ravel()


def _with_definition(row: Row, u: float, share: float) -> Row:
    named = next((name for name, _ in row.split if name != row.source), "definition")
    return replace(row, u=u, split=((row.source, 1.0 - share), (named, share)))


@dataclass(frozen=True)
class TargetColumns:
    """
    Columns of one target: in-plane x, y, turn; height; tilts; scale; three flatness modes.

    The board's plane is turned by `turn` about z after being tilted by `tilt` (2,) about its x and y axes. Its
    size is (1 + scale) times nominal. The modes are the sagitta of a bow along x, of one along y, and a
    twist, mm.
    """

    place: IntArray
    tilt: IntArray
    scale: int
    modes: IntArray
    lift: int = FIXED
    """Column of a height added to the target's own: that of the pad it lies on."""


class TargetCorners:
    """
    Corners of a printed target seen in one photo.

    Parameters
    ----------
    view, columns
        Columns of the photo and of the target.
    corners : (n, 2), mm
        Nominal places on the sheet, origin at its middle.
    half_size : (2,), mm
        Half width and half height, which the flatness modes refer to.
    image_points : (n, 2), px
    u_px : (n,)
    rows
        Two per corner.
    surface
        The face that the target touches at its middle; left out for a flat one, and for a target held free.
    """

    def __init__(
        self,
        view: View,
        columns: TargetColumns,
        corners: FloatArray,
        half_size: FloatArray,
        image_points: FloatArray,
        u_px: FloatArray,
        rows: Sequence[Row],
        surface: Surface | None = None,
    ) -> None:
        self.view, self.columns, self.corners, self.surface = view, columns, corners, surface
        self.image_points, self.rows = image_points, list(rows)
        self.whiten = np.eye(2) / u_px[:, None, None]
        xi, eta = (corners / half_size).T
        self.modes = np.column_stack([1.0 - xi**2, 1.0 - eta**2, xi * eta])

    def object_points(self, x: FloatArray) -> FloatArray:
        """Corners (n, 3) in the datum system."""
        return self._placed(x)[0]

    def _placed(self, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Corners in space (n, 3), on the sheet (n, 3), the sheet's turn (3, 3), the face's axes under it (3, 3)."""
        c = self.columns
        sheet = np.column_stack([self.corners * (1.0 + x[c.scale]), self.modes @ x[c.modes]])
        turned = _board_rotation(x[c.place[3]], *x[c.tilt])
        place, axes = self._chart(x), np.eye(3)
        if self.surface is not None:
            parameters = x[self.surface.columns]
            axes = self.surface.frame(float(place[0]), parameters)[0]
            place = self.surface.space(place[None, :], parameters)[0]
        return sheet @ (axes @ turned).T + place, sheet, turned, axes

    def _chart(self, x: FloatArray) -> FloatArray:
        place = x[self.columns.place[:3]]
        if self.columns.lift != FIXED:
            place[2] += x[self.columns.lift]
        return place

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write whitened image residuals; see `Block.fill`."""
        points, sheet, turned, axes = self._placed(x)
        if jacobian is None:
            image = self.view.image_points(x, points)
        else:
            paired = jacobian.reshape(len(points), 2, -1)
            image, by_point = self.view.linearised(x, points, paired, self.whiten)
            if self.surface is not None:
                self._chain_surface(x, by_point, sheet @ turned.T, paired, self.surface)
            self._chain(x, by_point @ axes, sheet, turned, paired)
            if self.surface is None:
                paired[:, :, self.columns.place[:3]] = by_point
            if self.columns.lift != FIXED:
                paired[:, :, self.columns.lift] = paired[:, :, self.columns.place[2]]
        residuals[:] = (self.whiten @ (image - self.image_points)[:, :, None]).ravel()

    def _chain(
        self, x: FloatArray, by_local: FloatArray, sheet: FloatArray, turned: FloatArray, paired: FloatArray
    ) -> None:
        """Derivatives by the sheet's own turn, tilts, scale and flatness."""
        c = self.columns
        angles = (float(x[c.place[3]]), *(float(a) for a in x[c.tilt]))
        turns = [sheet @ derivative.T for derivative in _board_rotation_derivatives(turned, *angles)]
        flat = np.column_stack([self.corners, np.zeros(len(sheet))])
        directions = np.stack([*turns, flat @ turned.T], axis=2)
        paired[:, :, [c.place[3], *c.tilt, c.scale]] = by_local @ directions
        paired[:, :, c.modes] = (by_local @ turned[:, 2])[:, :, None] * self.modes[:, None, :]

    def _chain_surface(
        self, x: FloatArray, by_point: FloatArray, local: FloatArray, paired: FloatArray, surface: Surface
    ) -> None:
        """Derivatives by the sheet's place on a curved face, and by the face's own parameters."""
        place, parameters = self._chart(x), x[surface.columns]
        by_chart, by_parameters = (d[0] for d in surface.derivatives(place[None, :], parameters))
        _, axes_by_girth, axes_by_parameters = surface.frame(float(place[0]), parameters)
        paired[:, :, self.columns.place[:3]] = by_point @ by_chart
        paired[:, :, self.columns.place[0]] += np.einsum("nac,nc->na", by_point, local @ axes_by_girth.T)
        for column, by, axes in zip(surface.columns, by_parameters.T, axes_by_parameters, strict=True):
            paired[:, :, column] = by_point @ by + np.einsum("nac,nc->na", by_point, local @ axes.T)


def _board_rotation(turn: float, tilt_x: float, tilt_y: float) -> FloatArray:
    """Rz(turn) · Ry(tilt_y) · Rx(tilt_x)."""
    sz, cz, sy, cy, sx, cx = _sines_and_cosines(turn, tilt_y, tilt_x)
    return np.array(
        [
            [cz * cy, cz * sy * sx - sz * cx, cz * sy * cx + sz * sx],
            [sz * cy, sz * sy * sx + cz * cx, sz * sy * cx - cz * sx],
            [-sy, cy * sx, cy * cx],
        ]
    )


def _board_rotation_derivatives(
    turned: FloatArray, turn: float, tilt_x: float, tilt_y: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Derivatives of `turned`, the board's rotation, by turn, tilt about x, tilt about y."""
    sz, cz, sy, cy, sx, cx = _sines_and_cosines(turn, tilt_y, tilt_x)
    zero = np.zeros(3)
    by_turn = np.array([-turned[1], turned[0], zero])
    by_tilt_x = np.column_stack([zero, turned[:, 2], -turned[:, 1]])
    by_tilt_y = np.array(
        [
            [-cz * sy, cz * cy * sx, cz * cy * cx],
            [-sz * sy, sz * cy * sx, sz * cy * cx],
            [-cy, -sy * sx, -sy * cx],
        ]
    )
    return by_turn, by_tilt_x, by_tilt_y


def _sines_and_cosines(*angles: float) -> list[float]:
    return [f(angle) for angle in angles for f in (math.sin, math.cos)]


class SquareView:
    """
    A photo declared taken roughly square: the optical axis against the face's normal.

    Two rows: the axis's x and y components in the datum system, radians.
    """

    def __init__(self, view: View, rows: Sequence[Row]) -> None:
        self.view, self.rows = view, list(rows)
        self.u = np.array([row.u for row in rows])

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write the axis's slope against the normal; see `Block.fill`."""
        R, dR = rotation_matrix_and_derivatives(x[self.view.pose[:3]])
        residuals[:] = R[2, :2] / self.u
        if jacobian is not None:
            jacobian[:, self.view.pose[:3]] = dR[:, 2, :2].T / self.u[:, None]
