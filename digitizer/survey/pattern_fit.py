"""
A pattern laid on the measured outline: a turn and a shift, never a change of scale.

By marks that were made on it at known places, or by least squares of its distances from the outline (as in the
iterative closest point of Besl and McKay 1992, with distances taken along fixed ways out, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray, IntArray

REACH_MM = 150.0
"""Farther off than this, a place of the outline has no counterpart on the pattern."""
BEYOND_END_MM = 30.0
"""How far an open edge is carried on straight past its last mark to meet a way out."""
ENOUGH = 0.7
"""Part of the stations that a fit must meet, of those that the best of the starts meets."""
_STEPS = 40
_SETTLED = 1e-7


@dataclass(frozen=True)
class Placing:
    """Turn (rad) and shift (2,) that put a pattern's own coordinates, turned over first if mirrored, on the transom."""

    turn: float
    shift: FloatArray
    mirrored: bool = False

    @property
    def matrix(self) -> FloatArray:
        """What a step (2,) of the pattern's own coordinates becomes (2, 2)."""
        c, s = math.cos(self.turn), math.sin(self.turn)
        over = np.diag([-1.0, 1.0]) if self.mirrored else np.eye(2)
        return np.asarray(np.array([[c, -s], [s, c]]) @ over)

    def of(self, own: FloatArray) -> FloatArray:
        """Places (n, 2) on the transom."""
        return np.asarray(own @ self.matrix.T + self.shift)

    def derivative(self, placed: FloatArray) -> FloatArray:
        """Derivatives (n, 2, 3) of places by the shift and the turn."""
        rest = placed - self.shift
        out = np.zeros((len(placed), 2, 3))
        out[:, 0, 0] = out[:, 1, 1] = 1.0
        out[:, 0, 2], out[:, 1, 2] = -rest[:, 1], rest[:, 0]
        return out

    def moved(self, step: FloatArray) -> Placing:
        """The placing after a step (3,) of shift and turn."""
        return Placing(self.turn + float(step[2]), self.shift + step[:2], self.mirrored)


@dataclass(frozen=True)
class Met:
    """
    Where ways out of the outline meet the pattern's edge.

    Attributes
    ----------
    which : (k,)
        The stations that meet it.
    first, second : (k,)
        Marks at the ends of the piece that is met.
    share : (k,)
        How far along that piece.
    off : (k,), mm
        Distance out.
    slope : (k, 2)
        Derivative of the distance by a step of the pattern there; of the outline there, the opposite.
    """

    which: IntArray
    first: IntArray
    second: IntArray
    share: FloatArray
    off: FloatArray
    slope: FloatArray


