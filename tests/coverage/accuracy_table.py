"""
Writes docs/explanation/accuracy.md: ``python -m tests.coverage.accuracy_table [--runs 60] [--hands 12]``.

Simulated jobs over every evidence set and repeated clicks on the sample photos, each measured by the program and
compared with the exact truth. Takes a few minutes.
"""

from __future__ import annotations

import argparse
import platform
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import numpy as np

from digitizer import __version__
from digitizer.survey.model import Survey
from tests.coverage.samples import MEASURED, clicked, point_errors, sample_truth, snapped
from tests.coverage.trials import (
    DEADRISE,
    REFUSED,
    Trial,
    blunder,
    covered,
    errors,
    simulated_trials,
    trials,
    within_95,
    worst_fitting,
)
from tests.simulation.evidence import REAL, STRICT

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "accuracy.md"
TEMPLATE = Path(__file__).with_name("accuracy_page.md")
FIRST_SEED = 1000
QUANTILE_DOUBT = 95.0
"""Relative standard uncertainty, %, of the 95 % point of |error| from one normal sample: √(p(1 − p)) / (x·density)."""


@dataclass(frozen=True)
class Expected:
    """A row of the method's table of what to expect, 95 %: degrees, mm, mm."""

    words: str
    deadrise: float
    beam: float
    fitting: float


EXPECTED: dict[str, Expected] = {
    "board": Expected("board at the middle, clicks 0.7 px", 0.19, 15.0, 4.7),
    "board_string": Expected("+ string marked along its length", 0.17, 10.0, 3.9),
    "board_string_rule": Expected("+ one rule 1.9 m ± 1 mm across", 0.15, 5.0, 3.1),
    "board_string_rule_mirror": Expected("+ mirror pairs ± 3 mm and beam by tape ± 2 mm", 0.13, 3.7, 2.4),
    "snapped": Expected("the same, clicks 0.3 px", 0.07, 3.4, 1.5),
    "four_markers": Expected("four markers near the corners, distances known", 0.12, 2.5, 2.4),
    "square": Expected("carpenter's square 1000 × 600 mm, photo declared square ± 3°", 0.4, 24.0, 9.5),
    "rule_mirror_beam": Expected("rule, mirror pairs ± 3 mm, beam by tape ± 2 mm", 0.22, 4.0, 4.1),
    "seven_tapes": Expected("seven tape lengths ± 2 mm, focal length unknown", 0.17, 3.5, 3.1),
    "rule_exif_square": Expected('rule, EXIF, mirror pairs, "roughly square ± 5°"', 0.5, 47.0, 14.0),
}

SAMPLE_ROWS = {
    "flat_square_on": ("board, string and rule", 2.4, 1.0, 0.11),
    "flat_oblique_wide": ("board, string and rule", 2.7, 1.1, 0.12),
    "tape_only": ("string and seven tape figures", None, None, None),
}
"""Rms of chines, fittings (mm) and deadrise (degrees) that a quick adjustment with board and string reached."""


def evidence_rows(strict: dict[str, list[Trial]]) -> Iterator[str]:
    """Errors against theory, one line per evidence set."""
    yield "| evidence | deadrise: error / theory = ratio | chine beam | worst fitting | intervals that hold the truth |"
    yield "|---|---|---|---|---|"
    for name, row in EXPECTED.items():
        found = strict[name]
        figures = (
            (within_95(errors(found, *DEADRISE)), row.deadrise, "{:.3f}° / {:.2f}°"),
            (within_95(errors(found, "chine_beam")), row.beam, "{:.1f} / {:g} mm"),
            (within_95(errors(found, worst_fitting(found))), row.fitting, "{:.1f} / {:g} mm"),
        )
        cells = [f"{form.format(error, theory)} = {error / theory:.2f}" for error, theory, form in figures]
        yield f"| {row.words} | {' | '.join(cells)} | {percent(found)} |"


def percent(found: Iterable[Trial]) -> str:
    hits, count = covered(found)
    return f"{100 * hits / count:.1f} % of {count}" if count else "none"


