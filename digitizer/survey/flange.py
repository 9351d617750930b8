"""
The planned flange on the measured transom: job and adjusted points in, the fit with its uncertainties out.

Distances carry the adjustment's covariance to first order; how well the flange can be put where it is planned comes on
top. A distance that lies between two nearest features alike takes its U from one of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import Number, atan
from digitizer.geometry.polygons import order_round_centroid
from digitizer.job.model import Flange, FlangeBottom, MarkKind
from digitizer.survey.dimensions import SIDES, Figure, Transom
from digitizer.survey.fittings import MeasuredFitting, measured_fittings
from digitizer.survey.flange_judgement import judged, outcome, pad_place
from digitizer.survey.flange_suggestions import Suggestions, suggestions
from digitizer.survey.hull_edges import HullEdges
from digitizer.survey.model import (
    Contribution,
    Dimension,
    FlangeCrossing,
    FlangeFit,
    FlangeFitting,
    FlangePad,
    FlangeStation,
    Quantity,
)
from digitizer.transom.flange import (
    Edge,
    FlangeForm,
    bolt_places,
    distance_to_edge,
    flange_clearance,
    is_wholly_under,
    nearest_to_edge,
    stations,
)
from digitizer.transom.surface import sagitta
from digitizer.transom.system import Place

GROUP = "Flange"
PLACING = "where the flange is put"
SIDE_NAMES = {-1.0: "port side", -0.5: "port quarter", 0.0: "middle", 0.5: "starboard quarter", 1.0: "starboard side"}


@dataclass(frozen=True)
class Laid:
    """A planned flange laid on a transom."""

    transom: Transom
    flange: Flange
    edges: HullEdges
    form: FlangeForm

    @cached_property
    def fittings(self) -> list[MeasuredFitting]:
        """The fittings that are placed."""
        return measured_fittings(self.transom)

    @cached_property
    def pads(self) -> dict[str, tuple[Edge, ...]]:
        """Outline of each pad that has three marks or more."""
        return {p.id: ring for p in self.transom.network.job.pads if p.active and (ring := self._pad(p.id))}

    def _pad(self, pad: str) -> tuple[Edge, ...]:
        t = self.transom
        marks = [t.developed[i] for i, p in t.infos.items() if p.kind is MarkKind.PAD and p.of == pad]
        if len(marks) < 3:
            return ()
        ring = [marks[i] for i in order_round_centroid(np.array([(float(p.x), float(p.y)) for p in marks]))]
        return tuple(zip(ring, [*ring[1:], ring[0]], strict=True))

    @cached_property
    def figures(self) -> dict[str, Figure]:
        """Everything about the fit that has an uncertainty, by code."""
        found = [*self._clearances(), *self._gaps(), *self._differences(), *self._distances(), *self._crossings()]
        return {figure.code: figure for figure in found}

    def _clearances(self) -> Iterator[Figure]:
        for m in self.fittings:
            name = m.fitting.name or m.fitting.id
            value = flange_clearance(self.form, m.rim)
            yield _length(f"flange_clear_{m.fitting.id}", f"{name}, clear of the flange", value, m.made_from)

    def _gaps(self) -> Iterator[Figure]:
        for number, (x, name) in enumerate(zip(stations(self.form), SIDE_NAMES.values(), strict=True), 1):
            height = self.edges.bottom_height(x)
            if height is not None:
                yield _length(f"flange_gap_{number}", f"Gap under the flange, {name}", self.form.lower_edge(x) - height)

    def _differences(self) -> Iterator[Figure]:
        """Hull's deadrise over the flange's width, minus the flange's."""
        for side, sign in zip(SIDES, (-1.0, 1.0), strict=True):
            inner, outer = self.form.middle, self.form.middle + sign * self.form.half
            low, high = self.edges.bottom_height(inner), self.edges.bottom_height(outer)
            if low is not None and high is not None:
                value = atan((high - low) / self.form.half) - math.atan(self.form.rise)
                code, label = f"flange_deadrise_{side}", f"Deadrise of the hull minus the flange's, {side}"
                yield Figure(code, label, GROUP, Quantity.ANGLE, value, (), "over the width of the flange")

    def _distances(self) -> Iterator[Figure]:
        if self.edges.bottom:
            value = distance_to_edge(self.form, self.edges.bottom)
            yield _length("flange_to_bottom", "Flange to the bottom edge", value)
        if self.edges.others:
            value = distance_to_edge(self.form, self.edges.others)
            yield _length("flange_to_outline", "Flange to the outline above the bottom", value)
        for pad, ring in self.pads.items():
            yield _length(f"flange_pad_{pad}", f"Flange to the edge of {pad}", distance_to_edge(self.form, ring))
        if self.transom.network.surface is not None:
            curvature = parameter(self.transom.x, int(self.transom.network.surface.columns[0]))
            value = sagitta(curvature, self.form.width)
            yield _length("flange_stand_off", "Flat flange off the face at its sides", value)

    def _crossings(self) -> Iterator[Figure]:
        """How far strakes and chine flats reach in under the flange's width."""
        t = self.transom
        strakes = [i for i, p in t.infos.items() if p.kind is MarkKind.STRAKE]
        for name in dict.fromkeys(t.infos[i].of or i for i in strakes):
            marks = [i for i in strakes if (t.infos[i].of or i) == name]
            yield self._reach_in(f"strake {name}", f"flange_strake_{name}", marks)
        for side in SIDES:
            inner = t.one(MarkKind.CHINE_INNER, side)
            if inner is not None:
                yield self._reach_in(f"chine flat {side}", f"flange_chine_flat_{side}", [inner])

    def _reach_in(self, name: str, code: str, marks: list[str]) -> Figure:
        aside = [_apart(self.transom.developed[i], self.form.middle) for i in marks]
        return _length(code, name, self.form.half - min(aside, key=float), tuple(marks))


