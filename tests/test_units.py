"""Units: what is printed, what is read, and what is refused."""

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.errors import ReadingError
from digitizer.units import (
    format_angle,
    format_length,
    format_with_uncertainty,
    parse_angle,
    parse_length,
    unit_name,
    value_and_uncertainty,
)

IN = 25.4


@pytest.mark.parametrize(
    ("mm", "unit", "printed"),
    [
        pytest.param(1980.04, "mm", "1980.0 mm", id="millimetres"),
        pytest.param(-0.04, "mm", "0.0 mm", id="no-negative-zero"),
        pytest.param(-12.34, "mm", "−12.3 mm", id="negative"),
        pytest.param(381.0, "in", "15.00 in", id="decimal-inches"),
        pytest.param(12.1875 * IN, "in/16", "12 3/16 in", id="sixteenths"),
        pytest.param(12.5 * IN, "in/16", "12 1/2 in", id="reduced"),
        pytest.param(0.25 * IN, "in/16", "1/4 in", id="under-an-inch"),
        pytest.param(15.98 * IN, "in/16", "16 in", id="carries"),
        pytest.param(-1.0625 * IN, "in/16", "−1 1/16 in", id="negative-fraction"),
        pytest.param(-0.01 * IN, "in/16", "0 in", id="no-negative-zero-fraction"),
        pytest.param(float("nan"), "mm", "unknown mm", id="not-a-number"),
    ],
)
def test_length_as_printed(mm, unit, printed):
    """Lengths print in the unit asked for, at its usual place."""
    assert format_length(mm, unit) == printed


@pytest.mark.parametrize(
    ("value", "U", "unit", "printed"),
    [
        pytest.param(1980.04, 2.34, "mm", "1980.0 ± 2.3 mm", id="two-digits"),
        pytest.param(1980.04, 12.34, "mm", "1980 ± 12 mm", id="value-to-the-same-place"),
        pytest.param(1984.0, 123.4, "mm", "1980 ± 120 mm", id="tens"),
        pytest.param(38.14159, 0.0123, "mm", "38.1 ± 0.1 mm", id="never-finer-than-a-tenth"),
        pytest.param(38.14159, 0.0, "mm", "38.1 ± 0.0 mm", id="exact"),
        pytest.param(38.0, 9.96, "mm", "38 ± 10 mm", id="rounding-makes-a-digit"),
        pytest.param(18.6041, 0.1349, "deg", "18.60° ± 0.13°", id="angle"),
        pytest.param(18.6041, 3.14, "deg", "18.6° ± 3.1°", id="wide-angle"),
        pytest.param(381.0, 1.6, "in", "15.00 ± 0.06 in", id="decimal-inches"),
        pytest.param(12.1875 * IN, 1.6, "in/16", "12 3/16 in ± 0.06 in", id="sixteenths-with-decimal-U"),
        pytest.param(10.0, float("inf"), "mm", "10.0 mm ± unknown", id="no-U"),
        pytest.param(float("nan"), 1.0, "deg", "unknown° ± unknown", id="no-value"),
    ],
)
def test_value_with_its_uncertainty(value, U, unit, printed):
    """U keeps two digits and the value ends at the same place (GUM 7.2.6)."""
    assert format_with_uncertainty(value, U, unit) == printed


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        pytest.param('12 3/16"', "mm", 12.1875 * IN, id="inch-sign"),
        pytest.param("12-3/16", "in", 12.1875 * IN, id="dashed"),
        pytest.param("12-3/16", "in/16", 12.1875 * IN, id="dashed-in-a-job-of-sixteenths"),
        pytest.param("5' 3 1/2\"", "mm", 1612.9, id="feet-and-inches"),
        pytest.param("5’3½”", "mm", 1612.9, id="printers-quotes"),
        pytest.param("5 ft 3 in", "mm", 1600.2, id="feet-in-words"),
        pytest.param("6'", "mm", 1828.8, id="feet-alone"),
        pytest.param("381 mm", "in", 381.0, id="millimetres-in-a-job-of-inches"),
        pytest.param("38.1 cm", "mm", 381.0, id="centimetres"),
        pytest.param("38,1 cm", "mm", 381.0, id="decimal-comma"),
        pytest.param("1.234 m", "mm", 1234.0, id="metres"),
        pytest.param("15 in", "mm", 381.0, id="inches"),
        pytest.param("15", "in", 381.0, id="bare-number-in-inches"),
        pytest.param("381", "mm", 381.0, id="bare-number-in-millimetres"),
        pytest.param("½", "in", 12.7, id="vulgar-fraction"),
        pytest.param("−3/16 in", "mm", -0.1875 * IN, id="negative"),
        pytest.param("0,125 in", "mm", 3.175, id="comma-after-nought"),
        pytest.param("  15   IN ", "mm", 381.0, id="loose-spaces-and-capitals"),
    ],
)
def test_reading_as_people_write_it(text, unit, mm):
    """A tape reading is read in the unit it names, else in the job's."""
    assert parse_length(text, unit) == pytest.approx(mm, abs=1e-9)  # mm, float rounding only


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param("", "nothing is written", id="empty"),
        pytest.param("abc", "no length", id="word"),
        pytest.param("1,234 mm", "thousand or a decimal", id="comma-before-three-digits"),
        pytest.param("1.500 mm", "thousand or a decimal", id="point-before-three-digits"),
        pytest.param("1,234.5 mm", "thousands separators", id="both-separators"),
        pytest.param("12 3/16", "fraction is in inches", id="fraction-without-unit-in-a-metric-job"),
        pytest.param('12 3/10"', "no fraction of a tape", id="tenths"),
        pytest.param('12 17/16"', "no fraction of a tape", id="improper-fraction"),
        pytest.param('12 3/0"', "no fraction of a tape", id="division-by-nought"),
        pytest.param("5' 15\"", "inches are under 12", id="too-many-inches"),
        pytest.param("5.5' 3\"", "feet whole", id="decimal-feet-with-inches"),
        pytest.param("381 ± 1 mm", "length alone", id="with-an-uncertainty"),
        pytest.param("12-3 in", "no length", id="dash-without-fraction"),
        pytest.param("nan", "no length", id="not-a-number"),
        pytest.param("1e3 mm", "no length", id="exponent"),
        pytest.param("9" * 50, "too long", id="too-long"),
    ],
)
def test_unclear_reading_is_refused(text, says):
    """What could mean two lengths, or none, is refused with what to write instead."""
    with pytest.raises(ReadingError, match=says):
        parse_length(text, "mm")


