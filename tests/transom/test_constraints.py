"""What is known of points on a boat, as equations: derivatives everywhere, nothing left over on exact geometry."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from digitizer.adjustment.observations import Block
from digitizer.adjustment.points import FIXED, PointTable
from digitizer.transom.constraints import (
    CirclePoints,
    Coincidences,
    FaceAngles,
    GravityColumns,
    Lengths,
    LevelLines,
    LinePoints,
    MirrorPairs,
    PlumbLines,
    RightAngles,
)
from tests.camera.differences import assert_derivatives, residuals_of, some_rows

FloatArray = NDArray[np.float64]

COUNT = 6
EXTRA = 18
"""First column after the coordinates of six points in space."""
TABLE = PointTable(np.arange(18).reshape(6, 3), np.zeros((6, 3)))
PARTLY_FIXED = PointTable(
    np.array([[FIXED, FIXED, FIXED], [0, FIXED, FIXED], [1, 2, 3], [4, 5, 3], [6, 7, 8], [9, 10, 11]]),
    np.array([[5.0, -3.0, 2.0], [0.0, 7.0, 1.0], *[[0.0] * 3] * 4]),
)
"""A datum point, one on its axis, and two that share their height."""

BLOCKS: dict[str, Callable[[PointTable], Block]] = {
    "lengths": lambda p: Lengths(
        p, [0, 1, 2], [3, 4, 5], [900.0, 500.0, 300.0], [FIXED, 18, 18], [19, FIXED, 19], some_rows(3, [0.5, 1.0, 2.0])
    ),
    "lines": lambda p: LinePoints(p, [0, 1, 2, 3], [18, 18, 20, 20], some_rows(4, 0.5)),
    "circles": lambda p: CirclePoints(p, [0, 1, 2, 3], [18, 18, 21, 21], some_rows(4, 0.3)),
    "mirror-pairs": lambda p: MirrorPairs(
        p, [0, 0, 2, 2, 4], [1, 1, 3, 3, 4], 18, [False, True, False, True, False], some_rows(5, [3, 3, 5, 5, 2])
    ),
    "right-angles": lambda p: RightAngles(p, [(0, 1, 2, 3), (1, 4, 1, 5)], some_rows(2, 0.002)),
    "angles": lambda p: FaceAngles(p, [(0, 1, 2, 3), (1, 4, 1, 5)], [0.5, 3.0], [False, True], some_rows(2, 0.002)),
    "level": lambda p: LevelLines(p, [0, 2], [1, 5], GravityColumns(18, 19), some_rows(2, 0.003)),
    "plumb": lambda p: PlumbLines(p, [0, 2], [1, 5], GravityColumns(18, 19), some_rows(4, [3e-3, 4e-3, 5e-3, 6e-3])),
    "coincidences": lambda p: Coincidences(p, [1, 2], [18, 21], some_rows(4, [1.0, 1.0, 2.0, 2.0])),
}


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("table", [pytest.param(TABLE, id="free"), pytest.param(PARTLY_FIXED, id="datum-and-shared")])
@pytest.mark.parametrize("make", BLOCKS.values(), ids=BLOCKS)
def test_derivatives(make: Callable[[PointTable], Block], table: PointTable, seed: int) -> None:
    """Every block's derivatives are those of its residuals."""
    rng = np.random.default_rng(seed)
    x = np.concatenate([rng.uniform(-900.0, 900.0, EXTRA), rng.uniform(0.1, 0.6, 6)])
    x[[20, 23]] = 40.0  # radii
    steps = np.concatenate([np.full(EXTRA, 0.01), np.full(6, 1e-5)])
    assert_derivatives(make(table), x, steps, rel=1e-5)


def placed(points: list[tuple[float, float, float]], *extra: float) -> FloatArray:
    """Parameters (n,) with the first points where they are told to be, and what follows them."""
    filled = [*points, *[(0.0, 0.0, 0.0)] * (COUNT - len(points))]
    return np.array([*np.ravel(filled), *extra])


def assert_fits(block: Block, x: FloatArray) -> None:
    """Nothing is left over, to rounding at the size of a boat."""
    assert np.allclose(residuals_of(block, x), 0.0, atol=1e-9)


