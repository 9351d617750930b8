"""
A pattern's photo: an adjustment of its own, from which the places of its marks come with their covariance.

The flat plane is the floor where the scale lies beside the pattern, whose upper face is then higher by its thickness;
else it is the pattern's upper face. x runs to the right and y up as in the photo.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import FloatArray, Row
from digitizer.adjustment.propagation import Number
from digitizer.adjustment.reliability import Snooped
from digitizer.adjustment.solve import Estimate
from digitizer.errors import AdjustmentError, RankDeficientError
from digitizer.geometry.rotations import rotation_matrix
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Mark, MarkKind, Pattern, PhotoKind, Role, ScaleLies, Sighting
from digitizer.survey.adjusting import adjusted, summary_of
from digitizer.survey.build import build
from digitizer.survey.checks import MAX_TILT_U_DEG, check_inside, tilt_u
from digitizer.survey.network import Network
from digitizer.survey.pattern_marks import edge_marks
from digitizer.survey.uncertainty import Scales

U_PENCIL_MM = 0.5
"""How well a pencil mark on a pattern is defined, unless the mark says; from memory of yard practice."""
FRAME_PX = 2.0
"""An edge that is traced this near to the picture's border may go on beyond it."""


class PatternError(AdjustmentError):
    """A pattern's photo can't be measured; the transom can be all the same."""


@dataclass(frozen=True)
class Laid:
    """The marks of a pattern in its plane, with what is behind them."""

    points: dict[str, tuple[Number, Number]]
    """By id of the mark: x and y, mm, with their sensitivities."""
    other: dict[str, tuple[float, float]] | None
    """The same by another camera position that fits as well; none where there is none."""
    scales: Scales
    rows: tuple[Row, ...]
    scale: str
    """What gives the scale, in words."""
    accepted: bool
    """All that is known of the photo agrees."""
    set_aside: tuple[str, ...]
    """What was set aside because it contradicts the rest."""
    at_border: tuple[str, ...]
    """Marks of the edge at the picture's border."""
    sha256: str
    """Of the photo."""
    camera: FloatArray
    """Where the camera stood: x, y and height above the pattern's upper face (3,), mm."""


def lay(
    job: Job,
    pattern: Pattern,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting],
    cancelled: Callable[[], bool] | None = None,
) -> Laid:
    """
    Adjust a pattern's photo by itself.

    Raises
    ------
    PatternError
        Without a scale, with fewer than three marks of the edge, with its tilt open, or where nothing fits.
    """
    alone = photo_alone(job, pattern)
    marked = {m.id for m in alone.marks}
    edge = [m for m in edge_marks(job, pattern) if m.id in marked]
    if len(edge) < 3:
        raise PatternError(
            f"Pattern {pattern.id} has {len(edge)} marks along its edge in photo {pattern.photo}: trace it with three "
            "or more."
        )
    check_inside(alone.marks, facts)
    network = build(alone, facts, [s for s in sightings if s.photo == pattern.photo])
    words = _scale(pattern, network)
    found, twin = _adjusted(pattern, network, cancelled)
    summary = summary_of(found)
    rows = network.system.rows
    aside = dict.fromkeys(rows[r.row].group or rows[r.row].label for r in found.rejections)
    border = tuple(m.id for m in edge if _at_border(m, facts[pattern.photo]))
    return Laid(
        _points(network, found.estimate.x, marked),
        None if twin is None else _values(_points(network, twin.x, marked)),
        Scales(found.estimate, rows, summary.scaled_by),
        tuple(rows),
        words,
        summary.accepted,
        tuple(aside),
        border,
        facts[pattern.photo].sha256,
        _camera(network, found.estimate.x, pattern),
    )


def photo_alone(job: Job, pattern: Pattern) -> Job:
    """The job of a pattern's photo: its edge, its alignment marks, and what gives the scale."""
    edge = {m.id for m in edge_marks(job, pattern)}
    on_pattern = edge | {a.mark for a in pattern.aligned}
    own = [m for m in job.marks if m.active and m.photo == pattern.photo]
    shown = {m.point or m.id for m in own}
    lengths = tuple(k for k in job.lengths if k.active and {k.from_point, k.to_point} <= shown)
    rectangles = tuple(r for r in job.rectangles if r.active and set(r.corners) <= shown)
    known = {p for k in lengths for p in (k.from_point, k.to_point)} | {c for r in rectangles for c in r.corners}
    marks = [
        _on_pattern(m, pattern, m.id in edge) if m.id in on_pattern else replace(m, on=None)
        for m in own
        if m.id in on_pattern or (m.point or m.id) in known
    ]
    return Job(
        title=job.title,
        cameras=job.cameras,
        photos=tuple(replace(p, kind=PhotoKind.MEASURED) for p in job.photos if p.id == pattern.photo),
        marks=tuple(marks),
        lengths=lengths,
        instruments=job.instruments,
        rectangles=rectangles,
        targets=tuple(replace(t, flush=True, on=None) for t in job.targets),
    )


