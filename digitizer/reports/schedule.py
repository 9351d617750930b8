"""The fitting schedule as texts: one line for each fitting, numbered as on drawing and photo."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from digitizer.reports.table import printed_value
from digitizer.survey.model import Dimension, FittingResult
from digitizer.units import value_and_uncertainty

NOTHING = "—"
_PLAN_WORDS = {"moves": "must move", "worked_around": "worked around"}
_HARD_SPACE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class FittingRow:
    """One line of the fitting schedule."""

    number: int
    name: str
    kind: str
    from_centreline: str
    girth: str
    """The same along a bowed surface; empty on a flat face."""
    side: str
    """P, S, or C when on the centreline within its U."""
    below_reference: str
    up_from_keel: str
    size: tuple[str, ...]
    """One line each: a diameter, or width and height."""
    proud: str
    nearest: str
    clearance: str
    plan: str


def fitting_rows(fittings: tuple[FittingResult, ...], unit: str) -> tuple[FittingRow, ...]:
    """The schedule, lengths as value ± U in `unit` without its name."""
    numbers = fitting_numbers(fittings)
    return tuple(_row(fitting, numbers, unit) for fitting in fittings)


def fitting_numbers(fittings: Iterable[FittingResult]) -> dict[str, int]:
    """Number of each fitting on drawing, photo and schedule, by its id."""
    return {fitting.id: number for number, fitting in enumerate(fittings, start=1)}


def side_of(x: Dimension) -> str:
    """Side of the centreline: P is port, S starboard, C on it within its U."""
    if abs(x.value) <= x.U:
        return "C"
    return "S" if x.value > 0 else "P"


def words(code: str) -> str:
    """A code of the job file in plain words: "through hull" for ``through_hull``."""
    return code.replace("_", " ")


def unbroken(text: str) -> str:
    """The text with blanks at which no line breaks."""
    return text.replace(" ", _HARD_SPACE)


def _row(fitting: FittingResult, numbers: dict[str, int], unit: str) -> FittingRow:
    nearest = numbers.get(fitting.nearest or "")
    proud = value_and_uncertainty(fitting.proud_mm, 2 * fitting.u_proud_mm, unit)
    return FittingRow(
        number=numbers[fitting.id],
        name=fitting.name or words(fitting.id),
        kind=words(fitting.kind),
        from_centreline=_figure(_unsigned(fitting.x), unit),
        girth=_figure(_unsigned(fitting.girth), unit) if fitting.girth is not None else "",
        side=side_of(fitting.x),
        below_reference=_figure(fitting.below_reference, unit),
        up_from_keel=_figure(fitting.y, unit),
        size=_size(fitting, unit),
        proud=_plus_minus(*proud),
        nearest=f"no. {nearest}" if nearest else NOTHING,
        clearance=_figure(fitting.clearance, unit),
        plan=_PLAN_WORDS.get(fitting.plan, words(fitting.plan)),
    )


def _unsigned(across: Dimension) -> Dimension:
    """Its side is told by a letter instead."""
    return replace(across, value=abs(across.value))


def _size(fitting: FittingResult, unit: str) -> tuple[str, ...]:
    if fitting.diameter is not None:
        return (f"⌀ {_figure(fitting.diameter, unit)}",)
    if fitting.width is None or fitting.height is None:
        return (NOTHING,)
    width, height = (_figure(each, unit) for each in (fitting.width, fitting.height))
    return f"{width}{_HARD_SPACE}wide", f"×{_HARD_SPACE}{height}{_HARD_SPACE}high"


def _figure(dimension: Dimension | None, unit: str) -> str:
    """Value ± U without its unit, which the heading of the column names."""
    if dimension is None:
        return NOTHING
    value, expanded, _ = printed_value(dimension, unit)
    return _plus_minus(value, expanded)


def _plus_minus(value: str, expanded: str) -> str:
    """Value ± U that breaks, in a narrow column, before the ± only."""
    return unbroken(f"{value} ± {expanded}").replace(f"{_HARD_SPACE}±", " ±")
