"""
A job that is marked in thought: the photos as they are, the known thing in them, a typical transom round it.

Every observation lies where the cameras would see it, so that nothing is left but the covariance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.camera.lens import lens_prior
from digitizer.camera.resection import Pose
from digitizer.imaging.photo import PhotoFacts
from digitizer.imaging.targets import object_points
from digitizer.job.model import (
    Face,
    FaceKind,
    Job,
    KnownLength,
    Mark,
    MarkKind,
    Photo,
    PhotoKind,
    Rectangle,
    Role,
    Side,
    Sighting,
    Target,
)
from digitizer.survey.typical import Standpoint, Typical, before_the_face, beside, laid

ANOTHER = "another photo"
"""Id of a photo that nobody took yet."""
_SIZES = ("square_mm", "marker_mm", "separation_mm", "check_bar_nominal_mm", "check_bar_measured_mm")


@dataclass(frozen=True)
class Seen:
    """A plane thing of known size in one photo: its corners on the thing (k, 2), mm, and in the photo (k, 2), px."""

    corners: FloatArray
    image: FloatArray
    sighting: Sighting | None = None

    @property
    def extent(self) -> float:
        """Of its picture, px²."""
        return float(np.prod(np.ptp(self.image, axis=0)))


@dataclass(frozen=True)
class Thing:
    """A board or sheet that lies on the face, as the photos show it."""

    record: Target | Rectangle
    seen: dict[str, Seen]

    @property
    def word(self) -> str:
        """What to call it."""
        return "board" if isinstance(self.record, Target) else "sheet"

    def enlarged(self, times: float) -> Target | Rectangle:
        """Its record as if it were larger."""
        r = self.record
        if isinstance(r, Rectangle):
            return replace(r, width_mm=times * r.width_mm, height_mm=times * r.height_mm)
        sizes = {name: times * value for name in _SIZES if (value := getattr(r, name)) is not None}
        return replace(r, **sizes)


@dataclass(frozen=True)
class Rule:
    """A known length whose ends are marked: as long as they lie apart, and their places (2, 2) on the face, mm."""

    length: KnownLength
    ends: FloatArray


@dataclass(frozen=True)
class View:
    """One photo of the job in thought."""

    stand: Standpoint
    photo: Photo
    facts: PhotoFacts
    seen: Seen


@dataclass(frozen=True)
class Thought:
    """Photos, the thing in them and a typical transom round that; `job` is what it comes to."""

    real: Job
    thing: Thing
    placed: FloatArray
    """From the thing to the frame: rotation and, in the last column, shift; (3, 4)."""
    views: dict[str, View]
    typical: Typical
    u_px: float
    enlarged: float = 1.0
    moved: tuple[float, float] = (0.0, 0.0)
    """How far the thing is moved along the face, mm."""
    tape: KnownLength | None = None
    rules: tuple[Rule, ...] = ()

    def job(self) -> tuple[Job, dict[str, PhotoFacts], list[Sighting]]:
        """What `survey.measure` takes."""
        record = self.thing.enlarged(self.enlarged)
        is_board = isinstance(record, Target)
        marks = [mark for name in self.views for mark in self._marks(name)]
        if not is_board:
            marks += [mark for name in self.views for mark in self._sheet_marks(name)]
        job = Job(
            settings=self.real.settings,
            cameras=self.real.cameras,
            photos=tuple(replace(view.photo, id=name) for name, view in self.views.items()),
            face=Face(FaceKind.FLAT) if self.real.face.kind is FaceKind.FLAT else Face(FaceKind.BOWED),
            targets=(record,) if isinstance(record, Target) else (),
            rectangles=(record,) if isinstance(record, Rectangle) else (),
            marks=tuple(marks),
            lengths=(*(rule.length for rule in self.rules), *((self.tape,) if self.tape is not None else ())),
        )
        facts = {name: view.facts for name, view in self.views.items()}
        return job, facts, [self._sighting(name) for name in self.views] if is_board else []

    def with_another(self, stand: Standpoint) -> Thought:
        """With one more photo, from elsewhere."""
        like = next(iter(self.views.values()))
        return replace(self, views=self.views | {ANOTHER: replace(like, stand=stand)})

    def _corners(self, name: str) -> FloatArray:
        """The thing's corners in a photo, px, where it is put and as large as it is taken."""
        corners = self.views[name].seen.corners
        space = np.column_stack([corners, np.zeros(len(corners))]) @ self.placed[:, :3].T + self.placed[:, 3]
        space[:, :2] = self.enlarged * space[:, :2] + np.array(self.moved)
        return self.views[name].stand.see(space)

    def _sighting(self, name: str) -> Sighting:
        x, y = (tuple(each) for each in self._corners(name).T.tolist())
        found = self.views[name].seen.sighting
        assert found is not None  # boards are sighted
        return replace(found, photo=name, x_px=x, y_px=y)

    def _sheet_marks(self, name: str) -> Iterator[Mark]:
        assert isinstance(self.thing.record, Rectangle)
        for point, (x, y) in zip(self.thing.record.corners, self._corners(name).tolist(), strict=True):
            yield Mark(f"{point} {name}", name, MarkKind.RECTANGLE_CORNER, x, y, self.u_px, point=point)

    def _marks(self, name: str) -> Iterator[Mark]:
        """The typical transom's marks in a photo, those that it shows."""
        stand = self.views[name].stand
        named: dict[str, tuple[MarkKind, Side | None, FloatArray]] = {}
        for (kind, side), place in self.typical.corners.items():
            named[f"{kind.value}_{side.value}"] = kind, side, place
        for i, place in enumerate(self.typical.string):
            named[f"string_{i}"] = MarkKind.REFERENCE_LINE, None, place
        for rule in self.rules:
            for point, place in zip((rule.length.from_point, rule.length.to_point), rule.ends, strict=True):
                named[point] = MarkKind.LENGTH_END, None, place
        image = stand.see_face(np.array([place for _, _, place in named.values()]))
        for (point, (kind, of_side, _)), at, inside in zip(
            named.items(), image.tolist(), stand.holds(image).tolist(), strict=True
        ):
            if inside:
                yield Mark(f"{point} {name}", name, kind, at[0], at[1], self.u_px, of_side, point)


