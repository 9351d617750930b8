"""
Planning figures about a bracket: wedge, buoyancy, weights and powers, and the figure of 33 CFR 183.53.

They compare what is stated with what is measured. None of them says whether a transom or a bracket is strong enough.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from digitizer.units import MM_PER_FOOT

WATER_KG_PER_M3 = {"fresh": 1000.0, "salt": 1025.0}
"""Usual round figures; ITTC 7.5-02-01-03 gives 999.1 and 1026.0 kg/m³ at 15 °C (from memory)."""
HIGH_TRANSOM_MM = 508.0
"""20 in, the height that 33 CFR 183.53 asks for beside remote steering."""
RULE_LENGTH_MM = 20.0 * MM_PER_FOOT
"""33 CFR 183.51: boats under 20 ft."""
SMALL_FACTORS = ((35, 3.0), (39, 5.0), (42, 7.5), (45, 10.0), (52, 15.0))
"""Table 183.53: up to this factor, to the nearest whole number, that many horsepower (CFR of 1 July 2001)."""


def v_box_area(width: float, side: float, deadrise: float) -> float:
    """Section of a box with a V bottom, mm²: sides of a height, and the triangle between keel and sides below them."""
    return width * side + width**2 * math.tan(deadrise) / 4.0


def prismoid_volume(length: float, first: float, middle: float, last: float) -> float:
    """
    Volume of a body whose section changes evenly along it: L (A₁ + 4 Aₘ + A₂) / 6.

    Exact for prisms, pyramids, wedges and everything whose section is a quadratic of the place (the prismoidal rule).

    >>> prismoid_volume(6.0, 16.0, 9.0, 4.0)
    56.0
    """
    return length * (first + 4.0 * middle + last) / 6.0


def body_volume(length: float, deadrise: float, width: tuple[float, float], side: tuple[float, float]) -> float:
    """Volume of a V box that tapers evenly, mm³; widths and sides at the face and at its after end."""
    middle = (sum(width) / 2.0, sum(side) / 2.0)
    ends = list(zip(width, side, strict=True))
    first, last = (v_box_area(w, s, deadrise) for w, s in ends)
    return prismoid_volume(length, first, v_box_area(*middle, deadrise), last)


def buoyancy_kg(volume_mm3: float, water: str) -> float:
    """Weight of water that a wholly immersed body displaces, kg (Archimedes)."""
    return volume_mm3 * 1e-9 * WATER_KG_PER_M3[water]


def power_factor(length_mm: float, width_mm: float) -> float:
    """Length times transom width in square feet: the factor of 33 CFR 183.53(a)(1)."""
    return length_mm * width_mm / MM_PER_FOOT**2


def power_capacity(factor: float, *, remote: bool, high_transom: bool, flat_bottom_hard_chine: bool) -> float:
    """
    Horsepower of Table 183.53 for a factor, its rounding and its reduction applied (CFR of 1 July 2001).

    Above 52.5 the result is raised to the next multiple of 5; below, flat bottoms with hard chines go one step down.

    >>> power_capacity(136.5, remote=True, high_transom=True, flat_bottom_hard_chine=False)
    185.0
    """
    if factor > 52.5:
        if remote and high_transom:
            raw = 2.0 * factor - 90.0
        else:
            raw = 0.5 * factor - 15.0 if flat_bottom_hard_chine else 0.8 * factor - 25.0
        return 5.0 * math.ceil(raw / 5.0 - 1e-9)
    nearest = min(math.floor(factor + 0.5), SMALL_FACTORS[-1][0])
    step = next(i for i, (limit, _) in enumerate(SMALL_FACTORS) if nearest <= limit)
    if flat_bottom_hard_chine:
        step = max(0, step - 1)
    return SMALL_FACTORS[step][1]


def engine_places(count: int, spacing: float) -> Sequence[float]:
    """Middles of engines side by side, from the centreline, mm."""
    return [(i - (count - 1) / 2.0) * spacing for i in range(count)]
