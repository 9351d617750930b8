"""The tape figures of a job in groups that belong together, each with the mistakes that are usual with it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from digitizer.adjustment.propagation import Number
from digitizer.job.model import DeadriseReading, Job, KnownLength, MarkKind, Path, Role, Side, TapeFigure
from digitizer.job.plan_validation import is_angle
from digitizer.survey.diagnosis import FREE, Hypothesis, Mistake, Reading, in_inches, of_one
from digitizer.survey.dimensions import Transom, bottom_at
from digitizer.survey.model import Quantity
from digitizer.transom.edges import fitted_polynomial, polynomial_at
from digitizer.transom.system import distance, girth
from digitizer.units import MM_PER_INCH, format_length, parse_angle, parse_length

USUAL_OFFSETS_MM = (*(MM_PER_INCH * n for n in (12, 15, 16, 18, 20, 24, 30)), 300.0, 400.0, 500.0, 600.0)
"""Where B is taken out from the centreline (common practice)."""
WIDTHS = ("chine_beam", "chine_beam_inner", "top_width", "transom_beam")
USUAL_TOLERANCE = {True: math.radians(0.5), False: 3.0}
"""U of a figure without a stated one, by whether it is an angle."""


@dataclass(frozen=True)
class Group:
    """Readings that are judged together, and what may have gone wrong with them."""

    readings: tuple[Reading, ...]
    hypotheses: tuple[Hypothesis, ...]


def tape_groups(t: Transom, job: Job, known: Mapping[str, Number]) -> list[Group]:
    """
    Every tape figure that is kept out of the adjustment.

    Parameters
    ----------
    t, job
        The measured transom and the job with the figures.
    known
        The photo's figures by code, mm and rad.
    """
    deadrise = _deadrise(t, job)
    return [*([deadrise] if deadrise is not None else []), *_lengths(t, job), *_figures(job, known)]


# --- A and B --------------------------------------------------------------------------------------------------------


def _deadrise(t: Transom, job: Job) -> Group | None:
    usable = [r for r in job.deadrise_readings if r.active and _b(t, r, r.offset_mm) is not None]
    if t.reference_height is None or not usable:
        return None
    table = _Table(t, t.reference_height, usable, str(job.settings.unit))
    return Group(table.readings(table.photo), tuple(table.hypotheses()))


def _b(t: Transom, r: DeadriseReading, offset: float) -> Number | None:
    """Photo's height of the reference line above the bottom at an offset."""
    bottom = bottom_at(t, r.side, offset if r.side is Side.STARBOARD else -offset)
    return None if bottom is None or t.reference_height is None else t.reference_height - bottom[0]


