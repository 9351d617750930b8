"""
Transom angle from a photo taken from the side, by an adjustment of its own.

The marks of each line lie on it, less what a click and the boat's own edge are good for; what is known of lens, stance
and boat are further observations. Two of the unknowns multiply others (from how far above and from how far away the
photo was taken), so that the rule of propagation alone would promise too much: they are integrated over instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.budget import source_matrix, variance_by_source
from digitizer.adjustment.observations import FloatArray, Row, System
from digitizer.adjustment.reliability import Snooped, snooped
from digitizer.adjustment.solve import RankDefect, adjust
from digitizer.camera.lens import LENS_SIZE, LensPrior
from digitizer.camera.projection import normalised
from digitizer.errors import AdjustmentError, NotConvergedError
from digitizer.geometry.lines import Line, fitted_line, intersection
from digitizer.job.model import Mark, MarkKind, Photo, Side
from digitizer.survey.layout import Layout
from digitizer.survey.network import CLICKS, DEFINITION
from digitizer.survey.seen import add_lens
from digitizer.transom.rake import PROFILE_NAMES, PROFILE_SIZE, Profile, distances

STANCE = "from where the profile photo was taken"
BOAT = "trim, heel and shape of the boat in profile"

U_ABEAM_DEG = 10.0
"""How far from abeam of the transom a photo from the side is taken, where the photo does not say."""
U_ELEVATION_DEG = 5.0
"""How far from level a phone is held for it."""
U_TRIM_DEG, U_HEEL_DEG = 5.0, 1.0
"""How a boat stands on a trailer or on blocks."""
FLARE_DEG, U_FLARE_DEG = 5.0, 3.0
"""Lean outward of the sides at the transom."""
HALF_BEAM, U_HALF_BEAM = 0.25, 0.3
"""Half the beam as part of the camera's distance (1.1 m from 4.4 m), and its relative u."""
DISTANCE_MM = 4400.0
"""From where such photos are taken; turns what is said in millimetres into pixels."""
U_STRAIGHT_MM = 1.0
"""How straight a keel line and a face are, seen from the side. All these values are from memory of yards."""

STEP = 1e-6
"""For derivatives by central differences, in units of each parameter's size."""
UNDISTORTING = 8
"""Iterations; a phone's lens distorts so little that each gains more than a digit."""
NODES = ((-math.sqrt(3.0), 1 / 6), (0.0, 2 / 3), (math.sqrt(3.0), 1 / 6))
"""Gauss–Hermite rule of three nodes: exact for the mean and variance of a product of two normal variables."""
FEWEST = 2
NEARLY_PARALLEL_DEG = 30.0
FARTHEST = 0.3
"""From abeam, rad, that a start value may be."""


@dataclass(frozen=True)
class ProfileRake:
    """What one photo from the side says of the rake, degrees."""

    photo: str
    rake_deg: float
    u_deg: float
    shares: tuple[tuple[str, float], ...]
    """Part of the variance by source."""
    set_aside: tuple[str, ...]
    """Marks that do not fit the others."""
    has_plumb: bool
    has_foot: bool
    """Whether the end of the keel at the face was marked beside the near edge, so that the picture tells the stance."""
    on_centreline: bool
    """Whether the face's line was marked on its centreline and not on its near edge."""
    ahead_deg: float
    """From how far ahead of abeam it was taken, negative from astern."""
    u_ahead_deg: float
    above_deg: float
    """From how far above the keel's height it was taken."""


def rake_by_profile(photo: Photo, marks: Sequence[Mark], prior: LensPrior) -> ProfileRake:
    """
    Rake from the marks of a photo taken from the side.

    Parameters
    ----------
    photo
        Its `u_square_deg`, where stated, says how nearly abeam of the transom it was taken.
    marks
        Of the kinds keel_line, face_line and plumb_line. Those of the face with side centre lie on its centreline
        (one of them may be the foot, where the keel ends), the others on the near edge.
    prior
        The lens.

    Raises
    ------
    AdjustmentError
        With fewer than two marks on the keel line or on the face, or lines that don't fit.

    References
    ----------
    JCGM 100:2008, 5.1.2 note and JCGM 101:2008 on what first order leaves out; the integral over two unknowns is a
    Gauss–Hermite rule about the adjusted state, each node weighed by how well it fits.
    """
    problem = _Problem(photo, marks, prior)
    try:
        found = snooped(problem.system, problem.layout.start, problem.layout.free)
        value, variance = _integrated(problem, found)
    except (RankDefect, NotConvergedError) as failure:
        raise AdjustmentError(
            f"The lines in {photo.id} do not settle the transom angle: check which marks belong to the keel line, the "
            "face and the plumb line, and mark each in more places."
        ) from failure
    return problem.result(found, value, variance)


