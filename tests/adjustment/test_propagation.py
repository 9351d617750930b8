"""Values that carry their derivatives, against difference quotients and plain floats."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.adjustment import propagation as p
from digitizer.adjustment.propagation import Number, Propagated

FORMULAS: dict[str, Callable[[Number, Number], Number]] = {
    "sum": lambda a, b: a + b + 2.0,
    "sum-from-the-left": lambda a, b: 2.0 + a,
    "difference": lambda a, b: a - b - 1.0,
    "difference-from-the-left": lambda a, b: 3.0 - a,
    "minus": lambda a, b: -a,
    "product": lambda a, b: a * b * 3.0,
    "product-from-the-left": lambda a, b: 3.0 * b,
    "quotient": lambda a, b: a / b / 2.0,
    "quotient-from-the-left": lambda a, b: 2.0 / b,
    "square-root": lambda a, b: p.sqrt(a * b),
    "sine": lambda a, b: p.sin(a * b),
    "cosine": lambda a, b: p.cos(a - b),
    "arc-tangent": lambda a, b: p.atan(a / b),
    "direction": lambda a, b: p.atan2(a - 2.0, b),
    "direction-of-a-number-and-a-value": lambda a, b: p.atan2(2.0, b),
    "direction-of-a-value-and-a-number": lambda a, b: p.atan2(a, -2.0),
    "length": lambda a, b: p.hypot(a, b, 3.0),
    "weighted-sum": lambda a, b: p.dot([2.0, -1.0, 0.5], [a, b, 7.0]),
}
positive = st.floats(0.5, 4.0)


@pytest.mark.parametrize("formula", FORMULAS.values(), ids=FORMULAS)
@given(positive, positive)
def test_derivatives_agree_with_differences(formula: Callable[[Number, Number], Number], a: float, b: float) -> None:
    """The value is that of plain floats and the gradient that of difference quotients."""
    found = formula(Propagated(a, np.array([1.0, 0.0])), Propagated(b, np.array([0.0, 1.0])))
    assert isinstance(found, Propagated)
    assert float(found) == pytest.approx(float(formula(a, b)), rel=1e-15)
    h = 1e-6
    by_a = (float(formula(a + h, b)) - float(formula(a - h, b))) / (2 * h)
    by_b = (float(formula(a, b + h)) - float(formula(a, b - h))) / (2 * h)
    assert found.gradient == pytest.approx([by_a, by_b], abs=2e-7)  # rounding of values up to 100


@pytest.mark.parametrize("formula", FORMULAS.values(), ids=FORMULAS)
def test_floats_stay_floats(formula: Callable[[Number, Number], Number]) -> None:
    """Written once, a formula serves plain numbers too."""
    assert isinstance(formula(1.5, 2.5), float)


def test_common_parameters_stay_common() -> None:
    """The difference of a value and itself is certain."""
    a = Propagated(3.0, np.array([2.0, 5.0]))
    assert (a - a).gradient.tolist() == [0.0, 0.0]
    assert (a / a).gradient == pytest.approx([0.0, 0.0])


def test_root_of_zero_has_no_first_order() -> None:
    """Zero instead of infinity or NaN."""
    root = p.sqrt(Propagated(0.0, np.array([1.0])))
    assert isinstance(root, Propagated)
    assert (root.value, root.gradient.tolist()) == (0.0, [0.0])


def test_gradients_of_mixed_numbers() -> None:
    """Plain numbers have rows of zeros."""
    rows = p.gradients([Propagated(1.0, np.array([1.0, 2.0])), 4.0], 2)
    assert rows.tolist() == [[1.0, 2.0], [0.0, 0.0]]


def test_direction_agrees_with_the_library_in_all_quadrants() -> None:
    """Signs as in atan2."""
    for angle in (0.3, 2.0, -2.0, -0.3):
        y, x = 2 * math.sin(angle), 2 * math.cos(angle)
        found = p.atan2(Propagated(y, np.array([1.0, 0.0])), Propagated(x, np.array([0.0, 1.0])))
        assert isinstance(found, Propagated)
        assert found.value == pytest.approx(angle)
        assert found.gradient == pytest.approx([x / 4, -y / 4])
