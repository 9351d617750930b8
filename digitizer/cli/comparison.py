"""The sample's measured dimensions beside its exact truth, which is known because the picture is a render."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from digitizer.cli.new_table import new_table
from digitizer.cli.tables import results_console
from digitizer.survey.model import Dimension, Quantity, Survey
from digitizer.units import format_angle, format_length, format_with_uncertainty

Place = tuple[float, float]

_OFFSET_MM = 381.0  # where the sample's B is taken


def show_comparison(clicked: Survey, snapped: Survey, truth_file: Path) -> None:
    """
    Print truth and measured values for the main dimensions: marks as clicked, and marks snapped to the edges.

    Truth comes in here, after everything is measured, and goes nowhere else.
    """
    truth = true_dimensions(json.loads(truth_file.read_text(encoding="utf-8")))
    table = new_table(f"{snapped.title}: measured, and the truth", "", "as clicked ± U", "snapped ± U", "truth", "off")
    by_hand = {dimension.code: dimension for dimension in clicked.dimensions}
    known = [d for d in snapped.dimensions if d.code in truth and d.code in by_hand]
    for dimension in known:
        true = truth[dimension.code]
        cells = (_with_u(by_hand[dimension.code]), _with_u(dimension))
        table.add_row(dimension.label, *cells, _plain(dimension, true), _plain(dimension, dimension.value - true))
    held = sum(dimension.lower <= truth[dimension.code] <= dimension.upper for dimension in known)
    console = results_console()
    console.print("The sample is a render of an invented boat, not a photograph, so its truth is known exactly.\n")
    console.print(table)
    console.print(f"\n{held} of {len(known)} truths lie within their 95 % interval (snapped; off is snapped − truth).")


def true_dimensions(truth: dict[str, Any]) -> dict[str, float]:
    """
    The main dimensions of a flat sample, by their codes in a survey; mm and degrees.

    The string in the picture is not parallel to the x axis of `truth`, and a survey's x axis is, so every
    place is first turned by the string's slope.
    """
    slope = math.radians(truth["reference_line"]["slope_in_face_deg"])
    at = {name: _turned(place, slope) for name, place in truth["points"].items()}
    line = at["ref_mid"][1]
    dimensions = {
        "a_centre": line,
        "chine_beam": math.dist(at["chine_outer_port"], at["chine_outer_stbd"]),
        "chine_beam_inner": math.dist(at["chine_inner_port"], at["chine_inner_stbd"]),
        "top_width": math.dist(at["sheer_port"], at["sheer_stbd"]),
        "crown": float(truth["parameters"]["crown_top_edge_mm"]),
    }
    for side, short in (("port", "port"), ("starboard", "stbd")):
        x, y = at[f"chine_inner_{short}"]
        dimensions[f"deadrise_chord_{side}"] = math.degrees(math.atan2(y, abs(x)))
        dimensions[f"b_{side}"] = line - _OFFSET_MM * y / abs(x)
    return dimensions


def _turned(place: list[float], slope: float) -> Place:
    """A place in axes turned anticlockwise by `slope`."""
    x, y = place[:2]
    return (x * math.cos(slope) + y * math.sin(slope), y * math.cos(slope) - x * math.sin(slope))


def _with_u(dimension: Dimension) -> str:
    """The figure and its U."""
    return format_with_uncertainty(dimension.value, dimension.U, "deg" if _is_angle(dimension) else "mm")


def _plain(dimension: Dimension, value: float) -> str:
    """A figure of the same kind as the dimension."""
    return format_angle(value) if _is_angle(dimension) else format_length(value, "mm")


def _is_angle(dimension: Dimension) -> bool:
    """Whether the dimension is an angle."""
    return dimension.quantity is Quantity.ANGLE
