"""Rows and data files: every figure of the survey, in order, rounded for people and whole for programs."""

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from digitizer.errors import ReportError
from digitizer.reports.table import dimension_table, survey_record, write_dimensions_csv, write_survey_json
from digitizer.survey.model import Quantity
from tests.reports.a_survey import a_survey, dimension


def test_groups_stand_in_the_order_of_the_sheet():
    """Deadrise first, checks last, whatever the order in the survey."""
    survey = a_survey()
    rows = dimension_table(replace(survey, dimensions=survey.dimensions[::-1]), "mm")
    assert list(dict.fromkeys(row.group for row in rows)) == ["Deadrise", "Widths", "Heights", "Edges", "Checks"]


def test_unknown_dimension_is_printed_too():
    """A code and group that nobody foresaw come after the known ones."""
    new = dimension("waterline_list", "List by the scum line", "Waterline", 0.7, 0.2, quantity=Quantity.ANGLE)
    rows = dimension_table(a_survey(dimensions=(new, *a_survey().dimensions)), "mm")
    assert (rows[-1].label, rows[-1].value, rows[-1].expanded) == ("List by the scum line", "0.70", "0.40")


@pytest.mark.parametrize(
    ("unit", "printed"),
    [
        pytest.param("mm", ("2120.2", "3.2", "mm"), id="millimetres"),
        pytest.param("in", ("83.47", "0.13", "in"), id="decimal-inches"),
        pytest.param("in/16", ("83 1/2", "0.13", "in"), id="sixteenths"),
    ],
)
def test_lengths_in_the_unit_asked_for(unit, printed):
    """The chine beam of 2120.2 mm in each unit; angles stay in degrees."""
    rows = {row.code: row for row in dimension_table(a_survey(), unit)}
    beam = rows["chine_beam"]
    assert (beam.value, beam.expanded, beam.unit) == printed
    assert rows["deadrise_chord_port"].unit == "°"


def test_lopsided_interval_is_told():
    """Where the first-order rule fails, the ends of the interval are printed."""
    notes = {row.code: row.note for row in dimension_table(a_survey(), "mm")}
    assert notes["reference_straightness"] == "95 % between 0.1 mm and 0.9 mm"
    assert notes["chine_beam"] == ""


def test_csv_keeps_every_digit(tmp_path):
    """Reading dimensions.csv gives the very numbers of the survey, fittings included."""
    survey = a_survey()
    odd = replace(survey.dimensions[0], value=18.0 + math.pi / 1e6)
    write_dimensions_csv(replace(survey, dimensions=(odd,)), tmp_path / "dimensions.csv")
    with (tmp_path / "dimensions.csv").open(encoding="utf-8", newline="") as stream:
        first, *others = csv.DictReader(stream)
    assert (float(first["value"]), float(first["U"]), first["unit"]) == (odd.value, odd.U, "deg")
    assert {row["subject"] for row in others} == {fitting.id for fitting in survey.fittings}


@pytest.mark.parametrize("label", ["=1+1", "+A1", "-A1", "@SUM(A1)"])
def test_csv_text_is_no_formula(tmp_path, label):
    """A name that a spreadsheet would run is written as plain text."""
    survey = a_survey(dimensions=(dimension("x", label, "Widths", 1.0, 0.1),), fittings=())
    write_dimensions_csv(survey, tmp_path / "d.csv")
    assert f",'{label}," in (tmp_path / "d.csv").read_text(encoding="utf-8")


def test_json_holds_the_whole_survey(tmp_path):
    """survey.json names its units and keeps each dimension in full precision."""
    survey = a_survey()
    write_survey_json(survey, tmp_path / "survey.json")
    read = json.loads((tmp_path / "survey.json").read_text(encoding="utf-8"))
    assert read["units"]["length"] == "mm"
    assert [each["value"] for each in read["survey"]["dimensions"]] == [each.value for each in survey.dimensions]
    assert [each["U"] for each in read["survey"]["dimensions"]] == [2 * each.u for each in survey.dimensions]
    assert {"observations", "findings", "photos", "adjustment", "fittings", "outline"} <= set(read["survey"])


def test_every_member_of_the_json_is_documented():
    """docs/reference/report.md names each member of survey.json and each column of the CSV."""
    page = (Path(__file__).parents[2] / "docs" / "reference" / "report.md").read_text(encoding="utf-8")
    record = survey_record(a_survey())["survey"]
    members = set(record) | {
        name for key in ("dimensions", "fittings", "observations", "checks") for name in record[key][0]
    }
    common = {"id", "label", "tape", "photo"}
    assert [name for name in sorted(members - common) if f"`{name}" not in page] == []


def test_json_has_no_figure_that_is_not_a_number(tmp_path):
    """An unknown bound becomes null, so that any reader takes the file."""
    survey = a_survey(dimensions=(dimension("x", "x", "Widths", 1.0, math.inf),))
    write_survey_json(survey, tmp_path / "survey.json")
    text = (tmp_path / "survey.json").read_text(encoding="utf-8")
    assert "Infinity" not in text
    assert json.loads(text)["survey"]["dimensions"][0]["u"] is None


@pytest.mark.parametrize("write", [write_dimensions_csv, write_survey_json])
def test_folder_that_is_not_there(tmp_path, write):
    """A destination that can't be written is refused with its name."""
    with pytest.raises(ReportError, match="folder"):
        write(a_survey(), tmp_path / "nowhere" / "file")
