"""The condition survey: size and place of each defect, and where meter readings and soundings were taken."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import Number
from digitizer.geometry.polygons import crosses_itself
from digitizer.job.model import Defect, MeterReading, Sounding
from digitizer.survey.defects import MARKS_OF_DEFECTS, defects_of, is_area
from digitizer.survey.dimensions import Figure, Transom
from digitizer.survey.model import DefectResult, Dimension, Finding, PlaceReading, Quantity, Severity
from digitizer.survey.uncertainty import Scales
from digitizer.transom.defects import (
    extents,
    outline_area,
    outline_length,
    polyline_length,
    sideways,
    with_inserted,
)
from digitizer.transom.system import Place

NEEDED = {True: 3, False: 2}
"""Marks that an outline and a crack need."""


@dataclass(frozen=True)
class _Marked:
    """A defect with its points in order, on the face rolled flat."""

    defect: Defect
    closed: bool
    names: tuple[str, ...]
    places: tuple[Place, ...]

    @property
    def called(self) -> str:
        return self.defect.name or self.defect.id


def defect_figures(t: Transom) -> list[Figure]:
    """Sizes and places of all defects, as figures."""
    return [figure for marked in _all_marked(t)[0] for figure in _figures(t, marked).values()]


def defect_results(t: Transom, scales: Scales) -> tuple[list[DefectResult], list[Finding]]:
    """Results for every defect that its marks place, and what should be known of them before they are trusted."""
    marked, findings = _all_marked(t)
    figures = [_figures(t, each) for each in marked]
    dimensions = iter(scales.dimensions([f for group in figures for f in group.values()]))
    results = [
        _result(t, each, dict(zip(group, dimensions, strict=False)))
        for each, group in zip(marked, figures, strict=True)
    ]
    findings += [finding for each in marked for finding in _too_close(each, scales)]
    return results, findings


def place_readings(t: Transom, scales: Scales) -> list[PlaceReading]:
    """Every active meter reading and sounding whose point is marked in a photo in use."""
    job = t.network.job
    records: tuple[MeterReading | Sounding, ...] = (*job.meter_readings, *job.soundings)
    taken = [r for r in records if r.active and r.point in t.developed]
    places = [t.developed[r.point] for r in taken]
    u = scales.standard([c for p in places for c in (p.x, p.y)]).reshape(-1, 2)
    return [
        PlaceReading(
            record.id,
            record.point,
            float(place.x),
            float(place.y),
            2.0 * float(max(both)),
            record.note,
            getattr(record, "meter", None),
            getattr(record, "value", None),
            getattr(record, "sound", None),
        )
        for record, place, both in zip(taken, places, u, strict=True)
    ]


def _all_marked(t: Transom) -> tuple[list[_Marked], list[Finding]]:
    marked: list[_Marked] = []
    findings: list[Finding] = []
    for defect in defects_of(t.network.job).values():
        closed = is_area(t.network, defect.id)
        names = _in_order(t, defect, closed)
        if len(names) < NEEDED[closed]:
            findings.append(_not_placed(defect))
            continue
        each = _Marked(defect, closed, tuple(names), tuple(t.developed[i] for i in names))
        marked.append(each)
        findings += _crossing(each)
    return marked, findings


def _in_order(t: Transom, defect: Defect, closed: bool) -> list[str]:
    """As the job says; else as marked in the photo that shows most of it, the others' points put between."""
    own = [i for i, p in t.infos.items() if p.of == defect.id and p.kind in MARKS_OF_DEFECTS]
    if defect.points:
        return [i for i in defect.points if i in own]
    if not own:
        return []
    count = Counter(m.photo for i in own for m in t.infos[i].marks)
    most = count.most_common(1)[0][0]
    by_mark = {m.id: i for i in own for m in t.infos[i].marks if m.photo == most}
    first = [by_mark[m.id] for m in t.network.job.marks if m.id in by_mark]
    at = {i: np.array([float(t.developed[i].x), float(t.developed[i].y)]) for i in own}
    return with_inserted(first, [i for i in own if i not in first], at, closed)


