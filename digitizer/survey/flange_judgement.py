"""What a distance with its uncertainty decides about a flange: inside, within the margin, clear, or nothing."""

from __future__ import annotations

from collections.abc import Sequence

from digitizer.job.model import Fitting, FittingKind, Plan
from digitizer.survey.model import FlangeVerdict
from digitizer.transom.flange import FlangeForm
from digitizer.transom.regions import holds

IN_ORDER = (FlangeVerdict.INSIDE, FlangeVerdict.WITHIN_MARGIN, FlangeVerdict.CLEAR)


def judged(clearance: float, U: float, margin: float) -> tuple[FlangeVerdict, tuple[FlangeVerdict, ...]]:
    """
    How a fitting stands to the flange, and, where its interval reaches over a limit, what it may be.

    >>> judged(30.0, 2.0, 25.0)[0].value
    'clear'
    """
    low, high = (IN_ORDER.index(_class(value, margin)) for value in (clearance - U, clearance + U))
    if low == high:
        return IN_ORDER[low], ()
    return FlangeVerdict.NOT_DECIDED, IN_ORDER[low : high + 1]


def _class(clearance: float, margin: float) -> FlangeVerdict:
    if clearance < 0.0:
        return FlangeVerdict.INSIDE
    return FlangeVerdict.CLEAR if clearance >= margin else FlangeVerdict.WITHIN_MARGIN


def is_in_the_way(verdict: FlangeVerdict, between: Sequence[FlangeVerdict]) -> bool:
    """Whether a fitting is too near beyond doubt, under the flange or within its margin."""
    return FlangeVerdict.CLEAR not in (verdict, *between)


def outcome(verdict: FlangeVerdict, between: Sequence[FlangeVerdict], fitting: Fitting) -> Plan:
    """
    What becomes of a fitting: as planned where something was planned for it, else by where it stands.

    What is clear stays. What is in the way moves, but for old bolt holes, which are filled and worked around. A plan
    that the figures contradict stands here as it was made; the findings say so.
    """
    if fitting.plan is not Plan.UNDECIDED:
        return fitting.plan
    if verdict is FlangeVerdict.CLEAR:
        return Plan.STAYS
    if not is_in_the_way(verdict, between):
        return Plan.UNDECIDED
    return Plan.WORKED_AROUND if fitting.kind is FittingKind.BOLT_HOLE else Plan.MOVES


def is_obstacle(fitting: Fitting) -> bool:
    """Whether suggestions keep clear of a fitting: not of what moves, is worked around, or is an old hole."""
    if fitting.plan is Plan.UNDECIDED:
        return fitting.kind is not FittingKind.BOLT_HOLE
    return fitting.plan is Plan.STAYS


def pad_place(form: FlangeForm, ring: Sequence[tuple[float, float]], distance: float, U: float) -> str:
    """How the flange sits on a pad whose edge is `distance` ± U away from its own."""
    if abs(distance) < U:
        return "not decided"
    if distance < 0.0:
        return "astride"
    return "inside" if holds(ring, (form.middle, (form.bottom + form.top) / 2.0)) else "outside"
