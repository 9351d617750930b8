"""The flange's form, its holes and its clearances, worked out by hand and against shapely."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point as At
from shapely import Polygon

from digitizer.adjustment.propagation import Number
from digitizer.transom.fittings import Rim
from digitizer.transom.flange import (
    FlangeForm,
    bolt_places,
    distance_to_edge,
    flange_clearance,
    is_wholly_under,
    nearest_to_edge,
    rim_polygon,
)
from digitizer.transom.system import Place
from tests.transom.numbers import assert_sensitivities

BOX = FlangeForm(0.0, 450.0, 50.0, 0.0, 450.0)
"""900 × 400 mm, sharp corners, level lower edge."""
VEE = FlangeForm(0.0, 450.0, 25.0, math.tan(math.radians(20.0)), 525.0, 30.0, 40.0)


def disc(x: float, y: float, radius: float) -> Rim:
    return Rim(Place(x, y), radius)


def plate(x: float, y: float, width: float, height: float) -> Rim:
    a, b = width / 2.0, height / 2.0
    return Rim(Place(x, y), 0.0, tuple(Place(x + i * a, y + j * b) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))))


def clear(form: FlangeForm, rim: Rim) -> float:
    return float(flange_clearance(form, rim))


@pytest.mark.parametrize(
    ("rim", "by_hand"),
    [
        pytest.param(disc(500.0, 250.0, 20.0), 30.0, id="round, beside it: 500 - 450 - 20"),
        pytest.param(disc(450.0, 250.0, 20.0), -20.0, id="round, on its side"),
        pytest.param(disc(430.0, 250.0, 20.0), -40.0, id="round, just wholly under it"),
        pytest.param(disc(480.0, 490.0, 10.0), 40.0, id="round, off a corner: a 30, 40, 50 triangle less 10"),
        pytest.param(plate(0.0, 500.0, 100.0, 60.0), 20.0, id="plate above: 500 - 30 - 450"),
        pytest.param(plate(0.0, 460.0, 100.0, 60.0), -20.0, id="plate astride the top"),
    ],
)
def test_clearance_of_a_box_by_hand(rim: Rim, by_hand: float) -> None:
    """Distances that paper and pencil give."""
    assert clear(BOX, rim) == pytest.approx(by_hand, abs=1e-9)


def test_rounded_corner_stands_back() -> None:
    """Off a square corner of radius r, on its diagonal, r (√2 − 1) more is clear."""
    rim, rounded = disc(500.0, 500.0, 5.0), replace(BOX, top_radius=60.0)
    assert clear(rounded, rim) - clear(BOX, rim) == pytest.approx(60.0 * (math.sqrt(2.0) - 1.0), abs=1e-9)


def test_area_of_a_flange_by_hand() -> None:
    """A box with a V below it is width times height less the triangle; each square corner loses (1 − π/4) r²."""
    sharp = replace(VEE, top_radius=0.0, bottom_radius=0.0)
    triangle = 450.0 * 450.0 * math.tan(math.radians(20.0))
    assert sharp.area == pytest.approx(900.0 * 500.0 - triangle, rel=1e-12)
    rounded = replace(BOX, top_radius=60.0, bottom_radius=60.0)
    assert BOX.area - rounded.area == pytest.approx(4.0 * (1.0 - math.pi / 4.0) * 3600.0, rel=5e-3)  # arcs in pieces


some = settings(max_examples=30, deadline=None)
coordinate, size = st.floats(-900.0, 900.0), st.floats(5.0, 120.0)
rims = st.one_of(st.builds(disc, coordinate, coordinate, size), st.builds(plate, coordinate, coordinate, size, size))
forms = st.builds(
    lambda half, angle, high, top, low: FlangeForm(
        0.0, half, 20.0, math.tan(math.radians(angle)), 20.0 + half * 0.6 + high, top, low
    ),
    *(st.floats(150.0, 700.0), st.floats(0.0, 28.0), st.floats(120.0, 500.0), st.floats(0.0, 50.0)),
    st.floats(0.0, 50.0),
)


@some
@given(forms, rims)
def test_clearance_agrees_with_shapely(form: FlangeForm, rim: Rim) -> None:
    """Outside, the distance is that between the two shapes; overlapping, it is negative."""
    exact = form.polygon()
    if rim.corners:
        apart = exact.distance(rim_polygon(rim))
    else:
        apart = max(0.0, exact.distance(At(float(rim.centre.x), float(rim.centre.y))) - float(rim.radius))
    found = clear(form, rim)
    if apart > 0.05:
        assert found == pytest.approx(apart, abs=0.05)  # mm, the arcs of the polygon are in pieces
    else:
        assert found < 0.1


@some
@given(forms, rims)
def test_clearance_is_mirrored(form: FlangeForm, rim: Rim) -> None:
    """Port and starboard are alike."""

    def across(p: Place) -> Place:
        return Place(-float(p.x), p.y)

    mirrored = Rim(across(rim.centre), rim.radius, tuple(across(p) for p in reversed(rim.corners)))
    assert clear(form, mirrored) == pytest.approx(clear(form, rim), abs=1e-6)


@some
@given(forms, rims, coordinate, coordinate)
def test_clearance_does_not_depend_on_where_it_is(form: FlangeForm, rim: Rim, dx: float, dy: float) -> None:
    """Flange and fitting shifted together keep their distance."""
    moved = Rim(
        Place(float(rim.centre.x) + dx, float(rim.centre.y) + dy),
        rim.radius,
        tuple(Place(float(p.x) + dx, float(p.y) + dy) for p in rim.corners),
    )
    assert clear(form.moved(dx, dy), moved) == pytest.approx(clear(form, rim), abs=1e-6)


@some
@given(forms, coordinate, coordinate, size, size)
def test_larger_rim_is_nearer_by_as_much(form: FlangeForm, x: float, y: float, radius: float, more: float) -> None:
    """A round rim that grows takes exactly that much of its clearance."""
    assert clear(form, disc(x, y, radius)) - clear(form, disc(x, y, radius + more)) == pytest.approx(more, abs=1e-6)


def test_clearance_carries_the_rim_s_sensitivities() -> None:
    """Derivatives by the rim's place and radius are those of the distance, at a side, a corner and a sloped edge."""
    for x, y in ((560.0, 300.0), (500.0, 560.0), (300.0, 20.0)):

        def formula(n: list[Number]) -> Number:
            return flange_clearance(VEE, Rim(Place(n[0], n[1]), n[2]))

        assert_sensitivities(formula, [x, y, 30.0])  # type: ignore[arg-type]


