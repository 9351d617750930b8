"""The transom angle: stated, by level, by a photo from the side, and all of them."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitizer.camera.lens import lens_prior
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Face, FaceKind, FaceLean, Job, LevelReadings, Mark, MarkKind, Photo, Rake, Side
from digitizer.job.reading import read_job
from digitizer.survey.build import build
from digitizer.survey.evidence import gather
from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, Survey
from digitizer.survey.profile import ProfileRake, rake_by_profile
from digitizer.survey.rake import rake_estimates, rake_evidence
from digitizer.survey.rake_findings import rake_findings
from tests.survey.exact import Case, a_case, codes
from tests.survey.profile_photos import SIZE, ProfileScene, a_drawn_scene

PRIOR = lens_prior(*SIZE, 26.0)
SIDE = Photo("side", "side.jpg")
FACTS = {"side": PhotoFacts("side.jpg", "0" * 64, *SIZE, 1, None, None, 26.0, None, None, None, "JPEG")}
SAMPLE = Path(__file__).parents[2] / "sample_images" / "flat_profile"
LEVELS = LevelReadings(15.2, 1.2, 0.15)


def measured(**records: object) -> Case:
    return a_case().with_length("chine_port", "chine_starboard").but(**{"rake": None, **records})


def rake_of(survey: Survey, code: str = "rake") -> Dimension:
    return next(d for d in survey.dimensions if d.code == code)


def said(job: Job, deadrise: dict[str, float] | None = None) -> set[str]:
    return {f.code for f in rake_findings(job, rake_evidence(job, FACTS), deadrise)}


def from_the_side(scene: ProfileScene, **records: object) -> Job:
    return replace(Job(photos=(SIDE,), marks=scene.marks(None)), **records)


# --- stated and by level ---------------------------------------------------------------------------------------


def test_level_on_face_and_keel_gives_their_difference() -> None:
    """Face 15.2° from plumb on a keel 1.2° bow up is a rake of 14°; two readings of 0.15° make 0.21°."""
    found = rake_of(measured(level_readings=LEVELS).survey())
    assert found.value == pytest.approx(14.0)
    assert found.u == pytest.approx(0.15 * math.sqrt(2.0))


def test_stated_and_levelled_rake_are_weighed() -> None:
    """Each counts by the inverse square of its u, and the budget names both."""
    levels = LevelReadings(14.8, 1.2, 0.3 / math.sqrt(2.0))
    found = rake_of(measured(rake=Rake(13.2, 0.3), level_readings=levels).survey())
    assert found.value == pytest.approx(13.4)
    assert found.u == pytest.approx(0.3 / math.sqrt(2.0))
    assert {c.source: c.share for c in found.budget} == pytest.approx({"rake": 0.5, "level on face and keel": 0.5})


def test_contradiction_between_them_is_said_and_widens() -> None:
    """A rake typed as 20° beside levels that give 14° is not quietly averaged away: ± U holds both."""
    survey = measured(rake=Rake(20.0, 0.3), level_readings=LEVELS).survey()
    assert "rake_disagrees" in codes(survey)
    found = rake_of(survey)
    assert found.value - found.U < 14.0
    assert found.value + found.U > 20.0


def test_without_either_there_is_no_rake_and_no_section() -> None:
    """Nothing is made up."""
    survey = measured().survey()
    assert not any(d.code == "rake" or d.code.startswith("section") for d in survey.dimensions)
    assert "no_rake" in codes(survey)


def test_levels_alone_make_a_survey_of_the_rake_alone() -> None:
    """A job without any photo says the angle, and what is missing for more."""
    survey = measure(Job(level_readings=LEVELS), {})
    assert rake_of(survey).value == pytest.approx(14.0)
    assert "only_rake" in codes(survey)


def test_a_stated_rake_alone_measures_nothing() -> None:
    """What was typed in is not handed back as a measurement."""
    with pytest.raises(AdjustmentError, match="No photo holds a mark on the transom"):
        measure(Job(rake=Rake(14.0)), {})


# --- confusions ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("job", "code"),
    [
        pytest.param(Job(face_lean=FaceLean(15.2)), "lean_is_not_rake", id="face-reading-only"),
        pytest.param(Job(rake=Rake(15.2), face_lean=FaceLean(15.2)), "rake_is_lean", id="lean-typed-as-rake"),
        pytest.param(Job(rake=Rake(-14.0)), "rake_negative", id="sign"),
        pytest.param(Job(level_readings=LevelReadings(1.2, 15.2)), "levels_exchanged", id="readings-exchanged"),
        pytest.param(Job(level_readings=LevelReadings(22.0, 8.0)), "steep_keel", id="keel-too-steep"),
        pytest.param(Job(level_readings=LevelReadings(14.0, 0.0)), "keel_not_levelled", id="keel-exactly-level"),
        pytest.param(Job(rake=Rake(35.0)), "rake_unusual", id="unusual"),
    ],
)
def test_confusion_is_named(job: Job, code: str) -> None:
    """Each usual confusion has its finding."""
    assert code in said(job)


def test_sound_readings_raise_no_finding() -> None:
    """Stated and levelled rake that agree, on a keel 1.2° bow up, need no word."""
    assert said(Job(rake=Rake(13.8), level_readings=LEVELS), {"port": 18.6}) == set()


def test_rake_typed_as_deadrise_is_named() -> None:
    """A stated rake that equals the deadrise and not the levels was typed into the wrong field."""
    job = Job(rake=Rake(18.6, 0.3), level_readings=LEVELS)
    assert "rake_is_deadrise" in said(job, {"port": 18.6})
    assert "rake_is_deadrise" in said(Job(rake=Rake(23.0, 0.3)), {"starboard": 23.1})


@pytest.mark.parametrize(
    ("stated", "hint"),
    [
        pytest.param(-14.0, "sign only", id="negative"),
        pytest.param(16.4, "keel's reading of the other sign", id="keel-sign"),
        pytest.param(15.2, "without the keel's", id="face-alone"),
    ],
)
def test_disagreement_says_what_would_explain_it(stated: float, hint: str) -> None:
    """Where another sign or a missing reading explains the difference, the finding says so."""
    job = Job(rake=Rake(stated, 0.1), level_readings=LEVELS)
    texts = [f.text for f in rake_findings(job, rake_evidence(job, {})) if f.code == "rake_disagrees"]
    assert any(hint in text for text in texts)


# --- by photo --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bow_left", [False, True], ids=["bow-right", "bow-left"])
def test_faultless_photo_from_abeam_gives_the_rake(bow_left: bool) -> None:
    """Without errors and as the program assumes the boat, the angle is met to 0.01°, whichever way the bow points."""
    scene = ProfileScene(bow_left=bow_left, trim=0.02, roll=0.03, plumb_lines=2)
    assert rake_by_profile(SIDE, scene.marks(None), PRIOR).rake_deg == pytest.approx(14.0, abs=0.01)


def test_end_of_the_keel_tells_from_where_the_photo_was_taken() -> None:
    """Taken 6° from ahead, that is found to 2°; without the foot's mark it is not known at all."""
    scene = ProfileScene(ahead=math.radians(-6.0), above_mm=200.0)
    found = rake_by_profile(SIDE, scene.marks(None), PRIOR)
    blind = rake_by_profile(SIDE, scene.marks(None, foot=False), PRIOR)
    assert found.ahead_deg == pytest.approx(6.0, abs=2.0)
    assert blind.u_deg > 2.0 * found.u_deg


