"""
Observations as blocks of whitened equations over one vector of parameters.

A block holds observations of one kind and fills its rows: the residual v = adjusted − observed, divided by
its standard uncertainty, and the derivatives of that. Rows of several blocks are uncorrelated with unit
variance, so the adjustment is ordinary least squares. Nothing here knows what is observed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from digitizer.adjustment.elimination import Plan

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

PATTERN_SEED, NEARBY = 20260101, 1e-3
"""Where derivatives are tried to see which of them are always zero: seed, and part of each unknown (at least of 1)."""
REJECTED_WEIGHT = 1e-5
"""A rejected row keeps this factor: too weak to pull, strong enough to keep its own unknowns determined."""


@dataclass(frozen=True)
class Row:
    """What one row is about, for people."""

    label: str
    subject: str
    """Id of the record it comes from."""
    kind: str
    source: str
    """Heading in uncertainty budgets."""
    unit: str
    u: float
    """Standard uncertainty in `unit`; the whitened residual times u is the residual."""
    observed: float | None = None
    group: str = ""
    """Rows of one group are rejected together, such as the two coordinates of a mark; empty: alone."""
    rejectable: bool = True
    """Whether snooping may set it aside; what is merely assumed of an unknown may not, whatever its w."""
    misread: bool = False
    """A figure read and written by hand: of two errors that can't be told apart, the likelier one."""
    photo: str | None = None
    split: tuple[tuple[str, float], ...] = ()
    """Shares of the variance by source where one row carries several."""


class Block(Protocol):
    """Observations of one kind."""

    @property
    def rows(self) -> Sequence[Row]:
        """Description of each row."""

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """
        Write whitened residuals and derivatives at `x`.

        Parameters
        ----------
        x : (n,)
            All parameters.
        residuals : (m,)
            View to write into.
        jacobian : (m, n) or None
            View to write into, zero on entry; None when only residuals are wanted.
        """


class Priors:
    """Direct observations of single parameters."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self._columns: list[int] = []
        self._values: list[float] = []
        self._arrays: tuple[IntArray, FloatArray, FloatArray] | None = None

    def add(self, column: int, value: float, row: Row) -> None:
        """Observe parameter `column` as `value` with the row's u."""
        self._columns.append(column)
        self._values.append(value)
        self.rows.append(row)
        self._arrays = None

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write (x − value) / u; see `Block.fill`."""
        if self._arrays is None:
            u = np.array([row.u for row in self.rows])
            self._arrays = np.asarray(self._columns, dtype=np.intp), np.asarray(self._values), u
        columns, values, u = self._arrays
        residuals[:] = (x[columns] - values) / u
        if jacobian is not None:
            jacobian[np.arange(len(columns)), columns] = 1.0 / u


class System:
    """
    Blocks joined over one parameter vector.

    Parameters
    ----------
    size
        Number of parameters n.
    blocks
        The observations; blocks without rows are left out.
    """

    def __init__(self, size: int, blocks: Sequence[Block]) -> None:
        self.size = size
        self.blocks = [block for block in blocks if len(block.rows)]
        self.slices: list[slice] = []
        self.rows: list[Row] = []
        for block in self.blocks:
            start = len(self.rows)
            self.rows.extend(block.rows)
            self.slices.append(slice(start, len(self.rows)))
        self._pattern: tuple[IntArray, IntArray] | None = None
        self._scratch: tuple[FloatArray, IntArray] | None = None
        self.plans: dict[bytes, tuple[Plan, IntArray]] = {}
        """Kept by `elimination.planned`: they follow from the pattern."""

    def exchanged(self, blocks: Sequence[Block]) -> System:
        """The same rows with other values behind them, block for block; their descriptions stay as they are."""
        out = copy(self)
        out.blocks = list(blocks)
        return out

    def residuals(self, x: FloatArray) -> FloatArray:
        """Whitened residuals (m,) at `x`."""
        out = np.empty(len(self.rows))
        for block, rows in zip(self.blocks, self.slices, strict=True):
            block.fill(x, out[rows], None)
        return out

    def linearised(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Whitened residuals (m,) and their derivatives (m, n) at `x`."""
        out = np.empty(len(self.rows))
        jacobian = np.zeros((len(self.rows), self.size))
        for block, rows in zip(self.blocks, self.slices, strict=True):
            block.fill(x, out[rows], jacobian[rows])
        return out, jacobian

    def pattern(self, x: FloatArray) -> tuple[IntArray, IntArray]:
        """
        Rows (e,) and columns (e,) of derivatives that aren't always zero, row by row.

        Found once, by differentiating at `x` and at two places near it where nothing is zero by chance; weighed there
        too, because weights may couple what else is apart.
        """
        if self._pattern is None:
            rng = np.random.default_rng(PATTERN_SEED)
            weighed = System(self.size, [copy(block) for block in self.blocks])
            jacobians = [self.linearised(x)[1]]
            for _ in range(2):
                place = x + NEARBY * np.maximum(1.0, np.abs(x)) * rng.uniform(-1.0, 1.0, len(x))
                with np.errstate(all="ignore"):
                    weighed.reweigh(place)
                    jacobians.append(weighed.linearised(place)[1])
            rows, columns = np.nonzero(np.any([jacobian != 0.0 for jacobian in jacobians], axis=0))
            self._pattern = rows, columns
        return self._pattern

    def entries(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Whitened residuals (m,) at `x`, and the derivatives (e,) that `pattern` names."""
        if self._scratch is None:
            rows_of, columns_of = self.pattern(x)
            self._scratch = np.zeros((len(self.rows), self.size)), rows_of * self.size + columns_of
        out, (jacobian, places) = np.empty(len(self.rows)), self._scratch
        for block, rows in zip(self.blocks, self.slices, strict=True):
            block.fill(x, out[rows], jacobian[rows])
        values = jacobian.take(places)
        jacobian.put(places, 0.0)  # blocks expect zeros, and to clear what was written is cheaper than to clear all
        return out, values

    def derivatives(self, x: FloatArray, rows: IntArray, columns: IntArray) -> FloatArray:
        """Derivatives (k, q) of some rows by some parameters."""
        return np.asarray(self.linearised(x)[1][np.ix_(rows, columns)])

    def reweigh(self, x: FloatArray) -> None:
        """Let blocks whose uncertainty depends on the parameters take it at `x`."""
        for block in self.blocks:
            reweigh: Callable[[FloatArray], None] | None = getattr(block, "reweigh", None)
            if reweigh is not None:
                reweigh(x)

    def describe(self) -> None:
        """Take the rows' descriptions anew, after `reweigh` changed what stands behind them."""
        for block, rows in zip(self.blocks, self.slices, strict=True):
            self.rows[rows] = block.rows
