"""Gestures become proposals, the same wherever they lie in a large colour photo, on pictures with exact truth."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.imaging.not_found import NotFound
from digitizer.imaging.proposals import Box, Click, Gesture, Proposal, Sought, Stroke, propose
from tests.imaging.edge_pictures import Layer, drawn, ellipse, fitting, half_plane, photographed, polygon, string

SIZE = (300, 200)
PLATE = np.array([(60.3, 50.7), (210.3, 50.7), (210.3, 140.7), (60.3, 140.7)])
TIP = np.array([150.3, 130.7])
RIM = ((150.4, 99.8), (40.0, 31.0))


def colour(*layers: Layer, background: float = 190.0) -> np.ndarray:
    gray = photographed(drawn(SIZE, layers, background), np.random.default_rng(1), noise=3.0, jpeg=92)
    return np.repeat(gray[..., None], 3, axis=2)


def a_plate() -> np.ndarray:
    return colour(Layer(polygon([tuple(p) for p in PLATE]), 80.0))


def a_string() -> np.ndarray:
    return colour(Layer(string((20.0, 100.2), (219.6, 100.2), 4.0), 60.0))


def a_keel() -> np.ndarray:
    return colour(Layer(polygon([tuple(TIP), (-300.0, 10.0), (600.0, 10.0)]), 80.0))


def a_fitting() -> np.ndarray:
    return colour(*fitting(*RIM, flange=90.0, bore=20.0))


def found(picture: np.ndarray, gesture: Gesture, sought: Sought) -> Proposal:
    proposal = propose(picture, gesture, sought)
    assert isinstance(proposal, Proposal), proposal
    return proposal


def test_corner_comes_from_a_click():
    """A click two pixels off a plate's corner gives the corner, with the arms to be drawn."""
    proposal = found(a_plate(), Click(61.9, 49.2), Sought.CORNER)
    assert proposal.places == pytest.approx(PLATE[:1], abs=0.3)  # px; a few times its u
    assert proposal.u[0] < 0.15
    assert len(proposal.course) > 6


def test_corner_comes_from_a_stroke_along_both_edges():
    """A bent stroke along both bottom edges gives their meeting."""
    left, right = (TIP + 120 * v / np.hypot(*v) for v in (np.array([-300, 10]) - TIP, np.array([600, 10]) - TIP))
    stroke = np.array([left, (left + TIP) / 2, TIP, (right + TIP) / 2, right]) + np.array([0.5, 1.5])
    proposal = found(a_keel(), Stroke(stroke), Sought.CORNER)
    assert proposal.places == pytest.approx(TIP[None], abs=0.4)  # px; the edges meet at a flat angle


@pytest.mark.parametrize("sought", [Sought.STRING, Sought.LINE], ids=["string", "either"])
def test_clicks_move_onto_the_string_across_it(sought: Sought):
    """Each click goes to the string's middle and keeps its place along it."""
    clicks = np.array([(50.0, 102.0), (120.0, 98.5), (200.0, 101.5)])
    proposal = found(a_string(), Stroke(clicks), sought)
    assert proposal.places[:, 1] == pytest.approx(np.full(3, 100.2), abs=0.15)  # px; the target for strings
    assert proposal.places[:, 0] == pytest.approx(clicks[:, 0], abs=0.2)  # px; the normals are not quite upright
    assert np.all(proposal.u < 0.15)


@pytest.mark.parametrize("miss", [-6.0, 0.0, 6.0], ids=["short", "on", "past"])
def test_a_string_ends_where_it_ends(miss: float):
    """A stroke that stops six pixels short or past still finds where the string ends."""
    proposal = found(a_string(), Stroke(np.array([(90.0, 101.0), (219.6 + miss, 99.0)])), Sought.LINE_END)
    assert proposal.places == pytest.approx(np.array([[219.6, 100.2]]), abs=0.4)  # px; two to three times its u
    assert proposal.u[0] < 0.3


def test_an_edge_ends_at_the_corner_of_its_plate():
    """A stroke along the edge of a rule to its end gives the corner there."""
    proposal = found(a_plate(), Stroke(np.array([(100.0, 51.0), (207.0, 50.0)])), Sought.LINE_END)
    assert proposal.places == pytest.approx(PLATE[1:2], abs=0.5)  # px; two to three times its u


@pytest.mark.parametrize(
    "gesture",
    [Click(153.0, 97.0), Box(109.0, 68.0, 192.0, 132.0), Box(192.0, 132.0, 109.0, 68.0)],
    ids=["click", "box", "box-from-below"],
)
def test_rim_comes_from_a_click_or_a_box(gesture: Gesture):
    """The flange is proposed, all points on it, and the bore is among the alternatives."""
    proposal = found(a_fitting(), gesture, Sought.RIM)
    off = ellipse(*RIM)(*proposal.places.T)
    assert np.sqrt(np.mean(off**2)) < 0.15
    assert len(proposal.places) >= 12
    if isinstance(gesture, Click):
        bore = 0.55 * np.mean(RIM[1])
        sizes = [np.ptp(other.course, axis=0).mean() / 2 for other in proposal.alternatives]
        assert min(abs(size - bore) for size in sizes) < 1.5  # px


def test_rim_comes_from_places_on_it():
    """Six places on a rim, each a pixel or two off, are enough to look along it."""
    t = np.arange(6) * np.pi / 3
    marked = (
        RIM[0] + np.column_stack([40.0 * np.cos(t), 31.0 * np.sin(t)]) + np.tile([[1.0, -1.0], [-1.0, 0.5]], (3, 1))
    )
    proposal = found(a_fitting(), Stroke(marked), Sought.RIM)
    assert np.sqrt(np.mean(ellipse(*RIM)(*proposal.places.T) ** 2)) < 0.15