@dataclass(frozen=True)
class _Table:
    """A and B of all readings; an A that stands in several readings was taken once."""

    t: Transom
    a: Number
    records: Sequence[DeadriseReading]
    unit: str

    @property
    def photo(self) -> list[tuple[Number, Number]]:
        """A and B of each reading as the photo has them."""
        return [(self.a, self._at(r, r.offset_mm)) for r in self.records]

    def _at(self, r: DeadriseReading, offset: float) -> Number:
        b = _b(self.t, r, offset)
        assert b is not None
        return b

    def readings(self, expected: Sequence[tuple[Number, Number]]) -> tuple[Reading, ...]:
        """As a list, each A once."""
        out, seen = [], set()
        for r, (a, b) in zip(self.records, expected, strict=True):
            if r.a_mm not in seen:
                seen.add(r.a_mm)
                out.append(Reading(r.id, "A", r.a_mm, r.u_mm, a, inches=in_inches(r.a_mm, self.unit)))
            out.append(Reading(r.id, f"B {r.side}", r.b_mm, r.u_mm, b, inches=in_inches(r.b_mm, self.unit)))
        return tuple(out)

    def _expected(self, pairs: Sequence[tuple[Number, Number]]) -> tuple[Number, ...]:
        return tuple(r.photo for r in self.readings(pairs))

    def hypotheses(self) -> Iterator[Hypothesis]:
        """All that may have gone wrong with A and B."""
        photo = self.photo
        yield Hypothesis(Mistake.SWAPPED, "A and B were exchanged", self._expected([(b, a) for a, b in photo]))
        yield from self._swapped_once(photo)
        yield from self._offsets(photo)
        yield from self._crown(photo)
        hooked = [(a + MM_PER_INCH, b + MM_PER_INCH) for a, b in photo]
        text = "A and B are one inch too long, as when the tape is held at its 1 in mark"
        yield Hypothesis(Mistake.ONE_INCH, text, self._expected(hooked))
        yield from of_one(self.readings(photo))
        yield self._other_line(photo)

    def _swapped_once(self, photo: Sequence[tuple[Number, Number]]) -> Iterator[Hypothesis]:
        if len(self.records) > 1:
            for i, r in enumerate(self.records):
                pairs = [(b, a) if k == i else (a, b) for k, (a, b) in enumerate(photo)]
                yield Hypothesis(Mistake.SWAPPED, f"A and B {r.side} were exchanged", self._expected(pairs), 1.0)

    def _offsets(self, photo: Sequence[tuple[Number, Number]]) -> Iterator[Hypothesis]:
        """B taken farther in or out: on every side alike, or on one; at a usual offset, or at one that fits."""
        usual = 2.0 * math.log(len(USUAL_OFFSETS_MM))
        stated = self.records[0].offset_mm
        fitting = self._fitting_offset()
        several = len(self.records) > 1
        for offset in (*USUAL_OFFSETS_MM, *([fitting] if fitting is not None else [])):
            if abs(offset - stated) < 1.0:
                continue
            penalty = FREE if offset == fitting else usual
            text = f"B was taken {format_length(offset, self.unit)} out instead of {format_length(stated, self.unit)}"
            moved = [_b(self.t, r, offset) for r in self.records]
            pairs = [(a, b) for (a, _), b in zip(photo, moved, strict=True) if b is not None]
            if len(pairs) == len(photo):
                yield Hypothesis(Mistake.OFFSET, text, self._expected(pairs), penalty)
            for i, b in enumerate(moved if several else []):
                if b is not None:
                    one = [(a, b if k == i else kept) for k, (a, kept) in enumerate(photo)]
                    words = f"{text} to {self.records[i].side}"
                    yield Hypothesis(Mistake.OFFSET, words, self._expected(one), penalty + 2.0)

    def _fitting_offset(self) -> float | None:
        """The offset at which the first side's A and B would give the photo's deadrise."""
        r = self.records[0]
        slope = (float(self.a) - float(self._at(r, r.offset_mm))) / r.offset_mm
        offset = (r.a_mm - r.b_mm) / slope if abs(slope) > 1e-3 else 0.0
        return offset if 100.0 < offset < 1500.0 else None

    def _crown(self, photo: Sequence[tuple[Number, Number]]) -> Iterator[Hypothesis]:
        """Heights measured down from the top edge instead of from the line."""
        t = self.t
        top = [i for i, p in t.infos.items() if p.kind in (MarkKind.TOP_EDGE, MarkKind.TOP_CORNER)]
        if len(top) < 3:
            return
        edge = fitted_polynomial(t.at(top), 2)
        pairs = []
        for r, (a, b) in zip(self.records, photo, strict=True):
            x = r.offset_mm if r.side is Side.STARBOARD else -r.offset_mm
            pairs.append((a - self.a + edge[0], b - self.a + polynomial_at(edge, x)))
        text = "A and B were measured from the crowned top edge instead of a straight line"
        yield Hypothesis(Mistake.CROWN, text, self._expected(pairs))

    def _other_line(self, photo: Sequence[tuple[Number, Number]]) -> Hypothesis:
        """A and B both off by the same: only their difference counts, so nothing is lost."""
        plain = self.readings(photo)
        shift = sum(r.tape - float(r.photo) for r in plain) / len(plain)
        text = (
            f"A and B were measured from another line, {format_length(abs(shift), self.unit)} "
            f"{'higher' if shift > 0.0 else 'lower'}: their difference, and so the deadrise, is the same"
        )
        return Hypothesis(Mistake.OTHER_LINE, text, tuple(r.photo + shift for r in plain), FREE)


