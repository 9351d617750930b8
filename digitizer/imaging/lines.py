"""
Strings, rule edges and bottom edges, from a rough stroke along them to sub-pixel points.

Where several edges compete (a shadow's beside the real one, a reflection in gloss) all of them are returned with a
score; nothing is chosen silently.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.colours import clearest_channel, without_shadow
from digitizer.imaging.line_fit import Map, agreement
from digitizer.imaging.line_search import CoarseLine, Path, coarse_lines, path_through, smooth_path
from digitizer.imaging.medians import median
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.profiles import normal_profiles
from digitizer.imaging.steps import U_EXPONENT, StepFits, fitted_steps

FloatArray = NDArray[np.float64]

HALF_WIDTH_PX = 10.0
"""How far a stroke may lie from what it means: a hand's two or three pixels, three times over."""
SHORTEST_PX = 12.0
_MOST_GROUPS, _MOST_TOGETHER = 3, 4
_CLOSE_PX = 5.0
"""Edges nearer than this see one another's blur and are fitted together."""
_ECHO = 1.7
_SIDE_PX, _SIDE_SPREADS = 3.5, 2.5
_ROW_PX, _MOST_ROWS = 1.0, 800
_BIN_PX, _MOST_BINS, _FEWEST_BINS = 4.0, 96, 10
_WANTED_PX, _LEVELLED = 0.07, 2.0
"""u for which faint edges are averaged over a longer way; by how much JPEG makes noise look smaller than it is."""
_WIDEST_RIDGE_PX = 10.0
_UNEVEN = 2.5
_WEAKEST = 5.0
"""A point whose u is so many times the usual one tells nothing more."""
_FLANK = 0.5
_LEAST_POINTS = 4


class LineKind(StrEnum):
    """What a line is in the picture."""

    EDGE = "edge"
    """Two surfaces meet: rule edge, bottom edge, shadow's edge."""
    RIDGE = "ridge"
    """A narrow band, taken along its middle: string, drawn line."""


@dataclass(frozen=True, eq=False)
class LineSnap:
    """
    A line found beside a stroke.

    Parameters
    ----------
    points, normals : (n, 2), px
        On the line, along the stroke's direction, and the unit vectors across it.
    u : (n,), px
        Standard uncertainty of each point across the line.
    u_common : px
        Part of `u` that all points share, so that averaging does not lessen it.
    scatter : px
        Of the points about the straight line (or the lens's slow curve), root mean square.
    support
        Share of the stroke's length along which the line was seen.
    contrast : grey levels
        From left to right looking along the stroke with y down, signed; of a ridge, its middle less its sides.
    spread, width : px
        Blur of the edges; of a ridge, its breadth, 0 for an edge.
    away : px
        Median distance from the stroke.
    clipped
        Black or white without tones touches the line, which may move it.
    score
        0 to 1, how well it answers to the stroke; for ordering and comparing, no probability.
    """

    kind: LineKind
    points: FloatArray
    normals: FloatArray
    u: FloatArray
    u_common: float
    scatter: float
    support: float
    contrast: float
    spread: float
    width: float
    away: float
    clipped: bool
    score: float


