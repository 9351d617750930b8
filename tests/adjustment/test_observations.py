"""Blocks of observations joined over one parameter vector."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.adjustment.observations import Priors, Row, System
from digitizer.adjustment.solve import adjust
from tests.adjustment.networks import linear


def prior(u: float, label: str = "prior") -> Row:
    return Row(label, label, "prior", "priors", "mm", u)


def test_prior_is_the_difference_in_standard_uncertainties() -> None:
    """Three millimetres off at u = 2 mm is one and a half."""
    priors = Priors()
    priors.add(1, 7.0, prior(2.0))
    residuals, jacobian = System(3, [priors]).linearised(np.array([0.0, 10.0, 0.0]))
    assert residuals.tolist() == [1.5]
    assert jacobian.tolist() == [[0.0, 0.5, 0.0]]


def test_blocks_keep_their_order_and_empty_ones_are_left_out() -> None:
    """Rows of the whole are the rows of its blocks, one after another."""
    priors = Priors()
    priors.add(0, 1.0, prior(1.0))
    system = System(2, [Priors(), linear(np.eye(2), np.zeros(2)), Priors(), priors])
    assert len(system.blocks) == 2
    assert [row.label for row in system.rows] == ["0", "1", "prior"]
    assert system.slices == [slice(0, 2), slice(2, 3)]
    assert system.residuals(np.array([3.0, 4.0])).tolist() == [3.0, 4.0, 2.0]


def test_residuals_alone_equal_those_with_derivatives() -> None:
    """One formula, asked for in two ways."""
    random = np.random.default_rng(1)
    system = System(3, [linear(random.normal(size=(5, 3)), random.normal(size=5), 0.1)])
    x = random.normal(size=3)
    assert system.residuals(x).tolist() == system.linearised(x)[0].tolist()


class ReadingAtAnAngle:
    """One observation of x whose uncertainty grows with x."""

    def __init__(self) -> None:
        self.rows = [prior(1.0, "reading")]

    def reweigh(self, x: np.ndarray) -> None:
        self.rows = [prior(0.1 * abs(float(x[0])), "reading")]

    def fill(self, x: np.ndarray, residuals: np.ndarray, jacobian: np.ndarray | None) -> None:
        residuals[:] = (x[0] - 20.0) / self.rows[0].u
        if jacobian is not None:
            jacobian[0, 0] = 1.0 / self.rows[0].u


def test_uncertainty_that_depends_on_the_solution_is_taken_at_it() -> None:
    """At x = 20 the reading is good to 2, and so is x; the row says so too."""
    system = System(1, [ReadingAtAnAngle()])
    estimate = adjust(system, np.ones(1), np.ones(1, dtype=bool))
    assert np.sqrt(estimate.covariance[0, 0]) == pytest.approx(2.0)
    system.describe()
    assert system.rows[0].u == pytest.approx(2.0)
