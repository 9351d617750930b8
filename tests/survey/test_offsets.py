"""The outline as it would be cut and its offset table, of whole jobs whose truth is known."""

import json
import math
from itertools import pairwise

import numpy as np
import pytest

from digitizer.job.model import LengthUnit, MarkKind, Settings
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.measure import measure
from digitizer.survey.model import OffsetLine
from digitizer.survey.offsets import stations
from tests.builders import SimString
from tests.survey.exact import HULL, a_case, all_spots

STRING = SimString(slope=0.0)


@pytest.fixture(scope="module")
def flat():
    """A faultless job with its string parallel to the hull's x axis."""
    return a_case(all_spots(string=STRING)).survey()


@pytest.fixture(scope="module")
def bowed():
    """The sample with a bowed face, and its truth."""
    job = sample_job("bowed_three")
    job_file = read_job(job)
    evidence = gather(job_file)
    truth = json.loads(job.with_name("truth.json").read_text(encoding="utf-8"))
    return measure(job_file.job, evidence.facts, evidence.sightings), truth


def table(survey, line):
    return {(each.side, each.station): each.value for each in survey.offsets if each.line is line}


def test_bottom_heights_follow_the_deadrise(flat):
    """At every station the bottom is as high as the deadrise of its side says."""
    bottom = table(flat, OffsetLine.BOTTOM)
    assert len(bottom) == 1 + 2 * 11  # the keel, and every 100 mm to 1100 on both sides
    for (side, station), value in bottom.items():
        slope = math.tan(math.radians(HULL.deadrise_deg[side == "starboard"]))
        assert value.value == pytest.approx(slope * station, abs=0.02)  # mm, what the last step leaves open


def test_half_breadths_on_the_sides(flat):
    """Above the chines the outline lies on the straight from chine to top corner."""
    breadths = table(flat, OffsetLine.HALF_BREADTH)
    points = HULL.points()
    for (side, station), value in breadths.items():
        (x1, y1), (x2, y2) = points[f"chine_{side}"], points[f"top_{side}"]
        if station > y1 + 10.0:
            true = abs(x1 + (x2 - x1) * (station - y1) / (y2 - y1))
            assert value.value == pytest.approx(true, abs=0.02)
    assert {station for _, station in breadths} == {100.0 * step for step in range(1, 11)}


def test_offsets_have_their_uncertainty(flat):
    """Each has a U that is neither nothing nor absurd, except the keel point, which is zero by definition."""
    assert all(0.3 < each.value.U < 40.0 for each in flat.offsets if each.station > 0.0 or each.line != "bottom")
    assert table(flat, OffsetLine.BOTTOM)["centre", 0.0].U == 0.0


def test_uncertainty_holds_the_truth_of_the_bowed_sample(bowed):
    """Bottom and top heights by girth lie within their U of the true outline, nearly all of them."""
    survey, truth = bowed
    radius = truth["parameters"]["plan_radius_mm"]
    outline = np.array(truth["outline"])
    girth, height = radius * np.arcsin(outline[:, 0] / radius), outline[:, 1]
    upper = height > 950.0
    inside = []
    for line, part in ((OffsetLine.BOTTOM, ~upper), (OffsetLine.TOP, upper)):
        order = np.argsort(girth[part])
        for (side, station), value in table(survey, line).items():
            if 0.0 < station <= 1000.0:  # beyond, chines and rounded corners are not single-valued
                at = station if side == "starboard" else -station
                true = np.interp(at, girth[part][order], height[part][order])
                inside.append(abs(value.value - true) <= value.U)
    assert len(inside) == 40
    assert np.mean(inside) >= 0.9  # of errors that hang together; one in twenty is allowed to each


def test_outline_as_cut_goes_round(bowed):
    """Drawn edges follow each other from end to end, in girths that exceed the breadths."""
    survey, _ = bowed
    for edge, following in zip(survey.edges, [*survey.edges[1:], survey.edges[0]], strict=True):
        assert edge.points[-1] == following.points[0]
    widest = max(x for edge in survey.edges for x, _ in edge.points)
    assert widest > max(x for x, _ in survey.outline) + 5.0  # mm: a bow of 147 mm over 2.4 m


def test_outline_of_several_photos_is_one_line(bowed):
    """Marks of one place in three photos are one corner of the drawn outline, not three."""
    survey, _ = bowed
    ring = [*survey.outline, survey.outline[0]]
    assert min(math.dist(a, b) for a, b in pairwise(ring)) > 50.0  # mm: the marks lie 70 and more apart


def test_keel_is_drawn_where_the_bottom_edges_meet():
    """Without a keel mark the outline still comes to its point at the origin."""
    spots = {name: spot for name, spot in all_spots(string=STRING).items() if spot.kind is not MarkKind.KEEL}
    survey = a_case(spots).survey()
    bottom = next(edge for edge in survey.edges if edge.name == "bottom edge")
    assert min(math.hypot(*point) for point in bottom.points) == 0.0


def test_job_without_outline_has_no_offsets():
    """A string and the keel alone give an empty table, and no edges."""
    kinds = (MarkKind.KEEL, MarkKind.REFERENCE_LINE)
    spots = {name: spot for name, spot in all_spots(string=STRING).items() if spot.kind in kinds}
    survey = a_case(spots).survey()
    assert (survey.edges, survey.offsets) == ((), ())


@pytest.mark.parametrize(
    ("settings", "expected"),
    [
        pytest.param(Settings(), [0.0, 100.0, 200.0], id="every-100-mm"),
        pytest.param(Settings(unit=LengthUnit.INCH_DECIMAL), [0.0, 101.6, 203.2], id="every-4-in"),
        pytest.param(Settings(station_step_mm=125.0), [0.0, 125.0, 250.0], id="as-asked"),
        pytest.param(Settings(stations_mm=(200.0, 50.0, 50.0, 900.0)), [50.0, 200.0], id="named"),
    ],
)
def test_stations(settings, expected):
    """Even stations from zero, or those the job names, as far as the outline goes."""
    assert stations(settings, 250.0) == pytest.approx(expected)
