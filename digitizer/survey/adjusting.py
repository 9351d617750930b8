"""A network adjusted from its start values, with data snooping, and the adjustment as a whole."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from digitizer.adjustment.reliability import Snooped, snooped
from digitizer.adjustment.shifts import shift_that_hinders
from digitizer.adjustment.solve import Estimate, RankDefect, adjust
from digitizer.adjustment.statistics import chi_square_band
from digitizer.errors import NotConvergedError
from digitizer.survey.checks import explained
from digitizer.survey.model import Adjustment
from digitizer.survey.network import Network
from digitizer.survey.shape import BesideFlat
from digitizer.survey.start import start_values

SAME_FIT = 9.0
"""Two solutions whose square sums differ by less than this can't be told apart (three standard deviations)."""


def adjusted(
    network: Network, cancelled: Callable[[], bool] | None = None, beside_flat: BesideFlat | None = None
) -> tuple[Snooped, Estimate | None]:
    """Adjustment with data snooping, and a second solution from a mirrored pose where that fits as well."""
    system = network.system
    free = network.layout.free
    rival = beside_flat.test_value if beside_flat is not None else None
    try:
        start = start_values(network, system)
        try:
            found = snooped(system, start.x, free, cancelled, start.suspects, rival, network.shifts)
        except NotConvergedError:
            moved = shift_that_hinders(system, start.x, free, network.shifts)
            if moved is None:
                raise
            found = snooped(system, start.x, free, cancelled, rival=rival, shifts=network.shifts, known=moved)
        if start.twin is None:
            return found, None
        other = adjust(system, start.twin, free, found.rejected, cancelled)
        if other.weighted_square_sum < found.estimate.weighted_square_sum:
            found = snooped(system, start.twin, free, cancelled, start.suspects, rival, network.shifts)
            other = adjust(system, start.x, free, found.rejected, cancelled)
        close = other.weighted_square_sum - found.estimate.weighted_square_sum < SAME_FIT
        return found, other if close else None
    except RankDefect as defect:
        raise explained(network, defect) from defect


def summary_of(found: Snooped) -> Adjustment:
    """The adjustment as a whole, with its global test."""
    e = found.estimate
    low, high = chi_square_band(e.redundancy) if e.redundancy > 0.5 else (0.0, math.inf)
    plain = Adjustment(
        observations=int(np.sum(e.used)),
        parameters=len(e.free),
        redundancy=e.redundancy,
        weighted_square_sum=0.0,
        variance_factor=1.0,
        test_lower=low,
        test_upper=high,
        accepted=True,
        scaled_by=1.0,
        iterations=e.iterations,
    )
    return summarised(plain, e.weighted_square_sum)


def summarised(a: Adjustment, weighted_square_sum: float) -> Adjustment:
    """The adjustment as a whole with another weighted square sum, and the global test of that."""
    factor = weighted_square_sum / a.redundancy if a.redundancy > 1e-6 else 1.0
    accepted = weighted_square_sum <= a.test_upper
    return replace(
        a,
        weighted_square_sum=weighted_square_sum,
        variance_factor=factor,
        accepted=accepted,
        scaled_by=1.0 if accepted else max(1.0, math.sqrt(factor)),
    )
