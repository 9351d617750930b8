"""
Draw the line drawings of the window and its help: what to click for each kind of mark, and each step of the work.

    python docs/images/make_drawings.py

writes `digitizer/app/drawings/*.svg`. One invented transom, drawn to scale from its own millimetres, serves all views
from astern; a round magnifier shows the exact place. Lines are in `currentColor`, so that they show on light and dark
ground; what to click is a ringed cross, so that colour says nothing that shape doesn't.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

FOLDER = Path(__file__).parents[2] / "digitizer" / "app" / "drawings"
WIDTH, HEIGHT = 320, 180
ACCENT = "#d9622b"
INK_LIGHT, INK_DARK = "#1d2733", "#e8ebef"
SCALE = 0.083
MIDDLE = (98.0, 138.0)
LENS = Point(256.0, 88.0).buffer(54.0, 64)

Place = tuple[float, float]
Places = Sequence[Place]

# The transom, mm from its keel point, y up.
KEEL = (0.0, 0.0)
INNER = ((-850.0, 285.0), (850.0, 285.0))
CHINE = ((-945.0, 300.0), (945.0, 300.0))
TOP = ((-1010.0, 900.0), (1010.0, 900.0))
CROWN = [(float(x), 900.0 + 70.0 * (1 - (x / 1010.0) ** 2)) for x in np.linspace(-1010, 1010, 41)]
HULL = [KEEL, INNER[1], CHINE[1], *reversed(CROWN), CHINE[0], INNER[0]]
STRING = [(-1100.0, 770.0), (1100.0, 770.0)]
BOARD = box(-170.0, 400.0, 170.0, 640.0)
RULE = box(-640.0, 676.0, 640.0, 716.0)
THROUGH_HULL = ((520.0, 360.0), 66.0)
DRAIN = ((0.0, 90.0), 34.0)
PLATE = box(-640.0, 250.0, -350.0, 330.0)


class Drawing:
    """SVG being put together; positions px unless a name says otherwise."""

    def __init__(self) -> None:
        self.parts: list[str] = []

    def line(self, points: Places, width: float = 1.5, dash: str = "", colour: str = "currentColor") -> None:
        """A line through the points."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width}"{dashed} '
            'stroke-linecap="round" stroke-linejoin="round"/>'
        )

    def area(self, points: Places, opacity: float = 0.1, colour: str = "currentColor") -> None:
        """A shaded area without an edge."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self.parts.append(f'<polygon points="{path}" fill="{colour}" fill-opacity="{opacity}" stroke="none"/>')

    def circle(self, x: float, y: float, r: float, width: float = 1.5, dash: str = "") -> None:
        """A circle without a filling."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" fill="none" stroke="currentColor" '
            f'stroke-width="{width}"{dashed}/>'
        )

    def text(self, x: float, y: float, text: str, size: float = 13, anchor: str = "middle") -> None:
        """A few letters."""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-family="sans-serif" font-size="{size}" text-anchor="{anchor}" '
            f'fill="currentColor">{text}</text>'
        )

    def mark(self, x: float, y: float, r: float = 4.5) -> None:
        """A ringed cross: click here."""
        arm = r + 4.0
        self.parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r}" fill="none" stroke="{ACCENT}" stroke-width="1.9"/>'
        )
        self.line([(x - arm, y), (x + arm, y)], 1.3, colour=ACCENT)
        self.line([(x, y - arm), (x, y + arm)], 1.3, colour=ACCENT)

    def arrow(self, start: Place, end: Place, both: bool = False, width: float = 1.2) -> None:
        """An arrow, or a dimension line with both ends."""
        self.line([start, end], width)
        for tip, tail in ((end, start), (start, end))[: 2 if both else 1]:
            along = np.subtract(tail, tip) / np.hypot(*np.subtract(tail, tip))
            across = np.array([-along[1], along[0]])
            self.line([tuple(tip + 6 * along + s * 2.6 * across) for s in (1,)] + [tip], width)
            self.line([tuple(tip + 6 * along - 2.6 * across), tip], width)

    def svg(self, title: str) -> str:
        """The whole drawing as text."""
        style = f"svg{{color:{INK_LIGHT}}}@media (prefers-color-scheme:dark){{svg{{color:{INK_DARK}}}}}"
        body = "\n".join(self.parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
            f'height="{HEIGHT}">\n<title>{title}</title>\n<style>{style}</style>\n{body}\n</svg>\n'
        )


