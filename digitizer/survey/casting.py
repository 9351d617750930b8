"""Marks cast back on the face, for a guessed pose of one photo: everything else of the start follows from that."""

from __future__ import annotations

import itertools
import math
from contextlib import suppress

import numpy as np

from digitizer.adjustment.observations import BoolArray, FloatArray, IntArray
from digitizer.adjustment.points import FIXED
from digitizer.camera.projection import normalised
from digitizer.camera.resection import Pose, facing_pose, plane_poses, pose_from_points
from digitizer.errors import AdjustmentError
from digitizer.geometry.circles import Circle, resistant_circle
from digitizer.geometry.lines import fitted_line
from digitizer.geometry.rotations import rotation_matrix, rotation_vector
from digitizer.job.model import MarkKind, Role, Sighting, Target
from digitizer.survey.defaults import FIRST_ALONG_MM
from digitizer.survey.network import Network, datum_points
from digitizer.transom.constraints import LinePoints

YAWS = np.radians([-50, -35, -20, -8, 0, 8, 20, 35, 50])
PITCHES = np.radians([-35, -20, -8, 0, 8, 20, 35])
GUESSED_DISTANCE_MM = 3000.0
CURVATURES = np.array([0.0, 1.0, 2.0, 3.0, -1.0, -2.0]) * 1e-4
BOW_PASSES = 5
ENOUGH_MARKS = 5
"""Fewer marks of a rim can't tell which of them is astray."""
DOUBTFUL_MM = 3.0
"""A rim whose marks scatter more than this is fitted resistantly."""
STRAY_MM = 10.0
"""A rim mark this far off the rim that the others show, and a quarter of its radius, is on something else."""
WIDEST_MM = 1500.0
"""Half breadth beyond which a guessed bow isn't followed."""


