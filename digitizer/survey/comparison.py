"""
Two surveys of one transom, such as before and after a repair, or the owner's and the shop's.

By their datums (keel point and reference line of each), and, where three fittings are common, by the best fit of those
too: a string stretched a little differently turns every position, and only the fit tells that from a change.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from digitizer.job.model import Job
from digitizer.survey.best_fit import FIT_NEEDS, Fit, best_fit
from digitizer.survey.model import DefectResult, Dimension, FittingResult, Quantity, Survey

NEAR_MM = 80.0
"""Fittings of one kind that lie this near each other are taken for one, where their names do not tell."""
SAME_NAME_MM = 300.0
"""Fittings of one name and kind that lie further apart than this are taken for two."""
BY_CHANCE = 0.0455
"""Part of unchanged figures that differ by more than U with coverage factor 2 (normal distribution)."""
OF_THE_LINE = ("a_centre", "b_port", "b_starboard", "chine_line_slope", "reference_straightness", "bow_radius")
"""Dimensions that depend on where the line was stretched, or say nothing by themselves."""


@dataclass(frozen=True)
class Difference:
    """One figure in both surveys; mm, mm² or degrees."""

    code: str
    label: str
    quantity: Quantity
    first: float
    U_first: float
    second: float
    U_second: float
    difference: float
    """Second − first."""
    U: float

    @property
    def en(self) -> float:
        """Difference over its U: beyond ±1 it is more than the two surveys' uncertainties explain."""
        return self.difference / self.U if self.U > 0.0 else math.copysign(math.inf, self.difference)

    @property
    def changed(self) -> bool:
        """Whether the figure changed significantly."""
        return abs(self.en) > 1.0


@dataclass(frozen=True)
class Moved:
    """A fitting in both surveys."""

    first: FittingResult
    second: FittingResult
    by_datums: tuple[Difference, ...]
    by_fit: tuple[Difference, ...]
    """Empty where nothing could be fitted."""


@dataclass(frozen=True)
class Comparison:
    """What is different between two surveys, and how sure that is."""

    dimensions: tuple[Difference, ...]
    fittings: tuple[Moved, ...]
    defects: tuple[Difference, ...]
    fit: Fit | None
    set_aside: tuple[str, ...]
    """Names of fittings that the fit had to leave out because they moved."""
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def every(self) -> tuple[Difference, ...]:
        """All differences that count: fittings by the fit where there is one, else by the datums."""
        placed = (d for m in self.fittings for d in (m.by_fit or m.by_datums))
        return (*self.dimensions, *placed, *self.defects)

    @property
    def changed(self) -> tuple[Difference, ...]:
        """Those that changed significantly, the clearest first."""
        return tuple(sorted((d for d in self.every if d.changed), key=lambda d: -abs(d.en)))

    @property
    def by_chance(self) -> float:
        """How many would seem changed although nothing is."""
        return BY_CHANCE * len(self.every)


def compared(first: Survey, second: Survey, first_job: Job, second_job: Job) -> Comparison:
    """
    The second survey against the first.

    U of a difference is the root of the sum of both U²: the surveys are taken as independent. What they share (a print,
    a tape) is in both and cancels from the difference, so U is then rather too large; a note says so.
    """
    pairs = _pairs(first.fittings, second.fittings)
    fit = _fit(first, second, pairs)
    moved = tuple(_moved(pair, place, fit) for place, pair in enumerate(pairs))
    aside = tuple(_name(pairs[i][0]) for i in fit.set_aside) if fit is not None else ()
    plain = _dimensions(first, second)
    turn = fit if fit is not None and fit.turned else None
    dimensions = tuple(plain if turn is None else (_freed(d, first, turn) for d in plain))
    defects = tuple(_defects(first.defects, second.defects))
    return Comparison(
        dimensions,
        moved,
        defects,
        fit,
        aside,
        tuple(_only(first, second, [a for a, _ in pairs])),
        tuple(_only(second, first, [b for _, b in pairs])),
        tuple(_notes(first_job, second_job, fit, len(pairs))),
    )


def difference(a: Dimension, b: Dimension) -> Difference:
    """Two measurements of one figure."""
    U = math.hypot(a.U, b.U)
    return Difference(a.code, a.label, a.quantity, a.value, a.U, b.value, b.U, b.value - a.value, U)


def _dimensions(first: Survey, second: Survey) -> Iterator[Difference]:
    theirs = {d.code: d for d in second.dimensions}
    for d in first.dimensions:
        if d.code in theirs and d.code not in OF_THE_LINE:
            yield difference(d, theirs[d.code])


def _freed(d: Difference, first: Survey, fit: Fit) -> Difference:
    """The difference without what the turn between the two reference lines does to it."""
    if d.code.startswith(("deadrise_", "section_deadrise_")) and d.code.endswith(("port", "starboard")):
        sign = 1.0 if d.code.endswith("starboard") else -1.0
        return _less(d, sign * fit.turn_deg, fit.U_turn_deg)
    if d.code.startswith("height_") and d.code.endswith(("port", "starboard")):
        made_from = next(each.made_from for each in first.dimensions if each.code == d.code)
        x = next((p.x for p in first.points if p.id in made_from), 0.0)
        return _less(d, math.radians(fit.turn_deg) * x, math.radians(fit.U_turn_deg) * abs(x))
    return d


