"""What photos can reach, foretold from the board in them, beside what the marked jobs reached."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from digitizer.camera.lens import lens_prior
from digitizer.job.model import Job, KnownLength, Mark, MarkKind, Rectangle, Role, Sighting
from digitizer.survey.foresight import CLICK_PX, Foresight, Reach, foresee, outlook, sentences
from digitizer.survey.live import Live
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from digitizer.survey.thought import thought
from digitizer.survey.typical import SMALLEST, Standpoint, before_the_face, beside, laid
from tests.builders import SimCamera, a_pose
from tests.survey.exact import a_case, all_spots
from tests.survey.test_ellipses import sample

SAMPLES = ("flat_square_on", "flat_oblique_wide", "bowed_three", "padded_two")
U_PX = 0.7
"""Of the samples' chine marks."""


def sightings(live: Live) -> list[Sighting]:
    return [sighting for _, sighting in live.base.network.sightings]


def bare(job: Job) -> Job:
    """The job before the transom was marked: photos, board, and a rule where there is one."""
    ends = tuple(mark for mark in job.marks if mark.kind is MarkKind.LENGTH_END)
    return replace(job, marks=ends, fittings=(), lines=(), tape_figures=(), pads=(), lengths=job.lengths)


@cache
def foretold(name: str) -> Foresight:
    live = sample(name)
    found = foresee(bare(live.job), live.facts, sightings(live), U_PX)
    assert found is not None
    return found


def reached(survey: Survey) -> Reach:
    """What a marked job came to."""
    chines = [2.0 * max(p.u_x, p.u_y) for p in survey.points if p.kind == "chine"]
    return Reach(max(chines), max(d.U for d in survey.dimensions if d.code.startswith("deadrise_chord_")))


@pytest.mark.parametrize("name", SAMPLES)
def test_marked_jobs_reach_what_was_foretold(name: str) -> None:
    """Within a third, though the samples' transoms are not the typical one; flat and bowed, one photo and several."""
    found, real = foretold(name).reach, reached(sample(name).survey)
    assert 1 / 1.33 < found.U_chine_mm / real.U_chine_mm < 1.33
    assert 1 / 1.33 < found.U_deadrise_deg / real.U_deadrise_deg < 1.33


def test_what_is_marked_already_is_taken_as_it_is() -> None:
    """With the corners marked the transom is as wide as it is: 2245 mm, to a few percent of a single photo's scale."""
    live = sample("flat_square_on")
    found = foresee(live.job, live.facts, sightings(live), U_PX)
    assert found is not None
    assert found.beam_mm == pytest.approx(2245.0, rel=0.03)
    assert found.reach.U_chine_mm == pytest.approx(reached(live.survey).U_chine_mm, rel=0.2)


def test_tape_does_for_the_real_job_what_was_foretold() -> None:
    """The improvement that can be tried on the sample: a tape across its chines, in the survey itself."""
    live = sample("padded_two")
    better = next(b.reach for b in foretold("padded_two").better if b.text.startswith("a tape figure"))
    at = {p.id: np.array([p.x, p.y, p.z]) for p in live.survey.points}
    apart = float(np.linalg.norm(at["chine_starboard"] - at["chine_port"]))
    tape = KnownLength("tape", "chine_port", "chine_starboard", apart, 1.0)
    real = reached(measure(replace(live.job, lengths=(*live.job.lengths, tape)), live.facts, sightings(live)))
    assert 1 / 1.5 < better.U_chine_mm / real.U_chine_mm < 1.5


@pytest.mark.parametrize("name", ["flat_square_on", "padded_two"])
def test_improvements_improve_and_come_in_order(name: str) -> None:
    """Each is worth its effort, the best first, and none makes a figure worse."""
    found = foretold(name)
    parts = [
        np.sqrt(b.reach.U_chine_mm / found.reach.U_chine_mm * b.reach.U_deadrise_deg / found.reach.U_deadrise_deg)
        for b in found.better
    ]
    assert parts == sorted(parts)
    assert all(part <= 0.85 for part in parts)
    assert all(b.reach.U_deadrise_deg <= found.reach.U_deadrise_deg * 1.001 for b in found.better)


def test_blunter_clicks_reach_less() -> None:
    """Three pixels are worse than one, and say so in the sentence."""
    live = sample("flat_square_on")
    coarse = foresee(bare(live.job), live.facts, sightings(live), 3.0)
    assert coarse is not None
    assert coarse.reach.U_chine_mm > foretold("flat_square_on").reach.U_chine_mm
    assert "if clicked to 3 px" in sentences(coarse, "mm")


def test_sentences_say_what_is_assumed_and_what_would_help() -> None:
    """Figures as the record holds them, in the job's unit."""
    reach = Reach(2.4, 0.15)
    found = Foresight(("photo_1",), "board", CLICK_PX, 2400.0, reach, "port chine", 2.6, ())
    said = sentences(found, "mm")
    assert said.startswith("The board is found. From this photo the chines can come to ± 2.4 mm and the deadrise to ")
    assert "± 0.15°, if clicked to 1 px; the port chine is weakest, ± 2.6 mm." in said
    assert said.endswith("Assumed are a transom 2.4 m wide and a string across it.")


def test_nothing_of_known_size_foretells_nothing() -> None:
    """No board, no sheet: no sentence."""
    live = sample("flat_square_on")
    job = replace(bare(live.job), targets=(), lengths=())
    assert foresee(job, live.facts, []) is None
    assert outlook(job, live.facts, []) == ""


def test_rule_alone_is_told_not_to_be_enough() -> None:
    """It gives the size and not the tilt."""
    live = sample("flat_square_on")
    job = replace(bare(live.job), targets=())
    assert any(k.role is Role.OBSERVATION for k in job.lengths)
    assert "not how the photo is tilted" in outlook(job, live.facts, [])


