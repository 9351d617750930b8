"""
Steps of brightness in grey-value profiles, fitted to a fraction of a pixel with their uncertainty.

One step is an edge, two opposite ones are a string or a drawn line. Positions are those of the profiles: px from the
path, positive along its normal.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from digitizer.imaging.medians import median
from digitizer.imaging.profiles import CUBIC_VARIANCE, QUANTISATION, profile_offsets
from digitizer.imaging.tone import WHITE, grey, grey_and_slope, light

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

U_FLOOR = 0.012
"""px; what sampling and rounding leave of one place, however little noise there is (found on drawn pictures)."""
_USUAL_SPREAD, _SPREAD_SLACK = 0.9, 0.6
"""px and its logarithm's u: the usual blur of a photo's edges. Only counts where a profile can't tell its own."""
_USUAL_VARIANCE = 4.0
_ALIKE_SLACK = 0.25
"""The logarithm's u once the blur of the neighbouring profiles is known."""
_ITERATIONS, _FIRST_ROUNDS = 12, 3
_LONGEST_STEP_PX = 0.7
U_EXPONENT = 0.2
"""Of the tone curve's exponent before a picture is seen: what renders of black and white show; cameras may differ."""
_U_EXPONENT_AT_BEST = 0.04
"""However many edges tell of the curve: it is not quite a power, nor blur quite a Gaussian (found by simulation)."""
_U_EXPONENT_CUT, _CUT = 0.15, 5.0
"""The exponent isn't known better where black or white, within so many times the noise, cuts off the noise."""
_TELLING = 0.9
"""The curve is only taken from edges that leave at most that part of its uncertainty."""
_CURVE_ROUNDS = 2
_BY_CHANCE = 2.0
"""The mean misfit of profiles that share nothing may have so many times the variance expected."""
_BLACK, _WHITE = 2.0, 253.0
"""Grey levels; a little noise lifts what is clipped off the very ends."""
_CLIPPED = 0.3
"""How far black or white without tones may move an edge, over its spread; an estimate."""
_POOLED = 2.0
"""How many times as much as a profile's own misfit that of all profiles counts for its noise."""


@dataclass(frozen=True, eq=False)
class StepFits:
    """
    Steps fitted to n profiles, m in each.

    Parameters
    ----------
    positions, contrasts : (n, m), px and grey levels
        Contrast is signed like the change along the normal.
    spread : (n,), px
        Standard deviation of the blur, common to the steps of one profile.
    noise : (n,), grey levels
        Of one pixel-wide sample, from the misfit of the profile and of its neighbours.
    covariance : (n, m, m), px²
        Of the positions, as the noise leaves them.
    u_tone : (n, m), px
        Of the positions from the camera's tone curve, signed: the two edges of a string move opposite ways.
    found : (n,)
        Whether the fit settled on steps that stand out of the noise. Where not, the other figures mean nothing.
    clipped : (n,)
        Whether the profile touches black or white within the edge, which shifts it.
    """

    positions: FloatArray
    contrasts: FloatArray
    spread: FloatArray
    noise: FloatArray
    covariance: FloatArray
    u_tone: FloatArray
    found: BoolArray
    clipped: BoolArray

    @property
    def centre(self) -> FloatArray:
        """Mean of the positions (n,), px: the edge itself, or the middle of a string."""
        return np.asarray(self.positions.mean(axis=1))

    @property
    def u_noise(self) -> FloatArray:
        """Part of `u` (n,), px, that the noise leaves, independent from profile to profile."""
        return np.asarray(np.sqrt(self.covariance.sum(axis=(1, 2))) / self.positions.shape[1])

    @property
    def u_common(self) -> FloatArray:
        """Part of `u` (n,), px, that neighbouring profiles share: sampling, the camera's tone curve, clipping."""
        clipped = np.where(self.clipped, _CLIPPED * self.spread, 0.0)
        return np.asarray(np.sqrt(U_FLOOR**2 + self.u_tone.mean(axis=1) ** 2 + clipped**2))

    @property
    def u(self) -> FloatArray:
        """Standard uncertainty of `centre` (n,), px."""
        return np.asarray(np.hypot(self.u_noise, self.u_common))

    def only(self, *steps: int) -> StepFits:
        """The same fits as seen by some of the steps, which `centre` and `u` then refer to."""
        some = list(steps)
        return replace(
            self,
            positions=self.positions[:, some],
            contrasts=self.contrasts[:, some],
            covariance=self.covariance[:, some][:, :, some],
            u_tone=self.u_tone[:, some],
        )

    @property
    def width(self) -> FloatArray:
        """Distance from the first step to the last (n,), px; 0 for an edge."""
        return np.asarray(self.positions[:, -1] - self.positions[:, 0])


