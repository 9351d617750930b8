"""Uncertainty budgets: which observations a quantity's variance comes from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from digitizer.adjustment.observations import FloatArray, Row


def source_matrix(rows: Sequence[Row]) -> tuple[tuple[str, ...], FloatArray]:
    """Sources in order of appearance, and the share (m, s) of each row's variance that belongs to each."""
    names: dict[str, int] = {}
    entries: dict[tuple[int, int], float] = defaultdict(float)
    for index, row in enumerate(rows):
        for name, share in row.split or ((row.source, 1.0),):
            entries[index, names.setdefault(name, len(names))] += share
    matrix = np.zeros((len(rows), len(names)))
    for place, share in entries.items():
        matrix[place] = share
    return tuple(names), matrix


def variance_by_source(influence: FloatArray, shares: FloatArray) -> FloatArray:
    """
    Variance of each quantity by source.

    Parameters
    ----------
    influence : (k, m)
        Change of the quantities per whitened unit of each observation, from `Estimate.influence`.
    shares : (m, s)
        From `source_matrix`.

    Returns
    -------
    (k, s)
        Rows sum to the quantity's variance, because the whitened observations are uncorrelated.
    """
    return np.asarray(influence**2 @ shares)
