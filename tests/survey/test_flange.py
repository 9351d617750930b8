"""The planned flange on faultless jobs: its fit is the truth, and the words say what the figures decide."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from digitizer.job.model import BoltPattern, Fitting, Flange, FlangeBottom, MarkKind, Pad, Plan
from digitizer.survey.flange_judgement import judged
from digitizer.survey.model import FlangeFit, FlangeFitting, FlangeVerdict, Severity, Survey
from digitizer.transom.flange import FlangeForm
from tests.builders import FITTINGS, SimFitting, turned
from tests.survey.exact import HULL, STRING, Case, Spot, a_case, all_spots, fitting_record, rim_spots

FLANGE = Flange(900.0, 400.0, bolts=BoltPattern(3, 150.0, 13.0))
PLACED = {f.id: f for f in FITTINGS}


def a_flange_case(flange: Flange = FLANGE, fittings: tuple[SimFitting, ...] = FITTINGS, **plans: Plan) -> Case:
    spots = all_spots()
    for each in fittings:
        spots |= rim_spots(each)
    records = tuple(replace(fitting_record(f), plan=plans.get(f.id, Plan.UNDECIDED)) for f in fittings)
    return a_case(spots, fittings=records).but(flange=flange)


def fit_of(survey: Survey) -> FlangeFit:
    assert survey.flange is not None
    return survey.flange


def of_fitting(survey: Survey, name: str) -> FlangeFitting:
    return next(f for f in fit_of(survey).fittings if f.fitting == name)


def texts(survey: Survey, code: str) -> list[str]:
    return [f.text for f in survey.findings if f.code == code]


def distance_to_box(x: float, y: float, half: float, low: float, high: float) -> float:
    """From a point outside a box to it."""
    return float(np.hypot(max(0.0, abs(x) - half), max(0.0, low - y, y - high)))


def test_clearances_of_a_flat_flange_are_the_truth() -> None:
    """A box with sharp corners at a given height: the distances follow from the fittings' true places."""
    flange = Flange(
        800.0, 300.0, FlangeBottom.FLAT, top_mm=800.0, top_radius_mm=0.0, bottom_radius_mm=0.0, u_place_mm=0.0
    )
    survey = a_flange_case(flange).survey()
    for name in ("bilge_port", "livewell_starboard", "drain", "light_port"):
        sim = PLACED[name]
        x, y = turned((sim.x, sim.y), STRING)
        true = distance_to_box(x, y, 400.0, 500.0, 800.0) - sim.diameter / 2.0
        found = of_fitting(survey, name)
        assert found.clearance.value == pytest.approx(true, abs=0.05), name  # mm, a faultless job's own error
        assert found.verdict is judged(true, found.clearance.U, 25.0)[0]


def test_lower_edge_keeps_its_gap_where_it_is_least() -> None:
    """With unlike sides, the V has the mean rise and the gap asked for on the side where the hull comes nearest."""
    fit = fit_of(a_flange_case().survey())
    gaps = [s.gap.value for s in fit.stations]
    assert min(gaps) == pytest.approx(25.0, abs=1e-6)
    rises = [math.tan(math.radians(a)) for a in HULL.deadrise_deg]
    assert math.tan(math.radians(fit.deadrise_deg)) == pytest.approx(sum(rises) / 2.0, abs=2e-4)
    differences = [d.value for d in fit.deadrise_differences]
    tilt = math.degrees(math.atan(STRING.slope))
    assert differences == pytest.approx([0.3 + tilt, -0.3 - tilt], abs=0.02)  # degrees: 19.0 and 18.4 about their mean


def test_flat_lower_edge_clears_the_sides() -> None:
    """A level edge on a V bottom comes nearest at its corners."""
    fit = fit_of(a_flange_case(replace(FLANGE, bottom=FlangeBottom.FLAT)).survey())
    gaps = {s.x_mm: s.gap.value for s in fit.stations}
    assert min(gaps.values()) == pytest.approx(25.0, abs=1e-6)
    assert gaps[0.0] == pytest.approx(25.0 + 450.0 * math.tan(math.radians(19.0)), abs=3.0)  # mm, the string's slope


