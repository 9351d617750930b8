"""The transom system and distances in it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.transom.system import Place, TransomSystem, distance
from tests.transom.numbers import assert_sensitivities

length = st.floats(-2000.0, 2000.0)


def test_origin_and_axes() -> None:
    """The origin has no coordinates, and x runs along the turned axis; heights off the face stay."""
    system = TransomSystem(Place(100.0, 50.0), math.pi / 6)
    assert system.of(Place(100.0, 50.0)) == Place(0.0, 0.0, 0.0)
    along = system.of(Place(100.0 + math.cos(math.pi / 6) * 300.0, 50.0 + 150.0, 4.0))
    assert along == pytest.approx((300.0, 0.0, 4.0))


@given(length, length, length, length, st.floats(-math.pi, math.pi))
def test_distances_are_the_same_in_every_system(x1: float, y1: float, x2: float, y2: float, turn: float) -> None:
    """Changing the system moves no distance."""
    system = TransomSystem(Place(-300.0, 700.0), turn)
    a, b = Place(x1, y1, 3.0), Place(x2, y2, -2.0)
    assert float(distance(system.of(a), system.of(b))) == pytest.approx(float(distance(a, b)), abs=1e-9)


def test_sensitivities() -> None:
    """Coordinates carry the derivatives by origin, turn and point."""
    at = [100.0, 50.0, 0.3, 900.0, -400.0]
    for axis in range(2):
        assert_sensitivities(
            lambda n, axis=axis: TransomSystem(Place(n[0], n[1]), n[2]).of(Place(n[3], n[4]))[axis], at, step=1e-4
        )
    assert_sensitivities(lambda n: distance(Place(*n[:3]), Place(*n[3:])), [1.0, 2.0, 3.0, 40.0, 60.0, 9.0])