def fitted_edges(
    profiles: FloatArray, start: FloatArray, reach: FloatArray | float, step: float = 0.5, *, alike: bool = True
) -> StepFits:
    """
    Edge of each profile: one step, blurred.

    Parameters
    ----------
    profiles : (n, k)
        From `normal_profiles`, or means of several neighbours.
    start : (n,), px
        Where the edge is, to within about its blur.
    reach : (n,) or scalar, px
        Samples farther from `start` are not looked at; it should leave out neighbouring edges.
    step : px
        Distance of the samples.
    alike
        They cross one edge, and so are about equally blurred; otherwise each is fitted by itself.
    """
    return fitted_steps(profiles, np.asarray(start, dtype=float)[:, None], reach, step, alike=alike)


def fitted_ridges(
    profiles: FloatArray, start: FloatArray, width: FloatArray | float, reach: FloatArray | float, step: float = 0.5
) -> StepFits:
    """
    String or drawn line of each profile: two steps, `width` (px) apart to begin with.

    Its two sides may differ in brightness. The other parameters are those of `fitted_edges`.
    """
    middle = np.asarray(start, dtype=float)
    half = np.broadcast_to(np.asarray(width, dtype=float) / 2, middle.shape)
    return fitted_steps(profiles, np.column_stack([middle - half, middle + half]), reach, step)


def fitted_steps(
    profiles: FloatArray,
    starts: FloatArray,
    reach: FloatArray | float,
    step: float = 0.5,
    *,
    encoded: bool = True,
    alike: bool = True,
    u_exponent: float = U_EXPONENT,
) -> StepFits:
    """
    Several steps of each profile together, by least squares (Levenberg–Marquardt).

    Parameters
    ----------
    starts : (n, m), px
        In order along the normal.
    encoded
        The profiles are grey levels of a photo; otherwise taken as they are, such as differences of colours.
    alike
        They cross one thing, and so are about equally blurred; otherwise each is fitted by itself.
    u_exponent
        How well the tone curve is known to be the standard one; 0 keeps to it, which is quicker and does for the
        middles of strings.
        The other parameters are those of `fitted_edges`.

    Notes
    -----
    The light is I(x) = I₀ + Σ hᵢ Φ((x − cᵢ) / s), Φ the normal distribution function; unknown I₀, hᵢ, cᵢ and ln s.
    Its grey levels (see `tone`) are compared with the profile, since the noise is about the same in all grey levels.
    A curved edge of grey levels, steep at its foot and slow at its shoulder, tells how the camera bends the tone curve:
    its exponent is estimated from all profiles together, from 1 ± 0.2 on, where they say more than that.

    C = σ² (step · Σ JᵀJ)⁻¹, the least-squares bound for samples that are independent a pixel apart. σ² is the misfit of
    the profile, drawn towards that of all, since a few samples tell a variance badly (after G. K. Smyth, Statist.
    Appl. Genet. Mol. Biol. 3 (2004) 3; from memory).
    """
    n, m = starts.shape
    if n == 0:
        return _nothing(m)
    x = profile_offsets((profiles.shape[1] - 1) / 2 * step, step)
    within = np.broadcast_to(np.asarray(reach, dtype=float), (n,))
    use = (np.abs(x - starts.mean(axis=1)[:, None]) <= within[:, None]) & np.isfinite(profiles)
    problem = _Problem(x, np.where(use, profiles, 0.0), use, step, encoded)
    p = problem.solved(problem.start(starts), _FIRST_ROUNDS if alike else _ITERATIONS)
    if alike:
        problem = problem.with_their_blur(p)
        p = problem.solved(p)
    if alike and encoded and u_exponent > 0:
        problem, p, u_exponent = problem.with_their_curve(p, u_exponent)
    return problem.judged(p, starts, u_exponent)


