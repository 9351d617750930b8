"""A camera calibrated from photos of a board: against truth, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from digitizer.errors import AdjustmentError, RankDeficientError
from digitizer.survey.board_photos import BoardPhotos, CalibratedCamera, remarks
from digitizer.survey.calibration import Calibrated, calibrate, calibrated_lens, open_prior
from tests.survey.board_shots import BOARD, LENS, SIZE, TILTED, U_PX, board_shots

PRIOR = open_prior(SIZE, 29.0)


def z_scores(result: Calibrated, lens: np.ndarray = LENS) -> np.ndarray:
    """Errors of f, cx, cy, k1, k2, p1, p2 over their u."""
    c = result.calibration
    found = np.array([c.f_px, c.cx_px, c.cy_px, c.k1, c.k2, c.p1, c.p2])
    return (found - lens[:7]) / [c.u_f_px, c.u_c_px, c.u_c_px, c.u_k1, c.u_k2, c.u_p, c.u_p]


@pytest.fixture(scope="module")
def faultless() -> Calibrated:
    return calibrate(board_shots(None), [BOARD], SIZE, PRIOR)


def test_faultless_photos_give_the_lens(faultless: Calibrated) -> None:
    """Corners without errors give f to 0.1 px and the distortion to 0.001; the priors' pull is all that is left."""
    c = faultless.calibration
    assert c.f_px == pytest.approx(LENS[0], abs=0.1)
    assert (c.cx_px, c.cy_px) == pytest.approx(LENS[1:3], abs=0.1)
    assert (c.k1, c.k2) == pytest.approx(LENS[3:5], abs=1e-3)


def test_focal_length_is_found_without_any_hint() -> None:
    """From no focal length at all, and a third longer than the usual one, the same lens is found."""
    long = np.concatenate([[4100.0], LENS[1:]])
    c = calibrate(board_shots(None, lens=long), [BOARD], SIZE).calibration
    assert c.f_px == pytest.approx(4100.0, abs=0.5)


def test_errors_are_as_large_as_stated() -> None:
    """Over two calibrations with corner errors, z of 14 values has a square mean about 1 (0.2 to 2.7, p < 0.2 %)."""
    random = np.random.default_rng(2)
    z = np.concatenate([z_scores(calibrate(board_shots(random), [BOARD], SIZE, PRIOR)) for _ in range(2)])
    assert 0.2 < np.mean(z**2) < 2.7


@pytest.mark.slow
def test_stated_uncertainty_of_the_lens_covers_the_truth() -> None:
    """Of 40 calibrations each value of the lens lies within its U in 86 to 100 of 100, all seven in 92 to 98."""
    random = np.random.default_rng(7)
    z = np.array([z_scores(calibrate(board_shots(random), [BOARD], SIZE, PRIOR)) for _ in range(40)])
    inside = np.abs(z) <= 2.0
    assert np.all(inside.mean(axis=0) >= 0.86)  # 95 % less two and a half standard deviations of 40 draws
    assert 0.92 <= inside.mean() <= 0.98


def test_bent_board_is_seen() -> None:
    """A board whose corners bow by 1.5 mm is found bent, its sheet by as much more as it is wider; f stays right."""
    result = calibrate(board_shots(np.random.default_rng(3), bend_mm=1.5), [BOARD], SIZE, PRIOR)
    assert result.bend_mm == pytest.approx(1.5 * (7 * 35 / (5 * 35)) ** 2, abs=0.3)  # sheet and corners end apart
    assert np.max(np.abs(z_scores(result))) < 3.5


def test_third_term_is_taken_where_the_photos_tell_it() -> None:
    """A lens with a k3 gets it."""
    bent = LENS.copy()
    bent[7] = 0.9
    with_term = calibrated_lens(board_shots(np.random.default_rng(4), lens=bent), [BOARD], SIZE, 29.0)
    assert abs(with_term.calibration.k3 - 0.9) < 3.0 * with_term.calibration.u_k3


