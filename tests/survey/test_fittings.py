"""The fitting schedule: place, size and clearance of every fitting that its marks place."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitizer.job.model import Fitting, FittingKind, FittingShape, Mark, MarkKind
from digitizer.survey.defaults import PROUD_MM
from digitizer.survey.model import FittingResult, Survey
from tests.builders import FITTINGS, fitting_truth
from tests.survey.exact import HULL, STRING, Spot, a_case, all_spots, codes, dimension, fitting_record, rim_spots, truth

KEEL = HULL.points()["keel"]


def fitting(survey: Survey, name: str) -> FittingResult:
    return next(f for f in survey.fittings if f.id == name)


def corners(name: str, x: float, y: float, width: float, height: float) -> dict[str, Spot]:
    """Corner marks of a plate, in no particular order round it."""
    at = [(-1, 1), (1, -1), (-1, -1), (1, 1)]
    return {
        f"{name} {n}": Spot(x + a * width / 2, y + b * height / 2, MarkKind.FITTING_CORNER, of=name, z=3.0)
        for n, (a, b) in enumerate(at)
    }


def without_heights(marks: tuple[Mark, ...]) -> tuple[Mark, ...]:
    """Marks of fittings without a height of their own."""
    kinds = (MarkKind.FITTING_CORNER, MarkKind.FITTING_CENTRE)
    return tuple(replace(m, height_mm=None, u_height_mm=None) if m.kind in kinds else m for m in marks)


def test_round_fittings_lie_where_they_are() -> None:
    """Centre, diameter and drop from the reference line of every rim, however proud it stands."""
    spots = all_spots()
    for each in FITTINGS:
        spots |= rim_spots(each)
    survey = a_case(spots, fittings=tuple(map(fitting_record, FITTINGS))).survey()
    height = truth()["a_centre"]
    for each in FITTINGS:
        for code, true in fitting_truth(each, KEEL, STRING, height).items():
            name, _, what = code.rpartition(".")
            assert dimension(survey, f"fitting_{name}_{what}").value == pytest.approx(true, abs=0.02), code
        assert fitting(survey, each.id).proud_mm == pytest.approx(each.proud, abs=0.01)


def test_nearest_neighbour_and_clearance() -> None:
    """Each fitting names its nearest neighbour and the clear distance rim to rim."""
    a, b, c = FITTINGS[0], FITTINGS[3], FITTINGS[2]
    spots = all_spots() | rim_spots(a) | rim_spots(b) | rim_spots(c)
    survey = a_case(spots, fittings=tuple(map(fitting_record, (a, b, c)))).survey()
    apart = ((a.x - b.x) ** 2 + (a.y - b.y) ** 2) ** 0.5 - (a.diameter + b.diameter) / 2
    for one, other in ((a, b), (b, a)):
        found = fitting(survey, one.id)
        assert found.nearest == other.id
        assert found.clearance is not None
        assert found.clearance.value == pytest.approx(apart, abs=0.05)
        assert other.id in found.clearance.label


def test_a_plate_by_its_corners() -> None:
    """Width, height, centre and roll of a rectangle, its corners marked in any order."""
    plate = Fitting("tab", FittingKind.TAB_PLATE, FittingShape.RECTANGLE, proud_mm=3.0, u_proud_mm=1.0)
    case = a_case(all_spots() | corners("tab", 600.0, 330.0, 300.0, 90.0), fittings=(plate,))
    found = fitting(case.but(marks=without_heights(case.job.marks)).survey(), "tab")
    assert found.width is not None
    assert found.height is not None
    assert (found.width.value, found.height.value) == pytest.approx((300.0, 90.0), abs=0.05)
    assert found.x.value == pytest.approx(600.0 + 330.0 * STRING.slope, abs=0.05)
    assert found.roll_rad == pytest.approx(-STRING.slope, abs=1e-4)
    assert found.diameter is None


def test_a_plate_with_three_corners_is_not_placed() -> None:
    """Three corners place no rectangle; the fitting is said to be listed but not placed."""
    plate = Fitting("tab", FittingKind.TAB_PLATE, FittingShape.RECTANGLE, name="port tab")
    three = dict(list(corners("tab", 600.0, 330.0, 300.0, 90.0).items())[:3])
    survey = a_case(all_spots() | three, fittings=(plate,)).survey()
    assert not survey.fittings
    (finding,) = [f for f in survey.findings if f.subject == "tab"]
    assert finding.code == "not_marked"
    assert finding.text.startswith("port tab is listed but not placed: ")


def test_a_fitting_by_its_centre() -> None:
    """A centre mark alone places a fitting; a stated diameter serves the clearance, and is not a measured one."""
    spots = all_spots() | rim_spots(FITTINGS[0])
    spots["bolt centre"] = Spot(-600.0, 610.0, MarkKind.FITTING_CENTRE, of="bolt", z=3.0)
    bolt = Fitting("bolt", FittingKind.BOLT, FittingShape.POINT, proud_mm=3.0, diameter_mm=20.0)
    case = a_case(spots, fittings=(fitting_record(FITTINGS[0]), bolt))
    survey = case.but(marks=without_heights(case.job.marks)).survey()
    found = fitting(survey, "bolt")
    assert found.x.value == pytest.approx(-600.0 + 610.0 * STRING.slope, abs=0.02)
    assert found.diameter is None
    assert found.clearance is not None
    assert found.clearance.value == pytest.approx(90.0 - 30.0 - 10.0, abs=0.05)


def test_centre_and_rim_together() -> None:
    """A marked centre joins the rim's marks as one more observation of the same circle."""
    light = FITTINGS[3]
    rim = all_spots() | rim_spots(light, 3)
    centre = {"centre": Spot(light.x, light.y, MarkKind.FITTING_CENTRE, of=light.id, z=light.proud)}
    with_centre = a_case(rim | centre, fittings=(fitting_record(light),))
    both = with_centre.but(marks=without_heights(with_centre.job.marks)).survey()
    alone = a_case(rim, fittings=(fitting_record(light),)).survey()
    code = f"fitting_{light.id}_diameter"
    assert dimension(both, code).value == pytest.approx(light.diameter, abs=0.02)
    assert dimension(both, code).U < dimension(alone, code).U
    assert "outlier" not in codes(both)


@pytest.mark.parametrize("kind", [FittingKind.THROUGH_HULL, FittingKind.LIGHT, FittingKind.BOLT_HOLE])
def test_how_proud_is_usual_for_the_kind(kind: FittingKind) -> None:
    """Left out, the height off the face and its u are the usual ones of the kind, and weigh in the budget aslant."""
    light = FITTINGS[3]
    survey = a_case(all_spots() | rim_spots(light), fittings=(Fitting(light.id, kind),)).survey()
    found = fitting(survey, light.id)
    assert (found.proud_mm, found.u_proud_mm) == pytest.approx(PROUD_MM[kind], rel=0.05)
    share = {c.source: c.u for c in found.x.budget}.get("how far things stand off the face", 0.0)
    tangent = 0.37  # of the view at that fitting, from starboard
    assert share == pytest.approx(found.u_proud_mm * tangent, rel=0.15, abs=0.2)