Scene = list[tuple[str, object, float]]
"""Shapes in mm: ("area", polygon, opacity) or ("line", line, width)."""


def _plain_transom() -> Scene:
    hull = Polygon(HULL)
    return [("area", hull, 0.1), ("line", hull.exterior, 1.6)]


def _with_string(scene: Scene) -> Scene:
    return [*scene, ("line", LineString(STRING), 1.1)]


def _checkers(board: Polygon, columns: int = 7, rows: int = 5) -> Scene:
    x0, y0, x1, y1 = board.bounds
    dx, dy = (x1 - x0) / columns, (y1 - y0) / rows
    squares = [
        ("area", box(x0 + i * dx, y0 + j * dy, x0 + (i + 1) * dx, y0 + (j + 1) * dy), 0.75)
        for i in range(columns)
        for j in range(rows)
        if (i + j) % 2 == 0
    ]
    return [*squares, ("line", board.exterior, 1.1)]


def _ticks(rule: Polygon) -> Scene:
    x0, y0, x1, _ = rule.bounds
    lines = [LineString([(x, y0), (x, y0 + (26 if i % 5 else 40))]) for i, x in enumerate(np.linspace(x0, x1, 21))]
    return [("area", rule, 0.12), ("line", rule.exterior, 1.1), *[("line", line, 0.7) for line in lines]]


def _ring(centre: Place, r: float) -> Scene:
    outer, inner = Point(centre).buffer(r, 48), Point(centre).buffer(0.5 * r, 48)
    return [("area", outer, 0.15), ("line", outer.exterior, 1.2), ("line", inner.exterior, 1.0)]


def _plate(shape: Polygon) -> Scene:
    return [("area", shape, 0.18), ("line", shape.exterior, 1.2)]


def _placed(shape: object, scale: float, focus: Place, at: Place) -> object:
    """A shape in mm moved to px, `focus` (mm) coming to lie `at` (px)."""
    a = [scale, 0.0, 0.0, -scale, at[0] - scale * focus[0], at[1] + scale * focus[1]]
    return affinity.affine_transform(shape, a)


def _rings_of(shape: object) -> list[Places]:
    if isinstance(shape, MultiPolygon | MultiLineString):
        return [each for part in shape.geoms for each in _rings_of(part)]
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [list(shape.exterior.coords)]
    return [list(shape.coords)] if hasattr(shape, "coords") and not shape.is_empty else []


def _paint(d: Drawing, scene: Scene, scale: float, focus: Place, at: Place, lens: bool) -> None:
    for what, shape, value in scene:
        there = _placed(shape, scale, focus, at)
        if lens:
            there = (LineString(there.coords) if what == "line" else there).intersection(LENS)
        for points in _rings_of(there):
            if what == "area":
                d.area(points, value)
            else:
                d.line(points, value * (1.25 if lens else 1.0))


def _to_px(place: Place) -> Place:
    return MIDDLE[0] + SCALE * place[0], MIDDLE[1] - SCALE * place[1]


