"""
What a photo holds: the covariance that any sound adjustment of a scene must reach.

First order, by difference quotients of the simulation itself, with a prior where the scene has one. Independent of
the program: no residual, Jacobian or solver of it is used. Reference: JCGM 102:2011, 6.2 (propagation through a
multivariate model), with the normal equations of a Gauss-Markov model.
"""

from __future__ import annotations

import numpy as np

from tests.builders import FloatArray
from tests.simulation.scene import Scene


class Flat:
    """The unknowns of a scene that can move, as one vector in units of their own size."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.moving = {name: prior > 0 for name, prior in scene.prior.items()}
        # The datum: nothing that is observed or asked changes when everything moves within the face's plane, so
        # the keel point and the string's direction hold still.
        self.moving["xy"][list(scene.places).index("keel")] = False
        self.moving["string"][1] = False
        self.size = sum(int(mask.sum()) for mask in self.moving.values())
        prior = np.concatenate([scene.prior[name][mask] for name, mask in self.moving.items()])
        value = np.concatenate([scene.theta[name][mask] for name, mask in self.moving.items()])
        self.unit = np.where(np.isfinite(prior), prior, np.maximum(np.abs(value), 1.0) * 1e-3)
        self.weight = np.where(np.isfinite(prior), 1.0, 0.0)

    def theta(self, step: FloatArray) -> dict[str, FloatArray]:
        """The scene's unknowns, moved by `step` (size,) units."""
        moved, start = {}, 0
        for name, mask in self.moving.items():
            count = int(mask.sum())
            value = self.scene.theta[name].copy()
            value[mask] += (step * self.unit)[start : start + count]
            moved[name], start = value, start + count
        return moved


def whitened_observations(scene: Scene, theta: dict[str, FloatArray]) -> FloatArray:
    """All observations of a scene divided by their standard uncertainty."""
    pixels = scene.pixels(theta) / scene.pixel_u()[:, None]
    u_lengths = np.array([u for *_, u, _ in scene.lengths])
    parts = [pixels.ravel(), scene.length_values(theta) / u_lengths, scene.relations(theta) / scene.relation_u()]
    return np.concatenate(parts)


def theory_u(scene: Scene, step: float = 1e-3) -> dict[str, float]:
    """Standard uncertainty of every dimension of a scene, first order."""
    flat = Flat(scene)
    names = list(scene.dimensions(scene.theta))
    J, G = [], []
    for column in np.eye(flat.size) * step:
        ahead, behind = flat.theta(column), flat.theta(-column)
        J.append((whitened_observations(scene, ahead) - whitened_observations(scene, behind)) / (2 * step))
        first, second = scene.dimensions(ahead), scene.dimensions(behind)
        G.append([(first[name] - second[name]) / (2 * step) for name in names])
    design = np.vstack([np.array(J).T, np.diag(flat.weight)])
    sensitivity = np.array(G).T
    scale = np.linalg.norm(design, axis=0)
    triangle = np.linalg.qr(design / scale, mode="r")
    if np.linalg.cond(triangle) > 1e10:
        raise ValueError("the scene leaves something undetermined")
    spread = np.linalg.solve(triangle.T, (sensitivity / scale).T).T
    return dict(zip(names, np.linalg.norm(spread, axis=1).tolist(), strict=True))
