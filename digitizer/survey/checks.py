"""What is refused before and after the adjustment, because no figure from it would mean anything."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import numpy as np

from digitizer.adjustment.solve import Estimate, RankDefect
from digitizer.camera.equations import View
from digitizer.errors import AdjustmentError, RankDeficientError
from digitizer.geometry.rotations import rotation_matrix_and_derivatives
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Mark, MarkKind, Path, Role, Side
from digitizer.survey.defaults import OFF_THE_FACE
from digitizer.survey.dimensions import Transom
from digitizer.survey.network import Network

LINE_LIKE = 0.004
"""Marks whose spread across is below this part of their spread along lie on one line."""
SMALL_PART = 1e-6
MAX_TILT_U_DEG = 12.0
"""Beyond this standard uncertainty of the view's tilt, first order says nothing: nothing fixes the tilt."""


def check_marks(job: Job, facts: Mapping[str, PhotoFacts]) -> None:
    """
    Refuse marks outside their picture, and marks that all lie on one line.

    Raises
    ------
    AdjustmentError
    """
    marks = [m for m in job.marks if m.active and m.photo in facts and m.kind not in OFF_THE_FACE]
    check_inside(marks, facts)
    for photo in facts:
        own = np.array([(m.x_px, m.y_px) for m in marks if m.photo == photo])
        if len(own) < 3:
            continue
        spread = np.linalg.svd(own - own.mean(axis=0), compute_uv=False)
        if spread[1] > LINE_LIKE * spread[0]:
            return
    if len(marks) >= 3:
        raise AdjustmentError("All marks lie on one line: mark the keel and the chines as well as the reference line.")


def check_inside(marks: Iterable[Mark], facts: Mapping[str, PhotoFacts]) -> None:
    """
    Refuse marks outside their picture.

    Raises
    ------
    AdjustmentError
    """
    for m in marks:
        f = facts[m.photo]
        if not (-0.5 <= m.x_px <= f.width_px - 0.5 and -0.5 <= m.y_px <= f.height_px - 0.5):
            raise AdjustmentError(
                f"Mark {m.id} lies outside photo {m.photo} at ({m.x_px:g}, {m.y_px:g}) px; the picture is "
                f"{f.width_px} × {f.height_px}: move the mark, or check that it belongs to this photo."
            )


def check_gaps(job: Job) -> None:
    """
    Refuse a gap that no transom can have: an arc past the half circle, or a radius smaller than half the beam.

    R = s²/(8g) + g/2 for a gap g under a straightedge s.

    Raises
    ------
    AdjustmentError
    """
    beam = max((k.length_mm for k in job.lengths if k.active and k.path is Path.CHORD), default=0.0)
    for gap in (g for g in job.gaps if g.active and g.gap_mm):
        rise = abs(gap.gap_mm)
        radius = gap.span_mm**2 / (8.0 * rise) + rise / 2.0
        if rise >= gap.span_mm / 2.0 or radius < beam / 2.0:
            past = rise >= gap.span_mm / 2.0
            width = "a half circle" if past else f"half of the {beam:.0f} mm that a tape gives across"
            raise AdjustmentError(
                f"{gap.id}: a gap of {gap.gap_mm:g} mm under {gap.span_mm:g} mm of straightedge means a radius of "
                f"{radius:.0f} mm, and the face would have to go beyond {width}: check the gap, its unit and the "
                "straightedge's length."
            )


def check_scale(n: Network) -> None:
    """
    Refuse a job in which nothing has a known length.

    Raises
    ------
    RankDeficientError
    """
    lengths = any(
        x.active and x.role is Role.OBSERVATION and x.from_point in n.index and x.to_point in n.index
        for x in n.job.lengths
    )
    rectangles = any(r.active and all(c in n.index for c in r.corners) for r in n.job.rectangles)
    diameters = any(f.id in n.circles and f.diameter_mm is not None for f in n.job.fittings)
    if not (lengths or rectangles or diameters or n.sightings):
        missing = [t.id for t in n.job.targets if t.active]
        unseen = f" (the target {missing[0]} was not found in any photo)" if missing else ""
        raise RankDeficientError(
            ("the scale",),
            f"add one known length, for example the chine beam measured with a tape, or a printed target{unseen}.",
        )


def check_tilt(n: Network, estimate: Estimate) -> None:
    """
    Refuse a solution in which the camera's tilt against the face is all but free.

    Raises
    ------
    RankDeficientError
    """
    for photo, view in n.views.items():
        if tilt_u(estimate, view) > math.radians(MAX_TILT_U_DEG):
            raise undetermined_tilt(photo)


def undetermined_tilt(photo: str) -> RankDeficientError:
    """The refusal where the camera's tilt against the face is open."""
    return RankDeficientError(
        (f"how photo {photo} is tilted against the transom",),
        "add a printed target, a rectangle, or known lengths in several directions (the chine beam, a height "
        "and a diagonal); or state that the photo was taken roughly square to the transom.",
    )


def tilt_u(estimate: Estimate, view: View) -> float:
    """
    Standard uncertainty (rad) of the face's normal in the camera's system, in its worst direction.

    It does not ask how the datum lies within the face, which is all but free when a datum mark was set aside.
    """
    _, dR = rotation_matrix_and_derivatives(estimate.x[view.pose[:3]])
    gradients = np.zeros((3, len(estimate.x)))
    gradients[:, view.pose[:3]] = dR[:, :, 2].T
    return math.sqrt(float(np.linalg.eigvalsh(estimate.covariance_of(gradients))[-1]))


def explained(n: Network, defect: RankDefect) -> RankDeficientError:
    """The rank defect in words: what is open, and what would settle it."""
    size = np.abs(defect.null_space).max(axis=1)
    places = {column: row for row, column in enumerate(defect.columns.tolist())}
    for photo, view in n.views.items():
        if any(size[places[column]] > SMALL_PART * size.max() for column in view.pose.tolist()):
            return RankDeficientError((f"where the camera of {photo} stood",), _remedy(n, photo))
    name = n.layout.names[defect.columns[int(np.argmax(size))]]
    subject = name.split(": ")[0]
    return RankDeficientError(
        (f"{subject} ({name.split(': ')[-1]})",),
        f"mark it in more places, or switch off the record that speaks of {subject}.",
    )


def _remedy(n: Network, photo: str) -> str:
    if photo in dict(n.left_out):
        return "mark four or more of the places that another photo shows in this one too, or switch the photo off."
    return "add a printed target flush on the transom, a rectangle, or known lengths in several directions."


def check_sides(t: Transom) -> None:
    """
    Refuse a keel above the reference line, and port and starboard exchanged.

    Raises
    ------
    AdjustmentError
    """
    if t.reference_height is not None and float(t.reference_height) <= 0.0:
        raise AdjustmentError(
            "The keel lies above the reference line: exchange the marks, or turn the photo the right way up."
        )
    wrong = [
        i
        for i, p in t.infos.items()
        if p.kind in (MarkKind.CHINE, MarkKind.CHINE_INNER, MarkKind.TOP_CORNER, MarkKind.BOTTOM_EDGE)
        and (
            (p.side == Side.PORT and float(t.places[i].x) > 0)
            or (p.side == Side.STARBOARD and float(t.places[i].x) < 0)
        )
    ]
    if wrong:
        raise AdjustmentError(
            f"Port and starboard are exchanged at {', '.join(wrong[:4])}: seen from astern, starboard is on the right. "
            "Exchange the sides, or flip the photo back if it is mirrored."
        )
