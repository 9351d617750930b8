"""
Reliability: would an error in an observation be noticed, and has one been?

Baarda's data snooping: w = v / (u·√r); the largest |w| above 3.29 names the most suspicious observation, it
is set aside, everything is solved again, one at a time; at the end each is asked whether it may come back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import BoolArray, FloatArray, Row, System
from digitizer.adjustment.solve import Estimate, RankDefect, adjust
from digitizer.adjustment.statistics import DELTA_0, W_CRITICAL

UNCHECKED = 1e-3
"""A redundancy number below this: nothing checks the observation."""
INSEPARABLE = 0.995
"""Correlation of two w above which an error in one can't be told from an error in the other."""
MAX_REJECTIONS = 12


@dataclass(frozen=True)
class Suspicion:
    """Rows that one error fits equally well, so that none of them can be named."""

    rows: tuple[int, ...]
    w: float


@dataclass(frozen=True)
class Snooped:
    """The adjustment after data snooping."""

    estimate: Estimate
    rejected: BoolArray
    order: tuple[int, ...]
    """Leading row of each rejection that stands, in the order they were made."""
    w_when_rejected: tuple[float, ...]
    undecided: tuple[Suspicion, ...]


def standardised_residuals(estimate: Estimate) -> FloatArray:
    """
    Standardised residuals w = v / (u·√r).

    Returns
    -------
    (m,)
        NaN where the redundancy number is too small for the observation to be checked.

    References
    ----------
    W. Baarda, A testing procedure for use in geodetic networks, Netherlands Geodetic Commission, 1968.
    """
    r = estimate.redundancy_numbers
    checked = r > UNCHECKED
    return np.where(checked, estimate.residuals / np.sqrt(np.where(checked, r, 1.0)), np.nan)


def minimal_detectable_errors(estimate: Estimate) -> FloatArray:
    """Smallest error (m,), in units of u, that the w-test finds with 80 % power; infinite where unchecked."""
    r = estimate.redundancy_numbers
    checked = r > UNCHECKED
    return np.where(checked, DELTA_0 / np.sqrt(np.where(checked, r, 1.0)), np.inf)


def snooped(
    system: System,
    start: FloatArray,
    free: BoolArray,
    cancelled: Callable[[], bool] | None = None,
) -> Snooped:
    """Adjust with data snooping; see the module's text and `solve.adjust` for the parameters."""
    rejected = np.zeros(len(system.rows), dtype=bool)
    estimate = adjust(system, start, free, rejected, cancelled)
    order: list[int] = []
    values: list[float] = []
    undecided: list[Suspicion] = []
    for _ in range(MAX_REJECTIONS):
        suspect = _most_suspicious(estimate, system.rows, undecided)
        if suspect is None:
            break
        rivals = _inseparable(estimate, system.rows, suspect)
        w = float(standardised_residuals(estimate)[suspect])
        if len(rivals) > 1:
            undecided.append(Suspicion(rivals, w))
            continue
        without = rejected | _group_of(system.rows, suspect)
        try:
            estimate = adjust(system, estimate.x, free, without, cancelled)
        except RankDefect:
            undecided.append(Suspicion((suspect,), w))
            continue
        rejected = without
        order.append(suspect)
        values.append(w)
    return _restored(
        system, free, Snooped(estimate, rejected, tuple(order), tuple(values), tuple(undecided)), cancelled
    )


def _most_suspicious(estimate: Estimate, rows: list[Row], undecided: list[Suspicion]) -> int | None:
    w = np.abs(np.nan_to_num(standardised_residuals(estimate)))
    allowed = estimate.used & np.array([row.rejectable for row in rows], dtype=bool)
    for suspicion in undecided:
        allowed[list(suspicion.rows)] = False
    w[~allowed] = 0.0
    worst = int(np.argmax(w)) if len(w) else 0
    return worst if len(w) and w[worst] > W_CRITICAL else None


def _inseparable(estimate: Estimate, rows: list[Row], suspect: int) -> tuple[int, ...]:
    """Rows of other groups whose w moves with the suspect's, the suspect among them."""
    r = estimate.redundancy_numbers
    candidates = np.flatnonzero(
        estimate.used & (r > UNCHECKED) & np.array([row.rejectable for row in rows], dtype=bool)
    )
    cofactor = -(estimate.q[candidates] @ estimate.q[suspect])
    cofactor[candidates == suspect] = r[suspect]
    correlation = np.abs(cofactor) / np.sqrt(r[candidates] * r[suspect])
    alike = candidates[correlation > INSEPARABLE]
    group = rows[suspect].group
    return tuple(int(i) for i in alike if i == suspect or not group or rows[i].group != group)


def _group_of(rows: list[Row], index: int) -> BoolArray:
    group = rows[index].group
    members = np.array([bool(group) and row.group == group for row in rows], dtype=bool)
    members[index] = True
    return members


def _restored(system: System, free: BoolArray, found: Snooped, cancelled: Callable[[], bool] | None) -> Snooped:
    """Take rejected observations back, the first one first, where they fit the final solution."""
    estimate, rejected = found.estimate, found.rejected
    standing = list(zip(found.order, found.w_when_rejected, strict=True))
    if len(standing) < 2:
        return found
    for index, w in list(standing):
        members = _group_of(system.rows, index)
        trial = adjust(system, estimate.x, free, rejected & ~members, cancelled)
        others = np.abs(np.nan_to_num(standardised_residuals(trial)[members]))
        if np.all(others < W_CRITICAL):
            estimate, rejected = trial, rejected & ~members
            standing.remove((index, w))
    order, values = tuple(i for i, _ in standing), tuple(w for _, w in standing)
    return Snooped(estimate, rejected, order, values, found.undecided)
