"""
Closed curves round a place in a photo, roughly: what may be the rim of a fitting.

The surroundings are unrolled into directions and radii, the radii on a logarithmic scale, so that one search serves
fittings of 5 and of 300 px. The best closed paths through the unrolled picture, one getting brighter outward and one
darker, give first ellipses; the surroundings unrolled along these give all rims of about their centre: flange, bore,
sealant, dirt.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.ellipses import Ellipse
from digitizer.imaging.medians import median

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

SMALLEST_PX, LARGEST_PX = 2.5, 260.0
"""Radii searched round a click."""
LEAST_COVERAGE = 0.5
"""Share of the directions in which a rim must be seen: with less than half an ellipse, the other half is a guess."""

_DIRECTIONS = 36
_COARSE, _FINE = 0.055, 0.025
"""Steps of the logarithm of the radius: round a click, and along an ellipse."""
_HALF_SEEN = 12.0
"""Grey levels; a change of brightness of that size counts half."""
_BENDS = np.arange(-3, 4)
_BEND_COST = 0.015
_NEAR_FIRST = 0.1
"""By how much a path e times as far off counts less: who clicks means what is under the pointer."""
_RINGS = 3
"""Most rings of one polarity about one centre."""
SLIMMEST = 0.2
"""Smaller axis over larger; a rim seen flatter than this shows its side, not its face."""
_WHOLE = 0.85
"""A rim seen so far round with one polarity isn't looked for with both."""
_BOX_SLACK = 0.25
"""Natural logarithm of the ratio of a rim's size to that of the box drawn round it."""
_AROUND = np.arange(16) * np.pi / 8
_SEALANT = ((0.7, 1.3), (0.4, 4.8))
"""A ring surrounds a rim and is none, if one of at least that share of its size has so many times its contrast."""


@dataclass(frozen=True, eq=False)
class Ring:
    """
    A closed curve that may be a rim.

    Parameters
    ----------
    ellipse
        To a pixel or two; px.
    score
        0 to 1: how far round it is seen, and how clearly.
    coverage
        Share of the directions in which it is seen.
    contrast : grey levels
        Usual change of brightness outward across it; negative where it gets darker.
    both_ways
        Whether it gets brighter here and darker there, as on a hull of two colours.
    """

    ellipse: Ellipse
    score: float
    coverage: float
    contrast: float
    both_ways: bool

    @property
    def size(self) -> float:
        """Mean semi-axis, px."""
        return self.ellipse.size


@dataclass(frozen=True, eq=False)
class _Unrolled:
    """Changes of brightness outward (directions, radii), grey levels; NaN outside the photo."""

    frame: Ellipse
    logarithms: FloatArray
    changes: FloatArray

    @property
    def directions(self) -> FloatArray:
        return np.asarray(np.arange(len(self.changes)) * 2 * np.pi / len(self.changes))

    def clarity(self, polarity: int) -> FloatArray:
        """How clearly each change is one of a polarity (0: either), 0 to 1 (directions, radii); 0 outside the photo."""
        changes = np.nan_to_num(self.changes)
        squared = (np.maximum(polarity * changes, 0.0) if polarity else changes) ** 2
        return np.asarray(squared / (squared + _HALF_SEEN**2))

    def points(self, columns: NDArray[np.intp]) -> FloatArray:
        """Places (n, 2), px, of one radius in each direction."""
        rho = np.exp(self.logarithms[columns])
        around = self.frame.points(self.directions) - self.frame.centre
        return np.asarray(self.frame.centre + rho[:, None] * around)

    def radii_on(self, ellipse: Ellipse) -> FloatArray:
        """Logarithm of the radius (directions, 1) at which each direction meets an ellipse round its origin."""
        inverse = np.linalg.inv(ellipse.shape)
        p = (self.frame.centre - ellipse.centre) @ inverse
        q = (self.frame.points(self.directions) - self.frame.centre) @ inverse
        qq, pq = np.sum(q * q, axis=1), q @ p
        root = np.sqrt(np.maximum(pq**2 - qq * (p @ p - 1.0), 0.0))
        return np.asarray(np.log(np.maximum((root - pq) / qq, 1e-6)))[:, None]


