"""
Coverage of the differences between a pattern and the measured outline: how often the stated interval holds the truth.

``python -m tests.coverage.patterns 200`` measures so many simulated jobs of each kind and prints the docs' table.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from digitizer.job.model import PatternFace, PatternPart, PatternTaken, ScaleLies
from tests.builders import FloatArray
from tests.coverage.trials import survey_of
from tests.simulation.bowed_evidence import BOWED
from tests.simulation.bowed_jobs import simulated_bow
from tests.simulation.evidence import REAL
from tests.simulation.jobs import simulated_job
from tests.simulation.patterns import CHINES, SimPattern, with_pattern

KINDS: dict[str, tuple[str, SimPattern]] = {
    "bottom edge, by three marks": ("board_string_rule", SimPattern()),
    "the same, cut 8 mm too full in one place": ("board_string_rule", SimPattern(bumps=((-600.0, 8.0),))),
    "bottom edge, by best fit": ("board_string_rule", SimPattern(aligned=())),
    "bottom edge, snapped": ("snapped", SimPattern(click_px=0.3)),
    "another print beside it": ("board_string_rule", SimPattern(own_scale=True)),
    "a sheet of 840 × 590 mm in place of the board": ("board_string_rule", SimPattern(sheet=True)),
    "board laid on it, other face up": (
        "board_string_rule",
        SimPattern(scale_lies=ScaleLies.PATTERN, face_up=PatternFace.FORWARD, told=PatternFace.FORWARD),
    ),
    "starboard half, centreline and chine": (
        "board_string_rule",
        SimPattern(part=PatternPart.STARBOARD, aligned=("chine_starboard",), lines=True),
    ),
    "bowed face in three photos, bent pattern": (
        "three",
        SimPattern(taken=PatternTaken.BENT, told_taken=PatternTaken.BENT),
    ),
    "bowed face in three photos, stiff pattern": (
        "three",
        SimPattern(taken=PatternTaken.STIFF, told_taken=PatternTaken.STIFF),
    ),
    "whole outline, by the chines": ("board_string_rule", SimPattern(part=PatternPart.WHOLE, aligned=CHINES)),
}


@dataclass(frozen=True)
class Compared:
    """Errors (k,) of the differences of one job with their U (k,), and what was said."""

    errors: FloatArray
    U: FloatArray
    span: float | None
    """How much longer the pattern is between its alignment marks than the transom, over its U; in truth nothing."""
    said: tuple[str, ...]


def compared(kind: str, seed: int) -> Compared:
    """One simulated job of a kind, measured."""
    evidence, made = KINDS[kind]
    simulated = simulated_bow if evidence in BOWED else simulated_job
    survey = survey_of(with_pattern(simulated(seed, evidence, precision=REAL), made, seed))
    (result,) = survey.patterns
    x, y = np.array([(s.x, s.y) for s in result.stations]).T
    true = made.bump(x) if made.bumps else np.zeros_like(y)
    values, U = (np.array([getattr(s.difference, part) for s in result.stations]) for part in ("value", "U"))
    span = None if result.span is None else result.span.difference.value / result.span.difference.U
    return Compared(values - true, U, span, tuple(f.code for f in survey.findings if f.code.startswith("pattern")))


def main() -> None:
    """Print the table; further arguments choose kinds by a part of their name."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    spans: list[float] = []
    print("| pattern | jobs | differences | within U | median U, mm | said to be off |")
    print("|---|---|---|---|---|---|")
    for kind in (k for k in KINDS if not sys.argv[2:] or any(part in k for part in sys.argv[2:])):
        found = [compared(kind, seed) for seed in range(count)]
        errors, U = (np.concatenate([getattr(c, part) for c in found]) for part in ("errors", "U"))
        off = 100 * np.mean(["pattern_off" in c.said for c in found])
        inside = 100 * np.mean(np.abs(errors) <= U)
        print(f"| {kind} | {count} | {len(errors)} | {inside:.1f} % | {np.median(U):.1f} | {off:.0f} % |", flush=True)
        spans += [c.span for c in found if c.span is not None]
    held = 100 * np.mean(np.abs(spans) <= 1.0) if spans else 100.0
    print(f"\nDistances between alignment marks, {len(spans)}: {held:.1f} % within U.")


if __name__ == "__main__":
    main()