@pytest.mark.parametrize(
    "gesture", [Box(58.0, 52.0, 212.0, 139.0), Stroke(PLATE + np.array([1.5, -1.0]))], ids=["box", "four-corners"]
)
def test_rectangle_comes_from_a_box_or_its_corners(gesture: Gesture):
    """Four corners in the order of the gesture."""
    proposal = found(a_plate(), gesture, Sought.RECTANGLE)
    assert proposal.places == pytest.approx(PLATE, abs=0.3)


def test_outline_keeps_its_corners():
    """Clicks round a plate give points on its edge and its corners by name."""
    clicks = np.vstack([PLATE, PLATE[:1]]) + np.random.default_rng(3).normal(0, 1.5, (5, 2))
    proposal = found(a_plate(), Stroke(clicks), Sought.OUTLINE)
    assert proposal.corners.sum() >= 3
    off = polygon([tuple(p) for p in PLATE])(*proposal.places[~proposal.corners].T)
    assert np.sqrt(np.mean(off**2)) < 0.15


CASES = [
    (a_plate, Click(61.0, 49.0), Sought.CORNER),
    (a_string, Stroke(np.array([(50.0, 102.0), (200.0, 101.5)])), Sought.STRING),
    (a_fitting, Click(153.0, 97.0), Sought.RIM),
    (a_plate, Box(58.0, 52.0, 212.0, 139.0), Sought.RECTANGLE),
]


@pytest.mark.parametrize("case", CASES, ids=["corner", "string", "rim", "rectangle"])
def test_proposal_is_the_same_anywhere_in_a_large_photo(case):
    """The neighbourhood alone is read: in a large photo the answer is the small picture's, moved."""
    make, gesture, sought = case
    picture, shift = make(), np.array([1500.0, 900.0])
    large = np.full((2000, 3000, 3), 190, dtype=np.uint8)
    large[900 : 900 + SIZE[1], 1500 : 1500 + SIZE[0]] = picture
    there = (
        Stroke(gesture.points + shift)
        if isinstance(gesture, Stroke)
        else type(gesture)(*np.add(gesture, np.resize(shift, len(gesture))))
    )
    proposal = found(large, there, sought)
    assert proposal.places - shift == pytest.approx(found(picture, gesture, sought).places, abs=0.02)  # px; JPEG-free


def test_competing_edges_are_both_offered():
    """Two edges as clear, 9 px apart: the proposal says that the person must choose."""
    picture = colour(Layer(half_plane((0.0, 96.0), 0.0), 130.0), Layer(half_plane((0.0, 105.0), 0.0), 70.0))
    proposal = found(picture, Stroke(np.array([(50.0, 100.5), (250.0, 100.5)])), Sought.EDGE)
    assert proposal.is_contested
    assert "choose" in " ".join(proposal.advice)
    heights = sorted([proposal.places[0, 1], proposal.alternatives[0].places[0, 1]])
    assert heights == pytest.approx([96.0, 105.0], abs=0.3)


GESTURES = {
    Sought.CORNER: Click(150.0, 100.0),
    Sought.EDGE: Stroke(np.array([(50.0, 100.0), (250.0, 100.0)])),
    Sought.STRING: Stroke(np.array([(50.0, 100.0), (250.0, 100.0)])),
    Sought.LINE: Stroke(np.array([(50.0, 100.0), (250.0, 100.0)])),
    Sought.LINE_END: Stroke(np.array([(50.0, 100.0), (250.0, 100.0)])),
    Sought.RIM: Click(150.0, 100.0),
    Sought.RECTANGLE: Box(60.0, 50.0, 210.0, 140.0),
    Sought.OUTLINE: Stroke(np.array([(50.0, 100.0), (250.0, 100.0)])),
}


@pytest.mark.parametrize("sought", Sought)
def test_nothing_to_snap_to_is_said(sought: Sought):
    """On bare gelcoat every gesture is answered by a sentence, and no mark."""
    answer = propose(colour(), GESTURES[sought], sought)
    assert isinstance(answer, NotFound)
    assert answer.reason.endswith(".")


@pytest.mark.parametrize("sought", Sought)
def test_gesture_outside_the_photo_is_refused(sought: Sought):
    """A gesture beside the photo is answered in words."""
    answer = propose(colour(), Stroke(np.array([(-50.0, -100.0), (-250.0, -100.0)])), sought)
    assert answer == NotFound("That lies outside the photo.")


@pytest.mark.parametrize(
    ("gesture", "sought"),
    [
        (Box(1.0, 1.0, 50.0, 50.0), Sought.CORNER),
        (Click(50.0, 50.0), Sought.LINE),
        (Click(50.0, 50.0), Sought.LINE_END),
        (Click(50.0, 50.0), Sought.RECTANGLE),
        (Click(50.0, 50.0), Sought.OUTLINE),
        (Stroke(np.array([(50.0, 50.0), (60.0, 60.0)])), Sought.RIM),
        (Stroke(np.array([(50.0, 50.0), (90.0, 90.0)])), Sought.CORNER),
    ],
    ids=lambda value: value.value if isinstance(value, Sought) else type(value).__name__,
)
def test_gesture_of_another_kind_is_answered_with_what_is_wanted(gesture: Gesture, sought: Sought):
    """A click where a stroke is wanted says which gesture to make."""
    answer = propose(a_plate(), gesture, sought)
    assert isinstance(answer, NotFound)
    assert "want" in answer.reason or "draw" in answer.reason


def test_a_stroke_of_wrong_shape_is_the_programmers_error():
    """Places must be (n, 2)."""
    with pytest.raises(ValueError, match="stroke"):
        propose(a_plate(), Stroke(np.zeros((3, 3))), Sought.LINE)
