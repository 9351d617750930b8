"""The adjustment itself: the minimum, its covariance, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.adjustment.observations import Priors, Row, System
from digitizer.adjustment.solve import Estimate, RankDefect, adjust
from digitizer.errors import AdjustmentError, NotConvergedError
from tests.adjustment.networks import NIEMEIER, Curve, Distances, linear, rows_named

seeds = st.integers(0, 10**6)


def random_system(seed: int) -> tuple[System, int, int]:
    """A well-posed linear system, its number of rows and of unknowns."""
    random = np.random.default_rng(seed)
    unknowns = int(random.integers(1, 7))
    count = unknowns + int(random.integers(0, 12))
    A = random.normal(size=(count, unknowns)) + 3.0 * np.eye(count, unknowns)
    return System(unknowns, [linear(A, random.normal(size=count), random.uniform(0.1, 3, count))]), count, unknowns


def all_free(system: System) -> np.ndarray:
    return np.ones(system.size, dtype=bool)


def trilateration() -> tuple[System, np.ndarray, np.ndarray]:
    """A fourth point measured from three known ones and from a fifth, all distances true."""
    points = np.array([[0, 0], [1000, 0], [0, 800], [600, 500], [900, 900]], dtype=float)
    ends = np.array([[0, 3], [1, 3], [2, 3], [3, 4], [1, 4], [2, 4]])
    lengths = np.hypot(*(points[ends[:, 1]] - points[ends[:, 0]]).T)
    system = System(10, [Distances(ends, lengths, rows_named([str(end) for end in ends], np.full(6, 2.0)))])
    free = np.repeat([False, False, False, True, True], 2)
    return system, points.ravel(), free


@given(seeds)
def test_linear_minimum_agrees_with_numpy(seed: int) -> None:
    """Parameters and covariance are those of ordinary least squares on the whitened rows."""
    system, count, unknowns = random_system(seed)
    estimate = adjust(system, np.full(unknowns, 5.0), all_free(system))
    minus_l, J = system.linearised(np.zeros(unknowns))
    assert estimate.x == pytest.approx(np.linalg.lstsq(J, -minus_l)[0], abs=1e-6)
    assert estimate.covariance == pytest.approx(np.linalg.inv(J.T @ J), rel=1e-8, abs=1e-12)
    assert estimate.redundancy == pytest.approx(count - unknowns, abs=1e-9)


@given(seeds)
def test_redundancy_numbers_are_the_diagonal_of_the_residual_cofactors(seed: int) -> None:
    """They sum to rows minus unknowns, and each lies between 0 and 1."""
    system, count, unknowns = random_system(seed)
    estimate = adjust(system, np.zeros(unknowns), all_free(system))
    _, J = system.linearised(estimate.x)
    expected = np.diag(np.eye(count) - J @ np.linalg.pinv(J))
    assert estimate.redundancy_numbers == pytest.approx(expected, abs=1e-9)
    assert estimate.redundancy_numbers.sum() == pytest.approx(count - unknowns, abs=1e-9)
    assert np.all((estimate.redundancy_numbers >= 0) & (estimate.redundancy_numbers <= 1))


@given(seeds)
def test_order_of_rows_changes_nothing(seed: int) -> None:
    """A job marked in another order gives the same figures."""
    system, count, unknowns = random_system(seed)
    first = adjust(system, np.zeros(unknowns), all_free(system))
    block = system.blocks[0]
    shuffled = np.random.default_rng(seed + 1).permutation(count)
    other = linear(block.A[shuffled], block.observed[shuffled], np.array([row.u for row in block.rows])[shuffled])
    second = adjust(System(unknowns, [other]), np.zeros(unknowns), all_free(system))
    assert second.x == pytest.approx(first.x, abs=1e-9)
    assert second.covariance == pytest.approx(first.covariance, rel=1e-9, abs=1e-13)
    assert second.redundancy_numbers == pytest.approx(first.redundancy_numbers[shuffled], abs=1e-9)


def test_order_of_parameters_changes_nothing() -> None:
    """Columns exchanged, answers exchanged."""
    random = np.random.default_rng(5)
    A, observed = random.normal(size=(9, 4)), random.normal(size=9)
    order = np.array([2, 0, 3, 1])
    first = adjust(System(4, [linear(A, observed)]), np.zeros(4), np.ones(4, dtype=bool))
    second = adjust(System(4, [linear(A[:, order], observed)]), np.zeros(4), np.ones(4, dtype=bool))
    assert second.x == pytest.approx(first.x[order], abs=1e-9)
    assert second.covariance == pytest.approx(first.covariance[np.ix_(order, order)], abs=1e-12)


def test_trilateration_finds_its_points_from_a_rough_start() -> None:
    """Distances without error give the points they were computed from."""
    system, truth, free = trilateration()
    start = truth.copy()
    start[6:] = [300.0, 300.0, 1000.0, 700.0]
    estimate = adjust(system, start, free)
    assert estimate.x == pytest.approx(truth, abs=1e-6)
    assert estimate.weighted_square_sum < 1e-15
    assert estimate.free.tolist() == [6, 7, 8, 9]


@pytest.mark.parametrize("start", [(-1.2, 1.0), (-3.0, -4.0), (10.0, 10.0)], ids=str)
def test_bent_valley_is_followed_to_its_end(start: tuple[float, float]) -> None:
    """H. Rosenbrock's valley (Computer J. 3 (1960) 175), whose floor is nearly flat."""
    valley = Curve(
        lambda x: np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]]),
        lambda x: np.array([[-20.0 * x[0], 10.0], [-1.0, 0.0]]),
        np.zeros(2),
        np.ones(2),
    )
    estimate = adjust(System(2, [valley]), np.array(start), np.ones(2, dtype=bool))
    assert estimate.x == pytest.approx([1.0, 1.0], abs=1e-4)  # standard uncertainties are 1 and 2


