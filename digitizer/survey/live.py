"""
Numbers that follow while a mark is dragged.

A full measurement leaves its adjustment behind. As long as a job differs from that one only in where marks lie, how
well they were placed, and what was read on a tape or rule, the same network is adjusted again from the solution it
had: a few steps, no search for outliers, the draws of before. What follows exactly, what follows to first order and
what waits for the next full measurement stands in docs/explanation/live-figures.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from digitizer.adjustment.budget import source_matrix
from digitizer.adjustment.observations import REJECTED_WEIGHT, Block, FloatArray, System
from digitizer.adjustment.propagation import Propagated
from digitizer.adjustment.solve import Estimate
from digitizer.adjustment.warm import TooFarError, WarmEstimate, readjusted, warmed
from digitizer.camera.equations import ImagePoints
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Sighting
from digitizer.survey import findings as say
from digitizer.survey.adjusting import summarised
from digitizer.survey.checks import check_inside, check_sides
from digitizer.survey.closeups import without_close_ups
from digitizer.survey.condition import place_readings
from digitizer.survey.dimensions import Figure, Transom, read_transom, straightness_deviations
from digitizer.survey.ellipses import adjusted_places
from digitizer.survey.exchange import Places, changed_marks, exchanged, observed, places_of, structure_changed
from digitizer.survey.fittings import figures_with_clearance
from digitizer.survey.mark_records import AdjustedPlace
from digitizer.survey.measure import SEVERITY_ORDER, Answers, Behind, answers, measured, spanned, unchanged
from digitizer.survey.model import (
    Adjustment,
    Dimension,
    Finding,
    FittingResult,
    ObservationResult,
    Survey,
    SurveyPoint,
)
from digitizer.survey.network import CLICKS, DEFINITION
from digitizer.survey.picture import outline, photo_results, reference_ends, survey_points
from digitizer.survey.still import SMALL_SHARE, Watched, shifted_fittings
from digitizer.survey.uncertainty import Scales
from digitizer.transom.constraints import Lengths

MOVED = 0.05
"""An observation's result is renewed when its residual or its u changed by this part of its u."""
STILL_MM = 1e-2
"""A point that moved by less keeps its record."""
FOLLOWED = frozenset({"tape_disagrees", "disagreement", "global_test", "bent_reference", "flange_on_pad"})
"""Findings that follow; the others stay as the last full measurement left them."""
RAKE_BY = "rake_by_"
"""Codes of the single estimates of the transom angle, which rest on other photos and don't move."""


@dataclass(frozen=True)
class Live:
    """A job as last measured in full, ready to be followed."""

    job: Job
    survey: Survey
    base: Behind
    facts: Mapping[str, PhotoFacts]
    warm: WarmEstimate | None
    """None where the job is too ill-conditioned to be followed."""
    twin: WarmEstimate | None
    """Of the other solution that fits as well, where there is one."""
    places: Places
    """By id of a mark or a known length."""
    by_source: tuple[tuple[str, ...], FloatArray]
    fittings: tuple[list[Figure], Watched]
    line: Watched
    """How far the marks of the reference line lie off it."""

    @property
    def system(self) -> System:
        """The observations as last measured."""
        return self.base.network.system

    @cached_property
    def adjusted_places(self) -> dict[str, AdjustedPlace]:
        """By mark: how surely it is placed, worked out when somebody asks; what is rejected whole is not in it."""
        scales = Scales(self.base.found.estimate, self.system.rows, self.survey.adjustment.scaled_by, self.by_source)
        return {place.mark: place for place in adjusted_places(self.base.transom, scales)}


def started(
    job: Job,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting] = (),
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Survey, Live | None]:
    """
    Measure a job in full and keep what `quick` needs; parameters and refusals as `measure`.

    Returns
    -------
    survey
    live
        None where no photo shows the face, so that nothing was adjusted.
    """
    survey, base = measured(job, facts, sightings, cancelled)
    if base is None:
        return survey, None
    system = base.network.system
    warm, twin = _warmed(system, base.found.estimate), None
    if base.twin is not None:
        twin = _warmed(system, base.twin)
        warm = warm if twin is not None else None
    by_source = source_matrix(system.rows)
    scales = Scales(base.found.estimate, system.rows, survey.adjustment.scaled_by, by_source)
    placed = figures_with_clearance(base.transom)
    watched = placed, Watched.of([f.value for f in placed], scales)
    line = Watched.of(straightness_deviations(base.transom)[1], scales)
    return survey, Live(job, survey, base, facts, warm, twin, places_of(system), by_source, watched, line)


