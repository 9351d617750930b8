"""Planning figures against published ones, each with its source beside it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from digitizer.transom.planning import (
    body_volume,
    buoyancy_kg,
    engine_places,
    power_capacity,
    power_factor,
    prismoid_volume,
    v_box_area,
)

FT, INCH = 304.8, 25.4
ORDINARY = {"remote": True, "high_transom": True, "flat_bottom_hard_chine": False}


def test_truncated_pyramid_of_the_moscow_papyrus() -> None:
    """Problem 14 of the Moscow Mathematical Papyrus: sides 4 and 2, height 6, "you will find it right": 56."""
    assert prismoid_volume(6.0, 4.0**2, 3.0**2, 2.0**2) == 56.0


def test_prism_and_pyramid() -> None:
    """A prism is area times length; a pyramid a third of that (Euclid, Elements XII, 7)."""
    assert prismoid_volume(5.0, 3.0, 3.0, 3.0) == 15.0
    assert prismoid_volume(6.0, 4.0, 1.0, 0.0) == pytest.approx(8.0)


def test_section_of_a_v_box_by_hand() -> None:
    """800 wide, sides 300, a V of 45°: 240 000 mm² and a triangle of 400 × 400."""
    assert v_box_area(800.0, 300.0, math.pi / 4.0) == pytest.approx(240_000.0 + 160_000.0)


@given(
    st.floats(100.0, 1500.0),
    st.floats(0.0, 0.5),
    *(st.floats(100.0, 1500.0) for _ in range(2)),
    *(st.floats(0.0, 600.0) for _ in range(2)),
)
def test_tapering_body_is_the_integral_of_its_sections(
    length: float, deadrise: float, w1: float, w2: float, s1: float, s2: float
) -> None:
    """The rule gives what summing thin slices gives."""

    def section(x: float) -> float:
        return v_box_area(w1 + (w2 - w1) * x / length, s1 + (s2 - s1) * x / length, deadrise)

    assert body_volume(length, deadrise, (w1, w2), (s1, s2)) == pytest.approx(quad(section, 0.0, length)[0], rel=1e-9)


def test_litre_of_water() -> None:
    """A litre lifts a kilogram in fresh water; in salt water 0.976 litres do (1000 / 1025)."""
    assert buoyancy_kg(1e6, "fresh") == pytest.approx(1.0)
    assert buoyancy_kg(0.9756e6, "salt") == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(
    ("factor", "capacity"),
    # Table 183.53, CFR of 1 July 2001: 0-35 3 hp, 36-39 5 hp, 40-42 7.5 hp, 43-45 10 hp, 46-52 15 hp.
    [
        *((20.0, 3.0), (35.4, 3.0), (35.6, 5.0), (39.4, 5.0), (40.0, 7.5), (42.4, 7.5), (43.0, 10.0), (45.4, 10.0)),
        *((45.96, 15.0), (46.0, 15.0), (52.4, 15.0), (52.5, 15.0)),
    ],
)
def test_small_factors(factor: float, capacity: float) -> None:
    """The table's steps, the factor taken to its nearest whole number."""
    assert power_capacity(factor, **ORDINARY) == capacity


def test_flat_bottom_goes_one_step_down() -> None:
    """183.53(a)(4): one increment less for flat bottom hard chine boats with a factor of 52 or less."""
    assert power_capacity(46.0, remote=True, high_transom=True, flat_bottom_hard_chine=True) == 10.0
    assert power_capacity(20.0, remote=True, high_transom=True, flat_bottom_hard_chine=True) == 3.0


@pytest.mark.parametrize(
    ("factor", "how", "capacity"),
    [
        pytest.param(136.5, ORDINARY, 185.0, id="published example, 183 raised to 185"),
        pytest.param(80.0, ORDINARY, 70.0, id="2 F - 90, a multiple already"),
        pytest.param(80.0, {**ORDINARY, "high_transom": False}, 40.0, id="0.8 F - 25 = 39"),
        pytest.param(80.0, {**ORDINARY, "remote": False, "flat_bottom_hard_chine": True}, 25.0, id="0.5 F - 15"),
    ],
)
def test_large_factors(factor: float, how: dict[str, bool], capacity: float) -> None:
    """183.53(a)(3): the formulas of the table, raised to the next exact multiple of 5."""
    assert power_capacity(factor, **how) == capacity


def test_factor_of_the_published_example() -> None:
    """19.5 ft long, 84 in wide at the transom: 19.5 × 7 = 136.5."""
    assert power_factor(19.5 * FT, 84.0 * INCH) == pytest.approx(136.5)


@given(st.floats(0.0, 300.0), st.floats(0.0, 50.0))
def test_wider_boat_never_gets_less(factor: float, more: float) -> None:
    """The figure never falls with the factor within one kind of boat (the step at 52.5 apart)."""
    if (factor > 52.5) == (factor + more > 52.5):
        assert power_capacity(factor + more, **ORDINARY) >= power_capacity(factor, **ORDINARY)


def test_engines_stand_about_the_centreline() -> None:
    """Two at half the spacing, three with one in the middle."""
    assert list(engine_places(2, 700.0)) == [-350.0, 350.0]
    assert list(engine_places(3, 700.0)) == [-700.0, 0.0, 700.0]
