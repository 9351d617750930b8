"""
Reliability: would an error in an observation be noticed, and has one been?

Baarda's data snooping: w = v / (u·√r); the largest |w| above 3.29 names the most suspicious observation, it
is set aside, everything is solved again, one at a time; at the end each is asked whether it may come back. Where
several observations explain the error equally well, a figure read by hand is taken before a mark, a mark before
nothing; if that leaves more than one, none is named and the search ends, because what remains colours every w.
Where more than a dozen would have to go, or where one more unknown of the model explains more than the worst
observation does, it is not the observations that are wrong, and none is set aside.

References
----------
P. Teunissen, Testing Theory, Delft 2000, ch. 4 (of several alternative hypotheses the likeliest has the largest test
value).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT, BoolArray, FloatArray, Row, System
from digitizer.adjustment.shifts import Displaced, Shift, likeliest_shift
from digitizer.adjustment.solve import Estimate, RankDefect, adjust
from digitizer.adjustment.statistics import DELTA_0, W_CRITICAL
from digitizer.errors import NotConvergedError

UNCHECKED = 1e-3
"""A redundancy number below this: nothing checks the observation."""
INSEPARABLE = 0.995
"""Correlation of two w above which an error in one can't be told from an error in the other."""
MAX_REJECTIONS = 12
OWN_LEVERAGE = 1e-3
"""Leverage at the reduced weight above which a rejected row still determines something by itself."""


@dataclass(frozen=True)
class Suspicion:
    """Rows that one error fits equally well, so that none of them can be named."""

    rows: tuple[int, ...]
    w: float


@dataclass(frozen=True)
class Rejection:
    """An observation that was set aside, with the others that would explain the error as well."""

    row: int
    w: float
    rivals: tuple[int, ...] = ()
    displaced: Displaced | None = None
    """The shift for which a whole group of rows was set aside."""


@dataclass(frozen=True)
class Snooped:
    """The adjustment after data snooping: what was set aside, in order, and an error that can't be placed."""

    estimate: Estimate
    rejected: BoolArray
    rejections: tuple[Rejection, ...] = ()
    undecided: tuple[Suspicion, ...] = ()
    ambiguous: tuple[Displaced, ...] = ()
    """Shifts that others explain as well, so that none was set aside."""
    too_many: bool = False
    """More misfits than slips of the hand explain, so that none was set aside: an assumption is wrong."""


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
    suspects: BoolArray | None = None,
    rival: Callable[[Estimate, BoolArray], float] | None = None,
    shifts: Sequence[Shift] = (),
    known: Displaced | None = None,
) -> Snooped:
    """
    Adjust with data snooping; see the module's text and `solve.adjust` for the parameters.

    `suspects` (m,) are rows set aside from the start, because with them least squares would settle on something that
    isn't there; they come back at the end if they fit. `rival` gives the test value, comparable with w, of another
    explanation of what an estimate without some rows leaves over; `shifts` are groups of rows that may be displaced
    together, and are then set aside together, `known` is one of them that is set aside from the start.
    """
    rejected = np.zeros(len(system.rows), dtype=bool) if suspects is None else suspects.copy()
    if known is not None:
        rejected[known.shift.rows] = True
    first = estimate = adjust(system, start, free, rejected, cancelled)
    rejections = _suspected(estimate, rejected, system.rows) if known is None else []
    if known is not None:
        rejections.append(Rejection(int(known.shift.rows[0]), known.w, displaced=known))
    undecided: tuple[Suspicion, ...] = ()
    while True:
        worst = _most_suspicious(estimate, system.rows)
        if worst is None:
            break
        largest = abs(float(standardised_residuals(estimate)[worst]))
        moved = likeliest_shift(system, estimate, shifts) if shifts else None
        if rival is not None and rival(estimate, rejected) > max(largest, moved.w if moved is not None else 0.0):
            return Snooped(first, np.zeros_like(rejected), too_many=True)
        if moved is not None and moved.w > largest:
            if moved.rivals:
                return Snooped(first, np.zeros_like(rejected), ambiguous=(moved,))
            rejected = rejected.copy()
            rejected[moved.shift.rows] = True
            estimate = adjust(system, estimate.x, free, rejected, cancelled)
            rejections.append(Rejection(int(moved.shift.rows[0]), moved.w, displaced=moved))
            continue
        alike = _inseparable(estimate, system.rows, worst)
        suspect = _likeliest(system.rows, alike)
        w = float(standardised_residuals(estimate)[worst if suspect is None else suspect])
        if suspect is None:
            undecided = (Suspicion(alike, w),)
            break
        without = rejected | _group_of(system.rows, suspect)
        try:
            estimate = adjust(system, estimate.x, free, without, cancelled)
        except (RankDefect, NotConvergedError):
            undecided = (Suspicion((suspect,), w),)
            break
        rejected = without
        if len(rejections) == MAX_REJECTIONS:
            return Snooped(first, np.zeros_like(rejected), too_many=True)
        rejections.append(Rejection(suspect, w, tuple(i for i in alike if i != suspect)))
    found = Snooped(estimate, rejected, tuple(rejections), undecided)
    if len(rejections) > 1 or suspects is not None:
        return _restored(system, free, found, cancelled)
    return found


