"""First order against draws: the stated u is the scatter of repeated measurements."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitizer.job.model import Mark
from tests.survey.exact import Case, a_case, dimension

REPEATS = 200
CODES = (
    "deadrise_chord_port",
    "deadrise_edge_starboard",
    "a_centre",
    "b_port",
    "chine_beam",
    "top_width",
    "height_centre",
    "crown",
    "keel_from_middle",
    "chine_line_slope",
)


def scattered(case: Case, rng: np.random.Generator) -> Case:
    """The case with every click, corner and reading off by its own uncertainty."""

    def clicked(mark: Mark) -> Mark:
        dx, dy = rng.normal(0.0, mark.u_px, 2)
        return replace(mark, x_px=mark.x_px + dx, y_px=mark.y_px + dy)

    sightings = tuple(
        replace(
            s,
            x_px=tuple((np.array(s.x_px) + rng.normal(0.0, s.u_px)).tolist()),
            y_px=tuple((np.array(s.y_px) + rng.normal(0.0, s.u_px)).tolist()),
        )
        for s in case.sightings
    )
    lengths = tuple(replace(k, length_mm=k.length_mm + rng.normal(0.0, k.u_mm)) for k in case.job.lengths)
    return replace(case.but(marks=tuple(map(clicked, case.job.marks)), lengths=lengths), sightings=sightings)


@pytest.mark.slow
def test_stated_u_is_the_scatter_of_repeats() -> None:
    """
    Over 200 repeats with a board, a string and a tape, the scatter of each figure is the part of its stated u that
    comes from what was repeated (clicks, corners, tape), within four standard errors of a standard deviation (20 %).
    """
    exact = a_case().with_length("chine_port", "chine_starboard")
    sharp = tuple(replace(m, u_definition_mm=0.0, u_height_mm=0.0 if m.height_mm else None) for m in exact.job.marks)
    case = exact.but(marks=sharp)
    rng = np.random.default_rng(20260711)
    surveys = [scattered(case, rng).survey() for _ in range(REPEATS)]
    stated = case.survey()
    repeated = ("clicks on the photo", "target corners", "lengths by rule and tape")
    for code in CODES:
        d = dimension(stated, code)
        expected = sum(c.u**2 for c in d.budget if c.source in repeated) ** 0.5
        found = np.array([dimension(s, code).value for s in surveys])
        assert found.std() == pytest.approx(expected, rel=0.2), code
        assert abs(found.mean() - d.value) < 4.0 * expected / np.sqrt(REPEATS), code
    rejected = sum(any(f.code == "outlier" for f in s.findings) for s in surveys)
    assert rejected < 0.25 * REPEATS  # 0.1 % of some eighty observations each: one job in twelve
