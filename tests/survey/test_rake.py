"""The transom angle: stated, by level, and both."""

from __future__ import annotations

import math

import pytest

from digitizer.job.model import LevelReadings, Rake
from digitizer.survey.model import Dimension
from tests.survey.exact import Case, a_case, codes


def measured(**records: object) -> Case:
    return a_case().with_length("chine_port", "chine_starboard").but(**{"rake": None, **records})


def rake_of(case: Case) -> Dimension:
    return next(d for d in case.survey().dimensions if d.code == "rake")


def test_level_on_face_and_keel_gives_their_difference() -> None:
    """Face 15.2° from plumb on a keel 1.2° bow up is a rake of 14°; two readings of 0.15° make 0.21°."""
    found = rake_of(measured(level_readings=LevelReadings(15.2, 1.2, 0.15)))
    assert found.value == pytest.approx(14.0)
    assert found.u == pytest.approx(0.15 * math.sqrt(2.0))


def test_stated_and_levelled_rake_are_weighed() -> None:
    """Each counts by the inverse square of its u."""
    found = rake_of(measured(rake=Rake(13.0, 0.3), level_readings=LevelReadings(15.2, 1.2, 0.3 / math.sqrt(2.0))))
    assert found.value == pytest.approx(13.5)
    assert found.u == pytest.approx(0.3 / math.sqrt(2.0))


def test_contradiction_between_them_is_said() -> None:
    """A rake typed as 20° beside levels that give 14° is not quietly averaged away."""
    survey = measured(rake=Rake(20.0, 0.3), level_readings=LevelReadings(15.2, 1.2, 0.15)).survey()
    texts = [f.text for f in survey.findings if f.code == "assumption" and f.subject == "rake"]
    assert any("stated" in text for text in texts)


def test_without_either_there_is_no_rake_and_no_section() -> None:
    """Nothing is made up."""
    survey = measured().survey()
    assert not any(d.code == "rake" or d.code.startswith("section") for d in survey.dimensions)
    assert "no_rake" in codes(survey)
