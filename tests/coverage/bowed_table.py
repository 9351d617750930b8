"""
Writes docs/explanation/accuracy-bowed.md: ``python -m tests.coverage.bowed_table``, with its options for shorter runs.

Simulated jobs of several photos on bowed and flat faces, measured by the program and compared with the exact truth.
"""

from __future__ import annotations

import argparse
import pickle
import platform
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from multiprocessing import Pool
from pathlib import Path

import numpy as np

from digitizer import __version__
from digitizer.errors import AdjustmentError
from digitizer.job.model import FaceKind
from digitizer.survey.measure import measure
from tests.coverage.accuracy_table import percent, rms
from tests.coverage.bowed_blunders import SLIPS, named
from tests.coverage.trials import Trial, errors, survey_of, trials, within_95
from tests.simulation.bowed_evidence import BOWED
from tests.simulation.bowed_jobs import simulated_bow
from tests.simulation.evidence import REAL, STRICT

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "accuracy-bowed.md"
TEMPLATE = Path(__file__).with_name("bowed_page.md")
FIRST_SEED = 30_000
NEW_SEEDS = 1000
"""Each evidence set draws from seeds of its own."""

WORDS = {
    "three": "three photos, a board in each",
    "three_one_board": "three photos, the board in the middle one only",
    "two": "two photos",
    "three_gap_tapes": "three photos, a gap under a straightedge, beam by tape along and across",
    "three_flat": "three photos of a flat face taken as bowed",
    "three_hollow": "three photos of a hollow face",
    "three_pad": "three photos, a pad of unknown height",
    "two_pad_measured": "two photos of a flat face with a pad measured by rule",
    "one_gap": "one photo, two gaps, beam by tape",
    "five": "five photos, the board in three of them",
}
FAMILIES = {
    "sagitta": ("sagitta",),
    "radius of the bow": ("bow_radius",),
    "deadrise, tangent at the keel": ("deadrise_edge_",),
    "deadrise, chord in the face": ("deadrise_chord_",),
    "deadrise, section": ("section_deadrise_",),
    "fittings in space, sideways": (".x",),
    "fittings in space, up and down": (".y",),
    "fittings, girth": (".girth",),
    "fittings, diameter": (".diameter",),
    "widths straight through (chord)": ("chine_beam", "chine_beam_inner", "top_width"),
    "widths along the surface (girth)": ("_girth",),
    "heights": ("height_",),
    "A and B": ("a_centre", "b_port", "b_starboard"),
    "pads": ("pad_pad_",),
}


@dataclass(frozen=True)
class Done:
    """What one job gave; no trials where it was refused."""

    evidence: str
    trials: tuple[Trial, ...]


def done(task: tuple[str, int]) -> Done:
    """Measure one job: clicks only for even seeds, everything drawn for odd ones."""
    evidence, seed = task
    job = simulated_bow(seed, evidence, precision=REAL if seed % 2 else STRICT)
    try:
        return Done(evidence, tuple(trials(survey_of(job), job.truth)))
    except AdjustmentError:
        return Done(evidence, ())


def shape_found(task: tuple[int, bool]) -> tuple[bool, bool]:
    """A job taken as flat: whether it counts (flat, or more than 15 mm of sagitta), and whether that was said."""
    seed, bowed = task
    evidence = replace(BOWED["three"], radii=(2500.0, 40_000.0) if bowed else None, face=FaceKind.FLAT)
    job = simulated_bow(seed, evidence, precision=REAL)
    try:
        codes = {f.code for f in measure(job.job, job.facts, job.sightings).findings}
    except AdjustmentError as refusal:
        return job.truth["sagitta"] > 15.0, bowed and "Set the face's kind to bowed" in str(refusal)
    return not bowed or job.truth["sagitta"] > 15.0, ("face_bowed" if bowed else "face_flat_enough") in codes


def slip_named(task: tuple[str, int]) -> bool:
    """Whether a slip is named."""
    words, seed = task
    return named(SLIPS[words](seed))


def belongs(code: str, patterns: Iterable[str]) -> bool:
    """Whether a dimension is of a family: its code, or how that begins or ends."""
    return any(
        code == p or (p.endswith("_") and code.startswith(p)) or (p[0] in "._" and code.endswith(p)) for p in patterns
    )