def dimension_rows(strict: dict[str, list[Trial]], real: dict[str, list[Trial]]) -> Iterator[str]:
    """Coverage, one line per dimension."""
    yield "| dimension | clicks only | everything drawn | rms of error / u |"
    yield "|---|---|---|---|"
    pools = [[t for found in group.values() for t in found] for group in (strict, real)]
    for code in sorted({trial.code for pool in pools for trial in pool} - {REFUSED}):
        one, other = ([t for t in pool if t.code == code] for pool in pools)
        ratio = np.sqrt(np.mean([(t.error / t.u) ** 2 for t in [*one, *other]]))
        yield f"| `{code}` | {percent(one)} | {percent(other)} | {ratio:.2f} |"


def sample_rows(hands: int) -> Iterator[str]:
    """Root mean square errors on the sample photos, one line per photo."""
    yield "| photo, evidence | chines, rms | fittings, rms | deadrise, rms | intervals that hold the truth |"
    yield "|---|---|---|---|---|"
    for name in MEASURED:
        words, *quick = SAMPLE_ROWS[name]
        yield sample_row(f"`{name}`: {words}, clicked", name, [clicked(name, seed) for seed in range(hands)], quick)
        again = [snapped(name, seed) for seed in range(max(hands // 2, 1))]
        yield sample_row("the same marks snapped to the edges", name, again, [None] * len(quick))


def sample_row(words: str, name: str, surveys: list[Survey], quick: list[float | None]) -> str:
    """Errors of several surveys of one sample, with what the quick adjustment reached in brackets."""
    truth = sample_truth(name)
    found = [trial for survey in surveys for trial in trials(survey, truth)]
    chines = [point_errors(survey, name, "chine_port", "chine_starboard") for survey in surveys]
    centres = [t.error for t in found if t.code.endswith((".x", ".y"))]
    measured = (rms(chines), rms(centres), rms(errors(found, *DEADRISE)))
    forms = ("{:.1f} mm", "{:.1f} mm", "{:.2f}°")
    cells = [
        form.format(value) + (f" ({form.format(was)})" if was is not None else "")
        for form, value, was in zip(forms, measured, quick, strict=True)
    ]
    return f"| {words} | {' | '.join(cells)} | {percent(found)} |"


def rms(values: object) -> float:
    return float(np.sqrt(np.mean(np.square(np.asarray(values)))))


def page(runs: int, hands: int) -> str:
    """The page as it will be published."""
    real_runs = max(runs // 2, 1)
    # Each set draws its own jobs, so that the jobs behind one dimension are all different.
    seeds = {name: range(first, first + runs) for name, first in zip(EXPECTED, count(FIRST_SEED, 1000), strict=False)}
    strict = {name: progress(name, simulated_trials(name, seeds[name], STRICT)) for name in EXPECTED}
    real = {name: progress(name, simulated_trials(name, seeds[name][:real_runs], REAL)) for name in EXPECTED}
    misread = [blunder(seed) for seed in range(FIRST_SEED, FIRST_SEED + 2 * runs)]
    detectable = [b for b in misread if b.detectable_mm < 25.0]
    named = sum(b.named for b in detectable)
    return TEMPLATE.read_text(encoding="utf-8").format(
        runs=runs,
        real_runs=real_runs,
        hands=hands,
        version=__version__,
        python=platform.python_version(),
        numpy=np.__version__,
        doubt=round(QUANTILE_DOUBT / np.sqrt(runs)),
        doubt_deadrise=round(QUANTILE_DOUBT / np.sqrt(2 * runs)),
        evidence="\n".join(evidence_rows(strict)),
        dimensions="\n".join(dimension_rows(strict, real)),
        samples="\n".join(sample_rows(hands)),
        blunders=2 * runs,
        refused=sum(t.code == REFUSED for group in (strict, real) for found in group.values() for t in found),
        detectable=len(detectable),
        named=named,
        named_percent=round(100 * named / max(len(detectable), 1)),
    )


def progress(name: str, found: list[Trial]) -> list[Trial]:
    print(f"{name}: {percent(found)}", flush=True)
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Measure the accuracy and write docs/explanation/accuracy.md.")
    parser.add_argument("--runs", type=int, default=60, help="simulated jobs per evidence set")
    parser.add_argument("--hands", type=int, default=12, help="repetitions on each sample photo")
    arguments = parser.parse_args()
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(page(arguments.runs, arguments.hands), encoding="utf-8")
    print(PAGE)
