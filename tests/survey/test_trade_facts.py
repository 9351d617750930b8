"""Facts of the trade as properties, on faultless jobs (common practice where no other source is named)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitizer.job.model import LineKind, MarkKind, Rake, StraightLine
from digitizer.survey.model import Survey
from tests.builders import SimString, SimTransom, top_edge
from tests.survey.exact import (
    HULL,
    Case,
    Spot,
    a_case,
    all_spots,
    assert_true,
    codes,
    dimension,
    outline_spots,
    string_spots,
    truth,
    values,
)

few = settings(max_examples=8, deadline=None)
DEADRISE = tuple(f"deadrise_{how}_{side}" for how in ("chord", "edge") for side in ("port", "starboard"))


@few
@given(st.floats(520.0, 980.0), st.floats(-0.01, 0.01))
def test_deadrise_does_not_change_when_the_line_is_moved_parallel(height: float, slope: float) -> None:
    """Only that the line is straight and which way it runs counts, not its height; A and B both take up the move."""
    here, there = (values(a_case(all_spots(HULL, SimString(h, slope))).survey()) for h in (890.0, height))
    for code in (*DEADRISE, "chine_beam", "height_port", "keel_from_middle"):
        assert there[code] == pytest.approx(here[code], abs=1e-3)  # mm and degrees
    moved = (height - 890.0) * math.cos(math.atan(slope))
    for code in ("a_centre", "b_port", "b_starboard"):
        assert there[code] - here[code] == pytest.approx(moved, abs=2e-3)  # mm


@few
@given(st.floats(-0.02, 0.02))
def test_turning_the_line_is_shared_with_opposite_sign(slope: float) -> None:
    """A line out of true adds to one side what it takes from the other; the mean of both sides is free of it."""
    found = values(a_case(all_spots(HULL, SimString(890.0, slope))).survey())
    level = truth(HULL, SimString(890.0, 0.0))
    turned = math.degrees(math.atan(slope))
    assert found["deadrise_chord_port"] - level["deadrise_chord_port"] == pytest.approx(turned, abs=1e-3)
    assert found["deadrise_chord_starboard"] - level["deadrise_chord_starboard"] == pytest.approx(-turned, abs=1e-3)


@few
@given(st.floats(150.0, 1000.0))
def test_a_and_b_give_the_same_deadrise_as_the_chord(offset: float) -> None:
    """On a straight bottom atan((A − B) / offset) is the deadrise of edge and chord, at any offset."""
    case = a_case()
    survey = case.but(settings=replace(case.job.settings, b_offset_mm=offset)).survey()
    found = values(survey)
    for side in ("port", "starboard"):
        by_heights = math.degrees(math.atan((found["a_centre"] - found[f"b_{side}"]) / offset))
        assert by_heights == pytest.approx(found[f"deadrise_edge_{side}"], abs=1e-3)
        assert by_heights == pytest.approx(found[f"deadrise_chord_{side}"], abs=1e-3)
    assert "disagreement" not in [f.code for f in survey.findings if f.subject != "deadrise"]


def test_b_by_the_chord_where_no_edge_is_marked() -> None:
    """With keel and chines alone B comes from the chord, and says so."""
    spots = {name: spot for name, spot in all_spots().items() if spot.kind is not MarkKind.BOTTOM_EDGE}
    survey = a_case(spots).survey()
    assert_true(survey, {k: v for k, v in truth().items() if "edge" not in k})
    assert "chord" in dimension(survey, "b_port").note
    assert "not_marked" in codes(survey)


@pytest.mark.parametrize("rake", [0.0, 12.0, 16.0])
def test_section_is_less_than_face(rake: float) -> None:
    """tan(section) = tan(face) · cos(rake); its uncertainty takes in that of the rake."""
    survey = a_case().but(rake=Rake(rake, 2.0)).survey()
    face, section = (dimension(survey, f"{code}_port") for code in ("deadrise_chord", "section_deadrise"))
    expected = math.degrees(math.atan(math.tan(math.radians(face.value)) * math.cos(math.radians(rake))))
    assert section.value == pytest.approx(expected, abs=1e-9)
    shares = {c.source: c.share for c in section.budget}
    assert ("rake" in shares) == (rake > 0.0)
    assert "no_rake" not in codes(survey)


def crowned(stations: Sequence[float], kind: LineKind = LineKind.TOP_EDGE, u_straight: float = 20.0) -> Case:
    """The reference line marked along the crowned top edge, at fractions of its width from port."""
    points = HULL.points()
    ends = points["top_port"], points["top_starboard"]
    marks = {}
    for n, station in enumerate(stations, 1):
        x, y = top_edge(*ends, HULL.crown, station).tolist()
        marks[f"edge_{n}"] = Spot(x, y, MarkKind.REFERENCE_LINE, of="top edge", z=0.01, u_px=0.5)
    line = StraightLine("top edge", kind, reference=True, u_straight_mm=u_straight)
    return a_case(outline_spots() | marks, lines=(line,))


def turned_by(survey: Survey) -> float:
    """How far port reads too much and starboard too little against a level line through the corners, degrees."""
    points = HULL.points()
    along = points["top_starboard"] - points["top_port"]
    true = truth(HULL, SimString(900.0, float(along[1] / along[0])))
    errors = [
        values(survey)[f"deadrise_chord_{side}"] - true[f"deadrise_chord_{side}"] for side in ("port", "starboard")
    ]
    assert errors[0] == pytest.approx(-errors[1], abs=5e-3)  # °, what the bent line pulls at its marks
    return errors[0]


@pytest.mark.parametrize(
    "stations", [pytest.param((0.2, 0.45), id="port-half"), pytest.param((0.3, 0.9), id="to-starboard")]
)
def test_measuring_from_the_crowned_edge_is_wrong_as_the_geometry_says(stations: tuple[float, float]) -> None:
    """
    Two marks at t₁ and t₂ of a parabola with crown h over width w give a line that slopes by 4 h (1 − t₁ − t₂) / w.

    Deadrise is wrong by that much, with opposite sign on the two sides.
    """
    survey = crowned(stations).survey()
    width = truth()["top_width"]
    slope = 4.0 * HULL.crown * (1.0 - sum(stations)) / width
    assert turned_by(survey) == pytest.approx(math.degrees(math.atan(slope)), abs=2e-3)
    assert "crowned_reference" in codes(survey)


def test_a_crowned_edge_marked_evenly_only_shifts_the_heights() -> None:
    """Marks that lie alike to port and starboard leave the deadrise right, though the line is bent and that is said."""
    survey = crowned((0.1, 0.3, 0.5, 0.7, 0.9)).survey()
    assert turned_by(survey) == pytest.approx(0.0, abs=0.02)  # °: marks weigh a little differently in a view aslant
    assert {"crowned_reference", "bent_reference"} <= set(codes(survey))
    straightness = dimension(survey, "reference_straightness")
    assert straightness.lower > 5.0  # mm, of a crown of 30


def test_a_crowned_edge_called_a_string_does_not_go_unnoticed() -> None:
    """A line that departs by centimetres from straight contradicts a string of half a millimetre."""
    survey = crowned((0.1, 0.3, 0.5, 0.7, 0.9), LineKind.STRING, 0.5).survey()
    assert {"outlier", "undecided", "global_test", "bent_reference"} & set(codes(survey))


@pytest.mark.parametrize("hook", [6.0, -5.0], ids=["hooked-down", "hooked-up"])
def test_a_bottom_that_is_not_straight_is_said(hook: float) -> None:
    """Where edge and chord disagree beyond their uncertainty the finding asks to look before cutting."""
    spots = all_spots()
    bent = {
        name: spot.moved(dy=-hook if name.endswith("_3") else hook) if name.startswith("bottom_port") else spot
        for name, spot in spots.items()
    }
    case = a_case(bent).with_length("chine_port", "chine_starboard")
    sharp = tuple(replace(m, u_px=0.2, u_definition_mm=0.1) for m in case.job.marks)
    findings = case.but(marks=sharp).survey().findings
    assert [f.subject for f in findings if f.code == "disagreement" and f.subject != "deadrise"] == ["deadrise_port"]


def test_unlike_sides_are_said() -> None:
    """Port and starboard that differ beyond their uncertainty are not silently averaged."""
    alike, unlike = (
        a_case(all_spots(SimTransom(deadrise_deg=sides), SimString(890.0, 0.0))).survey()
        for sides in ((19.0, 19.0), (19.5, 18.0))
    )
    assert "disagreement" not in codes(alike)
    assert [f.subject for f in unlike.findings if f.code == "disagreement"] == ["deadrise"]


def test_transom_beam_is_between_the_outermost_marks() -> None:
    """With the outline marked, the transom beam is the widest place, chines and corners included."""
    around = {
        f"outline_{n}": Spot(x, y, MarkKind.OUTLINE)
        for n, (x, y) in enumerate([(-1160.0, 500.0), (-1212.0, 800.0), (1165.0, 500.0), (1209.0, 800.0)])
    }
    level = SimString(890.0, 0.0)
    survey = a_case(outline_spots() | string_spots(level) | around).survey()
    beam = dimension(survey, "transom_beam")
    assert beam.value == pytest.approx(2421.0, abs=0.01)
    assert set(beam.made_from) == {"outline_1", "outline_3"}
