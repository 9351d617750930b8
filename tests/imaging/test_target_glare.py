"""Targets in glare, behind something and cut by the frame: what is left is as good as it says."""

import numpy as np
import pytest

from digitizer.imaging.target_layout import object_points
from digitizer.imaging.targets import find_targets
from tests.imaging.rendering import a_board, a_grid, a_marker, a_view, picture, seen


def with_glare(gray, centre, axes, brightness, soft):
    """The sun in a glossy sheet: an ellipse that fades over `soft` of its size and burns out in the middle."""
    y, x = np.indices(gray.shape)
    radius = np.hypot((x - centre[0]) / axes[0], (y - centre[1]) / axes[1])
    veil = brightness * np.clip((1.0 + soft - radius) / soft, 0.0, 1.0)
    return np.clip(gray + veil, 0, 255).astype(np.uint8)


def z_of(detection, target, H):
    off = detection.image_points - seen(H, object_points(target, detection.corner_ids))
    return off / detection.u_px[:, None]


@pytest.mark.parametrize("brightness", [90.0, 170.0, 255.0], ids=["veil", "bright", "burnt-out"])
@pytest.mark.parametrize("soft", [0.05, 0.6], ids=["sharp", "soft"])
def test_glare_on_a_board(brightness, soft):
    """A third of the board in glare: most corners are still given, none worse than it says."""
    target, H = a_board(), a_view(turn=0.1, tilt=0.2)
    gray = with_glare(picture([(target, H)]), (330.0, 280.0), (110.0, 80.0), brightness, soft)
    (detection,) = find_targets(gray, [target])
    z = z_of(detection, target, H)
    assert len(detection.corner_ids) >= 15
    assert np.abs(z).max() < 5.0
    assert np.sqrt(np.mean(z**2)) < 1.4


def test_glare_edge_through_corners_is_no_corner():
    """A strip of light along a row of corners doesn't move those it leaves."""
    target, H = a_board(), a_view(turn=0.0)
    gray = picture([(target, H)]).astype(float)
    gray[290:318] = np.clip(gray[290:318] + 200.0, 0, 255)
    (detection,) = find_targets(gray.astype(np.uint8), [target])
    off = np.abs(z_of(detection, target, H))
    assert len(detection.corner_ids) >= 14
    assert np.quantile(off, 0.95) < 3.5


@pytest.mark.parametrize(
    "cut",
    [
        pytest.param((slice(None), slice(330, None)), id="left-out-of-frame"),
        pytest.param((slice(250, None), slice(None)), id="top-out-of-frame"),
    ],
)
def test_board_cut_by_the_frame(cut):
    """What lies outside the picture has no corners, what lies inside has good ones."""
    target, H = a_board(), a_view(turn=0.1)
    gray = np.ascontiguousarray(picture([(target, H)])[cut])
    shift = np.array([[1.0, 0.0, -(cut[1].start or 0)], [0.0, 1.0, -(cut[0].start or 0)], [0.0, 0.0, 1.0]])
    (detection,) = find_targets(gray, [target])
    assert 9 <= len(detection.corner_ids) < 35
    assert np.sqrt(np.mean(z_of(detection, target, shift @ H) ** 2)) < 1.4
    assert np.all((detection.image_points >= 0) & (detection.image_points <= np.array(gray.shape[::-1]) - 1))


@pytest.mark.parametrize("width", [60, 140, 220])
def test_arm_across_the_board(width):
    """The wider the arm, the fewer the corners; those given stay good."""
    target, H = a_board(), a_view(turn=0.1)
    gray = picture([(target, H)], hidden=(400 - width // 2, 60, 400 + width // 2, 540))
    (detection,) = find_targets(gray, [target])
    assert len(detection.corner_ids) >= 35 - 5 * (2 + width / 60)
    assert np.sqrt(np.mean(z_of(detection, target, H) ** 2)) < 1.4


def test_grid_with_a_marker_in_glare():
    """A grid loses the marker in the glare and keeps the others."""
    target, H = a_grid(), a_view(scale=1.4, turn=0.05)
    x, y = seen(H, object_points(target, [4 * 40 + k for k in range(4)])).mean(axis=0)
    gray = with_glare(picture([(target, H)]), (x, y), (40.0, 40.0), 255.0, 0.1)
    (detection,) = find_targets(gray, [target])
    assert len(detection.corner_ids) >= 4 * 9
    assert np.sqrt(np.mean(z_of(detection, target, H) ** 2)) < 1.25


def test_corners_over_many_boards_are_honest():
    """Over 500 saddle corners in ordinary pictures: to 0.1 px, normalised errors with a deviation near 1."""
    rng = np.random.default_rng(9)
    z, errors = [], []
    for run in range(18):
        target, H = (
            a_board(),
            a_view(rng.uniform(0.8, 1.3), rng.uniform(-8, 8, 2) + np.array([400, 300]), rng.uniform(-0.4, 0.4)),
        )
        gray = picture([(target, H)], blur_px=rng.uniform(0.6, 1.4), noise=rng.uniform(2.0, 5.0), seed=run)
        (detection,) = find_targets(gray, [target])
        z += list(z_of(detection, target, H).ravel())
        errors += list(detection.image_points - seen(H, object_points(target, detection.corner_ids)))
    assert len(errors) > 500
    assert np.sqrt(np.mean(np.square(errors))) < 0.1  # px in one coordinate
    assert 0.5 < np.std(z) < 1.25  # the floor of 0.05 px for prints is wider than the noise of a faultless one


def test_marker_corners_have_their_own_uncertainty():
    """Corners of plain markers are to a tenth of a pixel where their sides are seen, and as good as they say."""
    z, errors = [], []
    for run in range(12):
        target, H = a_marker(90), a_view(1.1 + 0.05 * run, (400.3 + 0.3 * run, 300.2), 0.1 * run)
        (detection,) = find_targets(picture([(target, H)], seed=run), [target])
        assert detection.u_px.min() >= 0.03
        z += list(z_of(detection, target, H).ravel())
        errors += list(detection.image_points - seen(H, object_points(target, detection.corner_ids)))
    assert np.sqrt(np.mean(np.square(errors))) < 0.1  # px in one coordinate
    assert np.sqrt(np.mean(np.square(z))) < 1.25


def test_glare_on_a_marker():
    """The sun over a corner of a marker: no corner is worse than it says."""
    for brightness in (90.0, 170.0, 255.0):
        target, H = a_marker(), a_view(1.6, turn=0.3)
        corner = seen(H, object_points(target, [4 * target.first_id]))[0]
        gray = with_glare(picture([(target, H)]), corner, (30.0, 24.0), brightness, 0.4)
        for detection in find_targets(gray, [target]):
            assert np.abs(z_of(detection, target, H)).max() < 5.0
