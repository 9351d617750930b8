"""
How a full-size template is cut into sheets of paper: which sheets, where each lies, and what joins what.

All in mm of the template. Neighbouring sheets overlap; registration marks stand at the nodes of a grid, in the middle
of the overlap, so that each is printed on all the sheets that meet there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from string import ascii_uppercase

import numpy as np
from numpy.typing import NDArray

from digitizer.reports.cutting import Circle, Drawing, LayerName
from digitizer.reports.fitting_marks import rim
from digitizer.reports.sheet import Box, Point
from digitizer.reports.view import Extent

OVERLAP_MM = 12.0
MARGINS = (16.0, 25.0, 6.0, 6.0)
"""Left, bottom, right and top of a sheet: what printers leave white, and room for check bars and words."""
LONGEST_PAGE_MM = 5000.0
"""A PDF page has up to 14 400 points (ISO 32000-1, annex C), 5080 mm."""
_COUNTED = (
    LayerName.OUTLINE,
    LayerName.PATTERN,
    LayerName.CENTRELINE,
    LayerName.REFERENCE_LINE,
    LayerName.WATERLINE,
    LayerName.PADS,
    LayerName.FLANGE,
)
"""Layers for whose sake a sheet is printed."""
_SHIFTS = 5
_CIRCLE_CORNERS = 24
_LEAST_MM, _STEP_MM = 5.0, 3.0
_INSIDE_MM = 1.0
"""How far everything lies inside the outermost joins."""

FloatArray = NDArray[np.float64]
Cell = tuple[int, int]
"""Column from port and row from the top, both from 0."""


@dataclass(frozen=True)
class Grid:
    """Nodes where sheets meet: the left upper one, and how far apart they are."""

    left: float
    top: float
    across: float
    down: float

    def node(self, column: int, row: int) -> Point:
        """A node's place; the cell of that column and row lies right of and below it."""
        return self.left + column * self.across, self.top - row * self.down

    def box(self, cell: Cell, more: float = 0.0) -> Box:
        """Left, bottom, right and top of a cell, enlarged on all sides."""
        (left, top), (right, bottom) = self.node(*cell), self.node(cell[0] + 1, cell[1] + 1)
        return left - more, bottom - more, right + more, top + more


@dataclass(frozen=True)
class Witness:
    """Two registration marks whose distance proves the assembled template."""

    start: Cell
    end: Cell
    length: float
    """mm."""


@dataclass(frozen=True)
class Tiling:
    """The sheets of a template."""

    page: Point
    """Width and height of each sheet, mm of the template."""
    grid: Grid
    cells: tuple[Cell, ...]
    """Sheets that are printed, row by row from the top."""

    def window(self, cell: Cell) -> Box:
        """What a sheet shows."""
        return self.grid.box(cell, OVERLAP_MM / 2)

    def witnesses(self) -> tuple[Witness, ...]:
        """The longest lengths between registration marks: across in a row, up in a column, and any way."""
        nodes = sorted({node for cell in self.cells for node in corners(cell)})
        pairs = list(itertools.combinations(nodes, 2))
        ways = (
            [pair for pair in pairs if pair[0][1] == pair[1][1]],
            [pair for pair in pairs if pair[0][0] == pair[1][0]],
            pairs,
        )
        return tuple(max((self._witness(*pair) for pair in way), key=lambda found: found.length) for way in ways)

    def _witness(self, a: Cell, b: Cell) -> Witness:
        return Witness(a, b, math.dist(self.grid.node(*a), self.grid.node(*b)))

    def mark_words(self, node: Cell) -> str:
        """A registration mark by a sheet it stands on and its corner."""
        where = ("upper left", "upper right", "lower left", "lower right")
        found = ((w, cell) for cell in self.cells for w, n in zip(where, corners(cell), strict=True) if n == node)
        words, cell = next(found)
        return f"{words} of {name_of(cell)}"


