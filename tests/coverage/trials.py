"""Trials: simulated jobs and sample photos measured again and again, and how the answers lie about the truth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, Survey
from tests.builders import FloatArray
from tests.simulation import STRICT, Evidence, Precision, Simulated, simulated_job


@dataclass(frozen=True)
class Trial:
    """One measured dimension against the truth, mm or degrees."""

    code: str
    error: float
    u: float
    inside: bool
    """The stated 95 % interval holds the truth."""


def trials(survey: Survey, truth: Mapping[str, float]) -> Iterator[Trial]:
    """Every dimension of a survey of which the truth is known."""
    for code, dimension in measured(survey):
        if code in truth:
            true = truth[code]
            inside = dimension.lower <= true <= dimension.upper
            yield Trial(code, dimension.value - true, dimension.u, inside)


def measured(survey: Survey) -> Iterator[tuple[str, Dimension]]:
    """All dimensions by code, those of fittings as ``<id>.x``."""
    for dimension in survey.dimensions:
        yield dimension.code, dimension
    for fitting in survey.fittings:
        for name in ("x", "y", "below_reference", "diameter", "width", "height"):
            dimension = getattr(fitting, name)
            if dimension is not None:
                yield f"{fitting.id}.{name}", dimension


def survey_of(job: Simulated) -> Survey:
    """Measure a simulated job."""
    return measure(job.job, job.facts, job.sightings)


def simulated_trials(evidence: str | Evidence, seeds: Iterable[int], precision: Precision = STRICT) -> list[Trial]:
    """Trials of many simulated jobs."""
    found: list[Trial] = []
    for seed in seeds:
        job = simulated_job(seed, evidence, precision=precision)
        found += trials(survey_of(job), job.truth)
    return found


def errors(found: Iterable[Trial], *codes: str) -> FloatArray:
    """Errors of some dimensions, pooled."""
    return np.array([trial.error for trial in found if trial.code in codes])


def within_95(values: FloatArray) -> float:
    """Half width of the interval that holds 95 % of such errors, from their root mean square about zero."""
    return float(1.96 * np.sqrt(np.mean(np.square(values))))


def worst_fitting(found: list[Trial]) -> float:
    """95 % error of the worst coordinate of the worst fitting."""
    codes = {t.code for t in found if t.code.endswith((".x", ".y"))}
    return max(within_95(errors(found, code)) for code in codes)


def covered(found: Iterable[Trial]) -> tuple[int, int]:
    """How many intervals hold the truth, of how many."""
    inside = [trial.inside for trial in found]
    return sum(inside), len(inside)


def plausible(hits: int, count: int, low: float = 0.92, high: float = 0.98, doubt: float = 0.001) -> bool:
    """
    Whether a true coverage within `low` … `high` could give so many hits.

    Rejected only where the binomial probability of a count so far out is under `doubt`, even at the nearer limit.
    """
    return bool(binom.cdf(hits, count, low) > doubt and binom.sf(hits - 1, count, high) > doubt)
