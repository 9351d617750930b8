"""The simulator itself: what it draws is what it says, and the truth can be got back by other means."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitizer.job.model import Mark
from digitizer.job.validation import check_references
from tests.builders import FloatArray, SimCamera, SimString, SimTransom, a_pose, true_dimensions
from tests.coverage.theory import theory_u
from tests.simulation.evidence import EVIDENCE, REAL, STRICT, Evidence
from tests.simulation.jobs import Simulated, simulated_job


def homography(first: FloatArray, second: FloatArray) -> FloatArray:
    """Homography (3, 3) that takes four points to four others: eight linear equations."""
    rows, right = [], []
    for (x, y), (u, v) in zip(first, second, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)


def flattened(job: Simulated, marks: list[Mark]) -> FloatArray:
    """Marks of a job as pixels of a lens without distortion."""
    f, cx, cy, *distortion = job.scene.theta["lens"]
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    pixels = np.array([[m.x_px, m.y_px] for m in marks]).reshape(-1, 1, 2)
    return cv2.undistortPoints(pixels, matrix, np.array(distortion)).reshape(-1, 2)


@pytest.mark.parametrize("name", EVIDENCE)
def test_faultless_marks_intersect_the_face_at_the_truth(name: str) -> None:
    """A homography through four marks puts all other marks of the face where the scene has them."""
    job = simulated_job(3, name, noise=0.0)
    on_face = [m for m in job.job.marks if m.id in job.scene.places and m.height_mm == 0.0]
    truth = np.array([job.scene.at(job.scene.theta, m.id) for m in on_face])
    rays = flattened(job, on_face)
    four = [next(i for i, m in enumerate(on_face) if m.id == name) for name in (
        "chine_port", "chine_starboard", "top_starboard", "top_port",
    )]  # fmt: skip
    H = homography(rays[four], truth[four])
    places = np.column_stack([rays, np.ones(len(rays))]) @ H.T
    np.testing.assert_allclose(places[:, :2] / places[:, 2:], truth, atol=1e-3)  # mm, what undistortion leaves


@pytest.mark.parametrize("name", EVIDENCE)
def test_jobs_hold_together(name: str) -> None:
    """Every name in a simulated job leads somewhere."""
    assert check_references(simulated_job(1, name).job) == ()


def test_same_seed_same_job() -> None:
    """A job can be made again from its seed."""
    first, second = (simulated_job(11, "board_string_rule_mirror", precision=REAL) for _ in range(2))
    assert first.job == second.job
    assert first.truth == second.truth


def test_clicks_scatter_as_stated() -> None:
    """Marks lie about their faultless places with the scatter that they carry as u."""
    z = []
    for seed in range(20):
        with_noise, without = (simulated_job(seed, "board", noise=noise).job.marks for noise in (1.0, 0.0))
        z += [(a.x_px - b.x_px) / a.u_px for a, b in zip(with_noise, without, strict=True)]
    assert np.std(z) == pytest.approx(1.0, abs=4 / np.sqrt(2 * len(z)))  # four standard errors
    assert np.mean(z) == pytest.approx(0.0, abs=4 / np.sqrt(len(z)))


def test_nuisances_scatter_as_their_priors() -> None:
    """Each unknown with a prior is drawn from it: lens, definition, thickness, flatness, scale, tape, rims."""
    z: dict[str, list[float]] = {}
    for seed in range(60):
        scene = simulated_job(seed, "board_string_rule_mirror", precision=REAL).scene
        for name, prior in scene.prior.items():
            drawn = np.isfinite(prior) & (prior > 0)
            values = ((scene.theta[name] - scene.nominal[name])[drawn] / prior[drawn]).tolist()
            z.setdefault(name, []).extend(values)
    for name, values in z.items():
        if values:
            assert np.std(values) == pytest.approx(1.0, abs=4 / np.sqrt(2 * len(values))), name


def test_unlike_sides_scatter_as_the_mirror_pairs_say() -> None:
    """A point differs from its twin's mirror image by the pair's u, both across and along the axis."""
    jobs = [simulated_job(seed, "rule_mirror_beam") for seed in range(100)]
    z = np.array([job.scene.relations(job.scene.theta) / job.scene.relation_u() for job in jobs])
    np.testing.assert_allclose(z.std(axis=0), 1.0, atol=4 / np.sqrt(200))  # four standard errors


def test_dimensions_of_a_hull_known_by_hand() -> None:
    """On a symmetrical hull under a level string every dimension follows from the drawing's figures."""
    hull = SimTransom(deadrise_deg=(20.0, 20.0), inner_half=(1000.0, 1000.0), outer_half=(1060.0, 1060.0))
    truth = true_dimensions(hull.points(), SimString(900.0, 0.0), crown=30.0)
    assert truth["deadrise_chord_port"] == pytest.approx(20.0)
    assert truth["chine_beam"] == pytest.approx(2120.0)
    assert truth["b_starboard"] == pytest.approx(900.0 - 381.0 * np.tan(np.radians(20.0)))
    assert truth["height_centre"] == pytest.approx(1040.0)
    assert truth["keel_from_middle"] == pytest.approx(0.0)