def _less(d: Difference, by: float, U: float) -> Difference:
    return replace(d, difference=d.difference - by, U=math.hypot(d.U, U))


def _defects(first: Sequence[DefectResult], second: Sequence[DefectResult]) -> Iterator[Difference]:
    theirs = {d.id: d for d in second}
    for d in first:
        if d.id in theirs and d.closed == theirs[d.id].closed:
            yield difference(d.size, theirs[d.id].size)


def _pairs(
    first: Sequence[FittingResult], second: Sequence[FittingResult]
) -> list[tuple[FittingResult, FittingResult]]:
    """Fittings that are one and the same: by name and kind, else the nearest of its kind, each the other's nearest."""
    by_name = {b.id: b for b in second}
    pairs = {a.id: by_name[a.id] for a in first if a.id in by_name and _alike(a, by_name[a.id], SAME_NAME_MM)}
    left = [a for a in first if a.id not in pairs]
    right = [b for b in second if b.id not in {each.id for each in pairs.values()}]
    for a in left:
        near = min((b for b in right if _alike(a, b, NEAR_MM)), key=lambda b: _apart(a, b), default=None)
        if near is not None and min((c for c in left if _alike(c, near, NEAR_MM)), key=lambda c: _apart(c, near)) is a:
            pairs[a.id] = near
    return [(a, pairs[a.id]) for a in first if a.id in pairs]


def _apart(a: FittingResult, b: FittingResult) -> float:
    return math.hypot(b.x.value - a.x.value, b.y.value - a.y.value)


def _alike(a: FittingResult, b: FittingResult, near: float) -> bool:
    return a.kind == b.kind and _apart(a, b) <= near


def _fit(first: Survey, second: Survey, pairs: Sequence[tuple[FittingResult, FittingResult]]) -> Fit | None:
    if len(pairs) < FIT_NEEDS:
        return None
    ours = [first.fittings.index(a) for a, _ in pairs]
    theirs = [second.fittings.index(b) for _, b in pairs]
    return best_fit([a for a, _ in pairs], [b for _, b in pairs], first, second, ours, theirs)


def _moved(pair: tuple[FittingResult, FittingResult], place: int, fit: Fit | None) -> Moved:
    a, b = pair
    both = [(getattr(a, part), getattr(b, part)) for part in ("x", "y", "diameter", "width", "height")]
    by_datums = [difference(one, other) for one, other in both if one is not None and other is not None]
    if fit is None:
        return Moved(a, b, tuple(by_datums), ())
    steps = zip(by_datums[:2], fit.steps[place].tolist(), fit.U[place].tolist(), strict=True)
    placed = [
        Difference(d.code, d.label, d.quantity, d.first, d.U_first, d.first + step, d.U_second, step, U)
        for d, step, U in steps
    ]
    return Moved(a, b, tuple(by_datums), (*placed, *by_datums[2:]))


def _name(fitting: FittingResult) -> str:
    return fitting.name or fitting.id


def _only(these: Survey, those: Survey, paired: Sequence[FittingResult]) -> Iterator[str]:
    """What one survey holds and the other does not."""
    known, damage = {d.code for d in those.dimensions}, {d.id for d in those.defects}
    yield from (d.label for d in these.dimensions if d.code not in known and d.code not in OF_THE_LINE)
    yield from (_name(f) for f in these.fittings if f not in paired)
    yield from (d.name or d.id for d in these.defects if d.id not in damage)


def _notes(first: Job, second: Job, fit: Fit | None, common: int) -> Iterator[str]:
    yield (
        "Not compared: A, B and heights below the reference line, because they follow where the line was stretched; "
        "deadrise and heights above the keel point hold what they say of the hull."
    )
    if fit is None:
        yield (
            f"By their datums only: {common} fittings are in both, and a best fit needs {FIT_NEEDS}. Deadrise to port "
            "and to starboard, and every position, then also hold how differently the two lines were stretched."
        )
    elif fit.turned:
        yield (
            f"The two reference lines are not parallel, by {fit.turn_deg:+.2f}° ± {fit.U_turn_deg:.2f}°. Deadrise to "
            "port and to starboard, and the heights of the two sides, are freed of that; positions of fittings are "
            "judged by the best fit."
        )
    shared = _shared(first, second)
    if shared:
        yield (
            f"Both surveys rest on {', '.join(shared)}: an error in its size is in both and cancels from the "
            "differences, so their U is rather too large than too small."
        )


def _shared(first: Job, second: Job) -> list[str]:
    prints = {(t.kind, t.dictionary, t.columns, t.rows, t.square_mm, t.marker_mm, t.first_id) for t in first.targets}
    targets = [
        f"the same kind of print ({t.id})"
        for t in second.targets
        if (t.kind, t.dictionary, t.columns, t.rows, t.square_mm, t.marker_mm, t.first_id) in prints
    ]
    tapes = {i.id for i in first.instruments}
    return targets + [f"the same {i.kind} ({i.id})" for i in second.instruments if i.id in tapes]
