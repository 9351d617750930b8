"""What a dimension rests on: shares that sum to one, and sensitivities that a moved mark confirms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitizer.job.model import Job
from digitizer.survey.influence import carrying, influences
from digitizer.survey.live import Live, started
from digitizer.survey.mark_records import Influence
from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, Survey
from tests.survey.test_ellipses import exact, sample

CODES = ("chine_beam", "deadrise_chord_port", "a_centre", "b_starboard", "height_port", "fitting_bilge_port_x")


def of(survey: Survey, code: str) -> Dimension:
    placed = [d for f in survey.fittings for d in vars(f).values() if isinstance(d, Dimension)]
    return next(d for d in (*survey.dimensions, *placed) if d.code == code)


def strongest_mark(found: tuple[Influence, ...]) -> Influence:
    return next(each for each in found if each.kind == "mark")


def measured_again(live: Live, job: Job) -> Survey:
    return measure(job, live.facts, [sighting for _, sighting in live.base.network.sightings])


def moved(job: Job, mark: str, dx: float, dy: float) -> Job:
    marks = [replace(m, x_px=m.x_px + dx, y_px=m.y_px + dy) if m.id == mark else m for m in job.marks]
    return replace(job, marks=tuple(marks))


@pytest.mark.parametrize(
    ("code", "way"),
    [
        pytest.param("chine_beam", (1.0, 0.0), id="beam-right"),
        pytest.param("deadrise_chord_port", (0.0, 1.0), id="deadrise-down"),
        pytest.param("deadrise_chord_port", (1.0, 0.0), id="deadrise-right"),
        pytest.param("fitting_bilge_port_x", (1.0, 0.0), id="fitting-right"),
    ],
)
def test_moving_the_strongest_mark_by_a_pixel_moves_the_figure_as_said(code: str, way: tuple[float, float]) -> None:
    """A whole measurement of the moved job agrees to 3 % of the largest move, which is what a pixel leaves straight."""
    live = sample("flat_square_on")
    mark = strongest_mark(influences(live, code))
    half = [(s * way[0] / 2, s * way[1] / 2) for s in (1.0, -1.0)]
    right, left = (of(measured_again(live, moved(live.job, mark.subject, *step)), code) for step in half)
    said = float(np.dot(mark.sensitivity, way))
    assert right.value - left.value == pytest.approx(said, abs=0.03 * mark.moves)


@pytest.mark.parametrize("code", [*CODES, "reference_straightness", "fitting_bilge_port_below_reference"])
def test_shares_sum_to_the_whole_variance(code: str) -> None:
    """Nothing is missing and nothing is counted twice; marks of the budget's clicks and edges have their share."""
    found = influences(sample("flat_square_on"), code)
    assert sum(each.share for each in found) == pytest.approx(1.0, abs=1e-9)
    assert [each.share for each in found] == sorted((each.share for each in found), reverse=True)


@pytest.mark.parametrize("code", CODES)
def test_marks_have_what_the_budget_gives_to_clicks_and_edges(code: str) -> None:
    """Two ways to tell one variance: by observation, and by source."""
    live = sample("flat_square_on")
    marks = sum(each.share for each in influences(live, code) if each.kind == "mark")
    budget = of(live.survey, code).budget
    sources = ("clicks on the photo", "where the edge is on the boat")
    clicked = sum(line.share for line in budget if line.source in sources)
    rims = sum(each.share for each in influences(live, code) if each.kind == "rim edge")  # they are of the edge too
    assert marks + rims == pytest.approx(clicked, abs=0.011)  # lines under half a percent are not in the budget


def test_sensitivity_is_the_covariance_told_by_observation() -> None:
    """Σ (sensitivity · u)² over marks and figures that stand alone is their part of the variance."""
    live = exact()
    for each in influences(live, "chine_beam"):
        if each.kind == "length":
            u = of(live.survey, "chine_beam").u
            assert abs(each.sensitivity[0]) * live.job.lengths[0].u_mm == pytest.approx(
                np.sqrt(each.share) * u, rel=1e-6
            )


def test_rejected_marks_have_no_influence() -> None:
    """A mark that was set aside moves nothing."""
    live = sample("flat_square_on")
    far = moved(live.job, "ref_3", 0.0, 40.0)
    again = started(far, live.facts, [sighting for _, sighting in live.base.network.sightings])[1]
    assert again is not None
    assert any(o.subject == "ref_3" and o.state.value == "rejected" for o in again.survey.observations)
    aside = next(each for each in influences(again, "a_centre") if each.subject == "ref_3")
    assert aside.share < 1e-8
    assert aside.moves < 1e-6


def test_strongest_carry_the_asked_part_and_no_more() -> None:
    """The last one is needed: without it less than the part is held."""
    found = influences(sample("flat_square_on"), "deadrise_chord_port")
    chosen = carrying(found, 0.9)
    held = [each.share for each in chosen]
    assert sum(held) >= 0.9 > sum(held[:-1])
    assert {"keel", "chine_inner_port"} <= {each.subject for each in chosen}


def test_figure_from_elsewhere_rests_on_no_observation() -> None:
    """An unknown code has nobody to name."""
    assert influences(exact(), "rake_by_photo") == ()
