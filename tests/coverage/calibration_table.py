"""
Writes docs/explanation/accuracy-calibration.md: ``python -m tests.coverage.calibration_table``.

Simulated calibrations of cameras against the true lens, and jobs measured with and without them.
"""

from __future__ import annotations

import argparse
import platform
from collections.abc import Iterator, Sequence
from multiprocessing import Pool
from pathlib import Path

import numpy as np

from digitizer import __version__
from tests.builders import FloatArray
from tests.coverage.accuracy_table import percent, rms
from tests.coverage.calibration_trials import NAMES, WAYS, Compared, compared, pooled, scores
from tests.coverage.trials import errors, within_95

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "accuracy-calibration.md"
TEMPLATE = Path(__file__).with_name("calibration_page.md")
FIRST_SEED = 50_000
EVIDENCE_WORDS = {
    "board": "board at the middle, view square",
    "oblique": "the same, from 35° to one side and 10° above",
    "square": "carpenter's square, from 25° to one side and 8° above",
    "rule": "rule, string, mirror pairs ± 3 mm, from 30° to one side and 8° above",
}


def value_rows(z: FloatArray) -> Iterator[str]:
    """One line per value of the lens, of scores (calibrations, 7)."""
    yield "| value | intervals that hold the truth | rms of error / u |"
    yield "|---|---|---|"
    for name, own in [*zip(NAMES, z.T, strict=True), ("all", z.ravel())]:
        yield f"| {name} | {100 * np.mean(np.abs(own) <= 2.0):.1f} % of {own.size} | {rms(own):.2f} |"


def way_rows(jobs: Sequence[Compared]) -> Iterator[str]:
    """One line per evidence and way of knowing the lens."""
    yield "| evidence | lens | chine beam: 95 % of errors, median U | deadrise: the same | intervals with the truth |"
    yield "|---|---|---|---|---|"
    for evidence, words in EVIDENCE_WORDS.items():
        own = [job for job in jobs if job.evidence == evidence]
        for way in WAYS:
            found = pooled(own, way)
            cells = []
            for codes, unit, digits in (
                (("chine_beam",), " mm", 1), (("deadrise_chord_port", "deadrise_chord_starboard"), "°", 2)
            ):  # fmt: skip
                U = 2.0 * np.median([t.u for t in found if t.code in codes])
                cells.append(f"{within_95(errors(found, *codes)):.{digits}f}{unit}, {U:.{digits}f}{unit}")
            yield f"| {words} | {way} | {cells[0]} | {cells[1]} | {percent(found)} |"


def page(lenses: int, jobs: int) -> str:
    """The page as it will be published."""
    with Pool(2) as pool:
        z = np.array(pool.map(scores, range(FIRST_SEED, FIRST_SEED + lenses), chunksize=4))
        tasks = [(name, FIRST_SEED + seed) for seed in range(jobs) for name in EVIDENCE_WORDS]
        done = pool.map(compared, tasks, chunksize=4)
    return TEMPLATE.read_text(encoding="utf-8").format(
        lenses=lenses,
        jobs=jobs,
        version=__version__,
        python=platform.python_version(),
        numpy=np.__version__,
        values="\n".join(value_rows(z)),
        ways="\n".join(way_rows(done)),
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Measure the accuracy of calibrated cameras and write its page.")
    parser.add_argument("--lenses", type=int, default=300, help="simulated calibrations")
    parser.add_argument("--jobs", type=int, default=60, help="jobs per evidence set")
    arguments = parser.parse_args()
    PAGE.write_text(page(arguments.lenses, arguments.jobs), encoding="utf-8")
    print(PAGE)