def _warmed(system: System, estimate: Estimate) -> WarmEstimate | None:
    with suppress(TooFarError):
        return warmed(system, estimate)
    return None


def quick(live: Live, job: Job) -> Survey:
    """
    The survey of a job that differs from the one last measured in full as `structure_changed` allows.

    Raises
    ------
    AdjustmentError
        As `measure` refuses: a mark outside its photo, port and starboard exchanged. `TooFarError` where the job can't
        be followed from where it was; a full measurement then tells.
    ValueError
        When the structure changed.
    """
    if structure_changed(live.job, job):
        raise ValueError("the job's structure changed: measure it in full")
    if live.warm is None:
        raise TooFarError("this job is too weakly determined to be followed")
    marks = changed_marks(live.places, live.job, job)
    check_inside(marks, live.facts)
    system = exchanged(live.system, live.places, live.job, job)
    estimate = readjusted(system, live.warm)
    blocks = estimate.system.blocks
    network = replace(live.base.network, job=without_close_ups(job, live.facts, ())[0])
    transom = read_transom(network, estimate.x, live.base.transom.aside)
    if transom is None:
        raise AdjustmentError("Nothing gives the keel point any more: measure the job again.")
    check_sides(transom)
    summary = summarised(live.survey.adjustment, estimate.weighted_square_sum)
    scales = Scales(estimate, live.system.rows, summary.scaled_by, (live.by_source[0], _shares(live, blocks)))
    rakes = [d for d in live.survey.dimensions if d.code.startswith(RAKE_BY)]
    if live.twin is None:
        given = answers(transom, scales, rakes, unchanged, *_still(live, estimate, summary))
    else:
        given = answers(transom, scales, rakes, spanned(network, readjusted(system, live.twin).x))
    return replace(
        live.survey,
        title=job.title,
        dimensions=tuple(given.dimensions),
        fittings=tuple(given.fittings),
        defects=tuple(given.defects),
        readings=tuple(place_readings(transom, scales)),
        checks=tuple(given.checks),
        points=tuple(_points(live, transom, scales, {m.point or m.id for m in marks})),
        outline=outline(transom),
        reference_line=reference_ends(transom),
        observations=_observations(live, job, estimate, blocks),
        photos=tuple(photo_results(transom, estimate, summary.scaled_by)),
        findings=_findings(live, transom, scales, given, summary),
        adjustment=summary,
        curvature_per_mm=transom.curvature,
    )


# --- what follows -----------------------------------------------------------------------------------------------


def _shares(live: Live, blocks: Sequence[Block]) -> FloatArray:
    """Shares of the sources (m, s) in each row, with the marks' as now weighed."""
    sources, shares = live.by_source[0], live.by_source[1].copy()
    for block, rows in zip(blocks, live.system.slices, strict=True):
        if isinstance(block, ImagePoints):
            shares[rows, sources.index(CLICKS)] = 1.0 - block.definition_share
            shares[rows, sources.index(DEFINITION)] = block.definition_share
    return shares


def _still(
    live: Live, estimate: WarmEstimate, summary: Adjustment
) -> tuple[list[Dimension] | None, list[FittingResult] | None]:
    """Straightness of the line and the fittings, where they hardly move; see `still`."""
    assert live.warm is not None
    if abs(summary.scaled_by / live.survey.adjustment.scaled_by - 1.0) > SMALL_SHARE:
        return None, None
    change = (_row_u(live, estimate.system.blocks) / _row_u(live, live.system.blocks)) ** 2 - 1.0
    reweighed = np.where(np.abs(change) > MOVED, change, 0.0)
    step = estimate.x - live.warm.x
    return _straightness(live, step, reweighed), _fittings(live, step, reweighed)


