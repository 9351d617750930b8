"""Whether an error in an observation would be noticed, and whether one is named only where it can be."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitizer.adjustment.observations import Row, System
from digitizer.adjustment.reliability import (
    Snooped,
    minimal_detectable_errors,
    snooped,
    standardised_residuals,
)
from digitizer.adjustment.solve import adjust
from digitizer.adjustment.statistics import DELTA_0, W_CRITICAL
from tests.adjustment.networks import NIEMEIER, Linear, linear


def rows_of(found: Snooped) -> tuple[int, ...]:
    return tuple(rejection.row for rejection in found.rejections)


def grid(errors: dict[int, float], seed: int = 1, groups: list[str] | None = None) -> System:
    """Heights of a plane observed at 5 × 4 places to u = 1, with errors planted."""
    x, y = np.meshgrid(np.arange(5.0), np.arange(4.0))
    A = np.column_stack((np.ones(20), x.ravel(), y.ravel()))
    observed = A @ [5.0, 1.0, -2.0] + np.random.default_rng(seed).normal(0, 0.5, 20)
    for row, error in errors.items():
        observed[row] += error
    return System(3, [linear(A, observed, 1.0, groups)])


def snoop(system: System) -> Snooped:
    return snooped(system, np.zeros(system.size), np.ones(system.size, dtype=bool))


@pytest.mark.parametrize("error", [8.0, -8.0, 300.0, -1e5], ids=lambda e: f"{e:g}u")
@pytest.mark.parametrize("row", [0, 7, 19], ids=lambda r: f"row-{r}")
def test_planted_error_is_found(row: int, error: float) -> None:
    """One wrong observation of twenty is named, and nothing else."""
    found = snoop(grid({row: error}))
    assert np.flatnonzero(found.rejected).tolist() == [row]
    assert rows_of(found) == (row,)
    assert found.undecided == ()
    assert found.rejections[0].w * error < 0  # residual = adjusted − observed


def test_result_is_that_without_the_wrong_observation() -> None:
    """After rejection it is as if the observation had never been."""
    system = grid({7: 50.0})
    found = snoop(system)
    block = system.blocks[0]
    assert isinstance(block, Linear)
    keep = np.arange(20) != 7
    without = System(3, [linear(block.A[keep], block.observed[keep])])
    expected = adjust(without, np.zeros(3), np.ones(3, dtype=bool))
    assert found.estimate.x == pytest.approx(expected.x, abs=1e-6)
    assert found.estimate.covariance == pytest.approx(expected.covariance, rel=1e-6)
    assert found.estimate.redundancy == pytest.approx(16.0)


def test_several_planted_errors_are_all_found() -> None:
    """One at a time, the largest first."""
    found = snoop(grid({0: 40.0, 7: -25.0, 18: 12.0}))
    assert rows_of(found) == (0, 7, 18)


def test_clean_observations_are_left_alone() -> None:
    """Nothing is rejected where nothing is wrong."""
    found = snoop(grid({}))
    assert not found.rejected.any()
    assert found.undecided == ()


@settings(max_examples=40)
@given(st.integers(0, 10**6), st.integers(0, 19), st.sampled_from([-1.0, 1.0]))
def test_error_of_twice_the_minimal_detectable_size_is_rejected(seed: int, row: int, sign: float) -> None:
    """Wherever it sits and whatever the noise of half the stated u."""
    clean = adjust(grid({}, seed), np.zeros(3), np.ones(3, dtype=bool))
    error = sign * 2.0 * minimal_detectable_errors(clean)[row]
    assert snoop(grid({row: error}, seed)).rejected[row]


def test_minimal_detectable_error_moves_w_by_delta() -> None:
    """By definition: an error of that size shifts its own w by 4.13."""
    before, after = grid({}), adjust(grid({}), np.zeros(3), np.ones(3, dtype=bool))
    size = minimal_detectable_errors(after)[11]
    block = before.blocks[0]
    assert isinstance(block, Linear)
    block.observed[11] -= size
    shifted = adjust(before, np.zeros(3), np.ones(3, dtype=bool))
    change = standardised_residuals(shifted)[11] - standardised_residuals(after)[11]
    assert change == pytest.approx(DELTA_0, abs=1e-6)


def test_observation_without_control_is_said_to_be_unchecked() -> None:
    """A single known length: no w, and no error is large enough to be seen."""
    A = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    estimate = adjust(System(2, [linear(A, np.array([0.0, 1.0, 500.0]))]), np.zeros(2), np.ones(2, dtype=bool))
    assert math.isnan(standardised_residuals(estimate)[2])
    assert minimal_detectable_errors(estimate)[2] == math.inf
    assert minimal_detectable_errors(estimate)[0] == pytest.approx(DELTA_0 * math.sqrt(2))


def test_two_readings_that_differ_accuse_neither() -> None:
    """Which of two is wrong can't be known; both are named as rivals, none is rejected."""
    found = snoop(System(1, [linear(np.ones((2, 1)), np.array([0.0, 30.0]))]))
    assert not found.rejected.any()
    assert [suspicion.rows for suspicion in found.undecided] == [(0, 1)]
    assert abs(found.undecided[0].w) == pytest.approx(30 / math.sqrt(2))


