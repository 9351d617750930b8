"""Where a quantity's variance comes from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.adjustment.budget import source_matrix, variance_by_source
from digitizer.adjustment.observations import Row, System
from digitizer.adjustment.solve import adjust
from tests.adjustment.networks import linear


def row(source: str, split: tuple[tuple[str, float], ...] = ()) -> Row:
    return Row("", "", "", source, "mm", 1.0, split=split)


def test_sources_come_in_order_of_appearance() -> None:
    """Rows of one source share a column."""
    names, shares = source_matrix([row("marks"), row("tape"), row("marks")])
    assert names == ("marks", "tape")
    assert shares.tolist() == [[1, 0], [0, 1], [1, 0]]


def test_a_row_may_have_several_sources() -> None:
    """Shares of its variance, added where one is named twice."""
    names, shares = source_matrix([row("unused", (("end", 0.25), ("reading", 0.5), ("end", 0.25)))])
    assert names == ("end", "reading")
    assert shares.tolist() == [[0.5, 0.5]]


@given(st.integers(0, 10**6))
def test_contributions_sum_to_the_variance(seed: int) -> None:
    """Nothing is lost and nothing counted twice."""
    random = np.random.default_rng(seed)
    system = System(3, [linear(random.normal(size=(9, 3)) + 3 * np.eye(9, 3), random.normal(size=9), 0.3)])
    for i in range(9):
        system.rows[i] = row(f"source {i % 4}", (("a", 0.3), (f"source {i % 4}", 0.7)) if i % 2 else ())
    estimate = adjust(system, np.zeros(3), np.ones(3, dtype=bool))
    gradients = random.normal(size=(2, 3))
    by_source = variance_by_source(estimate.influence(gradients), source_matrix(system.rows)[1])
    assert by_source.sum(axis=1) == pytest.approx(np.diag(estimate.covariance_of(gradients)), rel=1e-9)
    assert np.all(by_source >= 0)


def test_a_source_that_is_silenced_takes_its_share_along() -> None:
    """Two independent lengths end to end: each contributes its own variance."""
    system = System(2, [linear(np.eye(2), np.zeros(2), np.array([3.0, 4.0]))])
    estimate = adjust(system, np.zeros(2), np.ones(2, dtype=bool))
    by_source = variance_by_source(estimate.influence(np.array([[1.0, 1.0]])), source_matrix(system.rows)[1])
    assert by_source == pytest.approx(np.array([[9.0, 16.0]]))
