"""
Faultless jobs: an invented transom seen by an invented camera, marked and measured without any error.

Whatever a survey of such a job gives must be the truth, so that any difference is the program's. `Spot`s are places
of the hull frame (tests/builders.py); functions here turn them into records.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import (
    Calibration,
    Camera,
    Fitting,
    Job,
    KnownLength,
    Mark,
    MarkKind,
    Photo,
    Sighting,
    Target,
    TargetKind,
)
from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, Survey
from tests.builders import (
    HEIGHT_PX,
    WIDTH_PX,
    FloatArray,
    SimCamera,
    SimFitting,
    SimString,
    SimTransom,
    a_pose,
    top_edge,
    true_dimensions,
    turn,
)

HULL = SimTransom(deadrise_deg=(19.0, 18.4), top_height=(1010.0, 1016.0))
STRING = SimString()
STRING_X = (-930.0, -500.0, 30.0, 520.0, 940.0)
STATIONS = (0.25, 0.6, 0.9)


@dataclass(frozen=True)
class Spot:
    """A place on the boat: hull frame, mm, z off the face."""

    x: float
    y: float
    kind: MarkKind
    side: str | None = None
    of: str | None = None
    z: float = 0.0
    u_px: float = 0.7

    @property
    def place(self) -> FloatArray:
        return np.array([self.x, self.y, self.z])

    def moved(self, dx: float = 0.0, dy: float = 0.0) -> Spot:
        return replace(self, x=self.x + dx, y=self.y + dy)


Spots = Mapping[str, Spot]


def a_camera(
    yaw: float = 12.0,
    pitch: float = 5.0,
    roll: float = 1.5,
    distance: float = 3300.0,
    k1: float = 0.04,
    aim: tuple[float, float] = (20.0, 480.0),
) -> SimCamera:
    """A camera astern, aimed at the middle of the transom."""
    rotation, translation = a_pose(yaw, pitch, roll, distance, aim)
    return SimCamera(k1=k1, rotation=rotation, translation=translation)


def outline_spots(hull: SimTransom = HULL) -> dict[str, Spot]:
    """Keel, chines, top corners, three marks on each bottom edge and two on the top edge."""
    points = hull.points()
    kinds = {"keel": MarkKind.KEEL, "chine_inner": MarkKind.CHINE_INNER, "chine": MarkKind.CHINE}
    spots = {}
    for name, (x, y) in points.items():
        stem, _, side = name.rpartition("_")
        spots[name] = Spot(float(x), float(y), kinds.get(stem or name, MarkKind.TOP_CORNER), side if stem else None)
    for side in ("port", "starboard"):
        for number, station in enumerate(STATIONS, 1):
            x, y = station * points[f"chine_inner_{side}"]
            spots[f"bottom_{side}_{number}"] = Spot(float(x), float(y), MarkKind.BOTTOM_EDGE, side)
    for number, station in enumerate((0.3, 0.7), 1):
        x, y = top_edge(points["top_port"], points["top_starboard"], hull.crown, station)
        spots[f"top_{number}"] = Spot(float(x), float(y), MarkKind.TOP_EDGE)
    return spots


def string_spots(string: SimString = STRING, xs: Iterable[float] = STRING_X, of: str | None = None) -> dict[str, Spot]:
    """Marks along the string, a millimetre off the face."""
    places = string.at(list(xs)).tolist()
    kind = MarkKind.REFERENCE_LINE
    return {f"string_{n}": Spot(x, y, kind, None, of, 1.0, 0.5) for n, (x, y) in enumerate(places, 1)}


def all_spots(hull: SimTransom = HULL, string: SimString = STRING) -> dict[str, Spot]:
    """Outline and string."""
    return {**outline_spots(hull), **string_spots(string)}


def rim_spots(fitting: SimFitting, count: int = 6) -> dict[str, Spot]:
    """Marks round a rim."""
    angles = 0.4 + np.arange(count) * 2.0 * np.pi / count
    x, y = fitting.x + fitting.diameter / 2 * np.cos(angles), fitting.y + fitting.diameter / 2 * np.sin(angles)
    return {
        f"{fitting.id}_rim_{n}": Spot(float(a), float(b), MarkKind.RIM, None, fitting.id, fitting.proud)
        for n, (a, b) in enumerate(zip(x, y, strict=True), 1)
    }


def fitting_record(fitting: SimFitting) -> Fitting:
    """The fitting as the job lists it, its proudness known to a millimetre."""
    return Fitting(fitting.id, proud_mm=fitting.proud, u_proud_mm=1.0)


def marks(spots: Spots, camera: SimCamera, photo: str = "astern", tied: Iterable[str] = ()) -> tuple[Mark, ...]:
    """Marks of all spots in a photo; those `tied` name the spot as their point, so that photos share it."""
    uv = camera.project([spot.place for spot in spots.values()])
    tied = set(tied)
    return tuple(_mark(n, s, uv, photo, n in tied) for (n, s), uv in zip(spots.items(), uv.tolist(), strict=True))


def _mark(name: str, spot: Spot, uv: tuple[float, float], photo: str, tied: bool) -> Mark:
    own_height = spot.z != 0.0 and spot.kind is not MarkKind.RIM
    return Mark(
        f"{photo}: {name}" if tied else name, photo, spot.kind, *uv, spot.u_px, spot.side,  # type: ignore[arg-type]
        point=name if tied else None, of=spot.of, height_mm=spot.z if own_height else None,
        u_height_mm=0.5 if own_height else None,
    )  # fmt: skip


def length(spots: Spots, first: str, second: str, u: float = 1.0, error: float = 0.0) -> KnownLength:
    """A tape figure between two spots, false by `error`."""
    true = float(np.linalg.norm(spots[first].place - spots[second].place))
    return KnownLength(f"{first} to {second}", first, second, true + error, u)


@dataclass(frozen=True)
class Board:
    """A printed board of 5 × 4 squares, or a single marker, and where it was put."""

    id: str = "board"
    x: float = 10.0
    y: float = 590.0
    z: float = 4.0
    turn_deg: float = 0.6
    tilt_deg: tuple[float, float] = (0.0, 0.0)
    scale: float = 1.0
    """True size over printed size."""
    flush: bool = True
    marker: bool = False
    bar_mm: float | None = None
    """Measured length of the check bar of 100 mm."""

    @property
    def record(self) -> Target:
        kind = TargetKind.ARUCO_MARKER if self.marker else TargetKind.CHARUCO
        columns, rows, square = (1, 1, None) if self.marker else (5, 4, 80.0)
        return Target(
            self.id, kind, columns=columns, rows=rows, square_mm=square, marker_mm=160.0 if self.marker else 60.0,
            check_bar_nominal_mm=100.0 if self.bar_mm else None, check_bar_measured_mm=self.bar_mm,
            thickness_mm=self.z if self.flush else 0.0, flush=self.flush,
        )  # fmt: skip

    @property
    def corners(self) -> FloatArray:
        """On the sheet, as numbered by the program: from the top left, row by row or clockwise."""
        if self.marker:
            return np.array([[-80.0, 80.0], [80.0, 80.0], [80.0, -80.0], [-80.0, -80.0]])
        column, row = np.meshgrid(np.arange(1, 5), np.arange(1, 4))
        return np.column_stack([column.ravel() - 2.5, 2.0 - row.ravel()]) * 80.0

    def placed(self) -> FloatArray:
        """Corners (n, 3) in the hull frame."""
        tilt_x, tilt_y = self.tilt_deg
        matrix = turn(2, self.turn_deg) @ turn(1, tilt_y) @ turn(0, tilt_x)
        sheet = np.column_stack([self.corners * self.scale, np.zeros(len(self.corners))])
        return np.asarray(sheet @ matrix.T + [self.x, self.y, self.z])

    def seen_by(self, camera: SimCamera, photo: str = "astern") -> Sighting:
        """The board's corners in a photo."""
        x, y = camera.project(self.placed()).T
        ids, u = tuple(range(len(x))), 0.2 if self.marker else 0.1
        return Sighting(self.id, photo, ids, tuple(x.tolist()), tuple(y.tolist()), (u,) * len(x))