def evidence_rows(jobs: list[Done]) -> Iterator[str]:
    """One line per evidence set."""
    yield "| evidence | jobs | sagitta | fittings in space | chine beam | intervals that hold the truth |"
    yield "|---|---|---|---|---|---|"
    for name, words in WORDS.items():
        own = [job for job in jobs if job.evidence == name]
        found = [t for job in own for t in job.trials]
        rise = errors(found, "sagitta")
        places = np.array([e for job in own for e in space_errors(job.trials)])
        bow = f"{within_95(rise):.1f} mm" if len(rise) else "–"
        beam = within_95(errors(found, "chine_beam"))
        yield f"| {words} | {len(own)} | {bow} | {within_95(places):.1f} mm | {beam:.1f} mm | {percent(found)} |"


def space_errors(found: Iterable[Trial]) -> list[float]:
    """Distance of each fitting from its true place in the transom system, in x and y, mm."""
    by_code = {t.code: t.error for t in found}
    names = {code.partition(".")[0] for code in by_code if code.endswith(".x")}
    return [float(np.hypot(by_code[f"{name}.x"], by_code[f"{name}.y"])) for name in sorted(names)]


def family_rows(found: list[Trial]) -> Iterator[str]:
    """Coverage, one line per kind of dimension."""
    yield "| dimension | intervals that hold the truth | rms of error / u | 95 % of the errors within |"
    yield "|---|---|---|---|"
    for words, patterns in FAMILIES.items():
        own = [t for t in found if belongs(t.code, patterns)]
        unit = "°" if words.startswith("deadrise") else " mm"
        size = within_95(np.array([t.error for t in own]))
        ratio = rms([t.error / t.u for t in own])
        shown = "–" if words.startswith("radius") else f"{size:.2f}{unit}"
        yield f"| {words} | {percent(own)} | {ratio:.2f} | {shown} |"


def page(runs: int, flat: int, slips: int, kept: dict[tuple[str, int], Done]) -> str:
    """The page as it will be published; jobs that were kept from an interrupted run aren't measured again."""
    tasks = [(name, FIRST_SEED + NEW_SEEDS * number + run) for run in range(runs) for number, name in enumerate(WORDS)]
    with Pool(2) as pool:
        wanted = [task for task in tasks if task not in kept]
        kept |= dict(zip(wanted, pool.map(done, wanted, chunksize=4), strict=True))
        jobs = [kept[task] for task in tasks]
        flats = pool.map(shape_found, [(FIRST_SEED + seed, False) for seed in range(flat)], chunksize=2)
        bows = pool.map(shape_found, [(FIRST_SEED + flat + seed, True) for seed in range(flat)], chunksize=2)
        slip_tasks = [(words, FIRST_SEED + seed) for words in SLIPS for seed in range(slips)]
        right = pool.map(slip_named, slip_tasks, chunksize=2)
    by_slip = {words: sum(r for (w, _), r in zip(slip_tasks, right, strict=True) if w == words) for words in SLIPS}
    counted = [said for counts, said in bows if counts]
    return TEMPLATE.read_text(encoding="utf-8").format(
        runs=runs,
        flat=flat,
        slips=slips,
        jobs=len(jobs),
        refused=sum(not job.trials for job in jobs),
        version=__version__,
        python=platform.python_version(),
        numpy=np.__version__,
        evidence="\n".join(evidence_rows(jobs)),
        families="\n".join(family_rows([t for job in jobs for t in job.trials])),
        flats=f"{sum(said for _, said in flats)} of {len(flats)}",
        bows=f"{sum(counted)} of {len(counted)}",
        slip_rows="\n".join(
            ["| slip | named |", "|---|---|", *(f"| {w} | {n} of {slips} |" for w, n in by_slip.items())]
        ),
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Measure the accuracy on bowed faces and write its page.")
    parser.add_argument("--runs", type=int, default=22, help="simulated jobs per evidence set")
    parser.add_argument("--flat", type=int, default=40, help="flat jobs, and as many bowed ones, taken as flat")
    parser.add_argument("--slips", type=int, default=20, help="jobs per slip of the hand")
    parser.add_argument("--keep", type=Path, help="file in which measured jobs are kept for another run")
    arguments = parser.parse_args()
    known = pickle.loads(arguments.keep.read_bytes()) if arguments.keep and arguments.keep.exists() else {}
    PAGE.write_text(page(arguments.runs, arguments.flat, arguments.slips, known), encoding="utf-8")
    if arguments.keep:
        arguments.keep.write_bytes(pickle.dumps(known))
    print(PAGE)