def snap_line(
    gray: NDArray[np.generic],
    stroke: FloatArray,
    *,
    colours: NDArray[np.generic] | None = None,
    kind: LineKind | None = None,
    straighten: tuple[Map, Map] | None = None,
    half_width_px: float = HALF_WIDTH_PX,
) -> tuple[LineSnap, ...] | NotFound:
    """
    Lines that a rough stroke may mean, the likeliest first.

    Parameters
    ----------
    gray : (rows, columns)
        Photo.
    stroke : (n, 2), px
        Two or more places along the line.
    colours : (rows, columns, 3), optional
        The same photo in colour. It shows edges between things that are equally bright, and a coloured string apart
        from its own shadow, which in grey moves it by up to a pixel.
    kind
        What the line is known to be; both kinds if left out.
    straighten
        The lens: a map of places (n, 2) to the undistorted picture, and the map back. Without it the line may bend
        slowly, as lenses bend it.
    half_width_px : px
        How far from the stroke to look.

    Raises
    ------
    ValueError
        If the stroke is not (n, 2) of at least two places.
    """
    stroke = np.asarray(stroke, dtype=np.float64)
    if stroke.ndim != 2 or stroke.shape[1] != 2 or len(stroke) < 2:
        raise ValueError(f"a stroke is (n, 2) with n at least 2, got {stroke.shape}")
    refusal = _refused(gray, stroke)
    if refusal is not None:
        return refusal
    path, strays = smooth_path(stroke, straighten)
    if strays > half_width_px:
        return NotFound("The stroke bends too much for a straight line: draw it along one edge only.")
    picture = gray if colours is None else clearest_channel(gray, colours, path, half_width_px)
    coarse, seen = coarse_lines(picture, path, half_width_px)
    if not coarse:
        return _nothing_there(seen)
    search = _Search(picture, colours, path, kind, None if straighten is None else straighten[0])
    snaps = [snap for group in _groups(coarse, path) for snap in search.measured(group, coarse)]
    if not snaps:
        return _nothing_there(seen)
    return tuple(sorted(_scored(snaps, half_width_px), key=lambda snap: -snap.score))


def _refused(gray: NDArray[np.generic], stroke: FloatArray) -> NotFound | None:
    if not np.all(np.isfinite(stroke)):
        return NotFound("The stroke has places that are no numbers.")
    if np.hypot(*(stroke[-1] - stroke[0])) < SHORTEST_PX:
        return NotFound(f"The stroke is too short: draw it over at least {SHORTEST_PX:.0f} pixels.")
    if np.all(np.any((stroke < 0) | (stroke > np.subtract(gray.shape[::-1], 1)), axis=1)):
        return NotFound("The stroke lies outside the picture.")
    return None


def _nothing_there(seen: int) -> NotFound:
    if seen == 0:
        return NotFound("The stroke lies outside the picture.")
    return NotFound("Nothing to snap to: no edge follows the stroke. Draw nearer the line, or mark it by hand.")


def _groups(lines: list[CoarseLine], path: Path) -> list[list[CoarseLine]]:
    """Lines that lie close together, in order across, for the best supported of the groups."""
    ordered = sorted(lines, key=lambda line: median(line.offsets(path.t)))
    groups = [[ordered[0]]]
    for line in ordered[1:]:
        if _belong(groups[-1][-1], line, path) and len(groups[-1]) < _MOST_TOGETHER:
            groups[-1].append(line)
        else:
            groups.append([line])
    groups = [_without_echoes(group, path) for group in groups]
    groups.sort(key=lambda group: -max(line.support * abs(line.contrast) ** 0.5 for line in group))
    return groups[:_MOST_GROUPS]


def _without_echoes(group: list[CoarseLine], path: Path) -> list[CoarseLine]:
    """A group without lines that noise made beside a blurred edge: alike, and closer than the edge's own blur."""
    kept: list[CoarseLine] = []
    for line in sorted(group, key=lambda line: -line.support):
        if all(_gap(line, k, path) > _ECHO * min(line.width, k.width) or line.contrast * k.contrast < 0 for k in kept):
            kept.append(line)
    return sorted(kept, key=lambda line: median(line.offsets(path.t)))


def _belong(a: CoarseLine, b: CoarseLine, path: Path) -> bool:
    """Close enough to blur into one another, or perhaps the two sides of a string."""
    gap = _gap(a, b, path)
    return gap < _CLOSE_PX or (gap < _WIDEST_RIDGE_PX and _is_even(a.contrast, b.contrast))


def _is_even(up: float, down: float) -> bool:
    """Opposite steps of about the same height."""
    return up * down < 0 and 1 / _UNEVEN < abs(up / down) < _UNEVEN