def facts_of(name: str, focal_35mm: float | None = None) -> PhotoFacts:
    """A photo of 4000 × 3000 px that says little of itself."""
    return PhotoFacts(name, "0" * 64, WIDTH_PX, HEIGHT_PX, 1, None, None, focal_35mm, None, None, None, "JPEG")


def calibrated(camera: SimCamera) -> Camera:
    """The camera's lens known to 1 % in f and to 0.02 in k1 and k2, about its true values."""
    lens = Calibration(
        WIDTH_PX, HEIGHT_PX, camera.f, 0.01 * camera.f, camera.cx, camera.cy, 20.0, camera.k1, camera.k2, u_k1=0.02,
        u_k2=0.02,
    )  # fmt: skip
    return Camera("camera", lens)


@dataclass(frozen=True)
class Case:
    """A job with what its photos say."""

    job: Job
    facts: Mapping[str, PhotoFacts]
    sightings: tuple[Sighting, ...] = ()
    spots: Spots = field(default_factory=dict)
    camera: SimCamera = field(default_factory=SimCamera)

    def survey(self) -> Survey:
        return measure(self.job, self.facts, self.sightings)

    def but(self, **records: object) -> Case:
        """The same with other records."""
        return replace(self, job=replace(self.job, **records))  # type: ignore[arg-type]

    def with_length(self, first: str, second: str, u: float = 1.0, error: float = 0.0) -> Case:
        """The same with one tape figure more."""
        return self.but(lengths=(*self.job.lengths, length(self.spots, first, second, u, error)))

    def with_mark_moved(self, mark: str, dx: float = 0.0, dy: float = 0.0) -> Case:
        """The same with one mark elsewhere in its photo, px."""
        moved = [replace(m, x_px=m.x_px + dx, y_px=m.y_px + dy) if m.id == mark else m for m in self.job.marks]
        return self.but(marks=tuple(moved))


