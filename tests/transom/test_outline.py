"""Edges of the outline and the offsets on them, against shapes worked out by hand."""

import math

import numpy as np
import pytest
from scipy.interpolate import make_interp_spline

from digitizer.job.model import MarkKind
from digitizer.transom.outline import BOTTOM, SIDE, TOP, OutlineMark, averaged, edges, is_closed, spline_rows
from digitizer.transom.system import Place
from tests.transom.numbers import assert_sensitivities, flat, numbers, places

# A V of 2000 mm with bottoms that rise 300 in 1000, sides that flare 100 in 500, and a crowned top.
KEEL = (0.0, 0.0)
CHINES = ((-1000.0, 300.0), (1000.0, 300.0))
CORNERS = ((-1100.0, 800.0), (1100.0, 800.0))
TOPS = ((-550.0, 830.0), (0.0, 840.0), (550.0, 830.0))  # the parabola 840 − 40 (x / 1100)²
SHAPE = (
    (KEEL, MarkKind.KEEL),
    *((p, MarkKind.CHINE) for p in CHINES),
    *((p, MarkKind.TOP_CORNER) for p in CORNERS),
    *((p, MarkKind.TOP_EDGE) for p in TOPS),
)


def mark(place, kind, name="", photo="a"):
    return OutlineMark((name or f"{kind}{place}",), kind, Place(*place), frozenset((photo,)))


def shape(without=()):
    return [mark(place, kind) for place, kind in SHAPE if kind not in without]


def named(found, name):
    return [edge for edge in found if edge.name == name]


def heights(found, name, x):
    return [float(y) for edge in named(found, name) for y, _ in edge.heights_at(x)]


def test_outline_goes_round_in_one_line():
    """Bottom, starboard side, top and port side follow each other and meet."""
    found = edges(shape())
    assert [edge.name for edge in found] == [BOTTOM, SIDE, TOP, SIDE]
    assert is_closed(found)


def test_order_of_marks_does_not_matter():
    """Marks given backwards make the same edges."""
    drawn = [edge.drawn().tolist() for edge in edges(shape())]
    assert [edge.drawn().tolist() for edge in edges(shape()[::-1])] == drawn


@pytest.mark.parametrize("x", [0.0, 250.0, -600.0, 1000.0])
def test_bottom_is_straight_between_keel_and_chine(x):
    """Its height is 0.3 of the distance from the centreline."""
    assert heights(edges(shape()), BOTTOM, x)[0] == pytest.approx(0.3 * abs(x), abs=1e-9)  # mm, rounding only


@pytest.mark.parametrize("x", [0.0, 123.0, -700.0, 1099.0])
def test_top_edge_repeats_a_parabola(x):
    """Between marks on a parabola the curve is that parabola."""
    assert heights(edges(shape()), TOP, x) == [pytest.approx(840.0 - 40.0 * (x / 1100.0) ** 2, abs=1e-9)]


def test_drawn_top_edge_keeps_to_the_parabola():
    """Straight pieces of 20 mm leave it by less than a hundredth."""
    (top,) = named(edges(shape()), TOP)
    x, y = top.drawn().T
    assert y == pytest.approx(840.0 - 40.0 * (x / 1100.0) ** 2, abs=1e-9)
    assert max(-np.diff(x)) <= 20.0  # mm: sagitta 20² · (2 · 40 / 1100²) / 8 = 0.003 mm


def test_half_breadth_on_the_flaring_side():
    """Halfway up a side from 1000 to 1100 it is 1050."""
    sides = [float(x) for edge in named(edges(shape()), SIDE) for x, _ in edge.breadths_at(550.0)]
    assert sorted(sides) == pytest.approx([-1050.0, 1050.0], abs=1e-9)  # mm, rounding only


def test_outline_without_top_marks_stays_open():
    """No line is drawn across where nobody marked the top edge."""
    found = edges(shape(without=(MarkKind.TOP_EDGE,)))
    assert [edge.name for edge in found] == [SIDE, BOTTOM, SIDE]
    assert not is_closed(found)
    assert heights(found, TOP, 0.0) == []


def test_outline_without_bottom_marks_stays_open():
    """The sides are drawn, no line from chine to chine."""
    found = edges([each for each in shape(without=(MarkKind.KEEL,)) if each.kind is not MarkKind.CHINE])
    assert named(found, BOTTOM) == []
    assert not is_closed(found)


