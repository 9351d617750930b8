"""
A camera calibrated from several photos of one printed board, by the same adjustment that measures transoms.

The board defines the object system, so its size is arbitrary and only its flatness is unknown; each photo has its
pose, and all share the lens. Z. Zhang, A flexible new technique for camera calibration, IEEE Trans. PAMI 22 (2000)
1330, doi 10.1109/34.888718, with the covariance that the adjustment gives.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray, IntArray, Row, System
from digitizer.adjustment.reliability import Snooped, snooped
from digitizer.adjustment.solve import RankDefect, minimised
from digitizer.adjustment.statistics import chi_square_band
from digitizer.camera.equations import TargetColumns, TargetCorners, View
from digitizer.camera.lens import LensPrior, lens_prior
from digitizer.camera.projection import normalised
from digitizer.camera.resection import plane_poses
from digitizer.errors import AdjustmentError, NotConvergedError, RankDeficientError
from digitizer.geometry.rotations import rotation_matrix, rotation_vector
from digitizer.imaging.target_layout import object_points
from digitizer.job.model import Calibration, Sighting, Target
from digitizer.survey.layout import Layout
from digitizer.survey.network import CORNERS, TARGET_MAKE, half_size
from digitizer.survey.seen import add_lens

Size = tuple[int, int]
"""Width and height, px."""
FEWEST_PHOTOS = 3
FEWEST_CORNERS = 6
"""A sighting of fewer says hardly more than its own pose."""
SETTLING_STEPS = 40
POSE_ROUNDS = 3
LEAST_TILT_DEG = 10.0
"""Between the two most different views of the board."""
TELLS = 10.8
"""A fall of the square sum by which the third term is told from none: χ² of one degree of freedom, 0.1 %."""
FIELDS = (8, 6)
THIRD = 7
"""Place of k3 among the lens's parameters."""


@dataclass(frozen=True)
class PhotoFit:
    """How one photo of the board fits."""

    photo: str
    corners: int
    rms_px: float
    """Root mean square distance between the corners found and those adjusted."""
    off_square_deg: float
    """Tilt of the board against the picture's plane."""


@dataclass(frozen=True, eq=False)
class Calibrated:
    """A calibration with what it was made from; u already widened where the corners fit worse than promised."""

    calibration: Calibration
    covariance: FloatArray
    """(8, 8) of f, cx, cy, k1, k2, p1, p2, k3; zero for a k3 that was held at zero."""
    rms_px: float
    """Root mean square distance over all corners in use."""
    photos: tuple[PhotoFit, ...]
    covered: float
    """Share of the picture's fields, eight by six, in which a corner lay, 0 to 1."""
    reach: float
    """Farthest corner from the picture's middle, over half the diagonal."""
    distance_mm: float
    """From the camera to the board, middle of the photos."""
    bend_mm: float
    """Largest departure of the boards from flat, as adjusted."""
    flatness_mm: float
    """The departure that was to be expected (one sigma)."""
    set_aside: tuple[str, ...]
    """Corners that fit too badly, in words."""
    variance_factor: float
    scaled_by: float
    """Factor by which u was multiplied because the global test failed; 1 when it passed."""
    third_term_gain: float
    """By how much the square sum falls when k3 is free too, over the variance factor; 0 where it is."""


def open_prior(size: Size, focal_35mm: float | None = None) -> LensPrior:
    """
    A prior for calibrating: a start, so wide that the photos of the board decide.

    Half the focal length, or a tenth where EXIF has it, a tenth of the diagonal, and more distortion than any ordinary
    lens has.
    """
    start = lens_prior(*size, focal_35mm)
    f, u_c = start.values[0], 0.1 * math.hypot(*size)
    return LensPrior(
        start.values, ((0.5 if focal_35mm is None else 0.1) * f, u_c, u_c, 1.0, 2.0, 0.02, 0.02, 0.0), "open"
    )