@dataclass(frozen=True)
class _Group:
    """Marks of one line: the keel, the face's near edge or centreline, or a plumb line seen at (column, y)."""

    kind: str
    marks: slice
    column: int = -1
    y: float = 0.0

    def normals(self, profile: Profile, x: FloatArray) -> FloatArray:
        """Normals (k, 3) of the line's plane at k parameter vectors."""
        if self.kind == "keel":
            return profile.keel()
        if self.kind == "edge":
            return profile.near_edge()
        return profile.centreline() if self.kind == "centreline" else profile.plumb(x[:, self.column], self.y)


class _Lines:
    """
    The marks of all lines in one photo; residuals are their distances from the lines, px.

    `turned` is −1 where the bow is to the left, for the picture is then taken as its mirror image.
    """

    def __init__(self, marks: Sequence[Mark], f: float, groups: Sequence[_Group], turned: float) -> None:
        self.image = np.array([(m.x_px, m.y_px) for m in marks])
        self.groups, self.turned = groups, turned
        self.rows = [_row(m, f) for m in marks]
        self.u = np.array([row.u for row in self.rows])

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write the distances; see `Block.fill`. Derivatives by central differences, all at once."""
        residuals[:] = self.distances(x[None, :])[0]
        if jacobian is not None:
            steps = STEP * np.maximum(1.0, np.abs(x))
            both = self.distances(np.concatenate([x + np.diag(steps), x - np.diag(steps)]))
            jacobian[:] = ((both[: len(x)] - both[len(x) :]) / (2.0 * steps)[:, None]).T

    def distances(self, x: FloatArray) -> FloatArray:
        """Whitened distances (k, m) at k parameter vectors (k, n)."""
        lens = x[:, :LENS_SIZE]
        seen = normalised(self.image, lens.T[:, :, None], UNDISTORTING)
        across, down = self.turned * seen[:, 0], seen[:, 1]
        profile = Profile.of(x[:, LENS_SIZE : LENS_SIZE + PROFILE_SIZE])
        out = np.empty((len(x), len(self.image)))
        for group in self.groups:
            normals = group.normals(profile, x)
            out[:, group.marks] = distances(normals, across[:, group.marks], down[:, group.marks])
        return np.asarray(out * lens[:, :1] / self.u)


class _Elevation:
    """The lens axis is held about level."""

    def __init__(self, photo: str) -> None:
        u = math.radians(U_ELEVATION_DEG)
        self.rows = [Row(f"{photo} held level", photo, "stance", STANCE, "rad", u, 0.0, rejectable=False, photo=photo)]

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write the elevation; see `Block.fill`."""
        own = slice(LENS_SIZE, LENS_SIZE + PROFILE_SIZE)
        u = self.rows[0].u
        residuals[0] = float(Profile.of(x[own]).elevation) / u
        if jacobian is not None:
            moved = STEP * np.eye(PROFILE_SIZE)
            above, below = (Profile.of(x[own] + way * moved).elevation for way in (1.0, -1.0))
            jacobian[0, own] = (above - below) / (2.0 * STEP * u)


