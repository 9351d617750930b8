"""The transom angle: level readings, and the lines of a boat seen from the side."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.transom.rake import PROFILE_NAMES, Profile, distances, rake_by_level

ANGLES = st.floats(-0.3, 0.3)


def a_profile(**unknowns: float) -> Profile:
    usual = {"rake": 0.25, "flare": 0.1, "half beam": math.log(0.25)} | unknowns
    return Profile.of(np.array([usual.get(name, 0.0) for name in PROFILE_NAMES]))


def in_picture(normal: np.ndarray) -> float:
    """Direction of a plane's line in the picture against its x axis, degrees from 0 to 180."""
    return math.degrees(math.atan2(-normal[0], normal[1])) % 180.0


def test_bow_up_is_taken_off_the_face_reading() -> None:
    """Face 15.2° from plumb on a keel 1.2° bow up is a rake of 14°."""
    assert rake_by_level(15.2, 1.2, 0.15) == pytest.approx((14.0, 0.15 * math.sqrt(2.0)))


@given(ahead=ANGLES, below=ANGLES, roll=ANGLES, x=ANGLES, y=ANGLES)
def test_axes_are_square_to_one_another(ahead: float, below: float, roll: float, x: float, y: float) -> None:
    """Whatever the stance, forward, up and towards the camera form a right-handed system, to rounding."""
    profile = a_profile(ahead=ahead, below=below, roll=roll, **{"foot x": x, "foot y": y})
    axes = np.array(profile.axes)
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)


def test_square_on_the_angle_is_seen_as_it_is() -> None:
    """From abeam at the keel's height, bow to the right, the face leans to the left by the rake."""
    profile = a_profile()
    assert in_picture(profile.keel()) == pytest.approx(0.0, abs=1e-9)
    assert in_picture(profile.centreline()) - 90.0 == pytest.approx(-math.degrees(0.25))


@pytest.mark.parametrize(("ahead", "below"), [pytest.param(0.1, 0.08, id="both"), pytest.param(-0.1, 0.08, id="aft")])
def test_oblique_sight_falsifies_by_the_product(ahead: float, below: float) -> None:
    """Seen from a ahead and b below, the angle between the lines is off by a·b; to 0.001 rad, of second order."""
    profile = a_profile(ahead=ahead, below=below, rake=0.0)
    seen = math.radians(in_picture(profile.centreline()) - in_picture(profile.keel()) - 90.0)
    assert math.remainder(seen, math.pi) == pytest.approx(-ahead * below, abs=1e-3)


def test_edge_on_the_foot_lies_on_the_near_edge() -> None:
    """Where the sight lies in the face, the end of the keel is seen on the near edge's line: the face is edge-on."""
    rake, below = 0.25, 0.1
    ahead = math.atan(-math.sin(below) * math.tan(rake))
    profile = a_profile(rake=rake, below=below, ahead=ahead)
    foot = distances(profile.near_edge(), np.zeros(1), np.zeros(1))
    assert float(foot[0]) == pytest.approx(0.0, abs=1e-9)


def test_distances_are_those_from_the_line() -> None:
    """The plane 3x + 4y = 5z leaves the line 3x + 4y = 5, one from the origin."""
    found = distances(np.array([3.0, 4.0, -5.0]), np.array([0.0, 3.0]), np.array([0.0, 4.0]))
    assert found == pytest.approx([-1.0, 4.0])
