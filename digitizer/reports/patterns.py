"""Patterns in the words of reports and drawings."""

from __future__ import annotations

from digitizer.reports.wording import one_line
from digitizer.survey.model import PatternResult, PatternStation
from digitizer.units import format_with_uncertainty

_TAKEN = {
    "flat": "",
    "girth": " It is compared along the surface (girth).",
    "chord": " It is compared as seen square to it (chord).",
}


def printed_en(station: PatternStation) -> str:
    """En with its sign, and never minus nothing."""
    return f"{round(station.en, 1) + 0.0:+.1f}".replace("-", "−")


def laid_in_words(pattern: PatternResult, unit: str) -> str:
    """How a pattern was laid on the outline, and what gives its scale."""
    how = "by its marks" if pattern.aligned_by == "marks" else "by best fit, without a change of scale"
    over = ", turned over" if pattern.mirrored else ""
    span = pattern.span
    apart = ""
    if span is not None:
        off = format_with_uncertainty(span.difference.value, span.difference.U, unit)
        apart = f" From {span.ends[0]} to {span.ends[1]} pattern minus transom is {off}."
    return one_line(f"Laid on the outline {how}{over}; scale: {pattern.scale}.{_TAKEN[pattern.taken]}{apart}", 400)
