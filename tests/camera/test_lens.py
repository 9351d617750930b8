"""What is known of a lens beforehand: the table of priors, row by row."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitizer.camera.lens import FULL_FRAME_DIAGONAL_MM, LENS_NAMES, LensPrior, lens_prior, refocus_allowance
from digitizer.camera.projection import projected
from digitizer.job.model import Calibration

DIAGONAL = 5000.0  # px, of 4000 × 3000
CALIBRATION = Calibration(4000, 3000, 2950.0, 6.0, 2004.0, 1507.0, 3.0, 0.04, -0.05, 0.0002, -0.0001, 0.01, 0.004)


def named(values: tuple[float, ...]) -> dict[str, float]:
    return dict(zip(LENS_NAMES, values, strict=True))


def test_focal_length_from_exif() -> None:
    """The 35 mm equivalent gives f by the diagonals, to 3 %; the axis is near the middle, k1 and k2 near nought."""
    prior = lens_prior(4000, 3000, 26.0)
    value, u = named(prior.values), named(prior.u)
    assert value["f"] == pytest.approx(DIAGONAL / FULL_FRAME_DIAGONAL_MM * 26.0)
    assert u["f"] == pytest.approx(0.03 * value["f"])
    assert (value["cx"], value["cy"]) == (1999.5, 1499.5)
    assert u["cx"] == u["cy"] == pytest.approx(0.005 * DIAGONAL)
    assert (u["k1"], u["k2"], u["k3"]) == (0.05, 0.05, 0.0)
    assert [value[k] for k in ("k1", "k2", "p1", "p2", "k3")] == [0.0] * 5
    assert "EXIF" in prior.source


@pytest.mark.parametrize(
    "focal",
    [
        pytest.param(None, id="stripped"),
        pytest.param(0.0, id="zero"),
        pytest.param(7.9, id="absurdly-short"),
        pytest.param(65535.0, id="absurdly-long"),
        pytest.param(float("nan"), id="not-a-number"),
    ],
)
@pytest.mark.parametrize("size", [pytest.param((4000, 3000), id="wide"), pytest.param((3000, 4000), id="upright")])
def test_without_a_credible_focal_length(focal: float | None, size: tuple[int, int]) -> None:
    """Without EXIF, or with an absurd value in it, f is 0.78 of the longer side to 20 % and the rest is wider too."""
    prior = lens_prior(*size, focal)
    u = named(prior.u)
    assert prior.values[0] == pytest.approx(0.78 * 4000)
    assert u["f"] == pytest.approx(0.20 * 0.78 * 4000)
    assert u["cx"] == pytest.approx(0.01 * DIAGONAL)
    assert u["k1"] == 0.10
    assert "EXIF" not in prior.source


def assert_odd(prior: LensPrior, u_f: float) -> None:
    u = named(prior.u)
    assert u["f"] / prior.values[0] == pytest.approx(u_f)
    assert u["cx"] == u["cy"]
    assert u["k1"] == 0.10
    assert "cropped or resized" in prior.source


@pytest.mark.parametrize(
    ("width", "height", "exif"),
    [
        pytest.param(4000, 2000, None, id="odd-shape"),
        pytest.param(3000, 3000, (4000, 3000), id="square-cut-from-4-to-3"),
        pytest.param(4000, 2250, (4000, 3000), id="16-to-9-cut-from-4-to-3"),
        pytest.param(2250, 4000, (3000, 4000), id="upright-and-cut"),
    ],
)
def test_cropped_or_oddly_resized(width: int, height: int, exif: tuple[int, int] | None) -> None:
    """A shape that is no sensor's, or not EXIF's, leaves f to 10 % and the axis to 10 % of the diagonal."""
    prior = lens_prior(width, height, 26.0, exif)
    assert_odd(prior, 0.10)
    assert named(prior.u)["cx"] == pytest.approx(0.10 * np.hypot(width, height))


def test_declared_cropped() -> None:
    """A picture that the user calls cropped is taken so although its shape is usual; without EXIF f stays at 20 %."""
    assert_odd(lens_prior(4000, 3000, 26.0, cropped=True), 0.10)
    assert_odd(lens_prior(4000, 3000, cropped=True), 0.20)


@pytest.mark.parametrize(
    ("width", "height", "exif"),
    [
        pytest.param(1600, 1200, (4000, 3000), id="made-smaller-whole"),
        pytest.param(1200, 1600, (4000, 3000), id="turned-upright"),
        pytest.param(1601, 1200, (4000, 3000), id="rounded-by-a-pixel"),
        pytest.param(4000, 3000, (0, 0), id="exif-size-absurd"),
        pytest.param(4032, 2268, None, id="16-to-9"),
        pytest.param(6000, 4000, None, id="3-to-2"),
        pytest.param(3000, 3000, None, id="square"),
    ],
)
def test_usual_shapes_are_not_called_cropped(width: int, height: int, exif: tuple[int, int] | None) -> None:
    """Making a picture smaller, or turning it, leaves what EXIF says of the lens in force."""
    prior = lens_prior(width, height, 26.0, exif)
    assert prior.source == "35 mm equivalent from EXIF"
    assert prior.values[0] == pytest.approx(np.hypot(width, height) / FULL_FRAME_DIAGONAL_MM * 26.0)


def test_calibration_wins() -> None:
    """A calibration of the photo's size is taken as it stands, whatever EXIF says."""
    prior = lens_prior(4000, 3000, 50.0, calibration=CALIBRATION)
    assert prior.values == (2950.0, 2004.0, 1507.0, 0.04, -0.05, 0.0002, -0.0001, 0.01)
    assert prior.u == (6.0, 3.0, 3.0, 0.004, 0.01, 0.0002, 0.0002, 0.0)
    assert prior.source == "calibration"


