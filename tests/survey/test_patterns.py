"""Patterns against measured outlines: exact where nothing is false, and every slip told in words."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from digitizer.job.model import (
    Alignment,
    Job,
    KnownLength,
    Mark,
    MarkKind,
    PatternFace,
    PatternPart,
    PatternTaken,
    ScaleLies,
)
from digitizer.survey.closeups import without_close_ups
from digitizer.survey.exchange import structure_changed
from digitizer.survey.measure import measure
from digitizer.survey.model import Finding, PatternResult, Survey
from tests.coverage.trials import survey_of
from tests.simulation.bowed_evidence import BowedEvidence
from tests.simulation.bowed_jobs import simulated_bow
from tests.simulation.evidence import STRICT
from tests.simulation.jobs import Simulated, simulated_job
from tests.simulation.patterns import CHINES, SimPattern, with_pattern

EXACT_MM = 2.0
"""Everything faultless but what the simulated boat's strict precision draws, and its board's lean."""


@cache
def boat() -> Simulated:
    """A faultless boat with a board."""
    return simulated_job(3, "board_string_rule", precision=STRICT, noise=0.0)


def faultless(**how: object) -> Simulated:
    """The boat with a pattern that was made and marked without error."""
    return with_pattern(boat(), SimPattern(**how), 3, noise=0.0)  # type: ignore[arg-type]


def result(survey: Survey) -> PatternResult:
    """The only pattern."""
    (found,) = survey.patterns
    return found


def finding(survey: Survey, code: str) -> Finding:
    """The first finding of a code."""
    return next(f for f in survey.findings if f.code == code)


def said(survey: Survey) -> set[str]:
    """Codes of what was said of patterns."""
    return {f.code for f in survey.findings if f.code.startswith("pattern")}


def without_board(job: Simulated) -> Simulated:
    """The pattern's photo without a target in it."""
    return replace(job, sightings=tuple(s for s in job.sightings if s.photo != "pattern"))


@pytest.mark.parametrize(
    "how",
    [
        pytest.param({}, id="bottom-by-three-marks"),
        pytest.param({"aligned": ()}, id="bottom-by-best-fit"),
        pytest.param({"face_up": PatternFace.FORWARD, "told": PatternFace.FORWARD}, id="other-face-up"),
        pytest.param({"scale_lies": ScaleLies.PATTERN}, id="board-on-the-pattern"),
        pytest.param({"sheet": True}, id="sheet-in-place-of-the-board"),
        pytest.param({"part": PatternPart.WHOLE, "aligned": CHINES}, id="whole-outline"),
        pytest.param({"part": PatternPart.PORT, "aligned": ("keel", "top_port")}, id="port-half"),
        pytest.param(
            {"part": PatternPart.STARBOARD, "aligned": ("chine_starboard",), "lines": True}, id="half-by-centreline"
        ),
    ],
)
def test_faultless_pattern_agrees(how: dict[str, object]) -> None:
    """A pattern cut without error lies on the measured outline, however it was made and photographed."""
    survey = survey_of(faultless(**how))
    assert max(abs(s.difference.value) for s in result(survey).stations) < EXACT_MM
    assert said(survey) <= {"pattern_agrees", "pattern_best_fit", "pattern_side_seen"}
    assert all(s.difference.U > 0.3 for s in result(survey).stations)


def test_boat_is_measured_as_without_the_pattern() -> None:
    """The pattern's photo is no part of the boat's adjustment: not a figure moves."""
    with_it, without = survey_of(faultless()), survey_of(boat())
    assert with_it.dimensions == without.dimensions
    assert with_it.adjustment == without.adjustment


def test_thickness_is_allowed_for() -> None:
    """An upper edge 12 mm above the floor looks larger by its parallax; told nothing of it, it seems too big."""
    job = faultless(distance_mm=2400.0)
    (pattern,) = job.job.patterns
    flat = replace(job, job=replace(job.job, patterns=(replace(pattern, thickness_mm=0.0, u_thickness_mm=0.0),)))
    told, untold = (np.ptp([x for x, _ in result(survey_of(each)).edge]) for each in (job, flat))
    # 12 mm nearer at 2400 mm: larger by half a percent.
    assert untold / told - 1.0 == pytest.approx(12.0 / 2400.0, rel=0.1)


def test_wrong_cut_is_found_where_it_is() -> None:
    """An edge cut 9 mm too full 600 mm to port is told in words, with its U, and the rest is left alone."""
    survey = survey_of(faultless(bumps=((-600.0, 9.0),), u_cut_mm=0.5, click_px=0.3))
    text = finding(survey, "pattern_off").text
    assert "outside the measured edge at the bottom edge, 600 mm to port" in text
    (worst,) = [s for s in result(survey).stations if abs(s.x + 600.0) < 1.0]
    assert worst.difference.value == pytest.approx(9.0, abs=EXACT_MM)
    assert abs(worst.en) > 1.0
    assert result(survey).largest.lower < 9.0 < result(survey).largest.upper


