"""
Coverage of the clearances to a planned flange: how often the stated interval holds the truth.

``python -m tests.coverage.clearances 150`` measures so many simulated jobs of each kind and prints the docs' table.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from digitizer.job.model import Flange, FlangeBottom
from digitizer.survey.model import FlangeVerdict
from tests.coverage.trials import survey_of
from tests.simulation.jobs import simulated_job

FLANGE = Flange(800.0, 300.0, FlangeBottom.FLAT, top_mm=800.0, top_radius_mm=0.0, bottom_radius_mm=0.0, u_place_mm=0.0)
"""A box at a height of its own, so that the true clearances follow from the fittings' true places alone."""


def true_clearance(x: float, y: float, diameter: float) -> float:
    """From the box to a round rim, outside or inside, mm."""
    aside = abs(x) - FLANGE.width_mm / 2.0
    above = max(500.0 - y, y - 800.0)
    if max(aside, above) <= 0.0:
        return max(aside, above) - diameter / 2.0
    return float(np.hypot(max(aside, 0.0), max(above, 0.0))) - diameter / 2.0


def trials(evidence: str, seeds: range) -> list[tuple[float, float, bool]]:
    """Error, U, and whether the verdict is true or open, of each clearance in each job."""
    found = []
    for seed in seeds:
        job = simulated_job(seed, evidence)
        survey = survey_of(replace(job, job=replace(job.job, flange=FLANGE)))
        assert survey.flange is not None
        for f in survey.flange.fittings:
            true = true_clearance(*(job.truth[f"{f.fitting}.{name}"] for name in ("x", "y", "diameter")))
            verdict = (
                FlangeVerdict.INSIDE
                if true < 0.0
                else FlangeVerdict.CLEAR
                if true >= FLANGE.margin_mm
                else FlangeVerdict.WITHIN_MARGIN
            )
            honest = verdict in (f.verdict, *f.between)
            found.append((f.clearance.value - true, f.clearance.U, honest))
    return found


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    print("| evidence | clearances | within U | median U, mm | verdict true or open |")
    print("|---|---|---|---|---|")
    for evidence in ("board_string_rule", "four_markers", "snapped"):
        found = trials(evidence, range(count))
        inside = np.mean([abs(error) <= U for error, U, _ in found])
        honest = np.mean([h for *_, h in found])
        U = np.median([U for _, U, _ in found])
        name = evidence.replace("_", ", ")
        print(f"| {name} | {len(found)} | {100 * inside:.1f} % | {U:.1f} | {100 * honest:.1f} % |", flush=True)


if __name__ == "__main__":
    main()
