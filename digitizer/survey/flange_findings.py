"""What the fit of the planned flange means, in words, with what to do."""

from __future__ import annotations

from collections.abc import Iterator

from digitizer.job.model import FittingKind, Job, Plan
from digitizer.survey.flange_judgement import is_in_the_way
from digitizer.survey.model import (
    Dimension,
    Finding,
    FlangeFit,
    FlangeFitting,
    FlangePad,
    FlangeShift,
    FlangeSize,
    FlangeVerdict,
    Severity,
)

SUBJECT = "flange"
TOUCHING_MM = 1.5
"""A flange whose lower edge departs from its gap by no more than sealant takes up."""


def flange_findings(job: Job, fit: FlangeFit | None) -> Iterator[Finding]:
    """Everything that the fit says; nothing where no flange is planned."""
    if job.flange is not None and fit is None:
        yield _say(
            "flange_not_laid",
            Severity.WARNING,
            "The planned flange could not be laid on the transom: mark the keel and the chines or the bottom edges, "
            "and make it high enough for its V and its corner radii.",
        )
    if fit is None:
        return
    kinds = {f.id: f.kind for f in job.fittings}
    for each in fit.fittings:
        yield from _fitting(each, fit.margin_mm, kinds.get(each.fitting))
    yield from _edges(fit)
    yield from _lower_edge(fit)
    for pad in fit.pads:
        yield _pad(pad)
    yield from _crossings(fit)
    yield from _bow(fit)
    for remark in fit.remarks:
        yield _say("flange_remark", Severity.NOTE, remark)
    yield from _better(fit)


def _say(code: str, severity: Severity, text: str, subject: str = SUBJECT) -> Finding:
    return Finding(code, severity, subject, text)


def mm(d: Dimension, value: float | None = None) -> str:
    """A length and its U in words."""
    return f"{d.value if value is None else value:.0f} mm ± {max(d.U, 0.5):.0f} mm".replace("-", "−")


def _fitting(f: FlangeFitting, margin: float, kind: FittingKind | None) -> Iterator[Finding]:
    where, in_the_way = _where(f, margin), is_in_the_way(f.verdict, f.between)
    if f.verdict is FlangeVerdict.CLEAR:
        if f.plan == Plan.MOVES:
            text = f"{f.name} is to move, but the flange does not ask for it: {where}."
            yield _say("flange_clear_of_moving", Severity.NOTE, text, f.fitting)
    elif f.plan == Plan.STAYS and in_the_way:
        text = f"{f.name} is to stay, but {where}: move it, work around it, or shift the flange."
        yield _say("flange_conflict", Severity.SERIOUS, text, f.fitting)
    else:
        leaves = f.plan in (Plan.MOVES, Plan.WORKED_AROUND)
        text = f"{f.name}: {where}; {_do(f, kind, in_the_way)}."
        yield _say("flange_conflict", Severity.NOTE if leaves else Severity.WARNING, text, f.fitting)


def _where(f: FlangeFitting, margin: float) -> str:
    d = f.clearance
    if f.verdict is FlangeVerdict.INSIDE:
        how = "wholly under the flange" if f.wholly else "partly under the flange"
        return f"it lies {how}, {mm(d, -d.value)} in from its edge"
    if f.verdict is FlangeVerdict.NOT_DECIDED:
        may = " or ".join(_words(v) for v in f.between)
        return f"it stands {mm(d)} from the flange, which needs {margin:g} mm: {may}, which of them is not decided"
    if f.verdict is FlangeVerdict.WITHIN_MARGIN:
        return f"it stands {mm(d)} from the flange, which needs {margin:g} mm"
    return f"it stands {mm(d)} from the flange"


def _words(verdict: FlangeVerdict) -> str:
    return "under it" if verdict is FlangeVerdict.INSIDE else str(verdict)


def _do(f: FlangeFitting, kind: FittingKind | None, in_the_way: bool) -> str:
    if f.plan == Plan.MOVES:
        return "it moves, as planned"
    if f.plan == Plan.WORKED_AROUND:
        return "it is worked around, as planned"
    if not in_the_way:
        return "measure its place better, or shift the flange"
    if kind is FittingKind.DRAIN:
        return "move it, or leave it open: never bury a drain"
    if kind is FittingKind.BOLT_HOLE:
        return "fill it, and keep the new holes clear of it"
    return "move it, work around it, or shift the flange"


def _edges(fit: FlangeFit) -> Iterator[Finding]:
    for d, what in ((fit.to_bottom, "bottom edge"), (fit.to_outline, "outline of the transom")):
        if d is None:
            continue
        if d.value + d.U < 0.0:
            text = f"The flange reaches {mm(d, -d.value)} over the {what}: it does not fit there."
            yield _say("flange_over_edge", Severity.SERIOUS, text)
        elif d.value - d.U < 0.0:
            text = f"Whether the flange stays inside the {what} is not decided: {mm(d)} between them."
            yield _say("flange_over_edge", Severity.WARNING, text)