def rings_round(gray: NDArray[np.uint8], click: FloatArray) -> list[Ring]:
    """Rings (clearest first) that enclose a click (2,), px; the photo is read up to `LARGEST_PX` round it."""
    reach = float(np.clip(np.maximum(click, np.array(gray.shape[::-1]) - click).max() * 1.5, 10.0, LARGEST_PX))
    frame = Ellipse(click, np.eye(2))
    return _searched(gray, _unrolled(gray, frame, SMALLEST_PX, reach, _COARSE), click)


def rings_in(gray: NDArray[np.uint8], box: tuple[float, float, float, float]) -> list[Ring]:
    """Rings that about fill a box x0, y0, x1, y1, px; the one that fills it best first."""
    low, high = np.array(box[:2], dtype=float), np.array(box[2:], dtype=float)
    frame = Ellipse((low + high) / 2, np.diag((high - low) / 2))
    rings = _searched(gray, _unrolled(gray, frame, 0.5, 1.4, _FINE), frame.centre)
    misfits = [float(np.abs(np.log(np.hypot(*ring.ellipse.shape) / np.diag(frame.shape))).max()) for ring in rings]
    return [ring for misfit, ring in sorted(zip(misfits, rings, strict=True), key=_first) if misfit < _BOX_SLACK]


def _first(pair: tuple[float, object]) -> float:
    return pair[0]


def _searched(gray: NDArray[np.uint8], unrolled: _Unrolled, inside: FloatArray) -> list[Ring]:
    """Rings along the first ellipses of both polarities, each once, clearest first."""
    rings: list[Ring] = []
    done: list[Ellipse] = []
    for ellipse in _first_ellipses(unrolled, inside):
        if not any(_similar(ellipse, other) for other in done):
            done.append(ellipse)
            rings += _rings_along(gray, ellipse)
    return _apart([ring for ring in rings if _encloses(ring.ellipse, inside)])


def _apart(rings: list[Ring]) -> list[Ring]:
    """Rings clearest first, without those that touch a clearer one: rims of one fitting don't cross."""
    kept: list[Ring] = []
    for ring in sorted(rings, key=lambda ring: -ring.score):
        places = ring.ellipse.points(_AROUND)
        slack = 1.0 / ring.size
        out = [other.ellipse.relative(places) for other in kept]
        if all(o.min() > 1.0 + slack or o.max() < 1.0 - slack for o in out):
            kept.append(ring)
    return kept


def _first_ellipses(unrolled: _Unrolled, inside: FloatArray) -> list[Ellipse]:
    """Ellipses on the clearest closed paths, clearest first."""
    logarithms = unrolled.logarithms
    nearness = 1.0 - _NEAR_FIRST * (logarithms - logarithms[0])
    clarities = np.stack([unrolled.clarity(polarity) for polarity in (-1, 1)]) * nearness
    found = []
    for clarity, path in zip(clarities, _closed_paths(clarities), strict=True):
        along = clarity[np.arange(len(path)), path]
        ellipse = _robust_ellipse(unrolled.points(path), along > 0.2)
        if ellipse is not None and _encloses(ellipse[0], inside):
            found.append((float(along[ellipse[1]].sum()), ellipse[0]))
    return [ellipse for _, ellipse in sorted(found, key=_first, reverse=True)]


def _encloses(ellipse: Ellipse, place: FloatArray) -> bool:
    return bool(ellipse.relative(place) < 1.05)


def _similar(a: Ellipse, b: Ellipse) -> bool:
    """Whether the surroundings unrolled along either show the same rings."""
    size = min(float(a.semi_axes[1]), float(b.semi_axes[1]))
    shapes = [e.shape / e.size for e in (a, b)]
    ratio = a.size / b.size
    return (
        float(np.hypot(*(a.centre - b.centre))) < 0.15 * size
        and float(np.abs(shapes[0] - shapes[1]).max()) < 0.1
        and 0.4 < ratio < 2.5
    )


def _rings_along(gray: NDArray[np.uint8], ellipse: Ellipse) -> list[Ring]:
    """All rings of about the centre and shape of an ellipse."""
    unrolled = _unrolled(gray, ellipse, max(0.3, 1.5 / float(ellipse.semi_axes[1])), 2.2, _FINE)
    rings: list[Ring] = []
    whole: list[int] = []
    for polarity in (-1, 1, 0):
        clarity = unrolled.clarity(polarity)
        # A proud flange and the foot of it aren't quite concentric in the picture.
        seen = cv2.dilate(clarity, np.ones((1, 5))).mean(axis=0)
        for column in _tops(seen).tolist():
            if polarity or not any(abs(column - other) <= 3 for other in whole):
                ring = _ring_near(unrolled, clarity, column)
                if ring is not None:
                    rings.append(ring)
                    whole += [column] if ring.coverage > _WHOLE else []
    return rings


