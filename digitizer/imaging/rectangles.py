"""
Rectangular lights and plates, snapped by their four edges.

The corners of such fittings are rounded, so none is looked at: each is where two neighbouring sides meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.corners import CornerSnap, meeting
from digitizer.imaging.lines import SHORTEST_PX, LineKind, LineSnap, snap_line
from digitizer.imaging.not_found import NotFound

FloatArray = NDArray[np.float64]

_REACH_PX = 7.0
"""How far a marked corner may be off; less than for a line, as frame, glass and shadow lie close together."""
_ROUNDED = 0.15
"""Share of a side at either end that may be rounded."""
_SIDES = ("first", "second", "third", "fourth")
_PARALLEL = np.radians(4.0)
_SQUARE = np.radians(50.0)
"""By how much a corner may differ from a right angle in the picture."""


@dataclass(frozen=True, eq=False)
class RectangleSnap:
    """
    A rectangle found in a photo.

    Parameters
    ----------
    corners
        Four, in the order of the rough ones, each with its covariance.
    sides
        The edge from each corner to the next.
    alternatives
        Of each side, the other edges beside it (a shadow's, an inner frame's), likeliest first.
    """

    corners: tuple[CornerSnap, ...]
    sides: tuple[LineSnap, ...]
    alternatives: tuple[tuple[LineSnap, ...], ...]

    @property
    def points(self) -> FloatArray:
        """Corners (4, 2), px."""
        return np.array([corner.point for corner in self.corners])

    @property
    def u(self) -> FloatArray:
        """Standard uncertainty of each corner in one coordinate (4,), px."""
        return np.array([corner.u for corner in self.corners])


def snap_rectangle(
    gray: NDArray[np.uint8],
    corners: FloatArray,
    *,
    colours: NDArray[np.uint8] | None = None,
    half_width_px: float = _REACH_PX,
) -> RectangleSnap | NotFound:
    """
    Rectangle whose corners were roughly marked.

    Parameters
    ----------
    gray : (rows, columns)
    corners : (4, 2) or (2, 2), px
        In order round the rectangle, or two opposite ones of a box that is upright in the photo.
    colours : (rows, columns, 3), optional
        The same photo in colour, where brightness alone doesn't show an edge.
    half_width_px : px
        How far from the rough sides to look.

    Returns
    -------
    RectangleSnap or NotFound
        The reason names the side that isn't seen.

    Raises
    ------
    ValueError
        If there are neither four corners nor two.
    """
    rough = _four(np.asarray(corners, dtype=np.float64))
    lengths = np.hypot(*(np.roll(rough, -1, axis=0) - rough).T)
    if lengths.min() * (1 - 2 * _ROUNDED) < SHORTEST_PX:
        return NotFound("The rectangle is too small to see four edges: mark its corners by hand.")
    # No farther out than the opposite side is looked at, nor half the way to it.
    reach = min(half_width_px, 0.4 * float(lengths.min()))
    sides = [_side(gray, rough, i, colours, reach) for i in range(4)]
    seen: list[tuple[LineSnap, ...]] = []
    for i, found in enumerate(sides):
        if isinstance(found, NotFound):
            return NotFound(f"The {_SIDES[i]} side of the rectangle isn't seen as an edge: mark its corners by hand.")
        seen.append(found)
    (first, third), (second, fourth) = _opposite(seen[0], seen[2]), _opposite(seen[1], seen[3])
    chosen = [first, second, third, fourth]
    return _met(chosen, [tuple(o for o in some if o is not one) for some, one in zip(seen, chosen, strict=True)])


def _four(corners: FloatArray) -> FloatArray:
    if corners.shape == (2, 2):
        (x0, y0), (x1, y1) = corners
        return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    if corners.shape != (4, 2):
        raise ValueError(f"a rectangle has four corners, or two opposite ones, got {corners.shape}")
    return corners


def _side(
    gray: NDArray[np.uint8], rough: FloatArray, i: int, colours: NDArray[np.uint8] | None, half_width_px: float
) -> tuple[LineSnap, ...] | NotFound:
    a, b = rough[i], rough[(i + 1) % 4]
    stroke = a + np.array([[_ROUNDED], [1.0 - _ROUNDED]]) * (b - a)
    return snap_line(gray, stroke, colours=colours, kind=LineKind.EDGE, half_width_px=half_width_px)


def _opposite(some: tuple[LineSnap, ...], others: tuple[LineSnap, ...]) -> tuple[LineSnap, LineSnap]:
    """Of two opposite sides, the likeliest lines that are nearly parallel, as in any but extreme perspective."""
    return max(product(some, others), key=lambda pair: pair[0].score * pair[1].score * _parallelism(*pair))


def _parallelism(a: LineSnap, b: LineSnap) -> float:
    (ax, ay), (bx, by) = (snap.points[-1] - snap.points[0] for snap in (a, b))
    angle = abs(np.arctan2(ax * by - ay * bx, abs(ax * bx + ay * by)))
    return float(np.exp(-0.5 * (angle / _PARALLEL) ** 2))


def _met(sides: list[LineSnap], others: list[tuple[LineSnap, ...]]) -> RectangleSnap | NotFound:
    corners = []
    for i in range(4):
        corner = meeting(sides[i - 1], sides[i])
        if isinstance(corner, NotFound) or abs(corner.angle - np.pi / 2) > _SQUARE:
            return NotFound("The four edges found don't make a rectangle: mark its corners by hand.")
        corners.append(corner)
    return RectangleSnap(tuple(corners), tuple(sides), tuple(others))
