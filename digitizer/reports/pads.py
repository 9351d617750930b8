"""Pads and notches as the drawing shows them: the outline through their marks and how proud they stand."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from digitizer.geometry.polygons import order_round_centroid
from digitizer.reports.sheet import Point
from digitizer.survey.model import Dimension, Survey


@dataclass(frozen=True)
class PadOutline:
    """One pad as seen square on."""

    id: str
    ring: tuple[Point, ...]
    """Its marks in order round it, mm."""
    height: Dimension | None
    """Off the face, negative when recessed."""

    @property
    def stands(self) -> str:
        """Which way it stands off the face."""
        return "recessed" if self.height is not None and self.height.value < 0.0 else "proud"


def pad_outlines(survey: Survey) -> list[PadOutline]:
    """Every pad with the three marks that an outline takes."""
    marks: dict[str, list[Point]] = defaultdict(list)
    for point in survey.points:
        if point.kind == "pad" and point.of is not None and math.isfinite(point.x) and math.isfinite(point.y):
            marks[point.of].append((point.x, point.y))
    heights = {each.code: each for each in survey.dimensions}
    return [
        PadOutline(name, _in_order(places), heights.get(f"pad_{name}_height"))
        for name, places in marks.items()
        if len(places) >= 3
    ]


def _in_order(places: list[Point]) -> tuple[Point, ...]:
    return tuple(places[i] for i in order_round_centroid(np.array(places)))