def test_string_off_level_tilts_the_deadrise() -> None:
    """Port and starboard differ by twice the slope of the string."""
    truth = true_dimensions(SimTransom().points(), SimString(890.0, np.tan(np.radians(0.2))), crown=30.0)
    assert truth["deadrise_chord_port"] - truth["deadrise_chord_starboard"] == pytest.approx(0.4)


def test_camera_square_on_sees_the_drawing_to_scale() -> None:
    """Without distortion, square on, 3.3 m away: 2900 / 3300 px to the millimetre, y turned over."""
    rotation, translation = a_pose(aim=(0.0, 500.0))
    camera = SimCamera(rotation=rotation, translation=translation)
    u, v = camera.project([[330.0, 830.0, 0.0]])[0]
    assert (u - camera.cx, v - camera.cy) == pytest.approx((290.0, -290.0))


def test_yaw_to_starboard_shows_the_starboard_side_larger() -> None:
    """A camera moved to starboard is nearer to the starboard chine."""
    rotation, translation = a_pose(yaw_deg=30.0)
    camera = SimCamera(rotation=rotation, translation=translation)
    port, keel, starboard = camera.project([[-1000.0, 500.0, 0.0], [0.0, 500.0, 0.0], [1000.0, 500.0, 0.0]])[:, 0]
    assert starboard - keel > keel - port > 0


@pytest.mark.parametrize(
    ("name", "deadrise", "beam"),
    [
        pytest.param("board", 0.19, 15.0, id="board"),
        pytest.param("board_string_rule", 0.15, 5.0, id="board-string-rule"),
        pytest.param("board_string_rule_mirror", 0.13, 3.7, id="all-of-it"),
        pytest.param("rule_mirror_beam", 0.22, 4.0, id="no-target"),
        pytest.param("four_markers", 0.12, 2.5, id="four-markers"),
    ],
)
def test_simulated_evidence_is_what_the_theory_had_in_mind(name: str, deadrise: float, beam: float) -> None:
    """The covariance of the scenes agrees with the method's table, which was computed elsewhere, to a quarter."""
    u = [theory_u(simulated_job(seed, name, precision=STRICT).scene) for seed in range(2)]
    assert 1.96 * np.mean([one["deadrise_chord_port"] for one in u]) == pytest.approx(deadrise, rel=0.25)
    assert 1.96 * np.mean([one["chine_beam"] for one in u]) == pytest.approx(beam, rel=0.25)


def test_theory_knows_that_nothing_gives_the_scale() -> None:
    """Without any known length only the few millimetres that rims stand proud hint at the size."""
    job = simulated_job(1, Evidence(string_marks=5))
    assert theory_u(job.scene)["chine_beam"] > 200.0  # mm: a tenth of the beam
