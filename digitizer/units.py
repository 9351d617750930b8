"""
Lengths and angles as people write them, and a value with its uncertainty as a metrologist prints it.

Units are named by short strings: ``"mm"``, ``"in"`` (decimal inches), ``"in/16"`` (inches to the nearest
sixteenth), ``"deg"``, and ``"cm2"`` and ``"in2"`` for areas. Lengths come in and go out in mm, areas in mm², angles in
degrees.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from digitizer.errors import ReadingError

MM_PER_INCH = 25.4
MM_PER_FOOT = 304.8
_MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True)
class _Unit:
    """How one unit is printed: its size, its name and the finest decimal place worth printing."""

    size: float
    symbol: str
    finest: int
    sixteenths: bool = False


_UNITS = {
    "mm": _Unit(1.0, " mm", -1),
    "in": _Unit(MM_PER_INCH, " in", -2),
    "in/16": _Unit(MM_PER_INCH, " in", -2, sixteenths=True),
    "deg": _Unit(1.0, "°", -2),
    "cm2": _Unit(100.0, " cm²", -1),
    "in2": _Unit(MM_PER_INCH**2, " in²", -2),
}


def unit_name(unit: str) -> str:
    """Heading for a column of figures: "mm", "in" or "°"."""
    return _unit(unit).symbol.strip()


def area_unit(unit: str) -> str:
    """
    The unit for areas that goes with a unit of length.

    >>> area_unit("in/16")
    'in2'
    """
    return "cm2" if unit == "mm" else "in2"


def format_length(mm: float, unit: str) -> str:
    """
    A length with its unit: to 0.1 mm, 0.01 in or the nearest 1/16 in.

    Examples
    --------
    >>> format_length(309.5625, "in/16")
    '12 3/16 in'
    >>> format_length(1980.04, "mm")
    '1980.0 mm'
    """
    return _plain(mm, unit) + _unit(unit).symbol


def format_angle(deg: float) -> str:
    """An angle to 0.01°."""
    return _plain(deg, "deg") + "°"


def value_and_uncertainty(value: float, U: float, unit: str) -> tuple[str, str]:
    """
    The two figures of "value ± U", without their unit.

    U keeps two significant digits (GUM, JCGM 100:2008, 7.2.6), though never a place finer than 0.1 mm,
    0.01 in or 0.01°, and is not rounded down to nothing. The value ends at the same place. Sixteenths of
    an inch keep their fraction and print U in decimal inches.

    Parameters
    ----------
    value, U
        Both in mm, in mm² for ``"cm2"`` and ``"in2"``, or in degrees for ``"deg"``.

    Returns
    -------
    tuple of str
        ``"unknown"`` stands for what is not a finite number, and for the U of such a value.

    Examples
    --------
    >>> value_and_uncertainty(1980.04, 12.34, "mm")
    ('1980', '12')
    """
    if not (math.isfinite(value) and math.isfinite(U)):
        return _plain(value, unit), "unknown"
    kind = _unit(unit)
    scaled = abs(U) / kind.size
    place = max(_second_digit(scaled), kind.finest)
    expanded = max(_at_place(scaled, place), Decimal(1).scaleb(place) if scaled > 0 else Decimal(0))
    text = _sixteenths(value) if kind.sixteenths else _signed(_at_place(value / kind.size, place))
    return text, f"{expanded:f}"


def format_with_uncertainty(value: float, U: float, unit: str) -> str:
    """
    "Value ± U" with its unit, rounded as :func:`value_and_uncertainty` says.

    Examples
    --------
    >>> format_with_uncertainty(18.6041, 0.1349, "deg")
    '18.60° ± 0.13°'
    >>> format_with_uncertainty(309.5625, 1.6, "in/16")
    '12 3/16 in ± 0.06 in'
    >>> format_with_uncertainty(1980.04, 2.34, "mm")
    '1980.0 ± 2.3 mm'
    """
    text, expanded = value_and_uncertainty(value, U, unit)
    symbol = _unit(unit).symbol
    if unit in ("deg", "in/16") or expanded == "unknown":
        return f"{text}{symbol} ± {expanded}{symbol if expanded != 'unknown' else ''}"
    return f"{text} ± {expanded}{symbol}"


def parse_length(text: str, default_unit: str) -> float:
    r"""
    A tape reading as written by a person, in mm.

    Understands ``381 mm``, ``38.1 cm``, ``0,381 m``, ``15 in``, ``12 3/16"``, ``12-3/16``, ``5' 3 1/2"`` and
    ``½``; a decimal comma is as good as a point. A bare number is in `default_unit`.

    Raises
    ------
    ReadingError
        If the text is no length, or could mean two.

    Examples
    --------
    >>> parse_length("5' 3 1/2\"", "mm")
    1612.9
    """
    tidy = _tidied(text)
    sign = -1.0 if tidy.startswith("-") else 1.0
    body = tidy.removeprefix("-").strip()
    _refuse_the_ambiguous(body, text, default_unit)
    if found := _METRIC.fullmatch(body):
        return sign * _metric(found, default_unit)
    if found := _FEET.fullmatch(body):
        return sign * _feet(found)
    if found := _INCHES.fullmatch(body):
        return sign * _inches(found, default_unit)
    raise ReadingError(text, "this is no length that I can read. Write it like 381 mm, 38.1 cm, 15 in or 12 3/16 in.")


def parse_angle(text: str) -> float:
    """
    An angle as written by a person, in degrees: ``18.6``, ``18,6°`` or ``18° 36'``.

    Raises
    ------
    ReadingError
        If the text is no angle.
    """
    found = _ANGLE.fullmatch(_tidied(text))
    if found is None:
        raise ReadingError(text, "this is no angle that I can read. Write it like 18.6° or 18° 36'.")
    minutes = float(found["minutes"] or 0.0)
    if minutes >= 60 or (found["minutes"] and not float(found["degrees"].replace(",", ".")).is_integer()):
        raise ReadingError(text, "minutes go with whole degrees and are under 60. Write it like 18° 36'.")
    size = float(found["degrees"].replace(",", ".")) + minutes / 60.0
    return -size if found["sign"] else size


def _unit(unit: str) -> _Unit:
    if unit not in _UNITS:
        raise ValueError(f"unit must be one of {', '.join(_UNITS)}, got {unit!r}")
    return _UNITS[unit]


def _plain(value: float, unit: str) -> str:
    kind = _unit(unit)
    if not math.isfinite(value):
        return "unknown"
    return _sixteenths(value) if kind.sixteenths else _signed(_at_place(value / kind.size, kind.finest))


def _second_digit(U: float) -> int:
    """Decimal place of the second significant digit, after rounding to two (so 0.0996 counts as 0.10)."""
    return int(f"{U:.1e}".split("e")[1]) - 1 if U > 0 else -99


def _at_place(value: float, place: int) -> Decimal:
    if not math.isfinite(value):
        raise ValueError(f"value must be finite, got {value}")
    return Decimal(repr(float(value))).quantize(Decimal(1).scaleb(place))


def _signed(value: Decimal) -> str:
    return f"{_MINUS if value < 0 else ''}{abs(value):f}"


def _sixteenths(mm: float) -> str:
    count = round(abs(mm) / MM_PER_INCH * 16)
    whole, rest = divmod(count, 16)
    part = f"{Fraction(rest, 16)}" if rest else ""
    digits = f"{whole} {part}".strip() if whole or not part else part
    return f"{_MINUS if mm < 0 and count else ''}{digits}"


_NUMBER = r"\d+(?:[.,]\d*)?|[.,]\d+"
_FRACTION = r"(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
_MIXED = rf"(?:(?P<whole>\d+)(?:\s+|\s*-\s*))?{_FRACTION}|(?P<plain>{_NUMBER})"
_INCH_SIGN = r'(?:"|in\.?|inch|inches)'
_METRIC = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>mm|cm|m|)")
_INCHES = re.compile(rf"(?:{_MIXED})\s*(?P<unit>{_INCH_SIGN})?")
_FEET = re.compile(rf"(?P<feet>{_NUMBER})\s*(?:'|ft\.?|foot|feet)\s*-?\s*(?P<rest>(?:{_MIXED})\s*{_INCH_SIGN}?)?")
_ANGLE = re.compile(
    rf"(?P<sign>-)?\s*(?P<degrees>{_NUMBER})\s*(?:°|deg|degrees)?\s*(?:(?P<minutes>\d+(?:\.\d+)?)\s*')?"
)
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_QUOTES = {"’": "'", "‘": "'", "′": "'", "”": '"', "“": '"', "″": '"', "''": '"', "⁄": "/", _MINUS: "-", "–": "-"}


def _tidied(text: str) -> str:
    tidy = " ".join(text.split()).lower()
    for sign, plain in _QUOTES.items():
        tidy = tidy.replace(sign, plain)
    for sign, plain in _VULGAR.items():
        tidy = re.sub(rf"\s*{sign}", f" {plain}", tidy).strip()
    return tidy


def _refuse_the_ambiguous(body: str, text: str, default_unit: str) -> None:
    if not body:
        raise ReadingError(text, "nothing is written here. Write a length like 381 mm or 12 3/16 in.")
    if len(body) > 40:
        raise ReadingError(text[:40] + "…", "this is too long for a length. Write one length, like 381 mm.")
    if re.search(r"±|\+/?-", body):
        raise ReadingError(text, "write the length alone; its uncertainty has a field of its own.")
    if re.search(r"\d[.,]\d+[.,]\d", body):
        raise ReadingError(text, "leave thousands separators out: write 1234.5 mm.")
    if re.match(r"[1-9]\d{0,2},\d{3}(?!\d)", body) or _three_decimals_of_a_millimetre(body, default_unit):
        raise ReadingError(text, "this may mean a thousand or a decimal: write 1234 mm or 1.2 mm.")


def _three_decimals_of_a_millimetre(body: str, default_unit: str) -> bool:
    """Nobody reads a tape to a micrometre: 1.500 mm is more likely somebody's way of writing 1500 mm."""
    suffix = r"\s*(mm)?" if default_unit == "mm" else r"\s*mm"
    return re.fullmatch(rf"[1-9]\d{{0,2}}\.\d{{3}}{suffix}", body) is not None