def test_board_that_is_not_in_the_photo_is_told() -> None:
    """The record alone is not enough; what to do is said."""
    live = sample("flat_square_on")
    assert foresee(bare(live.job), live.facts, []) is None
    said = outlook(bare(live.job), live.facts, [])
    assert said.startswith("The board is not found in the photo.")
    assert "take the photo again" in said


def test_board_on_a_pad_is_told_to_foretell_nothing() -> None:
    """It is found, and how far it stands off the face is not known yet."""
    live = sample("flat_square_on")
    job = replace(bare(live.job), targets=tuple(replace(t, on="pad") for t in live.job.targets), lengths=())
    assert "lies on a pad" in outlook(job, live.facts, sightings(live))


def test_second_photo_does_for_the_real_job_what_was_foretold() -> None:
    """One photo of two foretells what both then reach, though the other stands elsewhere: within a half."""
    live = sample("padded_two")
    job = replace(bare(live.job), photos=live.job.photos[:1])
    alone = foresee(job, live.facts, [s for s in sightings(live) if s.photo == job.photos[0].id], U_PX)
    assert alone is not None
    better = next(b.reach for b in alone.better if b.text.startswith("a second photo"))
    real = reached(live.survey)
    assert 1 / 1.5 < better.U_chine_mm / real.U_chine_mm < 1.5
    assert 1 / 1.5 < better.U_deadrise_deg / real.U_deadrise_deg < 1.5
    assert better.U_chine_mm < alone.reach.U_chine_mm


@pytest.mark.parametrize("clockwise", [True, False], ids=["clockwise", "anticlockwise"])
def test_sheet_serves_as_a_board_does(clockwise: bool) -> None:
    """Four corners marked either way round give the same foresight."""
    case = a_case(all_spots())
    photo = case.job.photos[0]
    rotation, translation = a_pose(yaw_deg=12.0)
    camera = SimCamera(rotation=rotation, translation=translation)
    order = [(-200, 400), (220, 400), (220, 697), (-200, 697)]
    corners = order[::-1] if clockwise else order
    px = camera.project([(x, y, 0.0) for x, y in corners])
    marks = tuple(Mark(f"s{i}", photo.id, MarkKind.RECTANGLE_CORNER, float(x), float(y)) for i, (x, y) in enumerate(px))
    sheet = Rectangle("sheet", ("s0", "s1", "s2", "s3"), 420.0, 297.0)
    job = replace(case.job, marks=marks, rectangles=(sheet,), targets=(), sightings=(), lengths=(), lines=())
    found = foresee(job, case.facts, [])
    assert found is not None
    assert found.by == "sheet"
    assert 2.0 < found.reach.U_chine_mm < 60.0


def test_interrupted_work_ends() -> None:
    """As everywhere, by InterruptedError."""
    live = sample("flat_square_on")
    with pytest.raises(InterruptedError):
        foresee(bare(live.job), live.facts, sightings(live), cancelled=lambda: True)


def lens() -> np.ndarray:
    return np.array(lens_prior(4000, 3000, None).values)


def test_camera_is_where_it_stood() -> None:
    """From a board's corners alone: distance and view, to what rounding leaves; a second camera in the same frame."""
    own = lens()
    corners = np.array([[x, y] for x in (0.0, 55.0, 385.0) for y in (0.0, 55.0, 275.0)])
    views, on_face = [], corners + np.array([-150.0, 350.0])
    for yaw in (10.0, -25.0):
        rotation, translation = a_pose(yaw_deg=yaw, pitch_deg=8.0, roll_deg=3.0)
        camera = SimCamera(f=own[0], cx=own[1], cy=own[2], rotation=rotation, translation=translation)
        views.append((camera, camera.project(np.column_stack([on_face, np.zeros(9)]))))
    stand, placed = before_the_face(corners, views[0][1], own, (4000, 3000))
    middle = np.append(on_face.mean(axis=0), 0.0)
    true = [np.linalg.norm(-c.rotation.T @ c.translation - middle) for c, _ in views]
    assert np.linalg.norm(stand.camera) == pytest.approx(true[0], rel=1e-3)
    other = beside(placed, corners, views[1][1], own, (4000, 3000))
    assert np.linalg.norm(other.camera) == pytest.approx(true[1], rel=1e-3)
    space = np.column_stack([corners, np.zeros(9)]) @ placed.rotation.T + placed.translation
    for each, (_, image) in zip((stand, other), views, strict=True):
        assert each.see(space) == pytest.approx(image, abs=0.01)  # px; the solver's own end
        assert each.see_face(each.meet(image)) == pytest.approx(image, abs=1e-6)


def test_transom_shrinks_to_what_the_photo_shows() -> None:
    """A near photo shows a part only; one so near that hardly a quarter fits shows too little."""
    from digitizer.camera.resection import Pose

    def at(distance: float) -> Standpoint:
        return Standpoint(Pose(np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, distance])), lens(), (4000, 3000))

    whole, part = laid(at(4000.0), ()), laid(at(1200.0), ())
    assert whole is not None
    assert part is not None
    assert whole.beam_mm == 2400.0
    assert SMALLEST * 2400.0 <= part.beam_mm < 1600.0
    assert laid(at(300.0), ()) is None


def test_job_in_thought_has_no_residuals() -> None:
    """Every observation lies where the cameras see it; a string's height off the face is what is left."""
    live = sample("bowed_three")
    scene = thought(bare(live.job), live.facts, sightings(live), 1.0)
    assert scene is not None
    survey = measure(*scene.job())
    assert survey.adjustment.weighted_square_sum < 1.0  # of 235 degrees of freedom
    assert len(survey.photos) == 3