def _apart(p: Place, middle: float) -> Number:
    return p.x - middle if float(p.x) > middle else middle - p.x


def _length(code: str, label: str, value: Number, made_from: tuple[str, ...] = ()) -> Figure:
    return Figure(code, label, GROUP, Quantity.LENGTH, value, made_from)


def laid(t: Transom) -> Laid | None:
    """
    The job's flange on the transom.

    None where none is planned, where nothing tells where the bottom is under it, or where its V and corners leave it
    no sides.
    """
    flange = t.network.job.flange
    if flange is None:
        return None
    edges = HullEdges(t)
    form = flange_form(flange, edges)
    return Laid(t, flange, edges, form) if form is not None and form.has_room else None


def flange_form(flange: Flange, edges: HullEdges) -> FlangeForm | None:
    """
    The flange as it is planned, its place worked out from the measured bottom edge.

    None where neither the job nor the marks tell how high it sits, or how steep its lower edge is.
    """
    rise = _rise(flange, edges)
    if rise is None:
        return None
    half = flange.width_mm / 2.0
    level = FlangeForm(
        flange.across_mm, half, 0.0, rise, flange.height_mm, flange.top_radius_mm, flange.bottom_radius_mm
    )
    if flange.top_mm is not None:
        return level.moved(0.0, flange.top_mm - flange.height_mm)
    places = [*stations(level), *([0.0] if abs(flange.across_mm) < half else [])]
    heights = [(x, edges.bottom_height(x)) for x in places]
    needed = [float(height) - level.lower_edge(x) for x, height in heights if height is not None]
    return level.moved(0.0, max(needed) + flange.gap_mm) if needed else None


def _rise(flange: Flange, edges: HullEdges) -> float | None:
    """Tangent of the deadrise of the lower edge: as planned, or the mean of the hull's two sides under the flange."""
    if flange.bottom is FlangeBottom.FLAT:
        return 0.0
    if flange.deadrise_deg is not None:
        return math.tan(math.radians(flange.deadrise_deg))
    middle = edges.bottom_height(0.0)
    rises = (
        []
        if middle is None
        else [r for sign in (-1.0, 1.0) if (r := _rise_to(sign, middle, flange, edges)) is not None]
    )
    return max(0.0, sum(rises) / len(rises)) if rises else None


def _rise_to(sign: float, middle: Number, flange: Flange, edges: HullEdges) -> float | None:
    """Of the bottom on one side, under the flange as far out as the bottom is marked."""
    for share in (1.0, 0.75, 0.5, 0.25):
        out = share * flange.width_mm / 2.0
        height = edges.bottom_height(sign * out)
        if height is not None:
            return (float(height) - float(middle)) / out
    return None


def flange_figures(t: Transom) -> list[Figure]:
    """Everything about the fit of the planned flange that has an uncertainty."""
    found = laid(t)
    return list(found.figures.values()) if found is not None else []