def test_length_is_reading_times_scale_plus_zero() -> None:
    """|b − a| = reading · (1 + scale) + zero, in space; a false reading leaves its error over its u."""
    x = placed([(0, 0, 0), (300, 400, 1200)], 0.001, 0.7)
    exact = (1300.0 - 0.7) / 1.001
    assert_fits(Lengths(TABLE, [0], [1], [exact], [18], [19], some_rows(1, 0.8)), x)
    assert_fits(Lengths(TABLE, [0], [1], [1300.0], [FIXED], [FIXED], some_rows(1, 0.8)), x)
    short = Lengths(TABLE, [0], [1], [1298.4], [FIXED], [FIXED], some_rows(1, 0.8))
    assert residuals_of(short, x) == pytest.approx([2.0])


@pytest.mark.parametrize("phi", [0.0, 0.4, -1.2, math.pi / 2, 3.0])
def test_points_on_a_line(phi: float) -> None:
    """Points along a line fit it, and one beside it leaves its distance, left of the line positive."""
    along, left = np.array([math.cos(phi), math.sin(phi)]), np.array([-math.sin(phi), math.cos(phi)])
    points = [(*(75.0 * left + s * along), 3.0) for s in (-800.0, 0.0, 900.0)]
    block = LinePoints(TABLE, [0, 1, 2], [18] * 3, some_rows(3, 0.5))
    assert_fits(block, placed(points, phi, 75.0))
    assert residuals_of(block, placed(points, phi, 74.0)) == pytest.approx([2.0] * 3)


def test_points_on_a_circle() -> None:
    """Points of a rim fit its circle; a larger radius leaves the difference over u."""
    points = [(100 + 40 * math.cos(t), -50 + 40 * math.sin(t), 6.0) for t in (0.3, 1.9, 4.0, 5.5)]
    block = CirclePoints(TABLE, [0, 1, 2, 3], [18] * 4, some_rows(4, 0.5))
    assert_fits(block, placed(points, 100.0, -50.0, 40.0))
    assert residuals_of(block, placed(points, 100.0, -50.0, 41.0)) == pytest.approx([-2.0] * 4)


def test_the_middle_of_a_circle_is_harmless() -> None:
    """A rim mark on its circle's centre gives finite residuals and derivatives."""
    block = CirclePoints(TABLE, [0], [18], some_rows(1))
    jacobian, residuals = np.zeros((1, 21)), np.zeros(1)
    block.fill(placed([(10.0, 10.0, 0.0)], 10.0, 10.0, 40.0), residuals, jacobian)
    assert np.all(np.isfinite(jacobian))
    assert residuals == pytest.approx([-40.0])


@pytest.mark.parametrize("alpha", [0.0, 0.3, -0.5])
def test_mirror_pairs(alpha: float) -> None:
    """A pair mirrored in the axis, and a point on it, fit."""
    normal, axis = np.array([math.cos(alpha), math.sin(alpha)]), np.array([-math.sin(alpha), math.cos(alpha)])
    port, starboard, middle = (20.0 * normal + 400.0 * axis + s * normal for s in (-1150.0, 1150.0, 0.0))
    x = placed([(*port, 0.0), (*starboard, 0.0), (*middle, 0.0)], alpha, 20.0)
    block = MirrorPairs(TABLE, [0, 0, 2], [1, 1, 2], 18, [False, True, False], some_rows(3, 3.0))
    assert_fits(block, x)


def test_mirror_pair_reads_the_discrepancy_of_the_twin() -> None:
    """A twin 6 mm too far out and 3 mm too high leaves just that, over u."""
    x = placed([(-1150.0, 380.0, 0.0), (1156.0, 383.0, 0.0)], 0.0, 0.0)
    block = MirrorPairs(TABLE, [0, 0], [1, 1], 18, [False, True], some_rows(2, 3.0))
    assert residuals_of(block, x) == pytest.approx([2.0, 1.0])


def test_right_angle_in_space() -> None:
    """Two directions square to one another in space fit, also out of the face; a degree off leaves its sine."""
    x = placed([(10, 20, 3), (10 + 300, 20 + 400, 3), (10, 20, 3), (10 - 400, 20 + 300, 3 + 100)])
    assert_fits(RightAngles(TABLE, [(0, 1, 2, 3)], some_rows(1, 0.002)), x)
    off = placed([(0, 0, 0), (500, 0, 0), (0, 0, 0), (0, 300, 0)])
    off[9:11] = 300 * math.cos(math.radians(89.0)), 300 * math.sin(math.radians(89.0))
    block = RightAngles(TABLE, [(0, 1, 2, 3)], some_rows(1, 1.0))
    assert residuals_of(block, off) == pytest.approx([math.sin(math.radians(1.0))])


