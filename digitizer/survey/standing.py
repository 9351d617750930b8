"""
How far to believe a dimension, in one word: checked, unchecked or contradicted.

The word tells whether something in the job would have shown a mistake, not how large the uncertainty is. It follows
from the redundancy numbers (Baarda 1968), the observations that were set aside and the tape figures kept out.
"""

from __future__ import annotations

from enum import StrEnum

from digitizer.job.model import DeadriseReading, Job
from digitizer.survey.model import Dimension, ObservationResult, ObservationState, Quantity, Survey, TapeCheck

CONTROLLED = 0.1
"""Redundancy number from which on a mistake in an observation shows (common practice in survey nets)."""
_SCALE_UNCHECKED = "unchecked"
"""The finding that nothing checks the scale, or a mark."""


class Standing(StrEnum):
    """Whether something in the job confirms a dimension, nothing does, or something contradicts it."""

    CHECKED = "checked"
    UNCHECKED = "unchecked"
    CONTRADICTED = "contradicted"


def standing(survey: Survey, dimension: Dimension, job: Job) -> Standing:
    """
    The word for one dimension.

    Contradicted: a mark it was made from was set aside, or a tape figure for it disagrees. Checked: a tape figure for
    it agrees, or every place it was made from has an observation that the others control, and, for a length, the
    scale has more than one source. Everything else is unchecked.

    Parameters
    ----------
    job
        The job that was measured.
    """
    made = set(dimension.made_from)
    tapes = [check for check in survey.checks if _speaks_of(check, dimension, job)]
    point_of = {mark.id: mark.point or mark.id for mark in job.marks}
    seen: dict[str, list[ObservationResult]] = {}
    for each in survey.observations:
        point = point_of.get(each.subject)
        if point in made and point is not None:
            seen.setdefault(point, []).append(each)
    if any(not check.agrees for check in tapes) or any(
        each.state is ObservationState.REJECTED for group in seen.values() for each in group
    ):
        return Standing.CONTRADICTED
    if any(check.agrees for check in tapes):
        return Standing.CHECKED
    controlled = bool(seen) and all(any(each.redundancy >= CONTROLLED for each in group) for group in seen.values())
    scaled = dimension.quantity is Quantity.ANGLE or not _scale_is_unchecked(survey, job)
    return Standing.CHECKED if controlled and scaled else Standing.UNCHECKED


def _speaks_of(check: TapeCheck, dimension: Dimension, job: Job) -> bool:
    """Whether a tape figure that was kept out measures the same thing."""
    for length in job.lengths:
        if check.id == length.id:
            return set(dimension.made_from) == {length.from_point, length.to_point}
    reading = next((r for r in job.deadrise_readings if check.id.startswith(f"{r.id}: ")), None)
    return reading is not None and _is_of_reading(check, dimension, reading)


def _is_of_reading(check: TapeCheck, dimension: Dimension, reading: DeadriseReading) -> bool:
    part = check.id.removeprefix(f"{reading.id}: ")
    codes = {
        "A": ("a_centre",),
        "B": (f"b_{reading.side.value}",),
        "deadrise": (f"deadrise_edge_{reading.side.value}", f"deadrise_chord_{reading.side.value}"),
    }
    return dimension.code in codes.get(part, ())


def _scale_is_unchecked(survey: Survey, job: Job) -> bool:
    sources = {target.id for target in job.targets} | {length.id for length in job.lengths}
    sources |= {sheet.id for sheet in job.rectangles}
    return any(f.code == _SCALE_UNCHECKED and f.subject in sources for f in survey.findings)
