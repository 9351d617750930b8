"""
Patterns: each photo adjusted by itself, its edge laid on the measured outline, and the differences with their u.

The pattern's and the boat's adjustments stay apart; a difference has sensitivities to both. What they share (the size
of one print, a tape's error, the lens of one camera) is one error in both and enters so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from digitizer.adjustment.montecarlo import coverage_interval, standard_draws
from digitizer.adjustment.observations import FloatArray, IntArray, Row
from digitizer.adjustment.propagation import Number, Propagated, gradients, hypot
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Pattern, PatternTaken, Sighting
from digitizer.survey.dimensions import Figure, Transom
from digitizer.survey.model import (
    Contribution,
    Dimension,
    Finding,
    PatternResult,
    PatternSpan,
    PatternStation,
    Quantity,
)
from digitizer.survey.network import LENGTHS, LENS, TARGET_MAKE
from digitizer.survey.pattern_findings import failed, pattern_findings
from digitizer.survey.pattern_marks import edge_marks
from digitizer.survey.pattern_photo import Laid, PatternError, lay
from digitizer.survey.pattern_placing import Comparing, Fitted, Plane, chosen, comparing, fitted
from digitizer.survey.uncertainty import DRAWS, SEED, SMALLEST_SHARE, Scales, spanning
from digitizer.transom.surface import girth_of

PREFIX = "pattern's photo: "
_SHARED = (TARGET_MAKE, LENGTHS, LENS)
"""Sources whose errors can be one and the same in both adjustments."""


@dataclass(frozen=True)
class Boat:
    """The measured transom, and another solution of it that fits as well."""

    transom: Transom
    scales: Scales
    rows: Sequence[Row]
    other: Transom | None = None


@dataclass(frozen=True)
class _Numbers:
    """Quantities as linear sums: their values (k,), and derivatives by the pattern's and the boat's parameters."""

    values: FloatArray
    pattern: FloatArray
    boat: FloatArray


def pattern_results(
    job: Job,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting],
    boat: Boat,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[tuple[PatternResult, ...], list[Finding]]:
    """
    Every active pattern compared with the measured transom, and what there is to say of them.

    `job`, `facts` and `sightings` are whole, the patterns' photos with them. A pattern that can't be measured is a
    finding, for the transom is measured all the same.
    """
    results, said = [], []
    for pattern in (p for p in job.patterns if p.active and p.photo in facts):
        try:
            laid = lay(job, pattern, facts, sightings, cancelled)
            result, found = _compared(job, pattern, laid, boat)
        except AdjustmentError as failure:
            said.append(failed(pattern, str(failure)))
            continue
        results.append(result)
        said += found
    return tuple(results), said


def _compared(job: Job, pattern: Pattern, laid: Laid, boat: Boat) -> tuple[PatternResult, list[Finding]]:
    t = boat.transom
    edge = [m.id for m in edge_marks(job, pattern) if m.id in laid.points]
    chord = t.is_bowed and pattern.taken is PatternTaken.STIFF
    plane = {name: (float(x), float(y)) for name, (x, y) in laid.points.items()}
    c = comparing(t, pattern, edge, chord)
    if c is None:
        raise PatternError(
            f"Pattern {pattern.id} has nothing to be compared with: mark the part of the transom's outline that it "
            "stands for on a photo of the boat."
        )
    options = fitted(c, plane)
    f = chosen(options, pattern)
    if f is None:
        raise PatternError(
            f"Pattern {pattern.id} does not lie on the measured outline, whichever way it is turned: see that its "
            "marks are in order along its edge, its part is named rightly, and its scale is right."
        )
    numbers = _differences(c, f, laid, t)
    offs = [_offs(plane_, t_, pattern, edge, chord) for plane_, t_ in _others(plane, laid, boat)]
    stations = _stations(c, f, numbers, laid, boat, offs)
    largest, limit = _largest(pattern, stations, _covariance(numbers, laid, boat))
    result = PatternResult(
        id=pattern.id,
        photo=pattern.photo,
        file=next(p.file for p in job.photos if p.id == pattern.photo),
        sha256=laid.sha256,
        part=str(pattern.part),
        mirrored=f.placing.mirrored,
        taken="flat" if not t.is_bowed else "chord" if chord else "girth",
        aligned_by="marks" if f.by_marks else "best fit",
        scale=laid.scale,
        edge=_drawn(f, t.curvature if chord else 0.0),
        U_edge=_edge_uncertainties(c, f, laid, boat),
        closed=c.closed,
        stations=tuple(sorted(stations, key=lambda s: (s.edge, s.x))),
        largest=largest,
        span=_span(pattern, c, laid, boat),
        rms_mm=f.rms,
        rms_fit_mm=f.rms_fit,
        beyond_chance=limit,
    )
    otherwise = None
    if t.is_bowed and pattern.taken is None:
        otherwise = _misfit(plane, t, pattern, edge, not chord)
    return result, list(pattern_findings(pattern, result, laid, t, options, f, otherwise))


def _others(plane: Plane, laid: Laid, boat: Boat) -> list[tuple[Plane, Transom]]:
    """The same with another camera position of either, where that fits as well."""
    out: list[tuple[Plane, Transom]] = []
    if laid.other is not None:
        out.append((laid.other, boat.transom))
    if boat.other is not None:
        out.append((plane, boat.other))
    return out


def _fit(
    plane: Plane, t: Transom, pattern: Pattern, edge: Sequence[str], chord: bool
) -> tuple[Comparing, Fitted] | None:
    c = comparing(t, pattern, edge, chord)
    f = None if c is None else chosen(fitted(c, plane), pattern)
    return None if c is None or f is None else (c, f)


def _offs(plane: Plane, t: Transom, pattern: Pattern, edge: Sequence[str], chord: bool) -> dict[str, float]:
    """Differences by the name of their station."""
    found = _fit(plane, t, pattern, edge, chord)
    if found is None:
        return {}
    c, f = found
    return {c.stations[k].name: off for k, off in zip(f.met.which.tolist(), f.met.off.tolist(), strict=True)}


def _misfit(plane: Plane, t: Transom, pattern: Pattern, edge: Sequence[str], chord: bool) -> float:
    found = _fit(plane, t, pattern, edge, chord)
    return math.inf if found is None else found[1].rms_fit


def _differences(c: Comparing, f: Fitted, laid: Laid, t: Transom) -> _Numbers:
    """Pattern minus outline at every station that it meets, along the way out."""
    m = f.met
    own = _steps(f, m.slope, m.first, m.second, m.share, len(c.edge))
    stations = [c.stations[k] for k in m.which.tolist()]
    outline = -np.einsum("ki,kin->kn", m.slope, _gradients([s.at for s in stations], len(t.x)))
    pattern = own @ _edge_gradients(c, laid)
    by_pattern, by_boat = _lie(c, f, laid, t, pattern, outline)
    return _Numbers(m.off, pattern + f.free @ by_pattern, outline + f.free @ by_boat)


def _steps(f: Fitted, ways: FloatArray, first: IntArray, second: IntArray, share: FloatArray, count: int) -> FloatArray:
    """Change (k, 2n) along ways (k, 2) on the transom per step of the edge's marks in the pattern's own plane."""
    turned = ways @ f.placing.matrix
    out = np.zeros((len(ways), count, 2))
    rows = np.arange(len(ways))
    out[rows, first] += (1.0 - share)[:, None] * turned
    out[rows, second] += share[:, None] * turned
    return out.reshape(len(ways), -1)


def _lie(
    c: Comparing, f: Fitted, laid: Laid, t: Transom, pattern: FloatArray, outline: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Derivatives (3, ·) of shift and turn by the pattern's and by the boat's parameters."""
    if not f.by_marks:
        back = -np.linalg.pinv(f.free)
        return back @ pattern, back @ outline
    anchors = [a for a in c.anchors if a.mark in laid.points]
    rows = np.array([a.seen for a in anchors], dtype=bool).ravel()
    back = np.linalg.pinv(f.placing.derivative(f.placing.of(f.anchors)).reshape(-1, 3)[rows])
    own = _gradients([laid.points[a.mark] for a in anchors], len(laid.scales.estimate.x))
    placed = np.einsum("ij,njp->nip", f.placing.matrix, own).reshape(len(rows), -1)[rows]
    wanted = _gradients([a.at for a in anchors], len(t.x)).reshape(len(rows), -1)[rows]
    return -back @ placed, back @ wanted