def test_wholly_and_partly_under() -> None:
    """A rim that sticks out under the side is not wholly covered."""
    assert is_wholly_under(BOX, disc(400.0, 250.0, 40.0))
    assert not is_wholly_under(BOX, disc(420.0, 250.0, 40.0))


def test_distance_to_an_edge_that_is_crossed() -> None:
    """Outside, the clear distance; crossed, negative by how far."""
    above = [(Place(-600.0, 480.0), Place(600.0, 480.0))]
    through = [(Place(-600.0, 440.0), Place(600.0, 440.0))]
    assert float(distance_to_edge(BOX, above)) == pytest.approx(30.0)
    assert float(distance_to_edge(BOX, through)) == pytest.approx(-10.0)


def test_bolts_by_hand() -> None:
    """Rows from edge to edge, as many holes as fit, about the middle."""
    places = bolt_places(BOX, rows=3, spacing=200.0, edge=40.0)
    assert sorted({round(x, 6) for x, _ in places}) == [-400.0, -200.0, 0.0, 200.0, 400.0]
    assert sorted({round(y, 6) for _, y in places}) == [90.0, 250.0, 410.0]
    assert nearest_to_edge(BOX, places) == pytest.approx(40.0)


@some
@given(forms, st.integers(1, 5), st.floats(40.0, 300.0), st.floats(15.0, 60.0))
def test_bolts_keep_their_distance_from_straight_edges(
    form: FlangeForm, rows: int, spacing: float, edge: float
) -> None:
    """On a flange with sharp corners and room for its rows, no hole comes nearer to the edge than asked."""
    sharp = replace(form, top_radius=0.0, bottom_radius=0.0)
    places = bolt_places(sharp, rows, spacing, edge)
    if places and min(sharp.top - edge - sharp.lower_edge(x) for x, _ in places) > edge * math.hypot(1.0, sharp.rise):
        assert nearest_to_edge(sharp, places) >= edge - 1e-6
        assert all(Polygon(sharp.outline()).contains(At(p)) for p in places)
