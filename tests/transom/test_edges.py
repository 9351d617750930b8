"""Edges from a few marks: fitted lines and parabolas, crown, departures from straight."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.adjustment.propagation import Number
from digitizer.transom.edges import crown, deviations, fitted_polynomial, polynomial_at
from digitizer.transom.system import Place
from tests.transom.numbers import assert_sensitivities, flat, places

coordinate = st.floats(-1200.0, 1200.0)
PARABOLA = [(x, 1010.0 + 0.004 * x - 2.1e-5 * x * x) for x in (-1150.0, -700.0, -150.0, 90.0, 640.0, 1170.0)]
"""A crowned top edge, slightly out of level."""


def values(numbers: list[Number]) -> list[float]:
    return [float(n) for n in numbers]


@given(st.lists(st.tuples(coordinate, coordinate), min_size=5, max_size=9, unique_by=lambda p: round(p[0] / 40.0)))
@pytest.mark.parametrize("degree", [1, 2])
def test_fit_is_numpys(degree: int, points: list[tuple[float, float]]) -> None:
    """Coefficients are those of numpy.polyfit."""
    x, y = np.array(points).T
    expected = np.polyfit(x, y, degree)[::-1]
    found = values(fitted_polynomial([Place(*p) for p in points], degree))
    at = np.linspace(-1200.0, 1200.0, 5)
    assert np.allclose(np.polyval(found[::-1], at), np.polyval(expected[::-1], at), atol=1e-6 * np.abs(x).max())


@pytest.mark.parametrize("degree", [1, 2])
def test_sensitivities_of_a_fit(degree: int) -> None:
    """On the curve itself, coefficients carry the derivatives of the fit by x and by y of every mark."""
    points = PARABOLA if degree == 2 else [(x, 30.0 + 0.34 * x) for x, _ in PARABOLA]
    for power in range(degree + 1):
        assert_sensitivities(
            lambda n, power=power: fitted_polynomial(places(n), degree)[power], flat(points), step=0.01, rel=1e-4
        )


@pytest.mark.parametrize(
    "points",
    [
        pytest.param([(0.0, 0.0), (100.0, 30.0)], id="too-few"),
        pytest.param([(5.0, 0.0), (5.0, 30.0), (5.0, 60.0), (900.0, 10.0)], id="at-too-few-places"),
    ],
)
def test_too_few_places_are_refused(points: list[tuple[float, float]]) -> None:
    """A parabola needs three marks at different places."""
    with pytest.raises(ValueError, match="needs 3 points"):
        fitted_polynomial([Place(*p) for p in points], 2)


def test_polynomial_at() -> None:
    """1 + 2x + 3x² at 2 is 17."""
    assert polynomial_at([1.0, 2.0, 3.0], 2.0) == 17.0


def risen(*top: Place) -> Number:
    """Crown of the parabola fitted to the marks of a top edge, from port to starboard."""
    return crown(fitted_polynomial(top, 2), top[0], top[-1])


def test_crown_is_the_rise_above_the_chord() -> None:
    """Over the centreline, above the line between the ends, whatever its slope and however unlike the ends lie."""
    port, *top, starboard = [Place(*p) for p in PARABOLA]
    share = 1150.0 / (1150.0 + 1170.0)
    chord = PARABOLA[0][1] * (1 - share) + PARABOLA[-1][1] * share
    assert float(risen(port, *top, starboard)) == pytest.approx(1010.0 - chord)


def test_crown_of_a_straight_edge_is_nothing() -> None:
    """A straight top edge has no crown, and a hollow one a negative crown."""
    ends = Place(-1000.0, 990.0), Place(1000.0, 1010.0)
    assert float(risen(ends[0], Place(0.0, 1000.0), ends[1])) == pytest.approx(0.0, abs=1e-9)
    assert float(risen(ends[0], Place(0.0, 988.0), ends[1])) == pytest.approx(-12.0)


def test_sensitivities_of_the_crown() -> None:
    """The crown carries the derivatives of its value, by the ends along the edge as well as by the marks across it."""

    def value(n: list[Number]) -> Number:
        return risen(*places(n))

    assert_sensitivities(value, flat(PARABOLA), step=0.01, rel=1e-4)  # type: ignore[arg-type]


def test_deviations_from_a_line() -> None:
    """How far marks lie above a line; below is negative."""
    found = deviations([Place(0.0, 12.0), Place(100.0, 20.0)], (10.0, 0.2))
    assert values(found) == pytest.approx([2.0, -10.0])
