"""
Numbers that carry their sensitivities, so that a formula written once gives value and uncertainty.

A `Propagated` holds a value and its derivatives with respect to all adjusted parameters (forward
differentiation); u² = g C gᵀ is the law of propagation of JCGM 100:2008, 5.2, correlations included, since
common parameters stay common. The functions here take floats too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Union

import numpy as np

from digitizer.adjustment.observations import FloatArray

Number = Union["Propagated", float]


@dataclass(eq=False, slots=True)
class Propagated:
    """A value and its derivatives (n,) with respect to the parameters; never altered, and light, for there are many."""

    value: float
    gradient: FloatArray

    def __float__(self) -> float:
        return self.value

    def __neg__(self) -> Propagated:
        return Propagated(-self.value, -self.gradient)

    def __add__(self, other: Number) -> Propagated:
        if isinstance(other, Propagated):
            return Propagated(self.value + other.value, self.gradient + other.gradient)
        return Propagated(self.value + other, self.gradient)

    __radd__ = __add__

    def __sub__(self, other: Number) -> Propagated:
        if isinstance(other, Propagated):
            return Propagated(self.value - other.value, self.gradient - other.gradient)
        return Propagated(self.value - other, self.gradient)

    def __rsub__(self, other: float) -> Propagated:
        return Propagated(other - self.value, -self.gradient)

    def __mul__(self, other: Number) -> Propagated:
        if isinstance(other, Propagated):
            gradient = self.gradient * other.value + other.gradient * self.value
            return Propagated(self.value * other.value, gradient)
        return Propagated(self.value * other, self.gradient * other)

    __rmul__ = __mul__

    def __truediv__(self, other: Number) -> Propagated:
        if isinstance(other, Propagated):
            ratio = self.value / other.value
            return Propagated(ratio, (self.gradient - other.gradient * ratio) / other.value)
        return Propagated(self.value / other, self.gradient / other)

    def __rtruediv__(self, other: float) -> Propagated:
        ratio = other / self.value
        return Propagated(ratio, self.gradient * (-ratio / self.value))


def sqrt(a: Number) -> Number:
    """Square root; the derivative at zero is taken as zero, where first order says nothing anyway."""
    if not isinstance(a, Propagated):
        return math.sqrt(a)
    root = math.sqrt(a.value)
    return Propagated(root, a.gradient * (0.5 / root if root > 0.0 else 0.0))


def sin(a: Number) -> Number:
    """Sine of an angle in radians."""
    if not isinstance(a, Propagated):
        return math.sin(a)
    return Propagated(math.sin(a.value), a.gradient * math.cos(a.value))


def cos(a: Number) -> Number:
    """Cosine of an angle in radians."""
    if not isinstance(a, Propagated):
        return math.cos(a)
    return Propagated(math.cos(a.value), a.gradient * -math.sin(a.value))


def atan(a: Number) -> Number:
    """Arc tangent, radians."""
    if not isinstance(a, Propagated):
        return math.atan(a)
    return Propagated(math.atan(a.value), a.gradient / (1.0 + a.value**2))


def atan2(y: Number, x: Number) -> Number:
    """Angle of the direction (x, y), radians."""
    angle = math.atan2(float(y), float(x))
    square = float(x) ** 2 + float(y) ** 2
    gradient = _zero_or_gradient(y, float(x) / square) + _zero_or_gradient(x, -float(y) / square)
    return angle if isinstance(gradient, float) else Propagated(angle, gradient)


def hypot(x: Number, y: Number, z: Number = 0.0) -> Number:
    """Length of the vector (x, y, z)."""
    return sqrt(x * x + y * y + z * z)


def dot(weights: Sequence[float], numbers: Sequence[Number]) -> Number:
    """Weighted sum."""
    total: Number = 0.0
    for weight, number in zip(weights, numbers, strict=True):
        total = total + number * weight
    return total


def gradients(numbers: Sequence[Number], size: int) -> FloatArray:
    """Derivatives (k, size) of the numbers; zero rows for plain floats."""
    out = np.zeros((len(numbers), size))
    for row, number in zip(out, numbers, strict=True):
        if isinstance(number, Propagated):
            row[:] = number.gradient
    return out


def _zero_or_gradient(a: Number, factor: float) -> FloatArray | float:
    return a.gradient * factor if isinstance(a, Propagated) else 0.0