@pytest.mark.parametrize("first", np.radians([-175.0, -90.0, 0.0, 100.0, 179.0]))
@pytest.mark.parametrize("between", np.radians([-180.0, -179.0, -60.0, 0.0, 45.0, 170.0, 180.0]))
def test_angle_wraps_round(first: float, between: float) -> None:
    """The angle from one line to another fits whatever way they point, half a turn included."""
    second = first + between
    ends = [(500 * math.cos(first), 500 * math.sin(first), 0), (7 + math.cos(second), 9 + math.sin(second), 0)]
    x = placed([(0, 0, 0), ends[0], (7, 9, 0), ends[1]])
    assert_fits(FaceAngles(TABLE, [(0, 1, 2, 3)], [between], [False], some_rows(1, 0.002)), x)


@pytest.mark.parametrize("turned", [False, True], ids=["same-way", "opposite-way"])
def test_parallel_lines_have_no_direction(turned: bool) -> None:
    """Parallels fit whichever way each was marked; one 0.01 rad off leaves that, with its sign."""
    ends = [(0.0, 50.0, 0.0), (900.0, 50.0 + 9.0, 0.0)]
    x = placed([(0, 0, 0), (1000, 0, 0), *(ends[::-1] if turned else ends)])
    block = FaceAngles(TABLE, [(0, 1, 2, 3)], [0.0], [True], some_rows(1, 1.0))
    assert residuals_of(block, x) == pytest.approx([math.atan(0.01)])


def upward(roll: float, lean: float) -> FloatArray:
    return np.array([roll, 1.0, -lean])


@pytest.mark.parametrize(("roll", "lean"), [(0.0, 0.0), (0.02, 0.0), (-0.03, 0.25)])
def test_level_and_plumb_lines(roll: float, lean: float) -> None:
    """Lines square to the upward direction are level, lines along it plumb."""
    up = upward(roll, lean)
    level = np.cross(up, [0.3, 0.2, 0.9])
    start, hanging = np.array([50.0, 60.0, 0.0]), np.array([-400.0, 100.0, 250.0])
    x = placed([tuple(start), tuple(start + 900 * level), tuple(hanging), tuple(hanging - 700 * up)], roll, lean)
    assert_fits(LevelLines(TABLE, [0], [1], GravityColumns(18, 19), some_rows(1, 0.003)), x)
    assert_fits(PlumbLines(TABLE, [2], [3], GravityColumns(18, 19), some_rows(2, 0.003)), x)


def test_slopes_of_a_line_out_of_level_and_plumb() -> None:
    """One degree out of level or plumb leaves one degree."""
    tilt = math.tan(math.radians(1.0))
    x = placed([(0, 0, 0), (1000, 1000 * tilt, 0), (0, 0, 0), (1000 * tilt, 1000, -2000 * tilt)], 0.0, 0.0)
    level = LevelLines(TABLE, [0], [1], GravityColumns(18, 19), some_rows(1, 1.0))
    assert residuals_of(level, x) == pytest.approx([math.sin(math.radians(1.0))])
    plumb = PlumbLines(TABLE, [2], [3], GravityColumns(18, 19), some_rows(2, 1.0))
    assert residuals_of(plumb, x) == pytest.approx([tilt, 2 * tilt])


def test_a_marked_centre_is_its_circles_centre() -> None:
    """A marked centre fits its circle's; beside it, it leaves x and y over their u."""
    block = Coincidences(TABLE, [0, 1], [18, 18], some_rows(4, [1.0, 2.0, 1.0, 2.0]))
    x = placed([(100.0, 50.0, 6.0), (103.0, 46.0, 6.0)], 100.0, 50.0, 30.0)
    assert residuals_of(block, x) == pytest.approx([0.0, 0.0, 3.0, -2.0])


@pytest.mark.parametrize("make", [BLOCKS["right-angles"], BLOCKS["angles"], BLOCKS["level"], BLOCKS["plumb"]])
def test_points_on_one_another_stay_finite(make: Callable[[PointTable], Block]) -> None:
    """Two points that fall together while the solver steps leave finite residuals and derivatives."""
    block = make(TABLE)
    residuals, jacobian = np.zeros(len(block.rows)), np.zeros((len(block.rows), 24))
    block.fill(np.zeros(24), residuals, jacobian)
    assert np.all(np.isfinite(residuals))
    assert np.all(np.isfinite(jacobian))
