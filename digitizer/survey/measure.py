"""
The whole program on one page: job → network of observations → adjustment → transom system → dimensions.

Uncertainty is carried throughout: every figure keeps its sensitivities to all parameters until the end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from digitizer import __version__
from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number, Propagated
from digitizer.adjustment.reliability import Snooped
from digitizer.adjustment.solve import Estimate, adjust
from digitizer.errors import AdjustmentError, NotConvergedError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Face, FaceKind, Job, Sighting
from digitizer.survey import findings as say
from digitizer.survey.adjusting import adjusted, summary_of
from digitizer.survey.advice import Advice, advice, key_dimensions
from digitizer.survey.build import build
from digitizer.survey.checks import (
    check_gaps,
    check_marks,
    check_scale,
    check_sides,
    check_tilt,
    undetermined_tilt,
)
from digitizer.survey.closeups import close_up_results, without_close_ups
from digitizer.survey.condition import defect_figures, defect_results, place_readings
from digitizer.survey.dimensions import (
    Figure,
    Transom,
    bow,
    figures,
    free_deviations,
    read_transom,
    straightness_deviations,
)
from digitizer.survey.fittings import fitting_figures, fitting_results, mapped, place_covariance
from digitizer.survey.model import (
    DefectResult,
    Dimension,
    Finding,
    FittingResult,
    FlangeFit,
    Improvement,
    Quantity,
    Severity,
    Survey,
    TapeCheck,
)
from digitizer.survey.network import Network
from digitizer.survey.observations import observation_results, points_aside
from digitizer.survey.offsets import drawn_edges, offset_figures, offset_results, outline_edges
from digitizer.survey.patterns import Boat, pattern_results
from digitizer.survey.picture import outline, photo_results, reference_ends, survey_points
from digitizer.survey.planning import planning_lines
from digitizer.survey.rake import rake_dimensions, rake_evidence, rake_survey, shows_face
from digitizer.survey.rake_findings import rake_findings
from digitizer.survey.shape import BesideFlat, Bow
from digitizer.survey.start import start_values
from digitizer.survey.tape import diagnoses, tape_checks
from digitizer.survey.uncertainty import Scales, bow_dimensions, spanning

BETTER = 0.25
"""A bowed face is named instead of a flat one that won't settle where it leaves less than this of the misfit."""
SEVERITY_ORDER = (Severity.SERIOUS, Severity.WARNING, Severity.NOTE)


class Answers(NamedTuple):
    """What follows from the adjusted transom and its covariance alone."""

    plan: list[Figure]
    dimensions: list[Dimension]
    fittings: list[FittingResult]
    defects: list[DefectResult]
    doubts: list[Finding]
    checks: list[TapeCheck]
    known: dict[str, Number]
    """Figures by code, mm and rad, that figures of the tape form are compared with; empty where it has none."""


@dataclass(frozen=True)
class Behind:
    """The adjustment behind a survey, for those who go on from there."""

    network: Network
    found: Snooped
    transom: Transom
    twin: Estimate | None
    """Another solution that fits as well."""


def measure(
    job: Job,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting] = (),
    cancelled: Callable[[], bool] | None = None,
) -> Survey:
    """
    Measure a job.

    Parameters
    ----------
    job
        The field book.
    facts
        By photo id: what each photo file says of itself.
    sightings
        Corners of the targets found in the photos.
    cancelled
        Asked between steps; true ends the work with ``InterruptedError``.

    Raises
    ------
    AdjustmentError
        When the job can't give a transom; ``RankDeficientError`` names what nothing fixes.
    """
    return measured(job, facts, sightings, cancelled)[0]