def test_placing_the_flange_adds_to_every_clearance() -> None:
    """Its own uncertainty of 3 mm is added in quadrature and named in the budget."""
    none = of_fitting(a_flange_case(replace(FLANGE, u_place_mm=0.0)).survey(), "light_port").clearance
    some = of_fitting(a_flange_case(replace(FLANGE, u_place_mm=3.0)).survey(), "light_port").clearance
    assert some.u == pytest.approx(math.hypot(none.u, 3.0))
    assert "where the flange is put" in {c.source for c in some.budget}
    assert sum(c.share for c in some.budget) == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("clearance", "U", "verdict", "between"),
    [
        pytest.param(40.0, 5.0, "clear", [], id="beyond the margin"),
        pytest.param(10.0, 5.0, "within margin", [], id="within it"),
        pytest.param(-10.0, 5.0, "inside", [], id="under it"),
        pytest.param(26.0, 5.0, "not decided", ["within margin", "clear"], id="across the margin"),
        pytest.param(2.0, 5.0, "not decided", ["inside", "within margin"], id="across the edge"),
        pytest.param(10.0, 30.0, "not decided", ["inside", "within margin", "clear"], id="across both"),
    ],
)
def test_verdicts(clearance: float, U: float, verdict: str, between: list[str]) -> None:
    """A verdict is given only where the whole interval lies on one side of every limit."""
    found, among = judged(clearance, U, 25.0)
    assert found == verdict
    assert [str(v) for v in among] == between


def test_outcomes_follow_fit_and_plan() -> None:
    """What is clear stays, what is in the way moves, what the job plans stands; a contradicted plan is said loudly."""
    survey = a_flange_case(drain=Plan.STAYS, bilge_port=Plan.MOVES).survey()
    assert {f.fitting: f.outcome for f in fit_of(survey).fittings} == {
        "drain": "stays",
        "light_port": "moves",
        "bolt_starboard": "stays",
        "bilge_port": "moves",
        "livewell_starboard": "stays",
    }
    loud = [f for f in survey.findings if f.code == "flange_conflict" and f.severity is Severity.SERIOUS]
    assert [f.subject for f in loud] == ["drain"]
    assert "is to stay" in loud[0].text
    assert any("does not ask for it" in t for t in texts(survey, "flange_clear_of_moving"))


def test_suggested_shift_really_clears() -> None:
    """The same job with the flange moved as suggested has no conflict left."""
    survey = a_flange_case().survey()
    fit = fit_of(survey)
    assert fit.shift is not None
    moved = replace(FLANGE, top_mm=fit.top_mm + fit.shift.up_mm, across_mm=fit.shift.across_mm)
    moved = replace(moved, deadrise_deg=fit.deadrise_deg)
    again = fit_of(a_flange_case(moved).survey())
    assert {f.verdict for f in again.fittings} == {FlangeVerdict.CLEAR}
    assert again.shift is None
    assert texts(survey, "flange_shift")


def test_largest_suggested_flange_really_clears() -> None:
    """A job with the suggested size has no conflict."""
    fit = fit_of(a_flange_case().survey())
    size = fit.largest
    assert size is not None
    larger = Flange(size.width_mm, size.height_mm, top_mm=size.top_mm, deadrise_deg=fit.deadrise_deg)
    again = fit_of(a_flange_case(larger).survey())
    assert {f.verdict for f in again.fittings} == {FlangeVerdict.CLEAR}
    assert again.to_outline is not None
    assert again.to_outline.value > again.to_outline.U


def test_fittings_that_leave_are_no_obstacles() -> None:
    """Once everything under it moves or is worked around, no shift is suggested."""
    plans = {"drain": Plan.WORKED_AROUND, "light_port": Plan.MOVES}
    assert fit_of(a_flange_case(**plans).survey()).shift is None


def test_pad_inside_astride_outside() -> None:
    """A pad larger than the flange, one that its edge crosses, and one beside it."""
    spots = all_spots()
    for name, x, half in (("large", 0.0, 380.0), ("crossed", 150.0, 60.0), ("beside", 700.0, 80.0)):
        for n, (i, j) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
            spots[f"{name}_{n}"] = Spot(x + i * half, 600.0 + j * half * 0.9, MarkKind.PAD, None, name)
    flange = Flange(300.0, 200.0, FlangeBottom.FLAT, top_mm=700.0)
    pads = tuple(Pad(name, 0.0, 0.5) for name in ("large", "crossed", "beside"))
    case = a_case(spots, pads=pads).but(flange=flange)
    survey = case.survey()
    assert {p.pad: p.place for p in fit_of(survey).pads} == {
        "large": "inside",
        "crossed": "astride",
        "beside": "outside",
    }
    assert len(texts(survey, "flange_on_pad")) == 3


@pytest.mark.parametrize(("half", "place"), [(380.0, "inside"), (60.0, "outside")], ids=["large", "small"])
def test_largest_suggested_flange_is_never_astride_a_pad(half: float, place: str) -> None:
    """On the pad where it is the larger piece of the face, else beside it."""
    spots = all_spots()
    for n, (i, j) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
        spots[f"pad_{n}"] = Spot(i * half, 600.0 + j * half * 0.9, MarkKind.PAD, None, "pad")
    flange = Flange(300.0, 200.0, FlangeBottom.FLAT, top_mm=700.0)
    case = a_case(spots, pads=(Pad("pad", 0.0, 0.5),)).but(flange=flange)
    fit = fit_of(case.survey())
    size = fit.largest
    assert size is not None
    larger = replace(flange, width_mm=size.width_mm, height_mm=size.height_mm, top_mm=size.top_mm)
    again = fit_of(case.but(flange=larger).survey())
    assert [p.place for p in again.pads] == [place]