class Caster:
    """Casts the marks of a network back on the face, for any guessed pose of its first photo."""

    def __init__(self, n: Network) -> None:
        self.n = n
        self.base = n.layout.start
        self.directions: dict[str, dict[int, FloatArray]] = {}
        for photo, view in n.views.items():
            own = [(n.index[m.point or m.id], (m.x_px, m.y_px)) for i in n.infos for m in i.marks if m.photo == photo]
            image = np.array([xy for _, xy in own]).reshape(-1, 2)
            rays = normalised(image, self.base[view.lens])
            self.directions[photo] = {i: ray for (i, _), ray in zip(own, rays, strict=True)}
        self.origin, self.second = datum_points(n)
        alone = np.where(n.points.columns[:, 2] == FIXED, n.points.constants[:, 2], self.base[n.points.columns[:, 2]])
        self.heights = alone + self._lifted(self.base)
        self.anchor = self._anchor()

    def _lifted(self, x: FloatArray) -> FloatArray:
        """Height (n,) of the pad under each point, mm; zero where there is none."""
        lifts = self.n.points.lifts
        return np.where(lifts == FIXED, 0.0, x[lifts]) if len(lifts) else np.zeros(len(self.n.points.columns))

    def _anchor(self) -> str:
        """The photo that gives the first pose: it shows both datum points, and a flush target if any does."""
        able = [p for p, d in self.directions.items() if self.origin in d and self.second in d]
        corners = {p: sum(len(s.corner_ids) for t, s in self.n.sightings if s.photo == p and t.flush) for p in able}
        if not able:
            raise AdjustmentError(
                "No single photo shows both ends of the reference line: mark both in one photo, or mark another line."
            )
        return max(able, key=lambda p: (corners[p], len(self.directions[p])))

    def face_poses(self) -> list[Pose]:
        """Poses of the face, up to its in-plane datum, for the first photo."""
        flush = [(t, s) for t, s in self.n.sightings if s.photo == self.anchor and t.flush]
        if flush:
            target, sighting = max(flush, key=lambda pair: _extent(pair[1]))
            under = self.n.targets[target.id].lift
            height = target.thickness_mm + (0.0 if under == FIXED else float(self.base[under]))
            return [_below(self._target_poses(target, sighting)[0], height)]
        return [facing_pose(yaw, pitch, GUESSED_DISTANCE_MM) for yaw, pitch in itertools.product(YAWS, PITCHES)]

    def mirrored(self, x: FloatArray) -> Pose:
        """The first photo's pose with the face tilted the opposite way about the line of sight to its marks."""
        view = self.n.views[self.anchor].pose
        rotation = rotation_matrix(x[view[:3]])
        on_face = self.n.points.at(x, np.array(list(self.directions[self.anchor]), dtype=np.intp)).mean(axis=0)
        middle = rotation @ np.array([on_face[0], on_face[1], 0.0]) + x[view[3:]]
        sight = middle / np.linalg.norm(middle)
        normal = 2.0 * (rotation[:, 2] @ sight) * sight - rotation[:, 2]
        right = rotation[:, 0] - (rotation[:, 0] @ normal) * normal
        right /= np.linalg.norm(right)
        return Pose(np.column_stack([right, np.cross(normal, right), normal]), middle)

    def _target_poses(self, target: Target, sighting: Sighting) -> list[Pose]:
        corners, _ = self.n.corner_geometry(target, sighting)
        image = np.column_stack([sighting.x_px, sighting.y_px])
        lens = self.base[self.n.views[sighting.photo].lens]
        return plane_poses(corners, normalised(image, lens))

    def placed(self, face: Pose, curvature: float = 0.0) -> FloatArray | None:
        """All parameters for one face pose and curvature, or None where a datum mark misses the face."""
        x = self.base.copy()
        known = self._cast(face, self.anchor)
        if self.origin not in known or self.second not in known:
            return None
        scale = 1.0 if self._has_flush_target() else self._scale(known)
        if scale is None:
            return None
        along = known[self.second] - known[self.origin]
        turn = _turn(math.atan2(along[1], along[0]))
        shift = known[self.origin] * scale - turn @ np.array([FIRST_ALONG_MM, 0.0, 0.0])
        pose = Pose(
            face.rotation @ turn, face.rotation @ np.array([shift[0], shift[1], 0.0]) + face.translation * scale
        )
        if self.n.surface is not None:
            x[self.n.surface.columns] = curvature
        self._place_views(x, pose, curvature)
        return x

    def curvatures(self) -> FloatArray:
        """Curvatures (1/mm) worth trying: none but zero for a flat face."""
        return CURVATURES if self.n.surface is not None else np.zeros(1)

    def _has_flush_target(self) -> bool:
        return any(s.photo == self.anchor and t.flush for t, s in self.n.sightings)

    def _cast(self, pose: Pose, photo: str, curvature: float = 0.0) -> dict[int, FloatArray]:
        """Points (3,) of a photo's marks at their heights; those whose ray misses the face are left out."""
        if not self.directions[photo]:
            return {}
        indices = list(self.directions[photo])
        rays = np.column_stack([np.array([self.directions[photo][i] for i in indices]), np.ones(len(indices))])
        rays = rays @ pose.rotation
        centre = -pose.rotation.T @ pose.translation
        dip = np.zeros(len(indices))
        for _ in range(BOW_PASSES if curvature else 1):
            with np.errstate(divide="ignore", invalid="ignore"):
                distance = (self.heights[indices] + dip - centre[2]) / rays[:, 2]
            ahead = (distance > 0.0) & (distance < 100.0 * np.linalg.norm(pose.translation))
            points = centre + rays * np.where(ahead, distance, 0.0)[:, None]
            dip = -0.5 * curvature * np.minimum(points[:, 0] ** 2, WIDEST_MM**2)
        return {i: p for i, p, ok in zip(indices, points, ahead, strict=True) if ok}

    def missed(self, x: FloatArray) -> list[tuple[str, str]]:
        """Photo and point of each mark whose line of sight does not meet the face in front of the camera, at `x`."""
        curvature = 0.0 if self.n.surface is None else float(x[self.n.surface.columns[0]])
        out = []
        for photo, view in self.n.views.items():
            pose = Pose(rotation_matrix(x[view.pose[:3]]), x[view.pose[3:]])
            met = self._cast(pose, photo, curvature)
            on_face = [i for i in self.directions[photo] if self.n.infos[i].kind is not MarkKind.PLUMB_LINE]
            out += [(photo, self.n.infos[i].id) for i in on_face if i not in met]
        return out

    def _scale(self, known: dict[int, FloatArray]) -> float | None:
        """Least-squares factor from guessed to known lengths."""
        pairs = [
            (length.length_mm, float(np.linalg.norm(known[b] - known[a])))
            for length in self.n.job.lengths
            if length.active and length.role is Role.OBSERVATION
            if (a := self.n.index.get(length.from_point, -1)) in known
            and (b := self.n.index.get(length.to_point, -1)) in known
        ]
        for r in self.n.job.rectangles:
            ends = [self.n.index.get(c, -1) for c in r.corners]
            if r.active and all(e in known for e in ends):
                pairs.append((r.width_mm, float(np.linalg.norm(known[ends[1]] - known[ends[0]]))))
                pairs.append((r.height_mm, float(np.linalg.norm(known[ends[2]] - known[ends[1]]))))
        pairs += self._diameters(known)
        square = sum(guess**2 for _, guess in pairs)
        if square > 0.0:
            return sum(value * guess for value, guess in pairs) / square
        return 1.0 if not pairs else None

    def _diameters(self, known: dict[int, FloatArray]) -> list[tuple[float, float]]:
        out = []
        for fitting in self.n.job.fittings:
            rim = [known[i] for i, p in enumerate(self.n.infos) if p.of == fitting.id and i in known]
            if fitting.id in self.n.circles and fitting.diameter_mm is not None and rim:
                spread = np.array(rim) - np.mean(rim, axis=0)
                out.append((fitting.diameter_mm, 2.0 * float(np.mean(np.linalg.norm(spread[:, :2], axis=1)))))
        return out

    def _place_views(self, x: FloatArray, pose: Pose, curvature: float) -> None:
        """Pose the first photo, then the others as soon as something ties them; then everything else."""
        poses = {self.anchor: pose}
        known = self._cast(pose, self.anchor, curvature)
        targets: dict[str, Pose] = {}
        waiting = [p for p in self.n.views if p != self.anchor]
        self._place_targets(poses, targets)
        while waiting:
            photo = next((p for p in waiting if (found := self._tied(p, known, targets)) is not None), None)
            if photo is None:
                break
            waiting.remove(photo)
            poses[photo] = found  # type: ignore[assignment]
            for i, point in self._cast(poses[photo], photo, curvature).items():
                known.setdefault(i, point)
            self._place_targets(poses, targets)
        for photo, p in poses.items():
            x[self.n.views[photo].pose] = [*rotation_vector(p.rotation), *p.translation]
        for photo in waiting:
            self.n.left_out.append((photo, f"nothing ties photo {photo} to the others"))
        self._write_points(x, known)
        self._write_targets(x, targets)
        _write_lines(self.n, x)
        _write_circles(self.n, x)
        _write_axis(self.n, x)

    def _tied(self, photo: str, known: dict[int, FloatArray], targets: dict[str, Pose]) -> Pose | None:
        for target, sighting in self.n.sightings:
            if sighting.photo == photo and target.id in targets:
                seen = self._target_poses(target, sighting)[0]
                placed = targets[target.id]
                rotation = seen.rotation @ placed.rotation.T
                return Pose(rotation, seen.translation - rotation @ placed.translation)
        shared = [i for i in self.directions[photo] if i in known]
        if len(shared) < 4:
            return None
        return pose_from_points(
            np.array([known[i] for i in shared]), np.array([self.directions[photo][i] for i in shared])
        )

    def _place_targets(self, poses: dict[str, Pose], targets: dict[str, Pose]) -> None:
        """Poses of targets in the datum system (datum point = rotation · sheet point + translation)."""
        for target, sighting in self.n.sightings:
            if target.id in targets or sighting.photo not in poses:
                continue
            view = poses[sighting.photo]
            seen = min(
                self._target_poses(target, sighting),
                key=lambda p: -float((view.rotation.T @ p.rotation)[2, 2]) if target.flush else 0.0,
            )
            rotation = view.rotation.T @ seen.rotation
            targets[target.id] = Pose(rotation, view.rotation.T @ (seen.translation - view.translation))

    def _write_points(self, x: FloatArray, known: dict[int, FloatArray]) -> None:
        for i, point in known.items():
            for axis in range(2):
                column = self.n.points.columns[i, axis]
                if column != FIXED and self.n.layout.is_free[column]:
                    x[column] = point[axis]

    def _write_targets(self, x: FloatArray, targets: dict[str, Pose]) -> None:
        for name, pose in targets.items():
            columns = self.n.targets[name]
            flush = next(t.flush for t, _ in self.n.sightings if t.id == name)
            x[columns.place[:2]] = pose.translation[:2]
            x[columns.place[3]] = math.atan2(pose.rotation[1, 0], pose.rotation[0, 0])
            if not flush:
                x[columns.place[2]] = pose.translation[2]
                x[columns.tilt[1]] = -math.asin(max(-1.0, min(1.0, pose.rotation[2, 0])))
                x[columns.tilt[0]] = math.atan2(pose.rotation[2, 1], pose.rotation[2, 2])


