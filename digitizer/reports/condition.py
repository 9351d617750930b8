"""What a report says of the condition of a transom: defects, readings and the limits of the survey, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from digitizer.job.model import Job
from digitizer.reports.schedule import NOTHING, side_of, unbroken, words
from digitizer.reports.table import printed_value
from digitizer.survey.model import CloseUp, DefectResult, Dimension, PlaceReading, Survey
from digitizer.units import format_length, format_with_uncertainty

LIMITS = (
    "What is recorded here is what the surface, a meter and a hammer showed from outside, without opening anything. "
    "Faces that could not be seen were not inspected, and not inspected does not mean sound.",
    "A crack is measured along straight lines between its marks, an area as it was outlined on the boat. U holds how "
    "well the marks, the photos and the edge are known; it does not hold damage that nobody saw or outlined.",
    "Meter readings stand on the meter's own relative scale and belong to that instrument, its mode and that day. "
    "Paint, sealant, metal, a void or condensation can raise them; only a sample proves a wet core.",
    "No opinion is given on the strength of this transom, on what caused the damage or on how to repair it.",
)
PRIORITIES = {"A": "A first priority", "B": "B in good time", "C": "C general", "not_stated": NOTHING}
_KINDS = {"wet": "wet area", "other": "damage", "repair": "earlier repair"}
_NOT_STATED = "Nothing was stated."


@dataclass(frozen=True)
class DefectRow:
    """One defect as it is printed."""

    number: str
    name: str
    kind: str
    priority: str
    size: str
    around: str
    across: str
    side: str
    below: str
    extents: str
    seen_in: str
    note: str


@dataclass(frozen=True)
class CloseUpRow:
    """What stands under a close-up."""

    id: str
    title: str
    facts: str


@dataclass(frozen=True)
class LogRow:
    """One photo of the log."""

    file: str
    facts: str
    sha256: str


@dataclass(frozen=True)
class ConditionContents:
    """Everything that a report says of the condition."""

    defects: tuple[DefectRow, ...]
    place_heading: str
    meters: tuple[tuple[str, str], ...]
    """Id of each meter with readings, and what stands under its map."""
    soundings: tuple[str, ...]
    """How many of each sound; empty without soundings."""
    close_ups: tuple[CloseUpRow, ...]
    stated: tuple[tuple[str, str], ...]
    """Headings of the surveyor's own statements, and the statements."""
    remarks: tuple[str, ...]
    """Notes of readings, with their place."""


def kind_words(kind: str) -> str:
    """A kind of defect for people."""
    return _KINDS.get(kind, words(kind))


def defect_numbers(defects: Sequence[DefectResult]) -> dict[str, str]:
    """The short name by which plates, drawing and table know each defect."""
    return {each.id: f"D{number}" for number, each in enumerate(defects, start=1)}


def condition_contents(survey: Survey, job: Job) -> ConditionContents:
    """What the report of this survey says of the condition."""
    unit, numbers = job.settings.unit, defect_numbers(survey.defects)
    files = {photo.id: photo.file for photo in job.photos}
    below = all(each.below_reference is not None for each in survey.defects)
    return ConditionContents(
        defects=tuple(_row(each, numbers[each.id], unit, files) for each in survey.defects),
        place_heading="Below ref. line" if below else "Up from keel",
        meters=tuple(_meter(job, survey, meter) for meter in _used_meters(survey)),
        soundings=_counts(survey.readings),
        close_ups=tuple(_close_up(each, survey, numbers, unit) for each in survey.close_ups),
        stated=(
            ("Conditions", job.document.conditions or _NOT_STATED),
            ("What was not accessible", job.document.not_accessible or _NOT_STATED),
            ("Further limits", job.document.limits or _NOT_STATED),
        ),
        remarks=tuple(_remark(each, unit) for each in survey.readings if each.note),
    )


def close_up_log(close_ups: Sequence[CloseUp]) -> tuple[LogRow, ...]:
    """Close-ups as they stand in the photo log, with time of capture and fingerprint."""
    return tuple(
        LogRow(each.file, "; ".join(("close-up", _taken(each), *_device(each))), each.sha256) for each in close_ups
    )


def _taken(close: CloseUp) -> str:
    return f"taken {close.captured.replace('T', ' ')}" if close.captured else "time of capture unknown"


def _device(close: CloseUp) -> tuple[str, str]:
    return close.device or "device unknown", f"{close.width_px} × {close.height_px} px"


def _row(defect: DefectResult, number: str, unit: str, files: dict[str, str]) -> DefectRow:
    seen = [files.get(photo, photo) for photo in (*defect.photos, *defect.close_ups)]
    down = defect.below_reference if defect.below_reference is not None else defect.y
    return DefectRow(
        number=number,
        name=defect.name or words(defect.id),
        kind=kind_words(defect.kind),
        priority=PRIORITIES.get(defect.priority, NOTHING),
        size=_with_unit(defect.size, unit),
        around=f"{_with_unit(defect.perimeter, unit)} round it" if defect.perimeter else "",
        across=_figure(defect.x, unit).lstrip("−"),
        side=side_of(defect.x),
        below=_figure(down, unit),
        extents=f"{_figure(defect.width, unit)} wide × {_figure(defect.height, unit)} high",
        seen_in=", ".join(seen),
        note=defect.note,
    )


def _with_unit(dimension: Dimension, unit: str) -> str:
    value, expanded, name = printed_value(dimension, unit)
    return unbroken(f"{value} ± {expanded} {name}")


def _figure(dimension: Dimension, unit: str) -> str:
    value, expanded, _ = printed_value(dimension, unit)
    return unbroken(f"{value} ± {expanded}").replace("\N{NO-BREAK SPACE}±", " ±")


def _used_meters(survey: Survey) -> list[str]:
    return list(dict.fromkeys(each.meter for each in survey.readings if each.meter is not None))


def _meter(job: Job, survey: Survey, name: str) -> tuple[str, str]:
    meter = next(each for each in job.meters if each.id == name)
    count = sum(each.meter == name for each in survey.readings)
    said = [
        f"{meter.name or meter.id}: {count} readings on its own scale ({meter.scale})",
        f"control reading: {meter.control}" if meter.control else "no control reading was stated",
        *([meter.note] if meter.note else []),
    ]
    return name, ". ".join(said) + "."


def _counts(readings: Sequence[PlaceReading]) -> tuple[str, ...]:
    heard = [each.sound for each in readings if each.sound is not None]
    return tuple(f"{heard.count(sound)} {sound}" for sound in ("sharp", "dull", "dead") if sound in heard)


def _remark(reading: PlaceReading, unit: str) -> str:
    side = "port" if reading.x < 0 else "starboard"
    place = f"{format_length(abs(reading.x), unit)} {side}, {format_length(reading.y, unit)} up from the keel point"
    what = reading.sound if reading.sound is not None else f"{reading.value:g}"
    return f"{reading.point} ({place}), {what}: {reading.note}"


def _close_up(close: CloseUp, survey: Survey, numbers: dict[str, str], unit: str) -> CloseUpRow:
    shows = ", ".join(numbers[d.id] for d in survey.defects if close.id in d.close_ups)
    scale = "no scale in it: sizes can't be read from it"
    if close.mm_per_px is not None:
        wide, U = close.mm_per_px * close.width_px, 2.0 * close.u_mm_per_px * close.width_px
        scale = f"scale by {close.scale}: {format_with_uncertainty(wide, U, unit)} across the picture, beside the scale"
    return CloseUpRow(close.id, f"{close.file}{': ' if shows else ''}{shows}", f"{_taken(close)}; {scale}")
