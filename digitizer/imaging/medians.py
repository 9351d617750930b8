"""Medians of small arrays: a sort costs a tenth of NumPy's median, which counts where a snap takes dozens of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def median(values: NDArray[np.floating]) -> float:
    """Median of values (n,), none of them NaN; NaN where there are none."""
    count = len(values)
    if count == 0:
        return float("nan")
    ordered = np.sort(values)
    return float(ordered[(count - 1) // 2] + ordered[count // 2]) / 2.0