class _Problem:
    """Unknowns, start values and observations of one photo."""

    def __init__(self, photo: Photo, marks: Sequence[Mark], prior: LensPrior) -> None:
        self.photo = photo
        keel = [m for m in marks if m.kind is MarkKind.KEEL_LINE]
        face = [m for m in marks if m.kind is MarkKind.FACE_LINE]
        self.centre = [m for m in face if m.side is Side.CENTRE]
        self.edge = [m for m in face if m.side is not Side.CENTRE]
        plumbs = _plumb_lines(marks)
        if len(keel) < FEWEST or max(len(self.centre), len(self.edge)) < FEWEST:
            raise AdjustmentError(
                f"Photo {photo.id} needs two or more marks on the keel line and two or more on the face, the farther "
                "apart the better."
            )
        self.has_plumb = bool(plumbs)
        self.layout = Layout()
        add_lens(self.layout, photo.camera, prior)
        lens = np.array(prior.values)
        self._unknowns(self._start(keel, self.edge if len(self.edge) >= FEWEST else self.centre, lens))
        groups, ordered = self._groups(keel, plumbs, lens)
        lines = _Lines(ordered, float(lens[0]), groups, self.turned)
        self.system = System(len(self.layout.names), [lines, _Elevation(photo.id), self.layout.priors])

    def _start(self, keel: Sequence[Mark], face: Sequence[Mark], lens: FloatArray) -> dict[str, float]:
        """Start values from the two lines as if seen square; settles whether the bow is to the left."""
        k, f = (fitted_line(_seen(marks, lens)) for marks in (keel, face))
        if abs(float(k.direction @ f.normal)) < math.sin(math.radians(NEARLY_PARALLEL_DEG)):
            raise AdjustmentError(
                f"In {self.photo.id} the keel line and the face's line run almost alike: check which marks belong to "
                "which."
            )
        foot = intersection(k, f)
        forward, up = (_away(line, foot) for line in (k, f))
        # With the bow to the right, up is to the left of forward; else everything is the mirror image of that.
        self.turned = 1.0 if forward[0] * up[1] - forward[1] * up[0] < 0.0 else -1.0
        mirror = np.array([self.turned, 1.0])
        foot, forward, up = foot * mirror, forward * mirror, up * mirror
        lean = math.atan2(-float(forward @ up), float(forward[1] * up[0] - forward[0] * up[1]))
        roll = math.atan2(forward[1], forward[0])
        ahead = 0.0
        if self.centre and face is self.edge:
            # Half a beam nearer, the edge is seen off the keel's end by so much where the sight is not in the face.
            ends = _seen(self.centre, lens) * mirror
            end = ends[int(np.argmin(np.linalg.norm(ends - foot, axis=1)))]
            ahead = float((foot - end) @ forward) * (1.0 - HALF_BEAM) / HALF_BEAM
            foot = end
        return {
            "foot x": float(foot[0]),
            "foot y": float(foot[1]),
            "ahead": min(max(ahead, -FARTHEST), FARTHEST),
            "below": 0.0,
            "roll": roll,
            "rake": lean,
        }

    def _unknowns(self, start: dict[str, float]) -> None:
        name = self.photo.id
        abeam = self.photo.u_square_deg or U_ABEAM_DEG
        known = {
            "ahead": (0.0, math.radians(abeam), STANCE, "taken abeam"),
            "trim": (0.0, math.radians(U_TRIM_DEG), BOAT, "trim of the boat"),
            "heel": (0.0, math.radians(U_HEEL_DEG), BOAT, "heel of the boat"),
            "flare": (math.radians(FLARE_DEG), math.radians(U_FLARE_DEG), BOAT, "flare of the near edge"),
            "half beam": (math.log(HALF_BEAM), U_HALF_BEAM, BOAT, "half beam by distance"),
        }
        for key in PROFILE_NAMES:
            if key in known:
                value, u, source, label = known[key]
                row = Row(f"{name}: {label}", name, "stance", source, "", u, value, photo=name)
                column = self.layout.known(f"{name}: {key}", value, row)
                self.layout.values[column] = start.get(key, value)
            else:
                self.layout.add(f"{name}: {key}", start[key])

    def _groups(self, keel: list[Mark], plumbs: list[list[Mark]], lens: FloatArray) -> tuple[list[_Group], list[Mark]]:
        groups: list[_Group] = []
        ordered: list[Mark] = []
        for kind, marks in (("keel", keel), ("edge", self.edge), ("centreline", self.centre)):
            groups.append(_Group(kind, slice(len(ordered), len(ordered) + len(marks))))
            ordered += marks
        for number, marks in enumerate(plumbs, 1):
            x, y = _seen(marks, lens).mean(axis=0)
            column = self.layout.add(f"{self.photo.id}: plumb line {number}", self.turned * float(x))
            groups.append(_Group("plumb", slice(len(ordered), len(ordered) + len(marks)), column, float(y)))
            ordered += marks
        return groups, ordered

    def column(self, name: str) -> int:
        """Index of an unknown of the profile."""
        return LENS_SIZE + PROFILE_NAMES.index(name)

    def result(self, found: Snooped, value: float, variance: float) -> ProfileRake:
        """The record; what integration adds to the variance belongs to the stance."""
        estimate, rows = found.estimate, self.system.rows
        gradient = np.zeros((2, len(estimate.x)))
        gradient[0, self.column("rake")] = gradient[1, self.column("ahead")] = 1.0
        sources, shares = source_matrix(rows)
        linear = variance_by_source(estimate.influence(gradient[:1]), shares)[0].tolist()
        parts = dict(zip(sources, linear, strict=True))
        parts[STANCE] += max(0.0, variance - sum(linear))
        total = sum(parts.values())
        return ProfileRake(
            photo=self.photo.id,
            rake_deg=math.degrees(value),
            u_deg=math.degrees(math.sqrt(variance)),
            shares=tuple((name, part / total) for name, part in parts.items()),
            set_aside=tuple(dict.fromkeys(rows[r.row].subject for r in found.rejections)),
            has_plumb=self.has_plumb,
            has_foot=bool(self.centre) and len(self.edge) >= FEWEST,
            on_centreline=len(self.edge) < FEWEST,
            ahead_deg=-math.degrees(float(estimate.x[self.column("ahead")])),
            u_ahead_deg=math.degrees(math.sqrt(float(estimate.covariance_of(gradient[1:])[0, 0]))),
            above_deg=-math.degrees(float(estimate.x[self.column("below")])),
        )