def _gradients(places: Sequence[tuple[Number, Number]], size: int) -> FloatArray:
    """Derivatives (k, 2, size) of places."""
    return gradients([number for place in places for number in place], size).reshape(len(places), 2, size)


def _edge_gradients(c: Comparing, laid: Laid) -> FloatArray:
    return gradients([n for i in c.edge for n in laid.points[i]], len(laid.scales.estimate.x))


def _covariance(n: _Numbers, laid: Laid, boat: Boat) -> FloatArray:
    """Covariance (k, k) of quantities that depend on both adjustments, mm²."""
    a = laid.scales.factor * laid.scales.estimate.influence(n.pattern)
    b = boat.scales.factor * boat.scales.estimate.influence(n.boat)
    both = _common(laid.rows, boat.rows)
    cross = a[:, both[0]] @ b[:, both[1]].T
    return np.asarray(a @ a.T + b @ b.T + cross + cross.T)


def _common(ours: Sequence[Row], theirs: Sequence[Row]) -> tuple[list[int], list[int]]:
    """Rows of the two adjustments that speak of one error: the size of one print, one tape, one lens."""
    known = {(r.label, r.subject): i for i, r in enumerate(theirs) if _can_be_shared(r)}
    shared = [(i, known[r.label, r.subject]) for i, r in enumerate(ours) if (r.label, r.subject) in known]
    return [i for i, _ in shared], [j for _, j in shared]


