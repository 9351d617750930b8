"""
How long an adjustment takes with more and more photos: ``python -m tests.benchmarks.photos``.

Places of the same boat in every photo, one board in each; the time per photo must not grow.
"""

from __future__ import annotations

import sys
from dataclasses import replace

from digitizer.adjustment.solve import adjust
from digitizer.job.model import MarkKind
from digitizer.survey.build import build
from digitizer.survey.start import start_values
from tests.benchmarks.speed import shortest
from tests.simulation.bowed_evidence import BowedEvidence
from tests.simulation.bowed_jobs import simulated_bow

COUNTS = (3, 6, 10, 20)
LIMIT_S = 0.060


def adjustment_s(photos: int) -> tuple[int, float]:
    """Marks, and seconds from the start to the redundancy of every observation."""
    job = simulated_bow(1, BowedEvidence(photos=photos, spread_deg=40.0))
    marks = tuple(m for m in job.job.marks if m.kind is not MarkKind.RIM)
    network = build(replace(job.job, marks=marks, fittings=()), job.facts, job.sightings)
    system = network.system
    start = start_values(network, system).x
    (taken,) = shortest(lambda: adjust(system, start, network.layout.free).redundancy_numbers, runs=7)
    return len(marks), taken


def main() -> int:
    """Print the table; 1 when a limit is missed."""
    found = [(photos, *adjustment_s(photos)) for photos in COUNTS]
    first = found[0][2]
    print("| photos | marks | adjustment | against three photos | photos against three |\n|---|---|---|---|---|")
    for photos, marks, taken in found:
        ratio, linear = taken / first, photos / COUNTS[0]
        print(f"| {photos} | {marks} | {taken * 1000:.0f} ms | {ratio:.1f} | {linear:.1f} |")
    return 0 if first < LIMIT_S and found[-1][2] / first <= COUNTS[-1] / COUNTS[0] else 1


if __name__ == "__main__":
    sys.exit(main())