def measured(
    job: Job,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting] = (),
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Survey, Behind | None]:
    """The survey and what is behind it, which is nothing where no photo shows the face; see `measure`."""
    close_ups = close_up_results(job, facts, sightings)
    whole = job, facts, sightings
    job, facts, sightings = without_close_ups(job, facts, sightings)
    evidence = rake_evidence(job, facts)
    if not shows_face(job, facts) and rake_dimensions(evidence):
        return rake_survey(job, evidence, list(rake_findings(job, evidence))), None
    check_marks(job, facts)
    check_gaps(job)
    network = build(job, facts, sightings)
    check_scale(network)
    beside_flat = BesideFlat(network) if job.face.kind is FaceKind.FLAT else None
    try:
        found, twin = adjusted(network, cancelled, beside_flat)
    except NotConvergedError as failure:
        if failure.misfit < 1.0:
            raise undetermined_tilt(job.photos[0].id) from failure
        raise bowed_instead(failure, job, facts, sightings) from failure
    network.system.describe()
    summary = summary_of(found)
    check_tilt(network, found.estimate)

    transom = read_transom(network, found.estimate.x, points_aside(network, found))
    if transom is None:
        raise AdjustmentError("Nothing gives the keel point: mark the keel, or two or more points on each bottom edge.")
    check_sides(transom)
    scales = Scales(found.estimate, network.system.rows, summary.scaled_by)

    widen = unchanged if twin is None else spanned(network, twin.x)
    plan, dimensions, fittings, defects, doubts, checks, known = answers(
        transom, scales, rake_dimensions(evidence), widen
    )
    other = None if twin is None else read_transom(network, twin.x)
    patterns, patterns_say = pattern_results(*whole, Boat(transom, scales, network.system.rows, other), cancelled)
    planned, flange_says = _planned_flange(transom, scales, widen)
    edges = outline_edges(transom)
    photos = photo_results(transom, found.estimate, summary.scaled_by)
    observations = observation_results(found, network.system.rows)
    values = {f.code: f.value for f in plan if isinstance(f.value, Propagated)}
    help_most = _advice(transom, found.estimate, summary.scaled_by, plan, dimensions, fittings)
    spoken: list[Finding] = [
        *say.rejected_findings(found, network.system.rows),
        *say.assumption_findings(found.estimate, network.system.rows),
        *say.tape_findings(checks),
        *say.diagnosis_findings(diagnoses(transom, scales, known)),
        *say.unknown_figures(job, known),
        *say.adjustment_findings(summary, observations),
        *say.line_findings(transom, dimensions),
        *say.deadrise_findings(transom, scales, values),
        *rake_findings(job, evidence, face_deadrise(dimensions)),
        *say.photo_findings(photos),
        *say.twin_findings(twin is not None),
        *say.shape_findings(_bow_beside_flat(transom, found, beside_flat), shape_dimension(dimensions)),
        *say.pad_findings(transom, dimensions),
        *say.missing_findings(transom),
        *say.kept_out_findings(transom),
        *say.fitting_findings(transom, fittings),
        *doubts,
        *flange_says,
        *patterns_say,
        *say.advice_finding(help_most),
    ]
    survey = Survey(
        program_version=__version__,
        title=job.title,
        dimensions=tuple(dimensions),
        fittings=tuple(fittings),
        points=tuple(survey_points(transom, scales)),
        outline=outline(transom),
        reference_line=reference_ends(transom),
        observations=tuple(observations),
        checks=tuple(checks),
        findings=tuple(sorted(spoken, key=lambda f: SEVERITY_ORDER.index(f.severity))),
        photos=tuple(photos),
        adjustment=summary,
        defects=tuple(defects),
        readings=tuple(place_readings(transom, scales)),
        close_ups=tuple(close_ups),
        place_covariance=place_covariance(transom, scales),
        improvements=tuple(
            Improvement(a.text, a.dimension.label, a.dimension.quantity, a.dimension.U, a.U_after) for a in help_most
        ),
        curvature_per_mm=transom.curvature,
        edges=drawn_edges(edges),
        offsets=offset_results(offset_figures(transom, edges), scales, widen),
        flange=planned,
        planning=planning_lines(job, {d.code: d for d in dimensions}, planned),
        patterns=patterns,
    )
    return survey, Behind(network, found, transom, twin)


def answers(
    transom: Transom,
    scales: Scales,
    rakes: Sequence[Dimension],
    widen: Callable[[Dimension], Dimension],
    straightness: Sequence[Dimension] | None = None,
    fittings: Sequence[FittingResult] | None = None,
) -> Answers:
    """
    Every dimension, fitting, defect and tape check of an adjusted transom, widened where another solution fits as well.

    `straightness` and `fittings` are taken as they are where given.
    """
    plan = figures(transom)
    shape = bow(transom)
    dimensions = [*scales.dimensions(plan), *(_straightness(transom, scales) if straightness is None else straightness)]
    dimensions += bow_dimensions(scales, *shape) if shape is not None else []
    dimensions = [widen(d) for d in [*dimensions, *_unfairness(transom, scales), *rakes]]
    placed = [mapped(f, widen) for f in fitting_results(transom, scales)] if fittings is None else list(fittings)
    defects, doubts = defect_results(transom, scales)
    known = _known_figures(transom, shape)
    checks = tape_checks(transom, scales, known)
    return Answers(plan, dimensions, placed, [mapped(d, widen) for d in defects], doubts, checks, known)


def _known_figures(transom: Transom, shape: tuple[Figure, Number, float] | None) -> dict[str, Number]:
    if not transom.network.job.tape_figures:
        return {}
    return {f.code: f.value for f in [*_all_figures(transom), *(shape[:1] if shape is not None else ())]}


def unchanged(d: Dimension) -> Dimension:
    """The dimension itself: there is no other solution to widen it for."""
    return d