def _gap(a: CoarseLine, b: CoarseLine, path: Path) -> float:
    return median(np.abs(a.offsets(path.t) - b.offsets(path.t)))


@dataclass(frozen=True, eq=False)
class _Search:
    """One stroke's picture, path and wishes, for measuring the lines found coarsely."""

    picture: NDArray[np.generic]
    colours: NDArray[np.generic] | None
    path: Path
    kind: LineKind | None
    there: Map | None

    def measured(self, group: list[CoarseLine], others: list[CoarseLine]) -> Iterator[LineSnap]:
        """The edges of a group, and the ridges they make."""
        path = self.path
        offsets = np.array([line.offsets(path.t) for line in group])
        middle = path.beside(offsets.mean(axis=0))
        reach = self._reach(group, [line for line in others if _gap(line, group[0], path) > _CLOSE_PX], offsets)
        rows = middle.every(max(_ROW_PX, middle.length / _MOST_ROWS))
        size = _bin_length(group, path.length)
        profiles, bins = _binned(normal_profiles(self.picture, rows.points, rows.normals, reach), rows, size)
        starts = np.array([np.interp(bins.t, path.t, line - offsets.mean(axis=0)) for line in offsets]).T
        fits = fitted_steps(profiles, starts, reach, u_exponent=0.0 if self.kind is LineKind.RIDGE else U_EXPONENT)
        for i in range(len(group)):
            if self.kind is not LineKind.RIDGE:
                yield from _snap(LineKind.EDGE, bins, fits.only(i), path, self.there)
            pair = fits.only(i, min(i + 1, len(group) - 1))
            if self.kind is not LineKind.EDGE and _is_ridge(pair):
                yield from _snap(LineKind.RIDGE, bins, self._coloured(pair, rows, reach, size), path, self.there)

    def _reach(self, group: list[CoarseLine], others: list[CoarseLine], offsets: FloatArray) -> float:
        """How far to either side the group is fitted: past its blur, but not to the next line."""
        away = (_gap(line, other, self.path) for line in group for other in others if other not in group)
        half = median(np.ptp(offsets, axis=0)) / 2
        blur = max(line.width for line in group)
        return half + float(np.clip(min(away, default=np.inf) - 1.5, 1.5, max(_SIDE_PX, _SIDE_SPREADS * blur)))

    def _coloured(self, pair: StepFits, rows: Path, reach: float, bin_px: float) -> StepFits:
        if self.colours is None:
            return pair
        tints, _ = _binned(normal_profiles(self.colours, rows.points, rows.normals, reach), rows, bin_px)
        return without_shadow(pair, tints, reach)


def _bin_length(group: list[CoarseLine], length: float) -> float:
    """
    Length of a bin, px, that leaves a point the u wanted.

    A step of height h and blur s between samples of noise σ on n profiles is placed to σ √(2 √π s / n) / h: the
    Cramér-Rao bound of a blurred step, its height and blur known.
    """
    line = max(group, key=lambda line: line.strength)
    noise = _LEVELLED * line.noise / max(abs(line.contrast), 1.0)
    wanted = 2 * np.sqrt(np.pi) * max(line.width, 0.5) * (noise / _WANTED_PX) ** 2
    return float(max(_BIN_PX, length / _MOST_BINS, min(wanted, length / _FEWEST_BINS)))


def _binned(profiles: FloatArray, rows: Path, bin_px: float) -> tuple[FloatArray, Path]:
    """Means of neighbouring profiles (n, k) or (n, k, c), and the path through the middles of the bins."""
    spacing = rows.length / (len(rows.t) - 1)
    size = max(round(bin_px / spacing), 1)
    count = len(profiles) // size
    skip = (len(profiles) - count * size) // 2
    cut = slice(skip, skip + count * size)
    means = profiles[cut].reshape(count, size, *profiles.shape[1:]).mean(axis=1)
    t = rows.t[cut].reshape(count, size).mean(axis=1)
    points = rows.points[cut].reshape(count, size, 2).mean(axis=1)
    return means, path_through(points, t)


