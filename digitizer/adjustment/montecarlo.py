"""
Distributions by drawing, for quantities where first order fails, such as straightness or a rise near zero.

JCGM 101:2008 propagates whole distributions: draw the inputs, compute the quantity of each draw, and read the
coverage interval off the sorted values.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.solve import Adjusted


def sampled(estimate: Adjusted, quantities: Callable[[FloatArray], FloatArray], draws: int, seed: int) -> FloatArray:
    """
    Quantities of parameters drawn from the estimate's covariance.

    Parameters
    ----------
    estimate
        Its parameters are taken as normally distributed.
    quantities
        Gives the quantities (k,), or one, of all parameters (n,).
    draws
        Number d of draws.
    seed
        Same seed, same draws.

    Returns
    -------
    (d,) or (d, k)
    """
    every_parameter = np.eye(len(estimate.x))
    x = estimate.x + sampled_deviations(estimate, every_parameter, draws, seed)
    return np.array([quantities(row) for row in x])


def sampled_deviations(estimate: Adjusted, gradients: FloatArray, draws: int, seed: int) -> FloatArray:
    """
    Deviations (d, k) of quantities with the given derivatives (k, n), drawn jointly from the estimate's covariance.

    For functions of quantities that are themselves well described to first order, such as the largest of many
    distances from a line: much cheaper than computing each quantity anew for each draw.
    """
    # The symmetric root is unique, so that the draws don't depend on the order of the parameters behind the quantities.
    variances, axes = np.linalg.eigh(estimate.covariance_of(gradients))
    root = axes * np.sqrt(np.maximum(variances, 0.0)) @ axes.T
    return np.asarray((root.T @ standard_draws(draws, len(root), seed).T).T)


@lru_cache(maxsize=16)
def standard_draws(draws: int, count: int, seed: int) -> FloatArray:
    """Standard normal draws (d, k), kept: a window asks for the same ones many times a second."""
    drawn = np.asfortranarray(np.random.default_rng(seed).standard_normal((draws, count)))
    drawn.flags.writeable = False
    return drawn


def coverage_interval(values: FloatArray, level: float = 0.95, shortest: bool = True) -> tuple[float, float]:
    """
    Interval that holds the share `level` of drawn values.

    Parameters
    ----------
    values : (d,)
    level
        Coverage probability, between 0 and 1.
    shortest
        The shortest such interval; otherwise the one that leaves equal shares on both sides.

    Raises
    ------
    ValueError
        With too few draws for the level: fewer than 1/(1 − level).

    References
    ----------
    JCGM 101:2008, 7.7: the interval from the r-th to the (r + q)-th sorted value, q the integer part of
    level·d + 1/2; r = (d − q)/2 for equal shares.
    """
    ordered = np.sort(values)
    count = len(ordered)
    span = math.floor(level * count + 0.5)
    if not 0 < span < count:
        raise ValueError(f"{count} draws are too few for a coverage of {level}")
    widths = ordered[span:] - ordered[: count - span]
    first = int(np.argmin(widths)) if shortest else (count - span + 1) // 2 - 1
    return float(ordered[first]), float(ordered[first + span])
