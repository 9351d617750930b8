"""All points placed at once, beside the same formula point by point."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.points import PointTable, parameter
from digitizer.adjustment.propagation import Number, Propagated
from digitizer.survey.placing import placed
from digitizer.transom.surface import Bowed
from digitizer.transom.system import Place, TransomSystem

CURVATURE, TURN, LIFT = 0, 1, 2
X = np.array([2e-4, 0.02, 12.0, *np.random.default_rng(5).uniform(-800.0, 800.0, 11)])
COLUMNS = np.array([[3, 4, -1], [5, 6, 7], [8, 9, -1], [-1, 10, 7], [11, 12, 13]])
CONSTANTS = np.array([[0.0, 0.0, 0.0], [0, 0, 0], [0, 0, 3.0], [-1000.0, 0, 0], [0, 0, 0]])


def gradient(number: Number) -> FloatArray:
    return number.gradient if isinstance(number, Propagated) else np.zeros(len(X))


@pytest.mark.parametrize("bowed", [False, True], ids=["flat", "bowed"])
@pytest.mark.parametrize("lifted", [False, True], ids=["on the face", "on a pad"])
@pytest.mark.parametrize("developed", [False, True], ids=["in space", "rolled flat"])
def test_as_point_by_point(bowed: bool, lifted: bool, developed: bool) -> None:
    """Places and their sensitivities are those of `TransomSystem.of` for each point by itself."""
    surface = Bowed(np.array([CURVATURE]), 40.0) if bowed else None
    lifts = np.array([-1, LIFT, -1, LIFT, -1]) if lifted else np.empty(0, dtype=np.intp)
    table = PointTable(COLUMNS, CONSTANTS, surface, lifts)
    origin = Place(*table.propagated_chart(X, 0))
    turn = parameter(X, TURN)
    system = TransomSystem(origin, turn)
    if bowed and not developed:
        yaw = parameter(X, CURVATURE) * (origin.x - 40.0)
        system = TransomSystem(Place(*table.in_space(X, (origin.x, origin.y, 0.0))), turn, yaw)
    for i, place in enumerate(placed(table, X, list(range(len(COLUMNS))), system, developed)):
        chart = table.propagated_chart(X, i)
        one = system.of(Place(*(chart if developed else table.in_space(X, chart))))
        assert [float(c) for c in place] == pytest.approx([float(c) for c in one], abs=1e-9)
        for number, other in zip(place, one, strict=True):
            assert gradient(number) == pytest.approx(gradient(other), abs=1e-9)
