"""Whether the records of a condition survey fit together: defects, meters, readings, soundings."""

from __future__ import annotations

from collections.abc import Iterator

from digitizer.job.model import Job, MarkKind, PhotoKind
from digitizer.job.problems import Problem, quoted, unknown

CONDITION_LISTS = ("defects", "meters", "meter_readings", "soundings")
_OF_DEFECT = (MarkKind.CRACK, MarkKind.AREA)


def check_condition(job: Job) -> Iterator[Problem]:
    """Everything in these records that names something missing or contradicts itself."""
    yield from _defects(job)
    yield from _meters(job)
    points = {mark.point or mark.id for mark in job.marks}
    for name in ("meter_readings", "soundings"):
        for i, record in enumerate(getattr(job, name)):
            yield from unknown(f"{name}[{i}].point", record.point, "point", points)


def _defects(job: Job) -> Iterator[Problem]:
    close_ups = {photo.id for photo in job.photos if photo.kind is PhotoKind.CLOSE_UP}
    pads = {pad.id for pad in job.pads}
    for i, defect in enumerate(job.defects):
        place = f"defects[{i}]"
        own = [mark for mark in job.marks if mark.of == defect.id and mark.kind in _OF_DEFECT]
        if len({mark.kind for mark in own}) > 1:
            yield Problem(
                place, f"{quoted(defect.id)} has marks of both kinds, crack and area: give each a name of its own"
            )
        marked = {mark.point or mark.id for mark in own}
        for k, point in enumerate(defect.points):
            yield from unknown(f"{place}.points[{k}]", point, f"point of defect {quoted(defect.id)}", marked)
        if len(set(defect.points)) < len(defect.points):
            yield Problem(f"{place}.points", "names one point twice: each must be another point")
        for k, photo in enumerate(defect.close_ups):
            yield from unknown(f"{place}.close_ups[{k}]", photo, "photo of kind close_up", close_ups)
        if defect.on is not None:
            yield from unknown(f"{place}.on", defect.on, "pad", pads)


def _meters(job: Job) -> Iterator[Problem]:
    meters = {meter.id: meter for meter in job.meters}
    for i, meter in enumerate(job.meters):
        if meter.low >= meter.high:
            yield Problem(f"meters[{i}].high", f"must be above low ({meter.low:g}), found {meter.high:g}")
    for i, reading in enumerate(job.meter_readings):
        place = f"meter_readings[{i}]"
        yield from unknown(f"{place}.meter", reading.meter, "meter", meters)
        scale = meters.get(reading.meter)
        if scale is not None and not scale.low <= reading.value <= scale.high:
            yield Problem(
                f"{place}.value",
                f"{reading.value:g} is off the meter's scale, which goes from {scale.low:g} to {scale.high:g}",
            )
