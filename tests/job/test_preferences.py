"""Preferences: their limits, and their way through the platform's settings."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.job.model import LengthUnit, PaperSize, Settings
from digitizer.job.preferences import (
    COVERAGE_FACTORS,
    LANGUAGES,
    LIMITS,
    Preferences,
    Theme,
    as_texts,
    from_texts,
)

ANY = st.builds(
    Preferences,
    unit=st.sampled_from(LengthUnit),
    paper=st.sampled_from(PaperSize),
    theme=st.sampled_from(Theme),
    language=st.sampled_from(LANGUAGES),
    coverage=st.sampled_from(COVERAGE_FACTORS),
    **{name: st.floats(*limits) for name, limits in LIMITS.items()},
)


@given(preferences=ANY)
def test_texts_give_back_the_same_preferences(preferences: Preferences) -> None:
    """Whatever is allowed comes back from the settings bit for bit."""
    assert from_texts(as_texts(preferences)) == (preferences, ())


def test_every_preference_is_kept() -> None:
    """No field is forgotten on the way to the settings."""
    assert set(as_texts(Preferences())) == {field.name for field in fields(Preferences)}


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize("wrong", [-1.0, 0.0, 1e9, math.nan, math.inf])
def test_figure_outside_its_limits_is_refused(name: str, wrong: float) -> None:
    """The message names the field, the limits and what was found."""
    with pytest.raises(ValueError, match=f"{name} must lie between"):
        replace(Preferences(), **{name: wrong})


@pytest.mark.parametrize(("name", "wrong"), [("coverage", 2.5), ("language", "tlh")])
def test_choice_outside_its_list_is_refused(name: str, wrong: object) -> None:
    """Only what the program can do may be preferred."""
    with pytest.raises(ValueError, match=f"{name} must be one of"):
        replace(Preferences(), **{name: wrong})


def test_spoilt_settings_lose_only_what_is_spoilt() -> None:
    """A value that can't be read gives way to the usual one and is named; the rest is kept."""
    texts = {"unit": "furlong", "b_offset_mm": "12,5", "u_tape_mm": "1.5", "theme": "dark", "of another version": "1"}
    found, faults = from_texts(texts)
    assert found == Preferences(u_tape_mm=1.5, theme=Theme.DARK)
    assert faults == ("unit", "b_offset_mm")


def test_new_job_begins_as_preferred() -> None:
    """Unit, paper and offset of B pass into the settings of a new job."""
    preferred = Preferences(unit=LengthUnit.INCH_SIXTEENTHS, b_offset_mm=304.8, paper=PaperSize.LETTER)
    assert preferred.for_new_job() == Settings(LengthUnit.INCH_SIXTEENTHS, 304.8, PaperSize.LETTER)