def _fittings(live: Live, step: FloatArray, reweighed: FloatArray) -> list[FittingResult] | None:
    """The fittings shifted, unless one of them moves too far for that."""
    figures, watched = live.fittings
    shifts = watched.shifts(step, reweighed)
    return None if shifts is None else shifted_fittings(live.survey.fittings, figures, shifts)


def _straightness(live: Live, step: FloatArray, reweighed: FloatArray) -> list[Dimension] | None:
    """The line's straightness as it was, unless one of its marks leaves the line or comes back to it."""
    shifts = live.line.shifts(step, reweighed)
    if shifts is None or np.any(np.abs(shifts) > MOVED * live.line.u):
        return None
    return [d for d in live.survey.dimensions if d.code == "reference_straightness"]


def _points(live: Live, transom: Transom, scales: Scales, renewed: set[str]) -> Iterator[SurveyPoint]:
    """Points where they are now; u is worked out anew for those whose marks changed."""
    anew = {p.id: p for p in survey_points(transom, scales, renewed)}
    for p in live.survey.points:
        at = transom.places[p.id]
        x, y, z = float(at.x), float(at.y), float(at.z)
        if p.id in anew:
            yield anew[p.id]
        elif abs(x - p.x) + abs(y - p.y) + abs(z - p.z) < STILL_MM:
            yield p
        else:
            yield SurveyPoint(p.id, p.kind, p.side, x, y, z, p.u_x, p.u_y, p.of)


def _observations(
    live: Live, job: Job, estimate: WarmEstimate, blocks: Sequence[Block]
) -> tuple[ObservationResult, ...]:
    """Results of all observations, renewed where their residual or their own value changed."""
    assert live.warm is not None
    aside = np.where(estimate.weights == 1.0, 1.0, REJECTED_WEIGHT)
    residuals, before = estimate.residuals / aside, live.warm.residuals / aside
    u, u_before = _row_u(live, blocks), _row_u(live, live.system.blocks)
    out = list(live.survey.observations)
    anew = observed(live.system, live.places, live.job, job)
    changed = (np.abs(residuals - before) > MOVED) | (np.abs(u / u_before - 1.0) > MOVED)
    for i in {*np.flatnonzero(changed).tolist(), *anew}:
        old = out[i]
        u_now = old.u * float(u[i] / u_before[i])
        w = None if old.w is None else _w(old, float(before[i]), float(residuals[i]))
        out[i] = replace(old, residual=float(residuals[i]) * u_now, u=u_now, w=w, observed=anew.get(i, old.observed))
    return tuple(out)


def _w(old: ObservationResult, before: float, now: float) -> float:
    """Standardised residual, with the redundancy number of before."""
    assert old.w is not None
    return old.w * now / before if abs(before) > 1e-9 else now / np.sqrt(max(old.redundancy, 1e-3))


def _row_u(live: Live, blocks: Sequence[Block]) -> FloatArray:
    """Standard uncertainties (m,) of the rows that can change; 1 for the others."""
    out = np.ones(len(live.system.rows))
    for block, rows in zip(blocks, live.system.slices, strict=True):
        if isinstance(block, ImagePoints | Lengths):
            out[rows] = block.u
    return out


def _findings(live: Live, transom: Transom, scales: Scales, given: Answers, summary: Adjustment) -> tuple[Finding, ...]:
    """The findings that follow, and the others as they were."""
    values = {f.code: f.value for f in given.plan if isinstance(f.value, Propagated)}
    anew = [
        *say.tape_findings(given.checks),
        *say.adjustment_findings(summary, ()),
        *say.line_findings(transom, given.dimensions),
        *say.deadrise_findings(transom, scales, values),
        *say.pad_findings(transom, given.dimensions),
    ]
    spoken = [f for f in live.survey.findings if f.code not in FOLLOWED]
    spoken += [f for f in anew if f.code in FOLLOWED]
    return tuple(sorted(spoken, key=lambda f: SEVERITY_ORDER.index(f.severity)))
