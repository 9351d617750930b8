"""
Jobs of several photos solved a second time by a bundle adjustment that shares nothing with the program.

Its camera is OpenCV's, its surface and its frame are the simulation's, its derivatives are difference quotients, and
its solver is SciPy's trust region; what it is asked to fit are the same observations with the same uncertainties.
General bundle adjusters know points in space only, not a face, rims or lines with uncertainties of their own, so the
equations are written out here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from digitizer.job.model import FaceKind
from digitizer.survey.model import Survey
from tests.builders import FloatArray
from tests.coverage.theory import Flat, whitened_observations
from tests.coverage.trials import measured, survey_of
from tests.simulation.bowed_jobs import SimulatedBow, simulated_bow

PART_OF_U = 0.1


def second_opinion(job: SimulatedBow) -> dict[str, float]:
    """Dimensions from the other adjustment, mm and degrees."""
    scene = job.scene
    scene.theta["string"][1] = 0.0  # both take the bow's axis as square to the reference line
    unknowns = Flat(scene)
    assert job.job.face.kind is FaceKind.BOWED
    nominal = np.concatenate([scene.nominal[name][mask] for name, mask in unknowns.moving.items()])
    start = np.concatenate([scene.theta[name][mask] for name, mask in unknowns.moving.items()])

    def misfit(step: FloatArray) -> FloatArray:
        away = (start + step * unknowns.unit - nominal) / unknowns.unit
        observed = whitened_observations(scene, unknowns.theta(step)) - job.observed
        return np.concatenate([observed, away * unknowns.weight])

    found = least_squares(
        misfit, np.zeros(unknowns.size), method="trf", x_scale="jac", xtol=1e-8, ftol=1e-9, gtol=1e-6, max_nfev=40
    )
    assert found.success
    return scene.dimensions(unknowns.theta(found.x))


def untouched(survey: Survey) -> bool:
    """Whether nothing was set aside."""
    return not {"outlier", "undecided", "target_slipped"} & {f.code for f in survey.findings}


@pytest.mark.slow
def test_another_adjustment_agrees() -> None:
    """Every dimension that both give agrees to a tenth of its u; the crown is asked of the scene, not of its marks."""
    job, survey = next((j, s) for j in (simulated_bow(n, "two") for n in range(3, 30)) if untouched(s := survey_of(j)))
    other = second_opinion(job)
    both = {code: d for code, d in measured(survey) if code in other and code != "crown"}
    assert len(both) > 30
    for code, d in both.items():
        assert abs(d.value - other[code]) < PART_OF_U * d.u, code
