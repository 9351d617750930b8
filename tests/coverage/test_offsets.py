"""The offset table's intervals against the truth: read off the same outline through the true places of its marks."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.job.model import Side
from digitizer.survey.dimensions import BOUNDARY
from digitizer.survey.offsets import offset_at
from digitizer.transom.outline import OutlineMark, edges
from digitizer.transom.system import Place
from tests.builders import turned
from tests.coverage.trials import survey_of
from tests.simulation.evidence import REAL
from tests.simulation.jobs import Simulated, simulated_job

pytestmark = pytest.mark.slow

RUNS = 15


def standardised(job: Simulated) -> list[float]:
    """Errors of all offsets of a job that the truth has too, in their own u."""
    scene, string = job.scene, job.scene.line(job.scene.theta)
    keel = scene.at(scene.theta, "keel")
    marks = []
    for name, place in scene.places.items():
        if place.kind in BOUNDARY:
            x, y = turned(scene.at(scene.theta, name) - keel, string).tolist()
            marks.append(OutlineMark((name,), place.kind, Place(x, y), frozenset(("astern",))))
    true = edges(marks)
    found = []
    for offset in survey_of(job).offsets:
        crossing = offset_at(true, (offset.line, Side(offset.side), offset.station))
        if crossing is not None and offset.value.u > 0.0:
            found.append((offset.value.value - float(crossing[0])) / offset.value.u)
    return found


@pytest.mark.parametrize("evidence", ["board_string_rule", "four_markers"])
def test_intervals_hold_the_truth(evidence: str) -> None:
    """About 95 of 100 offsets lie within their U, over jobs whose every prior is drawn; medians are not too wide."""
    jobs = [np.array(standardised(simulated_job(seed, evidence, precision=REAL))) for seed in range(7000, 7000 + RUNS)]
    assert min(len(job) for job in jobs) > 40
    inside = np.mean([np.mean(np.abs(job) <= 2.0) for job in jobs])
    # Offsets of one job share its scale and camera: as good as a handful of independent ones, so 15 jobs tell to 0.04.
    assert 0.88 <= inside <= 0.995
    assert 0.6 <= np.sqrt(np.mean([np.mean(job**2) for job in jobs])) <= 1.35