def _seen(scene: Scene, clicks: Places, focus: Place, power: float = 4.0, sides: bool = True) -> Drawing:
    """The transom with its clicks, and through the magnifier the place `focus`."""
    d = Drawing()
    _paint(d, scene, SCALE, KEEL, MIDDLE, lens=False)
    if sides:
        d.text(24, 138, "P", 12), d.text(172, 138, "S", 12)
    x, y = _to_px(focus)
    in_ring = [click for click in clicks if np.hypot(*np.subtract(_to_px(click), (x, y))) < 12]
    for click in clicks:
        if len(in_ring) < 3 or click not in in_ring:
            d.mark(*_to_px(click), 3.4)
    d.circle(x, y, 10.5, 1.0, "3 2.5")
    middle = (LENS.centroid.x, LENS.centroid.y)
    gap = np.subtract(middle, (x, y)) / np.hypot(*np.subtract(middle, (x, y)))
    d.line([tuple((x, y) + 11 * gap), tuple(middle - 55 * gap)], 0.9, "3 2.5")
    _paint(d, scene, SCALE * power, focus, middle, lens=True)
    d.circle(*middle, 54, 1.8)
    for click in clicks:
        p = _placed(Point(click), SCALE * power, focus, middle)
        if LENS.buffer(-12).contains(p):
            d.mark(p.x, p.y, 7)
    return d


def _on_bottom(t: float, side: int) -> Place:
    return side * 850.0 * t, 285.0 * t


def _on_crown(x: float) -> Place:
    return x, 900.0 + 70.0 * (1 - (x / 1010.0) ** 2)


def _around(centre: Place, r: float, count: int = 6) -> list[Place]:
    turns = np.linspace(0.3, 0.3 + 2 * np.pi, count, endpoint=False)
    return [(centre[0] + r * float(np.cos(a)), centre[1] + r * float(np.sin(a))) for a in turns]


def _corners(shape: Polygon) -> list[Place]:
    return list(shape.exterior.coords)[:4]


# --- _marks, by kind ---------------------------------------------------------------------------------------------


