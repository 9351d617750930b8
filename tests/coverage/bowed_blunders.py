"""Slips of the hand in jobs of several photos, and whether the survey names them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from digitizer.errors import AdjustmentError
from digitizer.job.model import Mark
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from tests.simulation.bowed_jobs import SimulatedBow, simulated_bow
from tests.simulation.evidence import REAL


@dataclass(frozen=True)
class Slip:
    """A job with one thing wrong, and the subjects of findings that would name it."""

    job: SimulatedBow
    subjects: frozenset[str]


def wrong_fitting(seed: int) -> Slip:
    """A rim mark of one fitting clicked on the like place of another fitting, in one photo."""
    job, rng = simulated_bow(seed, "three", precision=REAL), np.random.default_rng(seed)
    one, other = rng.choice([fitting.id for fitting in job.job.fittings], 2, replace=False)
    ending = f"_rim_{rng.integers(1, 9)}@{rng.integers(1, 4)}"
    place = next(m for m in job.job.marks if m.id == f"{other}{ending}")
    return _marked(job, f"{one}{ending}", lambda m: replace(m, x_px=place.x_px, y_px=place.y_px))


def wrong_corner(seed: int) -> Slip:
    """A chine or top corner clicked 25 px beside itself in one photo of three."""
    job, rng = simulated_bow(seed, "three", precision=REAL), np.random.default_rng(seed)
    name = f"{rng.choice(['chine', 'top'])}_{rng.choice(['port', 'starboard'])}@{rng.integers(1, 4)}"
    angle = rng.uniform(0.0, 2.0 * np.pi)
    return _marked(
        job, name, lambda m: replace(m, x_px=m.x_px + 25.0 * np.cos(angle), y_px=m.y_px + 25.0 * np.sin(angle))
    )


def exchanged_ends(seed: int) -> Slip:
    """One of the tapes, across the chines, recorded as from a chine to the other side's top corner."""
    job, rng = simulated_bow(seed, "three_gap_tapes", precision=REAL), np.random.default_rng(seed)
    name = str(rng.choice(["girth", "chord"]))
    lengths = tuple(replace(k, to_point="top_starboard") if k.id == name else k for k in job.job.lengths)
    return Slip(replace(job, job=replace(job.job, lengths=lengths)), frozenset({name}))


def bent_straightedge(seed: int) -> Slip:
    """The straightedge under which the gap was measured was bent by 12 mm."""
    job, rng = simulated_bow(seed, "three_gap_tapes", precision=REAL), np.random.default_rng(seed)
    bend = 12.0 * rng.choice([-1.0, 1.0])
    gaps = tuple(replace(g, gap_mm=g.gap_mm + bend) for g in job.job.gaps)
    return Slip(replace(job, job=replace(job.job, gaps=gaps)), frozenset(g.id for g in gaps))


def slipped_board(seed: int) -> Slip:
    """The board lay 25 mm lower and was turned by 1° in one photo of three."""
    job, rng = simulated_bow(seed, "three", precision=REAL), np.random.default_rng(seed)
    scene, photo = job.scene, int(rng.integers(0, 3))
    moved = {name: values.copy() for name, values in scene.theta.items()}
    moved["target"] = moved["target"] + np.array([[0.0, -25.0, np.radians(1.0)]])
    by = (scene.pixels(moved) - scene.pixels(scene.theta))[len(job.job.marks) :]
    sightings = list(job.sightings)
    seen = sightings[photo]
    own = by[photo * len(seen.corner_ids) : (photo + 1) * len(seen.corner_ids)]
    x, y = np.array([seen.x_px, seen.y_px]) + own.T
    sightings[photo] = replace(seen, x_px=tuple(x.tolist()), y_px=tuple(y.tolist()))
    return Slip(replace(job, sightings=tuple(sightings)), frozenset({"board"}))


SLIPS: dict[str, Callable[[int], Slip]] = {
    "rim mark clicked on another fitting, in one photo": wrong_fitting,
    "corner clicked 25 px beside itself, in one photo": wrong_corner,
    "tape recorded to the wrong end": exchanged_ends,
    "bent straightedge, gap false by 12 mm": bent_straightedge,
    "board slipped 25 mm before one photo": slipped_board,
}


def named(slip: Slip) -> bool:
    """Whether the most suspicious thing that the survey names is the slip."""
    try:
        survey = measure(slip.job.job, slip.job.facts, slip.job.sightings)
    except AdjustmentError:
        return False
    return first_named(survey) in slip.subjects


def first_named(survey: Survey) -> str | None:
    """
    Subject of the first finding of an error.

    A board that slipped comes before single marks, which a start with the false board may have set aside.
    """
    for code in ("target_slipped", "outlier"):
        found = [f.subject for f in survey.findings if f.code == code]
        if found:
            return found[0]
    return None


def _marked(job: SimulatedBow, name: str, change: Callable[[Mark], Mark]) -> Slip:
    marks = tuple(change(m) if m.id == name else m for m in job.job.marks)
    return Slip(replace(job, job=replace(job.job, marks=marks)), frozenset({name}))
