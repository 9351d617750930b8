"""
Rims of round fittings, snapped: from one click in a fitting to points round its rim with their uncertainty.

The rim is the image of a circle, so an ellipse tells rim points from shadow, glint and hose. Its centre isn't the
image of the circle's centre, though, and so the adjustment takes the points and fits the circle in space.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.ellipses import Ellipse, EllipseFit, fitted_ellipse
from digitizer.imaging.medians import median
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.profiles import Candidates, edge_candidates, normal_profiles
from digitizer.imaging.rings import LEAST_COVERAGE, SLIMMEST, Ring, rings_in, rings_round, without_sealant
from digitizer.imaging.steps import U_FLOOR, StepFits, fitted_steps

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Box = tuple[float, float, float, float]

_SPACING_PX = 2.2
"""Distance of the profiles round a rim; closer ones would see the same pixels."""
_FEWEST, _MOST = 16, 60
_THINNED = 24
_OUTLYING, _ROUNDS = 3.5, 4
_OWN_PX, _CLOSE_PX = 1.3, 6.0
"""An edge so near the ellipse is the rim; one so near the rim blurs into it, and they are fitted together."""
_CROWDING_PX, _CROWDED_PX = 5.0, 0.5
"""An edge of a shadow or a hose, so near, is not fitted along, and may pull the rim by so much."""
_WIDE = 1.25
"""An edge so many times as wide as usual hides another one."""
_AS_CLEAR = 0.4
"""A larger ring is the flange if it is at least so clear as the clearest; fainter ones are sealant, dirt or shadow."""
_DOUBTFUL, _DOUBTFUL_IF_PARTIAL, _PARTIAL = 3.0, 2.2, 0.75
_OTHER_RIM = 0.3
"""Natural logarithm of the ratio of sizes from which on two rings are different rims."""
_NO_RIM = NotFound(
    "No closed rim stands out here: click nearer the fitting's middle, draw a box round the rim, or mark it by hand."
)


@dataclass(frozen=True, eq=False)
class RimSnap:
    """
    A rim found in a photo.

    Parameters
    ----------
    points : (n, 2), px
        Places on the rim, in order round it.
    u : (n,), px
        Standard uncertainty of each across the rim; along it a point says nothing.
    fit
        The ellipse through them. Its centre isn't the image of the circle's centre.
    coverage
        Share of the way round at which the rim was seen.
    contrast : grey levels
        Usual change of brightness outward across the rim.
    misfit
        Root mean square distance of the points from the ellipse over what their noise lets expect; about 1.
    alternatives
        Other rings about the same place, clearest first; `refined_rim` takes one of them instead.
    """

    points: FloatArray
    u: FloatArray
    fit: EllipseFit
    coverage: float
    contrast: float
    misfit: float
    alternatives: tuple[Ring, ...] = ()

    @property
    def is_doubtful(self) -> bool:
        """Whether the points are hardly one ellipse: here the flange, there the sealant or a shadow, perhaps."""
        return self.misfit > _DOUBTFUL or (self.misfit > _DOUBTFUL_IF_PARTIAL and self.coverage < _PARTIAL)

    @property
    def centre(self) -> FloatArray:
        """Centre of the ellipse (2,), px."""
        return self.fit.ellipse.centre

    @property
    def semi_axes(self) -> FloatArray:
        """Larger and smaller semi-axis of the ellipse (2,), px."""
        return self.fit.ellipse.semi_axes


def snap_rim(
    gray: NDArray[np.uint8],
    click: FloatArray,
    *,
    box: Box | None = None,
    which: Literal["outer", "inner"] = "outer",
) -> RimSnap | NotFound:
    """
    Rim of the fitting that was clicked.

    Parameters
    ----------
    gray : (rows, columns)
    click : (2,), px
        Anywhere in the fitting; the nearer its middle the better.
    box : px
        x0, y0, x1, y1 round the rim in question, which then decides instead of the click and `which`.
    which
        The flange, or the bore within it.

    Returns
    -------
    RimSnap or NotFound
        The reason tells what to do instead.
    """
    place = np.asarray(click, dtype=np.float64) if box is None else np.add(box[:2], box[2:]) / 2
    if not np.all((place >= -0.5) & (place <= np.array(gray.shape[::-1]) - 0.5)):
        return NotFound("The click lies outside the photo: click in the fitting.")
    if box is not None and min(box[2] - box[0], box[3] - box[1]) <= 0:
        return NotFound("The box has no area: draw it round the rim from corner to corner.")
    rings = rings_round(gray, place) if box is None else rings_in(gray, box)
    if not rings:
        return _NO_RIM
    snaps: list[RimSnap] = []
    refusal = _NO_RIM
    for ring in _in_order(rings, which) if box is None else rings:
        snap = refined_rim(gray, ring)
        if isinstance(snap, NotFound):
            refusal = snap
            continue
        if snaps and np.abs(np.log(ring.size / snaps[0].fit.ellipse.size)) > _OTHER_RIM:
            continue  # the bore is no better answer to the question for the flange than a doubtful flange
        snaps.append(replace(snap, alternatives=tuple(other for other in rings if other is not ring)))
        if not snap.is_doubtful:
            break
    return min(snaps, key=lambda snap: (snap.is_doubtful, snap.misfit / snap.coverage), default=refusal)


def _in_order(rings: list[Ring], which: str) -> list[Ring]:
    """Rings to be tried one after the other, the one asked for first."""
    clear = [ring for ring in without_sealant(rings) if ring.score >= _AS_CLEAR * rings[0].score]
    by_size = sorted(clear, key=lambda ring: -ring.size)
    if which == "inner" and len(by_size) > 1:
        inner = sorted(by_size[1:], key=lambda ring: -ring.score)
        return [*inner, by_size[0]]
    return by_size


def refined_rim(gray: NDArray[np.uint8], ring: Ring) -> RimSnap | NotFound:
    """Rim points to a fraction of a pixel, starting from a ring; see `snap_rim`."""
    crossings = _crossings(gray, ring.ellipse)
    where = _followed(crossings, ring)
    if where is None:
        return NotFound("No edge runs round the fitting: its rim may be of the colour of the hull. Mark it by hand.")
    steps, crowded = _steps(crossings, where)
    spread = np.where(steps.found, steps.spread, 0.0)
    # Blur moves a curved edge towards the hollow side by κ s² / 2.
    position = steps.centre + 0.5 * crossings.curvature * spread**2
    points = crossings.places + position[:, None] * crossings.normals
    common = np.hypot(steps.u_common, 0.4 * crossings.curvature * spread**2)
    beside = _beside(spread, steps.found, crowded)
    return _judged(points, steps.u_noise, beside, common, steps.found, steps.contrasts[:, 0])


def _beside(spread: FloatArray, found: BoolArray, crowded: BoolArray) -> FloatArray:
    """Further uncertainty (n,), px, where another edge lies beside the rim, or hides in its width."""
    usual = median(spread[found]) if found.any() else 0.0
    wide = np.maximum(spread - _WIDE * usual, 0.0)
    return np.asarray(np.where(crowded, _CROWDED_PX, 0.0) + wide)


@dataclass(frozen=True, eq=False)
class _Crossings:
    """Profiles across an ellipse and the edges seen in them."""

    t: FloatArray
    places: FloatArray
    normals: FloatArray
    curvature: FloatArray
    profiles: FloatArray
    candidates: Candidates


def _crossings(gray: NDArray[np.uint8], ellipse: Ellipse) -> _Crossings:
    larger, smaller = ellipse.semi_axes
    around = np.pi * (larger + smaller)
    t = np.arange(count := int(np.clip(around / _SPACING_PX, _FEWEST, _MOST))) * 2 * np.pi / count
    places, normals = ellipse.points(t), ellipse.normals(t)
    half = float(np.clip(3.0 + 0.05 * larger, 3.5, min(12.0, max(0.8 * smaller, 2.5))))
    profiles = normal_profiles(gray, places, normals, half)
    candidates = edge_candidates(profiles, least_strength=4.0)
    return _Crossings(t, places, normals, ellipse.curvatures(t), profiles, candidates)


def _followed(crossings: _Crossings, ring: Ring) -> FloatArray | None:
    """
    Where the rim crosses each profile (n,), px, from the edges that agree on one ellipse.

    To first order, a change of an ellipse's centre, size and shape moves it along its normals by
    c₀ + c₁ cos t + c₂ sin t + c₃ cos 2t + c₄ sin 2t.
    """
    seen, t = crossings.candidates, crossings.t
    if len(seen) == 0:
        return None
    harmonics = np.column_stack([np.ones(len(t)), np.cos(t), np.sin(t), np.cos(2 * t), np.sin(2 * t)])
    clear = np.abs(seen.contrast) / (np.abs(seen.contrast) + 20.0)
    weight = clear if ring.both_ways else np.where(seen.polarity * ring.contrast > 0, clear, 0.0)
    model = np.full(len(t), _usual(seen.position, weight))
    for slack in (3.0, 2.5, 2.0, 1.5):
        if slack < 2.0:
            weight = clear  # on a hull of two colours, a rim may be brighter here and darker there
        off = seen.position - model[seen.profile]
        agreement = weight * np.maximum(1.0 - (off / slack) ** 2, 0.0) ** 2
        A = harmonics[seen.profile]
        N = A.T @ (agreement[:, None] * A)
        # A little weight for staying keeps a rim of which half is seen from swinging away at the other half.
        model = harmonics @ np.linalg.solve(
            N + 0.02 * len(t) * np.diag([0.0, 0.2, 0.2, 1.0, 1.0]) + 1e-9 * np.eye(5),
            A.T @ (agreement * seen.position),
        )
    return model


def _usual(position: FloatArray, weight: FloatArray) -> float:
    """Position most edges share."""
    apart = (position[:, None] - position[None, :]) / 1.2
    return float(position[np.argmax(np.exp(-0.5 * apart**2) @ weight - 0.02 * np.abs(position) * weight.sum())])


def _steps(crossings: _Crossings, where: FloatArray) -> tuple[StepFits, BoolArray]:
    """
    Steps fitted where the rim is; with a rim close beside it, both together.

    Returns also where (n,) an edge lies beside that isn't one of a whole rim, and so isn't fitted along.
    """
    seen, count = crossings.candidates, len(where)
    off = seen.position - where[seen.profile]
    own = _nearest(seen.profile, off, count, 0.0, _OWN_PX)
    starts, sides, crowded = [where + np.nan_to_num(own)], 0, np.zeros(count, dtype=bool)
    for side in (-1, 1):
        beside = _nearest(seen.profile, side * off, count, _OWN_PX, _CLOSE_PX)
        if np.isfinite(beside).mean() > 0.5:
            neighbour = where + side * np.where(np.isfinite(beside), beside, np.nanmedian(beside))
            starts.insert(0 if side < 0 else len(starts), neighbour)
            sides += side < 0
        else:
            crowded |= beside < _CROWDING_PX
    together = np.column_stack(starts)
    reach = 3.5 + median(np.ptp(together, axis=1)) / 2
    fits = fitted_steps(crossings.profiles, together, reach).only(sides)
    return replace(fits, found=fits.found & np.isfinite(own)), crowded


def _nearest(rows: NDArray[np.intp], off: FloatArray, count: int, low: float, high: float) -> FloatArray:
    """Of each row, the smallest distance between two bounds (count,); NaN where there is none."""
    nearest = np.full(count, np.nan)
    within = (np.abs(off) >= low) & (np.abs(off) < high) & ((low == 0.0) | (off > 0.0))
    for i in np.flatnonzero(within)[np.argsort(-np.abs(off[within]))]:
        nearest[rows[i]] = off[i]
    return nearest


def _judged(
    points: FloatArray, u: FloatArray, beside: FloatArray, common: FloatArray, found: BoolArray, contrasts: FloatArray
) -> RimSnap | NotFound:
    """
    Snap from the points that lie on one ellipse.

    A point with something beside it (`beside`) has little weight, and goes if it is off by more than a clear point may
    be; `common` is what neighbouring points share of their uncertainty.
    """
    clear, u = np.hypot(u, common), np.hypot(u, beside)
    total, use = np.hypot(u, common), found
    ellipse: Ellipse | None = None
    for round_ in range(_ROUNDS):
        if use.mean() < LEAST_COVERAGE * 0.9 or use.sum() < 8:
            return NotFound(
                f"The rim is seen on {100 * use.mean():.0f} % of its way round only, and an ellipse needs half of it: "
                "mark the points by hand."
            )
        try:
            fit = fitted_ellipse(points[use], total[use], ellipse)
        except ValueError:
            return NotFound("The edges found here form no ellipse: mark the points by hand.")
        ellipse = fit.ellipse
        if ellipse.semi_axes[1] < SLIMMEST * ellipse.semi_axes[0]:
            return NotFound("The edges found here form no rim: mark the points by hand.")
        w = np.full(len(u), np.inf)
        w[found] = np.abs(ellipse.distances(points[found])) / clear[found]
        slack = _OUTLYING * max(1.0, median(w[use]) / 0.6745)
        kept = found & (w < slack)
        if np.array_equal(kept, use) or round_ == _ROUNDS - 1:
            break
        use = kept
    snap = _snap(points[use], u[use], common[use], fit)
    misfit = float(np.sqrt(np.sum((fit.residuals / clear[use]) ** 2) / (use.sum() - 5)))
    return replace(snap, coverage=float(use.mean()), contrast=median(contrasts[use]), misfit=misfit)


def _snap(points: FloatArray, u: FloatArray, common: FloatArray, fit: EllipseFit) -> RimSnap:
    """Snap whose uncertainties own up to a misfit."""
    v, total = fit.residuals, np.hypot(u, common)
    factor = max(1.0, float(np.sqrt(np.sum((v / total) ** 2) / (len(u) - 5))))
    # What all points share moves them all outward or inward alike.
    growth = np.array([0.0, 0.0, 1.0, 0.0, 1.0]) * median(common)
    shift = np.array([1.0, 1.0, 0.0, 0.0, 0.0]) * U_FLOOR**2
    fit = EllipseFit(fit.ellipse, factor**2 * fit.covariance + np.outer(growth, growth) + np.diag(shift), v)
    thinned, u_thinned = _thinned(points, factor * u, common, fit)
    return RimSnap(thinned, u_thinned, fit, coverage=1.0, contrast=0.0, misfit=factor)


def _thinned(points: FloatArray, u: FloatArray, common: FloatArray, fit: EllipseFit) -> tuple[FloatArray, FloatArray]:
    """A third of the points, 12 to 24 all round, each the mean of its neighbours' distances from the ellipse."""
    t = fit.ellipse.nearest(points) % (2 * np.pi)
    count = int(np.clip(len(points) // 3, 12, _THINNED))
    sector = np.minimum((t / (2 * np.pi) * count).astype(int), count - 1)
    weight = 1.0 / u**2
    total = np.bincount(sector, weight, count)
    seen = total > 0
    middle = t - (sector + 0.5) * 2 * np.pi / count
    mean_t = (np.bincount(sector, weight * middle, count)[seen] / total[seen]) + (
        (np.flatnonzero(seen) + 0.5) * 2 * np.pi / count
    )
    mean_v = np.bincount(sector, weight * fit.residuals, count)[seen] / total[seen]
    shared = np.bincount(sector, weight * common, count)[seen] / total[seen]
    places = fit.ellipse.points(mean_t) + mean_v[:, None] * fit.ellipse.normals(mean_t)
    return places, np.hypot(1.0 / np.sqrt(total[seen]), shared)