def _marks() -> dict[str, tuple[str, Callable[[], Drawing]]]:
    hull = _plain_transom()
    strung = _with_string(hull)
    ruled = [*hull, *_ticks(RULE)]
    hole = [*hull, *_ring(*THROUGH_HULL)]
    small = ("line", Point(THROUGH_HULL[0]).buffer(4, 16).exterior, 1.0)
    side = [tuple(np.add(CHINE[1], t * np.subtract(TOP[1], CHINE[1]))) for t in (0.3, 0.55, 0.8)]
    sheet = box(-360.0, 380.0, 360.0, 740.0)
    pad = box(-420.0, 300.0, 420.0, 800.0)
    crack = LineString([(300, 860), (330, 780), (310, 700), (350, 620), (340, 540)])
    patch = Polygon([(-600, 480), (-470, 420), (-330, 470), (-320, 600), (-440, 660), (-580, 610)])
    scum = LineString([(-962, 460), (-500, 452), (0, 456), (500, 462), (965, 470)])
    nodes = [(float(x), float(y)) for x in (-600, -300, 0, 300, 600) for y in (400, 600, 800)]
    net: Scene = [("line", LineString([(x, 330), (x, 860)]), 0.7) for x in (-600, -300, 0, 300, 600)]
    net += [("line", LineString([(-760, y), (760, y)]), 0.7) for y in (400, 600, 800)]
    upright = LineString([(0, 60), (0, 960)])
    return {
        "reference_line": (
            "Points along the string",
            lambda: _seen(strung, [(-900, 770), (0, 770), (900, 770)], (-900, 770)),
        ),
        "keel": ("The keel point, where the bottom edges meet", lambda: _seen(hull, [KEEL], KEEL)),
        "chine": ("The outer edge of the chine, both sides", lambda: _seen(hull, CHINE, CHINE[1], 5.0)),
        "chine_inner": ("The inner edge of the chine flat", lambda: _seen(hull, INNER, INNER[1], 5.0)),
        "bottom_edge": (
            "Points on the bottom edge between keel and chine",
            lambda: _seen(hull, [_on_bottom(t, s) for s in (-1, 1) for t in (0.25, 0.5, 0.75)], _on_bottom(0.5, 1)),
        ),
        "outline": ("Points round the outline", lambda: _seen(hull, side, side[1])),
        "top_edge": (
            "Points along the top edge",
            lambda: _seen(hull, [_on_crown(x) for x in (-550, 0, 550)], _on_crown(0)),
        ),
        "top_corner": ("Where top edge and side meet", lambda: _seen(hull, TOP, TOP[1])),
        "rim": (
            "Points round the rim of a fitting",
            lambda: _seen(hole, _around(*THROUGH_HULL), THROUGH_HULL[0], 6.0),
        ),
        "fitting_centre": (
            "The centre of a fitting",
            lambda: _seen([*hole, small], [THROUGH_HULL[0]], THROUGH_HULL[0], 6.0),
        ),
        "fitting_corner": (
            "The corners of a plate",
            lambda: _seen([*hull, *_plate(PLATE)], _corners(PLATE), (-495.0, 290.0), 2.7),
        ),
        "length_end": (
            "Both ends of a rule or tape",
            lambda: _seen(ruled, [(-640, 716), (640, 716)], (640, 716)),
        ),
        "rectangle_corner": (
            "The four corners of a sheet of known size",
            lambda: _seen([*hull, *_plate(sheet)], _corners(sheet), (360.0, 740.0), 3.0),
        ),
        "line_point": (
            "Points along something straight",
            lambda: _seen([*hull, ("line", upright, 1.1)], [(0, 180), (0, 500), (0, 820)], (0, 500)),
        ),
        "waterline": (
            "Points along the scum line",
            lambda: _seen([*hull, ("line", scum, 1.0)], [(-700, 455), (0, 456), (700, 465)], (0, 456)),
        ),
        "pad": ("Points round a raised pad", lambda: _seen([*hull, *_plate(pad)], _corners(pad), (420, 300), 3.0)),
        "crack": (
            "Points along a crack",
            lambda: _seen([*hull, ("line", crack, 1.0)], list(crack.coords), (330, 700), 3.6),
        ),
        "area": (
            "Points round a damaged area",
            lambda: _seen([*hull, *_plate(patch)], list(patch.exterior.coords)[:-1], (-460, 540), 3.2),
        ),
        "strake": ("Where a strake runs out below the bottom edge", _strakes),
        "grid": ("A place where a meter was read", lambda: _seen([*hull, *net], nodes, (300, 600), 2.6)),
        "plumb_line": ("Points along a plumb line", _plumb_line),
        "keel_line": ("Points along the keel, seen from the side", lambda: _profile("keel")),
        "face_line": ("Points along the face, seen from the side", lambda: _profile("face")),
        "target": (
            "The printed board is found by itself",
            lambda: _seen([*hull, *_checkers(BOARD)], [], (-90.0, 570.0), 3.6),
        ),
    }


def _strakes() -> Drawing:
    """A strip along the bottom on each side, seen end on: three corners below the bottom edge."""
    strips = [[_on_bottom(0.5, side), (side * 500.0, 140.0), _on_bottom(0.6, side)] for side in (-1, 1)]
    scene = [*_plain_transom(), *(part for strip in strips for part in _plate(Polygon(strip)))]
    return _seen(scene, [corner for strip in strips for corner in strip], (475.0, 150.0), 7.0)


def _plumb_line() -> Drawing:
    d = _seen(
        [*_plain_transom(), ("line", LineString([(0, 1040), (0, 140)]), 1.0)], [(0, 300), (0, 600), (0, 900)], (0, 300)
    )
    x, y = _to_px((0, 140))
    d.area([(x - 3.5, y), (x + 3.5, y), (x, y + 11)], 0.9)
    return d


