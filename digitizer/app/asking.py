"""What is asked once the clicks of a tool are made, and what the answer makes of the job. No Qt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from digitizer.app.tools import Gesture, Tool
from digitizer.app.words import tr
from digitizer.errors import ReadingError
from digitizer.job import condition_edits, edits
from digitizer.job.edits import Click
from digitizer.job.model import Job, Meter
from digitizer.units import parse_length


@dataclass(frozen=True)
class Question:
    """Words, the fields with what stands in them at first, and how one of them is read."""

    words: str
    figures: dict[str, str]
    read: Callable[[str], float]


def question_of(tool: Tool, job: Job) -> Question:
    """What a tool asks for when its clicks are made."""
    if tool.gesture is Gesture.READING:
        meter = job.meters[-1] if job.meters else Meter("meter")
        words = tr("What did {meter} show?", meter=meter.name or tr("the meter"))
        return Question(words, {tr("Figure"): ""}, lambda text: meter_figure(text, meter))
    unit = job.settings.unit.value
    if tool.gesture is Gesture.PAIR:
        return Question(
            tr("How far apart?"), {tr("Length"): "", tr("u"): "0.8 mm"}, lambda text: parse_length(text, unit)
        )
    return Question(
        tr("How large is the sheet?"), {tr("Width"): "", tr("Height"): ""}, lambda text: parse_length(text, unit)
    )


def with_answer(job: Job, tool: Tool, clicks: Sequence[Click], figures: Sequence[float]) -> Job:
    """The job with what was clicked and typed."""
    if tool.gesture is Gesture.READING:
        return condition_edits.with_meter_reading(job, clicks[0], figures[0])
    if tool.gesture is Gesture.PAIR:
        return edits.with_known_length(job, (clicks[0], clicks[1]), figures[0], figures[1])
    return edits.with_sheet(job, (clicks[0], clicks[1], clicks[2], clicks[3]), figures[0], figures[1])


def meter_figure(text: str, meter: Meter) -> float:
    """
    A figure on a meter's own scale.

    Raises
    ------
    ReadingError
        If it is no number, or off the scale.
    """
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        raise ReadingError(text, "this is no number: type what the meter showed.") from None
    if not meter.low <= value <= meter.high:
        scale = f"{meter.low:g} to {meter.high:g}"
        raise ReadingError(text, f"the meter's scale goes from {scale}: correct the figure, or the meter's scale.")
    return value
