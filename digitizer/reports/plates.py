"""
Photographs for the report: with the marks drawn on, and flattened to the face of the transom.

Marks are vectors over a reduced picture, dark with a white halo, so that they are read on gelcoat and on
navy paint alike; their shape tells the kind, so that grey paper tells it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.job.model import Job, Mark, MarkKind
from digitizer.reports.balloon import circular, draw_balloon
from digitizer.reports.schedule import fitting_numbers, words
from digitizer.reports.sheet import Disc, Label, Place, Point, Sheet, Stroke, along
from digitizer.reports.view import Extent
from digitizer.survey.flattening import FlatMap
from digitizer.survey.model import ObservationState, PhotoResult, Survey
from digitizer.transom.surface import girth_of
from digitizer.units import format_length

Picture = NDArray[np.uint8]
"""(rows, columns, 3), RGB."""

Part = tuple[int, int, int, int]
"""Left, top, right and bottom edge of a part of a photo, px from its upper left corner."""

_DPI = 170.0
_QUALITY = 82
_GRID_MM = 100.0
_ROOM_ROUND_MARKS = 0.06
"""Part of the photo's width that is shown round its outermost marks."""
_HALO = 1.4
_COARSE = 0.5
"""Ratio down to which a photo may be looked up at full size without thin lines breaking up."""


@dataclass(frozen=True)
class Plate:
    """A JPEG with drawing over it; the sheet's origin is the lower left corner of the picture."""

    jpeg: bytes
    sheet: Sheet
    caption: str
    legend: tuple[tuple[str, str], ...] = ()
    """Shape and meaning of the marks; see :func:`symbol`."""


def marked_part(photo: PhotoResult, job: Job) -> Part:
    """The part of a photo that holds its marks, with some room round them; the whole photo where there are none."""
    marks = [mark for mark in job.marks if mark.photo == photo.id and mark.active]
    if not marks:
        return 0, 0, photo.width_px, photo.height_px
    room = _ROOM_ROUND_MARKS * photo.width_px
    across, down = [mark.x_px for mark in marks], [mark.y_px for mark in marks]
    return (
        max(0, math.floor(min(across) - room)),
        max(0, math.floor(min(down) - room)),
        min(photo.width_px, math.ceil(max(across) + room)),
        min(photo.height_px, math.ceil(max(down) + room)),
    )


def marked_photo(photo: PhotoResult, picture: Picture, part: Part, survey: Survey, job: Job, sheet: Sheet) -> Plate:
    """
    Part of the photo as taken, with its marks and known lengths.

    Parameters
    ----------
    photo
        How it was taken, for its size and name.
    picture : (rows, columns, 3)
        Its pixels, upright.
    part
        What to show of it.
    survey, job
        What was measured and marked.
    sheet
        An empty sheet in the proportions of the part.
    """
    scale = sheet.width / (part[2] - part[0])
    marks = [mark for mark in job.marks if mark.photo == photo.id and mark.active]
    places = {mark.id: _on_sheet(mark, part, scale) for mark in marks}
    rejected = {o.subject for o in survey.observations if o.state is ObservationState.REJECTED}
    lengths = _known_lengths(marks, places, job)
    _draw_lines(sheet, marks, places, job)
    sheet.draw(*(Stroke((a, b), 0.8, halo=1.2) for a, b, _ in lengths))
    for mark in marks:
        sheet.draw(*symbol(mark_shape(mark.kind), *places[mark.id]))
        if mark.id in rejected:
            sheet.draw(*symbol("rejected", *places[mark.id]))
    _number_fittings(sheet, marks, places, survey)
    for a, b, text in lengths:
        sheet.write(text, along(a, b, 7.0), 6.5)
    shapes = dict.fromkeys((mark_shape(mark.kind), _meaning(mark.kind)) for mark in marks)
    if rejected & set(places):
        shapes[("rejected", "rejected by the adjustment")] = None
    caption = (
        f"{photo.file}, columns {part[0]} to {part[2]} of {photo.width_px} and rows {part[1]} to {part[3]} "
        f"of {photo.height_px}"
    )
    return Plate(part_of_photo(photo, picture, part, sheet.width), sheet, caption, tuple(shapes))