def _profile(clicked: str) -> Drawing:
    """The stern from starboard, bow to the left: _bottom, raked face, deck."""
    d = Drawing()
    keel, heel, top = (30.0, 148.0), (222.0, 132.0), (254.0, 40.0)
    d.area([keel, heel, top, (30.0, 34.0)], 0.1)
    d.line([keel, heel, top, (30.0, 34.0)], 1.7)
    d.line([(24.0, 34.0), (34.0, 60.0), (22.0, 90.0), (34.0, 120.0), (26.0, 148.0)], 0.9, "3 2.5")
    ends = (keel, heel) if clicked == "keel" else (heel, top)
    for t in (0.15, 0.5, 0.85):
        d.mark(*(np.array(ends[0]) + t * np.subtract(ends[1], ends[0])))
    d.text(150, 22, "bow to the left" if clicked else "", 11)
    return d


# --- steps of the work ------------------------------------------------------------------------------------------


def _steps() -> dict[str, tuple[str, Callable[[], Drawing]]]:
    return {
        "photos": ("Stand astern, square to the transom, three to four metres off", _photos),
        "known-lengths": ("A printed board and one long length", _known_lengths),
        "reference-line": ("A string straight across, near the top", _reference_line),
        "bottom": ("Keel, chines and points on the bottom edge", _bottom),
        "outline": ("Top _corners, top edge and outline", _outline),
        "fittings": ("Rims and corners of what is fitted", _fittings),
        "tape-figures": ("A on the _centreline, B at a stated distance out", _tape),
        "findings": ("One mark that does not fit the others", _findings),
        "hand-over": ("The sheet, the figures and the job", _hand_over),
    }


BIG, BIG_AT = 0.118, (160.0, 146.0)


def _large(scene: Scene, clicks: Places = ()) -> Drawing:
    d = Drawing()
    _paint(d, scene, BIG, KEEL, BIG_AT, lens=False)
    d.text(62, 146, "P", 13), d.text(258, 146, "S", 13)
    for click in clicks:
        d.mark(*_large_px(click))
    return d


def _large_px(place: Place) -> Place:
    return BIG_AT[0] + BIG * place[0], BIG_AT[1] - BIG * place[1]


def _photos() -> Drawing:
    """From above: the stern, the camera, the angle of view."""
    d = Drawing()
    d.area([(20, 40), (92, 44), (96, 90), (92, 136), (20, 140)], 0.1)
    d.line([(20, 40), (92, 44), (96, 90), (92, 136), (20, 140)], 1.7)
    d.area([(262, 80), (284, 80), (284, 100), (262, 100)], 0.25)
    d.line([(262, 80), (284, 80), (284, 100), (262, 100), (262, 80)], 1.6)
    d.line([(262, 84), (253, 86), (253, 94), (262, 96)], 1.6)
    d.line([(252, 89), (93, 40)], 0.9, "4 3")
    d.line([(252, 91), (93, 140)], 0.9, "4 3")
    d.arrow((97, 160), (253, 160), both=True)
    d.text(175, 154, "3 to 4 m", 12)
    d.line([(96, 148), (96, 168)], 0.8), d.line([(253, 148), (253, 168)], 0.8)
    d.text(58, 86, "bow", 12)
    d.arrow((72, 96), (36, 96))
    return d


def _known_lengths() -> Drawing:
    return _large([*_plain_transom(), *_checkers(BOARD), *_ticks(RULE)], [(-640, 716), (640, 716)])


def _reference_line() -> Drawing:
    return _large(_with_string(_plain_transom()), [(-960, 770), (0, 770), (960, 770)])


def _bottom() -> Drawing:
    edge = [_on_bottom(t, s) for s in (-1, 1) for t in (0.33, 0.66)]
    return _large(_plain_transom(), [KEEL, *CHINE, *edge])


def _outline() -> Drawing:
    sides = [tuple(np.add(CHINE[i], 0.5 * np.subtract(TOP[i], CHINE[i]))) for i in (0, 1)]
    return _large(_plain_transom(), [*TOP, _on_crown(0), _on_crown(-500), _on_crown(500), *sides])