def _tops(seen: FloatArray) -> NDArray[np.intp]:
    """Columns of the clearest few separate maxima."""
    smooth = np.convolve(seen, np.array([0.25, 0.5, 0.25]), mode="same")
    inner = (smooth[1:-1] >= smooth[:-2]) & (smooth[1:-1] > smooth[2:]) & (smooth[1:-1] > 0.3)
    tops = np.flatnonzero(inner) + 1
    return np.asarray(tops[np.argsort(-smooth[tops])][:_RINGS])


def _ring_near(unrolled: _Unrolled, clarity: FloatArray, column: int) -> Ring | None:
    """The ring about a radius, its points taken where each direction is clearest."""
    off = np.arange(clarity.shape[1]) - column
    nearness: FloatArray = np.maximum(1.0 - 0.06 * np.abs(off), 0.0) * (np.abs(off) <= 4)
    first = _best_ellipse(unrolled, clarity * nearness)
    if first is None:
        return None
    # From there again, so that the far side of a ring that isn't quite concentric comes into reach.
    away = (unrolled.radii_on(first[0]) - unrolled.logarithms) / _FINE
    found = _best_ellipse(unrolled, clarity * np.maximum(1.0 - (away / 3.5) ** 2, 0.0))
    if found is None:
        return None
    ellipse, fits, columns = found
    changes = unrolled.changes[np.arange(len(columns)), columns][fits]
    contrast, coverage, brighter = median(np.abs(changes)), float(fits.mean()), float(np.mean(changes > 0))
    score = coverage**2 * contrast / (contrast + 3 * _HALF_SEEN)
    return Ring(ellipse, score, coverage, contrast if brighter > 0.5 else -contrast, 0.1 < brighter < 0.9)


def _best_ellipse(unrolled: _Unrolled, clarity: FloatArray) -> tuple[Ellipse, BoolArray, NDArray[np.intp]] | None:
    """Ellipse on the clearest place of each direction, which directions lie on it, and those places' columns."""
    best = clarity.argmax(axis=1)
    found = _robust_ellipse(unrolled.points(best), clarity[np.arange(len(best)), best] > 0.15)
    return None if found is None else (*found, best)


def without_sealant(rings: list[Ring]) -> list[Ring]:
    """Rings left when those are taken away that lie close round a clearer one: sealant, dirt, a soft shadow."""
    return [
        ring
        for ring in rings
        if not any(
            share * ring.size < other.size < ring.size and abs(other.contrast) > times * abs(ring.contrast)
            for other in rings
            for share, times in _SEALANT
        )
    ]