def _is_ridge(pair: StepFits) -> bool:
    """Two steps, up and down again by about as much, a steady distance apart."""
    good = pair.found
    if good.sum() < _LEAST_POINTS:
        return False
    up, down = (median(heights) for heights in pair.contrasts[good].T)
    width = pair.width[good]
    return bool(_is_even(up, down) and median(width) < _WIDEST_RIDGE_PX and np.std(width) < 0.5 * median(width) + 0.5)


def _snap(kind: LineKind, bins: Path, fits: StepFits, path: Path, there: Map | None) -> Iterator[LineSnap]:
    """The line along the centres of some fits; none where too few of them lie on one."""
    if fits.found.sum() < _LEAST_POINTS:
        return
    offsets = np.where(fits.found, fits.centre, 0.0)
    points = bins.points + offsets[:, None] * bins.normals
    usable = fits.found & (fits.u_noise < _WEAKEST * median(fits.u_noise[fits.found]))
    agreed = agreement(points, fits.u_noise, usable, there)
    keep = agreed.keep
    if keep.sum() < _LEAST_POINTS:
        return
    common = median(fits.u_common[keep])
    contrast = [median(heights) for heights in fits.contrasts[keep].T]
    yield LineSnap(
        kind=kind,
        points=points[keep],
        normals=bins.normals[keep],
        u=np.hypot(fits.u_noise[keep] * agreed.factor, common),
        u_common=common,
        scatter=agreed.scatter,
        support=float(keep.mean()),
        contrast=(contrast[0] - contrast[-1]) / 2 if len(contrast) > 1 else contrast[0],
        spread=median(fits.spread[keep]),
        width=median(fits.width[keep]),
        away=median(np.abs(_across(points[keep], path))),
        clipped=bool(np.mean(fits.clipped[keep]) > 0.2),
        score=0.0,
    )


def _across(points: FloatArray, path: Path) -> FloatArray:
    """Distances (n,) of points from a path that is nearly straight, px."""
    chord = path.points[-1] - path.points[0]
    place = (points - path.points[0]) @ chord / (chord @ chord) * 2 - 1
    foot, normal = (
        np.column_stack([np.interp(place, path.t, v[:, i]) for i in (0, 1)]) for v in (path.points, path.normals)
    )
    return np.asarray(np.sum((points - foot) * normal, axis=1))


def _scored(snaps: list[LineSnap], half_width_px: float) -> Iterator[LineSnap]:
    """
    The snaps with their scores.

    A line scores by the share of the stroke along which it is seen, its contrast against the strongest, its sharpness
    against the sharpest (shadows have soft edges) and its nearness. A ridge takes the place of the edges it is made
    of: whoever strokes a string means its middle.
    """
    strongest = max(abs(snap.contrast) for snap in snaps)
    sharpest = min(snap.spread for snap in snaps)
    for snap in snaps:
        near = float(np.exp(-0.5 * (snap.away / (0.5 * half_width_px)) ** 2))
        strong = (abs(snap.contrast) / strongest) ** 0.25
        sharp = (sharpest / snap.spread) ** 0.25
        flank = any(_is_flank(snap, ridge) for ridge in snaps)
        yield replace(snap, score=snap.support * near * strong * sharp * (_FLANK if flank else 1.0))


def _is_flank(edge: LineSnap, ridge: LineSnap) -> bool:
    if edge.kind is not LineKind.EDGE or ridge.kind is not LineKind.RIDGE:
        return False
    apart = median((edge.points.mean(axis=0) - ridge.points) @ ridge.normals.mean(axis=0))
    return abs(apart) < ridge.width / 2 + 1.0