def calibrate(
    sightings: Sequence[Sighting],
    targets: Iterable[Target],
    size: Size,
    prior: LensPrior | None = None,
    third_term: bool = False,
) -> Calibrated:
    """
    Lens of a camera from photos of printed boards.

    Parameters
    ----------
    sightings
        Corners of the boards found in photos of one camera at one focal length, all of `size`.
    targets
        The boards; one bends alike in all photos.
    size
        Of the photos, px.
    prior
        Left out, `open_prior`.
    third_term
        Whether k3 is adjusted too; it is held at zero otherwise.

    Raises
    ------
    AdjustmentError
        With too few photos, or where the corners fit no camera; ``RankDeficientError`` where the photos leave the
        lens undetermined.
    """
    known = {t.id: t for t in targets}
    seen = [s for s in sightings if s.target in known and len(s.corner_ids) >= FEWEST_CORNERS]
    if len({s.photo for s in seen}) < FEWEST_PHOTOS:
        raise AdjustmentError(
            f"A calibration needs the board in {FEWEST_PHOTOS} photos at least, better ten: photograph it whole, "
            "sharp, and tilted."
        )
    bundle = _Bundle(seen, known, prior or open_prior(size), third_term)
    found = bundle.adjusted()
    _check_tilts(bundle, found.estimate.x)
    gain = 0.0 if third_term else _third_term_gain(seen, known, prior or open_prior(size), found)
    return _calibrated(bundle, found, size, gain)


def calibrated_lens(
    sightings: Sequence[Sighting], targets: Sequence[Target], size: Size, focal_35mm: float | None = None
) -> Calibrated:
    """As `calibrate`, with the third radial term where the photos tell it from none."""
    prior = open_prior(size, focal_35mm)
    plain = calibrate(sightings, targets, size, prior)
    if plain.third_term_gain < TELLS:
        return plain
    return calibrate(sightings, targets, size, prior, third_term=True)


def _check_tilts(bundle: _Bundle, x: FloatArray) -> None:
    """Refuse photos that all see the board under one tilt, for focal length and distance then go together."""
    normals = np.array([rotation_matrix(x[block.view.pose[:3]])[:, 2] for block in bundle.blocks])
    across = float(np.min(np.abs(normals @ normals.T)))
    if across > math.cos(math.radians(LEAST_TILT_DEG)):
        raise RankDeficientError(
            ("the focal length",),
            "the board is seen under one tilt in all photos, such as square-on. Photograph it tilted by 20° to 40°, to "
            "another side in each photo.",
        )


