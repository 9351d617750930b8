"""Ellipses: fits against published figures and other libraries, distances, uncertainty, eccentricity."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from skimage.measure import EllipseModel

from digitizer.geometry.ellipses import Ellipse, direct_ellipse, fitted_ellipse

PUBLISHED = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7), (6, 2), (8, 4)], dtype=float)
"""Points of W. Gander, G. Golub and R. Strebel, BIT 34 (1994) 558."""


def an_ellipse(axes=(60.0, 40.0), angle=0.5, centre=(300.0, 200.0)):
    return Ellipse.of_axes(np.array(centre), axes, angle)


def around(count):
    return np.arange(count) * 2 * np.pi / count


def test_geometric_fit_of_the_published_points():
    """The orthogonal fit gives the article's centre, axes and angle."""
    fit = fitted_ellipse(PUBLISHED)
    assert fit.ellipse.centre == pytest.approx([2.6996, 3.8160], abs=5e-5)  # the digits printed
    assert fit.ellipse.semi_axes == pytest.approx([6.5187, 3.0319], abs=5e-5)
    assert fit.ellipse.angle == pytest.approx(0.3596, abs=5e-5)
    assert np.linalg.norm(fit.residuals) == pytest.approx(1.1719, abs=5e-5)


def test_direct_fit_is_another_right_answer():
    """The algebraic fit agrees with scikit-image and OpenCV, and differs much from the geometric one."""
    ellipse = direct_ellipse(PUBLISHED)
    model = EllipseModel.from_estimate(PUBLISHED)
    (x, y), (width, height), turn = cv2.fitEllipseDirect(PUBLISHED.astype(np.float32))
    assert ellipse.centre == pytest.approx(model.center, abs=1e-6)
    assert ellipse.semi_axes == pytest.approx(sorted(model.axis_lengths, reverse=True), abs=1e-6)
    assert ellipse.centre == pytest.approx([x, y], abs=1e-4)  # OpenCV returns single precision
    assert ellipse.semi_axes == pytest.approx([max(width, height) / 2, min(width, height) / 2], abs=1e-4)
    assert ellipse.angle == pytest.approx(math.radians(turn) + (math.pi / 2 if width < height else 0.0), abs=1e-4)
    assert abs(ellipse.centre[0] - fitted_ellipse(PUBLISHED).ellipse.centre[0]) > 2.0


@pytest.mark.parametrize("place", [(320.0, 250.0), (300.0, 200.0), (310.0, 203.0), (420.0, 90.0), (337.0, 219.0)])
def test_distance_is_the_least_to_any_place_on_the_ellipse(place):
    """Orthogonal distances agree with a search along the ellipse, inside and out, and in the centre itself."""
    ellipse = an_ellipse()
    t = around(2000)
    far = np.hypot(*(ellipse.points(t) - place).T)
    best = minimize_scalar(
        lambda s: float(np.hypot(*(ellipse.points(np.array([s]))[0] - place))),
        bracket=(t[far.argmin()] - 0.01, t[far.argmin()] + 0.01),
        tol=1e-12,
    )
    assert abs(ellipse.distances(np.array([place]))[0]) == pytest.approx(best.fun, abs=1e-7)


@given(
    ratio=st.floats(0.15, 1.0),
    angle=st.floats(0.0, 3.14),
    t=st.floats(0.0, 6.28),
    out=st.floats(-0.02, 5.0),
)
def test_a_step_along_the_normal_is_the_distance(ratio, angle, t, out):
    """Going out by d along the normal, or in by less than the curvature allows, leads d away from the ellipse."""
    ellipse = an_ellipse((50.0, 50.0 * ratio), angle)
    at = np.array([t])
    point = ellipse.points(at) + 50.0 * ratio**2 * out * ellipse.normals(at)
    assert ellipse.distances(point)[0] == pytest.approx(50.0 * ratio**2 * out, abs=1e-7)
    assert ellipse.points(ellipse.nearest(point)) == pytest.approx(ellipse.points(at), abs=1e-5)


def test_axes_and_angle_there_and_back():
    """An ellipse gives back the axes and the angle that it was made of."""
    ellipse = an_ellipse((60.0, 40.0), 2.5)
    assert ellipse.semi_axes == pytest.approx([60.0, 40.0])
    assert ellipse.angle == pytest.approx(2.5)
    assert an_ellipse((40.0, 60.0), 0.5).angle == pytest.approx(0.5 + math.pi / 2)


def test_curvature_at_the_ends_of_the_axes():
    """Curvature is a/b² at the end of the longer axis and b/a² at the end of the shorter."""
    ellipse = an_ellipse((60.0, 40.0), 0.0)
    assert ellipse.curvatures(np.array([0.0, math.pi / 2])) == pytest.approx([60 / 40**2, 40 / 60**2])