def spanned(network: Network, x: FloatArray) -> Callable[[Dimension], Dimension]:
    """Widens a dimension so that it holds its value in another solution, with parameters `x` (n,), too."""
    other = read_transom(network, x)
    if other is None:
        return unchanged
    unit = {Quantity.ANGLE: math.degrees(1.0)}
    values = {f.code: float(f.value) * unit.get(f.quantity, 1.0) for f in _all_figures(other)}
    return lambda d: spanning(d, values[d.code]) if d.code in values else d


def _all_figures(t: Transom) -> list[Figure]:
    offsets = offset_figures(t, outline_edges(t)).values()
    return [*figures(t), *fitting_figures(t), *defect_figures(t), *_flange_figures(t), *offsets]


def _flange_figures(t: Transom) -> list[Figure]:
    if t.network.job.flange is None:
        return []
    from digitizer.survey.flange import flange_figures  # brings shapely, which only those pay for who plan a flange

    return flange_figures(t)


def _planned_flange(
    transom: Transom, scales: Scales, widen: Callable[[Dimension], Dimension]
) -> tuple[FlangeFit | None, list[Finding]]:
    """The planned flange laid on the transom, and what there is to say of it."""
    job = transom.network.job
    if job.flange is None:
        return None, []
    from digitizer.survey.flange import flange_fit, laid
    from digitizer.survey.flange_findings import flange_findings

    flange = laid(transom)
    fit = {} if flange is None else {d.code: widen(d) for d in scales.dimensions(list(flange.figures.values()))}
    planned = None if flange is None else flange_fit(flange, fit)
    return planned, list(flange_findings(job, planned))


def _straightness(transom: Transom, scales: Scales) -> list[Dimension]:
    points, deviations = straightness_deviations(transom)
    if not points:
        return []
    figure = Figure(
        "reference_straightness",
        "Reference line, largest departure from straight",
        "Edges",
        Quantity.LENGTH,
        max(deviations, key=lambda d: abs(float(d))),
        tuple(points),
        "interval by Monte Carlo",
    )
    return [scales.largest_deviation(figure, deviations)]


def bowed_instead(
    failure: NotConvergedError, job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting]
) -> AdjustmentError:
    """The failure of a flat face, or a plainer one where a bowed face would have settled."""
    if job.face.kind is not FaceKind.FLAT:
        return failure
    bowed = build(replace(job, face=Face(FaceKind.BOWED)), facts, sightings)
    try:
        start = start_values(bowed, bowed.system)
        fit = adjust(bowed.system, start.x, bowed.layout.free, start.suspects)
    except AdjustmentError:
        return failure
    if fit.weighted_square_sum / len(fit.residuals) > BETTER * failure.misfit:
        return failure
    return AdjustmentError(
        "Taken as flat, the face can't be made to fit the marks; taken as bowed, it fits. Set the face's kind to bowed."
    )


def _unfairness(transom: Transom, scales: Scales) -> list[Dimension]:
    points, off = free_deviations(transom)
    if not points:
        return []
    worst = max(range(len(off)), key=lambda i: abs(float(off[i])))
    place = transom.developed[points[worst]]
    note = f"most at {points[worst]} ({float(off[worst]):+.1f} mm), {float(place.x):+.0f} mm from the centreline"
    label = "Face, largest departure from a fair bow"
    figure = Figure("unfairness", label, "Shape", Quantity.LENGTH, off[worst], tuple(points), note)
    return [scales.largest_deviation(figure, off)]


def _bow_beside_flat(transom: Transom, found: Snooped, beside_flat: BesideFlat | None) -> Bow | None:
    """The bow that a flat job's evidence speaks of, over the widest marked beam."""
    if beside_flat is None:
        return None
    return beside_flat.over(found, 2.0 * max(abs(float(p.x)) for p in transom.places.values()))


def face_deadrise(dimensions: Sequence[Dimension]) -> dict[str, float]:
    """Deadrise in the face by side, degrees."""
    start = "deadrise_chord_"
    return {d.code.removeprefix(start): d.value for d in dimensions if d.code.startswith(start)}


def shape_dimension(dimensions: Sequence[Dimension]) -> Dimension | None:
    """The sagitta, where the face was taken as bowed."""
    return next((d for d in dimensions if d.code == "sagitta"), None)


def _advice(
    transom: Transom,
    estimate: Estimate,
    factor: float,
    plan: Sequence[Figure],
    dimensions: Sequence[Dimension],
    fittings: Sequence[FittingResult],
) -> list[Advice]:
    keys = key_dimensions(dimensions, fittings)
    numbers: dict[str, Number] = {f.code: f.value for f in [*plan, *fitting_figures(transom)]}
    return advice(transom, estimate, factor, keys, [numbers[d.code] for d, _ in keys])