def _metric(found: re.Match[str], default_unit: str) -> float:
    size = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "": _unit(default_unit).size}[found["unit"]]
    return _decimal(found["number"]) * size


def _inches(found: re.Match[str], default_unit: str) -> float:
    if found["unit"] is None and default_unit == "mm":
        raise ReadingError(found.string, "a fraction is in inches, but lengths here are in mm. Write 12 3/16 in.")
    return _mixed(found) * MM_PER_INCH


def _feet(found: re.Match[str]) -> float:
    if not found["rest"]:
        return _decimal(found["feet"]) * MM_PER_FOOT
    inches = _mixed(found)
    if inches >= 12 or not found["feet"].isdigit():
        raise ReadingError(found.string, "beside feet, the inches are under 12 and the feet whole. Write 5' 3 1/2\".")
    return round(int(found["feet"]) * MM_PER_FOOT + inches * MM_PER_INCH, 9)


def _mixed(found: re.Match[str]) -> float:
    if found["plain"]:
        return _decimal(found["plain"])
    top, bottom = int(found["top"]), int(found["bottom"])
    if bottom not in (2, 4, 8, 16, 32, 64) or not 0 < top < bottom:
        raise ReadingError(found.string, f"{top}/{bottom} is no fraction of a tape. Write one like 12 3/16 in.")
    return int(found["whole"] or 0) + top / bottom


def _decimal(digits: str) -> float:
    return float(digits.replace(",", "."))