def part_of_photo(photo: PhotoResult, picture: Picture, part: Part, width: float) -> bytes:
    """Part of a photo as a JPEG, reduced to `width` points on paper."""
    return _jpeg(_reduced(_cut(picture, part, photo), width))


def plain_photo(picture: Picture, width: float) -> bytes:
    """The photo alone as a JPEG, reduced to `width` points on paper."""
    return _jpeg(_reduced(picture, width))


def symbol(shape: str, x: float, y: float, size: float = 3.0) -> tuple[Stroke | Disc, ...]:
    """The sign of a kind of mark, haloed, about a point."""
    s = size
    if shape in _POLYGONS:
        points = tuple((x + s * a, y + s * b) for a, b in _POLYGONS[shape])
        return (Stroke(points, 0.9, closed=True, halo=_HALO),)
    if shape in _CROSSES:
        arms = [tuple((x + s * a, y + s * b) for a, b in arm) for arm in _CROSSES[shape]]
        return tuple(Stroke(arm, 0.9, halo=_HALO) for arm in arms)
    if shape == "rejected":
        bar = Stroke(((x - 1.3 * s, y - 1.3 * s), (x + 1.3 * s, y + 1.3 * s)), 1.1, halo=_HALO)
        return Disc(x, y, 1.9 * s, 1.1, halo=_HALO), bar
    if shape == "dot":
        return (Disc(x, y, 0.32 * s, 0.5, fill=0.0, halo=0.8),)
    return (Disc(x, y, 0.75 * s, 0.9, halo=_HALO),)


_POLYGONS = {
    "diamond": ((0.0, 1.0), (0.8, 0.0), (0.0, -1.0), (-0.8, 0.0)),
    "triangle": ((0.0, 1.0), (0.9, -0.7), (-0.9, -0.7)),
    "wedge": ((0.0, -1.0), (0.9, 0.7), (-0.9, 0.7)),
    "square": ((-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8)),
    "flag": ((-0.8, -0.8), (0.8, -0.8), (-0.8, 0.8)),
}
_CROSSES = {
    "plus": (((-1.0, 0.0), (1.0, 0.0)), ((0.0, -1.0), (0.0, 1.0))),
    "cross": (((-0.8, -0.8), (0.8, 0.8)), ((-0.8, 0.8), (0.8, -0.8))),
    "bar": (((0.0, -1.2), (0.0, 1.2)),),
    "dash": (((-1.2, 0.0), (1.2, 0.0)),),
    "corner": (((-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)),),
}
_SHAPES = {
    MarkKind.REFERENCE_LINE: "diamond",
    MarkKind.KEEL: "triangle",
    MarkKind.CHINE: "square",
    MarkKind.CHINE_INNER: "flag",
    MarkKind.BOTTOM_EDGE: "plus",
    MarkKind.OUTLINE: "ring",
    MarkKind.TOP_EDGE: "wedge",
    MarkKind.TOP_CORNER: "corner",
    MarkKind.RIM: "dot",
    MarkKind.FITTING_CORNER: "dot",
    MarkKind.FITTING_CENTRE: "cross",
    MarkKind.LENGTH_END: "bar",
    MarkKind.RECTANGLE_CORNER: "corner",
}


def mark_shape(kind: MarkKind) -> str:
    """The sign that stands for a kind of mark, on paper and on the screen; see :func:`symbol`."""
    return _SHAPES.get(kind, "dash")


def _meaning(kind: MarkKind) -> str:
    if kind in (MarkKind.RIM, MarkKind.FITTING_CORNER):
        return "rim of a numbered fitting"
    return words(kind) if kind in _SHAPES else "other mark"


def _on_sheet(mark: Mark, part: Part, scale: float) -> Point:
    """Half a pixel is added because a mark's origin is the centre of the first pixel, the sheet's is its corner."""
    return (mark.x_px + 0.5 - part[0]) * scale, (part[3] - mark.y_px - 0.5) * scale


def _cut(picture: Picture, part: Part, photo: PhotoResult) -> Picture:
    """The pixels of a part, whose edges count in pixels of the photo as measured."""
    ratio = picture.shape[1] / photo.width_px
    left, top, right, bottom = (round(edge * ratio) for edge in part)
    return picture[top:bottom, left:right]