def test_strakes_and_chine_flats_under_a_wide_flange() -> None:
    """A strake within its width is named, with how far in; a chine flat beside it is not."""
    spots = all_spots() | {
        "strake_a": Spot(400.0, 400.0 * math.tan(math.radians(18.4)), MarkKind.STRAKE, None, "inner strake"),
        "strake_b": Spot(600.0, 600.0 * math.tan(math.radians(18.4)), MarkKind.STRAKE, None, "outer strake"),
    }
    survey = a_case(spots).but(flange=FLANGE).survey()
    crossed = {c.name: c.inside.value for c in fit_of(survey).crossings}
    assert crossed["strake inner strake"] == pytest.approx(50.0, abs=1.0)
    assert crossed["strake outer strake"] == pytest.approx(-150.0, abs=1.0)
    assert [t for t in texts(survey, "flange_crosses") if "inner strake" in t]
    assert not [t for t in texts(survey, "flange_crosses") if "chine flat" in t]


def test_flange_wider_than_the_bottom_is_said() -> None:
    """A flange that reaches past the chines runs over the edge, and the unseen gaps are counted."""
    survey = a_flange_case(Flange(2400.0, 900.0)).survey()
    assert texts(survey, "flange_bottom_unseen")
    assert texts(survey, "flange_over_edge")


def test_flange_lower_than_its_own_v_is_not_laid() -> None:
    """A V of 400 mm on a flange of 300 mm leaves no sides: a finding instead of a fit."""
    survey = a_flange_case(Flange(2400.0, 300.0)).survey()
    assert survey.flange is None
    assert "high enough" in texts(survey, "flange_not_laid")[0]


def test_bolt_pattern_stands_in_the_fit() -> None:
    """Holes come with the fit: three rows of as many as 150 mm apart and 40 mm from the sides allow."""
    fit = fit_of(a_flange_case().survey())
    assert len(fit.bolts) == 3 * 6  # (900 − 80) / 150 = 5.47 spaces
    assert fit.bolt_hole_mm == 13.0


def test_flange_without_a_bottom_edge_is_said() -> None:
    """Nothing tells where the bottom is: a finding, no fit, and the rest of the survey stands."""
    keep = (MarkKind.REFERENCE_LINE, MarkKind.KEEL, MarkKind.TOP_CORNER)
    spots = {name: spot for name, spot in all_spots().items() if spot.kind in keep}
    survey = a_case(spots).but(flange=FLANGE).survey()
    assert survey.flange is None
    assert texts(survey, "flange_not_laid")
    assert survey.dimensions


def test_undecided_fitting_asks_for_a_better_measurement() -> None:
    """A rim whose clearance straddles the margin is neither called clear nor in the way."""
    sim = SimFitting("near", 500.0, 600.0, 50.0, 5.0)
    flange = Flange(900.0, 400.0, FlangeBottom.FLAT, top_mm=750.0)
    survey = a_flange_case(flange, (sim,)).survey()
    found = of_fitting(survey, "near")
    assert found.verdict is FlangeVerdict.NOT_DECIDED
    assert found.outcome == "undecided"
    assert any("measure its place better" in t for t in texts(survey, "flange_conflict"))


def test_old_bolt_holes_are_worked_around() -> None:
    """An old hole under the flange is filled, not moved, and suggests no shift."""
    from digitizer.job.model import FittingKind

    spots = all_spots() | rim_spots(SimFitting("hole", 100.0, 300.0, 20.0, 0.0))
    record = Fitting("hole", FittingKind.BOLT_HOLE, proud_mm=0.0)
    survey = a_case(spots, fittings=(record,)).but(flange=FLANGE).survey()
    assert of_fitting(survey, "hole").outcome == "worked_around"
    assert fit_of(survey).shift is None


def test_form_of_the_record_is_the_form_that_was_laid() -> None:
    """The recorded outline encloses the area that the flange's own formula gives."""
    from shapely import Polygon

    fit = fit_of(a_flange_case().survey())
    rise = math.tan(math.radians(fit.deadrise_deg))
    form = FlangeForm(0.0, 450.0, fit.top_mm - 400.0, rise, fit.top_mm, 25.0, 25.0)
    assert Polygon(fit.outline).area == pytest.approx(form.area, rel=1e-9)


@pytest.mark.slow
def test_stated_intervals_hold_the_true_clearances() -> None:
    """A small version of the published coverage: nine in ten at least, and no verdict that is false."""
    from tests.coverage.clearances import trials

    found = trials("board_string_rule", range(12))
    assert np.mean([abs(error) <= U for error, U, _ in found]) >= 0.9
    assert np.mean([honest for *_, honest in found]) >= 0.97
