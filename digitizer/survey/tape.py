"""
Tape against photo: figures that were kept out of the adjustment, compared by their normalised error.

En = (photo − tape) / √(U² + U²); the two agree when |En| ≤ 1 (form of ISO 13528, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from digitizer.adjustment.propagation import Number, atan
from digitizer.job.model import DeadriseReading, Job, Path, Role
from digitizer.survey.diagnosis import Diagnosis, diagnosis
from digitizer.survey.dimensions import Figure, Transom, bottom_at
from digitizer.survey.model import Quantity, TapeCheck
from digitizer.survey.tape_groups import figure_reading, tape_groups
from digitizer.survey.uncertainty import Scales
from digitizer.transom.deadrise import tape_deadrise, tape_deadrise_u
from digitizer.transom.system import distance, girth


def tape_checks(t: Transom, scales: Scales, known: Mapping[str, Number]) -> list[TapeCheck]:
    """
    Comparison of every tape figure that is kept out and whose places are marked.

    `known` holds the photo's figures by code, mm and rad: what the figures of the tape form are compared with.
    """
    return [
        *_lengths(t, scales),
        *(c for r in t.network.job.deadrise_readings if r.active for c in _deadrise(t, scales, r)),
        *_form_figures(t.network.job, scales, known),
    ]


def diagnoses(t: Transom, scales: Scales, known: Mapping[str, Number]) -> list[Diagnosis]:
    """What may have gone wrong with the tape, for every group of its figures of which something is to be said."""
    groups = tape_groups(t, t.network.job, known)
    found = (diagnosis(group.readings, group.hypotheses, scales.covariance) for group in groups)
    return [each for each in found if each is not None]


def _form_figures(job: Job, scales: Scales, known: Mapping[str, Number]) -> Iterator[TapeCheck]:
    for figure in job.tape_figures:
        if figure.active and figure.measure in known:
            r = figure_reading(figure, job, known[figure.measure])
            yield _check(scales, r.subject, f"{r.label} by tape", r.photo, r.tape, r.u, r.quantity)


def normalised_error(photo: float, U_photo: float, tape: float, U_tape: float) -> float:
    """
    En of two values with expanded uncertainties.

    >>> normalised_error(10.0, 3.0, 5.0, 4.0)
    1.0
    """
    return (photo - tape) / math.hypot(U_photo, U_tape)


def _check(
    scales: Scales, identity: str, label: str, value: Number, tape: float, u_tape: float, q: Quantity
) -> TapeCheck:
    d = scales.dimensions([Figure(identity, label, "Checks", q, value, ())])[0]
    unit = math.degrees(1.0) if q is Quantity.ANGLE else 1.0
    tape, U_tape = tape * unit, 2.0 * u_tape * unit
    en = normalised_error(d.value, d.U, tape, U_tape)
    return TapeCheck(identity, label, tape, U_tape, d.value, d.U, q, en, abs(en) <= 1.0)


def _lengths(t: Transom, scales: Scales) -> list[TapeCheck]:
    tools = {i.id: i for i in t.network.job.instruments}
    out = []
    for length in t.network.job.lengths:
        ends = (length.from_point, length.to_point)
        if not length.active or length.role is not Role.CHECK or not all(p in t.places for p in ends):
            continue
        tool = tools.get(length.instrument or "")
        common = math.hypot(tool.u_scale * length.length_mm, tool.u_zero_mm) if tool else 0.0
        u = math.hypot(length.u_mm, common)
        along = length.path is Path.GIRTH
        value = girth(*(t.developed[e] for e in ends)) if along else distance(*t.at(ends))
        out.append(_check(scales, length.id, length.note or length.id, value, length.length_mm, u, Quantity.LENGTH))
    return out


def _deadrise(t: Transom, scales: Scales, r: DeadriseReading) -> list[TapeCheck]:
    """A, B and the deadrise they give."""
    if t.reference_height is None:
        return []
    sign = 1.0 if r.side == "starboard" else -1.0
    bottom = bottom_at(t, r.side, sign * r.offset_mm)
    if bottom is None:
        return []
    a, b = t.reference_height, t.reference_height - bottom[0]
    angle = atan((a - b) / r.offset_mm)
    tape = tape_deadrise(r.a_mm, r.b_mm, r.offset_mm)
    u_angle = tape_deadrise_u(r.a_mm, r.b_mm, r.offset_mm, r.u_mm)
    return [
        _check(scales, f"{r.id}: A", "A by tape", a, r.a_mm, r.u_mm, Quantity.LENGTH),
        _check(scales, f"{r.id}: B", f"B {r.side} by tape", b, r.b_mm, r.u_mm, Quantity.LENGTH),
        _check(scales, f"{r.id}: deadrise", f"deadrise {r.side} from A and B", angle, tape, u_angle, Quantity.ANGLE),
    ]