def _can_be_shared(row: Row) -> bool:
    return row.source in _SHARED and (row.kind in ("instrument", "lens") or row.label.endswith("printed size"))


def _stations(
    c: Comparing, f: Fitted, n: _Numbers, laid: Laid, boat: Boat, others: Sequence[Mapping[str, float]]
) -> tuple[PatternStation, ...]:
    u = np.sqrt(np.maximum(np.diag(_covariance(n, laid, boat)), 0.0))
    budgets = _budgets(n, laid, boat)
    out = []
    for k, which in enumerate(f.met.which.tolist()):
        s = c.stations[which]
        value = float(n.values[k])
        d = Dimension(
            f"pattern_difference_{k}", s.name, "Patterns", Quantity.LENGTH, value, float(u[k]),
            value - 2.0 * float(u[k]), value + 2.0 * float(u[k]), (), budgets[k],
        )  # fmt: skip
        for other in others:
            d = spanning(d, other.get(s.name, value))
        x, y = s.xy.tolist()
        out.append(PatternStation(s.name, s.edge, x, y, (float(s.outward[0]), float(s.outward[1])), d))
    return tuple(out)


def _budgets(n: _Numbers, laid: Laid, boat: Boat) -> list[tuple[Contribution, ...]]:
    """Budget of each quantity: its lines from the pattern's photo, and those from the boat's."""
    plain = [Figure("", "", "", Quantity.LENGTH, 0.0, ())] * len(n.values)
    ours = laid.scales.dimensions([replace(p, value=Propagated(0.0, g)) for p, g in zip(plain, n.pattern, strict=True)])
    theirs = boat.scales.dimensions([replace(p, value=Propagated(0.0, g)) for p, g in zip(plain, n.boat, strict=True)])
    return [_joined(a, b) for a, b in zip(ours, theirs, strict=True)]


def _joined(ours: Dimension, theirs: Dimension) -> tuple[Contribution, ...]:
    total = max(ours.u**2 + theirs.u**2, 1e-12)
    lines = [replace(each, source=PREFIX + each.source) for each in ours.budget] + list(theirs.budget)
    shared = [replace(each, share=each.u**2 / total) for each in lines]
    return tuple(sorted((each for each in shared if each.share >= SMALLEST_SHARE), key=lambda each: -each.share))