def _fittings() -> Drawing:
    hole, lamp = ((520.0, 420.0), 120.0), box(-700.0, 520.0, -320.0, 660.0)
    d = _large([*_plain_transom(), *_ring(*hole), *_ring(*DRAIN), *_plate(lamp)])
    for click in [*_around(*hole, 5), *_corners(lamp)]:
        d.mark(*_large_px(click), 3.4)
    return d


def _tape() -> Drawing:
    d = _large(_with_string(_plain_transom()))
    x, top = _large_px((0, 770))
    _, keel = _large_px(KEEL)
    d.arrow((x, top), (x, keel), both=True)
    d.text(x - 10, (top + keel) / 2 + 4, "A", 15)
    bx, btop = _large_px((540, 770))
    _, b = _large_px(_on_bottom(540 / 850, 1))
    d.arrow((bx, btop), (bx, b), both=True)
    d.text(bx - 10, (btop + b) / 2 + 4, "B", 15)
    d.arrow((x, 168), (bx, 168), both=True)
    d.line([(bx, b + 4), (bx, 173)], 0.7, "3 2.5"), d.line([(x, keel + 4), (x, 173)], 0.7, "3 2.5")
    d.text((x + bx) / 2, 164, "out", 11)
    return d


def _findings() -> Drawing:
    places = [_on_bottom(t, s) for s in (-1, 1) for t in (0.25, 0.5, 0.75)]
    off = (470.0, 330.0)
    d = _large(_plain_transom(), [p for p in places if p != _on_bottom(0.5, 1)])
    there, should = _large_px(off), _large_px(_on_bottom(0.5, 1))
    d.mark(*there)
    d.circle(*there, 14, 1.2, "3 2.5")
    d.arrow(there, should, width=1.6)
    d.text(there[0] + 22, there[1] - 6, "?", 20)
    return d


def _hand_over() -> Drawing:
    d = Drawing()
    d.line([(42, 40), (134, 40), (134, 164), (42, 164), (42, 40)], 1.5)
    for x, y in ((96.0, 33.0), (150.0, 26.0)):  # sheets behind: what shows of them
        d.line([(x, y + 7), (x, y), (x + 92, y), (x + 92, y + 124), (x + 38, y + 124)], 1.5)
    small = [(88 + 0.035 * px, 106 - 0.035 * py) for px, py in [*HULL, KEEL]]
    d.area(small, 0.12), d.line(small, 1.3)
    for y in (124, 134, 144, 154):
        d.line([(52, y), (92, y)], 0.9), d.line([(104, y), (124, y)], 0.9)
    d.arrow((256, 92), (300, 92), width=2.0)
    return d


# --- words of the glossary --------------------------------------------------------------------------------------


def _words() -> dict[str, tuple[str, Callable[[], Drawing]]]:
    return {
        "chine-beam": ("Chine beam: width from chine to chine", lambda: _width_between(CHINE, 40)),
        "deadrise": ("Deadrise: angle of the bottom from the level line, each side by itself", _deadrise),
        "crown": ("Crown: rise of the top edge above the straight line between its ends", _crown),
        "rake": ("Rake: the face against the perpendicular to the keel line", _rake),
        "sagitta": ("Sagitta: rise of an arc above its chord; girth runs along the arc", _sagitta),
        "proud": ("Proud: how far a rim stands off the face", _proud),
        "centreline": ("Centreline: the upright line through the keel point", _centreline),
    }


def _dimension(d: Drawing, a: Place, b: Place, y: float) -> None:
    """A dimension line at height y below two places, px."""
    for x, top in (a, b):
        d.line([(x, top + 5), (x, y + 5)], 0.7)
    d.arrow((a[0], y), (b[0], y), both=True)


def _width_between(ends: Places, down: float) -> Drawing:
    d = _large(_plain_transom())
    a, b = _large_px(ends[0]), _large_px(ends[1])
    _dimension(d, a, b, max(a[1], b[1]) + down + 17)
    return d