def a_case(
    spots: Spots | None = None,
    boards: Iterable[Board] = (Board(),),
    camera: SimCamera | None = None,
    lens: Camera | None = None,
    **records: object,
) -> Case:
    """A faultless job: by default the whole outline and a string, with a board on the face."""
    spots = all_spots() if spots is None else spots
    camera = a_camera() if camera is None else camera
    boards = tuple(boards)
    job = Job(
        cameras=(lens or calibrated(camera),),
        photos=(Photo("astern", "astern.jpg"),),
        marks=marks(spots, camera),
        targets=tuple(board.record for board in boards),
    )
    case = Case(job, {"astern": facts_of("astern.jpg")}, tuple(b.seen_by(camera) for b in boards), spots, camera)
    return case.but(**records)


def values(survey: Survey) -> dict[str, float]:
    """Values of a survey's dimensions by code."""
    return {d.code: d.value for d in survey.dimensions}


def dimension(survey: Survey, code: str) -> Dimension:
    """One dimension of a survey, fittings included."""
    placed = [
        d for f in survey.fittings for d in (f.x, f.y, f.below_reference, f.diameter, f.width, f.height, f.clearance)
    ]
    return next(d for d in (*survey.dimensions, *placed) if d is not None and d.code == code)


def codes(survey: Survey) -> list[str]:
    """Codes of a survey's findings."""
    return [f.code for f in survey.findings]


def truth(hull: SimTransom = HULL, string: SimString = STRING, offset: float = 381.0) -> dict[str, float]:
    """Exact dimensions of an outline."""
    return true_dimensions(hull.points(), string, hull.crown, offset)


def assert_true(survey: Survey, true: Mapping[str, float], mm: float = 0.02, degrees: float = 0.001) -> None:
    """Every dimension of which the truth is known has it, to what the last adjustment step leaves open."""
    found = values(survey)
    assert set(true) & set(found)
    for code in set(true) & set(found):
        tolerance = degrees if code.startswith(("deadrise", "section", "chine_line_slope")) else mm
        assert abs(found[code] - true[code]) < tolerance, (code, found[code], true[code])