def _span(pattern: Pattern, c: Comparing, laid: Laid, boat: Boat) -> PatternSpan | None:
    """How far the two alignment marks farthest apart are from each other, on the pattern and on the transom."""
    points = [a for a in c.anchors if all(a.seen) and a.mark in laid.points]
    if len(points) < 2:
        return None
    far = max(combinations(points, 2), key=lambda pair: float(_apart(pair[0].at, pair[1].at)))
    ours, theirs = _apart(*(laid.points[a.mark] for a in far)), _apart(*(a.at for a in far))
    sizes = len(laid.scales.estimate.x), len(boat.transom.x)
    off = float(ours) - float(theirs)
    n = _Numbers(np.array([off]), gradients([ours], sizes[0]), -gradients([theirs], sizes[1]))
    u = math.sqrt(max(float(_covariance(n, laid, boat)[0, 0]), 0.0))
    made_at = {a.mark: a.at for a in pattern.aligned}
    ends = (made_at[far[0].mark], made_at[far[1].mark])
    label = f"Pattern {pattern.id}, {ends[0]} to {ends[1]}"
    difference = Dimension(
        f"pattern_span_{pattern.id}", label, "Patterns", Quantity.LENGTH, off, u, off - 2.0 * u, off + 2.0 * u, ends,
        _budgets(n, laid, boat)[0],
    )  # fmt: skip
    return PatternSpan(ends, float(ours), float(theirs), difference)


def _apart(a: tuple[Number, Number], b: tuple[Number, Number]) -> Number:
    return hypot(b[0] - a[0], b[1] - a[1])


def _largest(pattern: Pattern, stations: Sequence[PatternStation], covariance: FloatArray) -> tuple[Dimension, float]:
    """
    The largest difference anywhere, and how many times its u the largest of all would be by chance (95 %).

    From draws of all differences together (JCGM 101:2008, 7).
    """
    values, u = (np.array([getattr(s.difference, part) for s in stations]) for part in ("value", "u"))
    widened = u / np.sqrt(np.maximum(np.diag(covariance), 1e-12))
    variances, axes = np.linalg.eigh(covariance * np.outer(widened, widened))
    root = axes * np.sqrt(np.maximum(variances, 0.0)) @ axes.T
    noise = standard_draws(DRAWS, len(values), SEED) @ root
    limit = float(np.quantile(np.max(np.abs(noise) / np.maximum(u, 1e-6), axis=1), 0.95))
    drawn = np.max(np.abs(values + noise), axis=1)
    lower, upper = coverage_interval(drawn)
    worst = max(stations, key=lambda s: abs(s.difference.value))
    return (
        Dimension(
            f"pattern_largest_{pattern.id}", f"Pattern {pattern.id}, largest difference", "Patterns", Quantity.LENGTH,
            float(np.mean(drawn)), float(np.std(drawn)), lower, upper, (), worst.difference.budget,
            f"largest at {worst.place}; interval by Monte Carlo",
        ),
        limit,
    )  # fmt: skip


def _drawn(f: Fitted, curvature: float) -> tuple[tuple[float, float], ...]:
    return tuple((girth_of(x, curvature), y) for x, y in f.placing.of(f.own).tolist())


def _edge_uncertainties(c: Comparing, f: Fitted, laid: Laid, boat: Boat) -> tuple[float, ...]:
    """Expanded uncertainty of each place of the edge square to it, on the transom."""
    placed = f.placing.of(f.own)
    ways = _square(placed, c.closed)
    own, rows = _edge_gradients(c, laid), np.arange(len(placed))
    pattern = _steps(f, ways, rows, rows, np.zeros(len(placed)), len(placed)) @ own
    free = np.einsum("ki,kij->kj", ways, f.placing.derivative(placed))
    m, t = f.met, boat.transom
    met_pattern = _steps(f, m.slope, m.first, m.second, m.share, len(placed)) @ own
    at = [c.stations[k].at for k in m.which.tolist()]
    met_outline = -np.einsum("ki,kin->kn", m.slope, _gradients(at, len(t.x)))
    by_pattern, by_boat = _lie(c, f, laid, t, met_pattern, met_outline)
    n = _Numbers(np.zeros(len(placed)), pattern + free @ by_pattern, free @ by_boat)
    return tuple((2.0 * np.sqrt(np.maximum(np.diag(_covariance(n, laid, boat)), 0.0))).tolist())


def _square(placed: FloatArray, closed: bool) -> FloatArray:
    """Unit vectors (n, 2) square to a line through places, at each of them."""
    along = np.roll(placed, -1, axis=0) - np.roll(placed, 1, axis=0) if closed else np.gradient(placed, axis=0)
    along = along / np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])