def test_a_wrong_corner_is_set_aside() -> None:
    """A corner taken for another, 20 px off, is named and does not bend the lens."""
    shots = board_shots(np.random.default_rng(5))
    shots[2] = replace(shots[2], x_px=(shots[2].x_px[0] + 20.0, *shots[2].x_px[1:]))
    result = calibrate(shots, [BOARD], SIZE, PRIOR)
    assert result.set_aside == ("board corner 0 in photo 2",)
    photos = BoardPhotos(tuple(shots), *SIZE, 5.1, 29.0, None, ())
    assert "board corner 0 in photo 2" in " ".join(remarks(CalibratedCamera(photos, result, result.calibration)))
    assert np.max(np.abs(z_scores(result))) < 3.5


def test_worse_corners_than_promised_widen_the_uncertainty() -> None:
    """Corners three times as far off as stated fail the global test, and every u grows by about that."""
    shots = [replace(s, u_px=(U_PX / 3.0,) * len(s.u_px)) for s in board_shots(np.random.default_rng(6))]
    assert calibrate(shots, [BOARD], SIZE, PRIOR).scaled_by == pytest.approx(3.0, abs=0.4)


def test_two_photos_are_too_few() -> None:
    """Two photos are refused with the number wanted."""
    with pytest.raises(AdjustmentError, match="3 photos at least"):
        calibrate(board_shots(None, TILTED[:2]), [BOARD], SIZE)


def test_square_on_photos_are_refused() -> None:
    """Seen square-on in every photo, focal length and distance go together: tilt it, says the refusal."""
    square = [(0.5 * i, -0.5 * i) for i in range(6)]
    with pytest.raises(RankDeficientError, match="tilted by 20°"):
        calibrate(board_shots(np.random.default_rng(1), square), [BOARD], SIZE, PRIOR)


def test_photos_of_another_board_are_refused() -> None:
    """Corners that no camera could see of this board are refused with what to check."""
    random = np.random.default_rng(8)
    shots = [
        replace(s, x_px=tuple(random.permutation(s.x_px).tolist()), y_px=tuple(random.permutation(s.y_px).tolist()))
        for s in board_shots(None)
    ]
    with pytest.raises(AdjustmentError):
        calibrate(shots, [BOARD], SIZE, PRIOR)


def test_cover_counts_where_the_corners_lie(faultless: Calibrated) -> None:
    """Fewer photos cover less of the picture, the tilt is told, and no third term is made out of nothing."""
    few = calibrate(board_shots(None)[:3], [BOARD], SIZE, PRIOR)
    assert few.covered < faultless.covered <= 1.0
    assert faultless.photos[0].off_square_deg == pytest.approx(25.0, abs=0.2)
    assert math.isclose(faultless.rms_px, 0.0, abs_tol=0.02)
    assert faultless.third_term_gain < 1.0


def test_what_could_be_better_is_said() -> None:
    """A bent board, corners worse than promised, few fields covered and photos without the board are each named."""
    shots = board_shots(np.random.default_rng(3), bend_mm=1.5)
    shots = [replace(s, u_px=(U_PX / 3.0,) * len(s.u_px)) for s in shots[:4]]
    result = calibrate(shots, [BOARD], SIZE, PRIOR)
    photos = BoardPhotos(tuple(shots), *SIZE, 5.1, 29.0, None, ("album/blurred.jpg",))
    said = " ".join(remarks(CalibratedCamera(photos, result, result.calibration)))
    assert "not found in blurred.jpg" in said
    assert "times worse" in said
    assert "board is bent by" in said
    assert "near the corners of the picture" in said


def test_a_good_calibration_needs_no_remark(faultless: Calibrated) -> None:
    """Eight good photos that cover the picture leave nothing to say."""
    photos = BoardPhotos((), *SIZE, 5.1, 29.0, None, ())
    assert remarks(CalibratedCamera(photos, faultless, faultless.calibration)) == []
