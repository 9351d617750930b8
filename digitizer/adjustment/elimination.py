"""
Points eliminated before cameras: the sparse algebra behind an adjustment of many photos.

Most unknowns are of the kind that few rows speak of and that meet no other of their kind, such as the place of one
mark. Each such group is taken out by an orthogonal factorisation of its own few rows; what is left of these rows
speaks of the shared unknowns only (cameras, shape, lines) and goes into one small factorisation. Orthogonal
throughout, so that nothing is lost that a factorisation of the whole would keep; the work grows with the rows.

References
----------
G. Golub and R. Plemmons, Linear Algebra Appl. 34 (1980) 3 (block angular orthogonal factorisation, after Helmert);
Å. Björck, Numerical Methods for Least Squares Problems, SIAM 1996, sect. 6.3.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import linalg, sparse

from digitizer.adjustment.observations import FloatArray, IntArray, System

LARGEST_GROUP = 3
"""Unknowns of one group: the coordinates of a point."""
NO_DAMPING = 1e-7
"""Damping below this is for the shared unknowns alone: it would not change a settled group's share."""
MOST_ROWS = 64
"""Rows of one group; what more rows speak of is shared."""
SPARSE = 0.2
"""Part of the matrix left over that is filled, above which it is multiplied as a full one: measured."""
GROUP_RANK = 1e-7
"""A pivot within a group below this part of its largest leaves the group to the shared factorisation."""