def _extent(sighting: Sighting) -> float:
    return (max(sighting.x_px) - min(sighting.x_px)) * (max(sighting.y_px) - min(sighting.y_px))


def _below(pose: Pose, thickness: float) -> Pose:
    """Pose of the face behind a sheet of some thickness."""
    return Pose(pose.rotation, pose.translation - thickness * pose.rotation[:, 2])


def _turn(angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _write_lines(n: Network, x: FloatArray) -> None:
    block = next(b for b in n.blocks if isinstance(b, LinePoints))
    for phi in n.lines.values():
        line = fitted_line(block.which.chart(x)[block.lines == phi, :2])
        direction = line.direction if line.direction[0] >= 0.0 else -line.direction
        x[phi] = math.atan2(direction[1], direction[0])
        x[phi + 1] = direction[0] * line.point[1] - direction[1] * line.point[0]


def _write_circles(n: Network, x: FloatArray) -> None:
    """Circles through the rims' marks where a guessed pose put them."""
    for name, centre in n.circles.items():
        circle = _circle(n.points.chart(x, _rim(n, name))[:, :2])
        x[centre : centre + 3] = [*circle.centre, circle.radius]


def join_rims(n: Network, x: FloatArray) -> set[str]:
    """
    Lay each fitting's circle through its marks, and tell the marks so far off it that they would drag it along.

    `x` is written into; the poses must have settled, so that all photos put a rim in one place.
    """
    strays: set[str] = set()
    for name, centre in n.circles.items():
        rim = _rim(n, name)
        points = n.points.chart(x, rim)[:, :2]
        circle = _circle(points)
        if len(points) >= ENOUGH_MARKS and np.max(np.abs(circle.distances(points))) > DOUBTFUL_MM:
            with suppress(ValueError):
                circle = resistant_circle(points)
        x[centre : centre + 3] = [*circle.centre, circle.radius]
        if len(points) >= ENOUGH_MARKS:
            strays |= {n.infos[i].id for i in rim[_strays(circle, points)].tolist()}
    return strays


def _rim(n: Network, fitting: str) -> IntArray:
    return np.array([i for i, p in enumerate(n.infos) if p.of == fitting and p.kind is MarkKind.RIM], dtype=np.intp)


def _circle(points: FloatArray) -> Circle:
    """Algebraic circle: good enough to start from."""
    design = np.column_stack([2.0 * points, np.ones(len(points))])
    solution = np.linalg.lstsq(design, np.sum(points**2, axis=1), rcond=None)[0]
    return Circle(solution[:2], math.sqrt(max(solution[2] + solution[0] ** 2 + solution[1] ** 2, 1.0)))


def _strays(circle: Circle, points: FloatArray) -> BoolArray:
    return np.asarray(np.abs(circle.distances(points)) > max(STRAY_MM, circle.radius / 4.0))


def _write_axis(n: Network, x: FloatArray) -> None:
    if n.mirror_axis is None:
        return
    pairs = [p for p in n.job.mirror_pairs if p.active and p.port in n.index and p.starboard in n.index]
    ends = np.array([(n.index[p.port], n.index[p.starboard]) for p in pairs if p.port != p.starboard], dtype=np.intp)
    between = (n.points.at(x, ends[:, 1]) - n.points.at(x, ends[:, 0])).sum(axis=0)
    x[n.mirror_axis] = math.atan2(between[1], between[0])
    normal = np.array([math.cos(x[n.mirror_axis]), math.sin(x[n.mirror_axis]), 0.0])
    x[n.mirror_axis + 1] = float(np.mean((n.points.at(x, ends[:, 0]) + n.points.at(x, ends[:, 1])) @ normal) / 2.0)