def test_relative_distance_counts_from_centre_to_ellipse():
    """The relative distance is 0 in the centre, 1 on the ellipse and 2 twice as far out."""
    ellipse = an_ellipse()
    spoke = ellipse.points(np.array([1.0]))[0] - ellipse.centre
    places = ellipse.centre + np.outer([0.0, 1.0, 2.0], spoke)
    assert ellipse.relative(places) == pytest.approx([0.0, 1.0, 2.0])


@pytest.mark.parametrize("axes", [(60.0, 40.0), (50.0, 50.0), (60.0, 12.0)], ids=["oval", "circle", "slim"])
def test_points_on_an_ellipse_give_it_back(axes):
    """Faultless points are met exactly, circles included."""
    fit = fitted_ellipse(an_ellipse(axes).points(around(24)))
    assert fit.ellipse.centre == pytest.approx([300.0, 200.0], abs=1e-7)
    assert fit.ellipse.semi_axes == pytest.approx(axes, abs=1e-6)


def test_fit_is_the_least_of_its_neighbours():
    """No small change of the parameters lowers the square sum: the derivatives are right."""
    rng = np.random.default_rng(3)
    points = an_ellipse().points(around(30)) + rng.normal(0.0, 0.5, (30, 2))
    u = rng.uniform(0.2, 1.0, 30)
    fit = fitted_ellipse(points, u)
    least = np.sum((fit.residuals / u) ** 2)
    for i in range(5):
        for step in (-1e-3, 1e-3):
            change = np.zeros(5)
            change[i] = step
            shape = fit.ellipse.shape + np.array([[change[2], change[3]], [change[3], change[4]]])
            moved = Ellipse(fit.ellipse.centre + change[:2], shape)
            assert np.sum((moved.distances(points) / u) ** 2) > least


@pytest.mark.parametrize("arc", [2 * math.pi, math.pi], ids=["whole", "half"])
def test_stated_uncertainty_is_that_of_the_scatter(arc):
    """Over 200 noisy rims, centre, axes and angle scatter by what each fit states."""
    rng = np.random.default_rng(5)
    true, t = an_ellipse(), np.linspace(0.0, arc, 40, endpoint=False)
    z = []
    for _ in range(200):
        points = true.points(t) + rng.normal(0.0, 0.1, 40)[:, None] * true.normals(t)
        fit = fitted_ellipse(points, 0.1)
        ellipse = fit.ellipse
        z.append(
            [
                *(ellipse.centre - true.centre) / fit.u_centre,
                *(ellipse.semi_axes - true.semi_axes) / fit.u_semi_axes,
                (ellipse.angle - true.angle) / fit.u_angle,
            ]
        )
    assert np.std(z, axis=0) == pytest.approx(np.ones(5), abs=0.17)  # 200 draws tell a deviation to 5 %
    assert np.abs(np.mean(z, axis=0)).max() < 0.25


def test_weights_follow_the_uncertainty():
    """A point with a large u hardly moves the fit."""
    points = an_ellipse().points(around(24))
    points[3] += (8.0, 0.0)
    u = np.ones(24)
    u[3] = 1e4
    assert fitted_ellipse(points, u).ellipse.centre == pytest.approx([300.0, 200.0], abs=1e-3)


@pytest.mark.parametrize(
    "points",
    [
        pytest.param(an_ellipse().points(around(4)), id="four"),
        pytest.param(np.full((6, 2), 3.0), id="one-place"),
        pytest.param(np.column_stack([np.arange(8.0), 2 * np.arange(8.0)]), id="line"),
    ],
)
def test_points_without_an_ellipse_are_refused(points):
    """Too few points, one place and a line are refused with a reason."""
    with pytest.raises(ValueError, match="ellipse"):
        fitted_ellipse(points)


@pytest.mark.parametrize(
    ("tilt_deg", "radius_mm", "eccentricity_px"),
    [(20, 10, 0.011), (20, 25, 0.067), (20, 50, 0.268), (20, 100, 1.071), (40, 25, 0.103), (40, 100, 1.642)],
)
def test_centre_of_the_ellipse_is_not_the_image_of_the_centre(tilt_deg, radius_mm, eccentricity_px):
    """
    The eccentricity of a tilted circle's image is e = f r² sin ω cos ω / (d² − r² sin² ω).

    Against the same figures: Ahn, Warnecke and Kotowski, Photogrammetric Record 16 (1999) 485.
    """
    f, d, tilt = 3000.0, 3000.0, math.radians(tilt_deg)
    t = around(60)
    x, y, z = radius_mm * np.cos(t), radius_mm * np.sin(t) * math.cos(tilt), d + radius_mm * np.sin(t) * math.sin(tilt)
    ellipse = fitted_ellipse(f * np.column_stack([x, y]) / z[:, None]).ellipse
    formula = f * radius_mm**2 * math.sin(tilt) * math.cos(tilt) / (d**2 - radius_mm**2 * math.sin(tilt) ** 2)
    assert math.hypot(*ellipse.centre) == pytest.approx(formula, abs=1e-7)
    assert formula == pytest.approx(eccentricity_px, abs=6e-4)  # the table's last digit
