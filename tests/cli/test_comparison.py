"""The demo's table of measured and true figures."""

import json
from dataclasses import replace

import pytest

from digitizer.cli.comparison import show_comparison, true_dimensions
from digitizer.samples import sample_job
from tests.cli.surveys import a_survey, angle, length

TRUTH_FILE = sample_job("flat_square_on").with_name("truth.json")


def test_truth_is_turned_into_the_axes_of_the_string() -> None:
    """Deadrise to the string differs from that to the hull's own axis by the string's slope, one side up, one down."""
    true = true_dimensions(json.loads(TRUTH_FILE.read_text(encoding="utf-8")))
    slope = 0.171887  # degrees, as the sample's truth says
    assert true["deadrise_chord_port"] == pytest.approx(18.6 + slope, abs=1e-5)  # degrees, printed to 0.01
    assert true["deadrise_chord_starboard"] == pytest.approx(18.6 - slope, abs=1e-5)
    assert true["chine_beam"] == pytest.approx(2120.0, abs=1e-9)  # mm; a turn keeps lengths


def test_a_and_b_of_the_truth_give_its_deadrise() -> None:
    """(A − B) / 381 mm is the tangent of the chord's deadrise on the sample's straight bottom."""
    true = true_dimensions(json.loads(TRUTH_FILE.read_text(encoding="utf-8")))
    rise = true["a_centre"] - true["b_port"]
    assert rise == pytest.approx(381.0 * 0.33988033, abs=0.001)  # mm; tan(18.771887°) by hand calculator


def test_misses_are_counted_honestly(capsys: pytest.CaptureFixture[str]) -> None:
    """A truth outside its interval is not counted as held."""
    near = replace(length(2121.0, 1.0, "Chine beam"), code="chine_beam")
    far = replace(angle(19.9, 0.1, "Deadrise port"), code="deadrise_chord_port")
    survey = a_survey(dimensions=(near, far))
    show_comparison(survey, survey, TRUTH_FILE)
    said = capsys.readouterr().out
    assert "1 of 2 truths" in said
    assert "render" in said
    assert "2120.0" in said
