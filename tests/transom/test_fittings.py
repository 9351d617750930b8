"""Clear distance between rims, with shapely as the second opinion."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Point, Polygon

from digitizer.adjustment.propagation import Number
from digitizer.transom.fittings import Rim, clearance
from digitizer.transom.system import Place
from tests.transom.numbers import assert_sensitivities, places

coordinate, size, turn = st.floats(-800.0, 800.0), st.floats(20.0, 200.0), st.floats(0.0, math.pi)


def rectangle(x: float, y: float, width: float, height: float, angle: float) -> list[tuple[float, float]]:
    """Corners anticlockwise."""
    c, s = math.cos(angle), math.sin(angle)
    half = [(-width, -height), (width, -height), (width, height), (-width, height)]
    return [(x + (c * a - s * b) / 2, y + (s * a + c * b) / 2) for a, b in half]


def polygon(corners: list[tuple[float, float]]) -> Rim:
    return Rim(Place(0.0, 0.0), 0.0, tuple(Place(*c) for c in corners))


rectangles = st.builds(rectangle, coordinate, coordinate, size, size, turn)


@given(coordinate, coordinate, size, coordinate, coordinate, size)
def test_between_circles(x1: float, y1: float, r1: float, x2: float, y2: float, r2: float) -> None:
    """Between centres less both radii; negative by how far they overlap."""
    found = float(clearance(Rim(Place(x1, y1), r1), Rim(Place(x2, y2), r2)))
    assert found == pytest.approx(Point(x1, y1).distance(Point(x2, y2)) - r1 - r2, abs=1e-9)


@given(rectangles, coordinate, coordinate, size)
def test_between_a_rectangle_and_a_circle(corners: list[tuple[float, float]], x: float, y: float, r: float) -> None:
    """From the nearest side or corner to the rim, whichever is named first."""
    shape, centre = Polygon(corners), Point(x, y)
    assume(shape.distance(centre) > 0.0)
    circle = Rim(Place(x, y), r)
    expected = shape.distance(centre) - r
    assert float(clearance(polygon(corners), circle)) == pytest.approx(expected, abs=1e-6)  # mm
    assert float(clearance(circle, polygon(corners))) == pytest.approx(expected, abs=1e-6)


@given(rectangles, rectangles)
def test_between_rectangles(first: list[tuple[float, float]], second: list[tuple[float, float]]) -> None:
    """From the nearest side or corner of one to the nearest of the other."""
    a, b = Polygon(first), Polygon(second)
    assume(a.distance(b) > 0.0)
    assert float(clearance(polygon(first), polygon(second))) == pytest.approx(a.distance(b), abs=1e-6)  # mm


def test_a_circle_inside_a_rectangle_overlaps() -> None:
    """A rim whose centre lies on a plate is no clearance at all: the figure is negative."""
    plate = polygon(rectangle(0.0, 0.0, 200.0, 100.0, 0.0))
    assert float(clearance(plate, Rim(Place(90.0, 0.0), 20.0))) == pytest.approx(-30.0)


def test_crossing_rectangles_overlap() -> None:
    """Plates that lie on one another give a negative figure: how far one reaches into the other."""
    plate = polygon(rectangle(0.0, 0.0, 200.0, 100.0, 0.0))
    assert float(clearance(plate, polygon(rectangle(95.0, 0.0, 20.0, 20.0, 0.0)))) == pytest.approx(-15.0)
    cross = polygon(rectangle(0.0, 0.0, 20.0, 300.0, 0.0))
    assert float(clearance(plate, cross)) == pytest.approx(-110.0)
    within = polygon(rectangle(-20.0, 10.0, 20.0, 20.0, 0.0))
    assert float(clearance(plate, within)) == float(clearance(within, plate)) == pytest.approx(-50.0)


def test_a_corner_marked_twice_does_no_harm() -> None:
    """A side without length is left out."""
    corners = [(0.0, 0.0), (0.0, 0.0), (200.0, 0.0), (0.0, 100.0)]
    assert float(clearance(polygon(corners), Rim(Place(-50.0, 40.0), 20.0))) == pytest.approx(30.0)


CASES = {
    "circles": [0.0, 0.0, 30.0, 200.0, 90.0, 20.0],
    "side-of-a-rectangle": [10.0, 120.0, 20.0],
    "corner-of-a-rectangle": [180.0, 130.0, 20.0],
}


@pytest.mark.parametrize("name", CASES)
def test_sensitivities(name: str) -> None:
    """Clearances carry the derivatives of their values, by sides and by corners."""

    def formula(n: list[Number]) -> Number:
        if name == "circles":
            return clearance(Rim(Place(n[0], n[1]), n[2]), Rim(Place(n[3], n[4]), n[5]))
        return clearance(Rim(Place(0.0, 0.0), 0.0, tuple(places(n[3:]))), Rim(Place(n[0], n[1]), n[2]))

    corners = [c for p in rectangle(0.0, 0.0, 200.0, 100.0, 0.2) for c in p] if name != "circles" else []
    assert_sensitivities(formula, [*CASES[name], *corners])  # type: ignore[arg-type]


def test_sensitivities_between_rectangles() -> None:
    """Between two plates the nearest corner and side carry them."""

    def formula(n: list[Number]) -> Number:
        return clearance(*(Rim(Place(0.0, 0.0), 0.0, tuple(places(part))) for part in (n[:8], n[8:])))

    first, second = rectangle(0.0, 0.0, 200.0, 100.0, 0.1), rectangle(300.0, 40.0, 80.0, 90.0, 0.5)
    assert_sensitivities(formula, [c for p in (*first, *second) for c in p])  # type: ignore[arg-type]