@pytest.mark.parametrize("offset", [1e3, 1e4, 1e5], ids=["1e3", "1e4", "1e5"])
@pytest.mark.parametrize("error", [1.0, 100.0], ids=["good-data", "bad-data"])
@pytest.mark.parametrize("start", [0.0, 0.1, 1e3], ids=lambda s: f"{s:g}u-off")
def test_nearly_dependent_parameters_reach_their_minimum(offset: float, error: float, start: float) -> None:
    """Intercept and slope of a line far from the origin hang together; both still end far inside their uncertainty."""
    t = offset + np.linspace(-1.0, 1.0, 12)
    y = 3.0 + 2.0 * (t - offset) + error * np.random.default_rng(3).normal(size=12)
    A = np.column_stack((np.ones(12), t))
    slope, middle = np.polyfit(t - offset, y, 1)
    truth = np.array([middle - slope * offset, slope])
    u_slope = 1.0 / np.sqrt(np.sum((t - offset) ** 2))
    away = start * u_slope * np.array([-offset, 1.0])
    estimate = adjust(System(2, [linear(A, y)]), truth + away, np.ones(2, dtype=bool))
    u = np.sqrt(np.diag(estimate.covariance))
    assert np.abs(estimate.x - truth) / u == pytest.approx(0.0, abs=1e-3)


@given(seeds)
def test_tiny_prior_acts_as_a_fixed_parameter(seed: int) -> None:
    """A parameter observed to a billionth gives the others the same values and uncertainties as holding it."""
    random = np.random.default_rng(seed)
    block = linear(random.normal(size=(8, 3)) + 3 * np.eye(8, 3), random.normal(size=8))
    held = adjust(System(3, [block]), np.array([0.0, 0.0, 4.0]), np.array([True, True, False]))
    priors = Priors()
    priors.add(2, 4.0, Row("known", "known", "prior", "priors", "mm", 1e-9))
    observed = adjust(System(3, [block, priors]), np.zeros(3), np.ones(3, dtype=bool))
    assert observed.x == pytest.approx(held.x, abs=1e-6)
    assert observed.covariance[:2, :2] == pytest.approx(held.covariance, rel=1e-6)
    assert observed.covariance[2, 2] == pytest.approx(1e-18, rel=1e-6)


def test_held_parameters_stay_and_have_no_variance() -> None:
    """Derivatives by a parameter that isn't adjusted add nothing."""
    system = System(2, [linear(np.array([[1.0, 1.0]]), np.array([5.0]), 2.0)])
    estimate = adjust(system, np.array([0.0, 4.0]), np.array([True, False]))
    assert estimate.x.tolist() == pytest.approx([1.0, 4.0])
    assert estimate.covariance_of(np.array([[1.0, 100.0]])) == pytest.approx(np.array([[4.0]]))


def undetermined(system: System, size: int) -> RankDefect:
    with pytest.raises(RankDefect) as caught:
        adjust(system, np.zeros(size), np.ones(size, dtype=bool))
    return caught.value


def test_level_net_without_a_known_height_may_rise_as_a_whole() -> None:
    """The one direction that nothing determines is all heights together."""
    defect = undetermined(NIEMEIER.system(), 6)
    assert defect.null_space.shape == (6, 1)
    assert np.abs(defect.null_space[:, 0]) == pytest.approx(np.full(6, 6**-0.5))
    assert abs(defect.null_space[:, 0].sum()) == pytest.approx(6**0.5)  # all of one sign
    assert isinstance(defect, AdjustmentError)


def test_parameter_without_observation_is_named() -> None:
    """A column of zeros is its own null space."""
    defect = undetermined(System(3, [linear(np.array([[1.0, 0, 1], [1, 0, -1], [0, 0, 1]]), np.zeros(3))]), 3)
    assert np.abs(defect.null_space[:, 0]).tolist() == [0.0, 1.0, 0.0]
    assert defect.columns.tolist() == [0, 1, 2]