@dataclass(frozen=True)
class Batch:
    """
    Groups of one size: `rows` (g, k) and local `columns` (g, d); `shared` (g, c) of the rest, padded with a spare one.

    `own` and `other` say where entries of the pattern go: (flat place in the batch's array, entry).
    """

    rows: IntArray
    columns: IntArray
    shared: IntArray
    own: tuple[IntArray, IntArray]
    other: tuple[IntArray, IntArray]

    def blocks(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Derivatives by the groups' own unknowns (g, k, d) and by shared ones (g, k, c)."""
        g, k = self.rows.shape
        own, other = np.zeros((g, k, self.columns.shape[1])), np.zeros((g, k, self.shared.shape[1]))
        own.ravel()[self.own[0]] = values[self.own[1]]
        other.ravel()[self.other[0]] = values[self.other[1]]
        return own, other


class Plan:
    """
    Which unknowns are taken out in groups, for one pattern of derivatives.

    Parameters
    ----------
    row_of, column_of : (e,)
        Entries of the pattern, row by row; columns count the adjusted unknowns.
    shape
        Rows m and unknowns p.
    kept
        Columns that are not to be taken out.
    """

    def __init__(
        self, row_of: IntArray, column_of: IntArray, shape: tuple[int, int], kept: frozenset[int] = frozenset()
    ) -> None:
        self.row_of, self.column_of, self.shape, self.kept = row_of, column_of, shape, kept
        self.owner, members = _groups(row_of, column_of, shape, kept)
        """Group of each row (m,), -1 for none."""
        local = np.zeros(shape[1], dtype=bool)
        local[[c for group in members for c in group]] = True
        self.shared = np.flatnonzero(~local)
        """Columns (s,) of the unknowns that stay."""
        self.place = np.full(shape[1], -1, dtype=np.intp)
        self.place[self.shared] = np.arange(len(self.shared))
        self.loose = np.flatnonzero(self.owner < 0)
        self.batches = self._batches(members)
        self._loose_entries = np.flatnonzero(self.owner[row_of] < 0)
        self._frame()

    def _batches(self, members: Sequence[Sequence[int]]) -> list[Batch]:
        """Groups of like size together; places are counted within each group, rows and shared columns in order."""
        order = np.argsort(self.owner, kind="stable")[len(self.loose) :]
        row_place = np.zeros(self.shape[0], dtype=np.intp)
        row_place[order] = _ranks(self.owner[order])
        column_place = np.zeros(self.shape[1], dtype=np.intp)
        for group in members:
            column_place[list(group)] = np.arange(len(group))
        owner, place = self.owner[self.row_of], self.place[self.column_of]
        own, other = np.flatnonzero((owner >= 0) & (place < 0)), np.flatnonzero((owner >= 0) & (place >= 0))
        width = len(self.shared) + 1
        pairs, pair = np.unique(owner[other] * width + place[other], return_inverse=True)
        pair_owner, pair_place = pairs // width, _ranks(pairs // width)
        k, c = np.bincount(self.owner[order]), np.bincount(pair_owner, minlength=len(members))
        sizes: dict[tuple[int, int], list[int]] = defaultdict(list)
        for g, group in enumerate(members):
            sizes[int(k[g]), len(group)].append(g)
        found = []
        for (rows, columns), groups in sizes.items():
            number = np.full(len(members), -1, dtype=np.intp)
            number[groups] = np.arange(len(groups))
            deep = int(c[groups].max())
            table = np.full((len(groups), deep), len(self.shared), dtype=np.intp)
            chosen = number[pair_owner] >= 0
            table[number[pair_owner[chosen]], pair_place[chosen]] = pairs[chosen] % width
            mine, others = own[number[owner[own]] >= 0], np.flatnonzero(number[owner[other]] >= 0)
            at = number[owner[mine]] * rows + row_place[self.row_of[mine]]
            into = number[owner[other[others]]] * rows + row_place[self.row_of[other[others]]]
            found.append(
                Batch(
                    order[number[self.owner[order]] >= 0].reshape(len(groups), rows),
                    np.array([members[g] for g in groups], dtype=np.intp),
                    table,
                    (at * columns + column_place[self.column_of[mine]], mine),
                    (into * deep + pair_place[pair[others]], other[others]),
                )
            )
        return found

    def _frame(self) -> None:
        """Places of the entries of the matrix that is left: loose rows first, then each batch's remaining rows."""
        loose_row = np.searchsorted(self.loose, self.row_of[self._loose_entries])
        rows, columns, start = [loose_row], [self.place[self.column_of[self._loose_entries]]], len(self.loose)
        self.starts = []
        for batch in self.batches:
            (g, k), d, c = batch.rows.shape, batch.columns.shape[1], batch.shared.shape[1]
            self.starts.append(start)
            left = np.arange(start, start + g * (k - d)).reshape(g, k - d, 1)
            rows.append(np.broadcast_to(left, (g, k - d, c)).ravel())
            columns.append(np.broadcast_to(batch.shared[:, None, :], (g, k - d, c)).ravel())
            start += g * (k - d)
        self.left_rows, self._rows, self._columns = start, np.concatenate(rows), np.concatenate(columns)
        # Rows are in order already, so counting them gives the row pointers of a compressed matrix.
        self._pointers = np.concatenate([[0], np.cumsum(np.bincount(self._rows, minlength=start))])

    def reduced(self, values: FloatArray, residuals: FloatArray) -> Reduced:
        """Take the groups out of derivatives (e,) and residuals (m,)."""
        data, right, taken = [values[self._loose_entries]], [residuals[self.loose]], []
        for batch in self.batches:
            own, other = batch.blocks(values)
            q, r = np.linalg.qr(own, mode="complete")
            d = own.shape[2]
            turned = q.mT @ other
            turned_residuals = (q.mT @ residuals[batch.rows][:, :, None])[:, :, 0]
            taken.append(Taken(batch, q, r[:, :d], turned[:, :d], turned_residuals[:, :d]))
            data.append(turned[:, d:].ravel())
            right.append(turned_residuals[:, d:].ravel())
        shape = (self.left_rows, len(self.shared) + 1)
        matrix = sparse.csr_array((np.concatenate(data), self._columns, self._pointers), shape=shape)
        return Reduced(self, taken, matrix, np.concatenate(right))

    def without(self, columns: Sequence[int]) -> Plan:
        """The plan in which these columns stay."""
        return Plan(self.row_of, self.column_of, self.shape, self.kept | frozenset(columns))


def planned(system: System, x: FloatArray, columns: IntArray) -> tuple[Plan, IntArray]:
    """
    How the unknowns `columns` of a system are eliminated, and which entries of its pattern (e,) that uses.

    Made once for each set of columns.
    """
    key = columns.tobytes()
    if key not in system.plans:
        rows, all_columns = system.pattern(x)
        place = np.full(system.size, -1, dtype=np.intp)
        place[columns] = np.arange(len(columns))
        used = np.flatnonzero(place[all_columns] >= 0)
        plan = Plan(rows[used], place[all_columns[used]], (len(system.rows), len(columns)))
        system.plans[key] = plan, used
    return system.plans[key]


def _groups(
    row_of: IntArray, column_of: IntArray, shape: tuple[int, int], kept: frozenset[int]
) -> tuple[IntArray, list[list[int]]]:
    """Group that owns each row (m,), -1 for none, and the groups' columns: rarest unknowns first, no row shared."""
    by_column = np.argsort(column_of, kind="stable")
    starts = np.searchsorted(column_of[by_column], np.arange(shape[1] + 1))
    owner = np.full(shape[0], -1, dtype=np.intp)
    members: list[list[int]] = []
    for column in np.argsort(np.diff(starts), kind="stable").tolist():
        rows = row_of[by_column[starts[column] : starts[column + 1]]]
        owners = owner[rows]
        if column in kept or not len(rows):
            continue
        if np.all(owners < 0):
            if len(rows) <= MOST_ROWS:
                owner[rows] = len(members)
                members.append([column])
        elif owners[0] >= 0 and np.all(owners == owners[0]) and len(members[owners[0]]) < LARGEST_GROUP:
            members[owners[0]].append(column)
    return _thinned(owner, members, shape[1])


def _thinned(owner: IntArray, members: list[list[int]], unknowns: int) -> tuple[IntArray, list[list[int]]]:
    """The groups that have at least as many rows as unknowns; none where nothing would be left to share."""
    rows = np.bincount(owner[owner >= 0], minlength=len(members))
    good = [g for g, columns in enumerate(members) if rows[g] >= len(columns)]
    if sum(len(members[g]) for g in good) == unknowns:
        good = []
    renamed = np.full(len(members) + 1, -1, dtype=np.intp)
    renamed[good] = np.arange(len(good))
    return renamed[owner], [members[g] for g in good]


def _ranks(sorted_values: IntArray) -> IntArray:
    """Place of each of some sorted values among its equals."""
    return np.asarray(np.arange(len(sorted_values)) - np.searchsorted(sorted_values, sorted_values), dtype=np.intp)


@dataclass(frozen=True)
class Taken:
    """A batch after its factorisation: `q` (g, k, k), `r` (g, d, d), `coupling` (g, d, c), `right` (g, d)."""

    batch: Batch
    q: FloatArray
    r: FloatArray
    coupling: FloatArray
    right: FloatArray

    def deficient(self) -> IntArray:
        """Columns of groups whose own rows don't settle them."""
        diagonal = np.abs(np.einsum("gii->gi", self.r))
        poor = diagonal.min(axis=1) <= GROUP_RANK * diagonal.max(axis=1)
        return np.asarray(self.batch.columns[poor].ravel(), dtype=np.intp)

    def solved(self, shared: FloatArray, damping: float = 0.0) -> FloatArray:
        """Local unknowns (g, d) that go with shared ones (s + 1,): (RᵀR + λ)⁻¹ Rᵀ (right − coupling · shared)."""
        right = (self.right - np.einsum("gdc,gc->gd", self.coupling, shared[self.batch.shared]))[:, :, None]
        if not damping:
            return np.linalg.solve(self.r, right)[:, :, 0]
        return np.linalg.solve(self.r.mT @ self.r + damping * np.eye(self.r.shape[1]), self.r.mT @ right)[:, :, 0]

    def spread_out(self, which: IntArray, width: int) -> FloatArray:
        """Coupling (t · d, width) of some groups with all shared unknowns, group by group."""
        (_, d, c), t = self.coupling.shape, len(which)
        out = np.zeros((t, d, width))
        shared = np.broadcast_to(self.batch.shared[which][:, None, :], (t, d, c))
        np.put_along_axis(out, shared, self.coupling[which], axis=2)
        return out.reshape(t * d, width)

    def add_damping(self, damping: float, matrix: FloatArray, gradient: FloatArray) -> None:
        """
        What damped local unknowns leave to the shared ones' normal equations (s + 1, s + 1), (s + 1,).

        That is Tᵀ(1 − R(RᵀR + λ)⁻¹Rᵀ)T with T the coupling, where the bracket is λ(RRᵀ + λ)⁻¹.
        """
        left = np.linalg.inv(self.r @ self.r.mT / damping + np.eye(self.r.shape[1]))
        turned, shared = self.coupling.mT @ left, self.batch.shared
        np.add.at(matrix, (shared[:, :, None], shared[:, None, :]), turned @ self.coupling)
        np.add.at(gradient, shared, (turned @ self.right[:, :, None])[:, :, 0])


@dataclass(frozen=True)
class Reduced:
    """What is left for the shared unknowns: `matrix` (l, s + 1), its last column empty, and `right` (l,)."""

    plan: Plan
    taken: list[Taken]
    matrix: sparse.csr_array
    right: FloatArray

    def deficient(self) -> list[int]:
        """Columns of the groups that their own rows don't settle."""
        return [int(c) for taken in self.taken for c in taken.deficient()]

    @cached_property
    def _normal(self) -> tuple[FloatArray, FloatArray]:
        if self.matrix.nnz < SPARSE * math.prod(self.matrix.shape):
            return (self.matrix.T @ self.matrix).toarray(), self.matrix.T @ self.right
        whole = self.matrix.toarray()
        return whole.T @ whole, whole.T @ self.right

    def normal(self, damping: float) -> tuple[FloatArray, FloatArray]:
        """Normal matrix (s, s) of the shared unknowns and its right-hand side (s,), the local unknowns damped too."""
        matrix, gradient = (part.copy() for part in self._normal)
        if damping > NO_DAMPING:
            for taken in self.taken:
                taken.add_damping(damping, matrix, gradient)
        matrix[np.diag_indices_from(matrix)] += damping
        return matrix[:-1, :-1], gradient[:-1]

    def dense(self) -> FloatArray:
        """The matrix (l, s)."""
        return np.asarray(self.matrix.toarray()[:, :-1])

    def solution(self, shared: FloatArray, damping: float = 0.0) -> FloatArray:
        """All unknowns (p,) that go with shared ones (s,)."""
        out = np.empty(self.plan.shape[1])
        out[self.plan.shared] = shared
        padded = np.append(shared, 0.0)
        for taken in self.taken:
            out[taken.batch.columns] = taken.solved(padded, damping if damping > NO_DAMPING else 0.0)
        return out

    def turned_back(self, left: FloatArray) -> FloatArray:
        """Rows (m, ...) of the observations from those of the matrix (l, ...), nothing for what was taken out."""
        out = np.empty((self.plan.shape[0], *left.shape[1:]))
        out[self.plan.loose] = left[: len(self.plan.loose)]
        for taken, start in zip(self.taken, self.plan.starts, strict=True):
            (g, k), d = taken.batch.rows.shape, taken.r.shape[1]
            part = left[start : start + g * (k - d)].reshape(g, k - d, math.prod(left.shape[1:]))
            out[taken.batch.rows] = (taken.q[:, :, d:] @ part).reshape(g, k, *left.shape[1:])
        return out


class Factor:
    """
    J = Q·R of a whole system in factored form.

    Parameters
    ----------
    reduced
        Local unknowns taken out.
    r, pivots : (s, s), (s,)
        Of the matrix that is left, with column pivoting.
    """

    def __init__(self, reduced: Reduced, r: FloatArray, pivots: IntArray) -> None:
        self.reduced, self.r, self.pivots = reduced, r, pivots
        self.left = linalg.blas.dtrsm(1.0, r, reduced.dense()[:, pivots], side=1)
        """Orthonormal columns (l, s) of the matrix that is left."""

    @cached_property
    def shared(self) -> FloatArray:
        """Part (m, s) of Q that belongs to the shared unknowns."""
        return self.reduced.turned_back(self.left)

    @cached_property
    def leverages(self) -> FloatArray:
        """Squared lengths (m,) of the rows of Q."""
        out = np.einsum("ij,ij->i", self.shared, self.shared)
        for taken in self.reduced.taken:
            own = taken.q[:, :, : taken.r.shape[1]]
            out[taken.batch.rows] += np.einsum("gkd,gkd->gk", own, own)
        return np.asarray(out)

    def solved(self, gradients: FloatArray) -> FloatArray:
        """Rows G·R⁻¹ (k, p) of derivatives (k, p) by the scaled unknowns: the local ones' in place, then the shared."""
        plan = self.reduced.plan
        out = np.zeros(gradients.shape)
        rest = np.zeros((len(gradients), len(plan.shared) + 1))
        rest[:, :-1] = gradients[:, plan.shared]
        for taken in self.reduced.taken:
            columns = taken.batch.columns
            touched = np.flatnonzero(np.any(gradients[:, columns], axis=(0, 2)))
            if not len(touched):
                continue
            local = gradients[:, columns[touched]].transpose(1, 2, 0)
            z = np.linalg.solve(taken.r[touched].mT, local)
            out[:, columns[touched]] = z.transpose(2, 0, 1)
            rest -= z.reshape(-1, z.shape[2]).T @ taken.spread_out(touched, rest.shape[1])
        turned = linalg.solve_triangular(self.r, rest[:, self.pivots].T, trans="T", check_finite=False)
        out[:, plan.shared] = turned.T
        return out

    def spread(self, z: FloatArray) -> FloatArray:
        """Z·Qᵀ (k, m) of rows Z (k, p) from `solved`."""
        out = z[:, self.reduced.plan.shared] @ self.shared.T
        for taken in self.reduced.taken:
            own = taken.q[:, :, : taken.r.shape[1]]
            out[:, taken.batch.rows] += np.einsum("ngd,gkd->ngk", z[:, taken.batch.columns], own)
        return np.asarray(out)

    def rows(self, which: IntArray) -> FloatArray:
        """Some rows (k, p) of Q."""
        out = np.zeros((len(which), self.reduced.plan.shape[1]))
        out[:, self.reduced.plan.shared] = self.shared[which]
        for taken in self.reduced.taken:
            place = {int(row): at for at, row in np.ndenumerate(taken.batch.rows)}
            for i, row in enumerate(which.tolist()):
                if row in place:
                    g, k = place[row]
                    out[i, taken.batch.columns[g]] = taken.q[g, k, : taken.r.shape[1]]
        return out
