"""The offset table in rows and as CSV."""

import csv

import pytest

from digitizer.reports.offset_table import CSV_COLUMNS, largest_uncertainties, offset_tables, write_offsets_csv
from tests.reports.for_cutting import a_bowed_survey, a_flat_survey, offsets


def test_rows_give_both_sides():
    """Heights of bottom and top at each station, port beside starboard, and half-breadths below."""
    heights, breadths = offset_tables(a_flat_survey(), "mm")
    assert heights.heads == ("from centreline, mm", "bottom port", "bottom starboard", "top port", "top starboard")
    assert heights.rows[0] == ("0", "0.0 ± 1.6", "0.0 ± 1.6", "960.0 ± 1.6", "960.0 ± 1.6")
    assert heights.rows[1][:3] == ("500", "150.0 ± 1.6", "150.0 ± 1.6")
    assert breadths.rows == (("600", "1050.0 ± 1.6", "1050.0 ± 1.6"),)


def test_unmarked_side_has_a_dash():
    """A station that only one side reaches keeps its row."""
    one_sided = tuple(each for each in offsets() if each.side != "port")
    heights, _ = offset_tables(a_flat_survey(offsets=one_sided), "mm")
    assert heights.rows[1][:3] == ("500", "—", "150.0 ± 1.6")


def test_no_offsets_no_tables():
    """Nothing marked, nothing to show."""
    assert offset_tables(a_flat_survey(offsets=()), "mm") == ()
    assert largest_uncertainties(a_flat_survey(offsets=()), "mm") == ""


@pytest.mark.parametrize(
    ("survey", "plane"),
    [
        pytest.param(a_flat_survey(), "in the face", id="flat"),
        pytest.param(a_bowed_survey(), "rolled flat (girth)", id="bowed"),
    ],
)
def test_csv_has_a_line_for_each_offset(tmp_path, survey, plane):
    """Full precision in mm, and the plane on every line."""
    write_offsets_csv(survey, tmp_path / "offsets.csv")
    with (tmp_path / "offsets.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert len(rows) == len(survey.offsets)
    found = next(row for row in rows if (row["line"], row["side"], row["station_mm"]) == ("bottom", "port", "500.0"))
    assert (found["value_mm"], found["U_mm"], found["plane"]) == ("150.0", "1.6", plane)