def test_mirrored_pattern_is_told() -> None:
    """The face that lay against the transom was up, and the job says the other: told, and nothing else is said."""
    survey = survey_of(faultless(face_up=PatternFace.FORWARD))
    assert said(survey) - {"pattern_side_seen"} == {"pattern_mirrored"}
    assert "set face_up to forward" in finding(survey, "pattern_mirrored").text


def test_face_is_found_by_the_marks() -> None:
    """Where the job doesn't say which face was up, marks that know port from starboard tell, and it is said."""
    survey = survey_of(faultless(face_up=PatternFace.FORWARD, told=None))
    assert result(survey).mirrored
    assert "pattern_turned_over" in said(survey)


def test_face_that_nothing_tells_is_asked_for() -> None:
    """A bottom edge alike on both sides fits either way: the survey says what that may hide, and asks."""
    survey = survey_of(faultless(told=None, aligned=()))
    assert "write on the pattern which face looked aft" in finding(survey, "pattern_face_unknown").text


def test_photo_without_scale_is_told_and_the_boat_measured() -> None:
    """No board, no rule: the pattern can't be measured, the transom can."""
    survey = survey_of(without_board(faultless()))
    assert survey.patterns == ()
    assert survey.dimensions == survey_of(boat()).dimensions
    assert "gives pattern pattern its scale" in finding(survey, "pattern_not_measured").text


def _with_lengths(job: Simulated, *lengths: tuple[str, str, float]) -> Simulated:
    records = tuple(KnownLength(f"l{i}", a, b, mm, 0.5) for i, (a, b, mm) in enumerate(lengths))
    return replace(job, job=replace(job.job, lengths=(*job.job.lengths, *records)))


def _true_length(job: Simulated, a: str, b: str) -> float:
    scene = job.scene
    return math.dist(scene.at(scene.theta, a), scene.at(scene.theta, b))


def test_one_length_leaves_the_tilt_open() -> None:
    """A single rule gives the scale but not how the photo is tilted: refused with what would settle it."""
    job = without_board(faultless())
    one = _with_lengths(job, ("p_chine_port", "p_chine_starboard", _true_length(job, *CHINES)))
    assert "is tilted is open" in finding(survey_of(one), "pattern_not_measured").text


def test_square_photo_with_one_length_is_measured() -> None:
    """Declared taken square, one rule is enough, and U holds what squareness leaves."""
    job = without_board(faultless(tilt_deg=0.5))
    one = _with_lengths(job, ("p_chine_port", "p_chine_starboard", _true_length(job, *CHINES)))
    photos = tuple(replace(p, u_square_deg=2.0) if p.id == "pattern" else p for p in one.job.photos)
    survey = survey_of(replace(one, job=replace(one.job, photos=photos)))
    assert "l0, 2300" in result(survey).scale
    assert max(abs(s.en) for s in result(survey).stations) < 1.0


def test_scale_that_contradicts_is_told() -> None:
    """A rule misread by 40 mm beside a board: the photo's evidence contradicts itself, and that is said."""
    job = faultless()
    wrong = _with_lengths(job, ("p_chine_port", "p_chine_starboard", _true_length(job, *CHINES) + 40.0))
    assert "pattern_contradicts" in said(survey_of(wrong))


def test_edge_at_the_picture_border_is_told() -> None:
    """A trace that ends at the border of the picture leaves open what lies beyond."""
    job = faultless()
    marks = tuple(replace(m, x_px=-0.5) if m.id == "p_chine_port" else m for m in job.job.marks)
    survey = survey_of(replace(job, job=replace(job.job, marks=marks)))
    assert "p_chine_port" in finding(survey, "pattern_beyond_frame").text


def test_mark_outside_the_picture_is_told() -> None:
    """A mark beyond the frame belongs to no picture."""
    job = faultless()
    marks = tuple(replace(m, x_px=-50.0) if m.id == "p_chine_port" else m for m in job.job.marks)
    survey = survey_of(replace(job, job=replace(job.job, marks=marks)))
    assert "lies outside photo pattern" in finding(survey, "pattern_not_measured").text


def test_one_alignment_mark_is_not_enough() -> None:
    """With fewer than two, the pattern is laid by best fit, and what that hides is said."""
    survey = survey_of(faultless(aligned=("chine_port",)))
    assert result(survey).aligned_by == "best fit"
    assert "not whether it sits too high" in finding(survey, "pattern_best_fit").text


def test_misplaced_alignment_mark_is_named() -> None:
    """A chine marked 25 mm off on the pattern doesn't pass for a wrong shape: the mark is named."""
    survey = survey_of(faultless(part=PatternPart.WHOLE, aligned=("p", *CHINES)[1:], shift={"chine_port": (0.0, 25.0)}))
    assert "p_chine_port" in finding(survey, "pattern_marks_off").text


