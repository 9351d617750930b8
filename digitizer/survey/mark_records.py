"""
Records about single observations: where the adjustment puts a mark, and what an observation does to a dimension.

Worked out when somebody asks, from the state that a full measurement leaves; see `ellipses` and `influence`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Covariance = tuple[float, float, float]
"""Of a place: variance of x, covariance of x and y, variance of y."""


@dataclass(frozen=True)
class AdjustedPlace:
    """Where the adjustment puts a mark, and how surely: the covariance behind its error ellipse."""

    mark: str
    photo: str
    x_px: float
    y_px: float
    covariance_px: Covariance
    """In the photo, px²; y down."""
    covariance_mm: Covariance
    """On the face, along the surface and up, in the transom frame, mm²; y up."""


@dataclass(frozen=True)
class Influence:
    """What one observation, or several taken together, does to a dimension."""

    subject: str
    """Id of the record it comes from."""
    kind: str
    label: str
    photo: str | None
    share: float
    """Its part of the dimension's variance, 0 to 1."""
    unit: str
    sensitivity: tuple[float, ...]
    """Change of the dimension, in its unit, per `unit` of the observation: of a mark to the right and down; empty for
    several taken together."""

    @property
    def moves(self) -> float:
        """How far a unit of the observation moves the dimension, in the direction that moves it most."""
        return math.hypot(*self.sensitivity)
