"""The flange on paper: its plate, its tables, and the shapes that other writers draw."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from pypdf import PdfReader
from shapely import Point, Polygon

from digitizer.job.model import BoltPattern, Fitting, Flange, LengthUnit, Settings
from digitizer.reports.flange_drawing import flange_drawing
from digitizer.reports.flange_shapes import Meaning, flange_shapes
from digitizer.reports.paper import text_width
from digitizer.reports.pdf import write_report
from digitizer.reports.sheet import Disc, Label, Sheet, Stroke
from digitizer.survey.model import Survey
from tests.builders import FITTINGS, SimFitting
from tests.survey.exact import Case, a_case, all_spots, fitting_record, rim_spots

FLANGE = Flange(900.0, 400.0, bolts=BoltPattern(3, 150.0, 13.0))


def a_flange_case(extra: tuple[SimFitting, ...] = ()) -> Case:
    spots = all_spots()
    for each in (*FITTINGS, *extra):
        spots |= rim_spots(each)
    records: tuple[Fitting, ...] = tuple(map(fitting_record, (*FITTINGS, *extra)))
    return a_case(spots, fittings=records).but(flange=FLANGE)


@cache
def a_survey() -> Survey:
    return a_flange_case().survey()


def words(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_report_without_a_flange_has_no_page_for_it(tmp_path: Path) -> None:
    """A job without a flange keeps the report that it had."""
    case = a_case()
    write_report(case.survey(), case.job, {}, tmp_path / "report.pdf", frozen_date="2025-05-04")
    assert "flange" not in words(tmp_path / "report.pdf").lower()


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_report_tells_of_the_flange(tmp_path: Path, unit: LengthUnit) -> None:
    """Plate, verdicts and gaps stand in the PDF in every unit."""
    job = replace(a_flange_case().job, settings=Settings(unit=unit))
    write_report(a_survey(), job, {}, tmp_path / "report.pdf", frozen_date="2025-05-04")
    text = words(tmp_path / "report.pdf")
    for word in ("Planned flange on the transom", "Fit of the planned flange", "inside", "moves", "Gaps and distances"):
        assert word in text


def test_plate_is_true_to_scale() -> None:
    """The flange on the sheet is as wide as its scale says."""
    survey = a_survey()
    assert survey.flange is not None
    sheet = Sheet(740.0, 400.0, text_width)
    scale = flange_drawing(survey, survey.flange, "mm", sheet)
    flange = next(i for i in sheet.items if isinstance(i, Stroke) and i.closed and i.width == 1.6)
    across = [x for x, _ in flange.points]
    assert (max(across) - min(across)) * 25.4 / 72.0 * scale == pytest.approx(900.0, abs=0.01)  # mm on the boat


def test_nothing_on_the_plate_is_clipped_with_thirty_fittings() -> None:
    """Texts and balloons stay on the sheet, and no text lies on another, with thirty fittings close together."""
    crowd = tuple(SimFitting(f"c{i}", -400.0 + 160.0 * (i % 6), 480.0 + 90.0 * (i // 6), 40.0, 5.0) for i in range(25))
    survey = a_flange_case(crowd).survey()
    assert survey.flange is not None
    sheet = Sheet(740.0, 400.0, text_width)
    flange_drawing(survey, survey.flange, "mm", sheet)
    labels = [sheet.box(i) for i in sheet.items if isinstance(i, Label)]
    assert all(a >= 0 and b >= 0 and c <= sheet.width and d <= sheet.height for a, b, c, d in labels)
    balloons = [i for i in sheet.items if isinstance(i, Disc) and i.fill == 1.0]
    assert len(balloons) == 30
    overlaps = [
        (a, b)
        for n, a in enumerate(labels)
        for b in labels[n + 1 :]
        if min(a[2], b[2]) - max(a[0], b[0]) > 2.0 and min(a[3], b[3]) - max(a[1], b[1]) > 2.0
    ]
    assert overlaps == []


def test_shapes_for_other_writers() -> None:
    """Flange, margin 25 mm all round it, and every hole inside; lengths in mm."""
    shapes = flange_shapes(a_survey())
    flange, margin = (Polygon(s.ring) for s in shapes[:2])
    assert [s.meaning for s in shapes[:2]] == [Meaning.FLANGE, Meaning.MARGIN]
    assert margin.contains(flange)
    assert flange.exterior.distance(margin.exterior) == pytest.approx(25.0, abs=0.05)  # mm, arcs in pieces
    holes = shapes[2:]
    assert len(holes) == 18
    assert {s.meaning for s in holes} == {Meaning.BOLT_HOLE}
    assert all(flange.contains(Point(s.centre).buffer(s.radius)) for s in holes)
    assert all(math.isclose(s.radius, 6.5) for s in holes)


def test_no_flange_gives_no_shapes() -> None:
    """Nothing to draw where nothing is planned."""
    assert flange_shapes(replace(a_survey(), flange=None)) == []
