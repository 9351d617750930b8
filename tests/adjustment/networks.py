"""Small networks to adjust: linear observations, levelling, distances in the plane, curves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from digitizer.adjustment.observations import Row, System
from digitizer.adjustment.solve import Estimate, adjust

FloatArray = NDArray[np.float64]


def rows_named(labels: Sequence[str], u: Sequence[float], groups: Sequence[str] | None = None) -> list[Row]:
    """Rows with these labels and standard uncertainties."""
    groups = groups or [""] * len(labels)
    return [
        Row(label, label, "test", f"source {i}", "mm", float(uu), group=group)
        for i, (label, uu, group) in enumerate(zip(labels, u, groups, strict=True))
    ]


@dataclass
class Linear:
    """Observations A·x = l."""

    A: FloatArray
    observed: FloatArray
    rows: list[Row]

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        u = np.array([row.u for row in self.rows])
        residuals[:] = (self.A @ x - self.observed) / u
        if jacobian is not None:
            jacobian[:] = self.A / u[:, None]


def linear(
    A: FloatArray, observed: FloatArray, u: FloatArray | float = 1.0, groups: Sequence[str] | None = None
) -> Linear:
    """Linear observations with rows named after their number."""
    rows = rows_named([str(i) for i in range(len(A))], np.broadcast_to(u, (len(A),)), groups)
    return Linear(np.asarray(A, float), np.asarray(observed, float), rows)


@dataclass
class Curve:
    """Observations y = f(x, parameters), with derivatives by the parameters."""

    value: Callable[[FloatArray], FloatArray]
    derivatives: Callable[[FloatArray], FloatArray]
    observed: FloatArray
    u: FloatArray
    rows: list[Row] = field(init=False)

    def __post_init__(self) -> None:
        self.rows = rows_named([str(i) for i in range(len(self.observed))], self.u)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        residuals[:] = (self.value(x) - self.observed) / self.u
        if jacobian is not None:
            jacobian[:] = self.derivatives(x) / self.u[:, None]


@dataclass
class Distances:
    """Distances between points in the plane; parameters are x and y of all points."""

    ends: NDArray[np.intp]
    observed: FloatArray
    rows: list[Row]

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        points = x.reshape(-1, 2)
        along = points[self.ends[:, 1]] - points[self.ends[:, 0]]
        length = np.hypot(*along.T)
        u = np.array([row.u for row in self.rows])
        residuals[:] = (length - self.observed) / u
        if jacobian is not None:
            unit = along / (length * u)[:, None]
            for row, ((start, end), direction) in enumerate(zip(self.ends, unit, strict=True)):
                jacobian[row, 2 * end : 2 * end + 2] = direction
                jacobian[row, 2 * start : 2 * start + 2] = -direction


@dataclass
class LevelNet:
    """Height differences between named stations, one of them with a known height."""

    lines: Sequence[tuple[str, str, float, float]]
    """From, to, difference, standard uncertainty."""
    known: tuple[str, float]

    def __post_init__(self) -> None:
        self.stations = sorted({name for line in self.lines for name in line[:2]})

    def system(self) -> System:
        A = np.zeros((len(self.lines), len(self.stations)))
        for row, (start, end, _, _) in zip(A, self.lines, strict=True):
            row[self.stations.index(end)], row[self.stations.index(start)] = 1.0, -1.0
        labels = [f"{start}-{end}" for start, end, _, _ in self.lines]
        _, _, differences, u = zip(*self.lines, strict=True)
        return System(len(self.stations), [Linear(A, np.array(differences), rows_named(labels, u))])

    def start(self) -> FloatArray:
        return np.full(len(self.stations), self.known[1])

    def free(self) -> NDArray[np.bool_]:
        return np.array([name != self.known[0] for name in self.stations])

    def adjusted(self) -> Estimate:
        return adjust(self.system(), self.start(), self.free())

    def labels(self) -> list[str]:
        return [f"{start}-{end}" for start, end, _, _ in self.lines]


def residuals_in_units(system: System, estimate: Estimate) -> FloatArray:
    """Residuals v = adjusted − observed in the observations' unit."""
    return np.asarray(estimate.residuals * np.array([row.u for row in system.rows]))


NIEMEIER = LevelNet(
    [
        (start, end, difference, 1e-3 * kilometres**0.5)  # m; 1 mm per root kilometre
        for start, end, difference, kilometres in [
            ("1", "2", -8.206, 0.621118),
            ("1", "3", -5.734, 1.204819),
            ("2", "3", 2.481, 0.450450),
            ("2", "4", -4.433, 0.8),
            ("3", "4", -6.909, 1.0),
            ("3", "5", -18.872, 1.098901),
            ("3", "6", 4.035, 0.440529),
            ("4", "5", -11.962, 0.719424),
            ("5", "6", 22.904, 0.833333),
        ]
    ],
    ("6", 67.228),
)
"""W. Niemeier, Ausgleichungsrechnung, 2nd ed., 2008, pp. 153 ff."""