def test_station_with_two_lines_accuses_neither_of_them() -> None:
    """Niemeier's net has one clear misfit round station 1; of its two lines either may be wrong."""
    system = NIEMEIER.system()
    w = standardised_residuals(NIEMEIER.adjusted())
    labels = NIEMEIER.labels()
    assert abs(w[labels.index("1-2")]) == pytest.approx(abs(w[labels.index("1-3")]), abs=1e-6)
    found = snooped(system, NIEMEIER.start(), NIEMEIER.free())
    rejected = {labels[row] for row in np.flatnonzero(found.rejected)}
    assert not rejected & {"1-2", "1-3"}
    assert rejected == {"2-3"}  # the largest |w|, and it stands alone
    assert [r.w for r in found.rejections] == pytest.approx([-6.13], abs=5e-3)
    assert np.nanmax(np.abs(standardised_residuals(found.estimate)[found.estimate.used])) < W_CRITICAL


def test_error_on_a_station_with_two_lines_is_undecided() -> None:
    """With an error planted at 1-2 both its lines are named as rivals and stay in."""
    lines = [(a, b, d + (0.03 if (a, b) == ("1", "2") else 0.0), u) for a, b, d, u in NIEMEIER.lines]
    net = type(NIEMEIER)(lines, NIEMEIER.known)
    labels = net.labels()
    found = snooped(net.system(), net.start(), net.free())
    named = [{labels[row] for row in suspicion.rows} for suspicion in found.undecided]
    assert {"1-2", "1-3"} in named
    assert not {"1-2", "1-3"} & {labels[row] for row in np.flatnonzero(found.rejected)}


def test_of_two_that_tie_the_figure_read_by_hand_goes() -> None:
    """A tape figure and the mark at its end explain an error alike; the figure is the likelier, the mark its rival."""
    system = System(1, [linear(np.ones((2, 1)), np.array([0.0, 30.0]))])
    tape = replace(system.rows[1], misread=True)
    system.rows[1] = system.blocks[0].rows[1] = tape
    found = snoop(system)
    assert rows_of(found) == (1,)
    assert found.rejections[0].rivals == (0,)


def test_coordinates_of_one_mark_go_together() -> None:
    """Rows of a group are rejected together, though one of them alone is off."""
    groups = [f"mark {row // 2}" for row in range(20)]
    found = snoop(grid({6: 60.0}, groups=groups))
    assert np.flatnonzero(found.rejected).tolist() == [6, 7]
    assert rows_of(found) == (6,)


def test_protected_rows_are_never_rejected() -> None:
    """An assumption isn't an observation that somebody misread."""
    system = grid({7: 50.0})
    row = system.rows[7]
    protected = Row(row.label, row.subject, row.kind, row.source, row.unit, row.u, rejectable=False)
    system.rows[7] = system.blocks[0].rows[7] = protected
    assert not snoop(system).rejected[7]


def test_wrongly_rejected_observation_comes_back() -> None:
    """Three errors make a good reading of a line look wrong on the way; in the end only the three are set aside."""
    A = np.column_stack((np.ones(9), np.arange(9.0)))
    observed = np.array([0.0, 0, 0, 0, 0, -10, 9, 0, -10])
    found = snoop(System(2, [linear(A, observed)]))
    assert sorted(rows_of(found)) == [5, 6, 8]
    assert np.flatnonzero(found.rejected).tolist() == [5, 6, 8]
    assert len(found.rejections) == 3
    assert found.estimate.x == pytest.approx([0.0, 0.0], abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_nothing_stays_rejected_that_fits(seed: int) -> None:
    """Whatever was set aside does not fit what is left, when two or more were."""
    random = np.random.default_rng(seed)
    A = np.column_stack((np.ones(9), np.arange(9.0)))
    observed = np.zeros(9)
    observed[random.choice(9, 3, replace=False)] = random.integers(-12, 13, 3)
    system = System(2, [linear(A, observed)])
    found = snoop(system)
    for row in rows_of(found) if len(found.rejections) > 1 else ():
        one_back = found.rejected.copy()
        one_back[row] = False
        with_it = adjust(system, found.estimate.x, np.ones(2, dtype=bool), one_back)
        assert abs(standardised_residuals(with_it)[row]) > W_CRITICAL


def test_data_that_contradict_everywhere_are_not_weeded_out() -> None:
    """Where more than a dozen would have to go, an assumption is wrong: none goes, and that is said."""
    random = np.random.default_rng(4)
    found = snoop(System(1, [linear(np.ones((40, 1)), random.normal(0, 1e3, 40))]))
    assert found.too_many
    assert not found.rejected.any()
    assert found.rejections == ()


def test_suspects_come_back_when_they_fit() -> None:
    """Rows set aside from the start stay out only where they misfit the rest."""
    system = grid({7: 60.0})
    suspects = np.zeros(len(system.rows), dtype=bool)
    suspects[[3, 7]] = True
    found = snooped(system, np.zeros(system.size), np.ones(system.size, dtype=bool), suspects=suspects)
    assert np.flatnonzero(found.rejected).tolist() == [7]
    assert [r.row for r in found.rejections] == [7]
