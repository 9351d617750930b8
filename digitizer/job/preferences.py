"""
What a user prefers in every job: units, usual uncertainties, paper, and how the window looks.

Plain values with their limits. A new job takes its settings from here; an old one keeps its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import Any

from digitizer.job.model import LengthUnit, PaperSize, Settings


class Theme(StrEnum):
    """Colours of the window."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"


LANGUAGES = ("system", "en")
"""Languages the window can speak; ``system`` takes the platform's, where it is among them."""
COVERAGE_FACTORS = (1.0, 2.0, 3.0)


@dataclass(frozen=True)
class Preferences:
    """
    A user's preferences.

    Raises
    ------
    ValueError
        If a value is outside its limits; the message names the field and the limits.
    """

    unit: LengthUnit = LengthUnit.MILLIMETRE
    b_offset_mm: float = 381.0
    """Distance out from the centreline at which B is taken, in new jobs."""
    u_tape_mm: float = 0.8
    """Standard uncertainty that a tape figure starts with."""
    u_level_deg: float = 0.15
    """Standard uncertainty that a reading of a level starts with."""
    coverage: float = 2.0
    """What u is multiplied by on screen; reports and files always use 2."""
    paper: PaperSize = PaperSize.A4
    language: str = "system"
    theme: Theme = Theme.SYSTEM
    ellipse_magnification: float = 20.0
    """How much larger than life error ellipses are drawn over the photo."""

    def __post_init__(self) -> None:
        for name, (least, most) in LIMITS.items():
            value = getattr(self, name)
            if not (math.isfinite(value) and least <= value <= most):
                raise ValueError(f"{name} must lie between {least:g} and {most:g}, got {value:g}")
        if self.coverage not in COVERAGE_FACTORS:
            raise ValueError(f"coverage must be one of {COVERAGE_FACTORS}, got {self.coverage:g}")
        if self.language not in LANGUAGES:
            raise ValueError(f"language must be one of {LANGUAGES}, got {self.language!r}")

    def for_new_job(self) -> Settings:
        """The settings that a new job begins with."""
        return Settings(unit=self.unit, b_offset_mm=self.b_offset_mm, paper=self.paper)


LIMITS: dict[str, tuple[float, float]] = {
    "b_offset_mm": (25.0, 5000.0),
    "u_tape_mm": (0.05, 50.0),
    "u_level_deg": (0.01, 5.0),
    "ellipse_magnification": (1.0, 1000.0),
}
"""Least and most of each figure; common practice leaves these far behind on either side."""

_READERS: dict[str, Callable[[str], Any]] = {
    "unit": LengthUnit,
    "b_offset_mm": float,
    "u_tape_mm": float,
    "u_level_deg": float,
    "coverage": float,
    "paper": PaperSize,
    "language": str,
    "theme": Theme,
    "ellipse_magnification": float,
}


def as_texts(preferences: Preferences) -> dict[str, str]:
    """Each preference as text that `from_texts` reads back to the same value."""
    return {field.name: _text(getattr(preferences, field.name)) for field in fields(preferences)}


def from_texts(texts: Mapping[str, object]) -> tuple[Preferences, tuple[str, ...]]:
    """
    Preferences from texts kept by the platform, and the names of those that had to be replaced by the usual value.

    Names that are missing or unknown are no fault: another version wrote them.
    """
    kept = Preferences()
    faults = []
    for name, read in _READERS.items():
        if name in texts:
            try:
                kept = replace(kept, **{name: read(str(texts[name]))})
            except ValueError:
                faults.append(name)
    return kept, tuple(faults)


def _text(value: object) -> str:
    return repr(value) if isinstance(value, float) else str(value)