def test_undetermined_sums_span_the_null_space() -> None:
    """Two sums are observed of four parameters; both directions named change neither."""
    A = np.array([[1.0, 1, 0, 0], [0, 0, 1, 2], [1, 1, 1, 2], [2, 2, 0, 0]])
    defect = undetermined(System(4, [linear(A, np.ones(4))]), 4)
    assert defect.null_space.shape == (4, 2)
    assert A @ defect.null_space == pytest.approx(np.zeros((4, 2)), abs=1e-12)
    assert np.linalg.matrix_rank(defect.null_space) == 2
    assert np.linalg.norm(defect.null_space, axis=0) == pytest.approx([1.0, 1.0])


def test_fewer_observations_than_unknowns_are_refused() -> None:
    """One distance can't place a point."""
    assert undetermined(System(2, [linear(np.array([[1.0, 2.0]]), np.ones(1))]), 2).null_space.shape == (2, 1)


def test_weak_but_determined_direction_is_kept() -> None:
    """A thousand times weaker than the rest is an uncertainty, not a defect."""
    estimate = adjust(
        System(2, [linear(np.array([[1.0, 0], [1, 1e-3], [1, -1e-3]]), np.zeros(3))]), np.ones(2), np.ones(2, bool)
    )
    assert np.sqrt(estimate.covariance[1, 1]) == pytest.approx(1e3 / 2**0.5)


def test_rejected_rows_neither_pull_nor_count() -> None:
    """A blunder set aside leaves the mean of the others and their redundancy."""
    system = System(1, [linear(np.ones((4, 1)), np.array([1.0, 2.0, 3.0, 1000.0]))])
    estimate = adjust(system, np.zeros(1), np.ones(1, bool), np.array([False, False, False, True]))
    assert estimate.x[0] == pytest.approx(2.0, abs=1e-6)
    assert estimate.redundancy == pytest.approx(2.0)
    assert estimate.weighted_square_sum == pytest.approx(2.0)
    assert estimate.variance_factor == pytest.approx(1.0)
    assert estimate.used.tolist() == [True, True, True, False]


def test_rejected_row_keeps_its_own_unknown_determined() -> None:
    """Where only the rejected row sees a parameter, the others' results don't suffer."""
    A = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    system = System(2, [linear(A, np.array([1.0, 3.0, 7.0]))])
    estimate = adjust(system, np.zeros(2), np.ones(2, bool), np.array([False, False, True]))
    assert estimate.x == pytest.approx([2.0, 7.0], abs=1e-6)
    assert estimate.redundancy == pytest.approx(1.0)


def test_without_redundancy_the_variance_factor_is_one() -> None:
    """Nothing contradicts, nothing is estimated."""
    estimate = adjust(System(2, [linear(np.eye(2), np.ones(2))]), np.zeros(2), np.ones(2, bool))
    assert estimate.variance_factor == 1.0


def test_influence_is_what_a_changed_observation_does() -> None:
    """Adding one standard uncertainty to an observation moves the quantities by its column."""
    random = np.random.default_rng(8)
    A, observed = random.normal(size=(7, 3)), random.normal(size=7)
    gradients = random.normal(size=(2, 3))

    def quantities(values: np.ndarray) -> tuple[np.ndarray, Estimate]:
        estimate = adjust(System(3, [linear(A, values, 0.5)]), np.zeros(3), np.ones(3, bool))
        return gradients @ estimate.x, estimate

    before, estimate = quantities(observed)
    influence = estimate.influence(gradients)
    for row in range(7):
        changed = observed.copy()
        changed[row] += 0.5
        assert quantities(changed)[0] - before == pytest.approx(influence[:, row], abs=1e-7)
    assert influence @ influence.T == pytest.approx(estimate.covariance_of(gradients), rel=1e-9)


def test_observations_that_never_settle_are_refused_with_the_worst_named() -> None:
    """A residual that falls for ever, by a twentieth each step, without a minimum."""
    runaway = Curve(
        lambda x: np.array([1e6 / (1.0 + abs(x[0])) ** 0.01, 0.0]),
        lambda x: np.array([[-1e4 * np.sign(x[0]) / (1.0 + abs(x[0])) ** 1.01], [0.0]]),
        np.array([0.0, 0.01]),
        np.ones(2),
    )
    with pytest.raises(NotConvergedError, match="worst fit is at 0") as caught:
        adjust(System(1, [runaway]), np.ones(1), np.ones(1, bool))
    assert caught.value.worst == "0"
    assert caught.value.iterations > 10


def test_cancelling_ends_the_work() -> None:
    """The window's cancel button is heard before each step."""
    system, truth, free = trilateration()
    with pytest.raises(InterruptedError):
        adjust(system, truth, free, cancelled=lambda: True)
