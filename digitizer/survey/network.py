"""
The network of observations: one parameter vector, the blocks over it, and where to find the answers in it.

The datum system D is fixed by two points on the face: the first is its origin, the second lies on its x axis;
the face is z = 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from digitizer.adjustment.observations import Block, FloatArray, System
from digitizer.adjustment.points import PointTable
from digitizer.adjustment.shifts import Shift
from digitizer.camera.equations import TargetColumns, TargetCorners, View
from digitizer.camera.lens import LensPrior
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.imaging.targets import object_points
from digitizer.job.model import Fitting, Job, Mark, MarkKind, Photo, Sighting, StraightLine, Target
from digitizer.survey.defaults import PROUD_MM
from digitizer.survey.layout import Layout
from digitizer.transom.constraints import GravityColumns
from digitizer.transom.surface import Bowed

CLICKS = "clicks on the photo"
DEFINITION = "where the edge is on the boat"
CORNERS = "target corners"
TARGET_MAKE = "target's size, flatness and lie"
LENS = "lens"
LENGTHS = "lengths by rule and tape"
STRAIGHT = "straightness of the line"
MIRROR = "likeness of port and starboard"
ANGLES = "squares and levels"
HEIGHTS = "how far things stand off the face"
ROUND = "roundness of the rims"
SHAPE = "shape of the face"
RAKE = "rake"
SQUARE = "photo taken square"

DEFAULT_LINE = StraightLine(id="reference line", reference=True)


@dataclass(frozen=True)
class PointInfo:
    """A place on the boat, from its first mark."""

    id: str
    kind: MarkKind
    side: str | None
    of: str | None
    marks: tuple[Mark, ...]


@dataclass
class Network:
    """Everything the adjustment needs, and where to find the answers in its parameter vector."""

    job: Job
    photos: dict[str, Photo]
    facts: Mapping[str, PhotoFacts]
    layout: Layout
    infos: list[PointInfo]
    index: dict[str, int]
    points: PointTable
    views: dict[str, View] = field(default_factory=dict)
    lens_priors: dict[str, LensPrior] = field(default_factory=dict)
    targets: dict[str, TargetColumns] = field(default_factory=dict)
    sightings: list[tuple[Target, Sighting]] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)
    circles: dict[str, int] = field(default_factory=dict)
    rim_edges: dict[str, int] = field(default_factory=dict)
    defect_edges: dict[str, int] = field(default_factory=dict)
    mirror_axis: int | None = None
    up: GravityColumns | None = None
    rake: int | None = None
    surface: Bowed | None = None
    pads: dict[str, int] = field(default_factory=dict)
    reference: StraightLine | None = None
    blocks: list[Block] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    """Records that could not take part, each with the reason."""

    @cached_property
    def system(self) -> System:
        """The observations, priors last; read once all blocks are there."""
        return System(len(self.layout.names), [*self.blocks, self.layout.priors])

    @cached_property
    def shifts(self) -> list[Shift]:
        """Targets flush on the face that several photos show, and may have slipped before one of them."""
        seen = [t.id for t, _ in self.sightings]
        corners = [
            (block, np.arange(rows.start, rows.stop))
            for block, rows in zip(self.system.blocks, self.system.slices, strict=True)
            if isinstance(block, TargetCorners)
        ]
        return [
            Shift(rows, block.columns.place[[0, 1, 3]], target.id, sighting.photo)
            for (target, sighting), (block, rows) in zip(self.sightings, corners, strict=True)
            if target.flush and seen.count(target.id) > 1
        ]

    def corner_geometry(self, target: Target, sighting: Sighting) -> tuple[FloatArray, FloatArray]:
        """Corners (n, 2) of a sighting on its sheet, check bar applied, and the sheet's half size (2,), mm."""
        factor = 1.0
        if target.check_bar_measured_mm is not None and target.check_bar_nominal_mm is not None:
            factor = target.check_bar_measured_mm / target.check_bar_nominal_mm
        return object_points(target, sighting.corner_ids) * factor, half_size(target) * factor


def half_size(target: Target) -> FloatArray:
    """Half width and half height (2,) of the printed pattern, mm."""
    if target.square_mm is not None and target.columns > 1:
        size = np.array([target.columns, target.rows]) * target.square_mm
    else:
        step = target.marker_mm + (target.separation_mm or 0.0)
        size = np.array([target.columns - 1, target.rows - 1]) * step + target.marker_mm
    return np.asarray(size / 2.0, dtype=float)


def datum_points(n: Network) -> tuple[int, int]:
    """The two points that fix the datum: the ends of the reference line, else those farthest apart sideways."""
    on_face = [i for i, info in enumerate(n.infos) if info.kind is not MarkKind.PLUMB_LINE]
    on_line = [i for i in on_face if n.infos[i].kind is MarkKind.REFERENCE_LINE]
    candidates = on_line if len(on_line) >= 2 else on_face
    photo = max(n.photos, key=lambda p: sum(mark_in(n.infos[i], p) is not None for i in candidates))
    placed = [(m.x_px, i) for i in candidates if (m := mark_in(n.infos[i], photo)) is not None]
    if len(placed) < 2:
        raise AdjustmentError("One mark alone measures nothing: mark the reference line, the keel and the chines.")
    return min(placed)[1], max(placed)[1]


def mark_in(info: PointInfo, photo: str) -> Mark | None:
    """The point's mark in one photo."""
    return next((m for m in info.marks if m.photo == photo), None)


def proud(fitting: Fitting) -> tuple[float, float]:
    """How far a fitting's rim stands off the face, and its u, mm."""
    value, u = PROUD_MM[fitting.kind]
    if fitting.proud_mm is not None:
        value, u = fitting.proud_mm, 1.0
    return value, fitting.u_proud_mm if fitting.u_proud_mm is not None else u
