"""Deadrise: the trade's two-height method, chord and edge, and what the rake makes of it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.adjustment.propagation import Number
from digitizer.transom.deadrise import (
    chord_deadrise,
    edge_deadrise,
    section_deadrise,
    tape_deadrise,
    tape_deadrise_u,
)
from digitizer.transom.edges import fitted_polynomial
from digitizer.transom.system import Place
from tests.transom.numbers import assert_sensitivities, places

SECTIONS_DEG = {
    12.0: (11.745, 15.668, 17.631, 19.597, 21.564, 23.533),
    14.0: (11.653, 15.548, 17.498, 19.451, 21.406, 23.365),
    16.0: (11.548, 15.410, 17.345, 19.283, 21.225, 23.170),
}
"""By rake: section deadrise of a face deadrise of 12, 16, 18, 20, 22 and 24°, computed by hand with three decimals."""


def test_two_heights_of_common_practice() -> None:
    """A = 300 and B = 78 at 610 mm out make 19.998° (computed; the two-height method is common practice)."""
    assert math.degrees(tape_deadrise(300.0, 78.0, 610.0)) == pytest.approx(19.998, abs=0.0005)  # °, as printed


def test_exchanged_heights_turn_the_v_upside_down() -> None:
    """A and B exchanged give the same angle with the other sign."""
    assert tape_deadrise(78.0, 300.0, 610.0) == -tape_deadrise(300.0, 78.0, 610.0)


@pytest.mark.parametrize(("rake", "sections"), SECTIONS_DEG.items(), ids=[f"rake-{r:g}" for r in SECTIONS_DEG])
def test_section_square_to_the_keel(rake: float, sections: tuple[float, ...]) -> None:
    """tan(section) = tan(face) · cos(rake) for buttocks parallel to the keel."""
    for face, section in zip((12.0, 16.0, 18.0, 20.0, 22.0, 24.0), sections, strict=True):
        found = section_deadrise(math.radians(face), math.radians(rake))
        assert math.degrees(float(found)) == pytest.approx(section, abs=0.0005)  # °, as printed


def test_sensitivity_of_the_section() -> None:
    """At 20° and a rake of 14° a degree of face is 0.977 of section, a degree of rake −0.078 (computed)."""
    assert_sensitivities(lambda n: section_deadrise(n[0], n[1]), [0.35, 0.24], step=1e-5)
    around = ((20.5, 14.0), (19.5, 14.0), (20.0, 14.5), (20.0, 13.5))
    found = [float(section_deadrise(*map(math.radians, v))) for v in around]
    by_face, by_rake = np.degrees([found[0] - found[1], found[2] - found[3]])
    assert by_face == pytest.approx(0.977, abs=0.0005)
    assert by_rake == pytest.approx(-0.078, abs=0.0005)


@pytest.mark.parametrize(("offset", "u_deg"), [(305.0, 0.24), (610.0, 0.12), (914.0, 0.08)])
def test_u_of_two_heights(offset: float, u_deg: float) -> None:
    """With 1 mm in A and in B, u at 18° is 0.24°, 0.12° and 0.08° at 12, 24 and 36 in (computed)."""
    drop = offset * math.tan(math.radians(18.0))
    assert math.degrees(tape_deadrise_u(300.0 + drop, 300.0, offset, 1.0)) == pytest.approx(u_deg, abs=0.005)


@given(st.floats(100.0, 900.0), st.floats(0.0, 90.0), st.floats(200.0, 900.0))
def test_u_of_two_heights_is_the_spread_of_a_and_b(a: float, b: float, offset: float) -> None:
    """The formula is the law of propagation applied to both heights."""
    steps = [
        (tape_deadrise(a + da, b + db, offset) - tape_deadrise(a - da, b - db, offset)) / 0.02
        for da, db in ((0.01, 0.0), (0.0, 0.01))
    ]
    assert tape_deadrise_u(a, b, offset, 1.3) == pytest.approx(1.3 * math.hypot(*steps), rel=1e-4)


@pytest.mark.parametrize("sign", [-1.0, 1.0], ids=["port", "starboard"])
def test_chord_and_edge_of_a_straight_bottom(sign: float) -> None:
    """Both are positive when the bottom rises outboard, and the same where it is straight."""
    slope = math.tan(math.radians(19.0))
    line = [Place(sign * s, 4.0 + s * slope) for s in (0.0, 200.0, 600.0, 1130.0)]
    assert math.degrees(float(chord_deadrise(line[0], line[-1]))) == pytest.approx(19.0)
    assert math.degrees(float(edge_deadrise(line, fitted_polynomial(line, 1)))) == pytest.approx(19.0)


def test_a_bottom_that_falls_outboard_is_negative() -> None:
    """An inverted V has a negative deadrise on both sides."""
    keel = Place(0.0, 0.0)
    assert math.degrees(float(chord_deadrise(keel, Place(-800.0, -80.0)))) == pytest.approx(-5.7106, abs=1e-4)
    assert math.degrees(float(chord_deadrise(keel, Place(800.0, -80.0)))) == pytest.approx(-5.7106, abs=1e-4)


@pytest.mark.parametrize("sign", [-1.0, 1.0], ids=["port", "starboard"])
def test_sensitivities_of_chord_and_edge(sign: float) -> None:
    """Chord and edge carry the derivatives of their values by every coordinate, along the edge as well as across."""

    def chord(n: list[Number]) -> Number:
        return chord_deadrise(*places(n))

    assert_sensitivities(chord, [3.0, -2.0, sign * 1130.0, 389.0])  # type: ignore[arg-type]
    edge = [sign * 150.0, 60.0, sign * 420.0, 140.0, sign * 800.0, 281.0, sign * 1100.0, 371.0]
    # The fit refers each y to the x it was read at with the slope of the fit, so its share of the scatter remains.
    assert_sensitivities(lambda n: edge_deadrise(places(n), fitted_polynomial(places(n), 1)), edge, rel=0.02)