def placed(d: Dimension, u_place: float) -> Dimension:
    """A distance from the flange, the uncertainty of where it is put added; angles don't depend on that."""
    if d.quantity is not Quantity.LENGTH or u_place == 0.0 or d.code == "flange_stand_off":
        return d
    u = math.hypot(d.u, u_place)
    lines = [replace(c, share=c.share * (d.u / u) ** 2) for c in d.budget]
    budget = sorted([*lines, Contribution(PLACING, u_place, (u_place / u) ** 2)], key=lambda c: -c.share)
    return replace(d, u=u, lower=d.value - 2.0 * u, upper=d.value + 2.0 * u, budget=tuple(budget))


def flange_fit(found: Laid, dimensions: Mapping[str, Dimension]) -> FlangeFit:
    """
    The fit as a record.

    Parameters
    ----------
    found
        The flange laid on the transom.
    dimensions
        By code: what became of `found.figures`.
    """
    flange, form = found.flange, found.form
    d = {code: placed(each, flange.u_place_mm) for code, each in dimensions.items()}
    fittings = tuple(_fitting(found, m, d[f"flange_clear_{m.fitting.id}"]) for m in found.fittings)
    better = suggestions(found.form, found.edges, flange, found.fittings, found.pads, d)
    pattern = flange.bolts
    bolts = bolt_places(form, pattern.rows, pattern.spacing_mm, pattern.edge_mm) if pattern else []
    return FlangeFit(
        width_mm=flange.width_mm,
        height_mm=flange.height_mm,
        top_mm=form.top,
        deadrise_deg=math.degrees(math.atan(form.rise)),
        margin_mm=flange.margin_mm,
        outline=tuple(form.outline()),
        margin_line=tuple(form.margin_line(flange.margin_mm)),
        bolts=tuple(bolts),
        bolt_hole_mm=pattern.hole_mm if pattern else 0.0,
        fittings=fittings,
        stations=tuple(
            FlangeStation(x, d[code])
            for number, x in enumerate(stations(form), 1)
            if (code := f"flange_gap_{number}") in d
        ),
        deadrise_differences=tuple(d[code] for side in SIDES if (code := f"flange_deadrise_{side}") in d),
        pads=tuple(_pad(found, pad, d[f"flange_pad_{pad}"]) for pad in found.pads),
        crossings=tuple(
            FlangeCrossing(each.label, each, abs(each.value) >= each.U)
            for code, each in d.items()
            if code.startswith(("flange_strake_", "flange_chine_flat_"))
        ),
        to_bottom=d.get("flange_to_bottom"),
        to_outline=d.get("flange_to_outline"),
        stand_off=d.get("flange_stand_off"),
        **vars(better),
        remarks=(*_form_remarks(found, bolts), *_suggestion_remarks(found, better)),
    )


def _fitting(found: Laid, m: MeasuredFitting, clearance: Dimension) -> FlangeFitting:
    verdict, between = judged(clearance.value, clearance.U, found.flange.margin_mm)
    f = m.fitting
    wholly = is_wholly_under(found.form, m.rim)
    return FlangeFitting(
        f.id, f.name or f.id, clearance, verdict, between, wholly, str(f.plan), str(outcome(verdict, between, f))
    )


def _pad(found: Laid, pad: str, distance: Dimension) -> FlangePad:
    ring = [(float(a.x), float(a.y)) for a, _ in found.pads[pad]]
    return FlangePad(pad, pad_place(found.form, ring, distance.value, distance.U), distance)


def _form_remarks(found: Laid, bolts: list[tuple[float, float]]) -> Iterator[str]:
    """What is to be said of the flange's own drawing."""
    form, pattern = found.form, found.flange.bolts
    if pattern is not None and not bolts:
        yield "The bolt pattern has no room on the flange."
    if pattern is not None and bolts:
        near = nearest_to_edge(form, bolts)
        if near < pattern.edge_mm - 0.05:
            yield (
                f"A bolt hole comes as near as {near:.0f} mm to the flange's edge, less than the "
                f"{pattern.edge_mm:g} mm asked for: a corner's radius, or too many rows for its height."
            )


def _suggestion_remarks(found: Laid, better: Suggestions) -> Iterator[str]:
    if found.edges.face is None:
        yield (
            "No larger flange and no shift is suggested, because the outline is not marked all round: mark the top "
            "corners and the sides."
        )
    elif better.largest is None:
        yield "No symmetrical flange on this lower edge is clear of everything."