def _draw_lines(sheet: Sheet, marks: list[Mark], places: dict[str, Point], job: Job) -> None:
    """Straight lines through their marks."""
    for line in job.lines:
        on_it = sorted(places[mark.id] for mark in marks if mark.of == line.id)
        if line.active and len(on_it) >= 2:
            sheet.draw(Stroke(tuple(on_it), 0.6, (4.0, 2.0), halo=1.0))


def _known_lengths(marks: list[Mark], places: dict[str, Point], job: Job) -> list[tuple[Point, Point, str]]:
    """Ends, left one first, and figure of each known length that lies in the photo."""
    by_point = {mark.point or mark.id: places[mark.id] for mark in marks}
    found = []
    for length in job.lengths:
        if length.active and length.from_point in by_point and length.to_point in by_point:
            a, b = sorted((by_point[length.from_point], by_point[length.to_point]))
            found.append((a, b, format_length(length.length_mm, job.settings.unit)))
    return found


def _number_fittings(sheet: Sheet, marks: list[Mark], places: dict[str, Point], survey: Survey) -> None:
    for name, number in fitting_numbers(survey.fittings).items():
        rim = [places[mark.id] for mark in marks if mark.of == name]
        if rim:
            centre = sum(x for x, _ in rim) / len(rim), sum(y for _, y in rim) / len(rim)
            clear = max(math.dist(centre, each) for each in rim) + 1.5
            draw_balloon(sheet, centre, circular(clear), number, radius=5.6, halo=1.2)


def flattened_photo(
    photo: PhotoResult, picture: Picture, survey: Survey, around: Extent, scale: int, sheet: Sheet
) -> Plate:
    """
    The photo as if taken square to the face without a lens, with a grid of 100 mm.

    A bowed face is rolled flat, so that the grid's x is girth. True on the face only: what stands proud of it, or
    behind it, is displaced.

    Parameters
    ----------
    around
        Left, bottom, right and top of the part shown, mm in the transom frame; it fills the sheet.
    scale
        The n of 1:n.
    """
    columns = max(2, round(sheet.width / 72.0 * _DPI))
    rows = max(2, round(sheet.height / 72.0 * _DPI))
    flat = _warped(photo, picture, around, rows, columns, survey.curvature_per_mm)
    per_mm = sheet.width / (around[2] - around[0])
    _draw_grid(sheet, around, per_mm)
    if survey.reference_line:
        ends = [(girth_of(x, survey.curvature_per_mm), y) for x, y in survey.reference_line]
        line = tuple(((x - around[0]) * per_mm, (y - around[1]) * per_mm) for x, y in ends)
        sheet.draw(Stroke(line, 0.9, (7.0, 2.0, 1.5, 2.0), halo=1.2))
        a, b = sorted(line)
        sheet.write("reference line", along(a, b, 6.0, (0.12, 0.88, 0.2, 0.8)), 6.5)
    axis = -around[0] * per_mm
    sheet.draw(Stroke(((axis, 0.0), (axis, sheet.height)), 0.9, (14.0, 2.5, 2.0, 2.5), halo=1.2))
    sheet.write("centreline", [Place(axis, share * sheet.height, 90.0) for share in (0.92, 0.08)], 6.5)
    how, grid = "flattened to the face", f"grid {_GRID_MM:.0f} mm from the keel point"
    if survey.curvature_per_mm:
        how, grid = "rolled flat: girth", f"{grid} along the surface"
    caption = f"{photo.file} {how}, scale 1:{scale}, {grid}"
    return Plate(_jpeg(flat), sheet, caption)


def _draw_grid(sheet: Sheet, around: Extent, per_mm: float) -> None:
    for mm in _ticks(around[0], around[2]):
        x = (mm - around[0]) * per_mm
        sheet.draw(_grid_line((x, 0.0), (x, sheet.height), mm), _tick_label(mm, x, -6.0))
    for mm in _ticks(around[1], around[3]):
        y = (mm - around[1]) * per_mm
        sheet.draw(_grid_line((0.0, y), (sheet.width, y), mm), _tick_label(mm, -12.0, y))


def _grid_line(a: Point, b: Point, mm: float) -> Stroke:
    """Thin, and stronger at every half metre."""
    strong = mm % 500.0 == 0.0
    return Stroke((a, b), 0.5 if strong else 0.2, halo=0.45 if strong else 0.3)