def test_mark_at_an_unplaced_point_is_told() -> None:
    """A mark made at a place that no photo of the boat places is left out, with what to do."""
    job = faultless()
    (pattern,) = job.job.patterns
    ring = Mark("ring", "astern", MarkKind.PLUMB_LINE, 10.0, 10.0)
    aligned = (*pattern.aligned, Alignment("p_keel", "ring"))
    record = replace(job.job, marks=(*job.job.marks, ring), patterns=(replace(pattern, aligned=aligned),))
    assert "ring" in finding(survey_of(replace(job, job=record)), "pattern_mark_unplaced").text


def test_two_marks_are_no_edge() -> None:
    """An edge needs three marks."""
    job = faultless()
    (pattern,) = job.job.patterns
    few = replace(job.job, patterns=(replace(pattern, edge=("p_keel", "p_chine_port"), aligned=()),))
    assert "trace it with three" in finding(survey_of(replace(job, job=few)), "pattern_not_measured").text


def test_pattern_without_its_counterpart_is_told() -> None:
    """A pattern of the bottom edge where the boat's bottom edge was not marked has nothing to be compared with."""
    job = faultless(aligned=())
    tops = (MarkKind.TOP_CORNER, MarkKind.TOP_EDGE, MarkKind.REFERENCE_LINE, MarkKind.KEEL)
    marks = tuple(m for m in job.job.marks if m.photo == "pattern" or m.kind in tops or m.of is not None)
    record = replace(job.job, marks=marks, lengths=(), mirror_pairs=())
    survey = measure(record, job.facts, job.sightings)
    assert "nothing to be compared with" in finding(survey, "pattern_not_measured").text


def test_pattern_photo_stays_out_of_the_boat() -> None:
    """What the boat's adjustment sees holds no mark, photo or sighting of the pattern."""
    job = faultless()
    record, facts, sightings = without_close_ups(job.job, job.facts, job.sightings)
    assert isinstance(record, Job)
    assert {p.id for p in record.photos} == set(facts) == {m.photo for m in record.marks} == {"astern"}
    assert {s.photo for s in sightings} == {"astern"}


def test_sawn_side_in_view_is_told() -> None:
    """A camera that leans out over the edge sees the board's side there, whose lower edge looks too full."""
    made = SimPattern(tilt_deg=25.0, thickness_mm=18.0)
    codes = [said(survey_of(with_pattern(boat(), made, seed, noise=0.0))) for seed in (0, 1)]
    assert any("pattern_side_seen" in each for each in codes)
    thin = with_pattern(boat(), replace(made, thickness_mm=0.0, u_thickness_mm=0.0), 1, noise=0.0)
    assert "pattern_side_seen" not in said(survey_of(thin))
    assert "pattern_thickness" in said(survey_of(thin))


def bowed(taken: PatternTaken, told: PatternTaken | None) -> Survey:
    """A face of 4 to 4.6 m radius in three photos, and a faultless pattern of its bottom edge."""
    evidence = BowedEvidence(radii=(4000.0, 4600.0))
    job = simulated_bow(1, evidence, precision=STRICT, noise=0.0)
    return survey_of(with_pattern(job, SimPattern(taken=taken, told_taken=told), 1, noise=0.0))


@pytest.mark.parametrize("taken", PatternTaken)
def test_pattern_of_a_bowed_face_is_compared_as_it_was_taken(taken: PatternTaken) -> None:
    """Bent round the face it shows girths, kept flat the chord; told which, both agree."""
    survey = bowed(taken, taken)
    assert result(survey).taken == {"bent": "girth", "stiff": "chord"}[taken]
    assert max(abs(s.difference.value) for s in result(survey).stations) < EXACT_MM
    assert not said(survey) & {"pattern_bent_or_stiff", "pattern_span", "pattern_off"}


def test_stiff_pattern_taken_for_a_bent_one_is_told() -> None:
    """Between its chine marks it is shorter than the girth by what girth and chord differ, and the survey asks."""
    survey = bowed(PatternTaken.STIFF, None)
    radius = 1.0 / survey.curvature_per_mm
    span = result(survey).span
    assert span is not None
    chord = 2.0 * radius * math.sin(span.on_transom / (2.0 * radius))
    assert span.on_pattern == pytest.approx(chord, abs=2.0)  # mm; girth is longer by some 25
    assert span.difference.value == pytest.approx(span.on_pattern - span.on_transom)
    assert "set taken to stiff" in finding(survey, "pattern_span").text
    assert "Compared with the chord it fits better" in finding(survey, "pattern_bent_or_stiff").text


def test_moved_mark_of_a_pattern_is_measured_in_full() -> None:
    """The quick way after a drag follows the boat's adjustment, and a pattern's mark is not in that."""
    job = faultless().job
    moved = tuple(replace(m, x_px=m.x_px + 1.0) if m.id == "p_keel" else m for m in job.marks)
    assert structure_changed(job, replace(job, marks=moved))
