"""
Circle fits with three different right answers, and arcs from a handbook.

W. Gander, G. Golub and R. Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994) 558. The points were
read in public ports of their program; the printed results come from memory and were reproduced by recomputation.
"""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from odrpack import odr_fit
from skimage.measure import CircleModel

from digitizer.adjustment.observations import System
from digitizer.adjustment.solve import adjust
from digitizer.geometry import circles
from digitizer.geometry.circles import fitted_circle
from tests.adjustment.networks import Curve

GANDER = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]], dtype=float)


def kasa(points: np.ndarray) -> tuple[float, float, float]:
    """Circle by regression of x² + y², biased small on short arcs (I. Kåsa, IEEE Trans. Instr. Meas. 25 (1976) 8)."""
    design = np.column_stack((2 * points, np.ones(len(points))))
    x, y, c = np.linalg.lstsq(design, np.sum(points**2, axis=1))[0]
    return float(x), float(y), math.sqrt(c + x * x + y * y)


def test_geometric_circle() -> None:
    """Their best fit: centre (4.7398, 2.9835), radius 4.7142."""
    circle = fitted_circle(GANDER)
    assert circle.centre == pytest.approx([4.73978241, 2.98353269], abs=2e-8)
    assert circle.radius == pytest.approx(4.71422604, abs=2e-8)
    residuals = circle.distances(GANDER)
    assert np.linalg.norm(residuals) == pytest.approx(1.107970703, abs=1e-9)
    expected = [0.77376, -0.63924, 0.30899, -0.10547, -0.00088, -0.33714]
    assert residuals == pytest.approx(expected, abs=6e-6)


def test_geometric_circle_by_the_adjustment() -> None:
    """The same as observations of zero distance, with standard errors 0.478, 1.543 and 1.224."""
    x, y = GANDER.T

    def derivatives(p: np.ndarray) -> np.ndarray:
        distance = np.hypot(x - p[0], y - p[1])
        return np.column_stack(((p[0] - x) / distance, (p[1] - y) / distance, -np.ones(6)))

    distances = Curve(lambda p: np.hypot(x - p[0], y - p[1]) - p[2], derivatives, np.zeros(6), np.ones(6))
    estimate = adjust(System(3, [distances]), np.array([5.0, 4.0, 4.0]), np.ones(3, dtype=bool))
    assert estimate.x == pytest.approx([4.73978, 2.98353, 4.71423], abs=1e-3)  # a thousandth of their u
    s0 = math.sqrt(estimate.variance_factor)
    assert s0 == pytest.approx(0.639687, abs=1e-6)
    assert s0 * np.sqrt(np.diag(estimate.covariance)) == pytest.approx([0.478, 1.543, 1.224], abs=2e-3)


def test_another_program_finds_the_geometric_circle() -> None:
    """Implicit orthogonal distance regression by odrpack."""
    second = odr_fit(
        lambda x, b: (x[0] - b[0]) ** 2 + (x[1] - b[1]) ** 2 - b[2] ** 2, GANDER.T.copy(), np.zeros(6),
        beta0=np.array([5.0, 4.0, 4.0]), task="implicit-ODR", sstol=1e-14, partol=1e-14, maxit=1000,
    )  # fmt: skip
    circle = fitted_circle(GANDER)
    assert [*circle.centre, circle.radius] == pytest.approx(second.beta, abs=1e-3)  # its penalty method's accuracy


def test_another_library_finds_the_algebraic_circle() -> None:
    """scikit-image's circle is Kåsa's, radius 4.1088, a different right answer: too small on an arc."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its interface is changing
        model = CircleModel()
        assert model.estimate(GANDER)
        x, y, radius = model.params
    assert (x, y, radius) == pytest.approx((4.742331288, 3.835122699, 4.108761522), abs=1e-8)
    assert kasa(GANDER) == pytest.approx((x, y, radius), abs=1e-8)
    assert radius < fitted_circle(GANDER).radius - 0.6


def test_algebraic_circles_are_too_small_on_the_arc_of_a_crown() -> None:
    """Chord 2400, rise 72, marks to 3 mm: Kåsa's radius comes out small on average, the geometric one doesn't."""
    random = np.random.default_rng(11)
    angles = math.pi / 2 + np.linspace(-0.12, 0.12, 15)
    arc = 10_036.0 * np.column_stack((np.cos(angles), np.sin(angles)))
    samples = [arc + random.normal(0, 3.0, arc.shape) for _ in range(100)]
    algebraic = [1 / kasa(points)[2] for points in samples]
    geometric = [1 / fitted_circle(points).radius for points in samples]
    error = np.std(geometric) / math.sqrt(100)
    assert np.mean(geometric) == pytest.approx(1 / 10_036, abs=4 * error)
    assert np.mean(algebraic) > 1 / 10_036


class TestHandbookArcs:
    """Machinery's Handbook, 31st ed., pp. 50 and 79, whose steps are rounded, and formulas of the same page."""

    def test_chord_of_an_arc(self) -> None:
        """r = 60, h = 8: chord 59.86 (exactly 59.86652)."""
        assert circles.chord(60.0, 8.0) == pytest.approx(59.86652, abs=5e-6)

    def test_radius_of_an_arc(self) -> None:
        """c = 16, h = 6: r = 8 1/3."""
        assert circles.radius_from_sagitta(16.0, 6.0) == pytest.approx(25 / 3)

    def test_segment(self) -> None:
        """R = 12, depth 2: chord 13.27, angle 67.13°, arc 14.06, area 18.01, which the book rounds step by step."""
        chord = circles.chord(12.0, 2.0)
        assert chord == pytest.approx(13.2665, abs=5e-5)
        assert math.degrees(circles.arc_angle(chord, 2.0)) == pytest.approx(67.115, abs=5e-4)
        assert circles.arc_length(chord, 2.0) == pytest.approx(14.056, abs=6e-4)
        assert circles.segment_area(chord, 2.0) == pytest.approx(18.006, abs=6e-4)

    def test_segment_by_chord_and_rise(self) -> None:
        """Chord 21, rise 6, read on the help page of a mathematics program."""
        assert circles.radius_from_sagitta(21.0, 6.0) == 12.1875
        assert math.degrees(circles.arc_angle(21.0, 6.0)) == pytest.approx(118.97953, abs=5e-6)
        assert circles.arc_length(21.0, 6.0) == pytest.approx(25.308373, abs=5e-7)
        assert circles.segment_area(21.0, 6.0) == pytest.approx(89.254148, abs=5e-7)

    def test_arc_of_forty_five_degrees(self) -> None:
        """Arc 1: radius 1.2732395, chord 0.97449536, rise 0.096919589; same page."""
        rise = circles.sagitta(1.2732395447, 0.97449536)
        assert rise == pytest.approx(0.096919589, abs=5e-9)
        assert circles.arc_length(0.97449536, rise) == pytest.approx(1.0, abs=1e-8)

    @pytest.mark.parametrize(
        ("rise", "radius"), [(5, 144_002.5), (10, 72_005), (20, 36_010), (50, 14_425), (100, 7_250)]
    )
    def test_radius_of_a_transom_of_2400(self, rise: float, radius: float) -> None:
        """R = c²/(8h) + h/2 for a chord of 2400."""
        assert circles.radius_from_sagitta(2400.0, rise) == radius
        assert circles.sagitta(radius, 2400.0) == pytest.approx(rise, rel=1e-12)
