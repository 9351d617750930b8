"""What is planned, beside what was measured: lines of figures and sentences for the report; nothing about strength."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from digitizer.job.model import Bracket, Engines, Job, Planning, PowerRule
from digitizer.survey.model import Dimension, FlangeFit, PlanningLine
from digitizer.transom.planning import (
    HIGH_TRANSOM_MM,
    RULE_LENGTH_MM,
    WATER_KG_PER_M3,
    body_volume,
    buoyancy_kg,
    engine_places,
    power_capacity,
    power_factor,
)
from digitizer.units import format_length, format_with_uncertainty

WIDTHS = ("transom_beam", "top_width", "chine_beam")
"""The widest of these is taken for the maximum transom width."""
KW_PER_HP = 0.7457
REPOWER = "a bracket made for today's engines may not be rated for the repower"
CAUTION = (
    "These figures compare what was stated with what was measured. Whether transom and bracket are strong enough, what "
    "weight and power the boat may carry, and her stability are decided by the rules of the place, a licensed "
    "surveyor, a naval architect or the engine's maker."
)


def planning_lines(job: Job, dimensions: Mapping[str, Dimension], flange: FlangeFit | None) -> tuple[PlanningLine, ...]:
    """Everything that the plan and the measured figures give; empty where nothing is planned."""
    plan = job.planning
    if plan is None:
        return ()
    lines = [
        *_wedge(plan.bracket, dimensions.get("rake")),
        *_engines("Engines now", plan.engines_now),
        *_engines("Engines planned", plan.engines_planned),
        *_rating(plan),
        *_spacing(job, plan, dimensions, flange),
        *_buoyancy(plan),
        *_power_rule(plan.power_rule, dimensions),
    ]
    return tuple(lines)


def _wedge(bracket: Bracket | None, rake: Dimension | None) -> Iterator[PlanningLine]:
    if bracket is None or bracket.plate_angle_deg is None:
        return
    plate = format_with_uncertainty(bracket.plate_angle_deg, 2.0 * bracket.u_plate_deg, "deg")
    label = "Wedge between motor plate and transom"
    if rake is None:
        note = f"motor plate {plate}; the transom angle is not known: level the face and the keel line"
        yield PlanningLine(label, "not worked out", note)
        return
    wedge = bracket.plate_angle_deg - rake.value
    U = math.hypot(2.0 * bracket.u_plate_deg, rake.U)
    angle = format_with_uncertainty(rake.value, rake.U, "deg")
    note = (
        f"motor plate {plate} minus transom angle {angle}: built into the bracket, positive when the plate leans more"
    )
    yield PlanningLine(label, format_with_uncertainty(wedge, U, "deg"), note)


def _engines(name: str, engines: Engines | None) -> Iterator[PlanningLine]:
    if engines is None:
        return
    parts = [f"{engines.count} in number"]
    if engines.power_hp is not None:
        total = engines.count * engines.power_hp
        parts.append(f"{total:g} hp ({total * KW_PER_HP:.0f} kW) together")
    if engines.weight_kg is not None:
        parts.append(f"{engines.count * engines.weight_kg:g} kg together")
    yield PlanningLine(name, "; ".join(parts), "as stated")


def _rating(plan: Planning) -> Iterator[PlanningLine]:
    """Now and planned against what the bracket is rated for by its maker."""
    bracket = plan.bracket
    if bracket is None:
        return
    for name, engines in (("now", plan.engines_now), ("planned", plan.engines_planned)):
        if engines is None:
            continue
        power = engines.count * engines.power_hp if engines.power_hp is not None else None
        weight = engines.count * engines.weight_kg if engines.weight_kg is not None else None
        for what, value, rated, unit in (
            ("engines", float(engines.count), bracket.rated_engines, ""),
            ("power", power, bracket.rated_power_hp, " hp"),
            ("weight", weight, bracket.rated_weight_kg, " kg"),
        ):
            label = f"Bracket's rating, {what} {name}"
            if value is None or rated is None:
                yield PlanningLine(label, "not compared", "not stated: ask the bracket's and the engine's maker")
                continue
            over = value > rated
            verdict = "more than rated" if over else "within the rating"
            note = REPOWER if over and name == "planned" else ""
            yield PlanningLine(label, f"{value:g}{unit} of {rated:g}{unit}: {verdict}", note, over)


def _spacing(
    job: Job, plan: Planning, dimensions: Mapping[str, Dimension], flange: FlangeFit | None
) -> Iterator[PlanningLine]:
    """Outer engines against beam and flange, and how much higher the bottom is there."""
    engines, unit = plan.engines_planned or plan.engines_now, str(job.settings.unit)
    if engines is None or engines.spacing_mm is None or engines.count < 2:
        return
    outer = max(engine_places(engines.count, engines.spacing_mm))
    beam = dimensions.get("chine_beam")
    where = f"outer engines {format_length(outer, unit)} from the centreline"
    if beam is not None:
        room = format_with_uncertainty(beam.value / 2.0 - outer, beam.U / 2.0, unit)
        yield PlanningLine("Outer engine to the chine", room, f"{where}, half the chine beam", beam.value / 2.0 < outer)
    if flange is not None:
        room_mm = flange.width_mm / 2.0 - outer
        yield PlanningLine("Outer engine to the flange's side", format_length(room_mm, unit), where)
    for side in ("port", "starboard"):
        deadrise = dimensions.get(f"section_deadrise_{side}") or dimensions.get(f"deadrise_chord_{side}")
        if deadrise is not None:
            angle = math.radians(deadrise.value)
            rise, U = outer * math.tan(angle), outer / math.cos(angle) ** 2 * math.radians(deadrise.U)
            note = "the bottom there above the keel line, by the deadrise: the engine's maker says how deep a leg runs"
            yield PlanningLine(
                f"Rise of the bottom at the outer engine, {side}", format_with_uncertainty(rise, U, unit), note
            )


def _buoyancy(plan: Planning) -> Iterator[PlanningLine]:
    body = plan.bracket.body if plan.bracket is not None else None
    if body is None or plan.bracket is None:
        return
    width = (body.width_mm, body.aft_width_mm if body.aft_width_mm is not None else body.width_mm)
    side = (body.side_mm, body.aft_side_mm if body.aft_side_mm is not None else body.side_mm)
    volume = body_volume(body.length_mm, math.radians(body.deadrise_deg), width, side)
    lifts = buoyancy_kg(volume, plan.water)
    density = f"{plan.water} water of {WATER_KG_PER_M3[plan.water]:g} kg/m³"
    yield PlanningLine(
        "Volume of the bracket's body", f"{volume * 1e-6:.0f} litres", "from its stated outer dimensions"
    )
    yield PlanningLine("Buoyancy of the body, wholly immersed", f"{lifts:.0f} kg", density)
    for name, engines in (("now", plan.engines_now), ("planned", plan.engines_planned)):
        if engines is None or engines.weight_kg is None or plan.bracket.weight_kg is None:
            continue
        carried = engines.count * engines.weight_kg + plan.bracket.weight_kg
        difference = f"{abs(lifts - carried):.0f} kg {'over' if lifts >= carried else 'short'}"
        value = f"{lifts:.0f} kg for {carried:g} kg: {difference}"
        note = "bracket and engines; at rest only the immersed part of the body lifts"
        yield PlanningLine(f"Buoyancy against weight, {name}", value, note, lifts < carried)


def _power_rule(rule: PowerRule | None, dimensions: Mapping[str, Dimension]) -> Iterator[PlanningLine]:
    """The figure of 33 CFR 183.53 where it applies, and why not where it doesn't."""
    name = "33 CFR 183.53"
    if rule is None:
        yield PlanningLine(name, "not worked out", "the boat's length and kind are not stated")
        return
    if not rule.outboard_monohull or rule.length_mm >= RULE_LENGTH_MM:
        why = "20 ft and longer" if rule.length_mm >= RULE_LENGTH_MM else "of another kind"
        yield PlanningLine(
            name, "does not apply", f"the rule is for outboard monohulls under 20 ft; this boat is {why}"
        )
        return
    width = _rule_width(rule, dimensions)
    if width is None:
        yield PlanningLine(name, "not worked out", "the width that the rule takes is not known")
        return
    value, U, which = width
    factor = power_factor(rule.length_mm, value)
    U_factor = factor * math.hypot(U / value, 2.0 * rule.u_length_mm / rule.length_mm)
    low, middle, high = (_capacity(rule, f) for f in (factor - U_factor, factor, factor + U_factor))
    yield PlanningLine(f"{name}, factor", f"{factor:.1f} ± {U_factor:.1f}", f"length × {which}, in feet")
    spread = "" if low == high else f" ({low:g} to {high:g} hp within the factor's U)"
    note = (
        "Table 183.53 of the CFR of 1 July 2001: a figure, not a rating; the builder certifies; check the current text"
    )
    if rule.transom_height_mm is None:
        note += "; the transom's height is not stated and taken as under 20 in"
    yield PlanningLine(f"{name}, figure", f"{middle:g} hp{spread}", note)


def _rule_width(rule: PowerRule, dimensions: Mapping[str, Dimension]) -> tuple[float, float, str] | None:
    """Width that the rule takes, its U, and which it is: the transom's, or that of the aftermost quarter."""
    widths = [dimensions[code] for code in WIDTHS if code in dimensions]
    if not widths:
        return None
    widest = max(widths, key=lambda d: d.value)
    if rule.beam_mm is not None and widest.value <= rule.beam_mm / 2.0:
        if rule.quarter_beam_mm is None:
            return None
        return rule.quarter_beam_mm, 10.0, "broadest beam in the aftermost quarter (no full transom)"
    return widest.value, widest.U, "widest measured transom width"


def _capacity(rule: PowerRule, factor: float) -> float:
    high = rule.transom_height_mm is not None and rule.transom_height_mm >= HIGH_TRANSOM_MM
    return power_capacity(
        max(factor, 0.0),
        remote=rule.remote_steering,
        high_transom=high,
        flat_bottom_hard_chine=rule.flat_bottom_hard_chine,
    )
