"""Planning lines beside measured figures, and what they never say."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from digitizer.job.model import (
    Bracket,
    BracketBody,
    Engines,
    Flange,
    Job,
    Planning,
    PowerRule,
    Settings,
    Water,
)
from digitizer.reports.planning_parts import planning_part
from digitizer.survey.model import Dimension, PlanningLine, Quantity
from digitizer.survey.planning import CAUTION, planning_lines
from tests.survey.exact import a_case

BODY = BracketBody(600.0, 800.0, 300.0)
BRACKET = Bracket(60.0, 16.0, 0.25, 2, 400.0, 500.0, BODY)
PLAN = Planning(Engines(2, 150.0, 220.0, 700.0), Engines(2, 250.0, 280.0, 700.0), BRACKET, power_rule=PowerRule(5500.0))


def d(code: str, value: float, U: float, quantity: Quantity = Quantity.LENGTH) -> Dimension:
    return Dimension(code, code, "", quantity, value, U / 2.0, value - U, value + U, (), ())


DIMENSIONS = {
    "rake": d("rake", 13.0, 0.5, Quantity.ANGLE),
    "top_width": d("top_width", 2400.0, 8.0),
    "chine_beam": d("chine_beam", 2200.0, 6.0),
    "deadrise_chord_port": d("deadrise_chord_port", 18.0, 0.2, Quantity.ANGLE),
}


def lines(plan: Planning, dimensions: dict[str, Dimension] | None = None) -> dict[str, PlanningLine]:
    job = Job(planning=plan, settings=Settings())
    return {each.label: each for each in planning_lines(job, DIMENSIONS if dimensions is None else dimensions, None)}


def test_nothing_planned_gives_nothing() -> None:
    """No plan, no lines, no part in the report."""
    assert planning_lines(Job(), DIMENSIONS, None) == ()
    assert list(planning_part(a_case().survey(), 500.0)) == []


def test_wedge_is_plate_minus_transom_angle() -> None:
    """16° and 13° leave 3°; U is both in quadrature: 0.5 and 0.5 give 0.71."""
    assert lines(PLAN)["Wedge between motor plate and transom"].value == "3.00° ± 0.71°"


def test_wedge_without_a_transom_angle_is_not_guessed() -> None:
    """Without the angle it says what to do."""
    line = lines(PLAN, {})["Wedge between motor plate and transom"]
    assert line.value == "not worked out"
    assert "level" in line.note


def test_repower_beyond_the_rating_is_cautioned() -> None:
    """300 hp now lie within 400 hp; 500 hp planned do not; 560 kg do not within 500 kg."""
    found = lines(PLAN)
    assert not found["Bracket's rating, power now"].caution
    assert found["Bracket's rating, power planned"].caution
    assert found["Bracket's rating, power planned"].value == "500 hp of 400 hp: more than rated"
    assert "repower" in found["Bracket's rating, power planned"].note
    assert found["Bracket's rating, weight planned"].caution
    assert not found["Bracket's rating, engines planned"].caution


def test_unstated_figures_are_not_compared() -> None:
    """A bracket without ratings is compared with nothing."""
    bare = replace(PLAN, bracket=Bracket())
    assert lines(bare)["Bracket's rating, power planned"].value == "not compared"


@pytest.mark.parametrize(("water", "kilograms"), [(Water.FRESH, 144.0), (Water.SALT, 147.6)])
def test_buoyancy_of_a_box(water: Water, kilograms: float) -> None:
    """600 × 800 × 300 mm are 144 litres: 144 kg of fresh water, 148 of salt, against 60 + 2 × 220 kg."""
    found = lines(replace(PLAN, water=water))
    assert found["Volume of the bracket's body"].value == "144 litres"
    assert found["Buoyancy of the body, wholly immersed"].value == f"{kilograms:.0f} kg"
    assert found["Buoyancy against weight, now"].value.endswith(f"{500 - kilograms:.0f} kg short")
    assert found["Buoyancy against weight, now"].caution


def test_outer_engines_against_beam_and_bottom() -> None:
    """Two engines 700 mm apart on a beam of 2200: 750 mm to the chine; the bottom there is 350 tan 18° higher."""
    found = lines(PLAN)
    assert found["Outer engine to the chine"].value == "750.0 ± 3.0 mm"
    rise = 350.0 * math.tan(math.radians(18.0))
    assert found["Rise of the bottom at the outer engine, port"].value.startswith(f"{rise:.1f}")


def test_power_rule_with_the_factor_s_uncertainty() -> None:
    """5.5 m × 2.4 m make a factor of 142.1; without remote steering or a high transom 0.8 F − 25, raised to 90."""
    found = lines(PLAN)
    assert found["33 CFR 183.53, factor"].value.startswith("142.1 ±")
    assert found["33 CFR 183.53, figure"].value.startswith("90 hp")
    assert "not a rating" in found["33 CFR 183.53, figure"].note
    assert "taken as under 20 in" in found["33 CFR 183.53, figure"].note


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        pytest.param(PowerRule(6096.0), "20 ft and longer", id="20 ft long"),
        pytest.param(PowerRule(5500.0, outboard_monohull=False), "of another kind", id="no outboard monohull"),
        pytest.param(None, "not stated", id="nothing stated"),
    ],
)
def test_rule_that_does_not_apply_is_said_plainly(rule: PowerRule | None, words: str) -> None:
    """No figure where the rule has none."""
    line = lines(replace(PLAN, power_rule=rule))["33 CFR 183.53"]
    assert line.value in ("does not apply", "not worked out")
    assert words in line.note


def test_narrow_transom_takes_the_aftermost_quarter() -> None:
    """A transom of no more than half the beam is no full transom (33 CFR 183.3)."""
    rule = PowerRule(5500.0, beam_mm=4900.0, quarter_beam_mm=2600.0)
    found = lines(replace(PLAN, power_rule=rule))
    assert "aftermost quarter" in found["33 CFR 183.53, factor"].note
    unknown = lines(replace(PLAN, power_rule=replace(rule, quarter_beam_mm=None)))
    assert unknown["33 CFR 183.53"].value == "not worked out"


@cache
def texts() -> tuple[str, ...]:
    survey = a_case().but(planning=PLAN, flange=Flange(900.0, 400.0)).survey()
    return (*(f"{line.label} {line.value} {line.note}" for line in survey.planning), CAUTION)


def test_nothing_is_called_strong_or_safe() -> None:
    """No line approves of anything; the caution says who decides."""
    for text in texts():
        assert not any(word in text.lower() for word in ("safe", "adequate", "strong enough.", "approved", "permitted"))
    assert "licensed surveyor" in CAUTION


def test_plan_stands_in_the_survey_and_the_report() -> None:
    """The lines come through the measurement, flange included."""
    assert any(text.startswith("Outer engine to the flange's side 100.0 mm") for text in texts())
