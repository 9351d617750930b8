"""Each observation after the adjustment, in its own unit."""

from __future__ import annotations

import math

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT, Row
from digitizer.adjustment.reliability import Snooped, minimal_detectable_errors, standardised_residuals
from digitizer.survey.model import ObservationResult, ObservationState
from digitizer.survey.network import Network


def observation_results(snooped: Snooped, rows: list[Row]) -> list[ObservationResult]:
    """Results in the order of the rows; angles in degrees."""
    estimate = snooped.estimate
    residuals = np.where(snooped.rejected, estimate.residuals / REJECTED_WEIGHT, estimate.residuals)
    w = np.where(snooped.rejected, residuals, standardised_residuals(estimate))
    detectable = minimal_detectable_errors(estimate)
    return [
        _result(row, *values)
        for row, *values in zip(
            rows,
            residuals.tolist(),
            estimate.redundancy_numbers.tolist(),
            w.tolist(),
            detectable.tolist(),
            snooped.rejected.tolist(),
            strict=True,
        )
    ]


def points_aside(network: Network, snooped: Snooped) -> frozenset[str]:
    """Points all of whose marks were set aside."""
    rows = network.system.rows
    marks = {
        row.subject for row, out in zip(rows, snooped.rejected.tolist(), strict=True) if out and row.kind == "mark"
    }
    return frozenset(info.id for info in network.infos if all(mark.id in marks for mark in info.marks))


def _result(
    row: Row, residual: float, redundancy: float, w: float, detectable: float, rejected: bool
) -> ObservationResult:
    factor, unit = (math.degrees(1.0), "°") if row.unit == "rad" else (1.0, row.unit)
    u = row.u * factor
    return ObservationResult(
        label=row.label,
        subject=row.subject,
        kind=row.kind,
        unit=unit,
        observed=row.observed * factor if row.observed is not None else None,
        residual=residual * u,
        u=u,
        redundancy=redundancy,
        w=w if math.isfinite(w) else None,
        minimal_detectable_error=detectable * u if math.isfinite(detectable) else None,
        state=ObservationState.REJECTED if rejected else ObservationState.USED,
        photo=row.photo,
    )