class _Bundle:
    """The parameter vector and the blocks of a calibration."""

    def __init__(self, seen: Sequence[Sighting], targets: dict[str, Target], prior: LensPrior, third: bool) -> None:
        self.seen, self.prior = seen, prior
        if third:
            prior = LensPrior(prior.values, (*prior.u[:THIRD], max(prior.u[THIRD], 2.0)), prior.source)
        layout = self.layout = Layout()
        self.lens: IntArray = add_lens(layout, "camera", prior)
        boards = {name: _board(layout, targets[name]) for name in dict.fromkeys(s.target for s in seen)}
        self.boards, self.targets = boards, targets
        self.blocks = []
        for number, s in enumerate(seen):
            pose = layout.add_all([f"{number}: {c}" for c in ("rx", "ry", "rz", "tx", "ty", "tz")], (0.0,) * 6)
            target = targets[s.target]
            corners, image = object_points(target, s.corner_ids), np.column_stack([s.x_px, s.y_px])
            view = View(self.lens, pose)
            u = np.array(s.u_px)
            self.blocks.append(
                TargetCorners(view, boards[s.target], corners, half_size(target), image, u, _rows(s, image))
            )
        self.system = System(len(layout.names), [*self.blocks, layout.priors])

    def adjusted(self) -> Snooped:
        """The adjustment from the best start, corners that fit too badly set aside."""
        try:
            return snooped(self.system, self._start(), self.layout.free)
        except RankDefect as defect:
            remedy = "photograph the board tilted, differently in each photo, and near the corners of the picture."
            raise RankDeficientError(("the lens",), remedy) from defect

    def _start(self) -> FloatArray:
        """Best of several focal lengths where it is not known, poses and lens settled by turns."""
        f, u_f = self.prior.values[0], self.prior.u[0]
        factors = (1.0, 0.6, 1.7) if u_f > 0.1 * f else (1.0,)
        best = min((self._settled(f * factor) for factor in factors), key=lambda pair: pair[0])
        if not math.isfinite(best[0]):
            raise AdjustmentError(
                "The corners found fit no camera: check the board's kind and its numbers of columns and rows, and that "
                "all photos were taken by one camera at one focal length."
            )
        return best[1]

    def _settled(self, f: float) -> tuple[float, FloatArray]:
        """Square sum and parameters; a pose that was taken for its mirrored twin is exchanged and all settled again."""
        x, lowest = self.layout.start, math.inf
        x[self.lens[0]] = f
        for _ in range(POSE_ROUNDS):
            x, exchanged = self._posed(x)
            if lowest < math.inf and not exchanged:
                break
            try:
                x, _ = minimised(
                    self.system, x, self.layout.free, np.ones(len(self.system.rows)), max_iterations=SETTLING_STEPS
                )
            except NotConvergedError:
                break
            lowest = float(np.sum(self.system.residuals(x) ** 2))
        return lowest, x

    def _posed(self, x: FloatArray) -> tuple[FloatArray, bool]:
        """Parameters with the better pose of each photo for the lens at `x`, and whether any changed noticeably."""
        out, changed = x.copy(), False
        for block in self.blocks:
            before = x[block.view.pose]
            square_sum, pose = min((self._fitted(x, block, p) for p in _poses(block, x)), key=lambda pair: pair[0])
            if before.any() and square_sum > 0.99 * _square_sum(block, x):
                continue
            out[block.view.pose] = pose
            changed = True
        return out, changed

    def _fitted(self, x: FloatArray, block: TargetCorners, pose: FloatArray) -> tuple[float, FloatArray]:
        """Square sum and pose (6,) of one photo, everything else held."""
        x = x.copy()
        x[block.view.pose] = pose
        free = np.zeros(len(x), dtype=bool)
        free[block.view.pose] = True
        alone = System(len(x), [block])
        try:
            x, _ = minimised(alone, x, free, np.ones(len(alone.rows)), 1e-3, max_iterations=SETTLING_STEPS)
        except NotConvergedError:
            return math.inf, pose
        return float(np.sum(alone.residuals(x) ** 2)), x[block.view.pose]


def _board(layout: Layout, target: Target) -> TargetColumns:
    """Columns of a board: it defines the object system, and only its flatness is adjusted."""
    place = [layout.add(f"{target.id}: {name}", 0.0, free=False) for name in ("x", "y", "height", "turn")]
    tilt = [layout.add(f"{target.id}: tilt {name}", 0.0, free=False) for name in "xy"]
    scale = layout.add(f"{target.id}: scale", 0.0, free=False)
    modes = [
        layout.known(
            f"{target.id}: {mode}",
            0.0,
            Row(f"{target.id}: flatness, {mode}", target.id, "target", TARGET_MAKE, "mm", target.flatness_mm, 0.0),
        )
        for mode in ("bow across", "bow up and down", "twist")
    ]
    return TargetColumns(np.array(place), np.array(tilt), scale, np.array(modes))


def _rows(s: Sighting, image: FloatArray) -> list[Row]:
    return [
        Row(f"{s.target} corner {i} in {s.photo}", s.target, "target corner", CORNERS, "px", u, v, group, photo=s.photo)
        for i, u, xy in zip(s.corner_ids, s.u_px, image.tolist(), strict=True)
        for v, group in zip(xy, [f"{s.photo}/{s.target}/{i}"] * 2, strict=True)
    ]


def _poses(block: TargetCorners, x: FloatArray) -> list[FloatArray]:
    """The two poses (6,) of the board that one photo allows, for the lens at `x`."""
    directions = normalised(block.image_points, x[block.view.lens])
    return [
        np.concatenate([rotation_vector(p.rotation), p.translation]) for p in plane_poses(block.corners, directions)
    ]


def _square_sum(block: TargetCorners, x: FloatArray) -> float:
    residuals = np.empty(len(block.rows))
    block.fill(x, residuals, None)
    return float(residuals @ residuals)


