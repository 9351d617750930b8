"""Small drawings for the tape form: where each measurement is taken. Nobody's boat, and not to scale."""

from __future__ import annotations

import math
from collections.abc import Callable

from digitizer.reports.paper import text_width
from digitizer.reports.sheet import Disc, Label, Place, Point, Sheet, Stroke, along, arrow, dimension_line

WIDTH, HEIGHT = 158.0, 96.0
_AXIS = WIDTH / 2
_KEEL, _CHINE, _TOP, _CROWN = 14.0, 38.0, 74.0, 82.0
_HALF_CHINE, _HALF_TOP = 56.0, 60.0
_THIN, _CHAIN = 0.35, (7.0, 2.0, 1.5, 2.0)


def _blank() -> Sheet:
    return Sheet(WIDTH, HEIGHT, text_width)


def _hull(sheet: Sheet) -> None:
    """The transom from astern."""
    top = [(_AXIS + _HALF_TOP * t, _TOP + (_CROWN - _TOP) * (1.0 - t * t)) for t in (i / 10.0 - 1.0 for i in range(21))]
    ring = [(_AXIS, _KEEL), (_AXIS + _HALF_CHINE, _CHINE), *reversed(top), (_AXIS - _HALF_CHINE, _CHINE)]
    sheet.draw(Stroke(tuple(ring), 1.0, closed=True))
    sheet.draw(Stroke(((_AXIS, _KEEL - 8.0), (_AXIS, _CROWN + 8.0)), 0.3, _CHAIN))


def _measured(sheet: Sheet, a: Point, b: Point, number: str) -> None:
    """A dimension line with the number of its row."""
    sheet.draw(*dimension_line(a, b))
    sheet.write(number, along(a, b, 6.0, (0.5, 0.3, 0.7)), 8.0, bold=True)


def _extend(sheet: Sheet, a: Point, b: Point) -> None:
    sheet.draw(Stroke((a, b), 0.25))


def widths() -> Sheet:
    """Chine beam and top width, straight across."""
    sheet = _blank()
    _hull(sheet)
    for half, start, level, number in ((_HALF_CHINE, _CHINE, 4.0, "1"), (_HALF_TOP, _TOP, 90.0, "2")):
        ends = [(_AXIS + sign * half, level) for sign in (-1.0, 1.0)]
        for x, y in ends:
            _extend(sheet, (x, start), (x, y))
        _measured(sheet, ends[0], ends[1], number)
    return sheet


def a_and_b() -> Sheet:
    """Down from a straight string to the bottom edge, on the centreline and at the offset."""
    sheet = _blank()
    _hull(sheet)
    string, out = 66.0, 34.0
    sheet.draw(Stroke(((_AXIS - 66.0, string), (_AXIS + 66.0, string)), 0.7, (4.0, 2.0)))
    sheet.write("string", [Place(_AXIS + 30.0, string + 5.0)], 6.0)
    _measured(sheet, (_AXIS + 1.0, _KEEL), (_AXIS + 1.0, string), "3 A")
    for sign, number in ((-1.0, "4 B"), (1.0, "5 B")):
        x = _AXIS + sign * out
        bottom = _KEEL + (_CHINE - _KEEL) * out / _HALF_CHINE
        _measured(sheet, (x, bottom), (x, string), number)
        _extend(sheet, (x, bottom), (x, 6.0))
    _measured(sheet, (_AXIS, 6.0), (_AXIS + out, 6.0), "D")
    return sheet


def heights() -> Sheet:
    """Height on the centreline, and the crown above a straightedge from corner to corner."""
    sheet = _blank()
    _hull(sheet)
    _measured(sheet, (_AXIS, _KEEL), (_AXIS, _CROWN), "6")
    sheet.draw(Stroke(((_AXIS - _HALF_TOP, _TOP), (_AXIS + _HALF_TOP, _TOP)), 0.5, (4.0, 2.0)))
    _measured(sheet, (_AXIS + 26.0, _TOP), (_AXIS + 26.0, _CROWN - 1.5), "7")
    return sheet