def _deadrise() -> Drawing:
    d = _large(_plain_transom())
    x, y = BIG_AT
    d.line([(x, y), (x + 118, y)], 0.9, "4 3")
    slope = np.arctan2(285, 850)
    arc = [(x + 84 * float(np.cos(a)), y - 84 * float(np.sin(a))) for a in np.linspace(0, slope, 12)]
    d.line(arc, 1.3)
    d.text(x + 96, y - 7, "β", 14)
    return d


def _crown() -> Drawing:
    d = _large(_plain_transom())
    a, b, top = _large_px(TOP[0]), _large_px(TOP[1]), _large_px(_on_crown(0))
    d.line([a, b], 0.9, "4 3")
    d.arrow((top[0], top[1] - 18), top)
    d.arrow((top[0], a[1] + 18), (top[0], a[1]))
    return d


def _rake() -> Drawing:
    d = _profile("")
    d.parts = [part for part in d.parts if ACCENT not in part]
    heel, top = np.array((222.0, 132.0)), np.array((254.0, 40.0))
    along = np.array((192.0, -16.0)) / np.hypot(192, 16)
    square = np.array((along[1], -along[0]))
    d.line([tuple(heel), tuple(heel + 98 * square)], 0.9, "4 3")
    d.line([tuple(heel), tuple(heel + 60 * along)], 0.9, "4 3")
    first, last = np.arctan2(-square[1], square[0]), np.arctan2(heel[1] - top[1], top[0] - heel[0])
    arc = [(heel[0] + 78 * float(np.cos(a)), heel[1] - 78 * float(np.sin(a))) for a in np.linspace(first, last, 12)]
    d.line(arc, 1.3)
    return d


def _sagitta() -> Drawing:
    d = Drawing()
    arc = [(40 + 240 * t, 120 - 52 * 4 * t * (1 - t)) for t in np.linspace(0, 1, 41)]
    d.line(arc, 1.8)
    d.line([arc[0], arc[-1]], 1.0, "4 3")
    d.arrow((160, 119), (160, 70), both=True)
    d.text(170, 102, "s", 14, "start")
    _dimension(d, arc[0], arc[-1], 150)
    d.text(160, 168, "chord", 11)
    d.text(80, 66, "girth", 11)
    return d


def _proud() -> Drawing:
    d = Drawing()
    d.area([(60, 130), (260, 130), (260, 156), (60, 156)], 0.16)
    d.line([(60, 130), (260, 130)], 1.8)
    d.area([(112, 130), (208, 130), (194, 96), (126, 96)], 0.12)
    d.line([(112, 130), (126, 96), (194, 96), (208, 130)], 1.6)
    d.mark(126, 96), d.mark(194, 96)
    d.line([(204, 96), (250, 96)], 0.7)
    d.arrow((240, 78), (240, 96)), d.arrow((240, 148), (240, 130))
    return d


def _centreline() -> Drawing:
    d = _large(_with_string(_plain_transom()))
    top, foot = _large_px((0, 1060)), _large_px((0, -130))
    d.line([top, foot], 1.0, "9 3 2 3")
    x, y = _large_px((0, 770))
    d.line([(x, y + 9), (x + 9, y + 9), (x + 9, y)], 1.0)
    return d


def everything() -> dict[str, str]:
    """SVG text by file name."""
    groups = (("mark-", _marks()), ("step-", _steps()), ("word-", _words()))
    return {f"{stem}{name}.svg": draw().svg(title) for stem, group in groups for name, (title, draw) in group.items()}


def main() -> None:
    """Write every drawing, and remove those that no longer are."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    drawn = everything()
    for old in set(FOLDER.glob("*.svg")) - {FOLDER / name for name in drawn}:
        old.unlink()
    for name, text in drawn.items():
        (FOLDER / name).write_text(text, encoding="utf-8")
    sys.stdout.write(f"{len(drawn)} drawings in {FOLDER}\n")


if __name__ == "__main__":
    main()