@dataclass(frozen=True, eq=False)
class _Problem:
    """Least squares of n profiles at once; the parameters of a row are I₀, h₁ … hₘ in light, c₁ … cₘ, ln s."""

    x: FloatArray
    values: FloatArray
    use: BoolArray
    step: float
    encoded: bool
    exponent: float = 1.0
    usual_spread: float = _USUAL_SPREAD
    prior: float = _USUAL_VARIANCE / _SPREAD_SLACK**2
    """Weight of the usual spread against misfits, whose variance is taken to be known."""

    def start(self, starts: FloatArray) -> FloatArray:
        """Levels before, between and after the steps, read off the profile."""
        n = len(starts)
        bounds = np.column_stack([np.full(n, -np.inf), starts, np.full(n, np.inf)])
        # Levels are taken at a pixel's distance from the steps where there is room for it.
        gap = np.clip(np.diff(bounds) / 2 - 0.25, 0.0, 1.0)
        low, high = bounds[:, :-1] + gap, bounds[:, 1:] - gap
        inside = self.use[:, None, :] & (self.x >= low[..., None]) & (self.x <= high[..., None])
        count = inside.sum(axis=2)
        levels = (inside * self.values[:, None, :]).sum(axis=2) / np.maximum(count, 1)
        levels = np.where(count > 0, levels, self._mean()[:, None])
        levels = light(levels, self.exponent) if self.encoded else levels
        return np.column_stack([levels[:, 0], np.diff(levels), starts, np.full(n, np.log(_USUAL_SPREAD))])

    def _mean(self) -> FloatArray:
        return np.asarray(self.values.sum(axis=1) / np.maximum(self.use.sum(axis=1), 1))

    def misfit(self, p: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Observed − modelled (n, k), and the model's derivatives (n, k, 2m + 2)."""
        m = p.shape[1] // 2 - 1
        h, c, s = p[:, None, 1 : m + 1], p[:, None, m + 1 : -1], np.exp(p[:, -1])[:, None, None]
        t = (self.x[None, :, None] - c) / s
        rise, bell = ndtr(t), np.exp(-0.5 * t * t) / np.sqrt(2 * np.pi)
        J = np.concatenate(
            [np.ones_like(t[..., :1]), rise, -h / s * bell, -np.sum(h * bell * t, -1, keepdims=True)], axis=-1
        )
        modelled: FloatArray = p[:, :1] + np.sum(h * rise, axis=-1)
        slope = np.ones_like(modelled)
        if self.encoded:
            modelled, slope = grey_and_slope(modelled, self.exponent)
        return (self.values - modelled) * self.use, J * (self.use * slope)[..., None]

    def cost(self, r: FloatArray, p: FloatArray) -> FloatArray:
        """Weighted square sum (n,) of misfit and prior, for pixel noise of 1."""
        return np.asarray(self.step * np.sum(r * r, axis=1) + self.prior * (p[:, -1] - np.log(self.usual_spread)) ** 2)

    def normal_matrix(self, J: FloatArray) -> FloatArray:
        """Σ JᵀJ · step with the prior, (n, 2m + 2, 2m + 2), kept just regular where a step has vanished."""
        N = self.step * np.swapaxes(J, 1, 2) @ J
        N[:, -1, -1] += self.prior
        diagonal = np.einsum("nii->ni", N)  # a view
        diagonal += 1e-6 + 1e-9 * diagonal.max(axis=1, keepdims=True)
        return np.asarray(N)

    def solved(self, p: FloatArray, rounds: int = _ITERATIONS) -> FloatArray:
        """Parameters (n, 2m + 2) at the least square sum near `p`."""
        active, damping = np.arange(len(p)), np.full(len(p), 1e-2)
        part, at, (r, J) = self, p, self.misfit(p)
        cost = self.cost(r, p)
        for _ in range(rounds):
            trial = at + part._step(at, r, J, damping)
            r_new, J_new = part.misfit(trial)
            cost_new = part.cost(r_new, trial)
            better = cost_new < cost
            open_still = np.abs(cost - cost_new) > 1e-3 * cost + 1e-4
            at, r = (np.where(better[:, None], new, old) for new, old in ((trial, at), (r_new, r)))
            J = np.where(better[:, None, None], J_new, J)
            cost, damping = np.minimum(cost, cost_new), np.where(better, damping * 0.1, damping * 10)
            p[active] = at
            if not open_still.any():
                break
            active, at, r, J = active[open_still], at[open_still], r[open_still], J[open_still]
            cost, damping, part = cost[open_still], damping[open_still], part.rows(open_still)
        return p

    def rows(self, some: BoolArray) -> _Problem:
        """The problem of some of the profiles only."""
        return replace(self, values=self.values[some], use=self.use[some])

    def with_their_blur(self, p: FloatArray) -> _Problem:
        """The problem with the median blur of its profiles as what is usual."""
        r, _ = self.misfit(p)
        variance = median(self._own_variance(r, p.shape[1])) * CUBIC_VARIANCE
        spread = float(np.exp(median(p[:, -1])))
        return replace(self, usual_spread=spread, prior=variance / _ALIKE_SLACK**2)

    def bending(self, p: FloatArray) -> FloatArray:
        """Derivative (n, k) of the model by the exponent's logarithm."""
        m = p.shape[1] // 2 - 1
        t = (self.x[None, :, None] - p[:, None, m + 1 : -1]) / np.exp(p[:, -1])[:, None, None]
        modelled = p[:, :1] + np.sum(p[:, None, 1 : m + 1] * ndtr(t), axis=-1)
        slope = grey_and_slope(modelled, self.exponent)[1]
        return np.asarray(slope * modelled * np.log(np.maximum(modelled, 1e-3) / WHITE) * self.use)

    def with_their_curve(self, p: FloatArray, u_before: float) -> tuple[_Problem, FloatArray, float]:
        """The problem with the tone curve that its profiles tell of, its solution, and the exponent's u."""
        problem, u = self, u_before
        for _ in range(_CURVE_ROUNDS):
            exponent, u = problem.better_exponent(p, u_before)
            if u > _TELLING * u_before:
                break
            p = problem.carried(p, exponent)
            problem = replace(problem, exponent=exponent)
            p = problem.solved(p)
        return problem, p, u

    def better_exponent(self, p: FloatArray, u_before: float) -> tuple[float, float]:
        """
        Exponent of the tone curve from all profiles together, and its standard uncertainty.

        The other unknowns, each profile's own, are eliminated: with b = Jᵀk, k the derivative by the exponent, a
        profile adds kᵀk − bᵀ N⁻¹ b to its weight.
        """
        r, J = self.misfit(p)
        k = self.bending(p)
        own, b = self.normal_matrix(J), self.step * np.einsum("nki,nk->ni", J, k)
        free = np.linalg.solve(own, b[..., None])[..., 0]
        left = k - np.einsum("nki,ni->nk", J, free)
        variance = self._own_variance(r, p.shape[1])
        # What all profiles miss alike (rounding along a row, another shape of blur) doesn't average out.
        alike = median(self._own_variance(r.mean(axis=0)[None], p.shape[1], floor=0.0))
        shared = max(len(p) * alike - _BY_CHANCE * median(variance), 0.0)
        weight = 1.0 / (np.maximum(variance, median(variance)) + shared)
        pull = self.step * np.sum(left * r, axis=1) * weight
        information = self.step * np.sum(left * k, axis=1) * weight
        total = float(information.sum()) + u_before**-2
        change = (float(pull.sum()) - u_before**-2 * np.log(self.exponent)) / total
        u = float(np.hypot(total**-0.5, _U_EXPONENT_AT_BEST))
        return float(np.clip(self.exponent * np.exp(change), 0.5, 2.0)), u

    def carried(self, p: FloatArray, exponent: float) -> FloatArray:
        """Unknowns with the same grey levels beside the steps under another exponent."""
        m = p.shape[1] // 2 - 1
        levels = light(grey(np.cumsum(p[:, : m + 1], axis=1), self.exponent), exponent)
        return np.column_stack([levels[:, 0], np.diff(levels), p[:, m + 1 :]])

    def _step(self, p: FloatArray, r: FloatArray, J: FloatArray, damping: FloatArray) -> FloatArray:
        """Damped Newton step, its positions held within reason."""
        N = self.normal_matrix(J)
        g = self.step * np.einsum("nki,nk->ni", J, r)
        g[:, -1] -= self.prior * (p[:, -1] - np.log(self.usual_spread))
        diagonal = np.einsum("nii->ni", N)
        diagonal *= 1.0 + damping[:, None]
        change = np.linalg.solve(N, g[..., None])[..., 0]
        m = p.shape[1] // 2 - 1
        change[:, m + 1 :] = np.clip(change[:, m + 1 :], -_LONGEST_STEP_PX, _LONGEST_STEP_PX)
        return np.asarray(change)

    def judged(self, p: FloatArray, starts: FloatArray, u_exponent: float) -> StepFits:
        """Fits with their noise, covariance and whether they stand out of the noise."""
        m = starts.shape[1]
        r, J = self.misfit(p)
        noise = self._noise(r, 2 * m + 2)
        inverse = np.linalg.inv(self.normal_matrix(J))
        C = noise[:, None, None] ** 2 * inverse
        levels = np.cumsum(p[:, : m + 1], axis=1)
        levels = grey(levels, self.exponent) if self.encoded else levels
        h, c, s = np.diff(levels), p[:, m + 1 : -1], np.exp(p[:, -1])
        room = np.where(self.use, np.abs(self.x - starts.mean(axis=1)[:, None]), 0.0).max(axis=1)
        clipped = self._clipped(c, s)
        found = (
            (self.use.sum(axis=1) * self.step >= 2 * m + 2)
            & np.all(np.abs(c - starts) <= np.maximum(room / 2, 1.0)[:, None], axis=1)
            & np.all(np.diff(c, axis=1) > 0, axis=1)
            & np.all(np.abs(h) > 3 * noise[:, None], axis=1)
            & (s < room)
        )
        u_tone = np.zeros_like(h)
        if self.encoded:
            # By how much the positions give way when the exponent changes, all else fitted anew.
            b = self.step * np.einsum("nki,nk->ni", J, self.bending(p))
            ends = np.clip(levels, _BLACK + _CUT * noise[:, None], _WHITE - _CUT * noise[:, None])
            cut = np.any(levels != ends, axis=1)
            u = np.where(cut, max(u_exponent, _U_EXPONENT_CUT), u_exponent)
            u_tone = -u[:, None] * np.einsum("nij,nj->ni", inverse, b)[:, m + 1 : -1]
        return StepFits(c, h, s, noise, C[:, m + 1 : -1, m + 1 : -1], u_tone, found, clipped)

    def _noise(self, r: FloatArray, unknowns: int) -> FloatArray:
        """Noise (n,) of a pixel's sample: each profile's misfit with that of all as a prior."""
        freedom, own = self._freedom(unknowns), self._own_variance(r, unknowns)
        pooled = (freedom * own + _POOLED * freedom * median(own)) / (freedom * (1 + _POOLED))
        return np.asarray(np.sqrt(np.maximum(pooled, QUANTISATION**2)))

    def _freedom(self, unknowns: int) -> FloatArray:
        return np.asarray(np.maximum(self.use.sum(axis=1) * self.step - unknowns + 1, 0.5))

    def _own_variance(self, r: FloatArray, unknowns: int, floor: float = QUANTISATION**2) -> FloatArray:
        """Variance (n,) of a pixel's sample by each profile's own misfit."""
        own = self.step * np.sum(r * r, axis=1) / self._freedom(unknowns) / CUBIC_VARIANCE
        return np.asarray(np.maximum(own, floor))

    def _clipped(self, c: FloatArray, s: FloatArray) -> BoolArray:
        near = self.use & (np.abs(self.x - c[:, :1]) < 2 * s[:, None] + 1) | self.use & (
            np.abs(self.x - c[:, -1:]) < 2 * s[:, None] + 1
        )
        return self.encoded & np.asarray(np.any(near & ((self.values <= _BLACK) | (self.values >= _WHITE)), axis=1))


def _nothing(m: int) -> StepFits:
    none, no = np.empty(0), np.empty(0, dtype=bool)
    return StepFits(np.empty((0, m)), np.empty((0, m)), none, none, np.empty((0, m, m)), np.empty((0, m)), no, no)