def _on_pattern(m: Mark, pattern: Pattern, of_edge: bool) -> Mark:
    """A mark on the upper face, as a plain point at that height."""
    lifted = pattern.scale_lies is ScaleLies.FLOOR and pattern.thickness_mm > 0.0
    usual = pattern.u_cut_mm if of_edge else U_PENCIL_MM
    return replace(
        m,
        kind=MarkKind.GRID,
        of=pattern.id,
        side=None,
        on=None,
        u_definition_mm=usual if m.u_definition_mm is None else m.u_definition_mm,
        height_mm=pattern.thickness_mm if lifted else 0.0,
        u_height_mm=pattern.u_thickness_mm if lifted else 0.0,
    )


def _scale(pattern: Pattern, n: Network) -> str:
    """What gives the scale, in words."""
    words = [f"target {t.id}" for t, _ in n.sightings]
    words += [f"{r.note or r.id}, {r.width_mm:g} × {r.height_mm:g} mm" for r in n.job.rectangles]
    words += [f"{k.note or k.id}, {k.length_mm:g} mm" for k in n.job.lengths if k.role is Role.OBSERVATION]
    if not words:
        raise PatternError(
            f"Nothing in photo {pattern.photo} gives pattern {pattern.id} its scale: no printed target was found in "
            "it, and no known length or rectangle is marked in it. Lay the printed board beside the pattern and "
            "photograph it again, or mark both ends of a rule that lies there."
        )
    return ", ".join(words)


def _adjusted(pattern: Pattern, n: Network, cancelled: Callable[[], bool] | None) -> tuple[Snooped, Estimate | None]:
    """The photo adjusted, once nothing of its pose is open."""
    try:
        found, twin = adjusted(n, cancelled)
    except RankDeficientError as open_pose:
        raise _open_tilt(pattern) from open_pose
    except AdjustmentError as failure:
        raise PatternError(
            f"Photo {pattern.photo} of pattern {pattern.id} can't be measured: its marks and what gives its scale "
            "don't fit each other. Look for a mark on the wrong thing, and for a wrong length."
        ) from failure
    if tilt_u(found.estimate, n.views[pattern.photo]) > math.radians(MAX_TILT_U_DEG):
        raise _open_tilt(pattern)
    return found, twin


def _open_tilt(pattern: Pattern) -> PatternError:
    return PatternError(
        f"How photo {pattern.photo} of pattern {pattern.id} is tilted is open: one length can't tell. Lay the printed "
        "board or a sheet of known size beside the pattern, mark lengths in several directions, or state that the "
        "photo was taken square."
    )


def _points(n: Network, x: FloatArray, marked: set[str]) -> dict[str, tuple[Number, Number]]:
    at = {m.id: n.index[info.id] for info in n.infos for m in info.marks if m.id in marked}
    return {name: n.points.propagated_chart(x, index)[:2] for name, index in at.items()}


def _camera(n: Network, x: FloatArray, pattern: Pattern) -> FloatArray:
    """Where the camera stood over the upper face."""
    pose = x[n.views[pattern.photo].pose]
    centre = -rotation_matrix(pose[:3]).T @ pose[3:]
    lift = pattern.thickness_mm if pattern.scale_lies is ScaleLies.FLOOR else 0.0
    return np.asarray(centre - (0.0, 0.0, lift))


def _values(points: dict[str, tuple[Number, Number]]) -> dict[str, tuple[float, float]]:
    return {name: (float(x), float(y)) for name, (x, y) in points.items()}


def _at_border(m: Mark, f: PhotoFacts) -> bool:
    inside = min(m.x_px + 0.5, m.y_px + 0.5, f.width_px - 0.5 - m.x_px, f.height_px - 0.5 - m.y_px)
    return inside < FRAME_PX
