"""The differences between pattern and outline hold the truth within their U; the docs' table is made by the script."""

from __future__ import annotations

import numpy as np
import pytest

from tests.coverage.patterns import compared

pytestmark = pytest.mark.slow

RUNS = 12


@pytest.mark.parametrize("kind", ["bottom edge, by three marks", "bottom edge, by best fit"])
def test_intervals_hold_the_truth(kind: str) -> None:
    """About 95 of 100 differences lie within U, over jobs whose every prior is drawn."""
    found = [compared(kind, seed) for seed in range(9000, 9000 + RUNS)]
    inside = np.mean([np.mean(np.abs(c.errors) <= c.U) for c in found])
    # Differences of one job share camera and lie, so that 12 jobs tell to about 0.04.
    assert 0.87 <= inside <= 0.995
    assert 0.6 <= np.sqrt(np.mean(np.concatenate([2.0 * c.errors / c.U for c in found]) ** 2)) <= 1.35
