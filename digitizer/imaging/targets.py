"""
Printed targets found by themselves, their corners to a fraction of a pixel.

Reading this module costs no detector: OpenCV is loaded by the first search.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.errors import JobFileError
from digitizer.imaging.target_layout import marker_outlines, object_points
from digitizer.job.model import Target, TargetKind

__all__ = ["Detection", "find_targets", "object_points"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Detection:
    """Corners of one target found in one photo; their ids are those of `object_points`."""

    target_id: str
    corner_ids: tuple[int, ...]
    image_points: FloatArray
    """(n, 2), px."""
    u_px: FloatArray
    """(n,), standard uncertainty of each corner in one coordinate."""
    legacy: bool = False
    """A ChArUco board of even rows as OpenCV laid them out before 4.6."""


def find_targets(gray: NDArray[np.uint8], targets: Sequence[Target]) -> list[Detection]:
    """
    Targets seen in a photo, in the order given; those not seen are left out.

    Parameters
    ----------
    gray : (rows, columns)
    targets
        All that may be in the picture. Boards may be partly hidden.

    Raises
    ------
    JobFileError
        If two targets share a marker number, or a dictionary is unknown.
    """
    from digitizer.imaging.marker_search import found_markers
    from digitizer.imaging.target_corners import charuco_detection, marker_detection

    found = {name: found_markers(gray, name, wanted) for name, wanted in _wanted(targets).items()}
    detections = []
    for target in targets:
        detect = charuco_detection if target.kind is TargetKind.CHARUCO else marker_detection
        detections.append(detect(gray, target, found[target.dictionary]))
    return [detection for detection in detections if detection is not None]


def _wanted(targets: Iterable[Target]) -> dict[str, set[int]]:
    """Marker numbers of all targets by dictionary."""
    owner: dict[tuple[str, int], str] = {}
    wanted: dict[str, set[int]] = defaultdict(set)
    for target in targets:
        for number in marker_outlines(target):
            other = owner.setdefault((target.dictionary, number), target.id)
            if other != target.id:
                raise JobFileError(
                    f"Targets {other} and {target.id} both have marker {number} of {target.dictionary}, so nothing "
                    "tells them apart: give the one that is not on the boat active = false, or print another.",
                )
            wanted[target.dictionary].add(number)
    return wanted