def test_near_edge_and_upright_on_the_centreline_are_told_apart() -> None:
    """An upright on the centreline has no flare, so oblique views of it mean less."""
    scene = ProfileScene(ahead=math.radians(5.0), plumb_lines=2)
    upright = rake_by_profile(SIDE, scene.marks(None, centre=5), PRIOR)
    edge = rake_by_profile(SIDE, scene.marks(None), PRIOR)
    assert upright.u_deg < edge.u_deg


def test_mark_off_its_line_is_set_aside() -> None:
    """A click 40 px off the keel line is named and does not count."""
    marks = list(ProfileScene().marks(np.random.default_rng(5)))
    marks[3] = replace(marks[3], y_px=marks[3].y_px + 40.0)
    found = rake_by_profile(SIDE, marks, PRIOR)
    assert found.set_aside == ("keel 3",)
    assert abs(found.rake_deg - 14.0) < 2.0 * found.u_deg


def test_too_few_marks_are_refused_with_the_remedy() -> None:
    """One mark on the face is no line."""
    marks = [m for m in ProfileScene().marks(None) if m.of != "edge"]
    with pytest.raises(AdjustmentError, match="two or more on the face"):
        rake_by_profile(SIDE, marks, PRIOR)


def test_keel_and_face_exchanged_in_part_is_refused() -> None:
    """Two lines that run alike can't be keel and face."""
    marks = [
        replace(m, kind=MarkKind.FACE_LINE) if m.id in ("keel 6", "keel 7") else m for m in ProfileScene().marks(None)
    ]
    marks = [m for m in marks if m.of not in ("edge", "foot")]
    with pytest.raises(AdjustmentError, match="run almost alike"):
        rake_by_profile(SIDE, marks, PRIOR)