def _lower_edge(fit: FlangeFit) -> Iterator[Finding]:
    """How far the flange's deadrise departs from the hull's."""
    if not fit.stations:
        return
    least, most = (pick(fit.stations, key=lambda s: s.gap.value).gap for pick in (min, max))
    for d in fit.deadrise_differences:
        if abs(d.value) > d.U:
            steeper = "steeper" if d.value > 0.0 else "flatter"
            yield _say(
                "flange_deadrise",
                Severity.WARNING if most.value - least.value > most.U + TOUCHING_MM else Severity.NOTE,
                f"To {d.code.rpartition('_')[2]} the hull is {abs(d.value):.2f}° ± {d.U:.2f}° {steeper} than the "
                f"flange under its width: the gap runs from {mm(least)} to {mm(most)}.",
            )
    unseen = 5 - len(fit.stations)
    if unseen:
        text = f"The bottom edge is not marked under {unseen} of 5 places of the flange: the gap there is unknown."
        yield _say("flange_bottom_unseen", Severity.NOTE, text)


def _pad(pad: FlangePad) -> Finding:
    text, severity = {
        "inside": (f"The flange sits inside {pad.pad}, {mm(pad.distance)} from its edge.", Severity.NOTE),
        "outside": (f"The flange stays off {pad.pad}, {mm(pad.distance)} from its edge.", Severity.NOTE),
        "astride": (
            f"The flange lies astride the edge of {pad.pad}: make the pad flush, choose another size, or build the "
            "flange around it.",
            Severity.WARNING,
        ),
    }.get(
        pad.place,
        (
            f"An edge of the flange falls on the edge of {pad.pad} ({mm(pad.distance)}): choose another size, or make "
            "it flush.",
            Severity.WARNING,
        ),
    )
    return Finding("flange_on_pad", severity, pad.pad, text)


def _crossings(fit: FlangeFit) -> Iterator[Finding]:
    for each in fit.crossings:
        d = each.inside
        if not each.decided:
            text = f"Whether the {each.name} comes under the flange is not decided ({mm(d)})."
        elif d.value > 0.0:
            text = f"The {each.name} runs out under the flange, {mm(d)} in from its side: the gap there differs."
        else:
            continue
        yield _say("flange_crosses", Severity.NOTE, text, each.name)


def _bow(fit: FlangeFit) -> Iterator[Finding]:
    d = fit.stand_off
    if d is None or abs(d.value) < d.U:
        return
    where = "at its sides when it touches in its middle" if d.value > 0.0 else "in its middle when its sides touch"
    yield _say(
        "flange_stands_off",
        Severity.WARNING if abs(d.value) - d.U > TOUCHING_MM else Severity.NOTE,
        f"A flat flange stands {abs(d.value):.1f} mm ± {d.U:.1f} mm off the bowed face {where}: bed it, or roll it.",
    )


def _better(fit: FlangeFit) -> Iterator[Finding]:
    if fit.largest is not None:
        sizes = [f"largest symmetrical flange {_size(fit.largest)}"]
        sizes += [f"highest of this width {_size(fit.tallest)}"] if fit.tallest is not None else []
        sizes += [f"widest of this height {_size(fit.widest)}"] if fit.widest is not None else []
        yield _say("flange_sizes", Severity.NOTE, f"Clear of everything, in steps of 10 mm: {'; '.join(sizes)}.")
    if fit.shift is not None:
        ways = dict.fromkeys(_moved(s) for s in (fit.shift, fit.shift_up, fit.shift_across) if s is not None)
        yield _say("flange_shift", Severity.NOTE, f"The flange would clear everything moved {', or '.join(ways)}.")


def _size(size: FlangeSize) -> str:
    low = size.top_mm - size.height_mm
    return f"{size.width_mm:.0f} × {size.height_mm:.0f} mm, from {low:.0f} mm above the keel point up"


def _moved(shift: FlangeShift) -> str:
    """In whole millimetres, rounded away from the present place so that it still clears."""
    parts = []
    if abs(shift.up_mm) > 0.01:
        parts.append(f"{_up_to(shift.up_mm)} mm {'up' if shift.up_mm > 0.0 else 'down'}")
    if abs(shift.across_mm) > 0.01:
        parts.append(f"{_up_to(shift.across_mm)} mm to {'starboard' if shift.across_mm > 0.0 else 'port'}")
    return " and ".join(parts)


def _up_to(length: float) -> int:
    return int(-(-abs(length) // 1))