def test_two_marks_make_no_closed_outline():
    """Keel and one chine are a line."""
    assert not is_closed(edges(shape()[:2]))


def test_no_marks_no_edges():
    """Nothing marked, nothing drawn."""
    assert edges([]) == []


def test_marks_of_one_place_in_two_photos_are_averaged():
    """Two marks of a chine a millimetre apart become one between them."""
    pair = [mark((1000.0, 300.0), MarkKind.CHINE, "p", "a"), mark((1001.0, 302.0), MarkKind.CHINE, "q", "b")]
    (found,) = averaged(pair)
    assert (found.ids, float(found.place.x), float(found.place.y)) == (("p", "q"), 1000.5, 301.0)


@pytest.mark.parametrize(
    ("other", "kind", "photo"),
    [
        pytest.param((1010.0, 300.0), MarkKind.CHINE, "a", id="same-photo"),
        pytest.param((1010.0, 300.0), MarkKind.OUTLINE, "b", id="other-kind"),
        pytest.param((1030.0, 300.0), MarkKind.CHINE, "b", id="too-far"),
    ],
)
def test_marks_that_mean_different_places_stay_apart(other, kind, photo):
    """Marks of one photo, of different kinds or far apart are not averaged."""
    assert len(averaged([mark((1000.0, 300.0), MarkKind.CHINE), mark(other, kind, "q", photo)])) == 2


@pytest.mark.parametrize("count", [2, 3, 4, 5, 9, 13])
@pytest.mark.parametrize("derivative", [0, 1])
def test_spline_is_scipys(count, derivative):
    """Its weights are those of SciPy's interpolating spline."""
    at = np.linspace(1200.0, -1200.0, count) + np.sin(np.arange(count)) * 200.0 / count
    x = np.linspace(at[-1], at[0], 77)
    theirs = make_interp_spline(at[::-1], np.eye(count)[::-1], k=min(3, count - 1))(x, nu=derivative)
    assert spline_rows(at, x, derivative) == pytest.approx(theirs, abs=1e-8)  # of 1: 10 nm in a metre


def parabola(x):
    return 840.0 - 40.0 * (np.asarray(x) / 1100.0) ** 2


@pytest.mark.parametrize("inner", [(-3.0, 3.0), (-600.0, 100.0, 103.0, 500.0), (-1095.0, 0.0, 1090.0)])
def test_marks_close_together_make_no_waves(inner):
    """A millimetre of scatter between close neighbours stays about a millimetre everywhere."""
    at = np.array([1100.0, *sorted(inner, reverse=True), -1100.0])
    scatter = np.where(np.arange(len(at)) % 2 == 0, 0.0, 1.0)
    x = np.linspace(-1100.0, 1100.0, 221)
    assert np.abs(spline_rows(at, x) @ (parabola(at) + scatter) - parabola(x)).max() < 2.0  # mm


def test_many_marks_are_smoothed():
    """Two hundred marks that scatter by 1 mm give a curve within half a millimetre of the truth, and its true ends."""
    at = np.linspace(1100.0, -1100.0, 200)
    noise = np.random.default_rng(5).normal(0.0, 1.0, 200)
    noise[[0, -1]] = 0.0
    curve = spline_rows(at, at) @ (parabola(at) + noise)
    assert np.sqrt(np.mean((curve - parabola(at)) ** 2)) < 0.5  # mm: 13 or so unknowns of 200 marks leave 0.3
    assert curve[[0, -1]] == pytest.approx(parabola(at[[0, -1]]), abs=1e-9)


def test_sensitivities_of_a_straight_piece():
    """The height between two marks depends on all four coordinates as its difference quotients say."""

    def height(values):
        keel, chine = places(values)
        third = OutlineMark(("c",), MarkKind.CHINE, Place(-1000.0, 310.0), frozenset())
        two = [
            OutlineMark(("a",), MarkKind.KEEL, keel, frozenset()),
            OutlineMark(("b",), MarkKind.CHINE, chine, frozenset()),
        ]
        return next(y for edge in edges([*two, third]) for y, _ in edge.heights_at(400.0))

    assert_sensitivities(height, flat([(3.0, 1.0), (1000.0, 320.0)]))