def _tick_label(mm: float, x: float, y: float) -> Label:
    return Label(f"{mm:.0f}".replace("-", "−"), x, y, 6.0)


def _ticks(low: float, high: float) -> Iterable[float]:
    return (count * _GRID_MM for count in range(math.ceil(low / _GRID_MM), math.floor(high / _GRID_MM) + 1))


def _warped(photo: PhotoResult, picture: Picture, around: Extent, rows: int, columns: int, curvature: float) -> Picture:
    """Each pixel of the face looked up in the photo through the whole lens model (OpenCV's, k1 k2 p1 p2 k3)."""
    import cv2

    step = (around[2] - around[0]) / columns, (around[3] - around[1]) / rows
    size = columns, rows
    there = (
        _places_on_bow(photo, around, step, size, curvature)
        if curvature
        else _places_on_flat(photo, around, step, size)
    )
    wanted = min(1.0, 1.2 * photo.sample_distance_mm / step[0])
    source = _thinned(picture, wanted) if wanted > _COARSE else _resized(picture, wanted)
    ratio = source.shape[1] / photo.width_px
    across, down = ((each + 0.5) * ratio - 0.5 for each in there)
    return np.asarray(cv2.remap(source, across, down, cv2.INTER_LINEAR, borderValue=(225, 225, 225)), dtype=np.uint8)


Maps = tuple[NDArray[np.float32], NDArray[np.float32]]


def _places_on_bow(
    photo: PhotoResult, around: Extent, step: tuple[float, float], size: tuple[int, int], curvature: float
) -> Maps:
    """Where in the photo each pixel of a bowed face, rolled flat, is seen."""
    columns, rows = size
    girth = around[0] + (np.arange(columns) + 0.5) * step[0]
    height = around[3] - (np.arange(rows) + 0.5) * step[1]
    face = np.column_stack([np.tile(girth, rows), np.repeat(height, columns)])
    image = FlatMap(photo, curvature).to_photo(face).astype(np.float32)
    return image[:, 0].reshape(rows, columns), image[:, 1].reshape(rows, columns)


def _places_on_flat(photo: PhotoResult, around: Extent, step: tuple[float, float], size: tuple[int, int]) -> Maps:
    """The same for a flat face, by OpenCV's faster way."""
    import cv2

    f, cx, cy, *bends = photo.camera_matrix
    lens = np.array([[f, 0.0, cx], [0.0, f, cy], [0.0, 0.0, 1.0]])
    face_from_pixel = np.array(
        [[step[0], 0.0, around[0] + step[0] / 2], [0.0, -step[1], around[3] - step[1] / 2], [0.0, 0.0, 1.0]]
    )
    turn = np.array(photo.rotation).reshape(3, 3)
    ray_from_pixel = np.column_stack([turn[:, :2], photo.translation]) @ face_from_pixel
    # OpenCV makes each ray from the inverse of what it takes for the new camera matrix.
    across, down = cv2.initUndistortRectifyMap(
        lens, np.array(bends), None, np.linalg.inv(ray_from_pixel), size, cv2.CV_32FC1
    )
    return across, down


def _reduced(picture: Picture, width_points: float) -> Picture:
    return _resized(picture, min(1.0, width_points / 72.0 * _DPI / picture.shape[1]))


def _resized(picture: Picture, ratio: float) -> Picture:
    """A smaller copy; averages over areas, so that thin lines don't break up."""
    import cv2

    if ratio >= 1.0:
        return picture
    size = max(1, round(picture.shape[1] * ratio)), max(1, round(picture.shape[0] * ratio))
    return np.asarray(cv2.resize(_thinned(picture, ratio), size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _thinned(picture: Picture, ratio: float) -> Picture:
    """The picture with blocks of whole pixels averaged, which is fast; no smaller than `ratio`, nothing cut off."""
    import cv2

    rows, columns = picture.shape[:2]
    steps = range(math.floor(1.0 / ratio + 1e-9), 1, -1)
    step = next((n for n in steps if rows % n == 0 and columns % n == 0), 1)
    if step == 1:
        return picture
    size = columns // step, rows // step
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _jpeg(picture: Picture) -> bytes:
    import cv2

    done, data = cv2.imencode(".jpg", picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not done:
        raise ValueError(f"picture of shape {picture.shape} can't be encoded")
    return bytes(data)
