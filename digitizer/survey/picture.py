"""What drawings are made from: points, outline, reference line, and how each photo was taken."""

from __future__ import annotations

import math
from collections.abc import Container, Sequence

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import gradients
from digitizer.adjustment.solve import Adjusted
from digitizer.camera.lens import LENS_NAMES
from digitizer.geometry.rotations import rotation_matrix
from digitizer.job.model import MarkKind
from digitizer.survey.dimensions import Transom
from digitizer.survey.model import PhotoResult, SurveyPoint
from digitizer.survey.offsets import boundary_marks
from digitizer.survey.uncertainty import Scales
from digitizer.transom.outline import averaged, in_order
from digitizer.transom.system import Place

F, K1 = LENS_NAMES.index("f"), LENS_NAMES.index("k1")
"""Places of two parameters in a lens."""


def survey_points(t: Transom, scales: Scales, only: Container[str] | None = None) -> list[SurveyPoint]:
    """All marked points in the transom system, or only some of them."""
    names = [i for i in t.infos if only is None or i in only]
    u = scales.standard([c for i in names for c in (t.places[i].x, t.places[i].y)]).reshape(-1, 2)
    return [
        SurveyPoint(
            i,
            str(t.infos[i].kind),
            t.infos[i].side,
            float(t.places[i].x),
            float(t.places[i].y),
            float(t.places[i].z),
            float(u_x),
            float(u_y),
            t.infos[i].of,
        )
        for i, (u_x, u_y) in zip(names, u, strict=True)
    ]


def outline(t: Transom) -> tuple[tuple[float, float], ...]:
    """Marked points of the boundary in order round it, those of one place in several photos drawn together, mm."""
    ring = in_order(averaged(boundary_marks(t)))
    if len(ring) < 3:
        return ()
    return tuple(_middle(t.at(mark.ids)) for mark in ring)


def _middle(places: Sequence[Place]) -> tuple[float, float]:
    """Mean of places; of none, the origin, where the bottom edges meet."""
    count = max(len(places), 1)
    return sum(float(p.x) for p in places) / count, sum(float(p.y) for p in places) / count


def reference_ends(t: Transom) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Ends of the reference line, mm."""
    if t.reference_height is None:
        return None
    xs = [float(t.places[i].x) for i, p in t.infos.items() if p.kind is MarkKind.REFERENCE_LINE]
    height = float(t.reference_height)
    return ((min(xs), height), (max(xs), height)) if xs else None


def photo_results(t: Transom, estimate: Adjusted, factor: float) -> list[PhotoResult]:
    """How each photo was taken, pose relative to the transom system."""
    n = t.network
    from_transom = _axes(t)
    origin = np.array([float(c) for c in t.system.origin])
    middle = np.mean([(float(p.x), float(p.y), 0.0) for i, p in t.places.items()], axis=0)
    lenses = [parameter(t.x, int(view.lens[i])) for view in n.views.values() for i in (F, K1)]
    u_lenses = factor * np.sqrt(np.einsum("kk->k", estimate.covariance_of(gradients(lenses, len(t.x)))))
    out = []
    for (photo, view), (u_f, u_k1) in zip(n.views.items(), u_lenses.reshape(-1, 2).tolist(), strict=True):
        facts, lens = n.facts[photo], estimate.x[view.lens]
        in_datum = rotation_matrix(estimate.x[view.pose[:3]])
        translation = estimate.x[view.pose[3:]] + in_datum @ origin
        rotation = in_datum @ from_transom
        camera = -rotation.T @ translation
        out.append(
            PhotoResult(
                id=photo,
                file=n.photos[photo].file,
                sha256=facts.sha256,
                width_px=facts.width_px,
                height_px=facts.height_px,
                captured=facts.captured,
                device=facts.device,
                f_px=float(lens[0]),
                u_f_px=u_f,
                k1=float(lens[3]),
                u_k1=u_k1,
                distance_mm=float(np.linalg.norm(camera)),
                off_square_deg=math.degrees(
                    math.acos(min(1.0, abs(camera[2]) / float(np.linalg.norm(camera - middle))))
                ),
                sample_distance_mm=float((rotation @ middle + translation)[2] / lens[0]),
                lens_source=n.lens_priors[photo].source,
                camera_matrix=tuple(lens.tolist()),
                rotation=tuple(rotation.ravel().tolist()),
                translation=tuple(translation.tolist()),
            )
        )
    return out


def _axes(t: Transom) -> FloatArray:
    """Axes (3, 3) of the transom system in the datum system, as columns."""
    c, s = math.cos(float(t.system.turn)), math.sin(float(t.system.turn))
    cy, sy = math.cos(float(t.system.yaw)), math.sin(float(t.system.yaw))
    about_bow = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
    return np.asarray(about_bow @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]))