def name_of(cell: Cell) -> str:
    """Row letter and column number: B3 is the second row from the top, third column from port."""
    column, row = cell
    first = ascii_uppercase[row // 26 - 1] if row >= 26 else ""
    return f"{first}{ascii_uppercase[row % 26]}{column + 1}"


def corners(cell: Cell) -> tuple[Cell, ...]:
    """Nodes at the corners of a cell: left upper, right upper, left lower, right lower."""
    column, row = cell
    return (column, row), (column + 1, row), (column, row + 1), (column + 1, row + 1)


def tiling(drawing: Drawing, page: Point, roll: bool = False) -> Tiling:
    """
    Sheets for a drawing, as few as hold all of it and hang together.

    Parameters
    ----------
    page
        Width and height of the paper, mm; for a roll its width is the longest allowed: no more is used than needed, and
        no less than the roll is wide, so that both check bars fit.
    roll
        Whether the paper is a roll.
    """
    places = _places(drawing)
    (low_x, low_y), (high_x, high_y) = places.min(axis=0).tolist(), places.max(axis=0).tolist()
    around = low_x, low_y, high_x, high_y
    left, bottom, right, top = MARGINS
    wide = around[2] - around[0] + 2 * OVERLAP_MM
    if roll:
        page = min(page[0], max(wide + left + right + OVERLAP_MM, page[1])), page[1]
    across, down = page[0] - left - right - OVERLAP_MM, page[1] - bottom - top - OVERLAP_MM
    best = min(_grids(around, across, down), key=lambda grid: (len(_holding(grid, places)), _splits_centreline(grid)))
    return Tiling(page, best, tuple(sorted(_joined(_holding(best, places)), key=lambda c: (c[1], c[0]))))


def neighbours(cell: Cell) -> dict[str, Cell]:
    """The four cells beside a cell, by where they lie."""
    column, row = cell
    return {
        "left": (column - 1, row),
        "right": (column + 1, row),
        "above": (column, row - 1),
        "below": (column, row + 1),
    }


def _grids(around: Extent, across: float, down: float) -> Iterable[Grid]:
    """Grids that cover an extent, shifted within their slack; the one in the middle first."""
    columns = math.ceil((around[2] - around[0] + 2 * _INSIDE_MM) / across)
    rows = math.ceil((around[3] - around[1] + 2 * _INSIDE_MM) / down)
    slack_across = max(0.0, columns * across - (around[2] - around[0]) - 2 * _INSIDE_MM)
    slack_down = max(0.0, rows * down - (around[3] - around[1]) - 2 * _INSIDE_MM)
    shares = sorted((step / (_SHIFTS - 1) for step in range(_SHIFTS)), key=lambda share: abs(share - 0.5))
    for share, other in itertools.product(shares, shares):
        yield Grid(
            around[0] - _INSIDE_MM - share * slack_across, around[3] + _INSIDE_MM + other * slack_down, across, down
        )


def _splits_centreline(grid: Grid) -> bool:
    """Whether sheets would be joined along the centreline, which is better whole on one."""
    return abs(math.remainder(grid.left, grid.across)) < OVERLAP_MM


def _holding(grid: Grid, places: FloatArray) -> set[Cell]:
    """Cells in which something is drawn."""
    cells = np.floor((places - (grid.left, grid.top)) / (grid.across, -grid.down)).astype(int)
    return {(int(column), int(row)) for column, row in np.unique(cells, axis=0)}


def _joined(cells: set[Cell]) -> set[Cell]:
    """The cells with as many between them as make each reachable from each across common edges."""
    whole = set(cells)
    while True:
        groups = _groups(whole)
        if len(groups) < 2:
            return whole
        first, rest = groups[0], [cell for group in groups[1:] for cell in group]
        a, b = min(itertools.product(first, rest), key=lambda pair: (_steps(*pair), pair))
        whole |= {(column, a[1]) for column in range(min(a[0], b[0]), max(a[0], b[0]) + 1)}
        whole |= {(b[0], row) for row in range(min(a[1], b[1]), max(a[1], b[1]) + 1)}


def _groups(cells: set[Cell]) -> list[list[Cell]]:
    """Cells that hang together, group by group."""
    left = sorted(cells)
    groups = []
    while left:
        group = [left.pop(0)]
        for cell in group:
            beside = [other for other in left if other in neighbours(cell).values()]
            group += beside
            left = [other for other in left if other not in beside]
        groups.append(group)
    return groups


def _steps(a: Cell, b: Cell) -> int:
    return abs(a[0] - b[0]) + abs(a[1] - b[1])


def _places(drawing: Drawing) -> FloatArray:
    """Points (n, 2), close together, of everything for whose sake a sheet is printed."""
    paths = [(*e.points, e.points[0]) if e.closed else e.points for e in drawing.lines if e.layer in _COUNTED]
    rings = [_round(circle) for circle in drawing.circles]
    for fitting in drawing.fittings:
        round_ = Circle(LayerName.FITTINGS, fitting.at, max(fitting.width / 2, _LEAST_MM))
        rings.append(rim(fitting) if fitting.shape == "rectangle" else _round(round_))
    paths += [(*ring, ring[0]) for ring in rings]
    return np.vstack([_between(a, b) for path in paths for a, b in pairwise(path)])


def _between(a: Point, b: Point) -> FloatArray:
    """Points from one end to the other, not further apart than what neighbouring sheets share."""
    count = math.ceil(math.dist(a, b) / _STEP_MM) + 1
    return np.linspace(a, b, max(2, count))


def _round(circle: Circle) -> tuple[Point, ...]:
    (x, y), r = circle.centre, circle.radius
    turns = [2.0 * math.pi * corner / _CIRCLE_CORNERS for corner in range(_CIRCLE_CORNERS)]
    return tuple((x + r * math.cos(turn), y + r * math.sin(turn)) for turn in turns)
