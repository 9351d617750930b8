"""The smallest shift and the largest flange against answers by hand and against trying everything."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Point as At
from shapely import Polygon, box

from digitizer.transom.fittings import Rim
from digitizer.transom.flange import FlangeForm, flange_clearance, rim_polygon
from digitizer.transom.flange_search import Ground, largest_flange, smallest_shifts
from digitizer.transom.system import Place

FACE = box(-1000.0, 0.0, 1000.0, 1000.0)
FORM = FlangeForm(0.0, 300.0, 100.0, 0.0, 400.0)
MARGIN = 25.0
places = st.lists(st.tuples(st.floats(-500.0, 500.0), st.floats(50.0, 700.0), st.floats(10.0, 60.0)), max_size=5)


def obstacles(fittings: list[tuple[float, float, float]], margin: float = MARGIN) -> list[Polygon]:
    return [rim_polygon(Rim(Place(x, y), r), margin) for x, y, r in fittings]


def test_shift_out_of_a_corner_by_hand() -> None:
    """A fitting near the top of the flange's middle is cleared by going down by what it reaches in, margin included."""
    found = smallest_shifts(FORM, FACE, [box(-50.0, 380.0, 50.0, 450.0)], 600.0)
    assert found.any_way is not None
    assert found.up is not None
    assert found.across is not None
    assert (found.any_way.across, found.any_way.up) == pytest.approx((0.0, -20.0), abs=0.25)  # mm, slack of the search
    assert found.up.up == pytest.approx(-20.0, abs=0.25)
    assert abs(found.across.across) == pytest.approx(350.0, abs=0.25)


def test_nothing_in_the_way_asks_for_no_shift() -> None:
    """The present place is the nearest clear one."""
    found = smallest_shifts(FORM, FACE, [box(-50.0, 600.0, 50.0, 650.0)], 600.0)
    assert found.any_way is not None
    assert found.any_way.length == 0.0


def test_no_shift_within_reach() -> None:
    """Where everything is blocked, nothing is suggested."""
    found = smallest_shifts(FORM, FACE, [box(-2000.0, -2000.0, 2000.0, 2000.0)], 600.0)
    assert (found.any_way, found.up, found.across) == (None, None, None)


@settings(max_examples=8, deadline=None)
@given(places)
def test_shift_clears_and_no_shorter_one_does(fittings: list[tuple[float, float, float]]) -> None:
    """The shifted flange keeps the margin to every fitting; no shift of a ring well inside that distance does."""
    found = smallest_shifts(FORM, FACE, obstacles(fittings), 900.0).any_way
    assume(found is not None)
    assert found is not None
    rims = [Rim(Place(x, y), r) for x, y, r in fittings]
    moved = FORM.moved(found.across, found.up)
    assert min((float(flange_clearance(moved, rim)) for rim in rims), default=MARGIN) >= MARGIN - 1e-6
    for turn, share in itertools.product(np.linspace(0.0, 2.0 * math.pi, 16), (0.5, 0.9)):
        less = share * (found.length - 2.0)  # mm, more than circles drawn with corners add
        if less > 0.0:
            nearer = FORM.moved(less * math.cos(turn), less * math.sin(turn))
            off_the_face = not FACE.contains(At(nearer.middle, (nearer.bottom + nearer.top) / 2.0))
            assert off_the_face or min(float(flange_clearance(nearer, rim)) for rim in rims) < MARGIN


@settings(max_examples=8, deadline=None)
@given(places, st.floats(0.0, 60.0), st.floats(1.0, 60.0))
def test_wider_margin_never_shortens_the_shift(
    fittings: list[tuple[float, float, float]], margin: float, more: float
) -> None:
    """What keeps more distance has to go at least as far."""
    near = smallest_shifts(FORM, FACE, obstacles(fittings, margin), 900.0).any_way
    far = smallest_shifts(FORM, FACE, obstacles(fittings, margin + more), 900.0).any_way
    assume(near is not None)
    assert near is not None
    assert far is None or far.length >= near.length - 0.5  # mm, twice the slack


def test_largest_flange_between_two_fittings_by_hand() -> None:
    """Fittings 250 mm out on both sides, nothing else: up to them and to the top of the face, in steps of 10 mm."""
    sides = [box(x - 10.0, 0.0, x + 10.0, 1000.0) for x in (-260.0, 260.0)]
    found = largest_flange(FORM, Ground(FACE, sides))
    assert found is not None
    assert (found.width, found.height) == pytest.approx((490.0, 890.0))  # 500 × 900 would touch


def test_largest_flange_goes_above_a_drain() -> None:
    """A fitting low in the middle is left below rather than the width given up."""
    found = largest_flange(FORM, Ground(FACE, [box(-20.0, 90.0, 20.0, 150.0)]))
    assert found is not None
    assert found.bottom == pytest.approx(150.0, abs=0.5)
    assert found.width > 1900.0


@settings(max_examples=8, deadline=None)
@given(places.filter(bool))
def test_largest_flange_is_clear_and_no_neighbour_in_size_beats_it(fittings: list[tuple[float, float, float]]) -> None:
    """It keeps clear of everything, and neither the planned width nor height, both clear, has a larger area."""
    ground = Ground(FACE, obstacles(fittings))
    found = largest_flange(replace(FORM, top_radius=30.0, bottom_radius=30.0), ground)
    assume(found is not None)
    assert found is not None
    assert ground.is_clear(found)
    for other in (ground.tallest(replace(FORM, half=200.0)), ground.tallest(replace(FORM, half=400.0))):
        assert other is None or other.area <= found.area + 10.0 * (found.width + found.height) + 2000.0
    tall, wide = ground.tallest(FORM), ground.widest(FORM)
    assert tall is None or not ground.is_clear(replace(tall, top=tall.top + 10.0))
    assert wide is None or not ground.is_clear(replace(wide, half=wide.half + 5.0))
