"""A pattern laid on an outline: shift and turn come back, by marks and by the edge, whichever face is up."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from digitizer.survey.pattern_fit import Placing, by_edge, by_marks, met
from tests.builders import FloatArray

V = np.array([[-1150.0, 300.0], [-800.0, 280.0], [0.0, 0.0], [500.0, 90.0], [1150.0, 440.0]])
"""A bottom edge whose sides differ, so that it is not its own mirror image."""


def ways(edge: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middles of the pieces of an edge, and the ways out there."""
    along = np.diff(edge, axis=0)
    out = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    middles = [edge[:-1] + share * along for share in (0.2, 0.5, 0.8)]
    return np.vstack(middles), np.vstack([out] * 3)


def on_the_floor(edge: FloatArray, placing: Placing) -> FloatArray:
    """An edge as it lies in a pattern's own plane."""
    return np.asarray((edge - placing.shift) @ np.linalg.inv(placing.matrix).T)


@given(turn=st.floats(-3.1, 3.1), x=st.floats(-900.0, 900.0), y=st.floats(-900.0, 900.0), mirrored=st.booleans())
def test_edge_finds_its_outline(turn: float, x: float, y: float, mirrored: bool) -> None:
    """However it lies, best fit brings a pattern back onto the outline it was cut to."""
    own = on_the_floor(V, Placing(turn, np.array([x, y]), mirrored))
    placing = by_edge(own, False, *ways(V), mirrored)
    assert placing is not None
    assert np.abs(placing.of(own) - V).max() < 1e-3  # mm; steps end at 1e-7


@given(turn=st.floats(-3.1, 3.1), mirrored=st.booleans())
def test_marks_put_a_pattern_in_place(turn: float, mirrored: bool) -> None:
    """Two points suffice, and three that disagree are met in the mean."""
    own = on_the_floor(V, Placing(turn, np.array([30.0, -80.0]), mirrored))
    seen = np.ones((2, 2), dtype=bool)
    placing = by_marks(own[[0, 4]], V[[0, 4]], seen, mirrored, None)
    assert placing is not None
    assert np.abs(placing.of(own) - V).max() < 1e-6


def test_three_marks_are_met_as_another_library_meets_them() -> None:
    """Marks that don't quite fit: turn and what is left are those of scipy's rotation between vectors."""
    own = V[[0, 2, 4]] + np.array([[3.0, -2.0], [-4.0, 1.0], [2.0, 5.0]])
    placing = by_marks(own, V[[0, 2, 4]], np.ones((3, 2), dtype=bool), False, None)
    assert placing is not None
    wanted, given = (np.column_stack([p - p.mean(axis=0), np.zeros(3)]) for p in (V[[0, 2, 4]], own))
    turn, left = Rotation.align_vectors(wanted, given)
    assert placing.turn == pytest.approx(turn.as_rotvec()[2], abs=1e-9)
    assert np.linalg.norm(placing.of(own) - V[[0, 2, 4]]) == pytest.approx(left, rel=1e-6)


def test_point_and_line_put_a_pattern_in_place() -> None:
    """Two places on the centreline and one point hold shift and turn, beginning from a rough start."""
    true = Placing(0.3, np.array([30.0, -80.0]))
    places = np.array([[0.0, 100.0], [0.0, 700.0], [-1150.0, 380.0]])
    seen = np.array([[True, False], [True, False], [True, True]])
    placing = by_marks(on_the_floor(places, true), places, seen, False, true.moved(np.array([20.0, -30.0, 0.2])))
    assert placing is not None
    assert placing.turn == pytest.approx(0.3, abs=1e-9)


def test_marks_on_one_line_hold_nothing() -> None:
    """Two places on the centreline leave the height open."""
    places = np.array([[0.0, 100.0], [0.0, 700.0]])
    seen = np.array([[True, False], [True, False]])
    assert by_marks(places, places, seen, False, Placing(0.0, np.zeros(2))) is None


def test_wrong_face_fits_worse() -> None:
    """An outline whose sides differ is told from its mirror image."""
    own = on_the_floor(V, Placing(0.2, np.zeros(2), True))
    places, outward = ways(V)
    offs = []
    for mirrored in (True, False):
        placing = by_edge(own, False, places, outward, mirrored)
        assert placing is not None
        offs.append(float(np.abs(met(placing.of(own), False, places, outward).off).max()))
    assert offs[0] < 1e-3 < 5.0 < offs[1]


def test_distance_is_taken_along_the_way_out() -> None:
    """An edge 5 mm below a level outline stands 5 mm outside it; a slanting way out is longer by its secant."""
    edge = np.array([[-100.0, -5.0], [100.0, -5.0]])
    slant = math.radians(60.0)
    outward = np.array([[0.0, -1.0], [math.sin(slant), -math.cos(slant)]])
    m = met(edge, False, np.zeros((2, 2)), outward)
    assert m.off == pytest.approx([5.0, 10.0])
    assert m.slope[0] == pytest.approx([0.0, -1.0])


def test_open_edge_reaches_a_little_past_its_end() -> None:
    """A place 20 mm past the last mark still meets the edge carried on; one 40 mm past it does not."""
    edge = np.array([[-100.0, 0.0], [100.0, 0.0]])
    places = np.array([[120.0, 1.0], [140.0, 1.0]])
    assert met(edge, False, places, np.array([[0.0, -1.0]] * 2)).which.tolist() == [0]
