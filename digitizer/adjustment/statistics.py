"""
Critical values of the tests: chi-square, normal, Baarda's delta and Pope's tau.

`scipy.special` is used instead of `scipy.stats`, which takes longer to import than a whole adjustment.
"""

from __future__ import annotations

import math

from scipy import special

SNOOPING_LEVEL = 0.001
"""Significance of one w-test (Baarda 1968): 0.1 %."""
SNOOPING_POWER = 0.80


def normal_quantile(p: float) -> float:
    """Value that a standard normal variable stays below with probability `p`."""
    return float(special.ndtri(p))


W_CRITICAL = normal_quantile(1.0 - SNOOPING_LEVEL / 2.0)
"""3.2905: |w| above it names an outlier."""
DELTA_0 = W_CRITICAL + normal_quantile(SNOOPING_POWER)
"""4.1321: shift of w that the test finds with a power of 80 %."""


def chi_square_quantile(p: float, degrees_of_freedom: float) -> float:
    """Value that a chi-square variable stays below with probability `p`."""
    return float(special.chdtri(degrees_of_freedom, 1.0 - p))


def chi_square_band(degrees_of_freedom: float, level: float = 0.95) -> tuple[float, float]:
    """Two-sided band that holds a chi-square variable with probability `level`."""
    tail = (1.0 - level) / 2.0
    return chi_square_quantile(tail, degrees_of_freedom), chi_square_quantile(1.0 - tail, degrees_of_freedom)


def student_quantile(p: float, degrees_of_freedom: float) -> float:
    """Value that a Student variable stays below with probability `p`."""
    return float(special.stdtrit(degrees_of_freedom, p))


def tau_critical(degrees_of_freedom: int, level: float) -> float:
    """
    Critical value of Pope's tau, the residual standardised by the a posteriori variance factor.

    Parameters
    ----------
    degrees_of_freedom
        Redundancy of the adjustment, at least 2.
    level
        Two-sided significance of one test.

    Raises
    ------
    ValueError
        With fewer than two degrees of freedom: then every |tau| is 1 and no outlier can be located.

    References
    ----------
    A. J. Pope, The statistics of residuals and the detection of outliers, NOAA Technical Report NOS 65
    NGS 1, 1976.
    """
    if degrees_of_freedom < 2:
        raise ValueError(f"tau needs at least 2 degrees of freedom, got {degrees_of_freedom}")
    t = student_quantile(1.0 - level / 2.0, degrees_of_freedom - 1)
    return math.sqrt(degrees_of_freedom) * t / math.sqrt(degrees_of_freedom - 1 + t * t)