def met(edge: FloatArray, closed: bool, places: FloatArray, outward: FloatArray) -> Met:
    """
    Where ways out of the outline meet a pattern's edge nearest.

    Parameters
    ----------
    edge : (n, 2), mm
        Its marks in order, on the transom.
    closed
        It goes all the way round.
    places, outward : (k, 2)
        Of the stations.
    """
    ends = np.roll(np.arange(len(edge)), -1)
    first = np.arange(len(edge) if closed else len(edge) - 1)
    second = ends[first]
    a, along = edge[first], edge[second] - edge[first]
    length = np.hypot(along[:, 0], along[:, 1])
    low, high = np.zeros(len(first)), np.ones(len(first))
    if not closed:
        low[0], high[-1] = -BEYOND_END_MM / max(length[0], 1.0), 1.0 + BEYOND_END_MM / max(length[-1], 1.0)
    # place + off · outward = a + share · along, for every station (rows) and every piece (columns)
    det = outward[:, 1:] * along[None, :, 0] - outward[:, :1] * along[None, :, 1]
    gap = a[None] - places[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        off = (gap[:, :, 1] * along[None, :, 0] - gap[:, :, 0] * along[None, :, 1]) / det
        share = (outward[:, :1] * gap[:, :, 1] - outward[:, 1:] * gap[:, :, 0]) / det
    good = np.isfinite(off) & (share >= low) & (share <= high) & (np.abs(off) <= REACH_MM) & (length > 0.0)
    nearest = np.argmin(np.where(good, np.abs(off), np.inf), axis=1)
    which = np.flatnonzero(good[np.arange(len(places)), nearest])
    piece = nearest[which]
    square = np.column_stack([along[piece, 1], -along[piece, 0]])
    slope = square / np.einsum("ij,ij->i", square, outward[which])[:, None]
    return Met(which, first[piece], second[piece], share[which, piece], off[which, piece], slope)


def by_edge(own: FloatArray, closed: bool, places: FloatArray, outward: FloatArray, mirrored: bool) -> Placing | None:
    """
    The placing with the least mean square of distances from the outline; None where none meets it.

    Started from the middles and main directions of both, either end first.
    """
    found = []
    for end in (0.0, math.pi):
        placing = _started(own, places, mirrored, end)
        for _ in range(_STEPS):
            m = met(placing.of(own), closed, places, outward)
            if len(m.which) < 3:
                break
            step = np.asarray(np.linalg.lstsq(by_placing(m, placing, own), -m.off, rcond=None)[0], dtype=np.float64)
            placing = placing.moved(step)
            if float(np.abs(step * (1.0, 1.0, 1000.0)).max()) < _SETTLED:
                break
        m = met(placing.of(own), closed, places, outward)
        found.append((len(m.which), rms(m.off), placing))
    most = max(count for count, _, _ in found)
    able = [(misfit, i) for i, (count, misfit, _) in enumerate(found) if count >= max(3, ENOUGH * most)]
    return found[min(able)[1]][2] if able else None


def _started(own: FloatArray, places: FloatArray, mirrored: bool, end: float) -> Placing:
    turned = Placing(0.0, np.zeros(2), mirrored).of(own)
    turn = _direction(places) - _direction(turned) + end
    plain = Placing(turn, np.zeros(2), mirrored)
    return Placing(turn, _middle(places) - _middle(plain.of(own)), mirrored)


def _middle(places: FloatArray) -> FloatArray:
    return np.asarray((places.max(axis=0) + places.min(axis=0)) / 2.0)


def _direction(places: FloatArray) -> float:
    """Angle of the main axis of some places, rad."""
    axis = np.linalg.svd(places - places.mean(axis=0), full_matrices=False)[2][0]
    return math.atan2(axis[1], axis[0])


def by_placing(m: Met, placing: Placing, own: FloatArray) -> FloatArray:
    """Derivatives (k, 3) of the distances by shift and turn."""
    placed = placing.of(own)
    at = placed[m.first] + m.share[:, None] * (placed[m.second] - placed[m.first])
    return np.asarray(np.einsum("ki,kij->kj", m.slope, placing.derivative(at)))


def by_marks(
    own: FloatArray, wanted: FloatArray, seen: FloatArray, mirrored: bool, start: Placing | None
) -> Placing | None:
    """
    The placing that puts marks where they were made, by least squares; None where they leave a shift or turn open.

    Parameters
    ----------
    own : (n, 2), mm
        The marks on the pattern.
    wanted : (n, 2), mm
        Where they were made on the transom.
    seen : (n, 2)
        Whether x and y count: one of them alone for a mark on a line.
    start
        Where to begin if fewer than two marks are points.
    """
    points = np.flatnonzero(seen.all(axis=1))
    placing = _procrustes(own[points], wanted[points], mirrored) if len(points) >= 2 else start
    if placing is None:
        return None
    rows = seen.ravel()
    for _ in range(_STEPS):
        placed = placing.of(own)
        design = placing.derivative(placed).reshape(-1, 3)[rows]
        if not holds(design):
            return None
        step = np.asarray(np.linalg.lstsq(design, (wanted - placed).ravel()[rows], rcond=None)[0], dtype=np.float64)
        placing = placing.moved(step)
        if float(np.abs(step * (1.0, 1.0, 1000.0)).max()) < _SETTLED:
            break
    return placing


def holds(design: FloatArray) -> bool:
    """Whether rows (n, 3) fix shift and turn: turned by 0.001 rad about any point, some mark moves by 0.05 mm."""
    if len(design) < 3:
        return False
    return bool(np.linalg.svd(design * (1.0, 1.0, 1e-3), compute_uv=False)[2] > 0.05)


def _procrustes(own: FloatArray, wanted: FloatArray, mirrored: bool) -> Placing:
    """Shift and turn that put points onto others best (Kabsch 1976 in the plane, from memory)."""
    a = Placing(0.0, np.zeros(2), mirrored).of(own)
    p, q = a - a.mean(axis=0), wanted - wanted.mean(axis=0)
    turn = math.atan2(float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])), float(np.sum(p * q)))
    plain = Placing(turn, np.zeros(2), mirrored)
    return Placing(turn, wanted.mean(axis=0) - plain.of(own).mean(axis=0), mirrored)


def rms(values: FloatArray) -> float:
    """Root mean square; infinite of nothing."""
    return float(np.sqrt(np.mean(values**2))) if len(values) else math.inf