def _integrated(problem: _Problem, found: Snooped) -> tuple[float, float]:
    """
    Mean and variance of the rake (rad, rad²), integrated over height and distance of the camera.

    Given these two, everything else is all but linear: the height multiplies how far from abeam the photo was taken,
    and the distance turns the end of the keel beside the near edge into that.
    """
    rake, stance = problem.column("rake"), [problem.column("below"), problem.column("half beam")]
    best, size = found.estimate, len(found.estimate.x)
    root = np.linalg.cholesky(best.covariance_of(np.eye(size)[stance]))
    free = problem.layout.free
    free[stance] = False
    gradient = np.eye(size)[[rake]]
    values, variances, weights = [], [], []
    for a, w_a in NODES:
        for b, w_b in NODES:
            start = best.x.copy()
            start[stance] += root @ [a, b]
            at = adjust(problem.system, start, free, found.rejected)
            # How much less well a node fits than the normal distribution says that placed it.
            excess = at.weighted_square_sum - best.weighted_square_sum - a * a - b * b
            values.append(float(at.x[rake]))
            variances.append(float(at.covariance_of(gradient)[0, 0]))
            weights.append(w_a * w_b * math.exp(-0.5 * excess))
    mean = float(np.average(values, weights=weights))
    spread = (np.array(values) - mean) ** 2 + np.array(variances)
    return mean, float(np.average(spread, weights=weights))


def _plumb_lines(marks: Sequence[Mark]) -> list[list[Mark]]:
    """Marks of each plumb line with two or more."""
    lines: dict[str, list[Mark]] = {}
    for m in marks:
        if m.kind is MarkKind.PLUMB_LINE:
            lines.setdefault(m.of or "", []).append(m)
    return [line for line in lines.values() if len(line) >= FEWEST]


def _row(mark: Mark, f: float) -> Row:
    usual = 0.0 if mark.kind is MarkKind.PLUMB_LINE else U_STRAIGHT_MM
    edge = (usual if mark.u_definition_mm is None else mark.u_definition_mm) * f / DISTANCE_MM
    u = math.hypot(mark.u_px, edge)
    split = ((CLICKS, (mark.u_px / u) ** 2), (DEFINITION, (edge / u) ** 2))
    name = f"mark {mark.id}"
    return Row(name, mark.id, "mark", CLICKS, "px", u, 0.0, name, photo=mark.photo, split=split)


def _seen(marks: Sequence[Mark], lens: FloatArray) -> FloatArray:
    return normalised(np.array([(m.x_px, m.y_px) for m in marks]), lens)


def _away(line: Line, foot: FloatArray) -> FloatArray:
    """The line's direction, pointing from the foot towards its marks."""
    sign = 1.0 if float((line.point - foot) @ line.direction) >= 0.0 else -1.0
    return np.asarray(sign * line.direction)