def test_three_estimates_are_named_and_weighed() -> None:
    """Stated, by level and by photo stand side by side, and the survey weighs them."""
    job = from_the_side(ProfileScene(), rake=Rake(13.8), level_readings=LEVELS)
    assert [e.code for e in rake_estimates(job, FACTS)] == ["rake_stated", "rake_by_level", "rake_by_profile"]
    survey = measure(job, FACTS)
    assert rake_of(survey).u < min(d.u for d in survey.dimensions if d.code != "rake")
    assert sum(c.share for c in rake_of(survey).budget) == pytest.approx(1.0, abs=0.03)


def test_near_edge_on_a_bowed_face_is_remarked_on() -> None:
    """On a bowed face the near edge leans otherwise than the centreline."""
    job = from_the_side(ProfileScene(), face=Face(FaceKind.BOWED))
    assert "near_edge_of_bow" in said(job)


def test_mark_outside_the_picture_is_said() -> None:
    """The photo is left out with the reason, and nothing else is lost."""
    job = from_the_side(ProfileScene(), level_readings=LEVELS)
    job = replace(job, marks=(*job.marks, Mark("stray", "side", MarkKind.KEEL_LINE, 5000.0, 10.0)))
    assert "profile_left_out" in said(job)
    assert rake_of(measure(job, FACTS)).value == pytest.approx(14.0)


def test_photo_from_the_side_stays_out_of_the_face_network() -> None:
    """It adds no lens and no pose to the adjustment of the face, only its word on the rake."""
    case = measured()
    job = case.job
    both = replace(job, photos=(*job.photos, SIDE), marks=(*job.marks, *ProfileScene().marks(None)))
    facts = {**case.facts, **FACTS}
    network = build(both, facts, case.sightings)
    assert "side" not in network.views
    survey = measure(both, facts, case.sightings)
    assert rake_of(survey).value == pytest.approx(14.0, abs=0.05)
    assert any(d.code == "section_deadrise_port" for d in survey.dimensions)


# --- against truth ---------------------------------------------------------------------------------------------