def _figures(t: Transom, m: _Marked) -> dict[str, Figure]:
    shift = parameter(t.x, t.network.defect_edges[m.defect.id])
    left, right, low, high = extents(m.places)
    both = shift * (2.0 if m.closed else 1.0)
    y = (low + high) * 0.5
    values: dict[str, Number | None] = {
        "size": _size(m, shift),
        "perimeter": outline_length(m.places) + shift * 2.0 * math.pi if m.closed else None,
        "x": (left + right) * 0.5,
        "y": y,
        "below_reference": t.reference_height - y if t.reference_height is not None else None,
        "width": right - left + both,
        "height": high - low + both,
    }
    labels = {
        "size": "area" if m.closed else "length along its marks",
        "perimeter": "length round it",
        "x": "middle from the centreline" + t.is_bowed * " along the surface",
        "y": "middle up from the keel point",
        "below_reference": "middle below the reference line",
        "width": "extent across",
        "height": "extent up and down",
    }
    quantity = {"size": Quantity.AREA} if m.closed else {}
    return {
        key: Figure(
            f"defect_{m.defect.id}_{key}",
            f"{m.called}, {labels[key]}",
            "Condition",
            quantity.get(key, Quantity.LENGTH),
            value,
            m.names,
            f"{len(m.names)} marks" if key == "size" else "",
        )
        for key, value in values.items()
        if value is not None
    }


def _size(m: _Marked, shift: Number) -> Number:
    """Area, which a shift of the whole edge changes by the length round it, or length, which its ends change."""
    if not m.closed:
        return polyline_length(m.places) + shift
    return outline_area(m.places) + shift * float(outline_length(m.places))


def _result(t: Transom, m: _Marked, d: dict[str, Dimension]) -> DefectResult:
    return DefectResult(
        id=m.defect.id,
        name=m.defect.name,
        kind=str(m.defect.kind),
        priority=str(m.defect.priority),
        note=m.defect.note,
        closed=m.closed,
        place=tuple((float(p.x), float(p.y)) for p in m.places),
        photos=tuple(dict.fromkeys(mark.photo for i in m.names for mark in t.infos[i].marks)),
        close_ups=m.defect.close_ups,
        size=d["size"],
        perimeter=d.get("perimeter"),
        x=d["x"],
        y=d["y"],
        below_reference=d.get("below_reference"),
        width=d["width"],
        height=d["height"],
    )


def _not_placed(defect: Defect) -> Finding:
    text = (
        f"{defect.name or defect.id} is listed but not measured: mark a crack at both ends and at each bend, an area "
        "all round with three marks or more."
    )
    return Finding("not_marked", Severity.WARNING, defect.id, text)


def _crossing(m: _Marked) -> Iterator[Finding]:
    corners = np.array([(float(p.x), float(p.y)) for p in m.places])
    if m.closed and crosses_itself(corners):
        text = (
            f"The outline of {m.called} crosses itself, so its area means nothing: mark it in order all round, or give "
            "the order of its points."
        )
        yield Finding("outline_crosses", Severity.SERIOUS, m.defect.id, text)


def _too_close(m: _Marked, scales: Scales) -> Iterator[Finding]:
    """Marks so close together that their scatter zigzags: it lengthens each leg by its variance over twice the leg."""
    if m.closed:
        return
    legs = sideways(m.places)
    u = scales.standard([number for number, _ in legs])
    added = float(np.sum(u**2 / (2.0 * np.array([length for _, length in legs]))))
    end = math.sqrt(2.0) * m.defect.u_edge_mm
    if added > max(end, 0.5):
        text = (
            f"The marks of {m.called} stand so close together that their scatter alone lengthens it by about "
            f"{added:.0f} mm: leave out every second one."
        )
        yield Finding("marks_too_close", Severity.WARNING, m.defect.id, text)