def _third_term_gain(seen: Sequence[Sighting], targets: dict[str, Target], prior: LensPrior, found: Snooped) -> float:
    """Fall of the square sum with k3 free, over the variance factor."""
    wider = _Bundle(seen, targets, prior, third=True)
    corners = wider.system.slices[-1].start  # the priors come last, and none of them is ever rejected
    weights = np.ones(len(wider.system.rows))
    weights[:corners][found.rejected[:corners]] = 0.0
    try:
        x, _ = minimised(wider.system, found.estimate.x, wider.layout.free, weights)
    except NotConvergedError:
        return 0.0
    square_sum = float(np.sum((wider.system.residuals(x) * weights) ** 2))
    fall = found.estimate.weighted_square_sum - square_sum
    return max(0.0, fall / max(found.estimate.variance_factor, 1.0))


def _calibrated(bundle: _Bundle, found: Snooped, size: Size, gain: float) -> Calibrated:
    e = found.estimate
    _, high = chi_square_band(e.redundancy)
    scaled_by = 1.0 if e.weighted_square_sum <= high else max(1.0, math.sqrt(e.variance_factor))
    gradients = np.zeros((len(bundle.lens), len(e.x)))
    gradients[np.arange(len(bundle.lens)), bundle.lens] = 1.0
    covariance = scaled_by**2 * e.covariance_of(gradients)
    fits, squares, places = [], [], []
    for block, s, rows in zip(bundle.blocks, bundle.seen, bundle.system.slices, strict=False):
        used = ~found.rejected[rows][::2]
        off = block.view.image_points(e.x, block.object_points(e.x)) - block.image_points
        squares.append(np.sum(off[used] ** 2, axis=1))
        places.append(block.image_points[used])
        tilt = math.acos(min(1.0, abs(float(rotation_matrix(e.x[block.view.pose[:3]])[2, 2]))))
        rms = float(np.sqrt(np.mean(squares[-1]))) if used.any() else 0.0
        fits.append(PhotoFit(s.photo, int(used.sum()), rms, math.degrees(tilt)))
    covered, reach = _coverage(places, size)
    modes = np.concatenate([e.x[board.modes] for board in bundle.boards.values()])
    return Calibrated(
        calibration=_record(e.x[bundle.lens], np.sqrt(np.diag(covariance)), size),
        covariance=covariance,
        rms_px=float(np.sqrt(np.mean(np.concatenate(squares)))),
        photos=tuple(fits),
        covered=covered,
        reach=reach,
        distance_mm=float(np.median([np.linalg.norm(e.x[block.view.pose[3:]]) for block in bundle.blocks])),
        bend_mm=float(np.max(np.abs(modes))),
        flatness_mm=max(bundle.targets[name].flatness_mm for name in bundle.boards),
        set_aside=tuple(dict.fromkeys(bundle.system.rows[i].label for i in np.flatnonzero(found.rejected))),
        variance_factor=e.variance_factor,
        scaled_by=scaled_by,
        third_term_gain=gain,
    )


def _record(lens: FloatArray, u: FloatArray, size: Size) -> Calibration:
    """The job's record; where it has one u for two values, the larger."""
    f, cx, cy, k1, k2, p1, p2, k3 = lens.tolist()
    u_f, u_cx, u_cy, u_k1, u_k2, u_p1, u_p2, u_k3 = np.maximum(u, 1e-6).tolist()
    return Calibration(
        *size,
        f_px=f,
        u_f_px=u_f,
        cx_px=cx,
        cy_px=cy,
        u_c_px=max(u_cx, u_cy),
        k1=k1,
        k2=k2,
        p1=p1,
        p2=p2,
        k3=k3,
        u_k1=u_k1,
        u_k2=u_k2,
        u_p=max(u_p1, u_p2),
        u_k3=u_k3 if u[THIRD] > 0.0 else 0.0,
    )


def _coverage(places: Sequence[FloatArray], size: Size) -> tuple[float, float]:
    """Share of the picture's fields in which a corner lay, and the farthest corner over half the diagonal."""
    fields = np.floor((np.concatenate(places) + 0.5) / size * FIELDS).astype(int)
    covered = len(np.unique(fields, axis=0)) / (FIELDS[0] * FIELDS[1])
    middle = (np.array(size) - 1) / 2.0
    farthest = max(float(np.max(np.hypot(*(corners - middle).T))) for corners in places if len(corners))
    return covered, farthest / (math.hypot(*size) / 2.0)
