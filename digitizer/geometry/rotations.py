"""
Rotations by a rotation vector: axis times angle (rad), its matrix, its derivatives and back.

R = cos θ·I + b·[v]× + c·v·vᵀ with b = sin θ/θ, c = (1 − cos θ)/θ² and θ = |v| (Rodrigues). Written with b and c
and their derivatives by θ², nothing is divided by θ, so the neighbourhood of zero needs no other formula.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SERIES_BELOW = 0.04
"""Below this θ² the derivatives of b and c are summed as series, because their closed forms cancel."""


def rotation_matrix(vector: FloatArray) -> FloatArray:
    """
    Matrix (3, 3) of a rotation vector (3,), rad.

    References
    ----------
    O. Rodrigues, J. Math. Pures Appl. 5 (1840) 380.
    """
    x, y, z = vector.tolist()
    angle = math.sqrt(x * x + y * y + z * z)
    return _matrix(x, y, z, math.cos(angle), *_coefficients(angle))


def rotation_matrix_and_derivatives(vector: FloatArray) -> tuple[FloatArray, FloatArray]:
    """
    Matrix of a rotation vector and its derivatives.

    Parameters
    ----------
    vector : (3,), rad

    Returns
    -------
    matrix : (3, 3)
    derivatives : (3, 3, 3), 1/rad
        The first index is the component of the vector.

    References
    ----------
    G. Gallego and A. Yezzi, A compact formula for the derivative of a 3-D rotation in exponential coordinates,
    J. Math. Imaging Vision 51 (2015) 378, doi 10.1007/s10851-014-0528-x. Their formula divides by θ²; here the
    same derivative is taken term by term of Rodrigues' formula, which is regular at zero: a, b and c change along
    v (`along`), and [v]× and v·vᵀ change with each component (`across`).
    """
    x, y, z = vector.tolist()
    square = x * x + y * y + z * z
    angle = math.sqrt(square)
    cosine = math.cos(angle)
    b, c = _coefficients(angle)
    along = _matrix(x, y, z, -b, *_coefficient_slopes(square, cosine, b, c))
    across = (
        (2.0 * c * x, c * y, c * z, c * y, 0.0, -b, c * z, b, 0.0),
        (0.0, c * x, b, c * x, 2.0 * c * y, c * z, -b, c * z, 0.0),
        (0.0, -b, c * x, b, 0.0, c * y, c * x, c * y, 2.0 * c * z),
    )
    derivatives = vector[:, None] * along.ravel() + np.array(across)
    return _matrix(x, y, z, cosine, b, c), derivatives.reshape(3, 3, 3)


def rotation_vector(matrix: FloatArray) -> FloatArray:
    """
    Rotation vector (3,) of a rotation matrix (3, 3), with an angle from 0 to π.

    By way of the unit quaternion, whose largest component is taken from the diagonal; so half turns, where the
    skew part of the matrix vanishes, come out as exactly as any other. The axis of an exact half turn has two
    senses, of which one is returned.

    References
    ----------
    S. W. Shepperd, Quaternion from rotation matrix, J. Guidance and Control 1 (1978) 223.
    """
    quaternion = _quaternion(matrix)
    length = float(np.linalg.norm(quaternion[1:]))
    if length == 0.0:
        return np.zeros(3)
    return np.asarray(quaternion[1:] * (2.0 * math.atan2(length, quaternion[0]) / length))


def _matrix(x: float, y: float, z: float, a: float, b: float, c: float) -> FloatArray:
    """a·I + b·[v]× + c·v·vᵀ of v = (x, y, z), in plain numbers, several times faster than with arrays."""
    return np.array(
        (
            (a + c * x * x, c * x * y - b * z, c * x * z + b * y),
            (c * x * y + b * z, a + c * y * y, c * y * z - b * x),
            (c * x * z - b * y, c * y * z + b * x, a + c * z * z),
        )
    )


def _coefficients(angle: float) -> tuple[float, float]:
    if angle == 0.0:
        return 1.0, 0.5
    half = 0.5 * angle
    return math.sin(angle) / angle, 0.5 * (math.sin(half) / half) ** 2


def _coefficient_slopes(square: float, cosine: float, b: float, c: float) -> tuple[float, float]:
    """Derivatives of b and c by θ²/2, so that db/dv_k = slope·v_k."""
    if square > SERIES_BELOW:
        return (cosine - b) / square, (b - 2.0 * c) / square
    s = square
    b_slope = -1 / 3 + s * (1 / 30 + s * (-1 / 840 + s * (1 / 45360 - s / 3991680)))
    c_slope = -1 / 12 + s * (1 / 180 + s * (-1 / 6720 + s * (1 / 453600 - s / 47900160)))
    return b_slope, c_slope


def _quaternion(matrix: FloatArray) -> FloatArray:
    """Unit quaternion (w, x, y, z) with w ≥ 0."""
    xx, yy, zz = np.diag(matrix)
    skew = np.array([matrix[2, 1] - matrix[1, 2], matrix[0, 2] - matrix[2, 0], matrix[1, 0] - matrix[0, 1]])
    squares = np.array([1.0 + xx + yy + zz, 1.0 + xx - yy - zz, 1.0 - xx + yy - zz, 1.0 - xx - yy + zz])
    largest = int(np.argmax(squares))
    if largest == 0:
        quaternion = np.concatenate(([squares[0]], skew))
    else:
        axis = largest - 1
        quaternion = np.concatenate(([skew[axis]], matrix[axis] + matrix[:, axis]))
        quaternion[largest] = squares[largest]
    quaternion /= np.linalg.norm(quaternion)
    return -quaternion if quaternion[0] < 0.0 else quaternion
