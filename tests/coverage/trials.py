"""Trials: simulated jobs and sample photos measured again and again, and how the answers lie about the truth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import binom

from digitizer.errors import AdjustmentError
from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, ObservationState, Survey
from tests.builders import FloatArray
from tests.simulation.evidence import STRICT, Evidence, Precision
from tests.simulation.jobs import Simulated, simulated_job

REFUSED = "refused"


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
        for name in ("x", "girth", "y", "below_reference", "diameter", "width", "height"):
            dimension = getattr(fitting, name)
            if dimension is not None:
                yield f"{fitting.id}.{name}", dimension


def survey_of(job: Simulated) -> Survey:
    """Measure a simulated job."""
    return measure(job.job, job.facts, job.sightings)


def simulated_trials(evidence: str | Evidence, seeds: Iterable[int], precision: Precision = STRICT) -> list[Trial]:
    """
    Trials of many simulated jobs.

    A job that the program refuses counts as a trial of its own, outside: ``refused``.
    """
    found: list[Trial] = []
    for seed in seeds:
        job = simulated_job(seed, evidence, precision=precision)
        try:
            found += trials(survey_of(job), job.truth)
        except AdjustmentError:
            found.append(Trial(REFUSED, np.nan, np.nan, inside=False))
    return found


def errors(found: Iterable[Trial], *codes: str) -> FloatArray:
    """Errors of some dimensions, pooled."""
    return np.array([trial.error for trial in found if trial.code in codes])


def within_95(values: FloatArray) -> float:
    """Half width of the interval about zero that holds 95 % of these errors."""
    return float(np.quantile(np.abs(values), 0.95))


DEADRISE = ("deadrise_chord_port", "deadrise_chord_starboard")


def worst_fitting(found: list[Trial]) -> str:
    """The coordinate of a fitting that the surveys themselves state least well; named before its errors are seen."""
    codes = sorted({t.code for t in found if t.code.endswith((".x", ".y"))})
    return max(codes, key=lambda code: np.mean([t.u for t in found if t.code == code]))


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


def spoiled(job: Simulated, length: str, by_mm: float) -> Simulated:
    """The job with one length misread."""
    lengths = tuple(
        replace(record, length_mm=record.length_mm + by_mm) if record.id == length else record
        for record in job.job.lengths
    )
    return replace(job, job=replace(job.job, lengths=lengths))


@dataclass(frozen=True)
class Blunder:
    """What became of a misread length."""

    detectable_mm: float
    """Minimal detectable error of that length before it was spoiled; infinite where nothing checks it."""
    named: bool
    """It alone among the lengths was rejected."""


def blunder(seed: int, evidence: str | Evidence = "five_tapes", by_mm: float = 25.0) -> Blunder:
    """Misread one of the tape figures, which one and whether long or short as the seed decides."""
    job = simulated_job(seed, evidence)
    rng = np.random.default_rng(seed)
    length = str(rng.choice([record.id for record in job.job.lengths]))
    clean = next(o for o in survey_of(job).observations if o.subject == length and o.kind == "length")
    detectable = clean.minimal_detectable_error
    detectable = np.inf if detectable is None else detectable
    try:
        survey = survey_of(spoiled(job, length, by_mm * float(rng.choice([-1.0, 1.0]))))
    except AdjustmentError:
        return Blunder(detectable, named=False)
    rejected = [o.subject for o in survey.observations if o.kind == "length" and o.state is ObservationState.REJECTED]
    return Blunder(detectable, rejected == [length])