def test_sensitivities_of_the_curve():
    """On the curve through four marks they are those of the value, coordinates along the edge included."""

    def height(values):
        kinds = (MarkKind.TOP_CORNER, MarkKind.TOP_EDGE, MarkKind.TOP_EDGE, MarkKind.TOP_CORNER)
        tops = [
            OutlineMark((str(i),), kind, place, frozenset())
            for i, (kind, place) in enumerate(zip(kinds, places(values), strict=True))
        ]
        rest = [mark(place, kind) for place, kind in SHAPE[:3]]
        (top,) = named(edges([*rest, *tops]), TOP)
        return top.heights_at(200.0)[0][0]

    # First order leaves the knots' own shift out, so the values differ by the step's square.
    assert_sensitivities(height, flat([(-1100, 800), (-400, 845), (500, 850), (1100, 805)]), step=1e-2, rel=1e-4)


def test_offset_names_what_it_was_made_from():
    """A straight piece names its two ends."""
    marks = [mark(KEEL, MarkKind.KEEL, "keel"), *(mark(p, MarkKind.CHINE, f"chine{p[0]:+.0f}") for p in CHINES)]
    ((_, made_from),) = edges(marks)[0].heights_at(500.0)
    assert made_from == ("keel", "chine+1000")


def test_unmarked_height_is_no_offset():
    """Beyond the chines nothing is read off the bottom."""
    assert heights(edges(shape()), BOTTOM, 1000.5) == []


def test_uncertainty_at_a_mark_is_the_marks_own():
    """At a mark the height is the mark's, with its slope's share of the error along it."""
    x, y = numbers([1000.0, 300.0])
    marks = [
        *(each for each in shape() if each.place.x != 1000.0),
        OutlineMark(("c",), MarkKind.CHINE, Place(x, y), frozenset()),
    ]
    found = next(h for edge in named(edges(marks), BOTTOM) for h, _ in edge.heights_at(1000.0))
    assert found.gradient == pytest.approx([-0.3, 1.0], abs=1e-12)
    assert math.isclose(float(found), 300.0)


def test_narrow_chine_flat_keeps_its_corners_in_order():
    """A flat of 20 mm whose inner edge is the higher one is passed from its inner to its outer edge."""
    flats = [((-1150.0, 384.0), MarkKind.CHINE), ((1150.0, 384.0), MarkKind.CHINE)]
    inner = [((-1130.0, 389.0), MarkKind.CHINE_INNER), ((1130.0, 389.0), MarkKind.CHINE_INNER)]
    tops = [(place, kind) for place, kind in SHAPE if kind not in (MarkKind.CHINE, MarkKind.KEEL)]
    found = edges([mark(place, kind) for place, kind in [(KEEL, MarkKind.KEEL), *flats, *inner, *tops]])
    (bottom,) = named(found, BOTTOM)
    assert bottom.places[:, 0].tolist() == [-1150.0, -1130.0, 0.0, 1130.0, 1150.0]


def test_outline_marks_fall_into_their_edges():
    """Marks that only say outline are put on the sides and on the top edge where they lie."""
    sides = [(sign * (1000.0 + step * 25.0), 300.0 + step * 125.0) for sign in (-1, 1) for step in (1, 2, 3)]
    near_corner = (-1040.0, 840.0 - 40.0 * (1040.0 / 1100.0) ** 2)
    found = edges([*shape(), *(mark(place, MarkKind.OUTLINE) for place in (*sides, near_corner))])
    assert [len(edge.marks) for edge in found] == [3, 5, 6, 5]
    assert heights(found, TOP, -1000.0) == [pytest.approx(840.0 - 40.0 * (1000.0 / 1100.0) ** 2, abs=1e-9)]


def test_outline_marks_alone_make_a_ring():
    """Without any other kind of mark the ring goes by direction."""
    corners = [(-900.0, 0.0), (900.0, 0.0), (900.0, 800.0), (-900.0, 800.0), (-900.0, 400.0), (900.0, 400.0)]
    places_ = [*corners, (0.0, 0.0), (0.0, 800.0)]
    found = edges([mark(place, MarkKind.OUTLINE) for place in places_])
    assert [(edge.name, len(edge.marks)) for edge in found] == [(SIDE, 9)]
    assert is_closed(found)