def _suspected(estimate: Estimate, rejected: BoolArray, rows: list[Row]) -> list[Rejection]:
    """A rejection for each group that was set aside from the start, led by its worst row."""
    whole = np.abs(estimate.residuals) / REJECTED_WEIGHT
    groups: dict[str, int] = {}
    for i in np.flatnonzero(rejected).tolist():
        name = rows[i].group or str(i)
        groups[name] = max(groups.get(name, i), i, key=lambda row: whole[row])
    return [Rejection(i, float(estimate.residuals[i]) / REJECTED_WEIGHT) for i in groups.values()]


def _most_suspicious(estimate: Estimate, rows: list[Row]) -> int | None:
    w = np.abs(np.nan_to_num(standardised_residuals(estimate)))
    w[~(estimate.used & np.array([row.rejectable for row in rows], dtype=bool))] = 0.0
    worst = int(np.argmax(w)) if len(w) else 0
    return worst if len(w) and w[worst] > W_CRITICAL else None


def _likeliest(rows: list[Row], alike: tuple[int, ...]) -> int | None:
    """The one of several inseparable rows to set aside; none where more than one group is as likely."""
    candidates = [i for i in alike if rows[i].misread] or list(alike)
    groups = {rows[i].group or str(i) for i in candidates}
    return candidates[0] if len(groups) == 1 else None


def _inseparable(estimate: Estimate, rows: list[Row], suspect: int) -> tuple[int, ...]:
    """Rows of other groups whose w moves with the suspect's, the suspect among them."""
    r = estimate.redundancy_numbers
    candidates = np.flatnonzero(
        estimate.used & (r > UNCHECKED) & np.array([row.rejectable for row in rows], dtype=bool)
    )
    cofactor = -estimate.likeness(candidates, suspect)
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


def rejected_by(rejection: Rejection, rows: list[Row]) -> BoolArray:
    """Rows (m,) that were set aside together."""
    if rejection.displaced is None:
        return _group_of(rows, rejection.row)
    members = np.zeros(len(rows), dtype=bool)
    members[rejection.displaced.shift.rows] = True
    return members


def _predicted(estimate: Estimate, members: BoolArray) -> FloatArray:
    """
    Standardised residuals of rows that took no part: their misfit over its own and the solution's uncertainty.

    Asked before a row is let in again, because one far off would draw the solution to a place where its residual
    says nothing. Rows that alone determine an unknown of their own are judged by their own redundancy.
    """
    residuals = estimate.residuals[members] / REJECTED_WEIGHT
    leverage = estimate.leverages[members]
    alone = leverage > OWN_LEVERAGE
    variance = np.where(alone, np.maximum(1.0 - leverage, UNCHECKED), 1.0 + leverage / REJECTED_WEIGHT**2)
    return np.asarray(residuals / np.sqrt(variance))


def _restored(system: System, free: BoolArray, found: Snooped, cancelled: Callable[[], bool] | None) -> Snooped:
    """Take rejected observations back, the first one first, where they fit the final solution."""
    estimate, rejected = found.estimate, found.rejected
    standing = list(found.rejections)
    for rejection in found.rejections:
        members = rejected_by(rejection, system.rows)
        if np.any(np.abs(_predicted(estimate, members)) > W_CRITICAL):
            continue
        try:
            trial = adjust(system, estimate.x, free, rejected & ~members, cancelled)
        except NotConvergedError:
            continue
        if np.all(np.abs(np.nan_to_num(standardised_residuals(trial)[members])) < W_CRITICAL):
            estimate, rejected = trial, rejected & ~members
            standing.remove(rejection)
    return replace(found, estimate=estimate, rejected=rejected, rejections=tuple(standing))
