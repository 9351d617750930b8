"""Formats of the job file: every older one opens, a newer one is told apart."""

from __future__ import annotations

import pytest

from digitizer.errors import JobFileError, NewerJobFileError
from digitizer.job import upgrades
from digitizer.job.model import FORMAT_VERSION
from digitizer.job.upgrades import Fields, upgraded


def test_every_older_format_has_its_step() -> None:
    """No format in between is left without a way to the next."""
    assert set(upgrades.STEPS) == set(range(1, FORMAT_VERSION))


def test_steps_are_taken_in_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    """A job of format 1 goes through each later format to the newest."""

    def renamed(fields: Fields) -> Fields:
        return {"heading": fields["title"]}

    def doubled(fields: Fields) -> Fields:
        return {"heading": fields["heading"] * 2}

    monkeypatch.setattr(upgrades, "STEPS", {1: renamed, 2: doubled})
    monkeypatch.setattr(upgrades, "FORMAT_VERSION", 3)
    assert upgraded({"format": 1, "title": "a"}, "job.json") == {"heading": "aa", "format": 3}
    assert upgraded({"format": 2, "heading": "b"}, "job.json") == {"heading": "bb", "format": 3}
    assert upgraded({"title": "c"}, "job.json") == {"heading": "cc", "format": 3}


def test_newer_format_is_told_apart() -> None:
    """A job of a later program says which format it is and which can be read."""
    with pytest.raises(NewerJobFileError, match="update the program") as refused:
        upgraded({"format": FORMAT_VERSION + 1, "nonsense": None}, "job.json")
    assert (refused.value.found, refused.value.newest) == (FORMAT_VERSION + 1, FORMAT_VERSION)


@pytest.mark.parametrize("found", [0, -1, True, 1.0, "1", None, [1]], ids=repr)
def test_format_that_is_no_whole_number_is_refused(found: object) -> None:
    """Only whole numbers from 1 are formats."""
    with pytest.raises(JobFileError, match="format: must be a whole number") as refused:
        upgraded({"format": found}, "job.json")
    assert refused.value.places == ("format",)