def thought(job: Job, facts: Mapping[str, PhotoFacts], sightings: Sequence[Sighting], u_px: float) -> Thought | None:
    """
    The job marked in thought, by the board or sheet that is seen largest.

    None where no photo shows one that lies on the face, or where they show too little of the transom.
    """
    photos = {p.id: p for p in job.photos if p.active and p.kind is PhotoKind.MEASURED and p.id in facts}
    things = [*_boards(job, sightings, photos), *_sheets(job, photos)]
    if not things:
        return None
    thing = max(things, key=lambda each: max(seen.extent for seen in each.seen.values()))
    cameras = {name: (_lens(job, photos[name], facts[name]), _size(facts[name])) for name in thing.seen}
    laid_in = [found for name in thing.seen if (found := _laid_in(job, thing, name, cameras[name])) is not None]
    if not laid_in:
        return None
    main, stand, placed, typical = max(laid_in, key=lambda each: each[3].beam_mm)  # a close-up shows only a part
    stands = {main: stand}
    for name, seen in thing.seen.items():
        if name != main:
            stands[name] = beside(placed, seen.corners, seen.image, *cameras[name])
    views = {name: View(stands[name], photos[name], facts[name], thing.seen[name]) for name in stands}
    rules = tuple(_rules(job, main, stand))
    return Thought(job, thing, np.column_stack(placed), views, typical, u_px, rules=rules)


def _laid_in(
    job: Job, thing: Thing, name: str, camera: tuple[FloatArray, tuple[int, int]]
) -> tuple[str, Standpoint, Pose, Typical] | None:
    """A typical transom as one photo may show it."""
    seen = thing.seen[name]
    stand, placed = before_the_face(seen.corners, seen.image, *camera, thing.record.thickness_mm)
    typical = laid(stand, tuple(m for m in job.marks if m.active and m.photo == name))
    return None if typical is None else (name, stand, placed, typical)


def _rules(job: Job, photo: str, stand: Standpoint) -> Iterator[Rule]:
    """Known lengths both of whose ends are marked in a photo as ends of lengths."""
    at = {
        mark.point or mark.id: (mark.x_px, mark.y_px)
        for mark in job.marks
        if mark.active and mark.photo == photo and mark.kind is MarkKind.LENGTH_END
    }
    for length in job.lengths:
        if length.active and length.role is Role.OBSERVATION and {length.from_point, length.to_point} <= at.keys():
            ends = stand.meet(np.array([at[length.from_point], at[length.to_point]]))
            apart = float(np.linalg.norm(ends[1] - ends[0]))
            yield Rule(replace(length, length_mm=apart, instrument=None), ends)


def _boards(job: Job, sightings: Sequence[Sighting], photos: Mapping[str, Photo]) -> Iterator[Thing]:
    for target in (t for t in job.targets if t.active and t.flush and t.on is None):
        seen = {
            s.photo: Seen(object_points(target, s.corner_ids), np.column_stack([s.x_px, s.y_px]), s)
            for s in sightings
            if s.target == target.id and s.photo in photos and len(s.corner_ids) >= 4
        }
        if seen:
            yield Thing(target, seen)


def _sheets(job: Job, photos: Mapping[str, Photo]) -> Iterator[Thing]:
    for sheet in (r for r in job.rectangles if r.active and r.flush):
        marked: dict[str, dict[str, tuple[float, float]]] = {}
        for mark in job.marks:
            if mark.active and mark.photo in photos and (mark.point or mark.id) in sheet.corners:
                marked.setdefault(mark.photo, {})[mark.point or mark.id] = (mark.x_px, mark.y_px)
        seen = {name: _sheet_seen(sheet, at) for name, at in marked.items() if len(at) == len(sheet.corners)}
        if seen:
            yield Thing(sheet, seen)


def _sheet_seen(sheet: Rectangle, at: Mapping[str, tuple[float, float]]) -> Seen:
    image = np.array([at[point] for point in sheet.corners])
    x, y = image.T
    clockwise = float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) > 0.0  # as seen, since y runs down
    height = -sheet.height_mm if clockwise else sheet.height_mm
    corners = np.array([(0.0, 0.0), (sheet.width_mm, 0.0), (sheet.width_mm, height), (0.0, height)])
    return Seen(corners, image)


def _size(facts: PhotoFacts) -> tuple[int, int]:
    return facts.width_px, facts.height_px


def _lens(job: Job, photo: Photo, facts: PhotoFacts) -> FloatArray:
    exif = (facts.exif_width_px, facts.exif_height_px) if facts.exif_width_px and facts.exif_height_px else None
    calibration = next((c.calibration for c in job.cameras if c.id == photo.camera), None)
    prior = lens_prior(facts.width_px, facts.height_px, facts.focal_35mm, exif, photo.cropped, calibration)
    return np.array(prior.values)
