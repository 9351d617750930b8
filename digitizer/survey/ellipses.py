"""
Error ellipses: how surely the adjustment puts each mark, in its photo and on the face.

In the photo it is J C Jᵀ, the posterior covariance C of the parameters seen through the mark's own observation
equations J; on the face that of the point's two coordinates in the transom frame. Both hold what else places the
point, such as a string through it, a rim or another photo, so they are smaller than the click where that helps.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import gradients
from digitizer.camera.equations import ImagePoints
from digitizer.survey.dimensions import Transom
from digitizer.survey.mark_records import AdjustedPlace, Covariance
from digitizer.survey.uncertainty import Scales


def adjusted_places(t: Transom, scales: Scales) -> tuple[AdjustedPlace, ...]:
    """
    Places of all marks that something still holds, with their 2 × 2 covariances.

    The ellipse that holds the true place with 95 % probability is the covariance's standard ellipse enlarged by
    √(−2 ln 0.05) = 2.45: the square root of the chi-square quantile with two degrees of freedom.
    """
    on_face = _on_face(t, scales)
    return tuple(
        AdjustedPlace(mark, photo, x, y, in_photo, on_face[point])
        for photo, mark, point, (x, y), in_photo in _in_photos(t, scales)
        if point in on_face
    )


def _on_face(t: Transom, scales: Scales) -> dict[str, Covariance]:
    names = [i for i in t.developed if i not in t.aside]
    coordinates = [c for i in names for c in (t.developed[i].x, t.developed[i].y)]
    return dict(zip(names, _covariances(scales, gradients(coordinates, len(t.x))), strict=True))


def _in_photos(t: Transom, scales: Scales) -> Iterator[tuple[str, str, str, tuple[float, float], Covariance]]:
    """Photo, mark, point, adjusted place (px) and covariance of each mark."""
    point_of = {mark.id: info.id for info in t.infos.values() for mark in info.marks}
    system = t.network.system
    for block in system.blocks:
        if not isinstance(block, ImagePoints):
            continue
        residuals, rows = np.empty(len(block.rows)), np.zeros((len(block.rows), len(t.x)))
        block.fill(t.x, residuals, rows)
        unwhiten = np.linalg.inv(block.whiten)
        image = block.image_points + np.einsum("nij,nj->ni", unwhiten, residuals.reshape(-1, 2))
        by_parameters = (unwhiten @ rows.reshape(-1, 2, len(t.x))).reshape(rows.shape)
        marks = block.rows[::2]
        for row, (x, y), covariance in zip(marks, image.tolist(), _covariances(scales, by_parameters), strict=True):
            yield row.photo or "", row.subject, point_of.get(row.subject, ""), (x, y), covariance


def _covariances(scales: Scales, by_parameters: FloatArray) -> list[Covariance]:
    """Covariance of each pair of quantities, from the derivatives (2k, n)."""
    z = scales.estimate.solved(by_parameters)
    pairs = z.reshape(len(z) // 2, 2, z.shape[1])
    covariance = scales.factor**2 * pairs @ pairs.transpose(0, 2, 1)
    return [(xx, xy, yy) for xx, xy, _, yy in covariance.reshape(-1, 4).tolist()]