def transom_angle() -> Sheet:
    """From the side: a level held on the face and one on the keel line."""
    sheet = _blank()
    keel, top = (60.0, 22.0), (42.0, 84.0)
    sheet.draw(Stroke((top, keel, (146.0, 16.0)), 1.0))
    sheet.draw(Stroke((top, (146.0, 84.0)), 0.6))
    for a, b, number, aside in ((top, keel, "8", -9.0), (keel, (146.0, 16.0), "9", -9.0)):
        _level(sheet, a, b, number, aside)
    sheet.draw(Stroke((keel, (keel[0], 84.0)), _THIN, _CHAIN), Label("bow", 98.0, 46.0, 7.0))
    sheet.draw(Stroke(((112.0, 46.0), (134.0, 46.0)), 0.6), arrow((140.0, 46.0), 0.0, 7.0))
    return sheet


def _level(sheet: Sheet, a: Point, b: Point, number: str, aside: float) -> None:
    """A spirit level against a line."""
    angle = math.atan2(b[1] - a[1], b[0] - a[0])
    cos, sin = math.cos(angle), math.sin(angle)
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    corners = ((-17.0, 1.0), (17.0, 1.0), (17.0, 6.0), (-17.0, 6.0))
    turned = [(middle[0] + t * cos + o * sin, middle[1] + t * sin - o * cos) for t, o in corners]
    sheet.draw(Stroke(tuple(turned), 0.6, closed=True, fill=0.9))
    sheet.write(number, [Place(middle[0] - aside * sin * 1.6, middle[1] + aside * cos * 1.6)], 8.0, bold=True)


def bottom_angle() -> Sheet:
    """A level or angle finder along the bottom beside the transom, each side by itself."""
    sheet = _blank()
    _hull(sheet)
    for sign, number in ((-1.0, "10 P"), (1.0, "10 S")):
        a, b = (_AXIS + sign * 14.0, _KEEL + 6.0), (_AXIS + sign * 44.0, _KEEL + 19.0)
        under = [(a[0], a[1] - 3.0), (b[0], b[1] - 3.0), (b[0], b[1] - 8.0), (a[0], a[1] - 8.0)]
        sheet.draw(Stroke(tuple(under), 0.6, closed=True, fill=0.9))
        sheet.write(number, [Place(_AXIS + sign * 48.0, 14.0)], 8.0, bold=True)
    return sheet


def bow() -> Sheet:
    """From above: a straightedge across the face and the gap at its middle."""
    sheet = _blank()
    arc = [(_AXIS + 62.0 * t, 60.0 - 22.0 * (1.0 - t * t)) for t in (i / 10.0 - 1.0 for i in range(21))]
    sheet.draw(Stroke(tuple(arc), 1.0))
    sheet.draw(Stroke(((_AXIS - 62.0, 36.5), (_AXIS + 62.0, 36.5)), 1.6, grey=0.4))
    for sign in (-1.0, 1.0):
        _measured(sheet, (_AXIS + sign * 58.0, 37.5), (_AXIS + sign * 58.0, 57.0), "11")
    _measured(sheet, (_AXIS - 62.0, 24.0), (_AXIS + 62.0, 24.0), "12")
    sheet.draw(Label("inside the boat", _AXIS, 74.0, 6.5))
    return sheet


def fitting() -> Sheet:
    """A fitting from the centreline and down from the string."""
    sheet = _blank()
    _hull(sheet)
    x, y, string = _AXIS + 36.0, 48.0, 66.0
    sheet.draw(Stroke(((_AXIS - 66.0, string), (_AXIS + 66.0, string)), 0.7, (4.0, 2.0)))
    sheet.draw(Disc(x, y, 6.0, 0.8))
    _measured(sheet, (_AXIS, y), (x, y), "x")
    _measured(sheet, (x + 1.0, y), (x + 1.0, string), "y")
    return sheet


SKETCHES: tuple[tuple[str, Callable[[], Sheet]], ...] = (
    ("Widths, straight across", widths),
    ("A and B, from a straight string", a_and_b),
    ("Height and crown", heights),
    ("Transom angle, by level", transom_angle),
    ("Deadrise, by angle finder", bottom_angle),
    ("Bow, from above", bow),
)
