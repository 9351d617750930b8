"""Cameras calibrated from simulated photos of a board, and jobs measured with them, against the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.camera.lens import refocus_allowance
from digitizer.errors import AdjustmentError
from digitizer.job.model import Calibration, Camera
from digitizer.survey.calibration import Calibrated, calibrate, open_prior
from digitizer.survey.measure import measure
from tests.builders import DIAGONAL_PX, HEIGHT_PX, WIDTH_PX, FloatArray
from tests.coverage.trials import Trial, trials
from tests.simulation.evidence import REAL, Evidence
from tests.simulation.jobs import Simulated, simulated_job
from tests.survey.board_shots import BOARD, SIZE, TILTED, board_shots

NAMES = ("f", "cx", "cy", "k1", "k2", "p1", "p2")
FOCAL_MM, BOARD_MM = 5.1, 330.0
"""A phone's main camera, and how far off the board was held."""
SHEET_BEND = (5 / 7) ** 2
"""Of the sheet's bow, what shows between its outermost corners."""
EVIDENCE = {
    "board": Evidence(board=True, calibrated=False),
    "oblique": Evidence(board=True, string_marks=5, view=(35.0, 10.0), calibrated=False),
    "square": Evidence(square=True, string_marks=5, view=(25.0, 8.0), calibrated=False),
    "rule": Evidence(string_marks=11, rule=True, mirror=True, view=(30.0, 8.0), calibrated=False),
}
WAYS = ("EXIF only", "calibrated, refocus allowance", "calibrated, taken at its word")


def a_calibration(rng: np.random.Generator, lens: FloatArray) -> Calibrated:
    """Eight photos of a board by a lens (8,), tilts, corner errors and the sheet's bow drawn."""
    tilts = np.array(TILTED) + rng.normal(0.0, 4.0, (len(TILTED), 2))
    bend = SHEET_BEND * rng.normal(0.0, BOARD.flatness_mm)
    shots = board_shots(rng, tilts.tolist(), lens, bend)
    return calibrate(shots, [BOARD], SIZE, open_prior(SIZE, 29.0))


def a_lens(rng: np.random.Generator) -> FloatArray:
    """f, cx, cy, k1, k2, p1, p2, k3 of a phone, drawn."""
    middle = np.array([(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2])
    f, centre = rng.normal(2950.0, 90.0), rng.normal(middle, 25.0)
    return np.array([f, *centre, *rng.normal(0.0, 0.05, 2), *rng.normal(0.0, 3e-4, 2), 0.0])


def scores(seed: int) -> FloatArray:
    """Errors of the seven values (7,) of one calibration over their u."""
    rng = np.random.default_rng(seed)
    lens = a_lens(rng)
    result = a_calibration(rng, lens)
    c = result.calibration
    found = np.array([c.f_px, c.cx_px, c.cy_px, c.k1, c.k2, c.p1, c.p2])
    return (found - lens[:7]) / np.sqrt(np.diag(result.covariance)[:7])


@dataclass(frozen=True)
class Compared:
    """One job measured with its lens known in each of `WAYS`."""

    evidence: str
    by_way: dict[str, tuple[Trial, ...]]


def compared(task: tuple[str, int]) -> Compared:
    """
    Measure one job by a camera that was calibrated near by and then focused far away.

    The lens in the board's photos is the job's own, its principal distance longer as a thin lens has it, its middle
    and distortion off by what the allowance says of them.
    """
    evidence, seed = task
    job = simulated_job(seed, EVIDENCE[evidence], precision=REAL)
    rng = np.random.default_rng([seed, 1])
    lens = np.append(job.scene.theta["lens"], 0.0)
    near = lens.copy()
    near[0] *= 1.0 + FOCAL_MM / BOARD_MM - FOCAL_MM / 3300.0 + rng.normal(0.0, 0.002)
    near[1:3] += rng.normal(0.0, 0.001 * DIAGONAL_PX, 2)
    near[3:5] += rng.normal(0.0, 0.005, 2)
    at_its_word = a_calibration(rng, near).calibration
    allowed = replace(at_its_word, u_refocus=refocus_allowance(FOCAL_MM, BOARD_MM))
    lenses = dict(zip(WAYS, (None, allowed, at_its_word), strict=True))
    return Compared(evidence, {way: _trials(job, known) for way, known in lenses.items()})


def _trials(job: Simulated, calibration: Calibration | None) -> tuple[Trial, ...]:
    known = replace(job.job, cameras=(Camera("camera", calibration),))
    try:
        return tuple(trials(measure(known, job.facts, job.sightings), job.truth))
    except AdjustmentError:
        return ()


def pooled(jobs: Sequence[Compared], way: str) -> list[Trial]:
    """All trials of some jobs with the lens known in one way."""
    return [t for job in jobs for t in job.by_way[way]]