def sample_clicks(random: np.random.Generator, foot: bool) -> tuple[Mark, ...]:
    """Clicks anew on the bundled photo from the side."""
    pixels = json.loads((SAMPLE / "truth.json").read_text())["photos"][0]["pixels"]
    job = read_job(SAMPLE / "job.json").job
    truth = {"plumb_line": pixels["plumb_line"]["uv"][1::2]}
    marks = [
        replace(m, x_px=m.x_px + random.normal(0, m.u_px), y_px=m.y_px + random.normal(0, m.u_px))
        for m in job.marks
        if m.kind is not MarkKind.PLUMB_LINE
    ]
    marks += [
        Mark(f"plumb {i}", "photo_1", MarkKind.PLUMB_LINE, x + random.normal(0, 0.4), y + random.normal(0, 0.4), 0.4)
        for i, (x, y) in enumerate(truth["plumb_line"])
    ]
    if foot:
        x, y = pixels["points"]["keel"]["uv"] + random.normal(0, 0.7, 2)
        marks.append(Mark("foot", "photo_1", MarkKind.FACE_LINE, float(x), float(y), side=Side.CENTRE))
    return tuple(marks)


def test_bundled_photo_gives_its_true_angle() -> None:
    """Rendered with a rake of 14°: clicked ten times, the mean is within 0.3° and every ± U holds the truth."""
    job = read_job(SAMPLE / "job.json").job
    random = np.random.default_rng(11)
    found = [
        rake_by_profile(job.photos[0], sample_clicks(random, foot=True), lens_prior(*SIZE, 25.0)) for _ in range(10)
    ]
    assert np.mean([f.rake_deg for f in found]) == pytest.approx(14.0, abs=0.3)
    assert all(abs(f.rake_deg - 14.0) < 2.0 * f.u_deg for f in found)


def test_bundled_job_gives_the_rake_alone() -> None:
    """The sample with a photo from the side and a stated rake is measured, and says what is missing."""
    file = read_job(SAMPLE / "job.json")
    evidence = gather(file)
    survey = measure(file.job, evidence.facts, evidence.sightings)
    found = rake_of(survey)
    assert abs(found.value - 14.0) < found.U
    assert "only_rake" in codes(survey)


def simulated(count: int, seed: int, u_ahead: float, plumb_lines: int, centre: int) -> tuple[np.ndarray, np.ndarray]:
    """Errors and u (degrees) of photos taken about abeam, within 300 mm of the keel's height."""
    random = np.random.default_rng(seed)
    photo = replace(SIDE, u_square_deg=u_ahead)
    out = []
    for _ in range(count):
        scene = a_drawn_scene(random, PRIOR, u_ahead, 300.0, plumb_lines)
        found: ProfileRake = rake_by_profile(photo, scene.marks(random, centre=centre), PRIOR)
        out.append((found.rake_deg - math.degrees(scene.rake), found.u_deg))
    errors, u = np.array(out).T
    return errors, u


def test_a_few_simulated_photos_are_covered() -> None:
    """Of 24 photos within 10° of abeam at least 20 lie within their U (5 or more misses have a chance under 0.7 %)."""
    errors, u = simulated(24, 3, 5.0, 1, 0)
    assert np.sum(np.abs(errors) <= 2.0 * u) >= 20


SORTS = (
    pytest.param(5.0, 1, 0, 0.8, id="near-edge"),
    pytest.param(5.0, 2, 5, 0.3, id="upright-and-two-plumb-lines"),
    pytest.param(1.5, 1, 0, 0.3, id="near-edge-seen-edge-on"),
)


@pytest.mark.slow
@pytest.mark.parametrize(("u_ahead", "plumb_lines", "centre", "rms_deg"), SORTS)
def test_stated_uncertainty_covers_the_truth(u_ahead: float, plumb_lines: int, centre: int, rms_deg: float) -> None:
    """
    Of 300 photos 92 to 98 of 100 lie within their U, and the error is as small as the page on measuring it says.
    """
    errors, u = simulated(300, 8, u_ahead, plumb_lines, centre)
    assert 0.92 <= np.mean(np.abs(errors) <= 2.0 * u) <= 0.98
    assert math.sqrt(np.mean(errors**2)) < rms_deg