def _robust_ellipse(points: FloatArray, seen: BoolArray) -> tuple[Ellipse, BoolArray] | None:
    """Ellipse on most of some points (n, 2), and which lie on it; nothing where they form none."""
    fits, least = seen, LEAST_COVERAGE * len(seen)
    for _ in range(5):
        if np.count_nonzero(fits) < least:
            return None
        found = _quick_ellipse(points[fits])
        if found is None:
            return None
        ellipse, size = found, found.size
        off = np.abs(ellipse.relative(points) - 1.0)
        usual = np.sort(off[fits])[np.count_nonzero(fits) // 2]
        slack = max(2.5 * float(usual) / 0.6745, 0.04, 0.7 / size)
        kept = seen & (off < slack)
        if np.array_equal(kept, fits):
            break
        fits = kept
    return (ellipse, fits) if np.count_nonzero(fits) >= least and slack < 0.15 + 1.0 / size else None


def _quick_ellipse(points: FloatArray) -> Ellipse | None:
    """Direct ellipse by OpenCV, fast and good enough to look along."""
    origin = points.mean(axis=0)
    (x, y), (width, height), turn = cv2.fitEllipseDirect((points - origin).astype(np.float32))
    values = np.array([x, y, width, height])
    if not np.all(np.isfinite(values)) or min(width, height) <= SLIMMEST * max(width, height):
        return None
    return Ellipse.of_axes(origin + values[:2], (width / 2, height / 2), float(np.radians(turn)))


def _closed_paths(clarities: FloatArray) -> NDArray[np.intp]:
    """
    Columns (n, directions) of the clearest path round each picture, neighbours no farther apart than the bends allowed.

    Dynamic programming one and a half times round: where the best path ends, it has forgotten where it began.
    """
    n, count, width = clarities.shape
    reach, rounds = int(_BENDS[-1]), count + count // 2
    cost = (_BEND_COST * _BENDS**2)[:, None]
    padded = np.full((n, width + 2 * reach), -1e9)
    options = np.lib.stride_tricks.sliding_window_view(padded, width, axis=1)
    came = np.empty((rounds, n, width), dtype=np.intp)
    total = clarities[:, 0]
    for i in range(1, rounds):
        padded[:, reach:-reach] = total
        gains = options - cost
        came[i] = gains.argmax(axis=1)
        total = gains.max(axis=1) + clarities[:, i % count]
    pictures = np.arange(n)
    path = np.empty((n, rounds), dtype=np.intp)
    path[:, -1] = total.argmax(axis=1)
    for i in range(rounds - 1, 0, -1):
        path[:, i - 1] = path[:, i] + came[i, pictures, path[:, i]] - reach
    return np.asarray(np.roll(path[:, rounds - count :], rounds - count, axis=1))


def _unrolled(gray: NDArray[np.uint8], frame: Ellipse, near: float, far: float, step: float) -> _Unrolled:
    """Surroundings along a frame's ellipse from `near` to `far` times its size."""
    logarithms = np.arange(np.log(near), np.log(far) + step, step)
    angles = np.arange(_DIRECTIONS) * 2 * np.pi / _DIRECTIONS
    around = frame.points(angles) - frame.centre
    rho, size = np.exp(logarithms), frame.size
    # Differences are taken across a pixel to either side at least, or a sharp edge would look faint.
    apart = np.maximum(step * rho, 1.0 / size)
    radii = np.stack([rho + apart, np.maximum(rho - apart, 0.0)]).astype(np.float32)
    places = radii[:, None, :, None] * around.astype(np.float32)[:, None, :]
    places += frame.centre.astype(np.float32)
    values = np.empty(places.shape[:3], dtype=np.float32)
    level = np.clip(np.round(np.log2(apart * size)), 0, 4).astype(int)
    for which in range(int(level.max()) + 1):
        columns = level == which
        if columns.any():
            reach = float((rho + apart)[columns].max()) * np.hypot(*frame.shape)
            values[:, :, columns] = _sampled(gray, places[:, :, columns], frame.centre, reach, which)
    return _Unrolled(frame, logarithms, values[0] - values[1])


def _sampled(
    gray: NDArray[np.uint8], places: NDArray[np.float32], centre: FloatArray, reach: FloatArray, level: int
) -> NDArray[np.float32]:
    """Grey values at places (.., .., .., 2) within a reach of the centre, in the photo reduced by 2 to the `level`."""
    size, factor = np.array(gray.shape[::-1]), 2**level
    low = np.clip(np.floor(centre - reach).astype(int) - factor, 0, size - 1)
    high = np.clip(np.ceil(centre + reach).astype(int) + factor + 1, low + 1, size)
    # Whole blocks of pixels are averaged quickly; what is left over at the border has its last block repeated.
    high = np.where(high - low >= factor, low + (high - low) // factor * factor, high)
    part = gray[low[1] : high[1], low[0] : high[0]]
    width, height = np.maximum((high - low) // factor, 1).tolist()
    part = cv2.resize(part, (width, height), interpolation=cv2.INTER_AREA) if level else part
    scale = (np.array([width, height]) / (high - low)).astype(np.float32)
    at = (places - (low - 0.5).astype(np.float32)) * scale - np.float32(0.5)
    values = cv2.remap(
        part, at.reshape(-1, places.shape[2], 2), None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).reshape(places.shape[:3])
    values = values.astype(np.float32)
    if np.any(centre - reach < 0) or np.any(centre + reach > size - 1):
        values[np.any((places < 0) | (places > size - 1), axis=-1)] = np.nan
    return np.asarray(values)