@pytest.mark.parametrize(
    ("text", "deg"),
    [
        pytest.param("18.6", 18.6, id="bare"),
        pytest.param("18,6°", 18.6, id="comma"),
        pytest.param("−18° 36'", -18.6, id="minutes"),
        pytest.param("13 deg", 13.0, id="word"),
    ],
)
def test_angle_as_people_write_it(text, deg):
    """Angles are read in degrees, with minutes if written."""
    assert parse_angle(text) == pytest.approx(deg, abs=1e-12)  # degrees, float rounding only


@pytest.mark.parametrize("text", ["", "steep", "18° 75'", "18.5° 30'"])
def test_unclear_angle_is_refused(text):
    """No angle is guessed."""
    with pytest.raises(ReadingError):
        parse_angle(text)


@given(st.floats(-20_000, 20_000), st.sampled_from(["mm", "in", "in/16"]))
def test_what_is_printed_can_be_read(mm, unit):
    """Reading a printed length gives it back within half of the last place."""
    half_place = {"mm": 0.05, "in": 0.005 * IN, "in/16": IN / 32}[unit]  # mm
    assert parse_length(format_length(mm, unit), unit) == pytest.approx(mm, abs=half_place + 1e-6)


@given(st.floats(-360, 360))
def test_printed_angle_can_be_read(deg):
    """Reading a printed angle gives it back within half of 0.01°."""
    assert parse_angle(format_angle(deg)) == pytest.approx(deg, abs=0.005 + 1e-9)


@given(st.floats(-5000, 5000), st.floats(1e-6, 900), st.sampled_from(["mm", "in", "deg"]))
def test_value_and_U_end_at_the_same_place(value, U, unit):
    """A value is never printed finer or coarser than its U, and U never shrinks to nothing."""
    text, expanded = value_and_uncertainty(value, U, unit)
    decimals = [part.partition(".")[2] for part in (text, expanded)]
    assert len(decimals[0]) == len(decimals[1])
    assert float(expanded) > 0


@given(st.floats(0.2, 900))
def test_U_is_rounded_by_no_more_than_five_percent(U):
    """Two digits lose at most one part in twenty."""
    assert float(value_and_uncertainty(0.0, U, "mm")[1]) == pytest.approx(U, rel=0.05, abs=0.0500001)  # mm


@given(st.text(max_size=60))
def test_any_text_gives_a_length_or_a_refusal(text):
    """Whatever is typed, the answer is a finite length or a refusal."""
    length = 0.0
    with contextlib.suppress(ReadingError):
        length = parse_length(text, "in")
    assert math.isfinite(length)


def test_unknown_unit_is_a_programming_mistake():
    """A unit that nobody defined raises ValueError."""
    with pytest.raises(ValueError, match="furlong"):
        format_length(1.0, "furlong")


def test_columns_are_headed_by_their_unit():
    """Sixteenths and decimals share one heading."""
    assert [unit_name(unit) for unit in ("mm", "in", "in/16", "deg")] == ["mm", "in", "in", "°"]
