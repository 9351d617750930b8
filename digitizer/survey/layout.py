"""The parameter vector under construction: a column for each unknown, its start value, and whether it is free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from digitizer.adjustment.observations import BoolArray, FloatArray, IntArray, Priors, Row


class Layout:
    """Columns by name; the priors that observe single columns grow with them."""

    def __init__(self) -> None:
        self.names: list[str] = []
        self.values: list[float] = []
        self.is_free: list[bool] = []
        self.priors = Priors()

    def add(self, name: str, value: float, free: bool = True) -> int:
        """Take a new column and return its index."""
        self.names.append(name)
        self.values.append(value)
        self.is_free.append(free)
        return len(self.names) - 1

    def add_all(self, names: Sequence[str], values: Sequence[float]) -> IntArray:
        """Take several columns in a row."""
        return np.array([self.add(name, value) for name, value in zip(names, values, strict=True)], dtype=np.intp)

    def known(self, name: str, value: float, row: Row) -> int:
        """Take a column with a prior; fixed where the row's u is zero."""
        column = self.add(name, value, free=row.u > 0.0)
        if row.u > 0.0:
            self.priors.add(column, value, replace(row, rejectable=False))
        return column

    @property
    def start(self) -> FloatArray:
        """Start values (n,)."""
        return np.array(self.values)

    @property
    def free(self) -> BoolArray:
        """Free columns (n,)."""
        return np.array(self.is_free, dtype=bool)