def test_calibration_of_a_picture_made_smaller() -> None:
    """A photo made smaller shows each point where averaging the pixels puts it: their centres keep the half pixel."""
    points = np.array([[-1500.0, 700.0, 3000.0], [1200.0, -900.0, 2500.0], [0.0, 0.0, 1000.0]])
    full = lens_prior(4000, 3000, calibration=CALIBRATION)
    small = lens_prior(1600, 1200, calibration=CALIBRATION)
    expected = (projected(points, np.array(full.values)) + 0.5) * 0.4 - 0.5
    assert np.allclose(projected(points, np.array(small.values)), expected, atol=1e-9)  # px
    assert small.u[:3] == pytest.approx([v * 0.4 for v in full.u[:3]])
    assert small.u[3:] == full.u[3:]


def test_calibration_at_another_focus_is_trusted_less() -> None:
    """With a refocus allowance f, middle, k1 and k2 keep their values and each u grows by what is stated."""
    near = replace(CALIBRATION, u_refocus=0.009)
    prior, as_made = lens_prior(4000, 3000, calibration=near), lens_prior(4000, 3000, calibration=CALIBRATION)
    assert prior.values == as_made.values
    added = np.sqrt(np.square(prior.u) - np.square(as_made.u))
    assert added == pytest.approx([0.009 * 2950.0, 5.0, 5.0, 0.005, 0.005, 0.0, 0.0, 0.0])


@pytest.mark.parametrize(
    ("focal_mm", "distance_mm", "u"),
    [
        pytest.param(5.1, 330.0, 0.00914, id="phone-over-a-sheet"),
        pytest.param(5.1, 1500.0, 0.00280, id="phone-farther-off"),
        pytest.param(30.0, 1000.0, 0.01744, id="large-camera"),
        pytest.param(None, 330.0, 0.01, id="focal-length-unknown"),
    ],
)
def test_refocus_allowance(focal_mm: float | None, distance_mm: float, u: float) -> None:
    """By hand: (f/D)/√3 and 0.002 in quadrature; 0.01 where no focal length is known."""
    assert refocus_allowance(focal_mm, distance_mm) == pytest.approx(u, abs=5e-6)


def test_allowance_holds_a_thin_lens_focused_anywhere_farther() -> None:
    """From the board's distance to far away, 2 u of the allowance hold the whole change of a thin lens's f."""
    f, board = 5.1, 330.0
    principal = lambda distance: f * distance / (distance - f)  # noqa: E731  (1/f = 1/D + 1/v)
    change = np.array([principal(board) / principal(d) - 1.0 for d in np.geomspace(board, 1e6, 50)])
    assert np.all((change >= 0.0) & (change <= 2.0 * refocus_allowance(f, board)))
    assert change[-1] > refocus_allowance(f, board)  # and one u does not: it isn't generous


def test_calibration_of_another_shape_is_not_used() -> None:
    """A calibration made at another shape says nothing of this picture."""
    assert lens_prior(4000, 2250, 26.0, calibration=CALIBRATION).source == "35 mm equivalent from EXIF"
    upright = replace(CALIBRATION, width_px=3000, height_px=4000)
    assert lens_prior(4000, 3000, 26.0, calibration=upright).source == "35 mm equivalent from EXIF"


def test_calibration_says_nothing_of_a_cropped_picture() -> None:
    """A picture declared cropped may have the calibration's shape and still another scale and axis."""
    assert_odd(lens_prior(1600, 1200, 26.0, cropped=True, calibration=CALIBRATION), 0.10)
