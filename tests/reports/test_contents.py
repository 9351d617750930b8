"""What the report says, before it is put on paper."""

from dataclasses import replace

import pytest

from digitizer.job.model import Settings
from digitizer.reports.contents import CAUTIONS, contents
from digitizer.survey.model import Severity
from tests.reports.a_survey import a_job, a_survey


def said(survey=None, job=None):
    return contents(survey or a_survey(), job or a_job(), "2025-05-07")


def test_fittings_are_numbered_in_order():
    """The number on drawing, photo and schedule is the place in the survey."""
    rows = said().fittings
    assert [row.number for row in rows] == list(range(1, len(rows) + 1))
    assert rows[0].nearest == "no. 2"


def test_side_of_a_fitting():
    """Port by P, starboard by S, and C when the centreline lies within U."""
    sides = {row.name: (row.side, row.from_centreline) for row in said().fittings}
    assert sides["bilge port"] == ("P", "690.0 ±\N{NO-BREAK SPACE}1.4")
    assert sides["livewell starboard"] == ("S", "720.0 ±\N{NO-BREAK SPACE}1.4")
    assert sides["drain"][0] == "C"


def test_size_of_a_rectangle_is_width_by_height():
    """A transducer's foot has two sizes, a rim one."""
    rows = {row.name: row.size for row in said().fittings}
    assert rows["drain"][0].startswith("⌀")
    assert [line[-4:] for line in rows["transducer"]] == ["wide", "high"]


def test_findings_stand_loudest_first():
    """Serious, then warnings, then notes."""
    assert [each.severity for each in said().findings] == [Severity.SERIOUS, Severity.WARNING, Severity.NOTE]


def test_rejected_observations_are_told_with_their_size():
    """The largest standardised residual comes first."""
    rows = said().rejected
    assert [row.label for row in rows] == ["tape chine to chine 2145 mm", "mark light port rim 3"]
    assert (rows[0].residual, rows[0].w, rows[0].detectable) == ("−24.80 mm", "−12.9", "8.6 mm")


def test_what_nothing_checks_is_named():
    """An observation without redundancy is listed, checked ones are not."""
    assert said().unchecked == ("mark keel, across",)


def test_both_ways_of_an_unchecked_mark_count_once():
    """Lengths come before marks, and a mark is named once for x and y."""
    survey = a_survey()
    free = [replace(each, redundancy=0.0, w=None, label=label, unit=unit) for each, label, unit in _free(survey)]
    names = said(replace(survey, observations=tuple(free))).unchecked
    assert names == ("rule 1500 mm", "mark chine port")


def _free(survey):
    labels = (("mark chine port, x", "px"), ("mark chine port, y", "px"), ("rule 1500 mm", "mm"))
    return [(each, *label) for each, label in zip(survey.observations, labels, strict=False)]


def test_counts_by_kind_and_state():
    """How many of each kind were used, rejected and kept out."""
    assert ("known length", 1, 1, 1) in said().counts


def test_missing_dimensions_are_named():
    """What the survey could not give stands under "not measured"."""
    survey = a_survey()
    without = tuple(each for each in survey.dimensions if each.code not in ("crown", "b_port"))
    assert said(replace(survey, dimensions=without)).not_measured == ("B port", "crown of the top edge")
    assert said(survey).not_measured == ()


def test_budget_shows_the_largest_first():
    """Four sources by name and the rest as one line; shares add up to the whole."""
    budget = next(each for each in said().budgets if each.label.startswith("Chine beam"))
    assert budget.lines[0].source == "clicks on the photo"
    assert budget.lines[-1].source == "everything else"
    assert sum(line.share for line in budget.lines) == pytest.approx(1.0, abs=1e-9)  # shares of one variance
    assert f"{3.2 * 0.55**0.5:.1f}" == budget.lines[0].U


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param({}, "It does:", id="passed"),
        pytest.param({"accepted": False, "scaled_by": 1.31}, "multiplied by 1.31", id="failed"),
        pytest.param({"weighted_square_sum": 99.0}, "better than promised", id="better-than-promised"),
    ],
)
def test_global_test_in_words(change, words):
    """The reader learns whether the uncertainties were right, and what was done."""
    survey = a_survey()
    assert words in said(replace(survey, adjustment=replace(survey.adjustment, **change))).adjustment[1]


@pytest.mark.parametrize(
    "example", ["33 CFR 183", "ISO 12217", "ISO 11592", "licensed surveyor", "check bar", "supported"]
)
def test_cautions_are_complete(example):
    """Rules of the place, who decides, print scale and support are all there."""
    assert example in " ".join(CAUTIONS)


def test_first_caution_is_to_check_on_the_boat():
    """The most important one opens the list."""
    assert CAUTIONS[0] == "Check the dimensions on the boat before cutting."


def test_offset_of_b_in_the_unit_of_the_job():
    """The note on B names 15 in where the job is in inches."""
    assert any("15.00 in" in note for note in said(job=a_job(unit="in")).notes)
    assert any("nearest 1/16" in note for note in said(job=a_job(settings=Settings(unit="in/16"))).notes)


def test_empty_facts_are_left_out():
    """Nothing is printed for what nobody wrote."""
    assert "Owner" not in dict(said(job=replace(a_job(), boat=type(a_job().boat)())).facts)