# --- lengths and single figures -------------------------------------------------------------------------------------


def _lengths(t: Transom, job: Job) -> Iterator[Group]:
    tools = {i.id: i for i in job.instruments}
    for k in job.lengths:
        ends = (k.from_point, k.to_point)
        if not k.active or k.role is not Role.CHECK or not all(p in t.places for p in ends):
            continue
        tool = tools.get(k.instrument or "")
        common = math.hypot(tool.u_scale * k.length_mm, tool.u_zero_mm) if tool else 0.0
        straight, along = distance(*t.at(ends)), girth(t.developed[ends[0]], t.developed[ends[1]])
        photo, other = (along, straight) if k.path is Path.GIRTH else (straight, along)
        unit = in_inches(k.length_mm, str(job.settings.unit))
        reading = Reading(k.id, k.note or k.id, k.length_mm, math.hypot(k.u_mm, common), photo, inches=unit)
        yield Group((reading,), tuple(_of_width(reading, other if t.is_bowed else None, _runs_across(t, k))))


def _runs_across(t: Transom, k: KnownLength) -> bool:
    a, b = (float(t.places[p].x) for p in (k.from_point, k.to_point))
    return a * b < 0.0 and abs(a + b) < 0.1 * abs(a - b)


def _of_width(r: Reading, otherwise: Number | None, across: bool) -> Iterator[Hypothesis]:
    """Mistakes with a length: along the surface or straight, half for whole, and slips of the eye."""
    if otherwise is not None:
        text = f"{r.label}: the tape followed the bowed face (girth), or went straight where girth is meant"
        yield Hypothesis(Mistake.GIRTH, text, (otherwise,))
    if across:
        yield Hypothesis(Mistake.HALF_BEAM, f"{r.label}: half the width was written down", (r.photo * 0.5,))
        yield Hypothesis(Mistake.HALF_BEAM, f"{r.label}: twice the width was written down", (r.photo * 2.0,), 1.0)
    yield from of_one((r,))


def _figures(job: Job, known: Mapping[str, Number]) -> Iterator[Group]:
    for figure in job.tape_figures:
        if figure.active and figure.measure in known:
            r = figure_reading(figure, job, known[figure.measure])
            yield Group((r,), tuple(_of_figure(r, figure.measure, known)))


def figure_reading(figure: TapeFigure, job: Job, photo: Number) -> Reading:
    """A figure of the tape form beside the photo's."""
    unit, angle = str(job.settings.unit), is_angle(figure.measure)
    bare = "mm" if unit == "mm" else "in"

    def read(text: str) -> float:
        return math.radians(parse_angle(text)) if angle else parse_length(text, bare)

    U = read(figure.tolerance) if figure.tolerance else USUAL_TOLERANCE[angle]
    tape = read(figure.reading)
    inches = not angle and in_inches(tape, "mm") and not any(u in figure.reading for u in ("mm", "cm"))
    label = figure.note or figure.measure.replace("_", " ")
    return Reading(figure.id, label, tape, U / 2.0, photo, Quantity.ANGLE if angle else Quantity.LENGTH, inches)


def _of_figure(r: Reading, measure: str, known: Mapping[str, Number]) -> Iterator[Hypothesis]:
    if r.quantity is Quantity.LENGTH:
        yield from _of_width(r, known.get(f"{measure}_girth"), measure in WIDTHS)
        return
    if "deadrise" in measure and "rake" in known:
        text = f"{r.label}: the transom angle was taken for the deadrise"
        yield Hypothesis(Mistake.RAKE, text, (known["rake"],))
    if measure == "rake":
        for code in ("deadrise_chord_port", "deadrise_chord_starboard"):
            if code in known:
                text = f"{r.label}: the deadrise was taken for the transom angle"
                yield Hypothesis(Mistake.RAKE, text, (known[code],))
