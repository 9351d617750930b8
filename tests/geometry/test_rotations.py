"""Rotation vectors, also where formulas like to break: at zero and at half a turn."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from digitizer.geometry.rotations import (
    SERIES_BELOW,
    rotation_matrix,
    rotation_matrix_and_derivatives,
    rotation_vector,
)

AXIS = np.array([2.0, -3.0, 6.0]) / 7.0
ANGLES = [
    pytest.param(0.0, id="zero"),
    pytest.param(1e-9, id="tiny"),
    pytest.param(1e-3, id="milliradian"),
    pytest.param(math.sqrt(SERIES_BELOW) * (1 - 1e-9), id="series-end"),
    pytest.param(math.sqrt(SERIES_BELOW) * (1 + 1e-9), id="closed-form-start"),
    pytest.param(1.0, id="one"),
    pytest.param(math.pi - 1e-9, id="nearly-half-turn"),
    pytest.param(math.pi, id="half-turn"),
    pytest.param(5.0, id="past-half-turn"),
]
vectors = st.lists(st.floats(-1.8, 1.8), min_size=3, max_size=3).map(np.array)


@pytest.mark.parametrize("angle", ANGLES)
def test_matrix_agrees_with_scipy_and_opencv(angle: float) -> None:
    """Two other programs make the same matrix."""
    matrix = rotation_matrix(angle * AXIS)
    assert matrix == pytest.approx(Rotation.from_rotvec(angle * AXIS).as_matrix(), abs=1e-14)
    assert matrix == pytest.approx(cv2.Rodrigues(angle * AXIS)[0], abs=1e-12)  # its matrix is coarser near zero


@pytest.mark.parametrize("angle", ANGLES)
def test_derivatives_agree_with_differences(angle: float) -> None:
    """Derivatives are those of the matrix, at zero too."""
    vector, step = angle * AXIS, 1e-6
    matrix, derivatives = rotation_matrix_and_derivatives(vector)
    numeric = [
        (rotation_matrix(vector + step * e) - rotation_matrix(vector - step * e)) / (2 * step) for e in np.eye(3)
    ]
    assert matrix == pytest.approx(rotation_matrix(vector), abs=1e-15)
    assert derivatives == pytest.approx(np.array(numeric), abs=1e-9)  # rounding of the difference quotient


@pytest.mark.parametrize("angle", [0.19, 0.21, 1.0, 3.0])
def test_derivatives_agree_with_the_compact_formula(angle: float) -> None:
    """The published formula (Gallego and Yezzi 2015, eq. 9) gives the same figures away from zero."""
    v = angle * AXIS
    R, derivatives = rotation_matrix_and_derivatives(v)

    def cross(a: np.ndarray) -> np.ndarray:
        return np.array([[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])

    for k, e in enumerate(np.eye(3)):
        published = (v[k] * cross(v) + cross(np.cross(v, (np.eye(3) - R) @ e))) @ R / (v @ v)
        assert derivatives[k] == pytest.approx(published, abs=1e-13)


@given(vectors)
def test_vector_survives_the_way_through_its_matrix(vector: np.ndarray) -> None:
    """The vector of a vector's matrix is the vector, or the same rotation the shorter way round."""
    matrix = rotation_matrix(vector)
    back = rotation_vector(matrix)
    assert np.linalg.norm(back) <= math.pi + 1e-12
    assert rotation_matrix(back) == pytest.approx(matrix, abs=1e-13)
    if np.linalg.norm(vector) < math.pi - 1e-3:
        assert back == pytest.approx(vector, abs=1e-12)


@pytest.mark.parametrize("gap", [0.0, 1e-12, 1e-8, 1e-4])
@pytest.mark.parametrize("axis", [AXIS, -AXIS, *np.eye(3)], ids=["skew", "minus-skew", "x", "y", "z"])
def test_vector_near_half_turn_keeps_its_axis(axis: np.ndarray, gap: float) -> None:
    """The axis of a half turn is found although the matrix is symmetric there."""
    back = rotation_vector(rotation_matrix((math.pi - gap) * axis))
    assert abs(back @ axis) == pytest.approx(math.pi - gap, abs=1e-12)
    assert np.linalg.norm(np.cross(back, axis)) < 1e-12


def test_identity_has_the_zero_vector() -> None:
    """No rotation, no axis."""
    assert rotation_vector(np.eye(3)).tolist() == [0.0, 0.0, 0.0]
